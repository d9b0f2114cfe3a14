//! A recording held against a trace: for each signal the first scan in which they part.

use std::fmt;

use latchwork_vm::{Change, ScanRecord, Value};

use super::{
    Expected, Rules, Track,
    agreement::{Parting, Piece, parting},
};
use crate::{
    diagram::scale::time_text,
    recording::{Recording, Row},
};

/// Most pairs of values of one signal that are looked at: about a second of work.
const PAIRS_MAX: u64 = 50_000_000;

/// A recording beside a trace.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// How exactly the trace must be followed.
    pub rules: Rules,
    /// The signals, in the order of the trace.
    pub rows: Vec<ComparedRow>,
    /// Scans of the run from the start of the trace on.
    pub scans: usize,
    /// How many of them start before the end of the trace, so that they were compared.
    pub scans_compared: usize,
    /// The end of the trace, in nanoseconds of the run.
    pub trace_end_ns: i64,
    /// The end of the run.
    pub run_end_ns: i64,
}

/// A signal.
#[derive(Clone, Debug)]
pub struct ComparedRow {
    /// Its name, as it was asked for.
    pub name: String,
    /// Its number among the tracks of the trace.
    pub track: usize,
    /// Its number among the rows of the recording.
    pub row: usize,
    /// Where it departs; `None` if it does not.
    pub departure: Option<Departure>,
}

/// The first departure of a signal. All times are nanoseconds of the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Departure {
    /// The first moment that can not be brought into agreement with the trace.
    pub time_ns: i64,
    /// The scan whose values are in force at that moment: its number in the recording.
    pub scan: u32,
    /// The start of that scan.
    pub scan_ns: i64,
    /// What the trace has.
    pub expected: Shown,
    /// What the run has.
    pub actual: Shown,
}

/// A value and how long it is in force.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// The value.
    pub value: Value,
    /// When it came.
    pub since_ns: i64,
    /// When the next one comes; `None` if it stays to the end.
    pub until_ns: Option<i64>,
}

/// Why a recording can not be compared with a trace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CompareError {
    /// The recording has no row of this name.
    NotRecorded(String),
    /// So many values lie within the shift that comparing takes too long.
    TooMuch(String),
}

impl fmt::Display for CompareError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CompareError::NotRecorded(name) => {
                write!(out, "the run did not record `{name}`, so it can not be compared with the trace")
            }
            CompareError::TooMuch(name) => write!(
                out,
                "too many values of `{name}` lie within the shift to compare them all; \
                 make the shift shorter or the tolerance smaller"
            ),
        }
    }
}

impl std::error::Error for CompareError {}

impl Expected {
    /// Holds a recording against the trace.
    ///
    /// # Errors
    /// A signal that was not recorded, and more values within the shift than can be looked at.
    pub fn compare(&self, recording: &Recording, rules: &Rules) -> Result<Comparison, CompareError> {
        let from_ns = rules.from_ns;
        let mut rows = Vec::with_capacity(self.tracks.len());
        for (track_number, track) in self.tracks.iter().enumerate() {
            let name = track.subject.name().to_owned();
            let found = recording.rows.iter().enumerate().find(|(_, row)| track.subject.is_row(row));
            let Some((row_number, row)) = found else { return Err(CompareError::NotRecorded(name)) };
            let departure = match self.departure(track, row, recording, rules) {
                Ok(departure) => departure,
                Err(_) => return Err(CompareError::TooMuch(name)),
            };
            rows.push(ComparedRow { name, track: track_number, row: row_number, departure });
        }
        let trace_end_ns = self.end_ns.saturating_add(from_ns);
        let started = |until: i64| recording.scans.partition_point(|scan| scan.time_ns < until);
        let before = started(from_ns);
        Ok(Comparison {
            rules: *rules,
            rows,
            scans: recording.scans.len() - before,
            scans_compared: started(trace_end_ns).saturating_sub(before),
            trace_end_ns,
            run_end_ns: recording.end_ns,
        })
    }

    fn departure(
        &self,
        track: &Track,
        row: &Row,
        recording: &Recording,
        rules: &Rules,
    ) -> Result<Option<Departure>, super::agreement::TooMuch> {
        let expected = expected_pieces(track, self.end_ns);
        let changes: Vec<Change> = row.signal.changes.iter().collect();
        let actual = actual_pieces(&changes, &recording.scans, rules.from_ns);
        let end_ns = recording.end_ns.saturating_sub(rules.from_ns);
        let same = |expected: &Value, actual: &Value| rules.same(expected, actual);
        let found = parting(&expected, &actual, end_ns, rules.shift_ns, PAIRS_MAX, &same)?;
        let Some(Parting { time_ns, expected: of_trace, actual: of_run }) = found else { return Ok(None) };
        let time_ns = time_ns.saturating_add(rules.from_ns);
        let scan = recording.scans.partition_point(|scan| scan.time_ns <= time_ns).saturating_sub(1);
        let shown = |pieces: &[Piece<'_>], index: usize| {
            let piece = pieces.get(index)?;
            // The end of the trace is no change.
            let next =
                pieces.get(index + 1).filter(|next| next.value.is_some() || next.time_ns < self.end_ns);
            Some(Shown {
                value: piece.value?.clone(),
                since_ns: piece.time_ns.saturating_add(rules.from_ns),
                until_ns: next.map(|next| next.time_ns.saturating_add(rules.from_ns)),
            })
        };
        // Both are known: what is not known agrees with everything.
        let (Some(expected), Some(actual)) = (shown(&expected, of_trace), shown(&actual, of_run)) else {
            return Ok(None);
        };
        Ok(Some(Departure {
            time_ns,
            // Scans beyond the numbers of u32 are not recorded.
            scan: u32::try_from(scan).unwrap_or(u32::MAX),
            scan_ns: recording.scans.get(scan).map_or(time_ns, |scan| scan.time_ns),
            expected,
            actual,
        }))
    }
}

