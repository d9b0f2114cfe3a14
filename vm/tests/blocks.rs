//! The instructions of the standard function blocks: instances at every kind of place, and images that claim an instance
//! where there is no room for one.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    FaultKind, Image, ImageBuilder, LoadError, Opcode, Operand, Place, Program, ProgramCall, Region, Task,
    UnitBuilder, UnitKind,
};
use std::sync::Arc;
use support::{at, every, load, one, plus, put, single};

/// The block instructions on an instance at a place, with the size of the instance.
fn at_places() -> impl Iterator<Item = (Opcode, u32)> {
    Opcode::all().filter_map(|opcode| match opcode.operands() {
        [kind] => kind.instance_bytes(opcode.scalar()).map(|bytes| (opcode, bytes)),
        _ => None,
    })
}

/// The same on an instance at an address: it follows the other in the table.
fn at_addresses() -> impl Iterator<Item = (Opcode, u32)> {
    at_places().map(|(place, bytes)| {
        let name = format!(
            "{}-at{}",
            place.family().description().mnemonic,
            place.name().trim_start_matches(place.family().description().mnemonic)
        );
        (Opcode::all().find(|opcode| opcode.name() == name).unwrap(), bytes)
    })
}

fn refused(image: Image) -> String {
    match Program::load(image, &[]) {
        Err(LoadError::Instruction { problem, .. }) => problem,
        other => panic!("{other:?}"),
    }
}

#[test]
fn there_are_twelve_of_them_and_each_has_both_forms() {
    let families = at_places().map(|(opcode, _)| opcode.family()).collect::<std::collections::BTreeSet<_>>();
    assert_eq!(families.len(), 12);
    assert_eq!(at_places().count(), 4 + 5 * 5 + 3);
    assert_eq!(at_addresses().count(), at_places().count());
}

#[test]
fn an_instance_must_lie_inside_the_data_image() {
    for (opcode, bytes) in at_places() {
        // `one` has 256 bytes of data behind the 16 of the system.
        let end = 16 + 256;
        let image = |place| one(opcode.family(), opcode.scalar(), &[at(place)]);
        assert!(Program::load(image(end - bytes), &[]).is_ok(), "{}", opcode.name());
        for place in [end - bytes + 1, end - 1, end, u32::MAX >> 1] {
            assert!(refused(image(place)).contains("outside the data image"), "{} {place}", opcode.name());
        }
        for place in [0, 15] {
            assert!(refused(image(place)).contains("belongs to the machine"), "{} {place}", opcode.name());
        }
    }
}

#[test]
fn an_instance_at_a_relative_place_must_lie_inside_the_instance_of_the_unit() {
    for (opcode, bytes) in at_places() {
        let image = |place, instance_bytes| {
            let mut image = ImageBuilder::new();
            let base = image.allocate(256, 8);
            let mut unit = UnitBuilder::new("Main", UnitKind::Program, instance_bytes);
            unit.emit(opcode.family(), opcode.scalar(), &[plus(place)]);
            let unit = image.add_unit(unit.finish().unwrap());
            image.tasks.push(Task::cyclic("Main", vec![ProgramCall { unit, base }]));
            image.finish().unwrap()
        };
        assert!(Program::load(image(5, 5 + bytes), &[]).is_ok(), "{}", opcode.name());
        // The data image has room, the instance of the unit has not.
        assert!(refused(image(6, 5 + bytes)).contains("outside the instance"), "{}", opcode.name());
        assert!(refused(image(0, bytes - 1)).contains("outside the instance"), "{}", opcode.name());
        // The unit has room, but its instance would be behind the data image.
        let mut hostile = image(5, 5 + bytes);
        hostile.tasks[0].programs[0].base = 16 + 256 - bytes;
        assert!(Program::load(hostile, &[]).is_err(), "{}", opcode.name());
    }
}

#[test]
fn an_instance_must_not_lie_among_the_constants() {
    for (opcode, bytes) in at_places() {
        for (start, size) in [(64, bytes), (64 - 4, 5), (64 + bytes - 1, 8)] {
            let mut image = one(opcode.family(), opcode.scalar(), &[at(64)]);
            image.layout.constants = Region { start, size };
            assert!(refused(image).contains("holds constants"), "{} {start} {size}", opcode.name());
        }
        for (start, size) in [(32, 32), (64 + bytes, 32)] {
            let mut image = one(opcode.family(), opcode.scalar(), &[at(64)]);
            image.layout.constants = Region { start, size };
            assert!(Program::load(image, &[]).is_ok(), "{} {start} {size}", opcode.name());
        }
    }
}

