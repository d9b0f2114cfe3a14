//! Images made by hand whose places overlap, or whose addresses lead elsewhere: every dispatcher does what the plain
//! instructions do one after the other, and nothing is reached outside the data image.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DispatchTarget, Dispatcher, Family, FaultKind, Image, ImageBuilder, IndexRange, Machine, Operand,
    Program, ProgramCall, Region, Scalar, Task, UnitBuilder, UnitKind,
};
use std::sync::Arc;
use support::{NATIVES, at, every, every_scan, load, plus, put, single};

/// Where the images have their temporaries.
const TEMPORARIES: u32 = 512;
/// Where the constants of loops lie.
const CONSTANTS: u32 = 768;

/// The dispatchers agree over some scans, with every budget up to `most`.
fn agree(image: &Image, budgets: std::ops::RangeInclusive<u64>) {
    let program = load(image.clone());
    for budget in budgets {
        let mut machines = every(&program);
        let [others @ .., matched] = &mut machines;
        matched.set_budget(budget);
        others.iter_mut().for_each(|other| other.set_budget(budget));
        for scan in 0..3 {
            let expected = matched.scan(scan);
            for other in others.iter_mut() {
                assert_eq!(other.scan(scan), expected, "budget {budget}");
                assert!(other.state() == matched.state(), "data differ, budget {budget}");
                assert_eq!(other.events(), matched.events(), "budget {budget}");
            }
            if expected.is_err() {
                break;
            }
        }
    }
}

/// A program over 1024 bytes, all different and not 0 below the temporaries.
fn with_temporaries(ranges: &[IndexRange], body: impl FnOnce(&mut UnitBuilder)) -> Image {
    let mut image = ImageBuilder::new();
    image.allocate(1024, 0);
    for range in ranges {
        image.range(*range);
    }
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    body(&mut unit);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    let mut image = image.finish().unwrap();
    for (number, byte) in image.data.iter_mut().enumerate().take(256).skip(16) {
        *byte = (number % 50) as u8 + 1;
    }
    image.layout.frames = Region { start: TEMPORARIES, size: 128 };
    image.layout.temporaries = image.layout.frames;
    image
}

const BYTES: IndexRange = IndexRange { lower: 0, count: 100, stride: 1 };

#[test]
fn a_stored_value_may_be_a_part_of_the_address() {
    for offset in 1..4 {
        agree(
            &with_temporaries(&[BYTES], |unit| {
                unit.emit(Family::Move, Scalar::U16, &[at(300), at(20)]);
                unit.emit(
                    Family::Index,
                    Scalar::I16,
                    &[at(TEMPORARIES), at(320), at(302), Operand::Range(0)],
                );
                let value = at(TEMPORARIES + offset);
                unit.emit(Family::Store, Scalar::U8, &[at(TEMPORARIES), Operand::Immediate(0), value]);
            }),
            1000..=1000,
        );
    }
}

#[test]
fn a_second_subscript_may_be_a_part_of_the_address() {
    let low = IndexRange { lower: 0, count: 400, stride: 1 };
    agree(
        &with_temporaries(&[BYTES, low], |unit| {
            let (outer, inner) = (at(TEMPORARIES), at(TEMPORARIES + 8));
            unit.emit(Family::Index, Scalar::I16, &[outer, at(64), at(302), Operand::Range(0)]);
            unit.emit(Family::IndexAddress, Scalar::I16, &[inner, outer, outer, Operand::Range(1)]);
            unit.emit(Family::Load, Scalar::U8, &[at(310), inner, Operand::Immediate(0)]);
        }),
        1000..=1000,
    );
}

#[test]
fn an_operand_may_be_a_part_of_the_first_result() {
    for (first, second) in [(Family::Add, Family::Subtract), (Family::Minimum, Family::Maximum)] {
        for scalar in [Scalar::I16, Scalar::I32] {
            let part = at(TEMPORARIES + scalar.size() / 2);
            agree(
                &with_temporaries(&[], |unit| {
                    unit.emit(Family::Move, Scalar::U64, &[at(TEMPORARIES), at(40)]);
                    unit.emit(first, scalar, &[at(TEMPORARIES), at(24), at(32)]);
                    unit.emit(second, scalar, &[at(310), at(TEMPORARIES), part]);
                }),
                1000..=1000,
            );
        }
    }
}

