//! Replay: a program run scan by scan while a stimulus acts on a station, and recorded.
//!
//! - Scans start at 0, one scan time, two scan times…; a run has the scans that start before its end, so that
//!   5 s at 10 ms are 500 scans.
//! - Before a scan everything of the stimulus up to its start time is applied, in order. The program sees the last
//!   value; what came and went between two scans is missed, as it would be at a real controller, and told in
//!   [`Replayed::missed`].
//! - Devices act through their wiring on the packed input area, which the machine latches at the start of a scan.
//!   A restart leaves the panel as it is: the inputs read afterwards what they read before.
//! - After each scan the plant of the station, if there is one, runs for the time to the next one; see
//!   [`crate::plant`].
//! - A fault ends the run; the recording holds the scans before it. So does a fault of the plant, and then the recording
//!   holds the scan in front of it too.
//!
//! Knows nothing of pictures, files or clocks.

mod charts;
mod follow;
mod own;
mod rows;
mod watch;

use std::{fmt, sync::Arc};

use latchwork_compiler::logic::Logic;
use latchwork_grammar::{Diagnostic, Severity, Span};
use latchwork_vm::{CoverageLog, EventLog, Fault, Machine, Program, Timing};

use crate::{
    account::{Account, Accountant},
    panel::Panel,
    recording::{Incident, IncidentKind, Recording},
    station::Station,
    stimulus::Stimulus,
};

pub use self::follow::Follower;
pub(crate) use self::{own::OwnSignals, rows::Plan};

use self::{follow::Recorders, watch::Watch};

/// Most scans of one run.
pub const SCANS_MAX: u64 = 10_000_000;

/// Most values kept of one run: a value is kept when it changes.
pub const CHANGES_MAX: u64 = 20_000_000;

/// Most rows of one recording.
pub const ROWS_MAX: usize = 2_000;

/// How long a run goes on after the last row of the stimulus unless told, in nanoseconds.
pub const AFTER_LAST_NS: i64 = 1_000_000_000;

/// How a run is made.
#[derive(Clone, Debug)]
pub struct ReplayOptions {
    /// Time between two scans in nanoseconds, at least 1.
    pub scan_ns: i64,
    /// Simulated time that an instruction takes, in nanoseconds; 0 for none.
    pub instruction_ns: u32,
    /// Whether a task of higher priority interrupts one of lower priority; without a time for instructions that makes
    /// no difference.
    pub preempt: bool,
    /// Whether the first event, of the program or of the plant, stops the run like a fault.
    pub strict: bool,
    /// End of the run in nanoseconds: scans that start before it are run. By default one second after the last row
    /// of the stimulus, without stimulus one second.
    pub until_ns: Option<i64>,
    /// The rows of the recording, in this order: devices, loads, variables, elements and members by path,
    /// addresses. By default all devices, inputs, outputs and located variables.
    pub record: Option<Vec<String>>,
    /// What the image notes in its journal, if an account of the run is wanted: [`Replayed::account`].
    pub account: Option<Arc<Logic>>,
    /// Whether the active steps of charts are recorded too, for pictures; `None` if no rows are asked for.
    pub charts: Option<bool>,
    /// Title of the recording; if empty, the station's.
    pub title: String,
    /// Where the run came from, for the heading.
    pub source: String,
}

impl Default for ReplayOptions {
    /// A scan every 10 ms.
    fn default() -> Self {
        ReplayOptions {
            scan_ns: 10_000_000,
            instruction_ns: 0,
            preempt: false,
            strict: false,
            until_ns: None,
            record: None,
            account: None,
            charts: None,
            title: String::new(),
            source: String::new(),
        }
    }
}

/// Why a run could not be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReplayError {
    /// Stable name, lower case with dashes.
    pub name: &'static str,
    /// One sentence without full stop.
    pub message: String,
    /// What to do.
    pub notes: Vec<String>,
}

impl ReplayError {
    fn new(name: &'static str, message: impl Into<String>, note: impl Into<String>) -> Self {
        ReplayError { name, message: message.into(), notes: vec![note.into()] }
    }
}

impl fmt::Display for ReplayError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.message)?;
        self.notes.iter().try_for_each(|note| write!(out, "; {note}"))
    }
}

impl std::error::Error for ReplayError {}

