//! The tasks of an image in the order in which they go (IEC 61131-3:2013 6.8.2), prepared when a program is loaded.
//!
//! What a task is released by and how releases are served is in `machine::tasks`.

use crate::image::{Image, NO_STATUS, Task};

/// A program instance of a task.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ScheduledCall {
    /// Index of its unit.
    pub(crate) unit: u32,
    pub(crate) first_instruction: u32,
    pub(crate) base: u32,
}

/// A task with its programs.
#[derive(Clone, Debug)]
pub(crate) struct ScheduledTask {
    pub(crate) calls: Vec<ScheduledCall>,
    /// Orders tasks of one resource; the smaller one goes first.
    pub(crate) class: Class,
    /// As in [`Task`].
    pub(crate) interval_ns: i64,
    pub(crate) status: u32,
}

/// Which of two tasks goes first, whatever waits longer: tasks before cyclic programs, then by priority.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Class {
    cyclic: bool,
    priority: u32,
}

/// A resource: an independent processor with its tasks.
#[derive(Clone, Debug)]
pub(crate) struct ScheduledResource {
    /// Indices of its tasks, by class, then in the order of the image.
    pub(crate) tasks: Vec<usize>,
    /// Whether one of them has SINGLE.
    pub(crate) edges: bool,
}

/// Tasks that are due, by their indices as bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Due(pub(crate) u64);

impl Due {
    /// Most tasks.
    pub(crate) const TASKS: usize = 64;

    /// Adds a task; one that there is no room for is left out.
    pub(crate) const fn add(&mut self, task: usize) {
        if task < Self::TASKS {
            self.0 |= 1 << task;
        }
    }

    pub(crate) const fn has(self, task: usize) -> bool {
        task < Self::TASKS && self.0 >> task & 1 != 0
    }
}

/// All tasks of an image.
#[derive(Clone, Debug)]
pub(crate) struct Schedule {
    /// In the order of the image.
    pub(crate) tasks: Vec<ScheduledTask>,
    /// In the order of the image.
    pub(crate) resources: Vec<ScheduledResource>,
    /// Whether a scan in which nothing takes time can know at its beginning what will run: no task has SINGLE, and
    /// [`Due`] has room for all.
    pub(crate) at_once: bool,
    /// The cyclic tasks, as far as there is room for them.
    pub(crate) cyclic: Due,
    /// Where there is but one task, cyclic and without a status: its programs.
    pub(crate) plain: Option<Vec<ScheduledCall>>,
}

impl Schedule {
    /// The indices of all tasks in the order in which they go.
    pub(crate) fn turns(&self) -> impl Iterator<Item = usize> {
        self.resources.iter().flat_map(|resource| &resource.tasks).copied()
    }

    pub(crate) fn new(image: &Image) -> Self {
        let tasks: Vec<ScheduledTask> = image.tasks.iter().map(|task| scheduled(image, task)).collect();
        let resources = (0..image.resources.len().max(1)).map(|resource| {
            let own = |task: &&Task| task.resource as usize == resource;
            let mut order: Vec<(Class, usize)> = (0..)
                .zip(&image.tasks)
                .filter(|(_, task)| own(task))
                .map(|(index, task)| (class(task), index))
                .collect();
            order.sort_unstable();
            let edges = image.tasks.iter().filter(own).any(|task| task.single.is_some());
            ScheduledResource { tasks: order.into_iter().map(|(_, index)| index).collect(), edges }
        });
        let plain = match image.tasks.as_slice() {
            [task] if task.cyclic && task.status == NO_STATUS => Some(scheduled(image, task).calls),
            _ => None,
        };
        let at_once = tasks.len() <= Due::TASKS && image.tasks.iter().all(|task| task.single.is_none());
        let mut cyclic = Due::default();
        for (index, _) in (0..).zip(&image.tasks).filter(|(_, task)| task.cyclic) {
            cyclic.add(index);
        }
        Self { resources: resources.collect(), at_once, cyclic, plain, tasks }
    }
}

fn scheduled(image: &Image, task: &Task) -> ScheduledTask {
    let calls = task.programs.iter().filter_map(|call| {
        let unit = image.units.get(call.unit as usize)?;
        Some(ScheduledCall { unit: call.unit, first_instruction: unit.first_instruction, base: call.base })
    });
    ScheduledTask {
        calls: calls.collect(),
        class: class(task),
        interval_ns: task.interval_ns,
        status: task.status,
    }
}

const fn class(task: &Task) -> Class {
    Class { cyclic: task.cyclic, priority: task.priority }
}