/// Runs a block instruction on an instance at an address with any content, in every way: they must agree on data and
/// faults, and touch nothing but the instance. Returns the fault.
fn on_content(program: &Arc<Program>, address: u32, bytes: u32, seed: u32) -> Option<FaultKind> {
    let mut machines = every(program);
    let mut number = seed;
    for scan in 0..60 {
        let mut content = vec![0u8; bytes as usize];
        for byte in &mut content {
            number = number.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            // Many bytes are small, so that states and BOOLs are often the usual ones, but not always.
            *byte = if number >> 30 == 0 { (number >> 20) as u8 } else { (number >> 20) as u8 % 3 };
        }
        let now = [0, i64::MAX, 1 << 32, 1, i64::MIN][scan % 5];
        let before = machines[0].data().to_vec();
        let end = (address as usize).saturating_add(bytes as usize);
        // Every other scan finds what the one before has left.
        if end <= before.len() && scan % 2 == 0 {
            machines.iter_mut().for_each(|machine| put(machine, address, &content));
        }
        let [compiled, threaded, matched] = machines.each_mut().map(|machine| machine.scan(now));
        assert_eq!(compiled, matched);
        assert_eq!(threaded, matched);
        let [compiled, threaded, last] = &machines;
        assert!(compiled.state() == last.state(), "compiled, data differ after scan {scan}");
        assert!(threaded.state() == last.state(), "data differ after scan {scan}");
        for (place, (old, new)) in before.iter().zip(last.data()).enumerate().skip(16) {
            assert!(old == new || (address as usize..end).contains(&place), "byte {place} changed");
        }
        if let Err(fault) = matched {
            return Some(fault.kind);
        }
    }
    None
}

#[test]
fn any_content_at_any_alignment_is_harmless() {
    for (opcode, bytes) in at_places() {
        for place in 16..24 {
            let program = load(one(opcode.family(), opcode.scalar(), &[at(place)]));
            assert_eq!(on_content(&program, place, bytes, place), None, "{} {place}", opcode.name());
        }
    }
}

#[test]
fn addresses_are_checked_when_they_are_used() {
    for (opcode, bytes) in at_addresses() {
        let end = 16 + 256;
        // The address lies behind the data, so that no instance covers it.
        let image = |address: u32| {
            let mut image = single(260, |unit| {
                unit.emit(opcode.family(), opcode.scalar(), &[Operand::Place(Place::absolute(end))]);
            });
            image.data[end as usize..end as usize + 4].copy_from_slice(&address.to_le_bytes());
            load(image)
        };
        let size = end + 4;
        for address in 16..24 {
            assert_eq!(on_content(&image(address), address, bytes, address), None, "{}", opcode.name());
        }
        let wrong =
            [1, 15, size - bytes + 1, size - 1, size, size + 1, u32::MAX >> 1, u32::MAX - bytes, u32::MAX];
        for address in wrong {
            let fault = on_content(&image(address), address, bytes, 1);
            assert_eq!(fault, Some(FaultKind::Address), "{} {address}", opcode.name());
        }
        let fault = on_content(&image(0), 0, 0, 1);
        assert_eq!(fault, Some(FaultKind::NullReference), "{}", opcode.name());
    }
}

#[test]
fn an_instance_may_cover_the_place_of_its_own_address() {
    for (opcode, bytes) in at_addresses() {
        let mut image = one(opcode.family(), opcode.scalar(), &[at(32)]);
        image.data[32..36].copy_from_slice(&32u32.to_le_bytes());
        let program = load(image);
        let [mut compiled, mut threaded, mut matched] = every(&program);
        for scan in 0..3 {
            let expected = matched.scan(scan);
            for other in [&mut compiled, &mut threaded] {
                assert_eq!(other.scan(scan), expected, "{} {bytes}", opcode.name());
                assert!(other.state() == matched.state(), "{}", opcode.name());
            }
        }
    }
}

#[test]
fn each_counts_as_one_instruction() {
    for (opcode, _) in at_places() {
        for mut machine in every(&load(one(opcode.family(), opcode.scalar(), &[at(64)]))) {
            // The instruction and the return.
            assert_eq!(machine.scan(0).unwrap().instructions, 2, "{}", opcode.name());
        }
    }
}
