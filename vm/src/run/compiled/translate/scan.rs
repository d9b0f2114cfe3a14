//! What surrounds programs in a scan: located bits between their areas and their places, the tasks in their order, the
//! programs of a task one after the other, and the status of tasks.

use super::super::support::Context;
use super::unit::MEMORY;
use super::{Functions, Shared, surrounding_signature};
use crate::image::{NO_STATUS, TaskStatus};
use crate::machine::process_image::BitRun;
use crate::program::Program;
use crate::schedule::{ScheduledCall, ScheduledTask};
use cranelift_codegen::inline::{Inline, InlineCommand};
use cranelift_codegen::ir::{
    Block, ExternalName, FuncRef, Function, Inst, InstBuilder, Opcode, Type, Value, condcodes::IntCC, types,
};
use cranelift_frontend::{FunctionBuilder, FunctionBuilderContext, Variable};
use cranelift_jit::JITModule;
use cranelift_module::{FuncId, Linkage, Module};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Most runs of located bits and calls of tasks that are translated: of far more the code would be large, and looking at
/// them one by one takes little beside moving them.
const PIECES: usize = 1024;

/// A function around units being translated.
pub(super) struct Surround<'a> {
    shared: &'a Shared<'a>,
    program: &'a Program,
    module: &'a mut JITModule,
    pub(super) builder: FunctionBuilder<'a>,
    data: Value,
    context: Value,
    /// The tasks that are due, and where the instructions of each are left.
    due: Value,
    instructions: Value,
    /// Executed instructions minus the budget.
    executed: Variable,
    stopped: Option<Block>,
    /// The functions that are put in the place of their calls, by their numbers.
    short: &'a BTreeMap<u32, Function>,
}

/// A function to be translated.
enum Part {
    /// A scan of the one cyclic task.
    Plain,
    /// A scan of all tasks that are due.
    AtOnce { publish: FuncId },
    /// A release of a task.
    Release { task: usize, publish: FuncId },
    /// The located outputs.
    Publish,
}

/// Most instructions of a program that is put into the code around it, and most of what they become with the units that
/// are put into them.
const SHORT: u32 = 64;
pub(super) const SHORT_BODY: usize = 2000;

/// Whether each unit is short and begins at one place of all tasks: then it is put into the code around it.
pub(super) fn short(program: &Program) -> Vec<bool> {
    let units = &program.image().units;
    let mut calls = vec![0_u32; units.len()];
    for call in program.schedule().tasks.iter().flat_map(|task| &task.calls) {
        if let Some(calls) = calls.get_mut(call.unit as usize) {
            *calls += 1;
        }
    }
    calls.iter().zip(units).map(|(calls, unit)| *calls == 1 && unit.instruction_count <= SHORT).collect()
}

/// Puts functions, by their numbers, in the place of their calls.
struct Short<'a>(&'a BTreeMap<u32, Function>);

impl Inline for Short<'_> {
    fn inline(
        &mut self,
        caller: &Function,
        _call: Inst,
        _opcode: Opcode,
        callee: FuncRef,
        _arguments: &[Value],
    ) -> InlineCommand<'_> {
        let name = caller.dfg.ext_funcs.get(callee).map(|function| &function.name);
        let Some(ExternalName::User(name)) = name else { return InlineCommand::KeepCall };
        let number = caller.params.user_named_funcs().get(*name).map(|name| name.index);
        match number.and_then(|number| self.0.get(&number)) {
            Some(function) => InlineCommand::Inline { callee: Cow::Borrowed(function), visit_callee: false },
            None => InlineCommand::KeepCall,
        }
    }
}

/// Defines what surrounds the units of a program, unless that is too much, and tells the largest frame in bytes.
pub(super) fn surround(
    shared: &Shared<'_>,
    program: &Program,
    module: &mut JITModule,
    context: &mut cranelift_codegen::Context,
    builder: &mut FunctionBuilderContext,
    short: &BTreeMap<u32, Function>,
) -> Option<(Functions, u32)> {
    let mut functions = Functions::default();
    let schedule = program.schedule();
    let calls: usize = schedule.tasks.iter().map(|task| task.calls.len() + 1).sum();
    if program.unpacked.len() + program.packed.len() + calls > PIECES {
        return Some((functions, 0));
    }
    let convention = shared.convention;
    let [signature, at_once] = [0, 2].map(|more| surrounding_signature(convention, more));
    let declare =
        |module: &mut JITModule, name: &str| module.declare_function(name, Linkage::Local, &signature).ok();
    let mut parts = Vec::new();
    if schedule.plain.is_some() {
        let scan = declare(module, "scan")?;
        functions.scan = Some(scan);
        parts.push((scan, Part::Plain));
    } else {
        let publish = declare(module, "publish")?;
        parts.push((publish, Part::Publish));
        if schedule.at_once {
            let scan = module.declare_function("scan", Linkage::Local, &at_once).ok()?;
            functions.at_once = Some(scan);
            parts.push((scan, Part::AtOnce { publish }));
        } else {
            for task in 0..schedule.tasks.len() {
                let release = declare(module, &format!("release{task}"))?;
                functions.releases.push(release);
                parts.push((release, Part::Release { task, publish }));
            }
        }
    }
    let mut largest = 0;
    for (function, part) in parts {
        let wanted = if matches!(part, Part::AtOnce { .. }) { &at_once } else { &signature };
        context.func.signature = wanted.clone();
        Surround::new(shared, program, module, &mut context.func, builder, short).part(&part);
        context.inline(Short(short)).ok()?;
        module.define_function(function, context).ok()?;
        largest = largest.max(context.compiled_code()?.buffer.frame_layout()?.frame_to_fp_offset);
        module.clear_context(context);
    }
    Some((functions, largest))
}

