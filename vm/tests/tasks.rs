//! Tasks: when they are released and in which order, overruns, resources, and how long things take.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    AreaKind, EventKind, FaultKind, LocatedBit, Machine, Region, Restart, Task, TaskRun, TaskStatus, Timing,
};
use support::tasks::{Plant, TASK, log, run, waits};
use support::{both, put, take};

const MS: i64 = 1_000_000;

fn status(machine: &Machine, name: &str, offset: u32) -> u32 {
    let start = machine.program().image().tasks.iter().find(|task| task.name == name).unwrap().status;
    u32::from_le_bytes(take(machine, start + offset))
}

fn nanoseconds(machine: &Machine, name: &str, offset: u32) -> i64 {
    let start = machine.program().image().tasks.iter().find(|task| task.name == name).unwrap().status;
    i64::from_le_bytes(take(machine, start + offset))
}

fn overruns(machine: &Machine, name: &str) -> u32 {
    status(machine, name, TaskStatus::OVERRUNS)
}

/// One instruction a millisecond and ten of them from scan to scan.
fn slow(machine: &mut Machine, preemptive: bool) {
    machine.set_timing(Timing { instruction_ns: MS as u32, preemptive, cycle_ns: 10 * MS });
}

/// What was logged in each of some scans, 10 ms apart from a time on.
fn scans(machine: &mut Machine, from: i64, count: i64) -> Vec<String> {
    (0..count)
        .map(|scan| {
            machine.scan((from + scan * 10) * MS).unwrap();
            log(machine)
        })
        .collect()
}

#[test]
fn intervals_release_by_priority_at_exact_multiples() {
    // IEC 61131-3:2013 6.8.2: a every 10 ms with priority 2, b every 20 ms with priority 1.
    let mut plant = Plant::new();
    plant.task('a', 0, Task { interval_ns: 10 * MS, priority: 2, ..TASK });
    plant.task('b', 0, Task { interval_ns: 20 * MS, priority: 1, ..TASK });
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
        for mut machine in both(&program) {
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
    for mut machine in both(&program) {
        assert_eq!(scans(&mut machine, 0, 2), ["bca", "bca"]);
    }
    // Each resource has the whole time of its own: 4 + 4 and 4 instructions.
    for mut machine in both(&program) {
        slow(&mut machine, false);
        assert_eq!(scans(&mut machine, 0, 2), ["bca", "bca"]);
        assert_eq!(nanoseconds(&machine, "a", TaskStatus::RESPONSE), 4 * MS);
        assert_eq!(nanoseconds(&machine, "c", TaskStatus::RESPONSE), 8 * MS);
    }
}

#[test]
fn a_release_goes_on_in_the_next_scan() {
    let mut plant = Plant::new();
    // 3 instructions to log, 17 of work, and the return: 21.
    plant.task('l', 17, Task { interval_ns: 100 * MS, ..TASK });
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&program) {
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
    for mut machine in both(&program) {
        slow(&mut machine, false);
        machine.set_strict(true);
        assert_eq!(scans(&mut machine, 0, 2), ["l", ""]);
        let fault = machine.scan(20 * MS).unwrap_err();
        assert_eq!(fault.kind, FaultKind::Event(EventKind::TaskOverrun));
        assert_eq!(machine.scan(30 * MS), Err(fault));
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
    for mut machine in both(&plant.load()) {
        assert_eq!(scans(&mut machine, 0, 2), ["su", "s"]);
        assert_eq!((overruns(&machine, "u"), overruns(&machine, "s")), (1, 0));
    }
}

#[test]
fn of_equal_priority_the_one_that_waits_longest_goes_first() {
    let mut plant = Plant::new();
    let flags: Vec<u32> = (0..2).map(|_| plant.image.allocate(1, 0)).collect();
    plant.task('a', 0, Task { single: Some(flags[0]), priority: 3, ..TASK });
    plant.task('b', 0, Task { single: Some(flags[1]), priority: 3, ..TASK });
    plant.task('l', 21, Task { interval_ns: 1000 * MS, priority: 1, ..TASK });
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
        slow(&mut machine, true);
        let rows = work_of_both(&mut machine, &plant);
        assert_eq!(rows[1], row("", 16, 0), "a task of equal priority does not interrupt");
    }
}

#[test]
fn a_restart_ends_interrupted_and_waiting_releases() {
    for restart in [Restart::Cold, Restart::Warm] {
        let plant = long_and_short(9);
        for mut machine in both(&plant.load()) {
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
    for mut machine in both(&program) {
        slow(&mut machine, true);
        machine.scan(0).unwrap();
        let mut clone = machine.clone();
        for scan in 1..5 {
            for machine in [&mut machine, &mut clone] {
                put(machine, plant.flag, &[scan as u8 & 1]);
            }
            assert_eq!(machine.scan(scan * 10 * MS), clone.scan(scan * 10 * MS));
            assert!(machine.data() == clone.data());
        }
    }
}

#[test]
fn time_can_be_taken_away_while_a_release_is_interrupted() {
    let plant = long_and_short(1);
    for mut machine in both(&plant.load()) {
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
    for mut machine in both(&plant.load()) {
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
