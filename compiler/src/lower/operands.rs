//! The operands of a unit's instructions in few bytes: words of 32 bits, and with each instruction how they are to be read.

use std::slice;

use latchwork_vm::IndexRange;

use super::code::{Argument, Label};
use crate::{
    layout::{Base, Spot},
    types::UnitId,
};

/// No instruction has more operands.
pub(super) const OPERANDS_MAX: usize = 4;

/// The forms of the operands of an instruction, four bits each, first one lowest.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Forms(u16);

/// How an operand is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// A place in the data image: its offset.
    Data,
    /// A place in the instance: its offset.
    Instance,
    /// A place in the frame of the unit itself: its offset.
    OwnFrame,
    /// A place in the frame of another unit: the unit and the offset.
    Frame,
    /// A constant: its offset.
    Constant,
    /// The number of a label.
    Label,
    /// The number of a unit.
    Unit,
    /// An entry of [`Operands::natives`].
    Native,
    /// An entry of [`Operands::ranges`].
    Range,
    /// A table of calls.
    Dispatch,
    /// A number.
    Immediate,
}

impl Form {
    /// All forms. The code of one is its place here, counted from 1; 0 is none.
    const ALL: [Form; 11] = [
        Form::Data,
        Form::Instance,
        Form::OwnFrame,
        Form::Frame,
        Form::Constant,
        Form::Label,
        Form::Unit,
        Form::Native,
        Form::Range,
        Form::Dispatch,
        Form::Immediate,
    ];
}

impl Forms {
    /// The forms in the order of the operands.
    pub(super) fn iter(self) -> impl Iterator<Item = Form> {
        (0..OPERANDS_MAX).map_while(move |index| {
            let code = usize::from(self.0 >> (4 * index) & 0xf);
            Form::ALL.get(code.checked_sub(1)?).copied()
        })
    }
}

/// The operands of all instructions of a unit.
#[derive(Clone, Debug)]
pub(super) struct Operands {
    /// The unit, whose own frame is meant most often.
    unit: UnitId,
    /// The words of all operands in their order.
    pub(super) words: Vec<u32>,
    natives: Vec<(&'static str, u32)>,
    ranges: Vec<IndexRange>,
}

impl Default for Operands {
    fn default() -> Self {
        Operands { unit: UnitId(0), words: Vec::new(), natives: Vec::new(), ranges: Vec::new() }
    }
}

impl Operands {
    /// Takes everything out, for another unit.
    pub(super) fn clear(&mut self, unit: UnitId) {
        self.unit = unit;
        self.words.clear();
        self.natives.clear();
        self.ranges.clear();
    }

    /// Appends the operands of an instruction; those behind [`OPERANDS_MAX`] are left out.
    pub(super) fn push(&mut self, arguments: &[Argument]) -> Forms {
        let mut forms = 0;
        for (index, argument) in arguments.iter().take(OPERANDS_MAX).enumerate() {
            forms |= (self.put(*argument) as u16 + 1) << (4 * index);
        }
        Forms(forms)
    }

    fn put(&mut self, argument: Argument) -> Form {
        let (form, word) = match argument {
            Argument::Spot(Spot { base, offset }) => match base {
                Base::Data => (Form::Data, offset),
                Base::Instance => (Form::Instance, offset),
                Base::Constants => (Form::Constant, offset),
                Base::Frame(unit) if unit == self.unit => (Form::OwnFrame, offset),
                Base::Frame(unit) => {
                    self.words.push(unit.0);
                    (Form::Frame, offset)
                }
            },
            Argument::Label(label) => (Form::Label, label.0),
            Argument::Unit(unit) => (Form::Unit, unit.0),
            Argument::Native(name, bytes) => (Form::Native, entry(&mut self.natives, (name, bytes))),
            Argument::Range(range) => (Form::Range, entry(&mut self.ranges, range)),
            Argument::Dispatch(table) => (Form::Dispatch, table),
            Argument::Immediate(number) => (Form::Immediate, number),
        };
        self.words.push(word);
        form
    }

    /// The next operand, of this form.
    pub(super) fn read(&self, form: Form, words: &mut slice::Iter<'_, u32>) -> Option<Argument> {
        let word = *words.next()?;
        let spot = |base: Base| Argument::Spot(Spot::new(base, word));
        Some(match form {
            Form::Data => spot(Base::Data),
            Form::Instance => spot(Base::Instance),
            Form::OwnFrame => spot(Base::Frame(self.unit)),
            Form::Frame => Argument::Spot(Spot::new(Base::Frame(UnitId(word)), *words.next()?)),
            Form::Constant => spot(Base::Constants),
            Form::Label => Argument::Label(Label(word)),
            Form::Unit => Argument::Unit(UnitId(word)),
            Form::Native => {
                let (name, bytes) = *self.natives.get(word as usize)?;
                Argument::Native(name, bytes)
            }
            Form::Range => Argument::Range(*self.ranges.get(word as usize)?),
            Form::Dispatch => Argument::Dispatch(word),
            Form::Immediate => Argument::Immediate(word),
        })
    }
}

/// The number of an entry of a list, to which it is appended; not twice in a row.
fn entry<T: PartialEq>(list: &mut Vec<T>, wanted: T) -> u32 {
    if list.last() != Some(&wanted) {
        list.push(wanted);
    }
    (list.len() - 1) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn operands_are_read_as_they_were_appended() {
        let mut operands = Operands::default();
        operands.clear(UnitId(7));
        let spot = |base: Base, offset: u32| Argument::Spot(Spot::new(base, offset));
        let range = IndexRange { lower: -3, count: 5, stride: 8 };
        let all = [
            spot(Base::Data, 1),
            spot(Base::Instance, 2),
            spot(Base::Frame(UnitId(7)), 3),
            spot(Base::Frame(UnitId(9)), 4),
            spot(Base::Constants, 5),
            Argument::Label(Label(6)),
            Argument::Unit(UnitId(7)),
            Argument::Native("one", 8),
            Argument::Native("two", 9),
            Argument::Range(range),
            Argument::Dispatch(10),
            Argument::Immediate(u32::MAX),
        ];
        let forms: Vec<Forms> = all.chunks(OPERANDS_MAX).map(|some| operands.push(some)).collect();
        let mut words = operands.words.iter();
        let read: Vec<Option<Argument>> =
            forms.iter().flat_map(|forms| forms.iter()).map(|form| operands.read(form, &mut words)).collect();
        assert_eq!(read, all.map(Some));
        assert_eq!(words.next(), None);
    }
}
