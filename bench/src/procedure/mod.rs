//! Procedures: a timeline of steps and expectations, run against a program on the virtual bench.
//!
//! ```text
//! StepsFile + Program + Station --bind--> Script --run--> Outcome
//! ```
//!
//! Time. Scans start at 0, one scan time, two scan times…; "now" is a time, and a step applies before the scan that
//! starts at or after it. An expectation looks at the state after the scan that starts now, or the first one after that
//! and after all steps before it; two in a row look at the same scan. A procedure ends at its first failure.
//!
//! A plant runs between the scans, as in a replay. What is looked at after a scan is what the scan saw and did; the plant
//! goes on before the next step that does something, or the next scan.
//!
//! Knows nothing of files, threads or pictures.

mod acting;
mod bind;
mod bound;
mod clock;
mod conditions;
pub mod course;
mod driven;
mod effects;
mod expectations;
mod explain;
pub mod files;
mod length;
mod names;
mod observation;
pub mod outcome;
mod pace;
pub mod report;
mod rules;
mod run;
mod script;
mod tally;
mod texts;
mod throughout;
mod traces;

pub(crate) use acting::{Act, Acting};
pub(crate) use bind::head;
pub use outcome::{Action, Departed, Failure, FailureKind, Outcome, Part, Verdict};
pub use pace::Pace;
pub use script::{InitialFault, LaterFault, RunBudget, RunOptions, Script, ScriptParts};
pub use tally::Tally;
pub use texts::ProcedureTexts;
pub use traces::{TraceFile, Traces};
