//! What a process takes, as its system tells.

use std::fs;

/// The most memory that a running process took so far, in bytes; `None` where the system does not tell.
pub fn most_memory(process: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<u64>().ok().map(|kilobytes| kilobytes * 1024)
}
