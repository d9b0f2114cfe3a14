//! Diagrams of departures: for each signal what a trace has above what a run has, on one time axis, around the first
//! moment at which they part, which is marked.
//!
//! Knows traces and recordings; draws nothing.

use latchwork_vm::trace::ScanRecord;
use latchwork_vm::value::Value;

use super::fold::Folding;
use super::lane::{Lane, LaneKind, Point};
use super::mark::Mark;
use super::summary::summary;
use super::words::{harmless, heading, value_text};
use super::{Diagram, DiagramRow, Group, GroupKind, RowKind, Values};
use crate::comparison::{ComparedRow, Comparison, Departure, Expected, Rules, Track};
use crate::recording::{Recording, Row};

/// Most diagrams of one comparison.
const DIAGRAMS_MAX: usize = 4;
/// Most signals in one diagram.
const SIGNALS_MAX: usize = 8;
/// Scans shown before a departure, at least.
const SCANS_BEFORE: i64 = 15;
/// Scans shown behind a departure, at least.
const SCANS_BEHIND: i64 = 25;
/// What lies further away than so many scans does not widen the time shown.
const SCANS_FAR: i64 = 30;
/// Scans of air around what the time shown is widened for.
const SCANS_AIR: i64 = 3;

/// The diagrams of all departures, the earliest first: what departs within the time shown of one diagram stands in it
/// together. Later ones beyond the fourth diagram are left out; the comparison's report has all of them.
pub fn departures<'a>(
    expected: &'a Expected,
    recording: &'a Recording,
    comparison: &Comparison,
) -> Vec<Diagram<'a>> {
    let mut departing: Vec<(&ComparedRow, &Departure)> = comparison.departures().collect();
    departing.sort_by_key(|(row, departure)| (departure.time_ns, row.track));
    let mut diagrams = Vec::new();
    while let Some((_, first)) = departing.first().copied() {
        if diagrams.len() == DIAGRAMS_MAX {
            break;
        }
        let (start_ns, end_ns) = window(first, recording, &comparison.rules);
        let mut together = Vec::new();
        departing.retain(|(row, departure)| {
            let here = departure.time_ns < end_ns && together.len() < SIGNALS_MAX;
            if here {
                together.push((*row, *departure));
            }
            !here
        });
        diagrams.push(diagram(expected, recording, comparison, &together, start_ns, end_ns));
    }
    diagrams
}

/// The time shown around a departure.
fn window(departure: &Departure, recording: &Recording, rules: &Rules) -> (i64, i64) {
    let scan = recording.scan_ns.max(1);
    let scans = |count: i64| scan.saturating_mul(count);
    let at = departure.time_ns;
    let mut start = at.saturating_sub(scans(SCANS_BEFORE));
    let mut end = at.saturating_add(scans(SCANS_BEHIND));
    let far = scans(SCANS_FAR).max(rules.shift_ns.saturating_mul(2));
    let near = |time: i64| time.abs_diff(at) <= far.unsigned_abs();
    let (expected, actual) = (&departure.expected, &departure.actual);
    let shift = rules.shift_ns;
    let shifted = [expected.since_ns.saturating_sub(shift), expected.since_ns.saturating_add(shift)];
    let times = [expected.since_ns, actual.since_ns].into_iter().chain(shifted);
    for time in times.chain(expected.until_ns).chain(actual.until_ns).filter(|time| near(*time)) {
        start = start.min(time.saturating_sub(scans(SCANS_AIR)));
        end = end.max(time.saturating_add(scans(SCANS_AIR)));
    }
    let first = recording.scans.first().map_or(0, |scan| scan.time_ns).max(rules.from_ns);
    // Columns begin with scans.
    let start = first.saturating_add((start.saturating_sub(first)).max(0) / scan * scan);
    (start, end.min(recording.end_ns).max(start))
}

fn diagram<'a>(
    expected: &'a Expected,
    recording: &'a Recording,
    comparison: &Comparison,
    departing: &[(&ComparedRow, &Departure)],
    start_ns: i64,
    end_ns: i64,
) -> Diagram<'a> {
    let from_ns = comparison.rules.from_ns;
    let mut rows = Vec::new();
    let mut marks = Vec::new();
    for (compared, departure) in departing {
        let (Some(track), Some(row)) =
            (expected.tracks.get(compared.track), recording.rows.get(compared.row))
        else {
            continue;
        };
        let mut above = expected_lane(track, expected.end_ns, from_ns, &recording.scans, start_ns, end_ns);
        let mut below = Lane::new(&row.signal.changes, &recording.scans, start_ns, end_ns);
        let (of_trace, of_run) = (above.heights(), below.heights());
        above.beside = of_run;
        below.beside = of_trace;
        let range = range(&above, &below);
        for (kind, word, lane) in [(RowKind::Expected, "expected", above), (RowKind::Actual, "actual", below)]
        {
            rows.push(compared_row(kind, word, row, &compared.name, lane, range.as_ref()));
        }
        let name = |word: &str| match departing {
            [_] => word.to_owned(),
            _ => format!("{word} {}", harmless(&compared.name)),
        };
        marks.extend(allowed(departure, &comparison.rules, &name("allowed")));
        let text = format!(
            "is {}, expected {}",
            value_text(&departure.actual.value),
            value_text(&departure.expected.value)
        );
        marks.push(Mark::moment(name("departs"), departure.time_ns, text));
    }
    let diagram = Diagram {
        title: harmless(&recording.title),
        source: harmless(&recording.source),
        start_ns,
        end_ns,
        scan_ns: recording.scan_ns,
        groups: vec![Group { kind: GroupKind::Compared, rows }],
        marks: Vec::new(),
        folding: Folding::Never,
        quiet: Vec::new(),
        summary: summary(recording),
    };
    diagram.with_marks(marks)
}

