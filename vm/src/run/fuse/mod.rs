//! Planning what the threaded dispatcher runs as one: several plain instructions that follow one another become one
//! record, when a program is made ready to run.
//!
//! The plain instructions remain the definition. A group changes nothing before it knows that nothing rare happens in
//! any of its instructions; otherwise the checked step runs them one by one. What a group need not do is to write a
//! temporary that nothing reads any more ([`Lifetimes`]).
//!
//! Groups never reach over the beginning of a straight piece of code ([`leaders`]), so every jump, call and return
//! leads to the beginning of a group.

mod arithmetic;
pub(crate) mod blocks;
mod boolean;
mod control;
mod element;
mod lifetime;
mod moves;

use super::{Code, Record};
use crate::image::{Image, Region};
use crate::instruction::{Family, Opcode, OperandKind};
use crate::place::Place;
use crate::types::Scalar;
pub(super) use lifetime::Lifetimes;

/// How the words of a group are to be understood, and by which handler it runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// One plain instruction with its operands.
    Plain(Opcode),
    /// A Boolean expression of 2 to 6 places, its result stored: places as halves, the place of the result as half 6,
    /// the table in words 4 and 5.
    Truth { inputs: usize, reach: Reach },
    /// A Boolean expression of 2 to 4 places given by whole words, its result stored: places, then the place of the
    /// result in word 4 and the table in word 5.
    WideTruth { inputs: usize },
    /// A Boolean expression of 1 to 4 places and a jump where it is TRUE: places as halves, the table in word 2, the
    /// jump in word 3.
    TruthJump { inputs: usize, reach: Reach },
    /// Two places compared and a jump where the result is `when`: places in words 0 and 1, the jump in word 3.
    CompareJump { comparison: Comparison, scalar: Scalar, when: bool },
    /// Two operations, the second on the result of the first: the place of the result, the operands of the first, the
    /// other operand of the second. `flipped` where the result of the first is the right operand of the second.
    Chain { first: Operation, second: Operation, scalar: Scalar, flipped: bool },
    /// A value of an array element: the place of the value, the place of element 0, the index, its range.
    LoadElement { scalar: Scalar, index: Scalar },
    /// A value stored in an array element: operands as for loading.
    StoreElement { scalar: Scalar, index: Scalar },
    /// A value of an element of two dimensions: as for one, then the second index and its range.
    LoadElement2 { scalar: Scalar, index: Scalar },
    /// A value stored in an element of two dimensions.
    StoreElement2 { scalar: Scalar, index: Scalar },
    /// Two or three values copied: target and source, target and source.
    Moves { scalar: Scalar, count: usize },
    /// Two values of different width copied.
    MovePair { first: Scalar, second: Scalar },
    /// A value copied where a BOOL is `when`: target, source, the BOOL.
    MoveWhen { scalar: Scalar, when: bool },
    /// A value copied and a jump: target, source, the jump in word 3.
    MoveJump { scalar: Scalar },
    /// A standard function block and the copies of its inputs: the instance, then the source of each input, or
    /// [`blocks::NOT_COPIED`].
    Block { family: Family, scalar: Scalar },
    /// A number converted to a real, and an operation on it: the place of the result, the number, the other operand;
    /// `flipped` as for [`Form::Chain`].
    ConvertChain { from: Scalar, second: Operation, scalar: Scalar, flipped: bool },
    /// An operation on reals and the conversion of its result: the place of the result, the operands.
    ChainConvert { first: Operation, scalar: Scalar, conversion: Family },
    /// A value limited: the larger of two, then the smaller, or (`upper_first`) the other way round. The place of the
    /// result, the value and its bound, the other bound.
    Limit { scalar: Scalar, upper_first: bool },
    /// An operation on an element of an array: the place of the result, the other operand, then as for
    /// [`Form::LoadElement`]: place, index, range. `flipped` where the element is the right operand.
    ElementChain { operation: Operation, scalar: Scalar, index: Scalar, flipped: bool },
    /// The end of a loop whose step is a positive constant: control variable, limit, step as a number, the jump in
    /// word 3.
    Next { scalar: Scalar },
}

/// A comparison of two numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Comparison {
    Equal,
    NotEqual,
    Less,
    LessOrEqual,
}

impl Comparison {
    const fn of(family: Family) -> Option<Self> {
        match family {
            Family::Equal => Some(Self::Equal),
            Family::NotEqual => Some(Self::NotEqual),
            Family::Less => Some(Self::Less),
            Family::LessOrEqual => Some(Self::LessOrEqual),
            _ => None,
        }
    }
}

