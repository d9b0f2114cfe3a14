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

/// All tasks of an image.
#[derive(Clone, Debug)]
pub(crate) struct Schedule {
    /// In the order of the image.
    pub(crate) tasks: Vec<ScheduledTask>,
    /// In the order of the image.
    pub(crate) resources: Vec<ScheduledResource>,
    /// Where there is but one task, cyclic and without a status: its programs.
    pub(crate) plain: Option<Vec<ScheduledCall>>,
}

impl Schedule {
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
        Self { resources: resources.collect(), plain, tasks }
    }
}

fn scheduled(image: &Image, task: &Task) -> ScheduledTask {
    let calls = task.programs.iter().filter_map(|call| {
        let unit = image.units.get(call.unit as usize)?;
        Some(ScheduledCall { unit: call.unit, first_instruction: unit.first_instruction, base: call.base })
    });
    ScheduledTask { calls: calls.collect(), class: class(task) }
}

const fn class(task: &Task) -> Class {
    Class { cyclic: task.cyclic, priority: task.priority }
}