#[test]
fn an_element_may_be_narrower_than_the_operation_on_it() {
    for (loaded, scalar) in
        [(Scalar::U16, Scalar::I32), (Scalar::U64, Scalar::I32), (Scalar::U32, Scalar::I16)]
    {
        let (address, value) = (at(TEMPORARIES), at(TEMPORARIES + 8));
        agree(
            &with_temporaries(&[BYTES], |unit| {
                unit.emit(Family::Move, Scalar::U64, &[value, at(40)]);
                unit.emit(Family::Index, Scalar::I16, &[address, at(64), at(302), Operand::Range(0)]);
                unit.emit(Family::Load, loaded, &[value, address, Operand::Immediate(0)]);
                unit.emit(Family::Add, scalar, &[at(310), value, at(24)]);
            }),
            1000..=1000,
        );
    }
    // The last bytes of the data image hold an I16 but no value of 64 bits.
    agree(
        &with_temporaries(&[BYTES], |unit| {
            let (address, value) = (at(TEMPORARIES), at(TEMPORARIES + 8));
            unit.emit(Family::Index, Scalar::I16, &[address, at(1024 + 16 - 100), at(20), Operand::Range(0)]);
            unit.emit(Family::Load, Scalar::U64, &[value, address, Operand::Immediate(80)]);
            unit.emit(Family::Add, Scalar::I16, &[at(310), value, at(24)]);
        }),
        1000..=1000,
    );
}

#[test]
fn a_control_variable_may_be_its_own_limit() {
    let mut image = with_temporaries(&[], |unit| {
        let back = unit.label();
        unit.bind(back);
        unit.emit(Family::Add, Scalar::I16, &[at(310), at(310), at(CONSTANTS)]);
        unit.emit(Family::ForNext, Scalar::I16, &[at(302), at(302), at(CONSTANTS), back.into()]);
    });
    image.data[CONSTANTS as usize] = 1;
    image.layout.constants = Region { start: CONSTANTS, size: 2 };
    agree(&image, 1000..=1000);
}

#[test]
fn loops_with_constant_bounds_end_where_the_type_ends() {
    let integers = [(Scalar::I8, 7), (Scalar::I16, 15), (Scalar::I32, 31), (Scalar::I64, 63)];
    for (scalar, bits) in integers {
        let greatest = (1i64 << (bits - 1)) - 1 + (1i64 << (bits - 1));
        let least = -greatest - 1;
        let bounds = [
            (greatest - 3, greatest, 1),
            (greatest - 3, greatest, 2),
            (greatest - 3, greatest - 1, 3),
            (least, least + 2, 1),
            (least + 1, -3, greatest),
            (least, least, greatest),
            (-2, greatest, greatest),
            (-5, -2, 1),
            (5, 2, 1),
            (2, -3, -2),
            (least + 3, least, -1),
            (least + 3, least, -2),
            (greatest, least, least),
            (1, 3, 0),
        ];
        for (from, to, by) in bounds {
            let bytes = scalar.size();
            let (limit, step) = (at(CONSTANTS), at(CONSTANTS + 8));
            let mut image = with_temporaries(&[], |unit| {
                let (back, exit) = (unit.label(), unit.label());
                unit.emit(Family::Move, unsigned(scalar), &[at(304), at(CONSTANTS + 16)]);
                unit.emit(Family::ForEnter, scalar, &[at(304), limit, step, exit.into()]);
                unit.bind(back);
                unit.emit(Family::Add, Scalar::I16, &[at(312), at(312), at(312)]);
                unit.emit(Family::ForNext, scalar, &[at(304), limit, step, back.into()]);
                unit.bind(exit);
            });
            for (number, value) in [to, by, from].iter().enumerate() {
                let start = CONSTANTS as usize + 8 * number;
                let value = &value.to_le_bytes()[..bytes as usize];
                image.data[start..start + bytes as usize].copy_from_slice(value);
            }
            image.layout.constants = Region { start: CONSTANTS, size: 24 };
            agree(&image, 0..=20);
        }
    }
}

const fn unsigned(scalar: Scalar) -> Scalar {
    match scalar.size() {
        1 => Scalar::U8,
        2 => Scalar::U16,
        4 => Scalar::U32,
        _ => Scalar::U64,
    }
}