/// A finished run.
#[derive(Clone, Debug)]
pub struct Replayed {
    /// What was recorded.
    pub recording: Recording,
    /// The fault that ended the run.
    pub fault: Option<Box<Fault>>,
    /// The run-time events (overflow, division by zero with ENO…), counted by kind and line.
    pub events: EventLog,
    /// What of the program was run, if its image was compiled for measuring coverage.
    pub coverage: Option<CoverageLog>,
    /// The account of the run, up to a fault and with it, if one was wanted.
    pub account: Option<Account>,
    /// The fault of the plant that ended the run.
    pub plant_fault: Option<Box<Fault>>,
    /// The run-time events of the plant.
    pub plant_events: EventLog,
    /// Values of the stimulus that no scan saw, by column.
    pub missed: Vec<Missed>,
    /// Number of rows of the stimulus that lie after the last scan and were not applied.
    pub rows_not_applied: usize,
}

/// Values of one column that came and went between two scans.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missed {
    /// The column's heading.
    pub column: String,
    /// How many values: for a BOOL the number of pulses.
    pub count: u64,
    /// The start of the scan that saw none of the first ones, in nanoseconds.
    pub scan_time_ns: i64,
    /// The cell of the first value that was missed.
    pub cell: Span,
}

impl Replayed {
    /// What a user should be told about the stimulus, as warnings at its cells.
    pub fn warnings(&self) -> Vec<Diagnostic> {
        let scan = milliseconds(self.recording.scan_ns);
        let told = |missed: &Missed| {
            let times =
                if missed.count == 1 { "once".to_string() } else { format!("{} times", missed.count) };
            Diagnostic::warning(
                "missed-pulse",
                missed.cell,
                format!("the program missed a value of `{}` that was shorter than a scan", missed.column),
            )
            .label(format!("gone again before the scan at {}", milliseconds(missed.scan_time_ns)))
            .note(format!("this happened {times}; inputs are read once in a scan, every {scan}"))
        };
        self.missed.iter().map(told).collect()
    }
}

/// Runs a program. See the module for the rules.
///
/// # Errors
/// All reasons why the run could not be made: options out of range, a station that does not fit the program,
/// names to record that nobody knows. A fault of the program is not among them: see [`Replayed::fault`].
pub fn replay(
    program: Arc<Program>,
    station: Option<&Station>,
    stimulus: Option<&Stimulus>,
    options: &ReplayOptions,
) -> Result<Replayed, Vec<ReplayError>> {
    replayed(program, station, stimulus, options, None)
}

/// Runs a program as [`replay`] does, and hands on what is recorded while it runs. The recording in the result has neither
/// scans nor changes, so that a run of any length takes the same memory.
///
/// # Errors
/// As [`replay`], without a limit for the number of changes.
pub fn replay_followed(
    program: Arc<Program>,
    station: Option<&Station>,
    stimulus: Option<&Stimulus>,
    options: &ReplayOptions,
    follower: &mut dyn Follower,
) -> Result<Replayed, Vec<ReplayError>> {
    replayed(program, station, stimulus, options, Some(follower))
}

fn replayed(
    program: Arc<Program>,
    station: Option<&Station>,
    stimulus: Option<&Stimulus>,
    options: &ReplayOptions,
    follower: Option<&mut dyn Follower>,
) -> Result<Replayed, Vec<ReplayError>> {
    let mut errors = Vec::new();
    let scans = match scan_count(stimulus, options) {
        Ok(scans) => scans,
        Err(error) => {
            errors.push(error);
            0
        }
    };
    let problems = station.map(|station| station.check(&program)).unwrap_or_default();
    errors.extend(problems.into_iter().filter(|problem| problem.severity == Severity::Error).map(
        |problem| {
            ReplayError::new(
                problem.name,
                format!("the station does not fit the program: {}", problem.message),
                problem.primary.text,
            )
        },
    ));
    let panel = Panel::new(&program, station);
    let plan = match Plan::new(&program, &panel, options.record.as_deref()) {
        // Whoever follows a run draws nothing.
        Ok(plan) if follower.is_none() && options.charts.unwrap_or(options.record.is_none()) => {
            Some(plan.with_charts(&program))
        }
        Ok(plan) => Some(plan),
        Err(mut problems) => {
            errors.append(&mut problems);
            None
        }
    };
    match plan {
        Some(plan) if errors.is_empty() => run(&program, panel, plan, stimulus, options, scans, follower),
        _ => Err(errors),
    }
}

