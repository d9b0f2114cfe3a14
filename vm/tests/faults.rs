//! Faults: kinds, places and values, and the watchdog.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    ElementaryType, Family, FaultKind, Image, ImageBuilder, IndexRange, Machine, Operand, ProgramCall,
    Restart, Scalar, SourcePlace, Task, UnitBuilder, UnitKind, Value,
};
use support::{at, counting, every, every_scan, load, machine, one, put, single, take};
#[test]
fn a_fault_names_place_and_values_and_stays() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let file = image.file("tank.st");
    let mut unit = UnitBuilder::new("Tank", UnitKind::Program, 0);
    unit.at(SourcePlace { file, line: 3, column: 1, end_line: 3, end_column: 9 });
    unit.emit(Family::Move, Scalar::U32, &[at(16), at(20)]);
    unit.at(SourcePlace { file, line: 4, column: 5, end_line: 4, end_column: 19 });
    let range = image.range(IndexRange { lower: 1, count: 4, stride: 4 });
    unit.emit(Family::Index, Scalar::I16, &[at(16), at(20), at(40), Operand::Range(range)]);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    let program = load(image.finish().unwrap());
    for mut machine in every(&program) {
        put(&mut machine, 40, &4i16.to_le_bytes());
        machine.scan(0).unwrap();
        put(&mut machine, 40, &5i16.to_le_bytes());
        let fault = machine.scan(2_000_000).unwrap_err();
        assert_eq!(fault.kind, FaultKind::Subscript);
        assert_eq!(
            fault.to_string(),
            "tank.st:4:5: the array index is outside its bounds: index 5, lower bound 1, upper bound 4 (in Tank, scan 1)"
        );
        assert_eq!(fault.time_ns, 2_000_000);
        assert_eq!(machine.scan(3), Err(fault.clone()));
        assert_eq!(machine.fault(), Some(&*fault));
        machine.restart(Restart::Warm);
        assert!(machine.fault().is_none());
        machine.scan(4).unwrap_err();
    }
}

fn fault_of(image: Image, prepare: impl Fn(&mut Machine)) -> (FaultKind, Vec<String>) {
    let program = load(image);
    let [compiled, threaded, matched] = every(&program).map(|mut machine| {
        prepare(&mut machine);
        *machine.scan(0).unwrap_err()
    });
    assert_eq!(threaded, matched);
    assert_eq!(compiled, matched);
    (threaded.kind, threaded.values.iter().map(|(name, value)| format!("{name} {value}")).collect())
}

#[test]
fn kinds_of_faults() {
    let divide = one(Family::Divide, Scalar::I16, &[at(16), at(20), at(24)]);
    let (kind, values) = fault_of(divide, |machine| put(machine, 20, &[0xf9, 0xff]));
    assert_eq!((kind, values), (FaultKind::DivisionByZero, vec!["dividend -7".to_owned()]));

    let check = || one(Family::CheckRange, Scalar::U8, &[at(16), at(17), at(18)]);
    let (kind, values) = fault_of(check(), |machine| put(machine, 16, &[9, 2, 8]));
    assert_eq!(kind, FaultKind::Subrange);
    assert_eq!(values, ["value 9", "lower bound 2", "upper bound 8"]);
    assert!(machine(check()).scan(0).is_ok(), "0 lies in 0..0");

    let load = || one(Family::Load, Scalar::U32, &[at(16), at(20), Operand::Immediate(2)]);
    assert_eq!(fault_of(load(), |_| {}).0, FaultKind::NullReference);
    for address in [1u32, 15, 271, 5000, u32::MAX] {
        let (kind, _) = fault_of(load(), |machine| put(machine, 20, &address.to_le_bytes()));
        assert_eq!(kind, FaultKind::Address, "{address}");
    }
    let mut machine = machine(load());
    put(&mut machine, 20, &266u32.to_le_bytes());
    machine.scan(0).unwrap();

    for (family, operands) in [
        (Family::Store, vec![at(20), Operand::Immediate(0), at(24)]),
        (Family::CopyFrom, vec![at(24), at(20), Operand::Immediate(8)]),
        (Family::CopyTo, vec![at(20), at(24), Operand::Immediate(8)]),
        (Family::CopyBetween, vec![at(20), at(20), Operand::Immediate(8)]),
        (Family::OffsetAddress, vec![at(24), at(20), Operand::Immediate(8)]),
        (Family::CopyString, vec![at(20), at(20)]),
        (Family::CompareWideString, vec![at(24), at(20), at(20)]),
    ] {
        assert_eq!(
            fault_of(one(family, Scalar::U8, &operands), |_| {}).0,
            FaultKind::NullReference,
            "{family:?}"
        );
        if family != Family::OffsetAddress {
            let outside = |machine: &mut Machine| put(machine, 20, &272u32.to_le_bytes());
            assert_eq!(
                fault_of(one(family, Scalar::U8, &operands), outside).0,
                FaultKind::Address,
                "{family:?}"
            );
        }
    }
}

