//! Calls the functions of texts as their rows say: the addresses of texts in the slots of the frame, numbers as LINT,
//! the result a text of its own or an INT.

use latchwork_stdlib::{Lowering, ResultType, function, natives};
use latchwork_vm::{
    ElementaryType, EventKind, Family, ImageBuilder, Operand, Place, Scalar, UnitBuilder, UnitKind,
};

/// An operand: the codes of a text, or a number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Argument {
    Text(Vec<u16>),
    Number(i64),
}

impl Argument {
    /// The codes of a text; none of a number.
    pub fn codes(&self) -> Vec<u16> {
        match self {
            Argument::Text(codes) => codes.clone(),
            Argument::Number(_) => Vec::new(),
        }
    }

    /// The same text with codes above those of a byte.
    pub fn raised(&self) -> Self {
        match self {
            Argument::Text(codes) => Argument::Text(codes.iter().map(|code| code + 0x2600).collect()),
            Argument::Number(number) => Argument::Number(*number),
        }
    }
}

/// A result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Given {
    Text(Vec<u16>),
    Number(i64),
}

/// Most characters of a text.
const LONGEST: usize = 32_767;
/// The frame of the routine has at most five slots.
const FRAME: u32 = 0;
const FIRST: u32 = 40;

/// Calls a function on texts of one width; gives the result and the kinds of events.
pub fn call(name: &str, operands: &[Argument], wide: bool) -> (Given, Vec<&'static str>) {
    let definition = function(name).unwrap_or_else(|| panic!("no function {name}")).definition;
    let text_type = if wide { ElementaryType::Wstring } else { ElementaryType::String };
    let types: Vec<ElementaryType> = operands
        .iter()
        .map(|operand| match operand {
            Argument::Text(_) => text_type,
            Argument::Number(_) => ElementaryType::Lint,
        })
        .collect();
    let overload = definition.overload(&types).unwrap_or_else(|| panic!("{name} of {types:?}"));
    let width = if wide { 2 } else { 1 };
    // Where each text lies: exactly as long as it is. The result is as long as all of them.
    let mut at = FIRST;
    let mut places = Vec::new();
    let mut capacity = 0;
    for operand in operands {
        let codes = operand.codes();
        places.push(at);
        at += (4 + width * codes.len() as u32).next_multiple_of(8);
        capacity += codes.len();
    }
    let (result, capacity) = (at, capacity.min(LONGEST));
    let bytes = (result + 4 + width * capacity as u32).next_multiple_of(8);

    let mut builder = ImageBuilder::new();
    let mut unit = UnitBuilder::new("Call", UnitKind::Program, bytes);
    let address = |unit: &mut UnitBuilder, slot: u32, place: u32| {
        let operands = [Place::relative(slot).into(), Place::relative(place).into()];
        unit.emit(Family::Address, Scalar::U32, &operands);
    };
    let mut run = |unit: &mut UnitBuilder, routine: &str| {
        let native = natives().iter().find(|row| row.name == routine).expect("a routine");
        let index = builder.native(native.name, native.frame_bytes);
        let operands = [Operand::Native(index), Place::relative(FRAME).into()];
        unit.emit(Family::Native, Scalar::U8, &operands);
    };
    match overload.lowering {
        Lowering::Native(routine) => {
            for (slot, operand) in operands.iter().enumerate() {
                if let Argument::Text(_) = operand {
                    address(&mut unit, FRAME + 8 * slot as u32, places[slot]);
                }
            }
            if overload.result == ResultType::Text {
                address(&mut unit, FRAME + 8 * operands.len() as u32, result);
            }
            run(&mut unit, routine);
        }
        Lowering::Append(routine) => {
            address(&mut unit, FRAME + 8, result);
            for place in &places {
                address(&mut unit, FRAME, *place);
                run(&mut unit, routine);
            }
        }
        other => panic!("{name}: {other:?}"),
    }
    let unit = unit.finish().unwrap_or_else(|error| panic!("{name}: {error}"));
    let (mut machine, base) = super::machine(builder, unit, bytes);
    let data = machine.data_mut();
    let head = |data: &mut [u8], at: usize, capacity: usize, length: usize| {
        data[at..at + 2].copy_from_slice(&(capacity as u16).to_le_bytes());
        data[at + 2..at + 4].copy_from_slice(&(length as u16).to_le_bytes());
    };
    for (slot, (operand, place)) in operands.iter().zip(&places).enumerate() {
        match operand {
            Argument::Text(codes) => {
                let start = base + *place as usize;
                head(data, start, codes.len(), codes.len());
                for (index, code) in codes.iter().enumerate() {
                    let at = start + 4 + width as usize * index;
                    data[at..at + width as usize].copy_from_slice(&code.to_le_bytes()[..width as usize]);
                }
            }
            Argument::Number(number) => {
                let at = base + FRAME as usize + 8 * slot;
                data[at..at + 8].copy_from_slice(&number.to_le_bytes());
            }
        }
    }
    head(data, base + result as usize, capacity, 0);
    let before = data.to_vec();
    machine.scan(0).unwrap_or_else(|fault| panic!("{name}: {}", fault.kind.name()));
    let data = machine.data();
    // The operands are as they were.
    let texts = base + FIRST as usize..base + result as usize;
    assert_eq!(data[texts.clone()], before[texts], "{name} changed an operand");
    let word = |at: usize| u16::from_le_bytes([data[at], data[at + 1]]);
    let given = if overload.result == ResultType::Text {
        let start = base + result as usize;
        assert_eq!(usize::from(word(start)), capacity, "{name} changed a capacity");
        let unit = |index: usize| match wide {
            true => word(start + 4 + 2 * index),
            false => u16::from(data[start + 4 + index]),
        };
        Given::Text((0..usize::from(word(start + 2))).map(unit).collect())
    } else {
        let at = base + FRAME as usize + 8 * operands.len();
        Given::Number(i64::from(word(at) as i16))
    };
    let events = EventKind::ALL.iter().filter(|kind| machine.events().count(**kind) > 0);
    (given, events.map(|kind| kind.name()).collect())
}
