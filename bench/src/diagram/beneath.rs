//! Rows of another run beneath those of a run, on the same time axis: what was expected there.

use super::{
    Diagram, DiagramRow, Group, GroupKind, RowKind, Values,
    fold::QuietSearch,
    lane::{Lane, LaneKind},
    words::heading,
};
use crate::recording::{Recording, Row};

impl Diagram<'_> {
    /// The diagram with these rows of the run that was expected beneath its own. Of the time behind the end of that run
    /// nothing is known. Where one of these rows changes nothing gets folded.
    #[must_use]
    pub(crate) fn with_expected(mut self, expected: &Recording, rows: &[usize]) -> Self {
        let (start_ns, end_ns) = (self.start_ns, self.end_ns);
        let kept = std::mem::take(&mut self.quiet);
        let mut quiet = QuietSearch::among(kept, self.folding, start_ns, end_ns, self.scan_ns);
        let mut drawn = Vec::new();
        for row in rows.iter().filter_map(|index| expected.rows.get(*index)) {
            let lane = lane_until_end(row, expected, start_ns, end_ns);
            quiet.row(row.name(), &lane);
            drawn.push(expected_row(row, lane));
        }
        self.quiet = quiet.finish();
        if !drawn.is_empty() {
            self.groups.push(Group { kind: GroupKind::Expected, rows: drawn });
        }
        self
    }
}

/// The values of a row; behind the end of its run nothing is known.
fn lane_until_end(row: &Row, run: &Recording, start_ns: i64, end_ns: i64) -> Lane {
    let mut lane = Lane::new(&row.signal.changes, &run.scans, start_ns, end_ns);
    if run.end_ns < end_ns {
        lane.unknown.push((run.end_ns.max(start_ns), end_ns));
    }
    lane
}

fn expected_row<'a>(row: &Row, lane: Lane) -> DiagramRow<'a> {
    let first = lane.points.first().map(|point| &point.value);
    let mut heading = heading(&row.role, row.name(), None, first, false);
    heading.role = "expected";
    // What it is stands beside the row of the run above.
    heading.details.clear();
    if matches!(lane.kind, LaneKind::Steps | LaneKind::Curve)
        && let Some((lowest, highest)) = lane.extremes()
    {
        heading.low = lane.label(lowest);
        heading.high = lane.label(highest);
    }
    let (lane_kind, changes) = (lane.kind, lane.changes());
    DiagramRow {
        kind: RowKind::Expected,
        heading,
        fault: None,
        lane_kind,
        changes,
        values: Values::Lane(lane),
    }
}
