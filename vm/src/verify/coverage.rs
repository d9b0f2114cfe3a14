//! Verification of what observing instructions name: how large the log of the machine must be.

use super::LoadError;
use super::code::{at, of_unit};
use crate::coverage::CoverageSize;
use crate::image::Image;
use crate::instruction::{Instruction, OperandKind};

/// How the image observes itself; `None` for an ordinary image. The log of a machine takes a small multiple of the
/// memory that the image takes, so the numbers are limited by the number of instructions.
pub(super) fn check(image: &Image, instructions: &[Instruction]) -> Result<Option<CoverageSize>, LoadError> {
    // Fewer than 2^31 by their own limit.
    let most = instructions.len() as u32;
    let mut size = CoverageSize::default();
    let mut observes = false;
    for unit in &image.units {
        for (index, instruction) in of_unit(unit, instructions) {
            observes |= instruction.opcode.family().covers();
            for (kind, word) in instruction.opcode.operands().iter().zip(instruction.operands) {
                let (room, most, what, last) = match kind {
                    OperandKind::Point => (&mut size.points, most * 2, "point", word),
                    OperandKind::Points => (&mut size.points, most * 2, "point", word.saturating_add(1)),
                    OperandKind::Decision => (&mut size.decisions, most, "decision", word),
                    _ => continue,
                };
                if last >= most {
                    let problem = format!(
                        "{what} {last} is more than an image with {} instructions can have",
                        instructions.len()
                    );
                    return Err(at(unit, index, problem));
                }
                *room = (*room).max(last + 1);
            }
        }
    }
    Ok(observes.then_some(size))
}
