//! Calls through dispatch tables: what they reach, what they refuse, and what the verifier refuses.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DispatchTarget, Family, Fault, FaultKind, Image, ImageBuilder, LoadError, Machine, Operand, Program,
    Scalar, UnitBuilder, UnitKind, Value, limits,
};
use std::sync::Arc;
use support::{at, every, every_scan, load, plus, put, take};

/// The address that the program calls through.
const POINTER: u32 = 16;
/// What `fits` and the events say.
const RESULT: u32 = 20;
/// Four instances of 16 bytes: tag, own number (u32), sum (u32), address of the next.
const INSTANCES: u32 = 32;
const INSTANCE_BYTES: u32 = 16;

fn instance(number: u32) -> u32 {
    INSTANCES + INSTANCE_BYTES * number
}

fn rows(rows: &[(u32, u32)]) -> Vec<DispatchTarget> {
    rows.iter().map(|(tag, unit)| DispatchTarget { tag: *tag, unit: *unit }).collect()
}

/// Instances with the given tags, each knowing the next.
fn instances(image: &mut ImageBuilder, tags: &[u32]) {
    image.allocate(INSTANCES - 16 + INSTANCE_BYTES * tags.len() as u32, 0);
    for (number, tag) in (0..).zip(tags) {
        image.write(instance(number), &tag.to_le_bytes());
        image.write(instance(number) + 4, &(number + 1).to_le_bytes());
        image.write(instance(number) + 12, &instance(number + 1).to_le_bytes());
    }
}

/// Two types: `First.Add` adds the number of its instance to its sum, `Second.Add` subtracts it. The program stores
/// whether the pointer fits, then calls through it.
fn two_types(tags: [u32; 2]) -> Image {
    let mut image = ImageBuilder::new();
    instances(&mut image, &tags);
    let mut method = |name: &str, family| {
        let mut unit = UnitBuilder::new(name, UnitKind::Method, INSTANCE_BYTES);
        unit.emit(family, Scalar::U32, &[plus(8), plus(8), plus(4)]);
        image.add_unit(unit.finish().unwrap())
    };
    let (first, second) = (method("First.Add", Family::Add), method("Second.Add", Family::Subtract));
    let table = image.dispatch_table("Adder.Add", rows(&[(tags[1], second), (tags[0], first)]));
    let mut main = UnitBuilder::new("Main", UnitKind::Program, 0);
    main.emit(Family::Fits, Scalar::U8, &[at(RESULT), at(POINTER), Operand::Dispatch(table)]);
    main.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(POINTER)]);
    let main = image.add_unit(main.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    image.finish().unwrap()
}

fn point(machine: &mut Machine, address: u32) {
    put(machine, POINTER, &address.to_le_bytes());
}

/// The fault of the first scan, the same with both dispatchers.
fn fault(program: &Arc<Program>, prepare: impl Fn(&mut Machine)) -> Fault {
    let [compiled, threaded, matched] = every(program).map(|mut machine| {
        prepare(&mut machine);
        *machine.scan(0).unwrap_err()
    });
    assert_eq!(threaded, matched);
    assert_eq!(compiled, matched);
    threaded
}

#[test]
fn the_tag_decides_what_runs() {
    // Tags close together make a dense table, tags far apart one that is searched.
    for tags in [[1, 2], [7, 4], [1, 1 << 20], [u32::MAX, 5]] {
        for mut machine in every(&load(two_types(tags))) {
            for (number, sum) in [(0, 1u32), (1, 2u32.wrapping_neg())] {
                point(&mut machine, instance(number));
                assert_eq!(machine.scan(0).unwrap().instructions, 3 + 2);
                assert_eq!(u32::from_le_bytes(take(&machine, instance(number) + 8)), sum, "{tags:?}");
                assert_eq!(take(&machine, RESULT), [1]);
            }
        }
    }
}

