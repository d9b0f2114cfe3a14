//! Marking: one submission against the procedures of an exercise.

pub mod model;
pub mod points;

pub use model::{
    Divergence, Finding, FindingKind, Gravity, Item, ItemKind, ItemResult, ItemVerdict, Marked, MarkedFile,
    MarkingScheme, State, Student,
};
pub use points::Points;
