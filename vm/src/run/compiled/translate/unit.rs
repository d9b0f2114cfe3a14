//! One unit: its straight pieces of code, jumps between them, what is counted on the way.

#[cfg(doc)]
use super::super::support;
use super::super::support::Context;
use super::allowance::{Allowance, effort};
use super::deferred::Deferred;
use super::facts::Facts;
use super::places::{Base, Spot};
use super::{Shared, promote::Kept};
use crate::image::Unit;
use crate::instruction::Opcode;
use crate::types::Scalar;
use cranelift_codegen::ir::{
    AbiParam, Block, Function, InstBuilder, MemFlags, Signature, Type, Value, condcodes::IntCC, types,
};
use cranelift_frontend::{FunctionBuilder, FunctionBuilderContext, Variable};
use cranelift_jit::JITModule;
use cranelift_module::{FuncId, Module};
use std::ops::Range;

/// A unit being translated.
pub(super) struct Translation<'a> {
    pub(super) shared: &'a Shared<'a>,
    pub(super) module: &'a mut JITModule,
    pub(super) builder: FunctionBuilder<'a>,
    /// The data image, the context.
    pub(super) data: Value,
    pub(super) context: Value,
    /// Executed instructions minus the sum of the costs before the current instruction, minus the budget.
    count: Variable,
    /// The instruction being translated.
    pub(super) index: u32,
    /// The unit that it belongs to.
    pub(super) body: Body,
    /// What places lie in.
    pub(super) bases: Vec<Base>,
    /// What is known at the current instruction.
    pub(super) facts: Facts,
    /// Places whose values are kept in registers.
    pub(super) kept: Vec<Kept>,
    /// What has been calculated with reals and not been looked at.
    pub(super) deferred: Deferred,
    /// Whether the current block has no end yet.
    pub(super) open: bool,
    /// Instructions of other units that may still be put into this function.
    pub(super) room: u32,
    /// Most [`effort`] that compiling it may take.
    effort: usize,
    /// Units whose functions are called.
    pub(super) called: Vec<u32>,
}

/// A unit whose instructions are being translated: the one of the function, or one that is put into it.
pub(super) struct Body {
    /// First instruction of the unit, and the block of each instruction that begins a straight piece.
    pub(super) first: u32,
    blocks: Vec<Option<Block>>,
    /// For each instruction what the ways to it know that have been translated.
    pub(super) arrivals: Vec<Option<Facts>>,
    /// The instance: its pointer, where it lies, and its size.
    pub(super) base: Value,
    pub(super) instance: Spot,
    pub(super) instance_bytes: u32,
    /// Where the calling unit goes on, for a unit that is put into it.
    pub(super) caller: Option<Caller>,
}

/// A unit that another one is put into.
pub(super) struct Caller {
    /// The instruction behind the call, and its block.
    pub(super) index: u32,
    pub(super) block: Block,
    /// What the ways to it know.
    pub(super) arrival: Option<Facts>,
    /// Number of units around.
    pub(super) depth: u32,
}

impl Body {
    /// A unit without instructions, with the instance at a pointer.
    pub(super) const fn new(base: Value) -> Self {
        Self {
            first: 0,
            blocks: Vec::new(),
            arrivals: Vec::new(),
            base,
            instance: Spot::absolute(0),
            instance_bytes: 0,
            caller: None,
        }
    }

    /// Makes the blocks of its straight pieces.
    fn enter(&mut self, shared: &Shared<'_>, builder: &mut FunctionBuilder<'_>, lines: Range<u32>) {
        self.first = lines.start;
        for index in lines {
            let leads = shared.leaders.get(index as usize).copied().unwrap_or(true);
            self.blocks.push(leads.then(|| builder.create_block()));
            self.arrivals.push(None);
        }
    }
}

/// Instructions of other units that are put into a function, besides as many as it has itself.
const ROOM: u32 = 60;

/// Accesses to the data image and to the context. Values need no alignment.
pub(super) const MEMORY: MemFlags = MemFlags::new().with_notrap();

impl<'a> Translation<'a> {
    pub(super) fn new(
        shared: &'a Shared<'a>,
        module: &'a mut JITModule,
        function: &'a mut Function,
        context: &'a mut FunctionBuilderContext,
    ) -> Self {
        let mut builder = FunctionBuilder::new(function, context);
        let entry = builder.create_block();
        builder.append_block_params_for_function_params(entry);
        builder.switch_to_block(entry);
        let count = builder.declare_var(types::I64);
        // The signature of a unit has four parameters.
        let [data, base, executed, context] = match *builder.block_params(entry) {
            [data, base, executed, context] => [data, base, executed, context],
            _ => [Value::from_u32(0); 4],
        };
        builder.def_var(count, executed);
        Self {
            shared,
            module,
            builder,
            data,
            context,
            count,
            index: 0,
            body: Body::new(base),
            bases: vec![Base::new(data)],
            facts: Facts::default(),
            kept: Vec::new(),
            deferred: Deferred::default(),
            open: true,
            room: 0,
            effort: 0,
            called: Vec::new(),
        }
    }

