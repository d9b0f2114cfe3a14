//! Where a run and the one that is expected part: row by row, over the time that both have.
//!
//! Both runs go through the same procedure, so they can be laid on one another as they are. A whole number, a level or a
//! text differs when it is another one. A real number differs when it is further off than [`SHARE_WITHIN`] of what the
//! expected one ever covers: measured values are never quite the same.

use std::cmp::Ordering;

use latchwork_vm::{SignalKind, Value};

use crate::{
    diagram::{
        lane::Lane,
        words::{value_number, value_text},
    },
    recording::{Recording, Role, Row},
};

/// Real numbers differ if they are further apart than this share of the range of the expected one.
const SHARE_WITHIN: f64 = 0.01;

/// A row of a run and the same of the one that is expected, by their places in the recordings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Pair {
    pub(super) row: usize,
    pub(super) expected: usize,
}

/// A stretch of time in which a row is not as expected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Parting {
    /// The row, by its place in the run that is expected.
    pub(super) expected: usize,
    /// Since when, in nanoseconds from the start of the run.
    pub(super) since_ns: i64,
    /// Until when; `None` if one of the runs ends before that is seen.
    pub(super) until_ns: Option<i64>,
    /// What it is then, and what it should be.
    pub(super) values: (Value, Value),
    /// Whether no row that is looked at differed before.
    pub(super) is_first: bool,
}

/// The rows that both runs have: devices by their name; loads by theirs, or by an output that they are wired to.
pub(super) fn pairs(run: &Recording, expected: &Recording) -> Vec<Pair> {
    let mut pairs: Vec<Pair> = Vec::new();
    for (row, of_run) in run.rows.iter().enumerate() {
        for (index, other) in expected.rows.iter().enumerate() {
            // Two names of one output are one load.
            if same(of_run, other) && pairs.iter().all(|pair| pair.expected != index) {
                pairs.push(Pair { row, expected: index });
            }
        }
    }
    pairs
}

/// Whether a row of a run shows the device or load of a row that is expected.
fn same(row: &Row, expected: &Row) -> bool {
    let name = &expected.signal.name;
    let named = row.signal.name.eq_ignore_ascii_case(name);
    match (&row.role, &expected.role) {
        (Role::Device { .. }, Role::Device { .. }) => named,
        // What an output says to an analog load is no measure of what the load does.
        (Role::Output { load: Some(loads), .. }, Role::Output { .. }) => {
            named || (row.signal.kind == SignalKind::Bool && is_among(loads, name))
        }
        _ => false,
    }
}

/// Whether a load is among those of an output, as a row calls them: "H1 lamp; P1 motor".
fn is_among(loads: &str, name: &str) -> bool {
    let first =
        |load: &str| load.split([' ', ',']).next().is_some_and(|word| word.eq_ignore_ascii_case(name));
    loads.split("; ").any(first)
}

/// The parting that a failure is about: the one that is still there at that time, and began first; else the first one
/// since the step began to look.
pub(super) fn decisive(
    run: &Recording,
    expected: &Recording,
    pairs: &[Pair],
    since_ns: i64,
    failed_ns: i64,
) -> Option<Parting> {
    let mut all: Vec<Parting> = pairs.iter().flat_map(|pair| partings(run, expected, *pair)).collect();
    // Those that begin together in the order of the rows.
    all.sort_by_key(|parting| (parting.since_ns, parting.expected));
    let first_ns = all.first()?.since_ns;
    let until = |parting: &Parting| parting.until_ns.unwrap_or(i64::MAX);
    let there = all.iter().find(|parting| parting.since_ns <= failed_ns && failed_ns < until(parting));
    let later = || all.iter().find(|parting| until(parting) > since_ns && parting.since_ns <= failed_ns);
    let mut found = there.or_else(later)?.clone();
    found.is_first = found.since_ns == first_ns;
    Some(found)
}

/// The stretches in which a row is not as expected, in rising order and apart.
fn partings(run: &Recording, expected: &Recording, pair: Pair) -> Vec<Parting> {
    let (Some(row), Some(other)) = (run.rows.get(pair.row), expected.rows.get(pair.expected)) else {
        return Vec::new();
    };
    let first = |recording: &Recording| recording.scans.first().map(|scan| scan.time_ns);
    let (Some(start), Some(other_start)) = (first(run), first(expected)) else { return Vec::new() };
    let (start, end) = (start.max(other_start), run.end_ns.min(expected.end_ns));
    if start >= end {
        return Vec::new();
    }
    let here = Lane::new(&row.signal.changes, &run.scans, start, end);
    let there = Lane::new(&other.signal.changes, &expected.scans, start, end);
    let within = within(&there);
    let mut found: Vec<Parting> = Vec::new();
    let (mut at, mut other_at) = (0, 0);
    let (mut time, mut open) = (start, false);
    while let (Some(point), Some(other)) = (here.points.get(at), there.points.get(other_at)) {
        let differs = differ(&point.value, &other.value, within);
        match (differs, open) {
            (true, false) => found.push(Parting {
                expected: pair.expected,
                since_ns: time,
                until_ns: None,
                values: (point.value.clone(), other.value.clone()),
                is_first: false,
            }),
            (false, true) => {
                if let Some(last) = found.last_mut() {
                    last.until_ns = Some(time);
                }
            }
            _ => {}
        }
        open = differs;
        // On to whatever changes next; both at once if they change together.
        let next = here.points.get(at + 1).map(|point| point.time_ns);
        let other_next = there.points.get(other_at + 1).map(|point| point.time_ns);
        let order = match (next, other_next) {
            (None, None) => break,
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (Some(next), Some(other_next)) => next.cmp(&other_next),
        };
        time = next.into_iter().chain(other_next).min().unwrap_or(end);
        at += usize::from(order.is_le());
        other_at += usize::from(order.is_ge());
    }
    found
}