/// An operation on two numbers with a number as its result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Operation {
    Add,
    Subtract,
    Multiply,
    Divide,
}

impl Operation {
    const fn of(family: Family) -> Option<Self> {
        match family {
            Family::Add => Some(Self::Add),
            Family::Subtract => Some(Self::Subtract),
            Family::Multiply => Some(Self::Multiply),
            Family::Divide => Some(Self::Divide),
            _ => None,
        }
    }
}

/// How places are written as halves of words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reach {
    /// Offsets in the data image.
    Absolute,
    /// Offsets in the instance.
    Relative,
    /// Either, with the top bit set for a place in the instance.
    Mixed,
}

/// Plain instructions that run as one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Group {
    /// Which handler.
    pub(crate) form: Form,
    /// Number of plain instructions.
    pub(crate) length: u32,
    /// Operands.
    pub(crate) words: [u32; 4],
    /// The last two words of forms that do not jump.
    pub(crate) tail: [u32; 2],
    /// Where it jumps to: the word that takes the distance, and the instruction.
    pub(crate) jump: Option<(usize, u32)>,
}

impl Group {
    /// Whether no place is relative; only for forms whose places are whole words.
    pub(crate) fn is_absolute(&self) -> bool {
        let relative = |word: u32| Place::from_word(word).is_relative();
        let [a, b, c, d] = self.words;
        let [e, f] = self.tail;
        match self.form {
            Form::Plain(opcode) => {
                let mut places = opcode.operands().iter().zip(self.words).filter(|(kind, _)| kind.is_place());
                !places.any(|(_, word)| relative(word))
            }
            Form::CompareJump { .. } => !relative(a) && !relative(b),
            Form::Chain { .. } | Form::Moves { count: 2, .. } => ![a, b, c, d].into_iter().any(relative),
            Form::Moves { .. } => ![a, b, c, d, e, f].into_iter().any(relative),
            Form::LoadElement { .. } | Form::StoreElement { .. } => ![a, b, c].into_iter().any(relative),
            Form::LoadElement2 { .. } | Form::StoreElement2 { .. } => ![a, b, c, e].into_iter().any(relative),
            Form::MovePair { .. } => ![a, b, c, d].into_iter().any(relative),
            Form::MoveWhen { .. } | Form::ConvertChain { .. } | Form::ChainConvert { .. } => {
                ![a, b, c].into_iter().any(relative)
            }
            Form::MoveJump { .. } | Form::Next { .. } => !relative(a) && !relative(b),
            Form::Block { .. } => {
                !relative(a)
                    && ![b, c, d, e, f].into_iter().any(|word| word != blocks::NOT_COPIED && relative(word))
            }
            Form::Limit { .. } | Form::ElementChain { .. } => ![a, b, c, d].into_iter().any(relative),
            Form::Truth { .. } | Form::WideTruth { .. } | Form::TruthJump { .. } => false,
        }
    }
}

/// The code of an image while groups are made.
struct Source<'a> {
    constants: Constants<'a>,
    opcodes: &'a [Opcode],
    records: &'a [Record],
    lifetimes: Lifetimes,
    /// Whether a straight piece of code begins at each instruction; one more for the end.
    leaders: Vec<bool>,
    /// Whether something else than the instruction before leads to each one.
    entered: Vec<bool>,
}

impl<'a> Source<'a> {
    /// An instruction of the piece of code that `start` belongs to; `None` behind its end.
    fn get(&self, start: usize, index: usize) -> Option<(Opcode, &'a [u32; 4])> {
        if index != start && self.leaders.get(index).copied().unwrap_or(true) {
            return None;
        }
        Some((*self.opcodes.get(index)?, &self.records.get(index)?.operands))
    }

    /// The instruction behind a jump that nothing else leads to.
    fn get_behind(&self, index: usize) -> Option<(Opcode, &'a [u32; 4])> {
        let entered = self.entered.get(index).copied().unwrap_or(true);
        (!entered).then(|| self.get(index, index)).flatten()
    }
}