impl<'a> Surround<'a> {
    fn new(
        shared: &'a Shared<'a>,
        program: &'a Program,
        module: &'a mut JITModule,
        function: &'a mut Function,
        context: &'a mut FunctionBuilderContext,
        short: &'a BTreeMap<u32, Function>,
    ) -> Self {
        let mut builder = FunctionBuilder::new(function, context);
        let entry = builder.create_block();
        builder.append_block_params_for_function_params(entry);
        builder.switch_to_block(entry);
        // The signature has three parameters, or five where several tasks may be due.
        let none = Value::from_u32(0);
        let [data, counted, context, due, instructions] = match *builder.block_params(entry) {
            [data, counted, context, due, instructions] => [data, counted, context, due, instructions],
            [data, counted, context] => [data, counted, context, none, none],
            _ => [none; 5],
        };
        let executed = builder.declare_var(types::I64);
        builder.def_var(executed, counted);
        Self {
            shared,
            program,
            module,
            builder,
            data,
            context,
            due,
            instructions,
            executed,
            stopped: None,
            short,
        }
    }

    fn part(mut self, part: &Part) {
        let program = self.program;
        let schedule = program.schedule();
        match part {
            Part::Plain => {
                self.latch_all();
                self.call_all(schedule.plain.as_deref().unwrap_or_default());
                self.publish_all();
            }
            Part::AtOnce { publish } => {
                self.latch_all();
                for index in schedule.turns() {
                    if let Some(task) = schedule.tasks.get(index) {
                        self.turn(index, task, *publish);
                    }
                }
                for (index, task) in schedule.tasks.iter().enumerate() {
                    self.write_status(index, task.status);
                }
            }
            Part::Release { task, publish } => {
                let calls = schedule.tasks.get(*task).map(|task| task.calls.as_slice());
                self.call_all(calls.unwrap_or_default());
                self.call_publish(*publish);
            }
            Part::Publish => self.publish_all(),
        }
        let executed = self.builder.use_var(self.executed);
        self.builder.ins().return_(&[executed]);
        if let Some(stopped) = self.stopped {
            self.builder.switch_to_block(stopped);
            // What is returned does not matter after a fault.
            let executed = self.number(0);
            self.builder.ins().return_(&[executed]);
        }
        self.builder.seal_all_blocks();
        self.builder.finalize();
    }

    /// Serves a task, if it is due, and leaves the number of its instructions.
    fn turn(&mut self, index: usize, task: &ScheduledTask, publish: FuncId) {
        let [serve, rest, next] = [(); 3].map(|()| self.builder.create_block());
        let own = self.builder.ins().band_imm(self.due, 1 << index);
        self.builder.ins().brif(own, serve, &[], rest, &[]);
        self.builder.switch_to_block(rest);
        let none = self.number(0);
        self.leave_instructions(index, none);
        self.builder.ins().jump(next, &[]);
        self.builder.switch_to_block(serve);
        if let Some(call) = task.calls.first() {
            self.look_at_budget(call.first_instruction);
        }
        let before = self.builder.use_var(self.executed);
        self.call_all(&task.calls);
        self.call_publish(publish);
        let executed = self.builder.use_var(self.executed);
        let instructions = self.builder.ins().isub(executed, before);
        self.leave_instructions(index, instructions);
        self.end(task.status);
        self.builder.ins().jump(next, &[]);
        self.builder.switch_to_block(next);
    }

    /// Stops where more instructions were executed than a scan may, before an instruction.
    fn look_at_budget(&mut self, instruction: u32) {
        let executed = self.builder.use_var(self.executed);
        let (over, next) = (self.builder.create_block(), self.builder.create_block());
        self.builder.set_cold_block(over);
        let exceeded = self.builder.ins().icmp_imm(IntCC::SignedGreaterThan, executed, 0);
        self.builder.ins().brif(exceeded, over, &[], next, &[]);
        self.builder.switch_to_block(over);
        let watchdog = self.module.declare_func_in_func(self.shared.watchdog, self.builder.func);
        let instruction = self.builder.ins().iconst(types::I32, i64::from(instruction));
        self.builder.ins().call(watchdog, &[self.context, instruction, self.data]);
        let stopped = self.stopped();
        self.builder.ins().jump(stopped, &[]);
        self.builder.switch_to_block(next);
    }

