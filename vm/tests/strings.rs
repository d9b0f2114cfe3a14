//! Comparison and assignment of strings against a model: the shorter operand is filled with code 0, what exceeds the
//! capacity is cut with an event (IEC 61131-3:2013, Tables 33 and 34). Every way of running.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{EventKind, Family, Operand, Program, Scalar};
use proptest::prelude::*;
use std::cmp::Ordering;
use std::sync::Arc;
use support::{at, every, load, put, single, take};

const ORDER: u32 = 16;
const LEFT: u32 = 20;
const RIGHT: u32 = 24;
const FIRST: u32 = 32;
const SECOND: u32 = 200;

/// A program with one instruction on two strings: their order, or an assignment to the first.
fn program(family: Family, order: bool) -> Arc<Program> {
    let image = single(400, |unit| {
        let places = if order { vec![at(ORDER), at(LEFT), at(RIGHT)] } else { vec![at(LEFT), at(RIGHT)] };
        unit.emit(family, Scalar::U8, &places);
    });
    load(image)
}

/// The bytes of a string in memory; units are one byte or two.
fn content(capacity: u16, units: &[u16], width: usize) -> Vec<u8> {
    let mut bytes = [capacity.to_le_bytes(), (units.len() as u16).to_le_bytes()].concat();
    for unit in units {
        bytes.extend(&unit.to_le_bytes()[..width]);
    }
    bytes.resize(4 + width * usize::from(capacity), 0x55);
    bytes
}

fn padded(left: &[u16], right: &[u16]) -> Ordering {
    let length = left.len().max(right.len());
    let at = |units: &[u16], index: usize| units.get(index).copied().unwrap_or(0);
    (0..length)
        .map(|index| at(left, index).cmp(&at(right, index)))
        .find(|order| order.is_ne())
        .unwrap_or(Ordering::Equal)
}

/// Two strings that often begin alike, with zeros in them.
fn pair() -> impl Strategy<Value = (Vec<u16>, Vec<u16>)> {
    let unit = prop_oneof![Just(0u16), 1u16..4, 250u16..256, Just(0x0101), Just(0xff00)];
    let units = |most| prop::collection::vec(unit.clone(), 0..most);
    (units(30), units(10), units(10))
        .prop_map(|(start, one, other)| ([start.clone(), one].concat(), [start, other].concat()))
}

fn masked(units: &[u16], width: usize) -> Vec<u16> {
    units.iter().map(|unit| if width == 1 { unit & 0xff } else { *unit }).collect()
}

proptest! {
    #[test]
    fn order_of_strings((left, right) in pair(), wide in any::<bool>(), room in 0u16..9) {
        let (width, family) = if wide { (2, Family::CompareWideString) } else { (1, Family::CompareString) };
        let (left, right) = (masked(&left, width), masked(&right, width));
        for machine in &mut every(&program(family, true)) {
            put(machine, LEFT, &FIRST.to_le_bytes());
            put(machine, RIGHT, &SECOND.to_le_bytes());
            put(machine, FIRST, &content(left.len() as u16 + room, &left, width));
            put(machine, SECOND, &content(right.len() as u16, &right, width));
            let instructions = machine.scan(0).unwrap().instructions;
            prop_assert_eq!(take::<1>(machine, ORDER)[0] as i8, padded(&left, &right) as i8);
            let counted = width * left.len().max(right.len()) / 64;
            prop_assert_eq!(instructions, 2 + counted as u64);
        }
    }

    #[test]
    fn assignment_of_strings((to, from) in pair(), wide in any::<bool>(), room in 0u16..9) {
        let (width, family) = if wide { (2, Family::CopyWideString) } else { (1, Family::CopyString) };
        let (to, from) = (masked(&to, width), masked(&from, width));
        let capacity = to.len() as u16 + room;
        let kept = &from[..from.len().min(usize::from(capacity))];
        for machine in &mut every(&program(family, false)) {
            put(machine, LEFT, &FIRST.to_le_bytes());
            put(machine, RIGHT, &SECOND.to_le_bytes());
            put(machine, FIRST, &content(capacity, &to, width));
            put(machine, SECOND, &content(from.len() as u16, &from, width));
            let before = machine.data().to_vec();
            machine.scan(0).unwrap();
            let mut wanted = before;
            let copied = content(kept.len() as u16, kept, width);
            let start = FIRST as usize;
            wanted[start + 2..start + copied.len()].copy_from_slice(&copied[2..]);
            // Below are the counts of the machine itself.
            prop_assert_eq!(&machine.data()[16..], &wanted[16..]);
            let cut = u64::from(kept.len() < from.len());
            prop_assert_eq!(machine.events().count(EventKind::StringCut), cut);
        }
    }
}

/// The address of a character, by a subscript of each type: it is there from 1 to the length, whatever the capacity says,
/// and what is stored there is checked with the data.
#[test]
fn characters_by_subscript() {
    const SIZE: u32 = 16 + 400;
    let addresses = [0, 1, 12, FIRST, SIZE - 8, SIZE - 5, SIZE - 4, SIZE - 3, SIZE, u32::MAX - 2, u32::MAX];
    let subscripts = [0, 1, 2, 7, 8, 255, 256, 1 << 15, 1 << 31, 1 << 63, u64::MAX];
    for family in [Family::IndexCharacter, Family::IndexWideCharacter] {
        for scalar in [Scalar::I8, Scalar::U8, Scalar::I16, Scalar::U16, Scalar::I32, Scalar::U64] {
            let program = load(single(400, |unit| {
                unit.emit(family, scalar, &[at(ORDER), at(LEFT), at(RIGHT)]);
                unit.emit(Family::Store, Scalar::U16, &[at(ORDER), Operand::Immediate(0), at(FIRST - 2)]);
                unit.emit(Family::Load, Scalar::U16, &[at(FIRST - 4), at(ORDER), Operand::Immediate(0)]);
            }));
            let mut stored = 0;
            for (address, subscript, length) in addresses.into_iter().flat_map(|address| {
                subscripts
                    .into_iter()
                    .flat_map(move |one| [0u16, 7, 0x7fff, 0xffff].map(|end| (address, one, end)))
            }) {
                let mut machines = every(&program);
                for machine in &mut machines {
                    put(machine, LEFT, &address.to_le_bytes());
                    put(machine, RIGHT, &subscript.to_le_bytes()[..4]);
                    put(machine, RIGHT + 4, &subscript.to_le_bytes()[4..]);
                    for head in [FIRST, SIZE - 8, SIZE - 5, SIZE - 4] {
                        put(machine, head + 2, &length.to_le_bytes());
                    }
                }
                let [compiled, threaded, matched] = machines.each_mut().map(|machine| machine.scan(0));
                assert_eq!(compiled, matched, "{family:?} {scalar:?} {address} {subscript} {length}");
                assert_eq!(threaded, matched, "{family:?} {scalar:?} {address} {subscript} {length}");
                let [compiled, threaded, last] = &machines;
                assert!(compiled.state() == last.state(), "{family:?} {scalar:?} {address} {subscript}");
                assert!(threaded.state() == last.state(), "{family:?} {scalar:?} {address} {subscript}");
                stored += u32::from(matched.is_ok());
            }
            assert!(stored > 0, "{family:?} {scalar:?}");
        }
    }
}
