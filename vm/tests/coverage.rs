//! Observing instructions: what they note, that they cost nothing, and what an interruption leaves alone.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    CoverageLog, DecisionVector, Family, LoadError, Machine, Operand, Restart, Scalar, Task, Timing,
    UnitBuilder,
};
use support::tasks::{Plant, TASK, waits};
use support::{at, every, load, machine, put, single};

const A: u32 = 16;
const B: u32 = 17;
const RESULT: u32 = 18;

fn number(value: u32) -> Operand {
    Operand::Immediate(value)
}

fn note(unit: &mut UnitBuilder, family: Family, operands: &[Operand]) {
    unit.emit(family, Scalar::U8, operands);
}

/// `RESULT := A AND B`, observed as decision 0 between points 0 and 1.
fn both_of(unit: &mut UnitBuilder) {
    note(unit, Family::ObservePoint, &[number(0)]);
    note(unit, Family::ObserveCondition, &[at(A), number(0), number(0)]);
    note(unit, Family::ObserveCondition, &[at(B), number(0), number(1)]);
    unit.emit(Family::And, Scalar::U8, &[at(RESULT), at(A), at(B)]);
    note(unit, Family::ObserveOutcome, &[at(RESULT), number(0), number(0)]);
    note(unit, Family::ObservePoint, &[number(1)]);
}

fn vectors(log: &CoverageLog, decision: u32) -> Vec<(u64, bool)> {
    let log = log.decision(decision).unwrap();
    log.vectors().map(|DecisionVector { conditions, outcome }| (conditions, outcome)).collect()
}

#[test]
fn conditions_and_outcomes_are_noted_together() {
    let image = single(64, both_of);
    for mut machine in every(&load(image)) {
        assert!(!machine.coverage().unwrap().passed(0));
        for (scan, values) in [[0, 0], [1, 1], [0, 1], [1, 1]].into_iter().enumerate() {
            put(&mut machine, A, &values);
            // AND and the return.
            assert_eq!(machine.scan(scan as i64).unwrap().instructions, 2);
        }
        let log = machine.coverage().unwrap();
        assert!(log.passed(0) && log.passed(1) && !log.passed(2));
        assert_eq!(vectors(log, 0), [(0b00, false), (0b10, false), (0b11, true)]);
        assert!(log.decision(0).unwrap().has_outcome(true) && log.decision(1).is_none());
        // What was seen stays seen.
        machine.restart(Restart::Cold);
        assert_eq!(vectors(machine.coverage().unwrap(), 0).len(), 3);
    }
}

#[test]
fn an_outcome_may_be_noted_negated() {
    let mut machine = machine(single(64, |unit| {
        note(unit, Family::ObserveCondition, &[at(A), number(0), number(63)]);
        note(unit, Family::ObserveOutcome, &[at(A), number(0), number(1)]);
        note(unit, Family::ObserveValue, &[at(A), number(0)]);
    }));
    machine.scan(0).unwrap();
    let log = machine.coverage().unwrap();
    assert_eq!(vectors(log, 0), [(0, true)]);
    assert!(log.passed(0) && !log.passed(1));
    put(&mut machine, A, &[1]);
    machine.scan(1).unwrap();
    let log = machine.coverage().unwrap();
    assert_eq!(vectors(log, 0), [(0, true), (1 << 63, false)]);
    assert!(log.passed(0) && log.passed(1));
}

/// Whether a FOR loop is entered, as it says itself and as it is observed.
fn entered(control: i16, limit: i16, step: i16) -> (bool, bool, bool) {
    let image = single(64, |unit| {
        let end = unit.label();
        let operands = [at(20), at(22), at(24)];
        unit.emit(Family::ObserveLoop, Scalar::I16, &[operands[0], operands[1], operands[2], number(3)]);
        unit.emit(Family::ForEnter, Scalar::I16, &[operands[0], operands[1], operands[2], end.into()]);
        note(unit, Family::ObservePoint, &[number(5)]);
        unit.bind(end);
    });
    let mut machine = machine(image);
    for (place, value) in [(20, control), (22, limit), (24, step)] {
        put(&mut machine, place, &value.to_le_bytes());
    }
    machine.scan(0).unwrap();
    let log = machine.coverage().unwrap();
    assert_ne!(log.passed(3), log.passed(4));
    (log.passed(5), log.passed(4), machine.events().is_empty())
}

