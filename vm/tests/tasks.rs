//! Tasks: when they are released and in which order, overruns, resources, and how long things take.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{AreaKind, FaultKind, LocatedBit, Region, Restart, Task, TaskRun, TaskStatus, Timing};
use support::tasks::{MS, Plant, TASK, log, nanoseconds, overruns, run, scans, slow, status};
use support::{every, put, take};

#[test]
fn intervals_release_by_priority_at_exact_multiples() {
    // IEC 61131-3:2013 6.8.2: a every 10 ms with priority 2, b every 20 ms with priority 1.
    let mut plant = Plant::new();
    plant.task('a', 0, Task { interval_ns: 10 * MS, priority: 2, ..TASK });
    plant.task('b', 0, Task { interval_ns: 20 * MS, priority: 1, ..TASK });
    for mut machine in every(&plant.load()) {
        assert_eq!(scans(&mut machine, 0, 5), ["ba", "a", "ba", "a", "ba"]);
        assert_eq!(status(&machine, "a", TaskStatus::RUNS), 5);
        assert_eq!(status(&machine, "b", TaskStatus::RUNS), 3);
        let b = machine.program().image().tasks[1].status;
        assert_eq!(take(&machine, b + TaskStatus::RAN), [1, 0], "it ran and does not wait");
        machine.scan(50 * MS).unwrap();
        assert_eq!(take(&machine, b + TaskStatus::RAN), [0, 0]);
        assert_eq!(status(&machine, "b", TaskStatus::INSTRUCTIONS), 0);
        assert_eq!(status(&machine, "a", TaskStatus::INSTRUCTIONS), 4);
        assert!(machine.events().is_empty());
    }
}

#[test]
fn scans_that_do_not_meet_the_multiples_do_not_drift() {
    let mut plant = Plant::new();
    plant.task('a', 0, Task { interval_ns: 30 * MS, ..TASK });
    for mut machine in every(&plant.load()) {
        // Multiples are 30, 60, 90, 120; scans every 20. A jump over several of them gives one release.
        let mut ran = Vec::new();
        for time in [5, 20, 40, 60, 80, 100, 120, 300, 301] {
            machine.scan(time * MS).unwrap();
            ran.push(log(&mut machine).len());
        }
        assert_eq!(ran, [1, 0, 1, 1, 0, 1, 1, 1, 0]);
    }
}

#[test]
fn cyclic_programs_run_last_and_equal_priorities_in_textual_order() {
    let mut plant = Plant::new();
    plant.task('z', 0, Task { cyclic: true, priority: 0, ..TASK });
    plant.task('c', 0, Task { interval_ns: 10 * MS, priority: 7, ..TASK });
    plant.task('d', 0, Task { interval_ns: 10 * MS, priority: 7, ..TASK });
    plant.task('a', 0, Task { interval_ns: 20 * MS, priority: u32::MAX, ..TASK });
    plant.task('n', 0, TASK);
    for mut machine in every(&plant.load()) {
        assert_eq!(scans(&mut machine, 0, 3), ["cdaz", "cdz", "cdaz"], "n is never released");
        let runs: Vec<usize> = machine.task_runs().iter().map(|run| run.task).collect();
        assert_eq!(runs, [1, 2, 3, 0]);
        assert_eq!(machine.task_runs()[0], TaskRun { task: 1, instructions: 4, began: true, ended: true });
    }
}

#[test]
fn a_rising_edge_of_single_releases_once() {
    let mut plant = Plant::new();
    let start = plant.image.allocate(1, 0);
    plant.task('s', 0, Task { single: Some(start), ..TASK });
    for mut machine in every(&plant.load()) {
        let mut ran = Vec::new();
        // TRUE at the start is an edge, as for R_TRIG.
        for (time, value) in [1u8, 1, 0, 1, 1, 0, 0, 1].into_iter().enumerate() {
            put(&mut machine, start, &[value]);
            machine.scan(time as i64 * 10 * MS).unwrap();
            ran.push(log(&mut machine).len());
        }
        assert_eq!(ran, [1, 0, 0, 1, 0, 0, 0, 1]);
        machine.restart(Restart::Warm);
        put(&mut machine, start, &[1]);
        machine.scan(0).unwrap();
        assert_eq!(log(&mut machine), "s", "a restart forgets the value of SINGLE");
    }
}