#[test]
fn what_is_no_instance_is_refused() {
    let program = load(two_types([3, 9]));
    let end = program.image().data.len() as u32;
    let null = fault(&program, |_| {});
    assert_eq!(null.kind, FaultKind::NullReference);
    assert_eq!(null.unit, "Main");
    for tag in [0u32, 1, 4, 8, 10, u32::MAX] {
        let fault = fault(&program, |machine| {
            point(machine, instance(0));
            put(machine, instance(0), &tag.to_le_bytes());
        });
        assert_eq!(fault.kind, FaultKind::Address, "{tag}");
        let values: Vec<String> =
            fault.values.iter().map(|(name, value)| format!("{name} {value}")).collect();
        assert_eq!(values, [format!("address {}", instance(0)), format!("tag {tag}")]);
    }
    for address in [1, 15, end - 3, end, u32::MAX - 2, u32::MAX] {
        assert_eq!(fault(&program, |machine| point(machine, address)).kind, FaultKind::Address, "{address}");
    }
    // A right tag so near to the end that the rest of the instance is missing.
    let cut = fault(&program, |machine| {
        point(machine, end - INSTANCE_BYTES + 1);
        put(machine, end - INSTANCE_BYTES + 1, &3u32.to_le_bytes());
    });
    assert_eq!(cut.kind, FaultKind::Address);
}

#[test]
fn fits_is_false_for_null_and_foreign_tags() {
    let mut image = ImageBuilder::new();
    instances(&mut image, &[5]);
    // Units do not matter to `fits`; these do not exist.
    let table = image.dispatch_table("Adder", rows(&[(5, u32::MAX), (6, 77)]));
    let mut main = UnitBuilder::new("Main", UnitKind::Program, 0);
    main.emit(Family::Fits, Scalar::U8, &[at(RESULT), at(POINTER), Operand::Dispatch(table)]);
    let main = image.add_unit(main.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    let program = load(image.finish().unwrap());
    for mut machine in every(&program) {
        for (address, tag, fits) in [
            (0, 5u32, 0u8),
            (instance(0), 5, 1),
            (instance(0), 6, 1),
            (instance(0), 7, 0),
            (instance(0), 0, 0),
        ] {
            put(&mut machine, RESULT, &[9]);
            put(&mut machine, instance(0), &tag.to_le_bytes());
            point(&mut machine, address);
            machine.scan(0).unwrap();
            assert_eq!(take(&machine, RESULT), [fits], "{address} {tag}");
        }
    }
    assert_eq!(fault(&program, |machine| point(machine, 3)).kind, FaultKind::Address);
}

/// `depth` types of valves in front of one another: the method of each adds 1 to the sum of its instance and calls the
/// method of the next instance through one table for all types; the last type calls nothing.
fn chain(types: u32, tags: &[u32]) -> Image {
    let mut image = ImageBuilder::new();
    instances(&mut image, tags);
    image.write(POINTER, &instance(0).to_le_bytes());
    let units: Vec<u32> = (0..types).map(|_| image.reserve_unit()).collect();
    let table = image
        .dispatch_table("Valve.Open", rows(&units.iter().map(|unit| (unit + 1, *unit)).collect::<Vec<_>>()));
    for unit in &units {
        let mut method = UnitBuilder::new(format!("Valve{unit}.Open"), UnitKind::Method, INSTANCE_BYTES);
        method.emit(Family::Add, Scalar::U32, &[plus(8), plus(8), plus(4)]);
        if unit + 1 < types {
            method.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), plus(12)]);
        }
        image.define_unit(*unit, method.finish().unwrap());
    }
    let mut main = UnitBuilder::new("Main", UnitKind::Program, 0);
    main.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(POINTER)]);
    let main = image.add_unit(main.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    image.finish().unwrap()
}

#[test]
fn a_chain_of_different_units_runs() {
    for mut machine in every(&load(chain(3, &[2, 1, 3]))) {
        for scan in 1..4u32 {
            assert_eq!(machine.scan(0).unwrap().instructions, 2 + 3 + 3 + 2);
            for number in 0..3 {
                assert_eq!(u32::from_le_bytes(take(&machine, instance(number) + 8)), scan * (number + 1));
            }
        }
    }
}

#[test]
fn a_unit_does_not_run_inside_itself() {
    for (tags, unit, sums) in [
        // The same unit at once, and with another one between.
        (&[1, 1, 3][..], "Valve0.Open", [1, 0, 0]),
        (&[2, 1, 2], "Valve1.Open", [1, 2, 0]),
        (&[2, 1, 1], "Valve0.Open", [1, 2, 0]),
    ] {
        let program = load(chain(3, tags));
        for mut machine in every(&program) {
            let fault = machine.scan(0).unwrap_err();
            assert_eq!(fault.kind, FaultKind::Recursion);
            assert_eq!(fault.values, [("unit".to_owned(), Value::String(unit.into()))]);
            for (number, sum) in (0..).zip(sums) {
                assert_eq!(u32::from_le_bytes(take(&machine, instance(number) + 8)), sum, "{tags:?}");
            }
        }
    }
}