    /// Notes the end of a release in the status of its task, as the machine does without time.
    fn end(&mut self, status: u32) {
        if status == NO_STATUS {
            return;
        }
        let runs = self.load(types::I32, status + TaskStatus::RUNS);
        let runs = self.builder.ins().iadd_imm(runs, 1);
        self.store(runs, status + TaskStatus::RUNS);
        let none = self.number(0);
        self.store(none, status + TaskStatus::RESPONSE);
        let longest = self.load(types::I64, status + TaskStatus::LONGEST_RESPONSE);
        let longest = self.builder.ins().smax(longest, none);
        self.store(longest, status + TaskStatus::LONGEST_RESPONSE);
    }

    /// Notes in the status of a task what belongs to the scan as a whole.
    fn write_status(&mut self, index: usize, status: u32) {
        if status == NO_STATUS {
            return;
        }
        let ran = self.builder.ins().ushr_imm(self.due, index as i64);
        let ran = self.builder.ins().ireduce(types::I8, ran);
        let ran = self.builder.ins().band_imm(ran, 1);
        self.store(ran, status + TaskStatus::RAN);
        let waits = self.builder.ins().iconst(types::I8, 0);
        self.store(waits, status + TaskStatus::WAITING);
        let instructions = self.builder.ins().load(types::I64, MEMORY, self.instructions, 8 * index as i32);
        let most = self.number(i64::from(u32::MAX));
        let instructions = self.builder.ins().umin(instructions, most);
        let instructions = self.builder.ins().ireduce(types::I32, instructions);
        self.store(instructions, status + TaskStatus::INSTRUCTIONS);
    }

    fn leave_instructions(&mut self, index: usize, instructions: Value) {
        // At most `Due::TASKS` tasks.
        self.builder.ins().store(MEMORY, instructions, self.instructions, 8 * index as i32);
    }

    fn number(&mut self, number: i64) -> Value {
        self.builder.ins().iconst(types::I64, number)
    }

    /// Where everything ends after a fault.
    fn stopped(&mut self) -> Block {
        *self.stopped.get_or_insert_with(|| {
            let block = self.builder.create_block();
            self.builder.set_cold_block(block);
            block
        })
    }

    fn call_all(&mut self, calls: &[ScheduledCall]) {
        for call in calls {
            self.call(call);
        }
    }

    fn call_publish(&mut self, publish: FuncId) {
        if self.program.packed.is_empty() {
            return;
        }
        let function = self.module.declare_func_in_func(publish, self.builder.func);
        let executed = self.builder.use_var(self.executed);
        self.builder.ins().call(function, &[self.data, executed, self.context]);
    }

    fn latch_all(&mut self) {
        for run in &self.program.unpacked {
            self.latch(run);
        }
    }

    fn publish_all(&mut self) {
        for runs in self.program.packed.chunk_by(BitRun::continued_by) {
            self.publish(runs);
        }
    }

    /// Calls a program, and goes on where no fault has stopped it.
    fn call(&mut self, call: &ScheduledCall) {
        let Some(function) = self.shared.functions.get(call.unit as usize) else { return };
        // What calls nothing cannot fault: the machine records faults.
        let calls_nothing = |body: &Function| body.dfg.ext_funcs.is_empty() && body.dfg.signatures.is_empty();
        let never_stops = self.short.get(&function.as_u32()).is_some_and(calls_nothing);
        let function = self.module.declare_func_in_func(*function, self.builder.func);
        let prefix = self.shared.prefix(call.first_instruction);
        let executed = self.builder.use_var(self.executed);
        let count = self.builder.ins().iadd_imm(executed, -prefix);
        let base = self.builder.ins().iadd_imm(self.data, i64::from(call.base));
        let call = self.builder.ins().call(function, &[self.data, base, count, self.context]);
        if let Some(executed) = self.builder.inst_results(call).first().copied() {
            self.builder.def_var(self.executed, executed);
        }
        if never_stops {
            return;
        }
        let (stopped, next) = (self.stopped(), self.builder.create_block());
        let fault = self.builder.ins().load(types::I64, MEMORY, self.context, Context::STOPPED);
        self.builder.ins().brif(fault, stopped, &[], next, &[]);
        self.builder.switch_to_block(next);
    }

    /// Located bits and statuses lie inside the data image (V7), whose size fits 31 bits.
    pub(super) fn load(&mut self, kind: Type, place: u32) -> Value {
        self.builder.ins().load(kind, MEMORY, self.data, place as i32)
    }

    pub(super) fn store(&mut self, value: Value, place: u32) {
        self.builder.ins().store(MEMORY, value, self.data, place as i32);
    }
}
