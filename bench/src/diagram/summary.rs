//! A whole recording in figures.

use crate::recording::{Recording, Role};

/// A recording in figures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Summary {
    /// Number of scans.
    pub scans: usize,
    /// Number of rows that are outputs.
    pub outputs: usize,
    /// Changes of these outputs after the first scan.
    pub output_changes: usize,
    /// Most instructions that a scan took; `None` without scans.
    pub instructions_max: Option<u64>,
}

impl Summary {
    /// The figures as a sentence.
    pub fn sentence(&self) -> String {
        let Some(instructions) = self.instructions_max else { return "No scan was recorded.".to_owned() };
        let outputs = match self.outputs {
            0 => String::new(),
            outputs => format!(
                ", {} on {}",
                counted(self.output_changes as u64, "change"),
                counted(outputs as u64, "output")
            ),
        };
        format!(
            "{}{outputs}, longest scan {}.",
            counted(self.scans as u64, "scan"),
            counted(instructions, "instruction")
        )
    }
}

/// "1 change", "2 changes".
pub fn counted(count: u64, noun: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{plural}")
}

/// The figures of a whole recording.
pub(super) fn summary(recording: &Recording) -> Summary {
    let outputs = || recording.rows.iter().filter(|row| matches!(row.role, Role::Output { .. }));
    Summary {
        scans: recording.scans.len(),
        outputs: outputs().count(),
        output_changes: outputs().map(|row| row.signal.changes.len().saturating_sub(1)).sum(),
        instructions_max: recording.scans.iter().map(|scan| scan.instructions).max(),
    }
}
