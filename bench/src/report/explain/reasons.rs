//! Reasons: why a row has its value, at each of its changes.

use super::{Evidence, Fragments};
use crate::{
    reasons::{self, DEPTH, Reasoner},
    recording::{Recording, Role, Row},
};

/// The reasons of all rows of the program.
pub(super) fn reasons(evidence: Evidence<'_>, recording: &Recording, bytes_max: usize) -> Fragments {
    let Evidence { account, program, station, sources } = evidence;
    let (scan_ns, recorded) = (recording.scan_ns, Some(recording));
    let known = reasons::Evidence { account, program, station, recording: recorded, sources, scan_ns };
    let reasoner = Reasoner::new(known);
    let mut fragments = Fragments::new("reasons", "Why", bytes_max);
    let of_program =
        |row: &Row| matches!(row.role, Role::Output { .. } | Role::Terminal { .. } | Role::Variable);
    let rows: Vec<(usize, &Row)> =
        recording.rows.iter().enumerate().filter(|(_, row)| of_program(row)).collect();
    for (place, (index, row)) in rows.iter().enumerate() {
        fragments.share(rows.len() - place);
        let mut begins = begins(row).peekable();
        while let Some(begin) = begins.next() {
            let end = begins.peek().copied().unwrap_or(account.scans());
            // What nobody can answer is no reason to say nothing of the other changes.
            let Ok(explanation) = reasoner.reason(&row.signal.name, begin, DEPTH) else { continue };
            if !fragments.add(*index, begin..end, [reasons::markup(&explanation)]) {
                fragments.leave_out();
                break;
            }
        }
    }
    fragments
}

/// The changes of a row; of those that follow one another from scan to scan the first and the last.
fn begins(row: &Row) -> impl Iterator<Item = u32> + '_ {
    let changes = &row.signal.changes;
    let mut last: Option<u32> = None;
    changes.iter().map(|change| change.scan).filter(move |scan| {
        let follows = last.is_some_and(|last| last.checked_add(1) == Some(*scan));
        last = Some(*scan);
        let goes_on =
            || changes.after(*scan).next().is_some_and(|next| Some(next.scan) == scan.checked_add(1));
        !(follows && goes_on())
    })
}