/// `Main` calls `Pump.Run` through a table; `Run` calls the function `Check`, which calls through the table again.
/// If `direct`, `Main` begins with `Check`.
fn through_a_function(direct: bool) -> Image {
    let mut image = ImageBuilder::new();
    instances(&mut image, &[1, 2]);
    image.write(POINTER, &instance(0).to_le_bytes());
    let (run, check, stop) = (image.reserve_unit(), image.reserve_unit(), image.reserve_unit());
    let table = image.dispatch_table("Pump.Run", rows(&[(1, run), (2, stop)]));
    let mut unit = UnitBuilder::new("Pump.Run", UnitKind::Method, INSTANCE_BYTES);
    unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(check)]);
    image.define_unit(run, unit.finish().unwrap());
    let mut unit = UnitBuilder::new("Check", UnitKind::Function, 0);
    unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(RESULT)]);
    image.define_unit(check, unit.finish().unwrap());
    let mut unit = UnitBuilder::new("Idle.Run", UnitKind::Method, INSTANCE_BYTES);
    unit.emit(Family::Move, Scalar::U32, &[plus(8), plus(4)]);
    image.define_unit(stop, unit.finish().unwrap());
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    if direct {
        unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(check)]);
    } else {
        unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(POINTER)]);
    }
    let main = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    image.finish().unwrap()
}

#[test]
fn a_function_on_the_way_is_found_as_well() {
    let program = load(through_a_function(false));
    for mut machine in every(&program) {
        // The other type calls nothing, so it may run below the function.
        put(&mut machine, RESULT, &instance(1).to_le_bytes());
        machine.scan(0).unwrap();
        assert_eq!(take(&machine, instance(1) + 8), [2, 0, 0, 0]);
    }
    let fault = fault(&program, |machine| put(machine, RESULT, &instance(0).to_le_bytes()));
    assert_eq!((fault.kind, fault.unit.as_str()), (FaultKind::Recursion, "Check"));
}

#[test]
fn a_unit_that_would_come_to_run_below_the_target_is_found() {
    // `Check` is active, and not the method that it calls, but the method would call `Check`.
    let program = load(through_a_function(true));
    let fault = fault(&program, |machine| put(machine, RESULT, &instance(0).to_le_bytes()));
    assert_eq!(fault.kind, FaultKind::Recursion);
    assert_eq!(fault.values, [("unit".to_owned(), Value::String("Check".into()))]);
    for mut machine in every(&program) {
        put(&mut machine, RESULT, &instance(1).to_le_bytes());
        machine.scan(0).unwrap();
    }
}

#[test]
fn long_chains_through_tables_fault_at_the_limit() {
    let all: Vec<u32> = (1..=400).collect();
    // Main and 256 methods are 256 open calls.
    let types = limits::CALL_DEPTH as u32;
    for mut machine in every(&load(chain(types, &all))) {
        assert_eq!(machine.scan(0).unwrap().instructions, 2 + u64::from(types - 1) * 3 + 2);
    }
    let program = load(chain(types + 1, &all));
    assert_eq!(program.call_depth(), limits::CALL_DEPTH);
    let fault = fault(&program, |_| {});
    assert_eq!(fault.kind, FaultKind::CallDepth);
    assert_eq!(fault.unit, format!("Valve{}.Open", types - 1));
}

