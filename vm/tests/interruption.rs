//! What an interrupted release keeps: its frames, its calls, its inputs, its time and its events; and what it holds
//! back: its outputs.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    AreaKind, Family, LocatedBit, Machine, Operand, Region, Scalar, Task, Timing, UnitBuilder, UnitKind,
    Value,
};
use support::tasks::{Plant, TASK, run, waits};
use support::{at, every, put, take};

/// A long task of low priority that begins at 0, and a short one of high priority released by the flag.
fn long() -> Task {
    Task { interval_ns: i64::MAX, priority: 5, ..TASK }
}

fn short(flag: u32) -> Task {
    Task { single: Some(flag), priority: 1, ..TASK }
}

/// Ten instructions from scan to scan; scans are 10 ns apart.
fn preemptive(machine: &mut Machine) {
    machine.set_timing(Timing { instruction_ns: 1, preemptive: true, cycle_ns: 10 });
}

fn idle(unit: &mut UnitBuilder, instructions: u32, place: u32) {
    for _ in 0..instructions {
        run::set(unit, place, place);
    }
}

/// Both tasks call the same function with 5 and 9; the long one is interrupted in it.
fn sharing_a_function(with_frames: bool) -> [u16; 2] {
    let mut plant = Plant::new();
    let (flag, spare) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    let (results, numbers) = (plant.image.allocate(4, 2), plant.image.allocate(4, 2));
    plant.image.write(numbers, &[5, 0, 9, 0]);
    let frame = plant.image.allocate(8, 8);
    if with_frames {
        plant.image.layout.frames = Region { start: frame, size: 8 };
    }
    let (input, local, result) = (frame, frame + 2, frame + 4);
    // An inner function, so that two calls are open at the interruption.
    let mut inner = UnitBuilder::new("Twice", UnitKind::Function, 0);
    inner.emit(Family::Move, Scalar::U16, &[at(local), at(input)]);
    idle(&mut inner, 12, spare);
    inner.emit(Family::Add, Scalar::U16, &[at(local), at(local), at(input)]);
    let inner = plant.image.add_unit(inner.finish().unwrap());
    let mut outer = UnitBuilder::new("TwiceAndOne", UnitKind::Function, 0);
    outer.emit(Family::Call, Scalar::U8, &[Operand::Unit(inner)]);
    outer.emit(Family::Add, Scalar::U16, &[at(result), at(local), at(plant.one)]);
    let outer = plant.image.add_unit(outer.finish().unwrap());
    let mut task = |name, number: u32, task| {
        plant.quiet_task(name, task, |unit| {
            unit.emit(Family::Move, Scalar::U16, &[at(input), at(numbers + number)]);
            unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(outer)]);
            unit.emit(Family::Move, Scalar::U16, &[at(results + number), at(result)]);
        });
    };
    task('l', 0, long());
    task('s', 2, short(flag));
    let mut ends = Vec::new();
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        machine.scan(0).unwrap();
        assert!(waits(&machine, 'l'));
        put(&mut machine, flag, &[1]);
        for scan in 1..5 {
            machine.scan(scan * 10).unwrap();
        }
        assert!(!waits(&machine, 'l') && !waits(&machine, 's'));
        let words: [u8; 4] = take(&machine, results);
        ends.push([u16::from_le_bytes([words[0], words[1]]), u16::from_le_bytes([words[2], words[3]])]);
    }
    assert_eq!(ends[0], ends[1]);
    ends[0]
}

#[test]
fn frames_and_calls_are_kept() {
    assert_eq!(sharing_a_function(true), [11, 19]);
    // Without the region the short task's number would be left in the frame.
    assert_ne!(sharing_a_function(false), [11, 19]);
}

#[test]
fn inputs_stay_as_they_were_when_the_release_began() {
    let mut plant = Plant::new();
    let (area, flag) = (plant.image.allocate(2, 0), plant.image.allocate(1, 0));
    let (bit, spare, seen) =
        (plant.image.allocate(1, 0), plant.image.allocate(1, 0), plant.image.allocate(8, 0));
    plant.image.layout.inputs = Region { start: area, size: 2 };
    plant.image.bits.push(LocatedBit { place: bit, byte: area, bit: 0, area: AreaKind::Input });
    // Each stores the bit and the byte %IB1.
    let mut task = |name, to: u32, wait, task| {
        plant.quiet_task(name, task, |unit| {
            run::set(unit, seen + to, bit);
            idle(unit, wait, spare);
            run::set(unit, seen + to + 1, bit);
            run::set(unit, seen + to + 2, area + 1);
        });
    };
    task('l', 0, 15, long());
    task('s', 4, 0, short(flag));
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        put(&mut machine, area, &[1, 7]);
        machine.scan(0).unwrap();
        put(&mut machine, area, &[0, 8]);
        put(&mut machine, flag, &[1]);
        machine.scan(10).unwrap();
        assert_eq!(take(&machine, seen + 4), [0, 0, 8], "the short task sees the new inputs");
        assert!(waits(&machine, 'l'));
        assert_eq!(take(&machine, area), [0, 8], "the terminals keep theirs");
        assert_eq!(take(&machine, bit), [0]);
        machine.scan(20).unwrap();
        assert_eq!(take(&machine, seen), [1, 1, 7], "the long task sees those it began with");
    }
}

