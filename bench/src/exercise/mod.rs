//! Exercises: a task, a panel, what must hold, and what a submission may and must be.
//!
//! An exercise is a folder with a file `exercise.toml` (the text form of version 1.0 of that open format):
//!
//! ```toml
//! title = "Filling station"
//! task = "task.md"                 # what students are asked, in Markdown
//! station = "station.toml"         # the panel
//! reference = ["reference.st"]     # the source files of a program that is right, or one image built from it
//! skeleton = ["skeleton.st"]       # optional: what is handed out to begin with
//!
//! [points]
//! compiles = 1                     # for a program that compiles and works a load; none by default
//!
//! [[procedures]]
//! file = "shown.steps"             # what a procedure is worth stands in it: `points 2;`
//!
//! [[procedures]]
//! file = "kept-back.steps"
//! shown = false                    # students are told the points alone
//! credit = "by expectation"        # or "all or nothing", the default
//!
//! [interface]                      # what a submission must have
//! programs = ["Filling"]
//! [[interface.variable]]
//! name = "Start"
//! type = "BOOL"                    # optional
//! address = "%IX0.0"               # optional
//!
//! [constraints]
//! language = "ST"                  # or "IL": the language of all bodies
//! must-use = ["TON"]               # standard function blocks and functions
//! must-not-use = ["SR", "RS"]
//! lines-max = 60                   # lines that are neither empty nor comment alone
//! no-warnings = ["double-coil"]    # names of warnings, or "all"
//! deduction = 1                    # points off for each of these that is not kept; 1 by default
//!
//! [budget]                         # what a submission may take; see [`Budget`]
//! text-bytes = 262144
//! ```
//!
//! This module knows the file, not the files that it names.

mod budget;
mod constraints;
mod read;

use latchwork_grammar::{Diagnostic, FileId};

pub use self::{
    budget::Budget,
    constraints::{Constraints, NoWarnings},
    read::EXERCISE_BYTES_MAX,
};
use crate::{marking::Points, station::Placed};

/// An exercise as its file describes it; the names of files are as written.
#[derive(Clone, Debug)]
pub struct Exercise {
    /// The file it was read from.
    pub file: FileId,
    /// Title for people.
    pub title: String,
    /// The file of the task text.
    pub task: Placed<String>,
    /// The file of the station.
    pub station: Option<Placed<String>>,
    /// The files of the reference, sources or one image.
    pub reference: Vec<Placed<String>>,
    /// The files that were handed out.
    pub skeleton: Vec<Placed<String>>,
    /// Points for compiling.
    pub compiles: Points,
    /// Files of procedures.
    pub procedures: Vec<ProcedureFile>,
    /// Programs that must be there.
    pub programs: Vec<String>,
    /// Variables that must be there.
    pub variables: Vec<RequiredVariable>,
    /// What else a submission must keep.
    pub constraints: Constraints,
    /// What a submission may take.
    pub budget: Budget,
}

/// A file of procedures.
#[derive(Clone, Debug)]
pub struct ProcedureFile {
    /// Its name.
    pub file: Placed<String>,
    /// Whether students may see it.
    pub shown: bool,
    /// What is given for a procedure that is not passed.
    pub credit: Credit,
}

/// What is given for a procedure that is not passed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Credit {
    /// Nothing.
    #[default]
    AllOrNothing,
    /// For the expectations that were met, less those that a program meets which does nothing.
    ByExpectation,
}

/// A variable that a submission must have.
#[derive(Clone, Debug)]
pub struct RequiredVariable {
    /// Its name.
    pub name: String,
    /// The name of its elementary type.
    pub kind: Option<String>,
    /// Its address.
    pub address: Option<String>,
}

impl Exercise {
    /// Reads the text of a file `exercise.toml`. Nothing if an error is among the diagnostics.
    pub fn read(file: FileId, text: &str) -> (Option<Exercise>, Vec<Diagnostic>) {
        read::read(file, text)
    }
}
