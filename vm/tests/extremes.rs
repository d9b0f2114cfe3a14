//! Images that the verifier accepts and that go beyond what is compiled, or put into other code: they run all the same,
//! and soon.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.
#![cfg(not(miri))]

mod support;

use latchwork_vm::{
    DispatchTarget, Family, Image, ImageBuilder, Operand, ProgramCall, Scalar, Task, UnitBuilder, UnitKind,
};
use std::time::{Duration, Instant};
use support::{at, every, every_scan, load};

/// Far more than it takes, and far less than without limits.
const LONGEST: Duration = Duration::from_secs(60);

fn agree_soon(image: Image) {
    let begin = Instant::now();
    let ends = every(&load(image)).map(|mut machine| (machine.scan(0), machine.data().to_vec()));
    assert!(ends[2].0.is_ok());
    assert!(ends.iter().all(|end| *end == ends[2]));
    assert!(begin.elapsed() < LONGEST, "{:?}", begin.elapsed());
}

/// A program with one unit besides, written by `called`.
fn with_unit(main: impl Fn(&mut UnitBuilder, u32, u32), called: impl Fn(&mut UnitBuilder)) -> Image {
    let mut image = ImageBuilder::new();
    image.allocate(4096, 0);
    let [program, unit] = [image.reserve_unit(), image.reserve_unit()];
    let targets = (1..=4).map(|tag| DispatchTarget { tag, unit });
    let table = image.dispatch_table("Table", targets.collect());
    let mut builder = UnitBuilder::new("Main", UnitKind::Program, 0);
    main(&mut builder, unit, table);
    image.define_unit(program, builder.finish().unwrap());
    let mut builder = UnitBuilder::new("Called", UnitKind::FunctionBlock, 8);
    called(&mut builder);
    image.define_unit(unit, builder.finish().unwrap());
    image.tasks.push(every_scan(program, 0));
    let mut image = image.finish().unwrap();
    image.data[32..36].copy_from_slice(&1000u32.to_le_bytes());
    image.data[1000] = 3;
    image
}

fn add(unit: &mut UnitBuilder) {
    unit.emit(Family::Add, Scalar::I32, &[at(40), at(40), at(1000)]);
}

#[test]
fn a_unit_of_very_many_rare_ways_is_not_compiled() {
    let copies = |unit: &mut UnitBuilder, _, _| {
        for _ in 0..90_000 {
            unit.emit(Family::CopyString, Scalar::U8, &[at(32), at(32)]);
        }
    };
    agree_soon(with_unit(copies, add));
}

#[test]
fn very_many_calls_through_a_table_of_few_rows_do_not_fill_the_memory() {
    let calls = |unit: &mut UnitBuilder, _, table| {
        for _ in 0..90_000 {
            unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(32)]);
        }
    };
    agree_soon(with_unit(calls, add));
}

#[test]
fn not_all_of_many_units_take_in_the_unit_that_they_call() {
    let mut image = ImageBuilder::new();
    image.allocate(4096, 0);
    let [program, called] = [image.reserve_unit(), image.reserve_unit()];
    let units: Vec<u32> = (0..2_000).map(|_| image.reserve_unit()).collect();
    let mut builder = UnitBuilder::new("Main", UnitKind::Program, 0);
    for unit in &units {
        builder.emit(Family::Call, Scalar::U8, &[Operand::Unit(*unit)]);
    }
    image.define_unit(program, builder.finish().unwrap());
    let mut builder = UnitBuilder::new("Called", UnitKind::FunctionBlock, 0);
    for place in 0..60 {
        let [to, from] = [at(64 + 4 * place), at(64 + place * 7 % 200)];
        builder.emit(Family::Add, Scalar::I32, &[to, from, at(40)]);
    }
    image.define_unit(called, builder.finish().unwrap());
    for unit in &units {
        let mut builder = UnitBuilder::new("Between", UnitKind::FunctionBlock, 0);
        builder.emit(Family::Call, Scalar::U8, &[Operand::Unit(called)]);
        image.define_unit(*unit, builder.finish().unwrap());
    }
    image.tasks.push(every_scan(program, 0));
    agree_soon(image.finish().unwrap());
}

#[test]
fn not_all_of_many_short_programs_become_one_function() {
    let mut image = ImageBuilder::new();
    image.allocate(4096, 0);
    let programs: Vec<ProgramCall> = (0..200)
        .map(|number| {
            let mut unit = UnitBuilder::new(format!("P{number}"), UnitKind::Program, 0);
            for place in 0..30 {
                let result = at(64 + place * 4);
                unit.emit(Family::Divide, Scalar::I32, &[result, at(1000), at(1004)]);
                unit.emit(Family::Add, Scalar::I32, &[at(40), at(40), result]);
            }
            ProgramCall { unit: image.add_unit(unit.finish().unwrap()), base: 0 }
        })
        .collect();
    image.tasks.push(Task::cyclic("Main", programs));
    let mut image = image.finish().unwrap();
    (image.data[1000], image.data[1004]) = (200, 7);
    agree_soon(image);
}
