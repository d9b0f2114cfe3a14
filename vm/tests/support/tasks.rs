//! Programs that log when they begin and count what they have done, for tests of tasks.

use super::{at, load, take};
use latchwork_vm::{
    Family, ImageBuilder, IndexRange, Machine, Operand, Program, ProgramCall, Scalar, Task, TaskStatus,
    Timing, UnitBuilder, UnitKind,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A task that is never released, to be completed.
pub const TASK: Task = Task {
    name: String::new(),
    resource: 0,
    interval_ns: 0,
    cyclic: false,
    single: None,
    priority: 0,
    programs: Vec::new(),
    status: 0,
};

const LOG_COUNT: u32 = 16;
/// How much of the log the test has read; a program may be in the middle of writing to it.
const LOG_READ: u32 = 28;
const LOG_PLACE: u32 = 20;
const LOG: u32 = 32;
const LOG_BYTES: u32 = 200;

/// An image in the making. Programs have the name of their task, one character.
pub struct Plant {
    pub image: ImageBuilder,
    /// Place of a number 1 (u16).
    pub one: u32,
    /// A place that a test needs again.
    pub flag: u32,
    /// For each task the place where it counts its work (u16).
    pub work: BTreeMap<char, u32>,
    range: u32,
}

impl Plant {
    pub fn new() -> Self {
        let mut image = ImageBuilder::new();
        image.allocate(LOG + LOG_BYTES - 16, 0);
        let one = image.allocate(2, 0);
        image.write(one, &[1, 0]);
        let range = image.range(IndexRange { lower: 0, count: LOG_BYTES, stride: 1 });
        Self { image, one, flag: 0, work: BTreeMap::new(), range }
    }

    /// A task whose program logs its name (3 instructions), counts up so many times, and returns.
    pub fn task(&mut self, name: char, work: u32, task: Task) {
        let (one, place) = (self.one, self.image.allocate(2, 0));
        self.work.insert(name, place);
        self.task_with(name, task, |unit| {
            for _ in 0..work {
                unit.emit(Family::Add, Scalar::U16, &[at(place), at(place), at(one)]);
            }
        });
    }

    /// A task whose program logs its name and goes on as `body` says.
    pub fn task_with(&mut self, name: char, task: Task, body: impl FnOnce(&mut UnitBuilder)) {
        let letter = self.image.allocate(1, 0);
        self.image.write(letter, &[name as u8]);
        let (one, range) = (self.one, self.range);
        self.quiet_task(name, task, |unit| {
            let index = [at(LOG_PLACE), at(LOG), at(LOG_COUNT), Operand::Range(range)];
            unit.emit(Family::Index, Scalar::U8, &index);
            unit.emit(Family::Store, Scalar::U8, &[at(LOG_PLACE), Operand::Immediate(0), at(letter)]);
            unit.emit(Family::Add, Scalar::U8, &[at(LOG_COUNT), at(LOG_COUNT), at(one)]);
            body(unit);
        });
    }

    /// A task whose program does what `body` says.
    pub fn quiet_task(&mut self, name: char, task: Task, body: impl FnOnce(&mut UnitBuilder)) {
        let mut unit = UnitBuilder::new(name, UnitKind::Program, 0);
        body(&mut unit);
        let unit = self.image.add_unit(unit.finish().unwrap());
        let status = self.image.allocate(TaskStatus::BYTES, 0);
        let programs = vec![ProgramCall { unit, base: 0 }];
        self.image.tasks.push(Task { name: name.into(), programs, status, ..task });
    }

    pub fn load(&self) -> Arc<Program> {
        load(self.image.clone().finish().unwrap())
    }
}

/// What was logged since the last call.
pub fn log(machine: &mut Machine) -> String {
    let ([count], [read]) = (take(machine, LOG_COUNT), take(machine, LOG_READ));
    machine.data_mut()[LOG_READ as usize] = count;
    let (start, end) = ((LOG + u32::from(read)) as usize, (LOG + u32::from(count)) as usize);
    machine.data()[start..end].iter().map(|letter| char::from(*letter)).collect()
}

/// Whether a release of a task waits or is interrupted.
pub fn waits(machine: &Machine, name: char) -> bool {
    take(machine, status_start(machine, &name.to_string()) + TaskStatus::WAITING) == [1]
}

/// Nanoseconds in a millisecond.
pub const MS: i64 = 1_000_000;

/// Where the status of a task lies.
fn status_start(machine: &Machine, name: &str) -> u32 {
    machine.program().image().tasks.iter().find(|task| task.name == name).unwrap().status
}

/// A count in the status of a task.
pub fn status(machine: &Machine, name: &str, offset: u32) -> u32 {
    u32::from_le_bytes(take(machine, status_start(machine, name) + offset))
}

/// A time in the status of a task.
pub fn nanoseconds(machine: &Machine, name: &str, offset: u32) -> i64 {
    i64::from_le_bytes(take(machine, status_start(machine, name) + offset))
}

/// How often a task was due while it still ran or waited.
pub fn overruns(machine: &Machine, name: &str) -> u32 {
    status(machine, name, TaskStatus::OVERRUNS)
}

/// One instruction a millisecond and ten of them from scan to scan.
pub fn slow(machine: &mut Machine, preemptive: bool) {
    machine.set_timing(Timing { instruction_ns: MS as u32, preemptive, cycle_ns: 10 * MS });
}

/// What was logged in each of some scans, 10 ms apart from a time on.
pub fn scans(machine: &mut Machine, from: i64, count: i64) -> Vec<String> {
    (0..count)
        .map(|scan| {
            machine.scan((from + scan * 10) * MS).unwrap();
            log(machine)
        })
        .collect()
}

/// Bodies of programs.
pub mod run {
    use super::*;

    /// Copies a BOOL.
    pub fn set(unit: &mut UnitBuilder, to: u32, from: u32) {
        unit.emit(Family::Move, Scalar::U8, &[at(to), at(from)]);
    }

    /// Sets the first BOOL to FALSE and the second to TRUE.
    pub fn pass(unit: &mut UnitBuilder, own: u32, other: u32) {
        unit.emit(Family::Xor, Scalar::U8, &[at(own), at(own), at(own)]);
        unit.emit(Family::Equal, Scalar::U8, &[at(other), at(own), at(own)]);
    }

    /// A loop without end.
    pub fn forever(unit: &mut UnitBuilder) {
        let start = unit.label();
        unit.bind(start);
        unit.emit(Family::Jump, Scalar::U8, &[start.into()]);
    }
}
