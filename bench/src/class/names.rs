//! Stable names for documents that other programs read.

use super::statistics::{Agreement, Band};
use crate::marking::{FindingKind, Gravity, ItemKind, ItemVerdict, State};

/// Of a state.
pub(super) const fn state(state: State) -> &'static str {
    match state {
        State::Ran => "ran",
        State::NotCompiled => "not_compiled",
        State::Empty => "empty",
        State::NothingHandedIn => "nothing_handed_in",
        State::OverBudget => "over_budget",
        State::Unreadable => "unreadable",
        State::InternalFault => "internal_fault",
    }
}

/// Of a verdict.
pub(super) const fn verdict(verdict: ItemVerdict) -> &'static str {
    match verdict {
        ItemVerdict::Passed => "passed",
        ItemVerdict::Partly => "partly",
        ItemVerdict::Failed => "failed",
        ItemVerdict::Refused => "refused",
        ItemVerdict::NotRun => "not_run",
    }
}

/// Of what points are given for.
pub(super) const fn item_kind(kind: ItemKind) -> &'static str {
    match kind {
        ItemKind::Compiles => "compiles",
        ItemKind::Procedure => "procedure",
    }
}

/// Of where a finding comes from.
pub(super) const fn finding_kind(kind: FindingKind) -> &'static str {
    match kind {
        FindingKind::Intake => "intake",
        FindingKind::Compile => "compile",
        FindingKind::Interface => "interface",
        FindingKind::Constraint => "constraint",
        FindingKind::Budget => "budget",
        FindingKind::Internal => "internal",
    }
}

/// Of how grave a finding is.
pub(super) const fn gravity(gravity: Gravity) -> &'static str {
    match gravity {
        Gravity::Error => "error",
        Gravity::Warning => "warning",
        Gravity::Note => "note",
    }
}

/// Of a band of discrimination.
pub(super) const fn band(band: Band) -> &'static str {
    match band {
        Band::VeryGood => "very_good",
        Band::ReasonablyGood => "reasonably_good",
        Band::Marginal => "marginal",
        Band::Poor => "poor",
        Band::Reversed => "reversed",
    }
}

/// Of what alpha says.
pub(super) const fn agreement(agreement: Agreement) -> &'static str {
    match agreement {
        Agreement::High => "high",
        Agreement::Fair => "fair",
        Agreement::Weak => "weak",
        Agreement::Low => "low",
        Agreement::Contrary => "contrary",
    }
}
