//! Where several ways through the code meet, only what holds on all of them is relied on.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{Family, Image, ImageBuilder, IndexRange, Operand, Scalar, UnitBuilder, UnitKind};
use support::{at, every, every_scan, load, put};

const FLAG: u32 = 20;
const INDEX: u32 = 24;
const VALUE: u32 = 28;
const RESULT: u32 = 32;
const ADDRESS: u32 = 48;
const ARRAY: u32 = 64;
const ELEMENTS: u32 = 8;

/// A program that reads index and value, runs `way` or, where the flag is TRUE, another, and then `end`.
fn program(way: impl Fn(&mut UnitBuilder), end: impl Fn(&mut UnitBuilder)) -> Image {
    let mut image = ImageBuilder::new();
    image.allocate(128, 0);
    image.range(IndexRange { lower: 0, count: ELEMENTS, stride: 4 });
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    unit.emit(Family::Add, Scalar::I32, &[at(RESULT), at(INDEX), at(VALUE)]);
    let [other, meeting] = [unit.label(), unit.label()];
    unit.emit(Family::JumpIf, Scalar::U8, &[at(FLAG), Operand::Label(other)]);
    way(&mut unit);
    unit.emit(Family::Jump, Scalar::U8, &[Operand::Label(meeting)]);
    unit.bind(other);
    unit.emit(Family::Move, Scalar::U8, &[at(RESULT), at(FLAG)]);
    unit.bind(meeting);
    end(&mut unit);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    image.finish().unwrap()
}

/// All dispatchers end a scan alike, on both ways and with some indices.
fn agree(image: &Image) {
    let program = load(image.clone());
    for (flag, index) in (0..2u8).flat_map(|flag| (-2..12i32).map(move |index| (flag, index))) {
        let ends = every(&program).map(|mut machine| {
            put(&mut machine, FLAG, &[flag]);
            put(&mut machine, INDEX, &index.to_le_bytes());
            put(&mut machine, VALUE, &7i32.to_le_bytes());
            let result = machine.scan(0);
            (result, machine.data().to_vec())
        });
        assert!(ends.iter().all(|end| *end == ends[2]), "flag {flag}, index {index}");
    }
}

fn element(unit: &mut UnitBuilder) {
    let operands = [at(ADDRESS), at(ARRAY), at(INDEX), Operand::Range(0)];
    unit.emit(Family::Index, Scalar::I32, &operands);
    unit.emit(Family::Store, Scalar::U32, &[at(ADDRESS), Operand::Immediate(0), at(VALUE)]);
}

#[test]
fn an_index_that_was_checked_on_one_way_only_is_checked_again() {
    agree(&program(element, element));
}

#[test]
fn a_value_that_was_written_on_one_way_only_is_read_again() {
    let write = |unit: &mut UnitBuilder| unit.emit(Family::Move, Scalar::U32, &[at(VALUE), at(RESULT)]);
    let read = |unit: &mut UnitBuilder| {
        unit.emit(Family::Subtract, Scalar::I32, &[at(RESULT), at(VALUE), at(INDEX)]);
    };
    agree(&program(write, read));
}

#[test]
fn a_part_of_a_value_that_was_written_on_one_way_changes_the_whole() {
    let write = |unit: &mut UnitBuilder| unit.emit(Family::Move, Scalar::U8, &[at(VALUE + 1), at(INDEX)]);
    let read = |unit: &mut UnitBuilder| unit.emit(Family::Move, Scalar::U32, &[at(RESULT), at(VALUE)]);
    agree(&program(write, read));
}

#[test]
fn an_index_that_was_written_on_one_way_is_checked_again() {
    let both = |unit: &mut UnitBuilder| {
        element(unit);
        unit.emit(Family::Add, Scalar::I32, &[at(INDEX), at(INDEX), at(VALUE)]);
    };
    agree(&program(both, element));
}
