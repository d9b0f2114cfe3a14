//! What happened most often in a class: findings, and moments at which runs first were not as expected.

mod divergences;
mod findings;

pub use self::{divergences::CommonDivergence, findings::CommonFinding};
pub(super) use self::{divergences::Divergences, findings::Findings};
use crate::marking::{Finding, FindingKind, Gravity, Marked};

/// The error that tells best what keeps a submission from running: the first one that is not a defect of this program.
pub(super) fn first_error(marked: &Marked) -> Option<&Finding> {
    marked.findings.iter().find(|it| it.severity == Gravity::Error && it.kind != FindingKind::Internal)
}
