//! What a picture shows, as a table: for those who do not see it, and to read a value off exactly.

use latchwork_vm::Value;

use super::{
    model::{Table, Text},
    parting::{Pair, differ, within},
};
use crate::{
    diagram::{
        Diagram,
        lane::{Lane, LaneKind},
        scale::time_text,
        words::{Heading, harmless, heading, value_text},
    },
    recording::{Recording, Row},
};

/// Most lines of one table.
pub(super) const LINES_MAX: usize = 40;

/// What one row has, in the time shown.
struct Column<'a> {
    name: String,
    heading: Heading,
    run: Option<Lane>,
    expected: Option<&'a Lane>,
    /// The end of what is known of the run that is expected.
    known_until_ns: i64,
    /// How far real numbers may be apart.
    within: f64,
}

/// A change of a row of one of the two runs.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Change {
    time_ns: i64,
    row: usize,
}

/// The values at the start of the time shown, and every change in it, in the order of time, with how many lines are left
/// out. `shown` are the rows of the run that is expected which stand in the picture.
pub(super) fn changes(
    diagram: &Diagram<'_>,
    run: &Recording,
    expected: Option<&Recording>,
    pairs: &[Pair],
    shown: &[usize],
) -> (Table, usize) {
    let (start_ns, end_ns) = (diagram.start_ns, diagram.end_ns);
    let lane = |row: &Row, of: &Recording| Lane::new(&row.signal.changes, &of.scans, start_ns, end_ns);
    let lanes: Vec<Lane> = expected
        .map_or_else(Vec::new, |expected| expected.rows.iter().map(|row| lane(row, expected)).collect());
    let known_until_ns = expected.map_or(end_ns, |expected| expected.end_ns);
    let names: Vec<String> = diagram.rows().map(|row| row.heading.name.clone()).collect();
    let mut columns = Vec::new();
    for (index, row) in run.rows.iter().enumerate() {
        let pair = pairs.iter().find(|pair| pair.row == index);
        let own = lane(row, run);
        let first = own.points.first().map(|point| &point.value);
        let heading = heading(&row.role, row.name(), None, first, false);
        columns.push(Column {
            // The picture leaves out the name of the only program.
            name: names.get(index).cloned().unwrap_or_else(|| harmless(row.name())),
            heading,
            expected: pair.and_then(|pair| lanes.get(pair.expected)),
            run: Some(own),
            known_until_ns,
            within: pair.and_then(|pair| lanes.get(pair.expected)).map_or(0.0, within),
        });
    }
    let alone = shown.iter().filter(|index| pairs.iter().all(|pair| pair.expected != **index));
    for index in alone {
        let Some((row, lane)) = expected.and_then(|all| all.rows.get(*index)).zip(lanes.get(*index)) else {
            continue;
        };
        let first = lane.points.first().map(|point| &point.value);
        columns.push(Column {
            name: harmless(row.name()),
            heading: heading(&row.role, row.name(), None, first, false),
            run: None,
            expected: Some(lane),
            known_until_ns,
            within: 0.0,
        });
    }
    let mut moments = moments(&columns, start_ns);
    let left_out = moments.len().saturating_sub(LINES_MAX);
    moments.truncate(LINES_MAX);
    let rows = moments.iter().filter_map(|change| Some(line(*change, columns.get(change.row)?)));
    let mut head = vec!["time", "row", "your program"];
    if expected.is_some() {
        head.extend(["expected", "the same?"]);
    }
    let width = head.len();
    let rows = rows.map(|mut row: Vec<Text>| {
        row.truncate(width);
        row
    });
    let table = Table {
        label: "Values in the order of time".to_owned(),
        rows: rows.collect(),
        head: head.into_iter().map(Text::new).collect(),
    };
    (table, left_out)
}

/// The start for every row, and every change; of a number that moves in every scan, where it begins and where it stops.
fn moments(columns: &[Column<'_>], start_ns: i64) -> Vec<Change> {
    let mut moments: Vec<Change> = (0..columns.len()).map(|row| Change { time_ns: start_ns, row }).collect();
    for (row, column) in columns.iter().enumerate() {
        let own = column.run.iter().flat_map(times);
        let expected = column.expected.into_iter().flat_map(times);
        let expected = expected.filter(|time| *time < column.known_until_ns);
        let changed = own.chain(expected).filter(|time| *time > start_ns);
        moments.extend(changed.map(|time_ns| Change { time_ns, row }));
    }
    moments.sort_unstable();
    moments.dedup();
    moments
}

/// When the values of a lane change.
fn times(lane: &Lane) -> Vec<i64> {
    let points = &lane.points;
    let scan = |index: usize| points.get(index).map(|point| point.scan);
    let moves = |index: usize| {
        let here = scan(index);
        let before = index.checked_sub(1).and_then(scan);
        let beside = |one: Option<u32>, other: Option<u32>| {
            one.zip(other).is_some_and(|(one, other)| one.checked_add(1) == Some(other))
        };
        lane.kind != LaneKind::Level && beside(before, here) && beside(here, scan(index + 1))
    };
    let indices = (0..points.len()).filter(|index| !moves(*index));
    indices.filter_map(|index| points.get(index).map(|point| point.time_ns)).collect()
}

fn line(change: Change, column: &Column<'_>) -> Vec<Text> {
    let time_ns = change.time_ns;
    let own = column.run.as_ref().and_then(|lane| value_at(lane, time_ns));
    let known = time_ns < column.known_until_ns;
    let expected = column.expected.filter(|_| known).and_then(|lane| value_at(lane, time_ns));
    let word =
        |value: Option<&Value>| value.map_or_else(|| "–".to_owned(), |value| spoken(value, &column.heading));
    let same = match (own, expected) {
        (Some(own), Some(expected)) if differ(own, expected, column.within) => Text::default().strong("≠ no"),
        (Some(_), Some(_)) => Text::new("yes"),
        _ => Text::new("–"),
    };
    vec![
        Text::new(time_text(time_ns)),
        Text::default().code(column.name.as_str()),
        Text::new(word(own)),
        Text::new(word(expected)),
        same,
    ]
}

/// The value in force at a time.
fn value_at(lane: &Lane, time_ns: i64) -> Option<&Value> {
    let behind = lane.points.partition_point(|point| point.time_ns <= time_ns);
    lane.points.get(behind.max(1) - 1).map(|point| &point.value)
}

/// A value as the picture calls it: the word of its level, or the literal.
pub(super) fn spoken(value: &Value, heading: &Heading) -> String {
    match value {
        Value::Bool(true) => heading.high.clone(),
        Value::Bool(false) => heading.low.clone(),
        value => value_text(value),
    }
}
