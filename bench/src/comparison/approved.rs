//! The approved trace of a procedure: what a run did, as a table to hold later runs against.
//!
//! Only the rows that are compared, and only what changes: a first row with all values, a row for each time at which
//! something changes, a last one that says where the trace ends. The same run gives the same bytes.

use std::fmt::Write as _;

use latchwork_vm::Change;

use super::{Subject, agreement::Piece, compare::actual_pieces};
use crate::{
    diagram::{scale::decimal, words::harmless},
    export::push_cell,
    recording::Recording,
};

/// One millisecond in nanoseconds.
const MILLISECOND: i64 = 1_000_000;

/// The trace of these signals from `from_ns` of a run on. `title` is that of the procedure. A signal that was not
/// recorded has an empty column.
pub fn approved(recording: &Recording, subjects: &[Subject], from_ns: i64, title: &str) -> String {
    let mut output = format!("# what '{}' did when it was approved\ntime", harmless(title));
    let mut changes: Vec<Vec<Change>> = Vec::with_capacity(subjects.len());
    for subject in subjects {
        output.push(',');
        push_cell(&mut output, subject.name());
        let row = recording.rows.iter().find(|row| subject.is_row(row));
        changes.push(row.map(|row| row.signal.changes.iter().collect()).unwrap_or_default());
    }
    output.push('\n');
    let pieces = |changes| actual_pieces(changes, &recording.scans, from_ns);
    let columns: Vec<Vec<Piece<'_>>> = changes.iter().map(|changes| pieces(changes)).collect();
    let end_ns = recording.end_ns.saturating_sub(from_ns).max(0);
    // For each column the next value to come.
    let mut next: Vec<usize> = vec![0; columns.len()];
    loop {
        let due = |(column, next): (&Vec<Piece<'_>>, &usize)| column.get(*next).map(|piece| piece.time_ns);
        let times = columns.iter().zip(&next).filter_map(due);
        let Some(time_ns) = times.min().filter(|time_ns| *time_ns < end_ns) else { break };
        output.push_str(&decimal(time_ns, MILLISECOND));
        for (column, next) in columns.iter().zip(&mut next) {
            output.push(',');
            if let Some(piece) = column.get(*next).filter(|piece| piece.time_ns == time_ns) {
                *next += 1;
                if let Some(value) = piece.value {
                    let mut literal = String::new();
                    // Writing into a string cannot fail.
                    let _ = write!(literal, "{value}");
                    push_cell(&mut output, &literal);
                }
            }
        }
        output.push('\n');
    }
    output.push_str(&decimal(end_ns, MILLISECOND));
    output.push_str(&",".repeat(columns.len()));
    output.push('\n');
    output
}
