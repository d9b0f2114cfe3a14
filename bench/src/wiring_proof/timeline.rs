//! The states of devices and loads over the scans of a run, and two runs laid beside one another.

use std::collections::BTreeSet;

use latchwork_vm::{Value, trace::Change};

use crate::{recording::Recording, station::Station};

/// Devices and loads over the scans of a run.
#[derive(Clone, Debug)]
pub(super) struct Timeline {
    pub(super) scans: u32,
    pub(super) scan_ns: i64,
    devices: Vec<Vec<Change>>,
    loads: Vec<Vec<Change>>,
    /// The first scans that see something that was done: to a device, by a restart, a fault that a step places, a variable
    /// that it sets; 0 at the front.
    pub(super) acts: Vec<u32>,
}

/// What a recording must hold for a timeline.
pub(super) fn names(station: &Station) -> Vec<String> {
    let devices = station.devices.iter().map(|device| device.name.value.clone());
    devices.chain(station.loads.iter().map(|load| load.name.value.clone())).collect()
}

/// A stretch of time in which neither of two runs changes.
pub(super) struct Piece<'t> {
    /// Its scans in the sound run: from, to.
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) sound: &'t Value,
    pub(super) other: &'t Value,
}

impl Timeline {
    /// From a recording of [`names`].
    pub(super) fn new(recording: Recording, acted_ns: &[i64], station: &Station) -> Self {
        let scans = recording.scans.len() as u32;
        let mut rows: Vec<Vec<Change>> =
            recording.rows.iter().map(|row| row.signal.changes.iter().collect()).collect();
        let mut loads = rows.split_off(station.devices.len().min(rows.len()));
        // What is compared with traces comes behind them.
        loads.truncate(station.loads.len());
        let by_person = |index: &usize| station.process().is_none_or(|plant| !plant.drives(*index));
        let mut acts: BTreeSet<u32> = rows
            .iter()
            .enumerate()
            .filter(|(index, _)| by_person(index))
            .flat_map(|(_, changes)| changes.iter().map(|change| change.scan))
            .collect();
        acts.insert(0);
        let scan = |time_ns: &i64| u32::try_from(time_ns / recording.scan_ns.max(1)).ok();
        acts.extend(acted_ns.iter().filter_map(scan));
        let acts = acts.into_iter().filter(|scan| *scan < scans).collect();
        Timeline { scans, scan_ns: recording.scan_ns, devices: rows, loads, acts }
    }

    /// When a scan starts.
    pub(super) fn time_ns(&self, scan: u32) -> i64 {
        i64::from(scan).saturating_mul(self.scan_ns)
    }

    pub(super) fn load(&self, load: usize) -> &[Change] {
        self.loads.get(load).map_or(&[], Vec::as_slice)
    }

    pub(super) fn device(&self, device: usize) -> &[Change] {
        self.devices.get(device).map_or(&[], Vec::as_slice)
    }

    /// The first scan after `scan` that sees something that was done; the end of the run without one.
    pub(super) fn next_act(&self, scan: u32) -> u32 {
        let after = self.acts.partition_point(|act| *act <= scan);
        self.acts.get(after).copied().unwrap_or(self.scans)
    }

    /// A load in this run beside the same in another, act by act; what has no counterpart in the other is left out.
    pub(super) fn beside<'t>(&'t self, other: &'t Timeline, load: usize) -> Vec<Piece<'t>> {
        let (mine, theirs) = (self.load(load), other.load(load));
        let mut pieces: Vec<Piece<'t>> = Vec::new();
        for (index, (from, other_from)) in self.acts.iter().zip(&other.acts).enumerate() {
            let end = |timeline: &Timeline| timeline.acts.get(index + 1).copied().unwrap_or(timeline.scans);
            let length = (end(self) - from).min(end(other) - other_from);
            let mut cuts = BTreeSet::from([0, length]);
            cuts.extend(changes_within(mine, *from, length));
            cuts.extend(changes_within(theirs, *other_from, length));
            let cuts: Vec<u32> = cuts.into_iter().collect();
            for pair in cuts.windows(2) {
                let [start, stop] = pair else { continue };
                let values = value_at(mine, from + start).zip(value_at(theirs, other_from + start));
                let Some((sound, value)) = values else { continue };
                pieces.push(Piece { from: from + start, to: from + stop, sound, other: value });
            }
        }
        pieces
    }
}

/// The value after a scan.
pub(super) fn value_at(changes: &[Change], scan: u32) -> Option<&Value> {
    let after = changes.partition_point(|change| change.scan <= scan);
    changes.get(after.checked_sub(1)?).map(|change| &change.value)
}

fn changes_within(changes: &[Change], from: u32, length: u32) -> impl Iterator<Item = u32> {
    let first = changes.partition_point(|change| change.scan <= from);
    let rest = changes.get(first..).unwrap_or(&[]);
    rest.iter().map(move |change| change.scan - from).take_while(move |offset| *offset < length)
}
