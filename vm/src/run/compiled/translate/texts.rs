//! Texts and native functions.

use super::super::called_texts as texts;
use super::super::support;
use super::arithmetic::is_signed;
use super::places::kind;
use super::unit::Translation;
use crate::instruction::{Family, Opcode};
use crate::place::Place;
use crate::text_operation::TextOperation;
use crate::types::Scalar;
use cranelift_codegen::ir::{InstBuilder, Value, condcodes::IntCC, types};

type One = unsafe extern "C" fn(*mut support::Context, u32) -> i64;
type Two = unsafe extern "C" fn(*mut support::Context, u32, u32) -> i64;
type Counted = unsafe extern "C" fn(*mut support::Context, u32, u64, u32) -> i64;
type Part = unsafe extern "C" fn(*mut support::Context, u32, u64, u64, u32) -> i64;
type Inserted = unsafe extern "C" fn(*mut support::Context, u32, u32, u64, u32) -> i64;
type Replaced = unsafe extern "C" fn(*mut support::Context, u32, u32, u64, u64, u32) -> i64;
type Signed = unsafe extern "C" fn(*mut support::Context, i64, u32) -> i64;
type Unsigned = unsafe extern "C" fn(*mut support::Context, u64, u32) -> i64;

impl Translation<'_> {
    /// Translates texts and native functions; tells whether the instruction was one of these.
    pub(super) fn machine_run(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [a, b, c, _] = *operands;
        match opcode.family() {
            Family::CopyString => {
                let (to, from) = (self.get(a, Scalar::U32), self.get(b, Scalar::U32));
                self.ordinarily(texts::copy_text as Two as usize, &[to, from], None, (opcode, operands));
                self.forget_written(opcode, operands);
            }
            Family::CompareString => {
                let (left, right) = (self.get(b, Scalar::U32), self.get(c, Scalar::U32));
                let (function, result) = (texts::compare as Two as usize, Some((a, Scalar::I8)));
                self.ordinarily(function, &[left, right], result, (opcode, operands));
            }
            Family::Native => {
                if !self.text_operation(opcode, operands) {
                    let frame = self.place_address(b).value;
                    self.native(opcode, operands, frame);
                }
            }
            Family::NativeAt => {
                // The decoder puts the size of the frame behind the operands.
                let pointer = self.through(b, 0, c, opcode, operands);
                let data = self.data;
                let frame = self.builder.ins().isub(pointer, data);
                self.native(opcode, operands, frame);
            }
            _ => return false,
        }
        true
    }

    /// A native function on a frame at a place that compiled code does by itself as long as nothing rare happens.
    fn text_operation(&mut self, opcode: Opcode, operands: &[u32; 4]) -> bool {
        let [native, frame, ..] = *operands;
        let Some(function) = self.shared.code.natives.get(native as usize) else { return false };
        let Some(operation) = function.operation_on_frame() else { return false };
        let slot = |offset| Place::from_word(frame).plus(offset).word();
        let mut operand = |offset, scalar| self.get(slot(offset), scalar);
        let (text, count) = (Scalar::U32, Scalar::I64);
        let (function, mut values) = match operation {
            TextOperation::Length => (texts::length as One as usize, vec![operand(0, text)]),
            TextOperation::Find => (texts::find as Two as usize, vec![operand(0, text), operand(8, text)]),
            TextOperation::Append => (texts::append as Two as usize, vec![operand(0, text)]),
            TextOperation::Left => {
                let values = vec![operand(0, text), operand(8, count), self.number(1)];
                (texts::middle as Part as usize, values)
            }
            TextOperation::Right => {
                (texts::right as Counted as usize, vec![operand(0, text), operand(8, count)])
            }
            TextOperation::Middle => {
                let values = vec![operand(0, text), operand(8, count), operand(16, count)];
                (texts::middle as Part as usize, values)
            }
            TextOperation::Insert => {
                let values = vec![operand(0, text), operand(8, text), operand(16, count)];
                (texts::insert as Inserted as usize, values)
            }
            TextOperation::Delete => {
                let values = vec![operand(0, text), operand(8, count), operand(16, count)];
                (texts::delete as Part as usize, values)
            }
            TextOperation::Replace => {
                let values = vec![operand(0, text), operand(8, text), operand(16, count), operand(24, count)];
                (texts::replace as Replaced as usize, values)
            }
            TextOperation::Write(scalar) => {
                let number = operand(0, scalar);
                let function = if is_signed(scalar) {
                    texts::write_signed as Signed as usize
                } else {
                    texts::write_unsigned as Unsigned as usize
                };
                (function, vec![self.extended(number, scalar)])
            }
        };
        let last = slot(operation.result());
        let result = match operation {
            TextOperation::Length | TextOperation::Find => Some((last, Scalar::I16)),
            _ => {
                values.push(self.get(last, Scalar::U32));
                None
            }
        };
        self.ordinarily(function, &values, result, (opcode, operands));
        if result.is_none() {
            self.forget_written(opcode, operands);
        }
        true
    }

    /// Calls a function on texts and stores its value at a place, if it has one; where something is rare the plain
    /// instruction runs.
    fn ordinarily(
        &mut self,
        function: usize,
        values: &[Value],
        result: Option<(u32, Scalar)>,
        (opcode, operands): (Opcode, &[u32; 4]),
    ) {
        let arguments: Vec<Value> = [self.context].iter().chain(values).copied().collect();
        let kinds: Vec<_> = arguments.iter().map(|value| self.builder.func.dfg.value_type(*value)).collect();
        let given = self.call(function, &kinds, Some(types::I64), &arguments);
        let rare = self.builder.ins().icmp_imm(IntCC::SignedLessThan, given, 0);
        let [slow, fast, next] = [self.cold(), self.builder.create_block(), self.builder.create_block()];
        let value = result.map(|(_, scalar)| self.builder.append_block_param(next, kind(scalar)));
        self.builder.ins().brif(rare, slow, &[], fast, &[]);
        self.builder.switch_to_block(slow);
        match result {
            Some(result) => self.plain_result(opcode, operands, result, next),
            None => {
                self.write_operands_for_step(opcode, operands);
                let charged = self.run_plain();
                self.charge(charged);
                self.builder.ins().jump(next, &[]);
            }
        }
        self.builder.switch_to_block(fast);
        match result {
            Some((_, scalar)) => {
                let charged = self.builder.ins().ushr_imm(given, i64::from(8 * scalar.size()));
                self.charge(charged);
                let value = self.builder.ins().ireduce(kind(scalar), given);
                self.builder.ins().jump(next, &[value.into()]);
            }
            None => {
                self.charge(given);
                self.builder.ins().jump(next, &[]);
            }
        }
        self.builder.switch_to_block(next);
        if let (Some((to, _)), Some(value)) = (result, value) {
            self.set(to, value);
        }
    }

    fn native(&mut self, opcode: Opcode, operands: &[u32; 4], frame: Value) {
        let (context, frame) = (self.context, self.builder.ins().ireduce(types::I32, frame));
        let (index, native) = (self.number32(self.index), self.number32(operands[0]));
        let function = support::native as unsafe extern "C" fn(_, _, _, _) -> _ as usize;
        let kinds = [types::I64, types::I32, types::I32, types::I32];
        let charged = self.call(function, &kinds, Some(types::I64), &[context, index, native, frame]);
        self.end_if_stopped();
        self.charge(charged);
        self.forget_written(opcode, operands);
    }
}
