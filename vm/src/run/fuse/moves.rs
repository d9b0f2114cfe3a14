//! Values copied one after the other: arguments, results, members.

use super::{Form, Group, Source, target};
use crate::instruction::Family;

/// Most copies of one group.
const MOVES: usize = 3;

/// The group that begins at a copy, if it is worth one.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let (first, _) = source.get(start, start)?;
    let scalar = first.scalar();
    let mut words = [0; 2 * MOVES];
    let mut count = 0;
    for (pair, index) in words.chunks_exact_mut(2).zip(start..) {
        let Some((opcode, [to, from, ..])) = source.get(start, index) else { break };
        if opcode.family() != Family::Move || opcode.scalar() != scalar {
            break;
        }
        pair.copy_from_slice(&[*to, *from]);
        count += 1;
    }
    let [a, b, c, d, e, f] = words;
    if count > 1 {
        let form = Form::Moves { scalar, count };
        return Some(Group { form, length: count as u32, words: [a, b, c, d], tail: [e, f], jump: None });
    }
    let (second, operands) = source.get(start, start + 1)?;
    match second.family() {
        Family::Move => {
            let [to, from, ..] = *operands;
            let form = Form::MovePair { first: scalar, second: second.scalar() };
            Some(Group { form, length: 2, words: [a, b, to, from], tail: [0; 2], jump: None })
        }
        Family::Jump => {
            let (_, target) = target(second, operands, start + 1)?;
            let form = Form::MoveJump { scalar };
            Some(Group { form, length: 2, words: [a, b, 0, 0], tail: [0; 2], jump: Some((3, target)) })
        }
        _ => None,
    }
}