/// The number of scans of a run.
fn scan_count(stimulus: Option<&Stimulus>, options: &ReplayOptions) -> Result<u64, ReplayError> {
    let scan = options.scan_ns;
    if scan < 1 {
        let message = format!("the time between two scans is {}", milliseconds(scan));
        return Err(ReplayError::new(
            "replay-scan-time",
            message,
            "write a time of at least T#1ns, such as T#10ms",
        ));
    }
    let last = stimulus.and_then(Stimulus::last_time_ns).unwrap_or(0);
    let until = options.until_ns.unwrap_or_else(|| last.saturating_add(AFTER_LAST_NS));
    if until < 1 {
        let message = format!("the run ends at {}, before its first scan", milliseconds(until));
        return Err(ReplayError::new(
            "replay-no-scan",
            message,
            "write an end after the start, such as T#5s",
        ));
    }
    // Both are positive.
    let scans = (until as u64).div_ceil(scan as u64);
    if scans > SCANS_MAX {
        let message = format!(
            "the run would have {scans} scans ({} at one scan every {}), more than the {SCANS_MAX} allowed",
            milliseconds(until),
            milliseconds(scan)
        );
        return Err(ReplayError::new(
            "replay-too-long",
            message,
            "end the run earlier, or make the scan time longer",
        ));
    }
    Ok(scans)
}

fn run(
    program: &Arc<Program>,
    mut panel: Panel<'_>,
    plan: Plan,
    stimulus: Option<&Stimulus>,
    options: &ReplayOptions,
    scans: u64,
    follower: Option<&mut dyn Follower>,
) -> Result<Replayed, Vec<ReplayError>> {
    let mut machine = Machine::new(Arc::clone(program));
    machine.set_timing(Timing {
        instruction_ns: options.instruction_ns,
        preemptive: options.preempt,
        cycle_ns: options.scan_ns,
    });
    machine.set_strict(options.strict);
    let mut accountant = options.account.clone().map(|logic| Accountant::open(&mut machine, logic));
    let mut recorders = Recorders::new(program, plan, follower);
    let mut watch = Watch::new(stimulus, program);
    let mut incidents: Vec<Incident> =
        panel.faults().map(|text| Incident::at(0, IncidentKind::WiringFault, text)).collect();
    let (mut fault, mut plant_fault) = (None, None);
    panel.set_strict(options.strict);
    panel.drive(&mut machine);
    let mut recorded = 0;
    for scan in 0..scans {
        // At most SCANS_MAX scans up to an end that is an i64.
        let now = scan as i64 * options.scan_ns;
        let restarted = watch.apply(now, &mut panel, &mut machine);
        incidents.extend(restarted.map(|restart| Incident::at(now, IncidentKind::of(restart), "")));
        let scanned = machine.scan(now);
        if let Some(accountant) = &mut accountant {
            accountant.scan(&mut machine);
        }
        if let Err(found) = scanned {
            incidents.push(Incident::at(now, IncidentKind::Fault, found.kind.text()));
            fault = Some(found);
            break;
        }
        recorded = scan + 1;
        if recorders.record(now, &panel, &machine).is_break() {
            break;
        }
        if recorders.kept() > CHANGES_MAX {
            let message =
                format!("more than {CHANGES_MAX} changes were recorded up to {}", milliseconds(now));
            let note = "record fewer rows, end the run earlier, or make the scan time longer";
            return Err(vec![ReplayError::new("replay-too-many-changes", message, note)]);
        }
        if let Err(found) = panel.advance(now, options.scan_ns, &mut machine) {
            incidents.push(Incident::at(now, IncidentKind::PlantFault, found.kind.text()));
            plant_fault = Some(found);
            break;
        }
    }
    let (scans, rows, charts) = recorders.finish();
    let title = match (&options.title, panel.title()) {
        (title, Some(of_station)) if title.is_empty() => of_station.to_string(),
        (title, _) => title.clone(),
    };
    let recording = Recording {
        title,
        source: options.source.clone(),
        scan_ns: options.scan_ns,
        // As many scan times as scans were begun before an end that is an i64, so the sum may only just exceed it.
        end_ns: options.scan_ns.saturating_mul(recorded as i64),
        scans,
        rows,
        charts,
        incidents,
    };
    let (missed, rows_not_applied) = watch.finish();
    Ok(Replayed {
        recording,
        fault,
        events: machine.events().clone(),
        coverage: machine.coverage().cloned(),
        account: accountant.map(Accountant::finish),
        plant_fault,
        plant_events: panel.plant_events().cloned().unwrap_or_default(),
        missed,
        rows_not_applied,
    })
}

/// A time in milliseconds as people write it: "12.5 ms".
fn milliseconds(nanoseconds: i64) -> String {
    let sign = if nanoseconds < 0 { "-" } else { "" };
    let magnitude = nanoseconds.unsigned_abs();
    let whole = magnitude / 1_000_000;
    let fraction = format!("{:06}", magnitude % 1_000_000);
    match fraction.trim_end_matches('0') {
        "" => format!("{sign}{whole} ms"),
        digits => format!("{sign}{whole}.{digits} ms"),
    }
}
