//! Verification of instructions and jumps.

use super::LoadError;
use crate::coverage::CONDITIONS_MAX;
use crate::event::EventKind;
use crate::image::{DispatchTarget, Image, Unit};
use crate::instruction::{Family, Instruction, OperandKind, decode_instruction};
use crate::limits;
use crate::place::{Place, SYSTEM_BYTES};

/// Decodes the code and checks that units follow one another without gaps.
pub(super) fn decode(image: &Image) -> Result<Vec<Instruction>, LoadError> {
    // None takes less than two bytes.
    let most = image.code.len() / 2;
    let told = image.units.iter().map(|unit| unit.instruction_count as usize).fold(0, usize::saturating_add);
    let mut instructions = Vec::with_capacity(told.min(most));
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

pub(super) fn at(unit: &Unit, instruction: u32, problem: String) -> LoadError {
    LoadError::Instruction { unit: unit.name.clone(), instruction, problem }
}

/// The instructions of a unit with their indices in it.
pub(super) fn of_unit<'a>(
    unit: &Unit,
    instructions: &'a [Instruction],
) -> impl Iterator<Item = (u32, &'a Instruction)> {
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
            OperandKind::Dispatch => {
                let table =
                    image.dispatch.get(entry).ok_or_else(|| format!("there is no dispatch table {word}"))?;
                let missing = |row: &&DispatchTarget| row.unit as usize >= image.units.len();
                if instruction.opcode.family() == Family::CallMethod
                    && let Some(row) = table.targets.iter().find(missing)
                {
                    return Err(format!("there is no unit {} for the tag {}", row.unit, row.tag));
                }
            }
            OperandKind::Label if word >= unit.instruction_count => {
                return Err(format!("the jump target {word} is outside the unit"));
            }
            OperandKind::EventCode if EventKind::from_code(word).is_none() => {
                return Err(format!("there is no event kind {word}"));
            }
            OperandKind::Condition if word >= CONDITIONS_MAX => {
                return Err(format!("a decision has no condition {word}"));
            }
            _ => {}
        }
    }
    for (kind, word) in kinds.iter().zip(instruction.operands) {
        if kind.is_place() {
            let place = Place::from_word(word);
            let bytes = kind.width(scalar).or(kind.instance_bytes(scalar)).map_or(region_bytes, u64::from);
            check_place(image, unit, place, bytes)?;
            if kind.is_written() {
                check_no_constant(image, place, bytes)?;
            }
        }
    }
    Ok(())
}

/// No access rests on this: constants can be reached by address as well. It tells a compiler's slip before the program
/// runs, and makes the values of constants those of the image for every program that does not do that.
fn check_no_constant(image: &Image, place: Place, bytes: u64) -> Result<(), String> {
    let constants = image.layout.constants;
    let (start, end) = (u64::from(constants.start), u64::from(constants.start) + u64::from(constants.size));
    let offset = u64::from(place.offset());
    if !place.is_relative() && offset < end && offset + bytes > start {
        return Err(format!("place {place} with {bytes} bytes would be written, but holds constants"));
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