#[test]
fn every_budget_ends_at_the_same_instruction() {
    let mut image = ImageBuilder::new();
    image.allocate(1024, 0);
    let (main, called) = (image.reserve_unit(), image.reserve_unit());
    let table = image.dispatch_table("Called", vec![DispatchTarget { tag: 1, unit: called }]);
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    let (back, over) = (unit.label(), unit.label());
    unit.bind(back);
    unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(called)]);
    unit.emit(Family::Less, Scalar::I16, &[at(TEMPORARIES), at(32), at(34)]);
    unit.emit(Family::JumpUnless, Scalar::U8, &[at(TEMPORARIES), over.into()]);
    unit.emit(Family::Move, Scalar::U16, &[at(36), at(32)]);
    unit.bind(over);
    unit.emit(Family::CallBlockAt, Scalar::U8, &[Operand::Unit(called), at(40)]);
    unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(40)]);
    unit.emit(Family::ForNext, Scalar::I16, &[at(44), at(46), at(48), back.into()]);
    image.define_unit(main, unit.finish().unwrap());
    let mut unit = UnitBuilder::new("Called", UnitKind::FunctionBlock, 0);
    unit.emit(Family::Add, Scalar::I16, &[at(32), at(32), at(48)]);
    image.define_unit(called, unit.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    let mut image = image.finish().unwrap();
    for (place, value) in [(34, 5u8), (40, 100), (46, 3), (48, 1), (100, 1)] {
        image.data[place] = value;
    }
    image.layout.frames = Region { start: TEMPORARIES, size: 16 };
    image.layout.temporaries = image.layout.frames;
    image.layout.constants = Region { start: 48, size: 2 };
    agree(&image, 0..=60);
}

#[test]
fn offsets_do_not_lead_around_the_end_of_addresses() {
    for offset in [u32::MAX, u32::MAX - 64, 1 << 31, 2000] {
        for stored in [false, true] {
            agree(
                &single(256, |unit| {
                    unit.emit(Family::Address, Scalar::U32, &[at(64), at(100)]);
                    unit.emit(
                        Family::OffsetAddress,
                        Scalar::U32,
                        &[at(68), at(64), Operand::Immediate(offset)],
                    );
                    unit.emit(
                        Family::OffsetAddress,
                        Scalar::U32,
                        &[at(72), at(68), Operand::Immediate(offset)],
                    );
                    if stored {
                        unit.emit(Family::Store, Scalar::U64, &[at(68), Operand::Immediate(0), at(128)]);
                    } else {
                        unit.emit(Family::Load, Scalar::U64, &[at(80), at(68), Operand::Immediate(0)]);
                    }
                }),
                1000..=1000,
            );
        }
    }
}

#[test]
fn the_address_of_an_empty_instance_may_be_null() {
    for bases in [vec![0], vec![0, 32]] {
        let mut image = ImageBuilder::new();
        image.allocate(256, 0);
        let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
        unit.emit(Family::Address, Scalar::U32, &[at(64), plus(0)]);
        unit.emit(Family::Load, Scalar::U32, &[at(80), at(64), Operand::Immediate(8)]);
        let unit = image.add_unit(unit.finish().unwrap());
        let programs = bases.iter().map(|base| ProgramCall { unit, base: *base }).collect();
        image.tasks.push(Task::cyclic("Main", programs));
        agree(&image.finish().unwrap(), 1000..=1000);
    }
}

#[test]
fn elements_at_the_end_of_the_data_are_checked_with_their_width() {
    let range = IndexRange { lower: 0, count: 4, stride: 8 };
    for scalar in [Scalar::U8, Scalar::U16, Scalar::U32, Scalar::U64] {
        for offset in 0..9 {
            for place in [1040 - 25, 1040 - 28, 1040 - 32] {
                agree(
                    &with_temporaries(&[range], |unit| {
                        let subscript = at(302);
                        unit.emit(Family::Add, Scalar::I16, &[at(302), at(302), at(900)]);
                        unit.emit(
                            Family::Index,
                            Scalar::I16,
                            &[at(306), at(place), subscript, Operand::Range(0)],
                        );
                        unit.emit(Family::Load, scalar, &[at(312), at(306), Operand::Immediate(offset)]);
                        unit.emit(Family::Move, Scalar::U8, &[at(900), at(901)]);
                    }),
                    1000..=1000,
                );
            }
        }
    }
}