#[test]
fn outputs_reach_the_terminals_at_the_end_of_the_release() {
    let mut plant = Plant::new();
    let (area, flag) = (plant.image.allocate(3, 0), plant.image.allocate(1, 0));
    let lamps: Vec<u32> = (0..3).map(|_| plant.image.allocate(1, 0)).collect();
    let (spare, read, one) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0), plant.one);
    plant.image.layout.outputs = Region { start: area, size: 3 };
    for (place, bit) in lamps.iter().zip(0..) {
        plant.image.bits.push(LocatedBit { place: *place, byte: area, bit, area: AreaKind::Output });
    }
    // The long task sets lamp 0, lamp 1 and %QB1, waits, and reads %QB1; the short one sets lamp 1 and lamp 2.
    plant.quiet_task('l', long(), |unit| {
        run::set(unit, lamps[0], one);
        run::set(unit, lamps[1], one);
        run::set(unit, area + 1, one);
        idle(unit, 15, spare);
        run::set(unit, read, area + 1);
    });
    plant.quiet_task('s', short(flag), |unit| {
        run::set(unit, lamps[1], one);
        run::set(unit, lamps[2], one);
    });
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        machine.scan(0).unwrap();
        assert_eq!(take(&machine, area), [0, 0, 0]);
        assert_eq!(take(&machine, lamps[0]), [0, 0, 0]);
        put(&mut machine, flag, &[1]);
        // A byte that no task writes belongs to the outside.
        put(&mut machine, area + 2, &[0x55]);
        machine.scan(10).unwrap();
        assert_eq!(take(&machine, area), [0b110, 0, 0x55], "only what the short task has set");
        assert!(waits(&machine, 'l'));
        machine.scan(20).unwrap();
        assert!(!waits(&machine, 'l'));
        assert_eq!(take(&machine, area), [0b111, 1, 0x55]);
        assert_eq!(take(&machine, lamps[0]), [1, 1, 1]);
        assert_eq!(take(&machine, read), [1], "the long task itself saw what it wrote");
    }
}

#[test]
fn an_output_once_changed_stays_the_release_s_own() {
    let mut plant = Plant::new();
    let (area, flag) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    let (spare, read, value, one) =
        (plant.image.allocate(1, 0), plant.image.allocate(1, 0), plant.image.allocate(1, 0), plant.one);
    plant.image.layout.outputs = Region { start: area, size: 1 };
    plant.quiet_task('l', long(), |unit| {
        run::set(unit, area, one);
        idle(unit, 30, spare);
        run::set(unit, read, area);
    });
    plant.quiet_task('s', short(flag), |unit| run::set(unit, area, value));
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        // The short task writes the same value at 10 and another one at 30.
        for (scan, [release, written]) in [[0, 0], [1, 1], [0, 0], [1, 0]].into_iter().enumerate() {
            assert!(scan == 0 || waits(&machine, 'l'));
            put(&mut machine, flag, &[release]);
            put(&mut machine, value, &[written]);
            machine.scan(scan as i64 * 10).unwrap();
            if scan < 3 {
                assert_eq!(take(&machine, area), [u8::from(scan > 0)]);
            }
        }
        machine.scan(40).unwrap();
        assert!(!waits(&machine, 'l'));
        assert_eq!((take(&machine, read), take(&machine, area)), ([1], [1]));
    }
}

#[test]
fn time_and_events_are_those_of_the_release() {
    let mut plant = Plant::new();
    let flag = plant.image.allocate(1, 0);
    let (spare, hundred) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    plant.image.write(hundred, &[100]);
    let (times, marks) = (plant.image.allocate(24, 8), plant.image.allocate(8, 8));
    plant.quiet_task('l', long(), |unit| {
        unit.emit(Family::EventMark, Scalar::U32, &[at(marks)]);
        unit.emit(Family::Now, Scalar::I64, &[at(times)]);
        idle(unit, 14, spare);
        unit.emit(Family::Now, Scalar::I64, &[at(times + 8)]);
        unit.emit(Family::EventMark, Scalar::U32, &[at(marks + 4)]);
        unit.emit(Family::Subtract, Scalar::U8, &[at(spare), at(spare), at(hundred)]);
    });
    plant.quiet_task('s', short(flag), |unit| {
        unit.emit(Family::Now, Scalar::I64, &[at(times + 16)]);
        unit.emit(Family::Add, Scalar::I8, &[at(spare), at(hundred), at(hundred)]);
        run::set(unit, spare, flag);
    });
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        machine.scan(100).unwrap();
        put(&mut machine, flag, &[1]);
        machine.scan(110).unwrap();
        assert!(waits(&machine, 'l'));
        assert_eq!(machine.events().total(), 1, "the short task has recorded an event");
        machine.scan(120).unwrap();
        assert!(!waits(&machine, 'l'));
        let times = [0, 8, 16].map(|offset| i64::from_le_bytes(take(&machine, times + offset)));
        assert_eq!(times, [100, 100, 110]);
        let marks: [u8; 8] = take(&machine, marks);
        assert_eq!(marks[..4], marks[4..], "the events of another task are none of the release");
        // Its own event has the time of the scan that it happened in.
        let own: Vec<_> = machine.events().iter().filter(|event| event.unit == "l").collect();
        assert_eq!((own[0].scan, own[0].time_ns), (2, 120));
        assert!(own[0].values.iter().any(|(_, value)| matches!(value, Value::Unsigned(100, _))));
    }
}

#[test]
fn a_fault_of_an_interrupted_release_stops_the_machine() {
    let mut plant = Plant::new();
    let (spare, zero) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    plant.quiet_task('l', long(), |unit| {
        idle(unit, 15, spare);
        unit.emit(Family::Divide, Scalar::U8, &[at(spare), at(spare), at(zero)]);
    });
    for mut machine in every(&plant.load()) {
        preemptive(&mut machine);
        machine.scan(0).unwrap();
        let fault = machine.scan(10).unwrap_err();
        assert_eq!((fault.unit.as_str(), fault.scan, fault.time_ns), ("l", 1, 10));
        assert_eq!(machine.scan(20), Err(fault));
        machine.restart(latchwork_vm::Restart::Cold);
        machine.scan(0).unwrap();
    }
}
