//! The names of the ways to fail, under which `explain` has a page for each.

use crate::procedure::outcome::FailureKind;

/// Name and summary of every way to fail, in alphabetical order.
pub const FAILURES: &[(&str, &str)] = &[
    ("at-passed", "a step is to be taken at a time that has passed already"),
    ("condition-stopped", "a condition or value of the procedure could not be computed"),
    ("expect-between", "the condition became TRUE too early, or too late, or not at all"),
    ("expect-edges", "there were more or fewer edges or changes than expected"),
    ("expect-for", "the condition did not stay TRUE for as long as expected"),
    ("expect-now", "the condition was not TRUE when it was looked at"),
    ("expect-while", "the condition did not stay TRUE while the steps of its block ran"),
    ("expect-within", "the condition did not become TRUE in the time it had"),
    ("plant-stopped", "a fault stopped the program that plays the plant"),
    ("program-stopped", "a fault stopped the program"),
    ("rule-always", "a condition that must always be TRUE was FALSE"),
    ("rule-never", "a condition that must never be TRUE was TRUE"),
    ("rule-whenever", "a condition did not follow another one in the time it had"),
    ("run-too-long", "the procedure takes more scans or steps than are allowed"),
    ("trace-differs", "the run does not follow the recorded trace"),
    ("trace-not-approved", "there is no approved trace to compare the run with"),
    ("trace-not-compared", "a recorded trace could not be compared with the run"),
    ("value-refused", "a value does not fit what it is set to"),
];

/// The name of a way to fail.
pub fn failure_name(kind: &FailureKind) -> &'static str {
    match kind {
        FailureKind::Now => "expect-now",
        FailureKind::Within { .. } => "expect-within",
        FailureKind::For { .. } => "expect-for",
        FailureKind::TooEarly { .. } | FailureKind::TooLate { .. } => "expect-between",
        FailureKind::While => "expect-while",
        FailureKind::Edges { .. } => "expect-edges",
        FailureKind::Always => "rule-always",
        FailureKind::Never => "rule-never",
        FailureKind::Response { .. } => "rule-whenever",
        FailureKind::Trace(_) => "trace-differs",
        FailureKind::NotApproved { .. } => "trace-not-approved",
        FailureKind::NotCompared { .. } => "trace-not-compared",
        FailureKind::AlreadyLater { .. } => "at-passed",
        FailureKind::Fault(_) => "program-stopped",
        FailureKind::PlantFault(_) => "plant-stopped",
        FailureKind::ConditionFault(_) => "condition-stopped",
        FailureKind::ValueRefused { .. } => "value-refused",
        FailureKind::TooLong { .. } => "run-too-long",
    }
}
