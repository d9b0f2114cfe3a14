//! Keeping the status of tasks in the data image, as [`TaskStatus`] describes it.

use super::Machine;
use crate::image::{NO_STATUS, Task, TaskStatus};
use crate::program::Program;

impl Machine {
    /// Notes the end of a release.
    pub(super) fn end(&mut self, program: &Program, index: usize, response_ns: i64) {
        let Some(task) = program.image().tasks.get(index).filter(|task| task.status != NO_STATUS) else {
            return;
        };
        self.count(task, TaskStatus::RUNS);
        let longest = task.status as usize + TaskStatus::LONGEST_RESPONSE as usize;
        let before = self.data.get(longest..longest + 8).and_then(|bytes| bytes.try_into().ok());
        let longest_ns = i64::from_le_bytes(before.unwrap_or_default()).max(response_ns);
        self.put_status(task, TaskStatus::RESPONSE, &response_ns.to_le_bytes());
        self.put_status(task, TaskStatus::LONGEST_RESPONSE, &longest_ns.to_le_bytes());
    }

    /// Adds 1 to a counter of a status.
    pub(super) fn count(&mut self, task: &Task, offset: u32) {
        let start = task.status as usize + offset as usize;
        let before = self.data.get(start..start + 4).and_then(|bytes| bytes.try_into().ok());
        let count = u32::from_le_bytes(before.unwrap_or_default()).wrapping_add(1);
        self.put_status(task, offset, &count.to_le_bytes());
    }

    pub(super) fn put_status(&mut self, task: &Task, offset: u32, bytes: &[u8]) {
        if task.status == NO_STATUS {
            return;
        }
        let start = task.status as usize + offset as usize;
        if let Some(target) = self.data.get_mut(start..start + bytes.len()) {
            target.copy_from_slice(bytes);
        }
    }

    /// Notes what belongs to the scan as a whole.
    pub(super) fn write_statuses(&mut self, program: &Program) {
        for (index, task) in program.image().tasks.iter().enumerate() {
            if task.status == NO_STATUS {
                continue;
            }
            let (pieces, instructions) = self.tasks.sums.get(index).copied().unwrap_or_default();
            let waiting = self.tasks.release(index).is_some();
            let instructions = u32::try_from(instructions).unwrap_or(u32::MAX);
            self.put_status(task, TaskStatus::RAN, &[u8::from(pieces > 0)]);
            self.put_status(task, TaskStatus::WAITING, &[u8::from(waiting)]);
            self.put_status(task, TaskStatus::INSTRUCTIONS, &instructions.to_le_bytes());
        }
    }
}
