//! From verified instructions to code of the processor.

mod allowance;
mod arithmetic;
mod blocks;
mod calls;
mod constants;
mod control;
mod convert;
mod deferred;
mod facts;
mod located;
mod logic;
mod memory;
mod places;
mod promote;
mod scan;
mod texts;
mod timers;
mod unit;

use super::super::Code;
use super::super::fuse::{Constants, Lifetimes, leaders};
use super::support::{self, Context};
use crate::image::{Image, Unit};
use crate::instruction::OperandKind;
use crate::program::Program;
use allowance::Allowance;
use cranelift_codegen::ir::{AbiParam, Function, InstBuilder, Signature, types};
use cranelift_codegen::isa::CallConv;
use cranelift_codegen::settings::{self, Configurable};
use cranelift_frontend::{FunctionBuilder, FunctionBuilderContext};
use cranelift_jit::{ArenaMemoryProvider, JITBuilder, JITModule};
use cranelift_module::{FuncId, Linkage, Module, default_libcall_names};
use std::collections::BTreeMap;
use unit::Translation;

/// What the units share.
struct Shared<'a> {
    image: &'a Image,
    code: &'a Code,
    lifetimes: Lifetimes,
    leaders: Vec<bool>,
    /// Whether a loop comes back to each instruction.
    repeated: Vec<bool>,
    /// Whether each unit is put into the code of its callers.
    small: Vec<bool>,
    /// Where the instance of each unit begins that only a task runs.
    starts: Vec<Option<u32>>,
    constants: Constants<'a>,
    convention: CallConv,
    functions: Vec<FuncId>,
    /// Ways to [`support::rare`], [`support::faulting`] and [`support::watchdog`] that preserve all registers, so that
    /// rare cases cost the ordinary ones no more than a jump.
    rare: FuncId,
    faulting: FuncId,
    watchdog: FuncId,
}

impl Shared<'_> {
    /// Sum of the costs of all instructions before one.
    fn prefix(&self, index: u32) -> i64 {
        self.code.records.get(index as usize).map_or(0, |record| i64::from(record.prefix))
    }
}

/// Most instructions of a unit that is put into the code of its callers.
const SMALL: u32 = 80;

/// Address space that is reserved for the code of a program: far more than an instruction ever takes, and what surrounds
/// units.
fn reserved(instructions: usize) -> usize {
    (1 << 20) + 2048 * instructions
}

/// Most bytes of the processor's stack that all calls of a program may take together: a quarter of what threads have.
const STACK: u64 = 512 << 10;

/// Bytes of a call besides the frame of its unit, rounded up.
const CALL_BYTES: u64 = 64;

/// The functions that a program becomes.
#[derive(Default)]
pub(super) struct Functions {
    /// Those of the units, in order, as far as something calls them; see [`super::Function`].
    pub(super) units: Vec<Option<FuncId>>,
    /// What surrounds the units; see [`super::Surrounding`].
    pub(super) scan: Option<FuncId>,
    pub(super) at_once: Option<FuncId>,
    pub(super) releases: Vec<FuncId>,
}

/// The functions of a program, and the module that owns them. `None` where the processor or the system does not allow it,
/// or where so many calls inside one another could take too much of the stack.
pub(super) fn translate(program: &Program) -> Option<(JITModule, Functions)> {
    let mut flags = settings::builder();
    let options = [
        ("opt_level", "speed"),
        ("is_pic", "false"),
        ("use_colocated_libcalls", "false"),
        ("unwind_info", "false"),
        // So that a stack that is too short ends the process and nothing else is written.
        ("enable_probestack", "true"),
        ("probestack_strategy", "inline"),
        ("enable_verifier", if cfg!(feature = "checked-access") { "true" } else { "false" }),
    ];
    for (name, value) in options {
        flags.set(name, value).ok()?;
    }
    let target = cranelift_native::builder().ok()?.finish(settings::Flags::new(flags)).ok()?;
    let mut builder = JITBuilder::with_isa(target, default_libcall_names());
    builder.memory_provider(Box::new(
        ArenaMemoryProvider::new_with_size(reserved(program.code().opcodes.len())).ok()?,
    ));
    let mut module = JITModule::new(builder);
    match define(program, &mut module) {
        Some(functions) => Some((module, functions)),
        None => {
            // SAFETY: no function of the module was handed out.
            unsafe { module.free_memory() };
            None
        }
    }
}

