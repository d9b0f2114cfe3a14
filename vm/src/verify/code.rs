//! Verification of instructions, jumps and calls.

use super::LoadError;
use crate::event::EventKind;
use crate::image::{Image, Unit};
use crate::instruction::{Family, Instruction, OperandKind, decode_instruction};
use crate::limits;
use crate::place::{Place, SYSTEM_BYTES};

/// Decodes the code and checks that units follow one another without gaps.
pub(super) fn decode(image: &Image) -> Result<Vec<Instruction>, LoadError> {
    let mut instructions = Vec::new();
    let mut rest = image.code.as_slice();
    for unit in &image.units {
        let wrong = |problem: String| LoadError::Table { what: format!("unit {}", unit.name), problem };
        if unit.first_instruction as usize != instructions.len() {
            return Err(wrong(format!("begins at instruction {}", unit.first_instruction)));
        }
        if unit.instruction_count == 0 {
            return Err(wrong("has no instructions".to_owned()));
        }
        for index in 0..unit.instruction_count {
            let (instruction, used) =
                decode_instruction(rest).map_err(|error| at(unit, index, error.to_string()))?;
            rest = rest.get(used..).unwrap_or_default();
            if instructions.len() >= limits::INSTRUCTIONS {
                return Err(LoadError::Limit {
                    what: "instructions",
                    found: instructions.len() as u64 + 1,
                    limit: limits::INSTRUCTIONS as u64,
                });
            }
            instructions.push(instruction);
        }
    }
    if rest.is_empty() {
        Ok(instructions)
    } else {
        Err(LoadError::Table {
            what: "code".to_owned(),
            problem: format!("{} bytes belong to no unit", rest.len()),
        })
    }
}

fn at(unit: &Unit, instruction: u32, problem: String) -> LoadError {
    LoadError::Instruction { unit: unit.name.clone(), instruction, problem }
}

/// The instructions of a unit with their indices in it.
fn of_unit<'a>(unit: &Unit, instructions: &'a [Instruction]) -> impl Iterator<Item = (u32, &'a Instruction)> {
    let start = unit.first_instruction as usize;
    let end = start + unit.instruction_count as usize;
    (0..).zip(instructions.get(start..end).unwrap_or_default())
}

/// Checks every operand of every instruction.
pub(super) fn check_instructions(image: &Image, instructions: &[Instruction]) -> Result<(), LoadError> {
    let mut total = 0u64;
    for unit in &image.units {
        let mut last = None;
        for (index, instruction) in of_unit(unit, instructions) {
            check_operands(image, unit, instruction).map_err(|problem| at(unit, index, problem))?;
            total += u64::from(instruction.cost());
            last = Some((index, instruction.opcode.family()));
        }
        match last {
            Some((_, Family::Return | Family::Jump)) => {}
            Some((index, _)) => {
                return Err(at(unit, index, "the unit does not end with `return`".to_owned()));
            }
            // Units have at least one instruction, see `decode`.
            None => {}
        }
    }
    // Prefix sums are kept in 31 bits.
    let limit = u64::from(u32::MAX >> 1);
    if total > limit {
        return Err(LoadError::Limit { what: "instructions, by their counts", found: total, limit });
    }
    Ok(())
}

fn check_operands(image: &Image, unit: &Unit, instruction: &Instruction) -> Result<(), String> {
    let kinds = instruction.opcode.operands();
    let scalar = instruction.opcode.scalar();
    // Operands that decide how large the regions are come first.
    let mut region_bytes = 0u64;
    for (kind, word) in kinds.iter().zip(instruction.operands) {
        let entry = word as usize;
        match kind {
            OperandKind::Bytes => region_bytes = u64::from(word),
            OperandKind::Range => {
                let range =
                    image.ranges.get(entry).ok_or_else(|| format!("there is no index range {word}"))?;
                // The start of the last element; loads and stores of the element are checked when they run.
                region_bytes = u64::from(range.count - 1) * u64::from(range.stride) + 1;
            }
            OperandKind::Unit => {
                let callee = image.units.get(entry).ok_or_else(|| format!("there is no unit {word}"))?;
                region_bytes = u64::from(callee.instance_bytes);
                if instruction.opcode.family() == Family::Call && callee.instance_bytes > unit.instance_bytes
                {
                    return Err(format!(
                        "{} needs an instance of {} bytes, the caller's has {}",
                        callee.name, callee.instance_bytes, unit.instance_bytes
                    ));
                }
            }
            OperandKind::Native => {
                let native =
                    image.natives.get(entry).ok_or_else(|| format!("there is no native function {word}"))?;
                region_bytes = u64::from(native.frame_bytes);
            }
            OperandKind::Label if word >= unit.instruction_count => {
                return Err(format!("the jump target {word} is outside the unit"));
            }
            OperandKind::EventCode if EventKind::from_code(word).is_none() => {
                return Err(format!("there is no event kind {word}"));
            }
            _ => {}
        }
    }
    for (kind, word) in kinds.iter().zip(instruction.operands) {
        if kind.is_place() {
            let bytes = kind.width(scalar).map_or(region_bytes, u64::from);
            check_place(image, unit, Place::from_word(word), bytes)?;
        }
    }
    Ok(())
}

fn check_place(image: &Image, unit: &Unit, place: Place, bytes: u64) -> Result<(), String> {
    let end = u64::from(place.offset()) + bytes;
    if place.is_relative() {
        if end > u64::from(unit.instance_bytes) {
            return Err(format!(
                "place {place} with {bytes} bytes is outside the instance of {} bytes",
                unit.instance_bytes
            ));
        }
    } else if place.offset() < SYSTEM_BYTES {
        return Err(format!("place {place} belongs to the machine itself"));
    } else if end > image.data.len() as u64 {
        return Err(format!(
            "place {place} with {bytes} bytes is outside the data image of {} bytes",
            image.data.len()
        ));
    }
    Ok(())
}

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

fn callee(instruction: &Instruction) -> Option<usize> {
    let [first, ..] = instruction.operands;
    match instruction.opcode.operands() {
        [OperandKind::Unit, ..] => Some(first as usize),
        _ => None,
    }
}
