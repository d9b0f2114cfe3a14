//! The form of a program that the threaded dispatcher runs: groups of instructions as records that follow one another.
//!
//! Instructions are counted without counting them: between two jumps the count follows from the difference of two
//! prefix sums of costs. With the sum before the first instruction of a record, the number executed there is `count`
//! plus that sum; running on leaves `count` as it is, and a jump adds the sum behind the jumping record minus the sum
//! before the target, a constant kept in the record. A call keeps the sum behind it in its frame, for the return.

use super::super::Code;
use super::super::fuse::{Form, groups};
use super::{Handler, fused, halted, handler_of};
use crate::image::Image;
use crate::instruction::Family;

/// A record: 32 bytes.
#[derive(Clone, Copy)]
#[repr(C)]
pub(crate) struct Record {
    /// Runs it.
    pub(super) handler: Handler,
    /// Operands, as the form of the group says; jumps and known calls as distances in records.
    pub(super) words: [u32; 6],
}

impl Record {
    /// Operands of a plain instruction.
    pub(super) const fn operands(&self) -> &[u32; 4] {
        let [operands @ .., _, _] = &self.words;
        operands
    }

    /// What a taken jump or call adds to the count. Only for records that jump, call or return.
    pub(super) const fn delta(&self) -> i64 {
        let [.., delta, _] = self.words;
        delta as i32 as i64
    }

    /// Sum of the costs of all instructions up to the end of this record; as for [`Record::delta`].
    pub(super) const fn behind(&self) -> i64 {
        let [.., behind] = self.words;
        behind as i64
    }
}

/// Where a unit begins.
#[derive(Clone, Copy)]
pub(super) struct Entry {
    /// Its first record.
    pub(super) record: u32,
    /// Sum of the costs of all instructions before it.
    pub(super) prefix: u32,
}

/// The records of a program.
pub(crate) struct Chain {
    /// One a group, and one behind the last that ends the run.
    pub(super) records: Box<[Record]>,
    /// The first instruction of each record; for the last one the number of instructions.
    pub(super) origins: Box<[u32]>,
    /// One a unit.
    pub(super) entries: Box<[Entry]>,
}

impl Chain {
    pub(crate) fn new(image: &Image, code: &Code) -> Self {
        let groups = groups(image, code);
        let mut origins = Vec::with_capacity(groups.len() + 1);
        let mut next = 0;
        for group in &groups {
            origins.push(next);
            next += group.length;
        }
        origins.push(next);
        let prefix = |instruction: u32| {
            // There is a record more than instructions, and targets are instructions.
            code.records.get(instruction as usize).map_or(0, |record| record.prefix)
        };
        let mut chain =
            Self { records: Box::default(), origins: origins.into_boxed_slice(), entries: Box::default() };
        let entry = |first: &u32| Entry { record: chain.record_of(*first), prefix: prefix(*first) };
        chain.entries = code.units.all().iter().map(entry).collect();
        let mut records = Vec::with_capacity(groups.len() + 1);
        let mut first = 0;
        for (group, index) in groups.iter().zip(0u32..) {
            let behind = prefix(first + group.length);
            let [a, b, c, d] = group.words;
            let [e, f] = group.tail;
            let mut words = [a, b, c, d, e, f];
            if let Some((position, target)) = group.jump {
                if let Some(word) = words.get_mut(position) {
                    *word = chain.record_of(target).wrapping_sub(index);
                }
                // Sums of costs are limited to 31 bits, so are their differences.
                words[4] = behind.wrapping_sub(prefix(target));
                words[5] = behind;
            } else if let Form::MoveWhen { .. } = group.form {
                // What the skipped copy would count, and as for jumps.
                words[4] = behind.wrapping_sub(prefix(first + 1));
                words[5] = behind;
            } else if let Form::Plain(opcode) = group.form
                && matches!(opcode.family(), Family::Return | Family::CallMethod)
            {
                // For a call of a method the sum before its unit is taken off when that is known.
                words[4] = behind;
                words[5] = behind;
            }
            let absolute = group.is_absolute();
            let handler = match group.form {
                Form::Plain(opcode) => handler_of(opcode, absolute),
                form => fused::handler_of(form, absolute),
            };
            records.push(Record { handler, words });
            first += group.length;
        }
        records.push(Record { handler: halted, words: [0, 0, 0, 0, 0, prefix(first)] });
        chain.records = records.into_boxed_slice();
        chain
    }

    /// The record that begins with an instruction. Jumps, calls and tasks lead to beginnings of records only.
    pub(super) fn record_of(&self, instruction: u32) -> u32 {
        // At most as many as instructions.
        self.origins.partition_point(|origin| *origin < instruction) as u32
    }
}
