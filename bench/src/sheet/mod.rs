//! The checkout sheet: the page that goes to the real board, with what to do, what must be seen, and boxes to tick.
//!
//! ```text
//! Program + Station                     --by_hand-->       Sheet   one device after the other
//! Script (procedures, Program, Station) --of_procedures--> Sheet   the steps of the procedures
//! Sheet --render--> Markdown | HTML; --note--> the table that `faults --observed` reads
//! ```
//!
//! Every expected state comes from a run on the bench. A person takes time, so the runs do too: between two things that
//! are done at least [`HAND_NS`] pass, unless the procedure then does something else than it does at its own pace; that is
//! told on the sheet. What changes by itself is told with the time after the last thing that was done, rounded for a
//! person with a stopwatch.
//!
//! A sheet is for sound wiring: faults that a station file places are for the board, not for the sheet.
//!
//! Knows nothing of files, clocks or terminals of computers.

mod act;
mod behaviour;
mod behind;
mod by_hand;
mod conditions;
mod demands;
mod followed;
mod follower;
mod lists;
mod note;
mod phases;
pub mod render;
mod rows;
mod settle;
mod text;
mod words;

use std::fmt;

use latchwork_vm::Value;

pub use self::{
    behaviour::{Behaviour, Phase},
    by_hand::by_hand,
    followed::of_procedures,
    lists::{InputLine, OutputLine, Reading},
    note::{is_for_the_fault_finder, note},
    text::{Piece, Text},
    words::stopwatch,
};

/// What stands above the work. The sources: 29 CFR 1910.147 of OSHA; ISO 13850; IEC 60204-1.
pub const CAUTIONS: [&str; 5] = [
    "Before you touch wiring: switch off, lock out and tag out, and try that it is dead (OSHA 29 CFR 1910.147).",
    "The emergency stop works by hard-wired means and not through the program (ISO 13850, IEC 60204-1). Try it before anything else.",
    "Keep hands, hair and tools away from what a load can move. Each load can start at any step.",
    "What is expected here comes from a simulation. It is no proof that a machine is safe.",
    "Local codes, and the judgement of a licensed practitioner, come before this sheet.",
];

/// The time that a person takes between two things at least, in nanoseconds.
pub const HAND_NS: i64 = 2_000_000_000;

/// Most expected states of one sheet: steps by loads.
pub const CELLS_MAX: usize = 100_000;

/// What looking ahead may cost for one sheet, in instructions of the machine.
pub const COST_MAX: u64 = 3_000_000_000;

/// A checkout sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// What it is the checkout of.
    pub title: String,
    /// The names of the files.
    pub names: FileNames,
    /// The process of the station.
    pub process: Process,
    /// The devices with their terminals.
    pub inputs: Vec<InputLine>,
    /// The loads with theirs.
    pub outputs: Vec<OutputLine>,
    /// The steps.
    pub parts: Vec<Part>,
    /// Loads that no step turns on, by their place in the station.
    pub never_on: Vec<usize>,
    /// Devices that no step works, by their place in the station.
    pub not_worked: Vec<usize>,
}

/// Where a sheet comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FileNames {
    /// The program.
    pub program: String,
    /// The station.
    pub station: String,
    /// The procedures, if the steps are theirs.
    pub procedure: Option<String>,
}

/// What a sheet does with the process behind a station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Process {
    /// There is none.
    None,
    /// It is left out, and a person moves its devices.
    LeftOut(String),
    /// It moves its devices.
    Moves(String),
}

/// Steps that belong together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Part {
    /// Its title.
    pub title: String,
    /// What it is worth.
    pub points: Option<f64>,
    /// What holds all along.
    pub throughout: Vec<Text>,
    /// What must be known before it is begun.
    pub remarks: Vec<Text>,
    /// The steps.
    pub steps: Vec<Step>,
}

/// A step.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Step {
    /// Its number on the sheet, from 1.
    pub number: usize,
    /// What is done, a sentence each.
    pub does: Vec<Text>,
    /// The same for machines: devices by their place in the station, BOOL (actuated or not) or LREAL (engineering units).
    pub acts: Vec<(usize, Value)>,
    /// When it is done in the simulation, and when the next one is, in nanoseconds.
    pub span_ns: (i64, i64),
    /// How long a person looks on.
    pub watch: Watch,
    /// What each load does, in the order of the station; nothing if the simulation stopped.
    pub expected: Vec<Behaviour>,
    /// The same in words.
    pub told: Told,
    /// What the procedure asks for.
    pub demands: Vec<Text>,
    /// What else must be known.
    pub remarks: Vec<Text>,
}

/// What the loads do, in words.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    /// What changes or moves, a sentence each.
    pub changes: Vec<Text>,
    /// What stays at a value.
    pub levels: Vec<Text>,
    /// Loads that stay on.
    pub on: Vec<String>,
    /// Loads that stay off.
    pub off: Vec<String>,
}

/// How long a person looks on before the next step.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Watch {
    /// At least so long, in nanoseconds.
    pub least_ns: i64,
    /// At most so long, since a load changes then.
    pub most_ns: Option<i64>,
}

/// How a sheet is made.
#[derive(Clone, Debug, Default)]
pub struct SheetOptions {
    /// Its title; without one that of the station.
    pub title: Option<String>,
    /// The names of the files.
    pub names: FileNames,
    /// By hand: the devices that are worked, by their place in the station; all if there are none.
    pub devices: Vec<usize>,
    /// By hand: the process of the station moves its devices.
    pub process: bool,
}

/// Why a sheet was not made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SheetError {
    /// There would be more expected states than [`CELLS_MAX`].
    TooLarge {
        /// How many steps there would be at least.
        steps: usize,
        /// How many loads there are.
        loads: usize,
    },
}

impl fmt::Display for SheetError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SheetError::TooLarge { steps, loads } => write!(
                out,
                "the sheet would have {steps} steps for {loads} loads, more than anybody can check; \
                 choose some of them with --only"
            ),
        }
    }
}

impl std::error::Error for SheetError {}

impl Sheet {
    /// The steps of all parts.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        self.parts.iter().flat_map(|part| &part.steps)
    }

    /// Whether the simulation stopped, or a procedure was not met in it.
    pub fn has_trouble(&self) -> bool {
        let told = self.parts.iter().map(|part| &part.remarks).chain(self.steps().map(|step| &step.remarks));
        told.flatten().any(|remark| remark.is_trouble)
    }
}