#[test]
fn calls_of_known_units_below_a_target_count_as_well() {
    // A chain of 200 functions, below a method, below another chain of 100 functions.
    let build = |above: u32, below: u32| {
        let mut image = ImageBuilder::new();
        instances(&mut image, &[1]);
        image.write(POINTER, &instance(0).to_le_bytes());
        let first_below = above;
        let table = image.dispatch_table("Pump.Run", rows(&[(1, first_below)]));
        for index in 0..above + below {
            let mut unit = UnitBuilder::new(format!("F{index}"), UnitKind::Function, 0);
            if index + 1 == above {
                unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(POINTER)]);
            } else if index + 1 < above + below {
                unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(index + 1)]);
            }
            image.add_unit(unit.finish().unwrap());
        }
        image.tasks.push(every_scan(0, 0));
        load(image.finish().unwrap())
    };
    // The whole image has no circle: where everything fits there is nothing to check.
    let fitting = build(100, 157);
    assert_eq!(fitting.call_depth(), 256);
    for mut machine in every(&fitting) {
        assert_eq!(machine.scan(0).unwrap().instructions, 2 * 256 + 1);
    }
    let fault = fault(&build(100, 158), |_| {});
    assert_eq!((fault.kind, fault.unit.as_str()), (FaultKind::CallDepth, "F99"));
}

#[test]
fn bad_tables_are_refused() {
    let refused = |change: fn(&mut Image)| {
        let mut image = two_types([3, 9]);
        change(&mut image);
        Program::load(image, &[]).unwrap_err()
    };
    let text = |change| refused(change).to_string();
    insta::assert_snapshot!(
        [
            text(|image| image.dispatch[0].targets[0].tag = 0),
            text(|image| image.dispatch[0].targets[1].tag = 3),
            text(|image| image.dispatch[0].targets.reverse()),
            text(|image| image.dispatch[0].targets[1].unit = 3),
            text(|image| image.dispatch.clear()),
            text(|image| image.dispatch[0].name = "x".repeat(5000)),
        ]
        .join("\n")
    );
    assert!(matches!(
        refused(|image| image.dispatch.resize(limits::DISPATCH_TABLES + 1, image.dispatch[0].clone())),
        LoadError::Limit { what: "dispatch tables", .. }
    ));
}

#[test]
fn recursion_of_known_units_stays_refused_beside_tables() {
    let mut image = through_a_function(false);
    // The function calls the method directly as well.
    let mut builder = ImageBuilder::new();
    for _ in 0..3 {
        builder.reserve_unit();
    }
    let mut unit = UnitBuilder::new("Check", UnitKind::Function, 0);
    unit.emit(Family::CallBlock, Scalar::U8, &[Operand::Unit(0), at(instance(0))]);
    let call = unit.finish().unwrap().instructions()[0];
    let code = image.code.clone();
    let mut rest = code.as_slice();
    image.code.clear();
    let mut index = 0;
    while !rest.is_empty() {
        let (instruction, used) = latchwork_vm::decode_instruction(rest).unwrap();
        rest = &rest[used..];
        let changed = if index == 2 { call } else { instruction };
        latchwork_vm::encode_instruction(&changed, &mut image.code);
        index += 1;
    }
    assert!(matches!(Program::load(image, &[]), Err(LoadError::Recursion { .. })));
}

#[test]
fn hostile_graphs_are_refused_in_time() {
    // Layers of functions, each calling all of the next layer, the last calling through a table back to all of them.
    let (layers, width) = (60u32, 64u32);
    let mut image = ImageBuilder::new();
    instances(&mut image, &[1]);
    let count = layers * width;
    let table =
        image.dispatch_table("All", rows(&(0..count).map(|unit| (unit + 1, unit)).collect::<Vec<_>>()));
    for index in 0..count {
        let mut unit = UnitBuilder::new("F", UnitKind::Function, 0);
        let layer = index / width;
        if layer + 1 < layers {
            for next in 0..width {
                unit.emit(Family::Call, Scalar::U8, &[Operand::Unit((layer + 1) * width + next)]);
            }
        } else {
            unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(POINTER)]);
        }
        image.add_unit(unit.finish().unwrap());
    }
    image.tasks.push(every_scan(0, 0));
    let refused = Program::load(image.finish().unwrap(), &[]).unwrap_err();
    assert!(
        matches!(refused, LoadError::Limit { found, .. } if found > limits::DISPATCH_STEPS as u64),
        "{refused}"
    );
}

#[test]
fn listings_name_tables() {
    let image = two_types([3, 9]);
    let listed: Vec<String> =
        latchwork_vm::unit_listing(&image, 2).into_iter().map(|instruction| instruction.text).collect();
    assert_eq!(listed, ["fits  @0014, @0010, Adder.Add", "call-method  Adder.Add, @0010", "return"]);
}
