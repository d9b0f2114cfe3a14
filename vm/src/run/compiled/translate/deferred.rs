//! Looking once at the end of a calculation with reals, instead of after each operation.
//!
//! A result that is infinite or no number asks the plain instruction for a closer look. A sum, difference or product of
//! such a value, or a quotient with it as the dividend, is no ordinary number either. So where a result is a temporary
//! that only such an operation reads, the look at the end finds it too: then the plain instructions run from the first
//! that was passed over. Between them and the end nothing but temporaries is written, so they find their operands as they
//! were.

use super::arithmetic::is_real;
use super::places::Spot;
use super::unit::Translation;
use crate::instruction::{Family, Opcode};
use cranelift_codegen::ir::Value;

/// How far, in instructions, a result may wait for the operation that reads it.
const LONGEST: u32 = 8;

/// Instructions whose results have not been looked at.
#[derive(Default)]
pub(super) struct Deferred {
    /// The first of them.
    first: Option<u32>,
    /// Temporaries from before them that they read and that are not written.
    operands: Vec<(Spot, Value)>,
}

impl Translation<'_> {
    /// The operation at an instruction, if it is one on reals whose result can be looked at later.
    fn operation(&self, index: u32) -> Option<(Opcode, [u32; 4])> {
        let at = index as usize;
        let (opcode, record) = (self.shared.code.opcodes.get(at)?, self.shared.code.records.get(at)?);
        let operation = matches!(
            opcode.family(),
            Family::Add | Family::Subtract | Family::Multiply | Family::Divide | Family::Negate
        );
        (operation && is_real(opcode.scalar())).then_some((*opcode, record.operands))
    }

    /// Whether the look at the result of an instruction can wait for the operation that reads it.
    pub(super) fn can_wait(&self, index: u32) -> bool {
        let Some((opcode, [result, ..])) = self.operation(index) else { return false };
        let Some(reader) = self.shared.lifetimes.last_read(index as usize).filter(|reader| *reader > index)
        else {
            return false;
        };
        let Some((next, [_, left, right, _])) = self.operation(reader) else { return false };
        let whole = next.scalar() == opcode.scalar()
            && (left == result || right == result)
            && !(next.family() == Family::Divide && right == result);
        whole
            && reader - index <= LONGEST
            && (index + 1..reader).all(|between| {
                let waits =
                    self.shared.lifetimes.last_read(between as usize).is_some_and(|last| last <= reader);
                waits && (self.can_wait(between) || self.makes_real(between))
            })
    }

    /// Whether an instruction makes a real of an integer, which is always an ordinary number.
    fn makes_real(&self, index: u32) -> bool {
        self.shared.code.opcodes.get(index as usize).is_some_and(|opcode| {
            matches!(opcode.family(), Family::ToF32 | Family::ToF64) && !is_real(opcode.scalar())
        })
    }

    /// Notes what the plain form of the current instruction needs, where instructions before it wait, or it will.
    pub(super) fn note_operands(&mut self, opcode: Opcode, operands: &[u32; 4]) {
        let waits = self.can_wait(self.index);
        if self.deferred.first.is_none() && waits {
            self.deferred.first = Some(self.index);
        }
        let Some(first) = self.deferred.first else { return };
        for (kind, word) in opcode.operands().iter().zip(operands) {
            let Some(bytes) = kind.width(opcode.scalar()).filter(|_| !kind.is_written()) else { continue };
            let spot = self.spot(*word);
            if let Some(value) = self.unwritten_before(spot, bytes, first) {
                self.deferred.operands.push((spot, value));
            }
        }
    }

    /// Runs the plain instructions that wait, up to the one before the current; in a block that rarely runs.
    pub(super) fn run_deferred(&mut self) {
        let Some(first) = self.deferred.first else { return };
        for (spot, value) in std::mem::take(&mut self.deferred.operands) {
            self.store_place(spot, value);
        }
        let last = self.index;
        for index in first..last {
            self.index = index;
            let charged = self.run_plain();
            self.charge(charged);
        }
        self.index = last;
    }

    /// The current instruction has been looked at, and all before it.
    pub(super) fn nothing_waits(&mut self) {
        self.deferred = Deferred::default();
    }

    /// Whether some instructions wait.
    pub(super) fn something_waits(&self) -> bool {
        self.deferred.first.is_some()
    }
}
