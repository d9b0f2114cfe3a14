//! From verified instructions to code of the processor.

mod arithmetic;
mod control;
mod convert;
mod logic;
mod memory;
mod places;
mod promote;
mod unit;

use super::super::Code;
use super::super::fuse::{Constants, Lifetimes, leaders};
use crate::image::Image;
use cranelift_codegen::ir::{AbiParam, Signature, types};
use cranelift_codegen::isa::CallConv;
use cranelift_codegen::settings::{self, Configurable};
use cranelift_frontend::FunctionBuilderContext;
use cranelift_jit::{ArenaMemoryProvider, JITBuilder, JITModule};
use cranelift_module::{FuncId, Linkage, Module, default_libcall_names};
use unit::Translation;

/// What the units share.
struct Shared<'a> {
    image: &'a Image,
    code: &'a Code,
    lifetimes: Lifetimes,
    leaders: Vec<bool>,
    constants: Constants<'a>,
    convention: CallConv,
    functions: Vec<FuncId>,
}

/// Address space that is reserved for the code of a program: far more than an instruction ever takes.
fn reserved(instructions: usize) -> usize {
    (1 << 20) + 2048 * instructions
}

/// The functions of all units, in order, and the module that owns them. `None` where the processor or the system does
/// not allow it.
pub(super) fn translate(image: &Image, code: &Code) -> Option<(JITModule, Vec<*const u8>)> {
    let mut flags = settings::builder();
    let options = [
        ("opt_level", "speed"),
        ("is_pic", "false"),
        ("use_colocated_libcalls", "false"),
        ("unwind_info", "false"),
        ("enable_verifier", if cfg!(feature = "checked-access") { "true" } else { "false" }),
    ];
    for (name, value) in options {
        flags.set(name, value).ok()?;
    }
    let target = cranelift_native::builder().ok()?.finish(settings::Flags::new(flags)).ok()?;
    let mut builder = JITBuilder::with_isa(target, default_libcall_names());
    builder.memory_provider(Box::new(ArenaMemoryProvider::new_with_size(reserved(code.opcodes.len())).ok()?));
    let mut module = JITModule::new(builder);
    match define(image, code, &mut module) {
        Some(functions) => {
            let functions = functions.into_iter().map(|function| module.get_finalized_function(function));
            let functions = functions.collect();
            Some((module, functions))
        }
        None => {
            // SAFETY: no function of the module was handed out.
            unsafe { module.free_memory() };
            None
        }
    }
}

fn define(image: &Image, code: &Code, module: &mut JITModule) -> Option<Vec<FuncId>> {
    let convention = module.target_config().default_call_conv;
    let signature = unit_signature(convention);
    let mut functions = Vec::with_capacity(image.units.len());
    for number in 0..image.units.len() {
        functions.push(module.declare_function(&format!("u{number}"), Linkage::Local, &signature).ok()?);
    }
    let (leaders, _) = leaders(image, code);
    let lifetimes = Lifetimes::new(image, code, &leaders);
    let constants = Constants::new(image);
    let shared = Shared { image, code, lifetimes, leaders, constants, convention, functions };
    let mut context = module.make_context();
    let mut builder = FunctionBuilderContext::new();
    for (number, function) in shared.functions.iter().enumerate() {
        context.func.signature = signature.clone();
        Translation::new(&shared, module, &mut context.func, &mut builder).unit(number);
        module.define_function(*function, &mut context).ok()?;
        module.clear_context(&mut context);
    }
    module.finalize_definitions().ok()?;
    Some(shared.functions)
}

/// The signature of [`super::Function`].
fn unit_signature(convention: CallConv) -> Signature {
    let mut signature = Signature::new(convention);
    signature.params.extend([AbiParam::new(types::I64); 4]);
    signature.returns.push(AbiParam::new(types::I64));
    signature
}
