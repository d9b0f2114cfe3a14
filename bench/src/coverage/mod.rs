//! Coverage: what runs of a program have covered of its text.
//!
//! ```text
//! CoverageMap + CoverageLog(s, merged) + Sources --> Report --> summary | annotated text | LCOV | HTML | JSON
//! ```
//!
//! Statements, branches, decisions, conditions, and modified condition/decision coverage by unique cause and by masking
//! (NASA/TM-2001-210876, DOT/FAA/AR-01/18). What the terms mean in the two languages is said in
//! [`latchwork_compiler::coverage`]. Logs of several runs are merged with [`latchwork_vm::CoverageLog::merge`], in any
//! order.
//!
//! Knows nothing of files.

mod combine;
mod figures;
mod findings;
mod hint;
mod independence;
mod lines;
mod path;
mod place;
pub mod render;
mod report;
mod words;

pub use combine::{Covered, combined};
pub use figures::{Figure, Figures};
pub use findings::{Finding, FindingKind};
pub use hint::{Hint, hint};
use independence::is_true;
pub use independence::{Independence, Pair, contradicts, independence};
pub use lines::{Line, Mark, lines};
pub use place::Place;
pub use report::{
    ArmReport, BranchReport, ConditionReport, DecisionReport, MissingCondition, Report, ReportFile,
    StatementReport, UnitReport,
};