fn define(program: &Program, module: &mut JITModule) -> Option<Functions> {
    let (image, code) = (program.image(), program.code());
    let convention = module.target_config().default_call_conv;
    let signature = unit_signature(convention);
    let mut functions = Vec::with_capacity(image.units.len());
    for number in 0..image.units.len() {
        functions.push(module.declare_function(&format!("u{number}"), Linkage::Local, &signature).ok()?);
    }
    let rare = module.declare_function("rare", Linkage::Local, &rare_signature()).ok()?;
    let faulting = module.declare_function("faulting", Linkage::Local, &rare_signature()).ok()?;
    let watchdog = module.declare_function("watchdog", Linkage::Local, &rare_signature()).ok()?;
    let (leaders, _) = leaders(image, code);
    let lifetimes = Lifetimes::new(image, code, &leaders);
    let constants = Constants::new(image);
    let repeated = repeated(code);
    let small = small(image, &repeated);
    let starts = starts(image, code);
    let shared = Shared {
        image,
        code,
        lifetimes,
        leaders,
        repeated,
        small,
        starts,
        constants,
        convention,
        functions,
        rare,
        faulting,
        watchdog,
    };
    let mut context = module.make_context();
    let mut builder = FunctionBuilderContext::new();
    type Rare = unsafe extern "C" fn(*mut Context, u32, *mut u8);
    let ways = [(rare, support::rare as Rare), (faulting, support::faulting), (watchdog, support::watchdog)];
    for (function, to) in ways {
        context.func.signature = rare_signature();
        preserving(convention, &mut context.func, &mut builder, to as usize);
        module.define_function(function, &mut context).ok()?;
        module.clear_context(&mut context);
    }
    let mut units = vec![None; shared.functions.len()];
    let mut frames = Vec::with_capacity(shared.functions.len());
    let mut bodies = BTreeMap::new();
    let mut left = Allowance::new(code.opcodes.len());
    let short = scan::short(program);
    // Those that tasks begin, then those that what has been translated calls.
    let mut called: Vec<u32> =
        image.tasks.iter().flat_map(|task| &task.programs).map(|call| call.unit).collect();
    while let Some(number) = called.pop() {
        let number = number as usize;
        let (Some(function), Some(unit @ None)) = (shared.functions.get(number), units.get_mut(number))
        else {
            continue;
        };
        *unit = Some(*function);
        context.func.signature = signature.clone();
        let translation = Translation::new(&shared, module, &mut context.func, &mut builder);
        called.extend(translation.unit(number, &mut left)?);
        let size = context.func.dfg.num_insts();
        if short.get(number).copied().unwrap_or(false) && size <= scan::SHORT_BODY.min(left.surrounded) {
            left.surrounded -= size;
            context.legalize(module.isa()).ok()?;
            bodies.insert(function.as_u32(), context.func.clone());
        }
        module.define_function(*function, &mut context).ok()?;
        let frame = context.compiled_code()?.buffer.frame_layout()?.frame_to_fp_offset;
        frames.push(u64::from(frame) + CALL_BYTES);
        module.clear_context(&mut context);
    }
    let (mut functions, outer) =
        scan::surround(&shared, program, module, &mut context, &mut builder, &bodies)?;
    // No unit is active twice, so that no chain of calls takes more than the largest frames together.
    frames.sort_unstable_by_key(|bytes| std::cmp::Reverse(*bytes));
    let calls = program.call_depth().saturating_add(1);
    if frames.iter().take(calls).sum::<u64>() + u64::from(outer) + 2 * CALL_BYTES > STACK {
        return None;
    }
    module.finalize_definitions().ok()?;
    functions.units = units;
    Some(functions)
}