/// The time in which the change that was missed, or that came too early, was allowed; `None` if it was neither.
fn allowed(departure: &Departure, rules: &Rules, name: &str) -> Option<Mark> {
    let (expected, actual, shift) = (&departure.expected, &departure.actual, rules.shift_ns);
    let missed = departure.time_ns == expected.since_ns.saturating_add(shift);
    let lasts = |change: &i64| actual.until_ns.is_none_or(|until| until > change.saturating_sub(shift));
    let early = expected.until_ns.filter(|_| actual.since_ns == departure.time_ns).filter(lasts);
    let change = if missed { Some(expected.since_ns) } else { early };
    let change = change.filter(|_| shift > 0)?;
    let (from, until) = (change.saturating_sub(shift), change.saturating_add(shift));
    Some(Mark::span(name, from.max(rules.from_ns), until, "for the change"))
}

fn compared_row<'a>(
    kind: RowKind,
    word: &'static str,
    row: &Row,
    name: &str,
    lane: Lane,
    range: Option<&(String, String)>,
) -> DiagramRow<'a> {
    let first = lane.points.first().map(|point| &point.value);
    let mut heading = heading(&row.role, name, None, first, false);
    heading.role = word;
    heading.details.clear();
    if let Some((lowest, highest)) = range {
        heading.low.clone_from(lowest);
        heading.high.clone_from(highest);
    }
    let (lane_kind, changes) = (lane.kind, lane.changes());
    DiagramRow { kind, heading, fault: None, lane_kind, changes, values: Values::Lane(lane) }
}

/// Lowest and highest number of two lanes drawn at the same heights, as they are written.
fn range(one: &Lane, other: &Lane) -> Option<(String, String)> {
    let lanes = [one, other].into_iter();
    let numeric = |lane: &&Lane| matches!(lane.kind, LaneKind::Steps | LaneKind::Curve);
    let extremes: Vec<(&Lane, usize, usize)> = lanes
        .filter(numeric)
        .filter_map(|lane| lane.extremes().map(|(lowest, highest)| (lane, lowest, highest)))
        .collect();
    let lowest =
        extremes.iter().min_by(|(a, low, _), (b, other, _)| a.number(*low).total_cmp(&b.number(*other)))?;
    let highest =
        extremes.iter().max_by(|(a, _, high), (b, _, other)| a.number(*high).total_cmp(&b.number(*other)))?;
    Some((lowest.0.text(lowest.1), highest.0.text(highest.2)))
}

/// The lane of a track; what it says nothing about is noted.
fn expected_lane(
    track: &Track,
    trace_end_ns: i64,
    from_ns: i64,
    scans: &[ScanRecord],
    start_ns: i64,
    end_ns: i64,
) -> Lane {
    let mut points: Vec<Point> = Vec::new();
    let mut unknown: Vec<(i64, i64)> = Vec::new();
    let in_run = |time: i64| time.saturating_add(from_ns);
    let before = track.values.first().map_or(trace_end_ns, |first| first.time_ns);
    if before > 0 {
        unknown.push((in_run(0), in_run(before)));
    }
    for (index, value) in track.values.iter().enumerate() {
        let since = in_run(value.time_ns);
        let until = in_run(track.values.get(index + 1).map_or(trace_end_ns, |next| next.time_ns));
        match &value.value {
            None => unknown.push((since, until)),
            Some(known) if since < end_ns => push_point(&mut points, known, since, start_ns, scans),
            Some(_) => {}
        }
    }
    unknown.push((in_run(trace_end_ns), end_ns));
    // Something must be drawn where nothing is known; it is covered again.
    if points.is_empty()
        && let Some((since, known)) =
            track.values.iter().find_map(|value| Some((in_run(value.time_ns), value.value.as_ref()?)))
    {
        push_point(&mut points, known, since.min(start_ns), start_ns, scans);
    }
    let unknown = unknown
        .into_iter()
        .map(|(from, until)| (from.max(start_ns), until.min(end_ns)))
        .filter(|(from, until)| from < until)
        .collect();
    let kind = points.first().map_or(LaneKind::Level, |point| LaneKind::of(&point.value));
    Lane { kind, points, unknown, beside: None }
}

fn push_point(points: &mut Vec<Point>, value: &Value, since_ns: i64, start_ns: i64, scans: &[ScanRecord]) {
    // Ramps are drawn where values follow one another scan by scan.
    let scan = scans.partition_point(|scan| scan.time_ns <= since_ns).saturating_sub(1);
    let scan = u32::try_from(scan).unwrap_or(u32::MAX);
    let point = Point { time_ns: since_ns.max(start_ns), scan, value: value.clone() };
    match points.last_mut() {
        // The same again, behind a stretch of which nothing is known.
        Some(last) if last.value == *value => {}
        // Everything up to the start only decides which value is in force there.
        Some(last) if since_ns <= start_ns => *last = point,
        _ => points.push(point),
    }
}