/// Whether two spans of bytes, each a place word and a size, have bytes in common. Groups ask this about temporaries that
/// they do not write: what the plain instructions read from one of them in part must not be read from its old bytes.
fn overlap((one, bytes): (u32, u32), (other, others): (u32, u32)) -> bool {
    let (one, other) = (Place::from_word(one), Place::from_word(other));
    one.is_relative() == other.is_relative()
        && one.offset() < other.offset().saturating_add(others)
        && other.offset() < one.offset().saturating_add(bytes)
}

/// The constants of an image. No scalar operand writes them. A program made by hand that does so by address may see the
/// old values, as [`crate::DataLayout::constants`] says; no check of an access rests on them.
pub(super) struct Constants<'a> {
    region: Region,
    data: &'a [u8],
}

impl<'a> Constants<'a> {
    pub(super) fn new(image: &'a Image) -> Self {
        Self { region: image.layout.constants, data: &image.data }
    }

    /// The bytes of a constant; `None` for other places.
    pub(super) fn bytes<const COUNT: usize>(&self, word: u32) -> Option<[u8; COUNT]> {
        let place = Place::from_word(word);
        let (start, end) = (place.offset() as usize, place.offset() as usize + COUNT);
        let region = self.region.start as usize..(self.region.start + self.region.size) as usize;
        if place.is_relative() || start < region.start || end > region.end {
            return None;
        }
        self.data.get(start..end)?.try_into().ok()
    }
}

/// The groups of an image, in order; together they are all of its instructions.
pub(crate) fn groups(image: &Image, code: &Code) -> Vec<Group> {
    let (leaders, entered) = leaders(image, code);
    let lifetimes = Lifetimes::new(image, code, &leaders);
    let constants = Constants::new(image);
    let source =
        Source { constants, opcodes: &code.opcodes, records: &code.records, lifetimes, leaders, entered };
    let mut groups = Vec::with_capacity(code.opcodes.len());
    let mut index = 0;
    while let Some((opcode, operands)) = source.get(index, index) {
        let planned = match opcode.family() {
            Family::Index => element::group(&source, index),
            Family::Move => blocks::group(&source, index).or_else(|| moves::group(&source, index)),
            Family::ForNext | Family::JumpIf | Family::JumpUnless => control::group(&source, index),
            _ => boolean::group(&source, index).or_else(|| arithmetic::group(&source, index)),
        };
        let group = planned.unwrap_or_else(|| Group {
            form: Form::Plain(opcode),
            length: 1,
            words: *operands,
            tail: [0; 2],
            jump: target(opcode, operands, index),
        });
        index += group.length as usize;
        groups.push(group);
    }
    groups
}

/// Where straight pieces of code begin: units, jump targets, and behind everything that does not simply continue. And
/// which of these something else than the instruction before leads to.
pub(super) fn leaders(image: &Image, code: &Code) -> (Vec<bool>, Vec<bool>) {
    let mut leaders = vec![false; code.opcodes.len() + 1];
    let mut entered = leaders.clone();
    let mark = |marks: &mut Vec<bool>, index: usize| {
        if let Some(mark) = marks.get_mut(index) {
            *mark = true;
        }
    };
    for unit in &image.units {
        mark(&mut entered, unit.first_instruction as usize);
    }
    for (index, (opcode, record)) in code.opcodes.iter().zip(&code.records).enumerate() {
        if let Some((_, target)) = target(*opcode, &record.operands, index) {
            mark(&mut entered, target as usize);
        }
        if leaves(*opcode) {
            mark(&mut leaders, index + 1);
        }
        if calls(*opcode) {
            mark(&mut entered, index + 1);
        }
    }
    for (leader, entered) in leaders.iter_mut().zip(&entered) {
        *leader |= entered;
    }
    (leaders, entered)
}

/// Where a jump or a call of a known unit leads: the operand that tells it, and the instruction.
fn target(opcode: Opcode, operands: &[u32; 4], index: usize) -> Option<(usize, u32)> {
    let leads = |kind: &OperandKind| matches!(kind, OperandKind::Label | OperandKind::Unit);
    let position = opcode.operands().iter().position(leads)?;
    Some((position, (index as u32).wrapping_add(*operands.get(position)?)))
}

/// Whether something else than the next instruction may follow.
fn leaves(opcode: Opcode) -> bool {
    opcode.operands().contains(&OperandKind::Label) || opcode.family() == Family::Return || calls(opcode)
}

/// Whether a unit runs before the next instruction.
fn calls(opcode: Opcode) -> bool {
    opcode.operands().contains(&OperandKind::Unit) || opcode.family() == Family::CallMethod
}
