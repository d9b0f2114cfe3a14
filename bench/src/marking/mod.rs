//! Marking: one submission against the procedures of an exercise.
//!
//! ```text
//! Exercise + Station + procedures + reference --Marker::new--> Marker
//! Submitted --Marker::mark--> Marked (kept) + Evidence (for feedback, while it is at hand)
//! ```
//!
//! - A procedure that passes earns what it is worth. One that does not earns nothing, or, where the exercise gives credit by
//!   expectation, (m − n) / (a − n) of it: m of its a expectations are met, and a program that does nothing meets n.
//! - Points for compiling go to a program that compiles and works a load, or earns something elsewhere: doing nothing
//!   earns nothing.
//! - Each constraint that is not kept takes the deduction off. No total is below zero.
//! - What the interface lacks costs nothing by itself; procedures that need it cannot be run.

mod beside;
mod evidence;
pub mod feedback;
mod interface;
mod judge;
mod marker;
pub mod model;
mod names;
mod nothing;
pub mod points;
mod rules;
mod submission;

pub use evidence::{Evidence, ExerciseTexts, ItemEvidence};
pub use marker::{ExerciseParts, Marker};
pub use model::{
    Divergence, Finding, FindingKind, Gravity, Item, ItemKind, ItemResult, ItemVerdict, Marked, MarkedFile,
    MarkingScheme, State, Student,
};
pub use points::Points;
pub use submission::{FINDINGS_MAX, Submitted};