/// How far real numbers may be apart from those of a lane that is expected.
pub(super) fn within(lane: &Lane) -> f64 {
    lane.heights().map_or(0.0, |(lowest, highest)| (highest - lowest).abs() * SHARE_WITHIN)
}

/// Whether two values are not the same.
pub(super) fn differ(one: &Value, other: &Value, within: f64) -> bool {
    match (one, other) {
        (Value::Real(_) | Value::Lreal(_), Value::Real(_) | Value::Lreal(_)) => {
            let (Some(one), Some(other)) = (value_number(one), value_number(other)) else { return false };
            // What is no number differs from every number, and not from another one that is none.
            if one.is_nan() || other.is_nan() {
                one.is_nan() != other.is_nan()
            } else {
                (one - other).abs() > within
            }
        }
        // An analog load reads LREAL whatever the type of the output; a level and an output are both BOOL.
        (one, other) => match (value_number(one), value_number(other)) {
            (Some(one), Some(other)) => one != other,
            _ => value_text(one) != value_text(other),
        },
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a failing test may panic")]
mod tests {
    use latchwork_vm::{Section, Signal, trace::Change, trace::ScanRecord};
    use proptest::prelude::*;

    use super::*;

    const SCAN_NS: i64 = 10;

    /// A recording of one load with a value a scan, from a scan on.
    fn recording(first: usize, values: &[Value]) -> Recording {
        let mut changes: Vec<Change> = Vec::new();
        for (scan, value) in (0u32..).zip(values) {
            if changes.last().is_none_or(|last| last.value != *value) {
                changes.push(Change { scan, value: value.clone() });
            }
        }
        let signal = Signal {
            name: "H1".to_owned(),
            kind: SignalKind::Bool,
            location: None,
            section: Section::Local,
            changes: changes.into(),
        };
        let time = |scan: usize| (first + scan) as i64 * SCAN_NS;
        Recording {
            scan_ns: SCAN_NS,
            end_ns: time(values.len()),
            scans: (0..values.len())
                .map(|scan| ScanRecord { time_ns: time(scan), instructions: 0 })
                .collect(),
            rows: vec![Row { role: Role::Output { load: None, unit: None }, signal, asked: None }],
            ..Recording::default()
        }
    }

    fn levels(text: &str) -> Vec<Value> {
        text.chars().map(|level| Value::Bool(level == '1')).collect()
    }

    fn decided(run: &str, expected: &str, since: i64, failed: i64) -> Option<(i64, Option<i64>, bool)> {
        let (run, expected) = (recording(0, &levels(run)), recording(0, &levels(expected)));
        let pairs = vec![Pair { row: 0, expected: 0 }];
        decisive(&run, &expected, &pairs, since * SCAN_NS, failed * SCAN_NS).map(|found| {
            (found.since_ns / SCAN_NS, found.until_ns.map(|until| until / SCAN_NS), found.is_first)
        })
    }

    #[test]
    fn the_one_that_is_there_decides() {
        assert_eq!(decided("0010110000", "0000111100", 4, 7), Some((6, Some(8), false)));
        assert_eq!(decided("0000000", "0011111", 2, 4), Some((2, None, true)));
        // It came and went since the step looked.
        assert_eq!(decided("00100000", "00000000", 1, 6), Some((2, Some(3), true)));
        // It was over before that.
        assert_eq!(decided("01000000", "00000000", 4, 6), None);
        assert_eq!(decided("0101", "0101", 0, 3), None);
        assert_eq!(decided("", "0101", 0, 3), None);
    }

    #[test]
    fn real_numbers_are_never_quite_the_same() {
        assert!(!differ(&Value::Lreal(50.0), &Value::Lreal(50.4), 0.5));
        assert!(differ(&Value::Lreal(50.0), &Value::Lreal(51.0), 0.5));
        assert!(differ(&Value::Lreal(f64::NAN), &Value::Lreal(51.0), 1e9));
        assert!(!differ(&Value::Lreal(f64::NAN), &Value::Lreal(f64::NAN), 0.0));
    }

    #[test]
    fn a_load_is_found_among_those_of_an_output() {
        assert!(is_among("H1 lamp; P1 motor", "p1") && is_among("P1, open wire", "P1"));
        assert!(!is_among("H11 lamp; P1 motor", "H1") && !is_among("", "H1"));
    }

    proptest! {
        /// The stretches are those that a comparison scan by scan finds.
        #[test]
        fn partings_are_those_of_all_scans(
            first in 0usize..4,
            run in prop::collection::vec(any::<bool>(), 0..30),
            expected in prop::collection::vec(any::<bool>(), 0..30),
        ) {
            let values = |levels: &[bool]| levels.iter().map(|level| Value::Bool(*level)).collect::<Vec<_>>();
            let found = partings(
                &recording(first, &values(&run)),
                &recording(0, &values(&expected)),
                Pair { row: 0, expected: 0 },
            );
            let end = (first + run.len()).min(expected.len());
            for scan in first..end {
                let time = scan as i64 * SCAN_NS;
                let within = found.iter().filter(|parting| {
                    parting.since_ns <= time && parting.until_ns.is_none_or(|until| time < until)
                });
                prop_assert_eq!(within.count(), usize::from(run[scan - first] != expected[scan]));
            }
            prop_assert!(found.iter().all(|parting| parting.since_ns < end as i64 * SCAN_NS));
        }
    }
}
