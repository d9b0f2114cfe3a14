//! Standard function blocks together with the copies of their inputs.

use super::{Form, Group, Source};
use crate::block::{BistableLayout, CounterLayout, TimerLayout, TriggerLayout, UpDownLayout};
use crate::instruction::Family;
use crate::place::Place;
use crate::types::Scalar;

/// Word of an input that is not copied. No place has all bits set.
pub(crate) const NOT_COPIED: u32 = u32::MAX;

/// Most inputs of a block.
pub(crate) const INPUTS: usize = 5;

/// An input of a block: where it lies in the instance, and how wide it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Input {
    pub(crate) offset: u32,
    pub(crate) bytes: u32,
}

const fn flag(offset: u32) -> Input {
    Input { offset, bytes: 1 }
}

/// The inputs of a block in the order of the standard's tables; those that it does not have are empty.
pub(crate) const fn inputs(family: Family, scalar: Scalar) -> [Input; INPUTS] {
    let none = flag(0);
    let none = Input { bytes: 0, ..none };
    let width = scalar.size();
    match family {
        Family::SetDominant | Family::ResetDominant => {
            [flag(BistableLayout::SET), flag(BistableLayout::RESET), none, none, none]
        }
        Family::RisingEdge | Family::FallingEdge => [flag(TriggerLayout::CLK), none, none, none, none],
        Family::Pulse | Family::OnDelay | Family::OffDelay => {
            [flag(TimerLayout::IN), Input { offset: TimerLayout::PT, bytes: 8 }, none, none, none]
        }
        Family::CountUp | Family::CountDown => {
            let layout = CounterLayout::of_width(width);
            let preset = Input { offset: layout.pv, bytes: width };
            [flag(layout.count), flag(layout.level), preset, none, none]
        }
        Family::CountUpDown => {
            let layout = UpDownLayout::of_width(width);
            let preset = Input { offset: layout.pv, bytes: width };
            [flag(layout.up), flag(layout.down), flag(layout.reset), flag(layout.load), preset]
        }
        _ => [none; INPUTS],
    }
}

/// The group that begins at the copy of an input, if a block follows.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let block = (start..=start + INPUTS)
        .find(|index| source.get(start, *index).is_none_or(|(opcode, _)| opcode.family() != Family::Move))?;
    let (opcode, operands) = source.get(start, block)?;
    let (family, scalar) = (opcode.family(), opcode.scalar());
    let instance = operands[0];
    let inputs = inputs(family, scalar);
    let mut copied = [NOT_COPIED; INPUTS];
    let mut next = 0;
    let counted = matches!(family, Family::CountUp | Family::CountDown | Family::CountUpDown);
    if block == start || (counted && !matches!(scalar, Scalar::I16 | Scalar::I32)) {
        return None;
    }
    for index in start..block {
        let (copy, [to, from, ..]) = source.get(start, index)?;
        // In the order of the inputs, so that the handler copies in the order of the text.
        let position = inputs.iter().skip(next).position(|input| {
            input.bytes == copy.scalar().size() && Place::from_word(instance).plus(input.offset).word() == *to
        })?;
        *copied.get_mut(next + position)? = *from;
        next += position + 1;
    }
    let [a, b, c, d, e] = copied;
    let form = Form::Block { family, scalar };
    let length = (block + 1 - start) as u32;
    Some(Group { form, length, words: [instance, a, b, c], tail: [d, e], jump: None })
}
