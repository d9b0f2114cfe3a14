//! When tasks are due, against the definition, and the short way of a scan against the long one.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{FaultKind, Machine, Restart, Task, TaskRun, TaskStatus};
use proptest::collection::vec;
use proptest::prelude::*;
use support::tasks::{Plant, TASK, log, status};
use support::{every, put, take};

const RESOURCES: u32 = 2;

fn task() -> impl Strategy<Value = Task> {
    let interval = prop_oneof![Just(0), 1..40i64, Just(i64::MAX), i64::MAX - 3..i64::MAX, Just(i64::MAX / 2)];
    (interval, any::<bool>(), 0..3u32, 0..RESOURCES).prop_map(|(interval_ns, cyclic, priority, resource)| {
        Task { interval_ns: if cyclic { 0 } else { interval_ns }, cyclic, priority, resource, ..TASK }
    })
}

/// Times that mostly go on a little, and sometimes far, back, or to the ends of time.
fn times() -> impl Strategy<Value = Vec<i64>> {
    let step = prop_oneof![
        8 => (0..25i64).prop_map(|step| (None, step)),
        1 => (-60..500i64).prop_map(|step| (None, step)),
        1 => (0..30i64).prop_map(|from| (Some(i64::MIN), from)),
        1 => (0..30i64).prop_map(|from| (Some(i64::MAX), -from)),
        1 => (-30..30i64).prop_map(|from| (Some(0), from)),
    ];
    vec(step, 1..14).prop_map(|steps| {
        let mut now = 0i64;
        let next = |(from, step): (Option<i64>, i64)| {
            now = from.unwrap_or(now).saturating_add(step);
            now
        };
        steps.into_iter().map(next).collect()
    })
}

fn plant(tasks: &[Task]) -> Plant {
    let mut plant = Plant::new();
    plant.image.resources = (0..RESOURCES).map(|number| number.to_string()).collect();
    for (name, task) in ('a'..).zip(tasks) {
        plant.task(name, task.priority, task.clone());
    }
    plant
}

/// Empties the log of the programs.
fn logged(machine: &mut Machine) -> String {
    let text = log(machine);
    put(machine, 16, &[0]);
    put(machine, 28, &[0]);
    text
}

/// The names of the tasks that a scan runs, in their order.
fn due(tasks: &[Task], scan: usize, before: i64, now: i64) -> String {
    let multiple = |time: i64, task: &Task| i128::from(time).div_euclid(i128::from(task.interval_ns));
    let mut order: Vec<(u32, bool, u32, char)> = Vec::new();
    for (name, task) in ('a'..).zip(tasks) {
        let reached = task.interval_ns > 0 && (scan == 0 || multiple(before, task) != multiple(now, task));
        if task.cyclic || reached {
            order.push((task.resource, task.cyclic, task.priority, name));
        }
    }
    order.sort_unstable();
    order.into_iter().map(|(.., name)| name).collect()
}