    /// Translates a unit as a function. The result are the units whose functions it calls; `None` where it is too large.
    pub(super) fn unit(mut self, number: usize, left: &mut Allowance) -> Option<Vec<u32>> {
        let Some(unit) = self.shared.image.units.get(number) else { return Some(self.called) };
        let room = left.room.min(ROOM + unit.instruction_count);
        (self.room, self.effort) = (room, left.effort);
        self.body.instance = self.instance(self.body.base, None);
        if let Some(start) = self.shared.starts.get(number).copied().flatten() {
            self.body.instance = Spot::absolute(start);
        }
        self.body.instance_bytes = unit.instance_bytes;
        self.keep_places(unit);
        self.straight_pieces(unit);
        left.effort = left.effort.checked_sub(effort(self.builder.func))?;
        left.room -= room - self.room;
        self.builder.seal_all_blocks();
        self.builder.finalize();
        Some(self.called)
    }

    /// Whether the program will not be compiled, because this would take too long.
    pub(super) fn is_too_large(&self) -> bool {
        effort(self.builder.func) > self.effort
    }

    /// Translates the instructions of a unit, with the current body.
    pub(super) fn straight_pieces(&mut self, unit: &Unit) {
        let shared = self.shared;
        let lines = unit.first_instruction..unit.first_instruction + unit.instruction_count;
        self.body.enter(shared, &mut self.builder, lines.clone());
        for index in lines {
            self.index = index;
            if let Some(block) = self.block(index) {
                if self.open {
                    self.arrive(index);
                    self.builder.ins().jump(block, &[]);
                }
                self.begin_piece(index);
                self.builder.switch_to_block(block);
                self.open = true;
            }
            let at = index as usize;
            let (Some(opcode), Some(record)) = (shared.code.opcodes.get(at), shared.code.records.get(at))
            else {
                continue;
            };
            if self.body.caller.is_none() && self.is_too_large() {
                return;
            }
            self.limit_known();
            self.instruction(*opcode, &record.operands);
        }
    }

    fn instruction(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let done = self.moved(opcode, operands)
            || self.calculated(opcode, operands)
            || self.combined(opcode, operands)
            || self.converted(opcode, operands)
            || self.controlled(opcode, operands)
            || self.block_run(opcode, operands)
            || self.machine_run(opcode, operands);
        if !done {
            self.step(opcode, operands);
        }
    }

    /// The block of an instruction that begins a straight piece.
    pub(super) fn block(&self, index: u32) -> Option<Block> {
        self.body.blocks.get(index.checked_sub(self.body.first)? as usize).copied().flatten()
    }

    /// Sum of the costs of all instructions before one.
    pub(super) fn prefix(&self, index: u32) -> i64 {
        self.shared.prefix(index)
    }

    pub(super) fn number(&mut self, number: i64) -> Value {
        self.builder.ins().iconst(types::I64, number)
    }

    pub(super) fn number32(&mut self, number: u32) -> Value {
        self.builder.ins().iconst(types::I32, i64::from(number))
    }

    /// Calls a function of the machine.
    pub(super) fn call(
        &mut self,
        function: usize,
        kinds: &[Type],
        result: Option<Type>,
        values: &[Value],
    ) -> Value {
        let mut signature = Signature::new(self.shared.convention);
        signature.params.extend(kinds.iter().map(|kind| AbiParam::new(*kind)));
        signature.returns.extend(result.map(AbiParam::new));
        let signature = self.builder.import_signature(signature);
        let function = self.number(function as i64);
        let call = self.builder.ins().call_indirect(signature, function, values);
        match self.builder.inst_results(call) {
            [result] => *result,
            _ => function,
        }
    }

    /// Runs the current instruction in the machine. The result is what [`support::step`] gives; the run has ended if
    /// there was a fault.
    pub(super) fn run_plain(&mut self) -> Value {
        self.call_rare(self.shared.rare);
        self.end_if_stopped();
        self.builder.ins().load(types::I64, MEMORY, self.context, Context::CHARGED)
    }

    /// Calls one of the ways that preserve all registers.
    fn call_rare(&mut self, function: FuncId) {
        let function = self.module.declare_func_in_func(function, self.builder.func);
        let index = self.number32(self.index);
        self.builder.ins().call(function, &[self.context, index, self.body.base]);
    }

    /// Adds what the current instruction charges.
    pub(super) fn charge(&mut self, charged: Value) {
        let count = self.builder.use_var(self.count);
        let count = self.builder.ins().iadd(count, charged);
        self.builder.def_var(self.count, count);
    }

