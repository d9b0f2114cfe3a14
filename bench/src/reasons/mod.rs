//! Why a variable has its value at a time of a run: the statement that wrote it last, the parts of its expression that
//! decided, and so on back to devices, timers, counters and stored values.
//!
//! ```text
//! Account + recording of a run --Reasoner--> Explanation --words--> sentences in a tree, JSON
//! ```
//!
//! A value is explained as it is now: by the run of the statement that wrote it last. Where a value rests on itself, as in
//! a seal-in circuit, the scan is explained in which it became what it is. Times are the starts of scans. Whatever was not
//! noted is said not to be known, and what would be too deep is left out with a word.
//!
//! Knows nothing of files, terminals or pages.

mod alternatives;
mod block;
mod chart;
mod decide;
mod derive;
mod expression;
mod function;
mod guard;
mod idle;
mod json;
mod model;
mod names;
mod otherwise;
mod outside;
mod quote;
mod words;

use std::{collections::BTreeMap, fmt};

use latchwork_compiler::logic::{LogicKind, LogicStatement};
use latchwork_grammar::Sources;
use latchwork_vm::{Program, ResolveError, Resolved, ResolvedKind};

pub(crate) use self::words::markup;
pub use self::{
    json::json,
    model::{
        Alternative, BlockWork, Cause, Change, DeviceState, Explanation, Guard, Instant, Reason, Statement,
        StepState, TimerKind, TransitionState,
    },
    words::{TextOptions, sentence, text},
};

use self::{derive::Derivation, names::Names};
use crate::{
    account::Account,
    nearest::{did_you_mean, nearest},
    panel::{Panel, Place},
    recording::Recording,
    station::Station,
};

/// How deep a reason goes unless told.
pub const DEPTH: u32 = 12;

/// Deepest reason that can be asked for.
pub const DEPTH_MAX: u32 = 40;

/// Most parts of one reason; what is beyond is left out with a word.
pub const PARTS_MAX: usize = 400;

/// What is known of a run.
#[derive(Clone, Copy)]
pub struct Evidence<'a> {
    /// What every statement did.
    pub account: &'a Account,
    /// The program that ran.
    pub program: &'a Program,
    /// The station that it ran on.
    pub station: Option<&'a Station>,
    /// What was recorded from the first scan on, if something was; the devices among it tell who did what.
    pub recording: Option<&'a Recording>,
    /// Time between two scans in nanoseconds.
    pub scan_ns: i64,
    /// The texts of the program.
    pub sources: &'a Sources,
}

/// Finds reasons in one run.
pub struct Reasoner<'a> {
    evidence: Evidence<'a>,
    names: Names,
    /// By the name of a function block, in capitals: the statements that call it.
    callers: BTreeMap<String, Vec<u32>>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unanswered {
    /// Stable name, lower case with dashes.
    pub name: &'static str,
    /// One sentence without full stop.
    pub message: String,
    /// What to do.
    pub note: String,
}

impl fmt::Display for Unanswered {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}; {}", self.message, self.note)
    }
}

impl std::error::Error for Unanswered {}

impl<'a> Reasoner<'a> {
    /// For one run.
    #[must_use]
    pub fn new(evidence: Evidence<'a>) -> Self {
        let names = Names::new(evidence.program, evidence.station, evidence.recording);
        let mut callers = BTreeMap::new();
        for unit in &evidence.account.logic().units {
            collect_callers(&unit.statements, &mut callers);
        }
        Reasoner { evidence, names, callers }
    }

    /// Why a variable had its value after a scan. The name may also be that of a device, a load, an address or a step.
    ///
    /// # Errors
    /// If nothing has this name, or there was no such scan.
    pub fn reason(&self, name: &str, scan: u32, depth: u32) -> Result<Explanation, Unanswered> {
        let variable = self.find(name)?;
        let scans = self.evidence.account.scans();
        if scan >= scans {
            return Err(Unanswered {
                name: "reason-time",
                message: format!("the run has no scan {}", scan.saturating_add(1)),
                note: match scans.checked_sub(1) {
                    Some(last) => {
                        let time = words::untied(&words::point(self.instant(last).time_ns));
                        format!("its last one is scan {scans}, at {time}")
                    }
                    None => "not a single scan was run".to_owned(),
                },
            });
        }
        Ok(Derivation::new(self, scan).explain(&variable, depth.min(DEPTH_MAX)))
    }

