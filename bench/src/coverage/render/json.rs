//! A report as one JSON document.
//!
//! The document is an interface: fields may be added, none is renamed or removed without a new `schema_version`. Lines
//! and columns count from 1. The values of the conditions of a decision are texts of `T` and `F`, in the order of its
//! conditions.

use serde_json::{Value, json};

use super::annotated::sign;
use crate::coverage::{
    ConditionReport, DecisionReport, Figure, Figures, Finding, Hint, Pair, Place, Report, UnitReport, is_true,
};

/// Version of the document's form.
const SCHEMA_VERSION: u32 = 1;

/// The document, with a line end.
pub fn json(report: &Report) -> String {
    let document = json!({
        "schema_version": SCHEMA_VERSION,
        "files": report.files.iter().map(|file| &file.name).collect::<Vec<_>>(),
        "figures": figures(&report.figures),
        "units": report.units.iter().map(unit).collect::<Vec<_>>(),
    });
    format!("{document:#}\n")
}

fn figure(figure: Figure) -> Value {
    json!({ "covered": figure.covered, "total": figure.total })
}

fn figures(figures: &Figures) -> Value {
    json!({
        "statements": figure(figures.statements),
        "branches": figure(figures.branches),
        "decisions": figure(figures.decisions),
        "conditions": figure(figures.conditions),
        "unique_cause": figure(figures.unique_cause),
        "masking": figure(figures.masking),
    })
}

fn place(place: Place) -> Value {
    json!({ "file": place.file, "line": place.line, "column": place.column, "end_line": place.end_line })
}

fn unit(unit: &UnitReport) -> Value {
    let statements = unit
        .statements
        .iter()
        .map(|it| json!({ "place": place(it.place), "covered": it.covered, "unreachable": it.unreachable }));
    let branches = unit.branches.iter().map(|it| {
        let arms = it.arms.iter().map(|arm| json!({ "label": arm.label, "covered": arm.covered }));
        json!({ "place": place(it.place), "keyword": it.keyword, "arms": arms.collect::<Vec<_>>() })
    });
    json!({
        "name": unit.name,
        "place": place(unit.place),
        "figures": figures(&unit.figures),
        "statements": statements.collect::<Vec<_>>(),
        "branches": branches.collect::<Vec<_>>(),
        "decisions": unit.decisions.iter().map(decision).collect::<Vec<_>>(),
        "missing": unit.missing.iter().map(finding).collect::<Vec<_>>(),
    })
}

fn decision(decision: &DecisionReport) -> Value {
    let [was_false, was_true] = decision.outcomes;
    let length = decision.conditions.len();
    let vectors = decision
        .vectors
        .iter()
        .map(|it| json!({ "conditions": values(it.conditions, length), "outcome": it.outcome }));
    json!({
        "place": place(decision.place),
        "text": decision.text,
        "keyword": decision.keyword,
        "was_false": was_false,
        "was_true": was_true,
        "conditions": decision.conditions.iter().map(|it| condition(it, length)).collect::<Vec<_>>(),
        "vectors": vectors.collect::<Vec<_>>(),
        "vectors_incomplete": decision.overflowed,
        "too_long": decision.too_long,
        "contradictory_vectors": decision.contradictory,
    })
}

fn condition(condition: &ConditionReport, length: usize) -> Value {
    let [was_false, was_true] = condition.seen;
    let pair = |pair: Pair| json!({ "when_false": values(pair.when_false, length), "when_true": values(pair.when_true, length) });
    let missing = condition.missing.as_ref().map(|missing| {
        let tried = match missing.hint {
            Hint::One { tried, .. } => vec![values(tried, length)],
            Hint::Two(pair) => vec![values(pair.when_false, length), values(pair.when_true, length)],
            Hint::Impossible | Hint::Unknown => Vec::new(),
        };
        json!({
            "reason": missing.reason,
            "advice": missing.advice,
            "impossible": missing.hint == Hint::Impossible,
            "try": tried,
        })
    });
    json!({
        "text": condition.text,
        "was_false": was_false,
        "was_true": was_true,
        "same_as": condition.same_as,
        "shares_variables_with": condition.shares_with,
        "unique_cause": condition.shown.unique_cause.map(pair),
        "masking": condition.shown.masking.map(pair),
        "missing": missing,
    })
}

fn finding(finding: &Finding) -> Value {
    json!({
        "kind": finding.kind.name(),
        "place": place(finding.place),
        "subject": finding.subject,
        "message": finding.message,
        "advice": finding.advice,
    })
}

fn values(vector: u64, length: usize) -> String {
    (0u32..).take(length).map(|condition| sign(is_true(vector, condition))).collect()
}
