//! Places that a unit keeps in registers over its jumps: what its loops work on.
//!
//! Such a place is written whenever its value changes, so the data image is exact at every moment, and read again only
//! behind what may have changed it otherwise: a call, a block, a write at an address. A loop then waits for its own
//! results in registers and not in memory.

use super::arithmetic::is_real;
use super::places::{Spot, kind};
use super::{Shared, unit::Translation};
use crate::image::Unit;
use crate::instruction::{Opcode, OperandKind};
use crate::place::Place;
use crate::types::Scalar;
use cranelift_codegen::ir::{Type, Value};
use cranelift_frontend::Variable;
use std::collections::BTreeMap;

/// Most places of a unit that are kept: about as many as a processor has registers.
const MOST: usize = 16;

/// A place that is kept in a register.
#[derive(Clone, Copy)]
pub(super) struct Kept {
    pub(super) spot: Spot,
    pub(super) bytes: u32,
    kind: Type,
    variable: Variable,
}

/// A place of scalar operands with how often loops use it.
struct Candidate {
    place: Place,
    scalar: Scalar,
    uses: u32,
}

/// The places of a unit that are worth keeping, the most used first.
fn candidates(shared: &Shared<'_>, unit: &Unit) -> Vec<(Place, Scalar)> {
    let lines = unit.first_instruction as usize..(unit.first_instruction + unit.instruction_count) as usize;
    let code = shared.code;
    let opcodes = code.opcodes.get(lines.clone()).unwrap_or_default();
    let records = code.records.get(lines).unwrap_or_default();
    // How many loops each instruction lies in, as far as the text tells: between a jump back and its target.
    let mut depth = vec![0u32; opcodes.len() + 1];
    for (index, (opcode, record)) in opcodes.iter().zip(records).enumerate() {
        let label =
            opcode.operands().iter().zip(record.operands).find(|(kind, _)| **kind == OperandKind::Label);
        let distance = label.map_or(0, |(_, distance)| distance as i32);
        // Where a loop calls something, everything would be read again in every pass.
        let first = index.saturating_add_signed(distance as isize);
        if distance < 0 && !opcodes.get(first..index).unwrap_or_default().iter().any(|opcode| calls(*opcode))
        {
            for inside in depth.iter_mut().take(index + 1).skip(first) {
                *inside = inside.saturating_add(1);
            }
        }
    }
    let mut found: Vec<Candidate> = Vec::new();
    let mut numbers = BTreeMap::new();
    let mut spoilt: Vec<(Place, u32)> = Vec::new();
    for ((opcode, record), depth) in opcodes.iter().zip(records).zip(&depth) {
        for (kind, word) in opcode.operands().iter().zip(record.operands) {
            let place = Place::from_word(word);
            let Some(scalar) = operand_scalar(*kind, *opcode) else {
                if let Some(bytes) = kind.instance_bytes(opcode.scalar()) {
                    spoilt.push((place, bytes));
                }
                continue;
            };
            if shared.constants.bytes::<1>(word).is_some() {
                continue;
            }
            // What lies deeper is run more often.
            let uses = if *depth == 0 { 0 } else { 8u32.pow((*depth).min(5)) };
            match numbers.get(&(place, scalar.size())).and_then(|number: &usize| found.get_mut(*number)) {
                Some(one) => {
                    one.uses = one.uses.saturating_add(uses);
                    // Reals are also copied as bits.
                    if is_real(scalar) {
                        one.scalar = scalar;
                    }
                }
                None => {
                    numbers.insert((place, scalar.size()), found.len());
                    found.push(Candidate { place, scalar, uses });
                }
            }
        }
    }
    let spans: Vec<(Place, u32)> =
        found.iter().map(|one| (one.place, one.scalar.size())).chain(spoilt).collect();
    let alone = |one: &Candidate| {
        let own = (one.place, one.scalar.size());
        let sharing = spans.iter().filter(|span| {
            span.0.is_relative() == one.place.is_relative()
                && span.0.offset() < own.0.offset() + own.1
                && own.0.offset() < span.0.offset() + span.1
        });
        sharing.count() == 1
    };
    found.retain(|one| one.uses > 0);
    found.sort_by_key(|one| std::cmp::Reverse(one.uses));
    found.truncate(4 * MOST);
    found.retain(alone);
    found.truncate(MOST);
    found.into_iter().map(|one| (one.place, one.scalar)).collect()
}

/// Whether an instruction leads out of the compiled code of its unit, or may write anywhere.
fn calls(opcode: Opcode) -> bool {
    let leads =
        |kind: &OperandKind| matches!(kind, OperandKind::Unit | OperandKind::Native | OperandKind::Dispatch);
    opcode.operands().iter().any(leads) || super::blocks::at_address(opcode)
}

/// The scalar that an operand is read or written as; `None` for operands that are no scalars.
fn operand_scalar(kind: OperandKind, opcode: Opcode) -> Option<Scalar> {
    kind.width(opcode.scalar())?;
    Some(match kind {
        OperandKind::Dest | OperandKind::Source => opcode.scalar(),
        OperandKind::Dest8 | OperandKind::Source8 => Scalar::U8,
        OperandKind::Dest16 => Scalar::U16,
        OperandKind::Dest32 | OperandKind::Source32 | OperandKind::Address => Scalar::U32,
        _ => Scalar::U64,
    })
}

impl Translation<'_> {
    /// Chooses what a unit keeps in registers, and reads it; at the beginning of the unit.
    pub(super) fn keep_places(&mut self, unit: &Unit) {
        for (place, scalar) in candidates(self.shared, unit) {
            let kind = kind(scalar);
            let variable = self.builder.declare_var(kind);
            let spot = self.spot(place.word());
            self.kept.push(Kept { spot, bytes: scalar.size(), kind, variable });
        }
        self.read_all_kept();
    }

    /// The value of a place that is kept.
    pub(super) fn kept_value(&mut self, spot: Spot, bytes: u32) -> Option<Value> {
        let kept = *self.kept.iter().find(|kept| kept.spot == spot && kept.bytes == bytes)?;
        Some(self.builder.use_var(kept.variable))
    }

    /// Notes a new value of a place that is kept.
    pub(super) fn keep(&mut self, kept: &Kept, value: Value) {
        let value = self.as_kind(value, kept.kind);
        self.builder.def_var(kept.variable, value);
    }

    /// Reads a place that is kept again.
    pub(super) fn read_kept(&mut self, kept: &Kept) {
        let value = self.load_place(kept.spot, kept.kind);
        self.builder.def_var(kept.variable, value);
    }

    /// Reads all places that are kept again.
    pub(super) fn read_all_kept(&mut self) {
        for kept in self.kept.clone() {
            self.read_kept(&kept);
        }
    }
}
