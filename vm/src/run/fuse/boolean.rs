//! Boolean expressions of up to six places as tables of their values.
//!
//! Boolean instructions read and write nothing but their operands and raise nothing, so a run of them that comes to one
//! result is the same as a look into the table of that result.

use super::{Form, Group, Reach, Source, target};
use crate::instruction::{Family, Opcode};
use crate::place::Place;

/// Most places of an expression.
const INPUTS: usize = 6;
/// Most places where a jump follows, or where places need whole words.
const FEW_INPUTS: usize = 4;
/// Longest run of instructions that is looked at for one group.
const LENGTH: usize = 32;

/// The value of each place over all combinations of six: bit `i` is the value in combination `i`.
const VALUES: [u64; INPUTS] = [
    0xaaaa_aaaa_aaaa_aaaa,
    0xcccc_cccc_cccc_cccc,
    0xf0f0_f0f0_f0f0_f0f0,
    0xff00_ff00_ff00_ff00,
    0xffff_0000_ffff_0000,
    0xffff_ffff_0000_0000,
];

/// The group that begins at an instruction, if it is worth one.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let (opcode, _) = source.get(start, start)?;
    if !is_boolean(opcode) {
        return None;
    }
    let found = longest(source, start, INPUTS)?;
    found.group().or_else(|| longest(source, start, FEW_INPUTS)?.group())
}

fn is_boolean(opcode: Opcode) -> bool {
    matches!(
        opcode.family(),
        Family::BoolAnd
            | Family::BoolOr
            | Family::BoolXor
            | Family::BoolEqual
            | Family::AndNot
            | Family::OrNot
            | Family::Not
    )
}

/// An expression that stands for the instructions so far.
#[derive(Clone)]
struct Expression {
    inputs: Vec<u32>,
    table: u64,
    length: usize,
    end: End,
}

/// What becomes of the result.
#[derive(Clone, Copy)]
enum End {
    Store(u32),
    Jump { target: u32 },
}

/// The longest run of instructions that comes to one result of at most so many places.
fn longest(source: &Source<'_>, start: usize, most: usize) -> Option<Expression> {
    let mut inputs: Vec<u32> = Vec::with_capacity(INPUTS);
    // What the places written so far hold, and which instruction wrote them.
    let mut results: Vec<(u32, u64, usize)> = Vec::new();
    let mut found = None;
    for index in start..start + LENGTH {
        let Some((opcode, operands)) = source.get(start, index) else { break };
        let known =
            |place: u32| results.iter().rev().find(|(result, ..)| *result == place).map(|result| result.1);
        let mut wanted = inputs.clone();
        let mut value = |place: u32| {
            if let Some(value) = known(place) {
                return Some(value);
            }
            let position = wanted.iter().position(|input| *input == place).unwrap_or_else(|| {
                wanted.push(place);
                wanted.len() - 1
            });
            VALUES.get(position).filter(|_| position < most).copied()
        };
        let [to, left, right, _] = *operands;
        // All but the last result must not be needed any more.
        let forgotten = |results: &[(u32, u64, usize)]| {
            results.iter().all(|(_, _, writer)| source.lifetimes.ends_by(*writer, index))
        };
        if let Family::JumpIf | Family::JumpUnless = opcode.family() {
            if let Some(table) = known(to)
                && let Some((_, target)) = target(opcode, operands, index)
                && inputs.len() <= FEW_INPUTS
                && forgotten(&results)
            {
                let table = if opcode.family() == Family::JumpIf { table } else { !table };
                let length = index + 1 - start;
                found = Some(Expression { inputs, table, length, end: End::Jump { target } });
            }
            break;
        }
        if !is_boolean(opcode) {
            break;
        }
        let Some(a) = value(left) else { break };
        let table = match opcode.family() {
            Family::Not => !a,
            family => {
                let Some(b) = value(right) else { break };
                match family {
                    Family::BoolAnd => a & b,
                    Family::BoolOr => a | b,
                    Family::BoolXor => a ^ b,
                    Family::BoolEqual => !(a ^ b),
                    Family::AndNot => a & !b,
                    _ => a | !b,
                }
            }
        };
        inputs = wanted;
        if forgotten(&results) {
            let length = index + 1 - start;
            found = Some(Expression { inputs: inputs.clone(), table, length, end: End::Store(to) });
        }
        // A result that must be written ends the expression.
        if !source.lifetimes.ends_by(index, usize::MAX - 1) {
            break;
        }
        results.push((to, table, index));
    }
    found.filter(|found| found.length > 1)
}

impl Expression {
    fn group(self) -> Option<Group> {
        let length = self.length as u32;
        let inputs = self.inputs.len();
        match self.end {
            End::Store(to) => {
                let places: Vec<u32> = self.inputs.iter().copied().chain([to]).collect();
                let Some((reach, mut halves)) = halves(&places) else {
                    return self.wide(to);
                };
                let to = halves.pop()?;
                halves.resize(INPUTS, 0);
                halves.extend([to, 0]);
                let tail = [self.table as u32, (self.table >> 32) as u32];
                let form = Form::Truth { inputs, reach };
                Some(Group { form, length, words: words(&halves), tail, jump: None })
            }
            End::Jump { target } => {
                let (reach, mut halves) = halves(&self.inputs)?;
                halves.resize(FEW_INPUTS, 0);
                let [first, second, ..] = words(&halves);
                let words = [first, second, self.table as u32 & 0xffff, 0];
                let form = Form::TruthJump { inputs, reach };
                Some(Group { form, length, words, tail: [0; 2], jump: Some((3, target)) })
            }
        }
    }

    fn wide(&self, to: u32) -> Option<Group> {
        let inputs = self.inputs.len();
        if inputs > FEW_INPUTS {
            return None;
        }
        let mut words = [0; 4];
        for (word, place) in words.iter_mut().zip(&self.inputs) {
            *word = *place;
        }
        let tail = [to, self.table as u32 & 0xffff];
        let form = Form::WideTruth { inputs };
        Some(Group { form, length: self.length as u32, words, tail, jump: None })
    }
}

/// Places as halves of words, where they are near enough.
fn halves(places: &[u32]) -> Option<(Reach, Vec<u16>)> {
    let places: Vec<Place> = places.iter().map(|word| Place::from_word(*word)).collect();
    let relative = places.iter().filter(|place| place.is_relative()).count();
    let reach = match relative {
        0 => Reach::Absolute,
        count if count == places.len() => Reach::Relative,
        _ => Reach::Mixed,
    };
    let half = |place: &Place| {
        let offset = u16::try_from(place.offset()).ok()?;
        match reach {
            Reach::Absolute | Reach::Relative => Some(offset),
            Reach::Mixed if offset >> 15 != 0 => None,
            Reach::Mixed => Some(offset | u16::from(place.is_relative()) << 15),
        }
    };
    Some((reach, places.iter().map(half).collect::<Option<_>>()?))
}

/// Halves as words, the lower one first.
fn words(halves: &[u16]) -> [u32; 4] {
    let mut words = [0; 4];
    for (word, pair) in words.iter_mut().zip(halves.chunks(2)) {
        let [low, high] = [pair.first(), pair.get(1)].map(|half| u32::from(half.copied().unwrap_or(0)));
        *word = low | high << 16;
    }
    words
}
