//! Keeping the status of tasks in the data image, as [`TaskStatus`] describes it. A task may have none, and then nothing
//! is kept.

use crate::image::{NO_STATUS, TaskStatus};
use crate::schedule::Schedule;

type Status = [u8; TaskStatus::BYTES as usize];

/// The status at an address.
#[inline]
fn status_at(data: &mut [u8], address: u32) -> Option<&mut Status> {
    if address == NO_STATUS {
        return None;
    }
    data.get_mut(address as usize..)?.first_chunk_mut()
}

#[inline]
fn member<const BYTES: usize>(status: &mut Status, offset: u32) -> Option<&mut [u8; BYTES]> {
    status.get_mut(offset as usize..)?.first_chunk_mut()
}

/// Notes the end of a release.
#[inline]
pub(super) fn end(data: &mut [u8], address: u32, response_ns: i64) {
    let Some(status) = status_at(data, address) else { return };
    count(status, TaskStatus::RUNS);
    if let Some(response) = member(status, TaskStatus::RESPONSE) {
        *response = response_ns.to_le_bytes();
    }
    if let Some(longest) = member(status, TaskStatus::LONGEST_RESPONSE) {
        *longest = i64::from_le_bytes(*longest).max(response_ns).to_le_bytes();
    }
}

/// Counts a release that is lost.
pub(super) fn lose(data: &mut [u8], address: u32) {
    if let Some(status) = status_at(data, address) {
        count(status, TaskStatus::OVERRUNS);
    }
}

/// Adds 1 to a counter of a status.
#[inline]
fn count(status: &mut Status, offset: u32) {
    if let Some(counter) = member(status, offset) {
        *counter = u32::from_le_bytes(*counter).wrapping_add(1).to_le_bytes();
    }
}

/// Notes what belongs to the scan as a whole: for each task whether it ran, whether a release waits, and how many
/// instructions it executed.
#[inline]
pub(super) fn write_all(
    data: &mut [u8],
    schedule: &Schedule,
    tasks: impl Iterator<Item = (bool, bool, u64)>,
) {
    for (task, (ran, waits, instructions)) in schedule.tasks.iter().zip(tasks) {
        let Some(status) = status_at(data, task.status) else { continue };
        if let Some(flag) = member(status, TaskStatus::RAN) {
            *flag = [u8::from(ran)];
        }
        if let Some(flag) = member(status, TaskStatus::WAITING) {
            *flag = [u8::from(waits)];
        }
        if let Some(sum) = member(status, TaskStatus::INSTRUCTIONS) {
            *sum = u32::try_from(instructions).unwrap_or(u32::MAX).to_le_bytes();
        }
    }
}
