//! Tasks when instructions take time: releases that go on in later scans, overruns, preemption.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{EventKind, FaultKind, Machine, Restart, Task, TaskRun, TaskStatus, Timing};
use support::tasks::{MS, Plant, TASK, log, nanoseconds, overruns, run, scans, slow, status, waits};
use support::{every, put, take};

#[test]
fn a_release_goes_on_in_the_next_scan() {
    let mut plant = Plant::new();
    // 3 instructions to log, 17 of work, and the return: 21.
    plant.task('l', 17, Task { interval_ns: 100 * MS, ..TASK });
    for mut machine in every(&plant.load()) {
        slow(&mut machine, false);
        let mut seen = Vec::new();
        for scan in 0..4 {
            let instructions = machine.scan(scan * 10 * MS).unwrap().instructions;
            seen.push((instructions, machine.task_runs(), waits(&machine, 'l')));
        }
        let piece = |instructions, began, ended| vec![TaskRun { task: 0, instructions, began, ended }];
        assert_eq!(
            seen,
            [
                (10, piece(10, true, false), true),
                (10, piece(10, false, false), true),
                (1, piece(1, false, true), false),
                (0, vec![], false)
            ]
        );
        assert_eq!(nanoseconds(&machine, "l", TaskStatus::RESPONSE), 21 * MS);
        assert_eq!(status(&machine, "l", TaskStatus::RUNS), 1);
    }
}

#[test]
fn an_instruction_that_began_in_time_is_finished() {
    let mut plant = Plant::new();
    plant.task('l', 5, Task { interval_ns: 100 * MS, ..TASK });
    for mut machine in every(&plant.load()) {
        // 4 ms an instruction: 0, 4 and 8 begin before 10, so 2 ms of the next 10 are gone: 12 and 16 begin in time.
        machine.set_timing(Timing { instruction_ns: 4 * MS as u32, preemptive: false, cycle_ns: 10 * MS });
        let counts: Vec<u64> =
            (0..5).map(|scan| machine.scan(scan * 10 * MS).unwrap().instructions).collect();
        assert_eq!(counts, [3, 2, 3, 1, 0]);
        assert_eq!(nanoseconds(&machine, "l", TaskStatus::RESPONSE), 36 * MS);
    }
}

#[test]
fn lost_releases_are_counted_and_told() {
    let mut plant = Plant::new();
    // 25 instructions of 1 ms every 20 ms.
    plant.task('l', 21, Task { interval_ns: 20 * MS, ..TASK });
    let program = plant.load();
    for mut machine in every(&program) {
        slow(&mut machine, false);
        // Released at 0, runs until 25; lost at 20; released at 40, runs until 65; lost at 60; released at 80.
        assert_eq!(scans(&mut machine, 0, 9), ["l", "", "", "", "l", "", "", "", "l"]);
        assert_eq!((overruns(&machine, "l"), status(&machine, "l", TaskStatus::RUNS)), (2, 2));
        assert_eq!(nanoseconds(&machine, "l", TaskStatus::LONGEST_RESPONSE), 25 * MS);
        let events: Vec<_> = machine.events().iter().collect();
        let [event] = events.as_slice() else { panic!("{events:?}") };
        assert_eq!((event.kind, event.count, event.scan), (EventKind::TaskOverrun, 2, 2));
        assert_eq!((event.time_ns, event.values[0].1.to_string()), (20 * MS, "'l'".to_owned()));
    }
    for mut machine in every(&program) {
        slow(&mut machine, false);
        machine.set_strict(true);
        assert_eq!(scans(&mut machine, 0, 2), ["l", ""]);
        let fault = machine.scan(20 * MS).unwrap_err();
        assert_eq!(fault.kind, FaultKind::Event(EventKind::TaskOverrun));
        assert_eq!(machine.scan(30 * MS), Err(fault));
    }
}

#[test]
fn of_equal_priority_the_one_that_waits_longest_goes_first() {
    let mut plant = Plant::new();
    let flags: Vec<u32> = (0..2).map(|_| plant.image.allocate(1, 0)).collect();
    plant.task('a', 0, Task { single: Some(flags[0]), priority: 3, ..TASK });
    plant.task('b', 0, Task { single: Some(flags[1]), priority: 3, ..TASK });
    plant.task('l', 21, Task { interval_ns: 1000 * MS, priority: 1, ..TASK });
    for mut machine in every(&plant.load()) {
        slow(&mut machine, false);
        let mut logs = Vec::new();
        for (scan, values) in [[0u8, 0], [0, 1], [1, 1]].into_iter().enumerate() {
            put(&mut machine, flags[0], &values);
            machine.scan(scan as i64 * 10 * MS).unwrap();
            logs.push(log(&mut machine));
        }
        assert_eq!(logs, ["l", "", "b"], "b was released at 10, a at 20; l ends at 25, b at 29");
        assert_eq!(scans(&mut machine, 30, 1), ["a"]);
        assert_eq!(nanoseconds(&machine, "a", TaskStatus::RESPONSE), 13 * MS);
    }
}