/// A track from 0 on; not known before its first value and from its end on.
pub(super) fn expected_pieces(track: &Track, end_ns: i64) -> Vec<Piece<'_>> {
    let mut pieces: Vec<Piece<'_>> = Vec::with_capacity(track.values.len() + 2);
    if track.values.first().is_none_or(|first| first.time_ns > 0) {
        pieces.push(Piece { time_ns: 0, value: None });
    }
    let values = track.values.iter().filter(|value| value.time_ns < end_ns);
    pieces.extend(values.map(|value| Piece { time_ns: value.time_ns, value: value.value.as_ref() }));
    if end_ns > 0 && pieces.last().is_some_and(|last| last.value.is_some()) {
        pieces.push(Piece { time_ns: end_ns, value: None });
    }
    pieces
}

/// The changes of a row from `from_ns` on, in times from then on.
pub(super) fn actual_pieces<'r>(changes: &'r [Change], scans: &[ScanRecord], from_ns: i64) -> Vec<Piece<'r>> {
    let mut pieces: Vec<Piece<'r>> = Vec::new();
    for change in changes {
        let scan = usize::try_from(change.scan).ok().and_then(|scan| scans.get(scan));
        let Some(scan) = scan else { continue };
        let piece =
            Piece { time_ns: scan.time_ns.saturating_sub(from_ns).max(0), value: Some(&change.value) };
        // Everything up to the start only decides which value is in force there.
        if pieces.last().is_some_and(|last| last.time_ns == piece.time_ns) {
            pieces.pop();
        }
        if pieces.is_empty() && piece.time_ns > 0 {
            pieces.push(Piece { time_ns: 0, value: None });
        }
        if pieces.last().is_none_or(|last| last.value != piece.value) {
            pieces.push(piece);
        }
    }
    pieces
}

impl Comparison {
    /// Whether the run followed the trace.
    pub fn agrees(&self) -> bool {
        self.rows.iter().all(|row| row.departure.is_none())
    }

    /// The signals that depart, in the order of the trace.
    pub fn departures(&self) -> impl Iterator<Item = (&ComparedRow, &Departure)> {
        self.rows.iter().filter_map(|row| Some((row, row.departure.as_ref()?)))
    }

    /// The earliest departure.
    pub fn first(&self) -> Option<(&ComparedRow, &Departure)> {
        self.departures().min_by_key(|(_, departure)| departure.time_ns)
    }

    /// What was not compared because the trace or the run ended before the other one, as a sentence without full stop.
    pub fn extent(&self) -> Option<String> {
        if self.scans_compared < self.scans {
            let (end, run) = (time_text(self.trace_end_ns), time_text(self.run_end_ns));
            return Some(format!("compared up to {end}, where the trace ends; the run goes on to {run}"));
        }
        // A full table ends with the start of its last scan, so an end within the run's last scan is none to speak of.
        let more = self.trace_end_ns > self.run_end_ns.saturating_add(self.rules.shift_ns).saturating_add(1);
        more.then(|| {
            let (end, run) = (time_text(self.trace_end_ns), time_text(self.run_end_ns));
            format!("compared up to {run}, where the run ends; the trace goes on to {end}")
        })
    }

    /// What there is to say, one sentence a line, without full stops: the departures, the earliest first, what was
    /// allowed, how far was compared.
    pub fn report(&self) -> String {
        let mut departures: Vec<_> = self.departures().collect();
        departures.sort_by_key(|(row, departure)| (departure.time_ns, row.track));
        let mut lines: Vec<String> =
            departures.iter().map(|(row, departure)| departure.sentence(&row.name)).collect();
        if !departures.is_empty() {
            lines.extend(self.allowance());
        }
        lines.extend(self.extent());
        if self.rules.from_ns > 0 && !lines.is_empty() {
            lines.push(format!("the trace begins at {} of the run", time_text(self.rules.from_ns)));
        }
        lines.iter().map(|line| format!("{line}\n")).collect()
    }

    /// What the rules allow.
    pub fn allowance(&self) -> Option<String> {
        let mut allowed = Vec::new();
        if self.rules.shift_ns > 0 {
            allowed.push(format!("changes may come {} earlier or later", time_text(self.rules.shift_ns)));
        }
        if self.rules.tolerance > 0.0 {
            allowed.push(format!("numbers may differ by {}", Value::Lreal(self.rules.tolerance)));
        }
        if self.rules.duration_tolerance_ns > 0 {
            let by = time_text(self.rules.duration_tolerance_ns);
            allowed.push(format!("durations may differ by {by}"));
        }
        (!allowed.is_empty()).then(|| allowed.join(", "))
    }
}

impl Departure {
    /// The departure in one sentence without full stop.
    pub fn sentence(&self, name: &str) -> String {
        let scan = if self.time_ns == self.scan_ns {
            format!("in the scan at {}", time_text(self.scan_ns))
        } else {
            format!("at {}, in the scan at {}", time_text(self.time_ns), time_text(self.scan_ns))
        };
        format!(
            "`{name}` departs from the trace {scan}: it is {}, expected is {}",
            self.actual, self.expected
        )
    }
}

impl fmt::Display for Shown {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let value = crate::diagram::words::value_text(&self.value);
        write!(out, "{value} (from {}", time_text(self.since_ns))?;
        match self.until_ns {
            Some(until) => write!(out, " to {})", time_text(until)),
            None => out.write_str(" on)"),
        }
    }
}