/// Whether a jump leads back to each instruction.
fn repeated(code: &Code) -> Vec<bool> {
    let mut repeated = vec![false; code.opcodes.len()];
    for (index, (opcode, record)) in code.opcodes.iter().zip(&code.records).enumerate() {
        for (kind, word) in opcode.operands().iter().zip(record.operands) {
            let distance = word as i32;
            if *kind == OperandKind::Label
                && distance <= 0
                && let Some(target) = repeated.get_mut(index.wrapping_add_signed(distance as isize))
            {
                *target = true;
            }
        }
    }
    repeated
}

/// Whether each unit is worth putting into the code of its callers: short, and without loops.
fn small(image: &Image, repeated: &[bool]) -> Vec<bool> {
    let small = |unit: &Unit| {
        let lines =
            unit.first_instruction as usize..(unit.first_instruction + unit.instruction_count) as usize;
        unit.instruction_count <= SMALL && !repeated.get(lines).unwrap_or_default().contains(&true)
    };
    image.units.iter().map(small).collect()
}

/// Where the instance of each unit begins that is run with one instance only, by tasks, and called by nothing.
fn starts(image: &Image, code: &Code) -> Vec<Option<u32>> {
    let mut found: Vec<Option<u32>> = vec![None; image.units.len()];
    let mut several = vec![false; image.units.len()];
    for call in image.tasks.iter().flat_map(|task| &task.programs) {
        let unit = call.unit as usize;
        if let (Some(found), Some(several)) = (found.get_mut(unit), several.get_mut(unit)) {
            *several |= found.is_some_and(|base| base != call.base);
            *found = Some(call.base);
        }
    }
    let mut called = |unit: u32| {
        if let Some(several) = several.get_mut(unit as usize) {
            *several = true;
        }
    };
    for (index, (opcode, record)) in code.opcodes.iter().zip(&code.records).enumerate() {
        for (kind, word) in opcode.operands().iter().zip(record.operands) {
            if *kind == OperandKind::Unit {
                called(code.units.of((index as u32).wrapping_add(word)));
            }
        }
    }
    code.dispatch.iter().flat_map(|table| table.targets()).for_each(|target| called(target.unit));
    found.into_iter().zip(several).map(|(found, several)| found.filter(|_| !several)).collect()
}

/// The signature of the ways to what is rare: context, instruction, instance.
fn rare_signature() -> Signature {
    let mut signature = Signature::new(CallConv::PreserveAll);
    signature.params.extend([types::I64, types::I32, types::I64].map(AbiParam::new));
    signature
}

/// A function that calls another one with its arguments, and preserves all registers.
fn preserving(
    convention: CallConv,
    function: &mut Function,
    context: &mut FunctionBuilderContext,
    to: usize,
) {
    let mut builder = FunctionBuilder::new(function, context);
    let block = builder.create_block();
    builder.append_block_params_for_function_params(block);
    builder.switch_to_block(block);
    let arguments = builder.block_params(block).to_vec();
    let mut signature = rare_signature();
    signature.call_conv = convention;
    let signature = builder.import_signature(signature);
    let to = builder.ins().iconst(types::I64, to as i64);
    builder.ins().call_indirect(signature, to, &arguments);
    builder.ins().return_(&[]);
    builder.seal_all_blocks();
    builder.finalize();
}

/// The signature of [`super::Surrounding`], or with two parameters more of [`super::AtOnce`].
fn surrounding_signature(convention: CallConv, more: usize) -> Signature {
    let mut signature = Signature::new(convention);
    signature.params.extend(std::iter::repeat_n(AbiParam::new(types::I64), 3 + more));
    signature.returns.push(AbiParam::new(types::I64));
    signature
}

/// The signature of [`super::Function`].
fn unit_signature(convention: CallConv) -> Signature {
    let mut signature = Signature::new(convention);
    signature.params.extend([AbiParam::new(types::I64); 4]);
    signature.returns.push(AbiParam::new(types::I64));
    signature
}