/// A long task of low priority from 0 on, and a short one of high priority at 10 and 20.
fn long_and_short(priority: u32) -> Plant {
    let mut plant = Plant::new();
    let flag = plant.image.allocate(1, 0);
    plant.flag = flag;
    plant.task('l', 16, Task { interval_ns: 1000 * MS, priority: 5, ..TASK });
    plant.task('s', 2, Task { single: Some(flag), priority, ..TASK });
    plant
}

fn work_of_both(machine: &mut Machine, plant: &Plant) -> Vec<(String, u16, u16)> {
    (0..5)
        .map(|scan| {
            put(machine, plant.flag, &[scan as u8 & 1]);
            machine.scan(scan * 10 * MS).unwrap();
            let work = |name: char| u16::from_le_bytes(take(machine, plant.work[&name]));
            let (long, short) = (work('l'), work('s'));
            (log(machine), long, short)
        })
        .collect()
}

#[test]
fn without_preemption_a_release_ends_before_another_begins() {
    let plant = long_and_short(1);
    let row = |text: &str, long, short| (text.to_owned(), long, short);
    for mut machine in every(&plant.load()) {
        slow(&mut machine, false);
        // l: 3 to log and 7 of work until 10; 9 of work and the return until 20. s then has 20 to 26.
        assert_eq!(
            work_of_both(&mut machine, &plant),
            [row("l", 7, 0), row("", 16, 0), row("s", 16, 2), row("s", 16, 4), row("", 16, 4)]
        );
    }
}

#[test]
fn with_preemption_the_urgent_task_interrupts() {
    let plant = long_and_short(1);
    let row = |text: &str, long, short| (text.to_owned(), long, short);
    for mut machine in every(&plant.load()) {
        slow(&mut machine, true);
        // s has 10 to 16, l four instructions until 20 and six more until 26; at 30 s again.
        assert_eq!(
            work_of_both(&mut machine, &plant),
            [row("l", 7, 0), row("s", 11, 2), row("", 16, 2), row("s", 16, 4), row("", 16, 4)]
        );
        assert_eq!(nanoseconds(&machine, "l", TaskStatus::RESPONSE), 26 * MS);
        assert_eq!(nanoseconds(&machine, "s", TaskStatus::RESPONSE), 6 * MS);
    }
    let plant = long_and_short(5);
    for mut machine in every(&plant.load()) {
        slow(&mut machine, true);
        let rows = work_of_both(&mut machine, &plant);
        assert_eq!(rows[1], row("", 16, 0), "a task of equal priority does not interrupt");
    }
}

#[test]
fn a_restart_ends_interrupted_and_waiting_releases() {
    for restart in [Restart::Cold, Restart::Warm] {
        let plant = long_and_short(9);
        for mut machine in every(&plant.load()) {
            slow(&mut machine, false);
            put(&mut machine, plant.flag, &[1]);
            machine.scan(0).unwrap();
            assert!(waits(&machine, 'l') && waits(&machine, 's'));
            machine.restart(restart);
            assert!(!waits(&machine, 'l') && !waits(&machine, 's'));
            assert!(machine.task_runs().is_empty());
            machine.scan(0).unwrap();
            assert_eq!(log(&mut machine), "l", "the release begins anew");
            assert_eq!(u16::from_le_bytes(take(&machine, plant.work[&'l'])), 7);
            assert_eq!(status(&machine, "l", TaskStatus::RUNS), 0);
        }
    }
}

#[test]
fn a_clone_goes_on_like_the_machine() {
    let plant = long_and_short(1);
    let program = plant.load();
    for mut machine in every(&program) {
        slow(&mut machine, true);
        machine.scan(0).unwrap();
        let mut clone = machine.clone();
        for scan in 1..5 {
            for machine in [&mut machine, &mut clone] {
                put(machine, plant.flag, &[scan as u8 & 1]);
            }
            assert_eq!(machine.scan(scan * 10 * MS), clone.scan(scan * 10 * MS));
            assert!(machine.state() == clone.state());
        }
    }
}

#[test]
fn time_can_be_taken_away_while_a_release_is_interrupted() {
    let plant = long_and_short(1);
    for mut machine in every(&plant.load()) {
        slow(&mut machine, true);
        machine.scan(0).unwrap();
        machine.set_timing(Timing::default());
        assert_eq!(machine.scan(10 * MS).unwrap().instructions, 10);
        assert!(!waits(&machine, 'l'));
    }
}

#[test]
fn a_release_that_never_ends_is_stopped_over_its_scans() {
    let mut plant = Plant::new();
    plant.quiet_task('l', Task { cyclic: true, ..TASK }, run::forever);
    for mut machine in every(&plant.load()) {
        slow(&mut machine, false);
        machine.set_budget(95);
        for scan in 0..9 {
            machine.scan(scan * 10 * MS).unwrap();
        }
        let fault = machine.scan(90 * MS).unwrap_err();
        assert_eq!((fault.kind, fault.scan), (FaultKind::Watchdog, 9));
        // The first release was not lost, the others were.
        assert_eq!(overruns(&machine, "l"), 9);
    }
}
