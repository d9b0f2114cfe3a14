//! The rows of a page: those of the recording, then the active steps of charts.

use std::borrow::Cow;

use latchwork_vm::trace::{Change, Changes, SignalKind};

use crate::{
    diagram::{Diagram, DiagramRow, RowKind},
    recording::Recording,
};

/// A row with what is said of it.
pub(super) struct ShownRow<'a> {
    /// What stands beside it.
    pub(super) drawn: &'a DiagramRow<'a>,
    /// Its group in the diagram.
    pub(super) group: usize,
    /// The full name.
    pub(super) full: &'a str,
    pub(super) kind: SignalKind,
    pub(super) changes: Cow<'a, Changes>,
}

/// The rows of a diagram of this recording, whole.
pub(super) fn shown_rows<'a>(recording: &'a Recording, diagram: &'a Diagram<'a>) -> Vec<ShownRow<'a>> {
    let mut recorded = recording.rows.iter();
    let groups = diagram.groups.iter().enumerate();
    let drawn = groups.flat_map(|(group, it)| it.rows.iter().map(move |row| (group, row)));
    drawn
        .filter_map(|(group, drawn)| {
            if drawn.kind == RowKind::Step {
                let points = drawn.lane().into_owned().points.into_iter();
                let changes = points.map(|point| Change { scan: point.scan, value: point.value }).collect();
                let full = drawn.heading.name.as_str();
                return Some(ShownRow {
                    drawn,
                    group,
                    full,
                    kind: SignalKind::Enumeration,
                    changes: Cow::Owned(changes),
                });
            }
            let signal = &recorded.next()?.signal;
            let changes = Cow::Borrowed(&signal.changes);
            Some(ShownRow { drawn, group, full: &signal.name, kind: signal.kind, changes })
        })
        .collect()
}