proptest! {
    #[test]
    fn tasks_are_due_at_multiples(tasks in vec(task(), 1..6), times in times()) {
        for mut machine in every(&plant(&tasks).load()) {
            let (mut before, mut runs) = (0, vec![0; tasks.len()]);
            for (scan, now) in times.iter().copied().enumerate() {
                machine.scan(now).unwrap();
                let expected = due(&tasks, scan, before, now);
                prop_assert_eq!(logged(&mut machine), expected.as_str(), "scan {} at {}", scan, now);
                let index = |name: char| name as usize - usize::from(b'a');
                let pieces: Vec<TaskRun> = expected.chars().map(|name| TaskRun {
                    task: index(name),
                    instructions: 4 + u64::from(tasks[index(name)].priority),
                    began: true,
                    ended: true,
                }).collect();
                for piece in &pieces {
                    runs[piece.task] += 1;
                }
                for (name, (number, runs)) in ('a'..).zip(runs.iter().enumerate()) {
                    let name = name.to_string();
                    let ran = pieces.iter().find(|piece| piece.task == number);
                    prop_assert_eq!(status(&machine, &name, TaskStatus::RUNS), *runs);
                    let instructions = ran.map_or(0, |piece| piece.instructions as u32);
                    prop_assert_eq!(status(&machine, &name, TaskStatus::INSTRUCTIONS), instructions);
                    let flags = take(&machine, machine.program().image().tasks[number].status);
                    prop_assert_eq!(flags, [u8::from(ran.is_some()), 0, 0]);
                }
                prop_assert_eq!(machine.task_runs(), pieces);
                before = now;
            }
        }
    }

    #[test]
    fn a_task_that_never_runs_changes_nothing(
        tasks in vec(task(), 1..6),
        times in times(),
        junk in any::<[u8; TaskStatus::BYTES as usize]>(),
        back in 0..14usize,
        budget in 3..60u64,
    ) {
        let short = plant(&tasks).load();
        // SINGLE of a task is looked at after every release of its resource: everything goes the long way.
        let mut long = plant(&tasks);
        let flag = long.image.allocate(1, 0);
        long.task('z', 0, Task { single: Some(flag), resource: 0, ..TASK });
        let long = long.load();
        let bytes = short.image().data.len();
        for (mut short, mut long) in every(&short).into_iter().zip(every(&long)) {
            let mut machines = [&mut short, &mut long];
            let mut snapshot = [machines[0].data().to_vec(), machines[1].data().to_vec()];
            for (scan, now) in times.iter().copied().enumerate() {
                let status = machines[0].program().image().tasks[0].status;
                let results = machines.each_mut().map(|machine| {
                    if scan == 3 {
                        // The status is data like any other.
                        put(machine, status, &junk);
                        put(machine, status + TaskStatus::SINGLE, &[0]);
                    }
                    if scan == 8 {
                        machine.set_budget(budget);
                    }
                    machine.scan(now).map_err(|fault| fault.kind)
                });
                prop_assert_eq!(&results[0], &results[1]);
                prop_assert_eq!(machines[0].task_runs(), machines[1].task_runs());
                if results[0].is_err() {
                    prop_assert_eq!(results[0].unwrap_err(), FaultKind::Watchdog);
                    for machine in &mut machines {
                        machine.restart(Restart::Warm);
                    }
                }
                prop_assert_eq!(machines[0].data(), &machines[1].data()[..bytes]);
                for (machine, snapshot) in machines.iter_mut().zip(&mut snapshot) {
                    logged(machine);
                    if scan == back {
                        // Back to the beginning, and to the time before it.
                        machine.data_mut().copy_from_slice(snapshot);
                    }
                }
            }
        }
    }
}

#[test]
fn a_window_ends_where_the_multiple_is_at_the_ends_of_time() {
    // -9223372036854775800 is a multiple of 10, the eighth nanosecond of time.
    let tasks = [Task { interval_ns: 10, ..TASK }];
    for mut machine in every(&plant(&tasks).load()) {
        let ran = [0, 1, 7, 8, 9, 17, 18].map(|from| {
            machine.scan(i64::MIN + from).unwrap();
            logged(&mut machine)
        });
        assert_eq!(ran, ["a", "", "", "a", "", "", "a"]);
    }
}

#[test]
fn more_tasks_than_the_short_way_has_room_for() {
    let mut plant = Plant::new();
    let names: String = ('!'..='g').collect();
    for (name, number) in names.chars().zip(1..) {
        // The last one is cyclic; every other one runs in every second scan.
        let interval_ns = if number % 2 == 0 { 20 } else { 10 };
        let cyclic = name == 'g';
        plant.task(name, 0, Task { interval_ns: if cyclic { 0 } else { interval_ns }, cyclic, ..TASK });
    }
    let half: String = names.chars().step_by(2).collect();
    for mut machine in every(&plant.load()) {
        assert!(machine.program().image().tasks.len() > 64);
        for (scan, expected) in [&names, &half, &names].into_iter().enumerate() {
            machine.scan(scan as i64 * 10).unwrap();
            assert_eq!(logged(&mut machine), *expected);
        }
    }
}
