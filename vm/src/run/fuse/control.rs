//! Loops with a constant step, and copies that depend on a BOOL.

use super::{Form, Group, Source, target};
use crate::instruction::{Family, Opcode};
use crate::types::Scalar;

/// The group that begins at a jump, if it is worth one.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let (opcode, operands) = source.get(start, start)?;
    if opcode.family() == Family::ForNext {
        next(source, start, opcode, operands)
    } else {
        move_when(source, start)
    }
}

fn next(source: &Source<'_>, start: usize, opcode: Opcode, operands: &[u32; 4]) -> Option<Group> {
    let [control, limit, step, _] = *operands;
    let scalar = opcode.scalar();
    let step = match scalar {
        Scalar::I16 => i32::from(i16::from_le_bytes(source.constants.bytes(step)?)),
        Scalar::I32 => i32::from_le_bytes(source.constants.bytes(step)?),
        _ => return None,
    };
    let (_, target) = target(opcode, operands, start)?;
    let words = [control, limit, step as u32, 0];
    let form = Form::Next { scalar };
    (step > 0).then_some(Group { form, length: 1, words, tail: [0; 2], jump: Some((3, target)) })
}

/// A jump over a single copy.
fn move_when(source: &Source<'_>, start: usize) -> Option<Group> {
    let (jump, operands) = source.get(start, start)?;
    // The copy begins a straight piece of its own, since the jump ends the one before; nothing else may lead to it.
    let (copy, [to, from, ..]) = source.get_behind(start + 1)?;
    let (_, target) = target(jump, operands, start)?;
    if copy.family() != Family::Move || target as usize != start + 2 {
        return None;
    }
    let form = Form::MoveWhen { scalar: copy.scalar(), when: jump.family() == Family::JumpUnless };
    Some(Group { form, length: 2, words: [*to, *from, operands[0], 0], tail: [0; 2], jump: None })
}