#[test]
fn loops_that_are_not_entered_are_seen() {
    for (control, limit, step) in
        [(1, 3, 1), (3, 3, 1), (4, 3, 1), (3, 1, -1), (1, 1, -1), (1, 3, -1), (1, 3, 0), (3, 1, 0)]
    {
        let (runs, seen, quiet) = entered(control, limit, step);
        assert_eq!(runs, seen, "{control} TO {limit} BY {step}");
        assert_eq!(quiet, step != 0);
    }
}

#[test]
fn ordinary_images_have_no_log() {
    let program = load(support::counter());
    assert_eq!(program.coverage(), None);
    let mut machine = Machine::new(program);
    machine.scan(0).unwrap();
    assert!(machine.coverage().is_none());
}

/// A long release stands between two conditions of a decision when a short one evaluates the same decision.
#[test]
fn an_interruption_does_not_mix_two_evaluations() {
    let mut plant = Plant::new();
    let [flag, first, second, third, idle] = [0; 5].map(|_| plant.image.allocate(1, 0));
    plant.image.write(first, &[1]);
    let decide = move |unit: &mut UnitBuilder, left: u32, right: u32, pause: u32| {
        note(unit, Family::ObserveCondition, &[at(left), number(0), number(0)]);
        for _ in 0..pause {
            unit.emit(Family::Move, Scalar::U8, &[at(idle), at(idle)]);
        }
        note(unit, Family::ObserveCondition, &[at(right), number(0), number(1)]);
        unit.emit(Family::And, Scalar::U8, &[at(idle), at(left), at(right)]);
        note(unit, Family::ObserveOutcome, &[at(idle), number(0), number(0)]);
    };
    let long = Task { interval_ns: i64::MAX, priority: 5, ..TASK };
    let short = Task { single: Some(flag), priority: 1, ..TASK };
    plant.quiet_task('l', long, |unit| decide(unit, first, second, 30));
    plant.quiet_task('s', short, |unit| decide(unit, second, third, 0));
    for mut machine in every(&plant.load()) {
        machine.set_timing(Timing { instruction_ns: 1, preemptive: true, cycle_ns: 10 });
        machine.scan(0).unwrap();
        assert!(waits(&machine, 'l'));
        put(&mut machine, flag, &[1]);
        for scan in 1..6 {
            machine.scan(scan * 10).unwrap();
        }
        assert!(!waits(&machine, 'l') && !waits(&machine, 's'));
        // TRUE AND FALSE by the long one, FALSE AND FALSE by the short one.
        assert_eq!(vectors(machine.coverage().unwrap(), 0), [(0b00, false), (0b01, false)]);
    }
}

#[test]
fn an_image_cannot_ask_for_more_than_it_is_worth() {
    let refused = |family, operands: &[Operand]| {
        let image = single(64, |unit| unit.emit(family, Scalar::I16, operands));
        match latchwork_vm::Program::load(image, &[]) {
            Err(LoadError::Instruction { problem, .. }) => problem,
            other => panic!("{other:?}"),
        }
    };
    let too_many = |what: &str| format!("{what} is more than an image with 2 instructions can have");
    assert_eq!(refused(Family::ObservePoint, &[number(4)]), too_many("point 4"));
    assert_eq!(refused(Family::ObserveValue, &[at(A), number(3)]), too_many("point 4"));
    assert_eq!(refused(Family::ObserveValue, &[at(A), number(u32::MAX)]), too_many("point 4294967295"));
    assert_eq!(refused(Family::ObserveOutcome, &[at(A), number(2), number(0)]), too_many("decision 2"));
    let problem = refused(Family::ObserveCondition, &[at(A), number(0), number(64)]);
    assert_eq!(problem, "a decision has no condition 64");
}