    /// The scan whose result was there at a time: the last one that had started.
    #[must_use]
    pub fn scan_at(&self, time_ns: i64) -> u32 {
        let scan = time_ns.max(0) / self.evidence.scan_ns.max(1);
        u32::try_from(scan).unwrap_or(u32::MAX)
    }

    /// What a name stands for.
    fn find(&self, name: &str) -> Result<Resolved, Unanswered> {
        let Evidence { program, station, .. } = self.evidence;
        let panel = Panel::new(program, station);
        let unanswered =
            |message: String, note: String| Unanswered { name: "reason-unknown-name", message, note };
        let missing = match panel.find(program, name) {
            Ok(Place::Variable(variable)) => return Ok(variable),
            Ok(Place::Device(index) | Place::Terminal(index)) => {
                let device = panel.devices().get(index);
                return device.and_then(|wired| wired.variable.clone()).ok_or_else(|| {
                    let note = "ask for a variable of the program".to_owned();
                    unanswered(format!("the program does not read what `{name}` is wired to"), note)
                });
            }
            Ok(Place::Load(index)) => {
                let load = panel.loads().get(index);
                return load.and_then(|wired| program.resolve(&wired.load.terminal.text).ok()).ok_or_else(
                    || {
                        let note = "ask for a variable of the program".to_owned();
                        unanswered(format!("the program does not drive `{name}`"), note)
                    },
                );
            }
            Ok(Place::Plant(_)) => {
                let note = "ask for the device that it moves, or for what drives it".to_owned();
                return Err(unanswered(
                    format!("`{name}` is a variable of the plant, whose program keeps no journal"),
                    note,
                ));
            }
            Err(missing) => missing,
        };
        // A step is asked for by its name.
        if let Ok(variable) = program.resolve(&format!("{name}.X")) {
            return Ok(variable);
        }
        let message = match program.resolve(name) {
            Err(ResolveError::Unknown { .. }) | Ok(_) => format!("nothing is named `{name}`"),
            Err(error) => return Err(unanswered(error.to_string(), "write its full name".to_owned())),
        };
        let steps: Vec<&str> = self.steps().collect();
        let near = did_you_mean(&nearest(name, steps));
        Err(unanswered(message, near.unwrap_or(missing.label)))
    }

    fn steps(&self) -> impl Iterator<Item = &str> {
        let charts = self.evidence.account.logic().units.iter().filter_map(|unit| unit.chart.as_ref());
        charts.flat_map(|chart| &chart.steps).map(|step| step.name.as_str())
    }

    /// Whether a name is that of the flag of a step.
    fn is_step(&self, name: &str) -> bool {
        let step = name.strip_suffix(".X").and_then(|step| step.rsplit('.').next());
        step.is_some_and(|step| self.steps().any(|other| other.eq_ignore_ascii_case(step)))
    }

    fn instant(&self, scan: u32) -> Instant {
        Instant { scan, time_ns: i64::from(scan).saturating_mul(self.evidence.scan_ns) }
    }
}

/// Whether a variable is one bit of an area that no variable was declared for.
fn is_bit(variable: &Resolved) -> Option<u8> {
    match variable.kind {
        ResolvedKind::Bit(bit) => Some(bit),
        _ => None,
    }
}

/// Statements nest as deep as the grammar allows.
fn collect_callers(statements: &[LogicStatement], callers: &mut BTreeMap<String, Vec<u32>>) {
    for statement in statements {
        if let LogicKind::Call(call) = &statement.kind
            && call.standard.is_none()
        {
            callers.entry(call.block.to_ascii_uppercase()).or_default().push(statement.number);
        }
        statement.inner().into_iter().for_each(|inner| collect_callers(inner, callers));
    }
}