/// The instance of a unit over its own frame, which no compiler makes: what is known of a place in the frame is not what
/// the data image holds.
#[test]
fn an_instance_over_its_own_frame_reaches_nothing_outside() {
    let mut image = ImageBuilder::new();
    image.allocate(1024, 0);
    let (main, called) = (image.reserve_unit(), image.reserve_unit());
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    unit.emit(Family::CallBlockAt, Scalar::U8, &[Operand::Unit(called), at(40)]);
    image.define_unit(main, unit.finish().unwrap());
    let mut unit = UnitBuilder::new("Called", UnitKind::FunctionBlock, 8);
    unit.emit(Family::OffsetAddress, Scalar::U32, &[at(600), at(44), Operand::Immediate(1 << 30)]);
    unit.emit(Family::Move, Scalar::U32, &[plus(0), at(44)]);
    unit.emit(Family::Store, Scalar::U32, &[at(600), Operand::Immediate(0), at(44)]);
    unit.emit(Family::Load, Scalar::U32, &[at(80), at(600), Operand::Immediate(0)]);
    image.define_unit(called, unit.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    let mut image = image.finish().unwrap();
    image.data[40..44].copy_from_slice(&600u32.to_le_bytes());
    image.data[44..48].copy_from_slice(&100u32.to_le_bytes());
    image.layout.frames = Region { start: 600, size: 64 };
    for mut machine in every(&load(image)) {
        let result = machine.scan(0);
        assert!(result.is_ok() || result.is_err_and(|fault| fault.kind == FaultKind::Address));
    }
}

/// Many values that are known at once would fill the stack of the processor, and take long to compile.
#[test]
fn long_pieces_of_code_take_little_of_the_stack() {
    let mut image = ImageBuilder::new();
    image.allocate(40_000, 0);
    let units: Vec<u32> = (0..12).map(|_| image.reserve_unit()).collect();
    for (number, unit) in units.iter().enumerate() {
        let mut builder = UnitBuilder::new(format!("U{number}"), UnitKind::FunctionBlock, 0);
        for pass in 0..2 {
            for place in 0..1500 {
                let [to, from] = [at(64 + 8 * place), at(20_064 + 8 * place)];
                let family = if pass == 0 { Family::Xor } else { Family::Or };
                builder.emit(family, Scalar::U64, &[to, from, at(64 + 8 * (1499 - place))]);
            }
        }
        if let Some(next) = units.get(number + 1) {
            builder.emit(Family::Call, Scalar::U8, &[Operand::Unit(*next)]);
        }
        image.define_unit(*unit, builder.finish().unwrap());
    }
    image.tasks.push(every_scan(units[0], 0));
    let mut image = image.finish().unwrap();
    for (number, byte) in image.data.iter_mut().enumerate().skip(64) {
        *byte = (number % 251) as u8;
    }
    let mut machines = every(&load(image));
    // The first scan makes the program ready, which takes more of the stack than the runs behind it.
    for machine in &mut machines {
        machine.scan(0).unwrap();
    }
    let run = || machines.map(|mut machine| (machine.scan(1), machine.state().map(<[u8]>::to_vec)));
    let small = std::thread::Builder::new().stack_size(160 << 10);
    let results = std::thread::scope(|scope| small.spawn_scoped(scope, run).unwrap().join().unwrap());
    assert!(results[0].0.is_ok());
    assert!(results.iter().all(|result| *result == results[2]));
}

#[test]
fn machines_on_several_threads_share_a_program_and_drop_it() {
    let mut image = with_temporaries(&[], |unit| {
        unit.emit(Family::Add, Scalar::I32, &[at(300), at(300), at(304)]);
    });
    image.data[304] = 1;
    for _ in 0..8 {
        let program = Arc::new(Program::load(image.clone(), &NATIVES).unwrap());
        let threads: Vec<_> = (0..4)
            .map(|number| {
                let program = Arc::clone(&program);
                std::thread::spawn(move || {
                    let dispatcher = [Dispatcher::Compiled, Dispatcher::Adaptive][number % 2];
                    let mut machine = Machine::with_dispatcher(program, dispatcher);
                    put(&mut machine, 300, &(number as u32).to_le_bytes());
                    for scan in 0..50_000 {
                        machine.scan(scan).unwrap();
                    }
                    machine.data()[300..304].to_vec()
                })
            })
            .collect();
        drop(program);
        for (number, thread) in threads.into_iter().enumerate() {
            assert_eq!(thread.join().unwrap(), (number as u32 + 50_000).to_le_bytes());
        }
    }
}