    /// Ends the run where a fault has stopped it.
    pub(super) fn end_if_stopped(&mut self) {
        let stopped = self.builder.ins().load(types::I64, MEMORY, self.context, Context::STOPPED);
        let [end, next] = [self.cold(), self.builder.create_block()];
        self.builder.ins().brif(stopped, end, &[], next, &[]);
        self.builder.switch_to_block(end);
        // What is returned does not matter then.
        self.builder.ins().return_(&[stopped]);
        self.builder.switch_to_block(next);
    }

    /// A block that rarely runs.
    pub(super) fn cold(&mut self) -> Block {
        let block = self.builder.create_block();
        self.builder.set_cold_block(block);
        block
    }

    /// The count behind the current instruction, after a look at the budget: executed instructions minus the budget.
    pub(super) fn counted(&mut self) -> Value {
        let count = self.builder.use_var(self.count);
        let behind = self.prefix(self.index + 1);
        let count = self.builder.ins().iadd_imm(count, behind);
        let [over, next] = [self.cold(), self.builder.create_block()];
        let exceeded = self.builder.ins().icmp_imm(IntCC::SignedGreaterThan, count, 0);
        self.builder.ins().brif(exceeded, over, &[], next, &[]);
        self.builder.switch_to_block(over);
        self.call_rare(self.shared.watchdog);
        self.builder.ins().return_(&[count]);
        self.builder.switch_to_block(next);
        count
    }

    /// The count at the end of the unit, without a look at the budget.
    pub(super) fn final_count(&mut self) -> Value {
        let count = self.builder.use_var(self.count);
        let behind = self.prefix(self.index + 1);
        self.builder.ins().iadd_imm(count, behind)
    }

    /// Goes on at an instruction with so many executed instructions minus the budget.
    pub(super) fn set_count(&mut self, executed: Value, index: u32) {
        let prefix = self.prefix(index);
        let count = self.builder.ins().iadd_imm(executed, -prefix);
        self.builder.def_var(self.count, count);
    }

    /// Jumps to an instruction that begins a straight piece.
    pub(super) fn jump(&mut self, target: u32) {
        let executed = self.counted();
        self.set_count(executed, target);
        if let Some(block) = self.block(target) {
            self.arrive(target);
            self.builder.ins().jump(block, &[]);
        }
        self.open = false;
    }

    /// Runs the current instruction in the machine, whatever it is. It must not jump, call or return.
    pub(super) fn step(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        self.write_operands(opcode, operands);
        let charged = self.run_plain();
        self.charge(charged);
        self.forget_written(opcode, operands);
    }

    /// The value of a flag: the fast result where `rare` is FALSE, otherwise what the plain instruction leaves at the
    /// place of its result.
    pub(super) fn unless_rare(
        &mut self,
        rare: Value,
        fast: Value,
        (opcode, operands): (Opcode, &[u32; 4]),
        (to, scalar): (u32, Scalar),
    ) -> Value {
        let kind = super::places::kind(scalar);
        let [slow, next] = [self.cold(), self.builder.create_block()];
        let result = self.builder.append_block_param(next, kind);
        self.builder.ins().brif(rare, slow, &[], next, &[fast.into()]);
        self.builder.switch_to_block(slow);
        self.plain_result(opcode, operands, (to, scalar), next);
        self.builder.switch_to_block(next);
        result
    }

    /// Lets the plain instruction run, and goes on at a block with what it leaves at the place of its result.
    pub(super) fn plain_result(
        &mut self,
        opcode: Opcode,
        operands: &[u32; 4],
        (to, scalar): (u32, Scalar),
        next: Block,
    ) {
        if self.something_waits() {
            self.run_deferred();
        } else {
            self.write_operands_for_step(opcode, operands);
        }
        let charged = self.run_plain();
        self.charge(charged);
        let left = self.load_place(self.spot(to), super::places::kind(scalar));
        self.builder.ins().jump(next, &[left.into()]);
    }

    /// Lets the plain instruction, which faults, run where `rare` is TRUE. Nothing follows it: what follows relies on
    /// `rare` being FALSE for the values that this code has, whatever the plain instruction has read.
    pub(super) fn check(&mut self, rare: Value, opcode: Opcode, operands: &[u32; 4]) {
        let [slow, next] = [self.cold(), self.builder.create_block()];
        self.builder.ins().brif(rare, slow, &[], next, &[]);
        self.builder.switch_to_block(slow);
        self.fault(opcode, operands);
        self.builder.switch_to_block(next);
        self.open = true;
    }

    /// Lets the plain instruction run, which faults.
    pub(super) fn fault(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        self.write_operands_for_step(opcode, operands);
        self.call_rare(self.shared.faulting);
        // What is returned does not matter after a fault.
        let count = self.number(0);
        self.builder.ins().return_(&[count]);
        self.open = false;
    }
}
