//! Verification of the calls of known units: no recursion, and not too deep.

use super::LoadError;
use super::code::of_unit;
use super::dispatch::called_tables;
use crate::image::Image;
use crate::instruction::{Family, Instruction, OperandKind};
use crate::limits;
use crate::place::Place;

/// What the call graph shows.
pub(super) struct CallGraph {
    /// For each unit the instance base, when it is always the same.
    pub(super) fixed_bases: Vec<Option<u32>>,
    /// Greatest number of calls that are open at the same time.
    pub(super) depth: usize,
}

/// The instance bases that a unit is known to run with.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Bases {
    None,
    One(u32),
    Many,
}

impl Bases {
    fn join(&mut self, other: Self) {
        *self = match (*self, other) {
            (Self::None, bases) | (bases, Self::None) => bases,
            (Self::One(left), Self::One(right)) if left == right => Self::One(left),
            _ => Self::Many,
        };
    }

    /// The bases of an instance at a place of a unit that runs with these bases.
    const fn at(self, place: Place) -> Self {
        match self {
            _ if !place.is_relative() => Self::One(place.offset()),
            Self::One(base) => Self::One(base + place.offset()),
            other => other,
        }
    }
}

/// Orders the units so that callers come before what they call (Kahn's algorithm), which finds recursion, the call
/// depth, and the units that always run with the same instance.
pub(super) fn check_calls(image: &Image, instructions: &[Instruction]) -> Result<CallGraph, LoadError> {
    let units = image.units.len();
    let mut callers_left = vec![0u32; units];
    for instruction in instructions {
        if let Some(count) = callee(instruction).and_then(|callee| callers_left.get_mut(callee)) {
            *count += 1;
        }
    }
    let mut bases = vec![Bases::None; units];
    for table in called_tables(image, instructions) {
        for target in &table.targets {
            if let Some(slot) = bases.get_mut(target.unit as usize) {
                slot.join(Bases::Many);
            }
        }
    }
    for call in image.tasks.iter().flat_map(|task| &task.programs) {
        if let Some(slot) = bases.get_mut(call.unit as usize) {
            slot.join(Bases::One(call.base));
        }
    }
    let mut depths = vec![0usize; units];
    let mut ready: Vec<usize> = (0..units).filter(|unit| callers_left.get(*unit) == Some(&0)).collect();
    let mut ordered = 0usize;
    let mut depth = 0usize;
    while let Some(index) = ready.pop() {
        ordered += 1;
        let (Some(unit), Some(own), Some(own_depth)) =
            (image.units.get(index), bases.get(index).copied(), depths.get(index).copied())
        else {
            continue;
        };
        depth = depth.max(own_depth);
        for (_, instruction) in of_unit(unit, instructions) {
            let Some(target) = callee(instruction) else { continue };
            let called = match instruction.opcode.family() {
                Family::Call => own,
                Family::CallBlock => own.at(Place::from_word(instruction.operands[1])),
                _ => Bases::Many,
            };
            if let Some(slot) = bases.get_mut(target) {
                slot.join(called);
            }
            if let Some(slot) = depths.get_mut(target) {
                *slot = (*slot).max(own_depth + 1);
            }
            if let Some(count) = callers_left.get_mut(target) {
                *count -= 1;
                if *count == 0 {
                    ready.push(target);
                }
            }
        }
    }
    if ordered < units {
        let unit = image.units.iter().zip(&callers_left).find(|(_, count)| **count > 0);
        return Err(LoadError::Recursion {
            unit: unit.map(|(unit, _)| unit.name.clone()).unwrap_or_default(),
        });
    }
    if depth > limits::CALL_DEPTH {
        return Err(LoadError::Limit {
            what: "calls inside one another",
            found: depth as u64,
            limit: limits::CALL_DEPTH as u64,
        });
    }
    let fixed_bases = bases
        .iter()
        .map(|bases| match bases {
            Bases::One(base) => Some(*base),
            Bases::None | Bases::Many => None,
        })
        .collect();
    Ok(CallGraph { fixed_bases, depth })
}

pub(super) fn callee(instruction: &Instruction) -> Option<usize> {
    let [first, ..] = instruction.operands;
    match instruction.opcode.operands() {
        [OperandKind::Unit, ..] => Some(first as usize),
        _ => None,
    }
}