#[test]
fn single_stops_the_interval() {
    let mut plant = Plant::new();
    let hold = plant.image.allocate(1, 0);
    plant.task('p', 0, Task { single: Some(hold), interval_ns: 20 * MS, ..TASK });
    for mut machine in every(&plant.load()) {
        let mut ran = Vec::new();
        for (step, value) in [0u8, 0, 0, 1, 1, 0, 0, 1, 0, 0].into_iter().enumerate() {
            put(&mut machine, hold, &[value]);
            machine.scan(step as i64 * 10 * MS).unwrap();
            ran.push(log(&mut machine).len());
        }
        // 0 and 20 by the interval; 30 by the edge; 40 is held back; 60 is the next whole multiple; 70 by the edge; 80.
        assert_eq!(ran, [1, 0, 1, 1, 0, 0, 1, 1, 1, 0]);
    }
}

#[test]
fn an_input_and_another_task_can_release() {
    let mut plant = Plant::new();
    let input = plant.image.allocate(1, 0);
    let (start, flag) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    plant.image.layout.inputs = Region { start: input, size: 1 };
    plant.image.bits.push(LocatedBit { place: start, byte: input, bit: 3, area: AreaKind::Input });
    // f is more urgent but released by what s does; u would go before it otherwise.
    plant.task('f', 0, Task { single: Some(flag), priority: 1, ..TASK });
    plant.task_with('s', Task { single: Some(start), priority: 2, ..TASK }, |unit| {
        run::set(unit, flag, start)
    });
    plant.task('u', 0, Task { cyclic: true, ..TASK });
    for mut machine in every(&plant.load()) {
        assert_eq!(scans(&mut machine, 0, 1), ["u"]);
        put(&mut machine, input, &[8]);
        assert_eq!(scans(&mut machine, 10, 2), ["sfu", "u"]);
    }
}

#[test]
fn releases_that_cause_one_another_without_end_are_stopped() {
    let mut plant = Plant::new();
    let (ping, pong) = (plant.image.allocate(1, 0), plant.image.allocate(1, 0));
    plant.image.write(ping, &[1]);
    // Each sets its own flag back and the other one.
    plant.quiet_task('a', Task { single: Some(ping), ..TASK }, |unit| run::pass(unit, ping, pong));
    plant.quiet_task('b', Task { single: Some(pong), ..TASK }, |unit| run::pass(unit, pong, ping));
    let program = plant.load();
    for timing in [Timing::default(), Timing { instruction_ns: 1, preemptive: true, cycle_ns: i64::MAX }] {
        for mut machine in every(&program) {
            machine.set_timing(timing);
            machine.set_budget(1_000_000);
            assert_eq!(machine.scan(0).unwrap_err().kind, FaultKind::Watchdog);
        }
    }
}

#[test]
fn resources_take_turns_in_textual_order() {
    let mut plant = Plant::new();
    plant.image.resources = vec!["Tanks".into(), "Greenhouse".into()];
    plant.task('a', 0, Task { interval_ns: 10 * MS, priority: 0, resource: 1, ..TASK });
    plant.task('b', 0, Task { interval_ns: 10 * MS, priority: 9, resource: 0, ..TASK });
    plant.task('c', 0, Task { cyclic: true, resource: 0, ..TASK });
    let program = plant.load();
    for mut machine in every(&program) {
        assert_eq!(scans(&mut machine, 0, 2), ["bca", "bca"]);
    }
    // Each resource has the whole time of its own: 4 + 4 and 4 instructions.
    for mut machine in every(&program) {
        slow(&mut machine, false);
        assert_eq!(scans(&mut machine, 0, 2), ["bca", "bca"]);
        assert_eq!(nanoseconds(&machine, "a", TaskStatus::RESPONSE), 4 * MS);
        assert_eq!(nanoseconds(&machine, "c", TaskStatus::RESPONSE), 8 * MS);
    }
}

#[test]
fn a_waiting_release_is_lost_as_well_without_time() {
    let mut plant = Plant::new();
    let flag = plant.image.allocate(1, 0);
    let one = plant.one;
    // u is released by its interval and waits; s sets its SINGLE before u began.
    plant
        .task_with('s', Task { interval_ns: 10 * MS, priority: 0, ..TASK }, |unit| run::set(unit, flag, one));
    plant.task('u', 0, Task { interval_ns: 10 * MS, single: Some(flag), priority: 1, ..TASK });
    for mut machine in every(&plant.load()) {
        assert_eq!(scans(&mut machine, 0, 2), ["su", "s"]);
        assert_eq!((overruns(&machine, "u"), overruns(&machine, "s")), (1, 0));
    }
}
