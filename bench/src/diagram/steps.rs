//! Bands of a sequential function chart: which steps were active, each band one after the other. Steps that are active
//! at the same time stand in bands of their own.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_vm::{Value, trace::ScanRecord};

use super::{
    DiagramRow, RowKind, Values,
    lane::{Lane, LaneKind, Point},
    words::{Heading, harmless},
};
use crate::recording::ChartRecord;

/// A step or none, from a scan on.
struct Turn {
    scan: u32,
    step: Option<usize>,
}

/// The bands of a chart over `start_ns..end_ns`, as rows; at least one.
pub(super) fn bands<'a>(
    chart: &ChartRecord,
    scans: &[ScanRecord],
    start_ns: i64,
    end_ns: i64,
) -> Vec<DiagramRow<'a>> {
    let turns = turns(chart, scans, end_ns);
    let lane = |band: &Vec<Turn>| lane(chart, band, scans, start_ns);
    let lanes: Vec<Lane> = turns.iter().map(lane).collect();
    // A band in which nothing is active in the time shown says nothing, unless it is the only one.
    let silent = |lane: &Lane| lane.points.iter().all(Point::is_nothing);
    let shown = lanes.into_iter().enumerate().filter(|(index, lane)| *index == 0 || !silent(lane));
    shown.enumerate().map(|(place, (_, lane))| row(chart, place, lane)).collect()
}

fn row<'a>(chart: &ChartRecord, place: usize, lane: Lane) -> DiagramRow<'a> {
    let name = harmless(&chart.name);
    let detail = if place == 0 { "active step" } else { "also active" };
    let heading = Heading { name, role: "steps", details: vec![detail.to_owned()], ..Heading::default() };
    DiagramRow {
        kind: RowKind::Step,
        heading,
        fault: None,
        lane_kind: LaneKind::Boxes,
        changes: lane.changes(),
        values: Values::Lane(lane),
    }
}

/// The steps in bands. One that becomes active takes the first band that is free, so that a sequence stays in its band.
fn turns(chart: &ChartRecord, scans: &[ScanRecord], end_ns: i64) -> Vec<Vec<Turn>> {
    let mut by_scan: BTreeMap<u32, Vec<(usize, bool)>> = BTreeMap::new();
    for (step, (_, changes)) in chart.steps.iter().enumerate() {
        for change in changes {
            by_scan.entry(change.scan).or_default().push((step, change.value == Value::Bool(true)));
        }
    }
    let mut bands: Vec<Vec<Turn>> = vec![Vec::new()];
    let mut free: BTreeSet<usize> = BTreeSet::from([0]);
    let mut taken: BTreeMap<usize, usize> = BTreeMap::new();
    for (scan, changes) in by_scan {
        let time = usize::try_from(scan).ok().and_then(|scan| scans.get(scan));
        if scan > 0 && time.is_none_or(|record| record.time_ns >= end_ns) {
            break;
        }
        let mut turned: BTreeMap<usize, Option<usize>> = BTreeMap::new();
        for (step, _) in changes.iter().filter(|(_, active)| !active) {
            if let Some(band) = taken.remove(step) {
                free.insert(band);
                turned.insert(band, None);
            }
        }
        for (step, _) in changes.iter().filter(|(_, active)| *active) {
            let band = free.pop_first().unwrap_or(bands.len());
            if band == bands.len() {
                bands.push(Vec::new());
            }
            taken.insert(*step, band);
            turned.insert(band, Some(*step));
        }
        for (band, step) in turned {
            if let Some(band) = bands.get_mut(band) {
                band.push(Turn { scan, step });
            }
        }
    }
    bands
}

/// The lane of one band: enumeration values named like the steps, one without a name where none is active.
fn lane(chart: &ChartRecord, band: &[Turn], scans: &[ScanRecord], start_ns: i64) -> Lane {
    let none = || Value::Enumeration { value: -1, name: Some(String::new()) };
    let mut points = vec![Point { time_ns: start_ns, scan: 0, value: none() }];
    for turn in band {
        let value = turn.step.and_then(|step| {
            let (name, _) = chart.steps.get(step)?;
            Some(Value::Enumeration { value: i32::try_from(step).ok()?, name: Some(name.clone()) })
        });
        let value = value.unwrap_or_else(none);
        let time =
            usize::try_from(turn.scan).ok().and_then(|scan| scans.get(scan)).map_or(0, |scan| scan.time_ns);
        let point = Point { time_ns: time.max(start_ns), scan: turn.scan, value };
        match points.last_mut() {
            Some(last) if last.value == point.value => {}
            // Everything up to the start only decides which step is active there.
            Some(last) if time <= start_ns => *last = point,
            _ => points.push(point),
        }
    }
    Lane { kind: LaneKind::Boxes, points, unknown: Vec::new(), beside: None }
}