#[test]
fn indices_far_outside_do_not_wrap_into_the_range() {
    for (scalar, lower, index, fits) in [
        (Scalar::I64, 1 << 62, i64::MIN as u64, false),
        (Scalar::I64, -(1 << 62), i64::MAX as u64, false),
        (Scalar::U64, -5, u64::MAX, false),
        (Scalar::U64, -5, 0, true),
        (Scalar::U64, 0, 1 << 63, false),
        (Scalar::I8, -128, 0x80, true),
        (Scalar::U8, 0, 9, true),
        (Scalar::U8, 0, 10, false),
        (Scalar::I32, -3, (-4i32) as u32 as u64, false),
    ] {
        let mut image = ImageBuilder::new();
        image.allocate(128, 0);
        let range = image.range(IndexRange { lower, count: 10, stride: 4 });
        let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
        unit.emit(Family::Index, scalar, &[at(16), at(32), at(24), Operand::Range(range)]);
        let unit = image.add_unit(unit.finish().unwrap());
        image.tasks.push(every_scan(unit, 0));
        for mut machine in every(&load(image.finish().unwrap())) {
            put(&mut machine, 24, &index.to_le_bytes());
            assert_eq!(machine.scan(0).is_ok(), fits, "{scalar:?} {lower} {index}");
        }
    }
}

#[test]
fn the_watchdog_counts_exactly() {
    // Two instructions a round, and the return at the end never comes.
    let forever = || {
        single(64, |unit| {
            let start = unit.label();
            unit.bind(start);
            counting(unit);
            unit.emit(Family::Jump, Scalar::U8, &[start.into()]);
        })
    };
    for (budget, rounds) in [(0u64, 1), (1, 1), (2, 2), (3, 2), (1000, 501)] {
        let mut image = forever();
        image.data[32] = 1;
        for mut machine in every(&load(image)) {
            machine.set_budget(budget);
            let fault = machine.scan(0).unwrap_err();
            assert_eq!(fault.kind, FaultKind::Watchdog);
            assert_eq!(u64::from(u32::from_le_bytes(take(&machine, 16))), rounds, "budget {budget}");
        }
    }
}

/// Programs called one by one: a fault ends one call and nothing else.
#[test]
fn a_fault_of_a_program_called_alone_is_not_kept() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let mut divide = UnitBuilder::new("Divide", UnitKind::Program, 0);
    divide.emit(Family::Divide, Scalar::I32, &[at(16), at(20), at(24)]);
    let mut count = UnitBuilder::new("Count", UnitKind::Program, 0);
    count.emit(Family::Add, Scalar::I32, &[at(28), at(28), at(32)]);
    count.emit(Family::Add, Scalar::I32, &[at(28), at(28), at(32)]);
    let units = [divide, count].map(|unit| image.add_unit(unit.finish().unwrap()));
    let programs = units.map(|unit| ProgramCall { unit, base: 0 }).to_vec();
    image.tasks.push(Task::cyclic("all", programs));
    let program = load(image.finish().unwrap());
    for mut machine in every(&program) {
        put(&mut machine, 20, &84i32.to_le_bytes());
        put(&mut machine, 32, &1i32.to_le_bytes());
        let fault = machine.run_program(0, 7).unwrap_err();
        assert_eq!((fault.kind, fault.time_ns), (FaultKind::DivisionByZero, 7));
        assert_eq!(fault.values[0], ("dividend".to_owned(), Value::Signed(84, ElementaryType::Dint)));
        assert!(machine.fault().is_none());
        // The return counts too.
        assert_eq!(machine.run_program(1, 8), Ok(3));
        assert_eq!(i32::from_le_bytes(take(&machine, 28)), 2);
        put(&mut machine, 24, &2i32.to_le_bytes());
        assert_eq!(machine.run_program(0, 9), Ok(2));
        assert_eq!(i32::from_le_bytes(take(&machine, 16)), 42);
        assert_eq!(machine.run_program(2, 10).unwrap_err().kind, FaultKind::Address);
        assert_eq!((machine.scans(), machine.last_instructions()), (0, 0));
        // A machine that a scan has stopped stays stopped.
        put(&mut machine, 24, &0i32.to_le_bytes());
        let stopped = machine.scan(12).unwrap_err();
        assert_eq!(machine.run_program(1, 13), Err(stopped));
        machine.restart(Restart::Cold);
        assert_eq!(machine.run_program(1, 14), Ok(3));
    }
}

#[test]
fn only_programs_of_a_single_cyclic_task_are_called_alone() {
    let mut image = single(64, counting);
    image.tasks.push(image.tasks[0].clone());
    let mut machine = machine(image);
    assert_eq!(machine.run_program(0, 0).unwrap_err().kind, FaultKind::Address);
    machine.scan(0).unwrap();
}
