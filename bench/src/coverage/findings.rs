//! What is missing, in words: one finding for each thing to test, none for what follows from another one.

use std::collections::BTreeSet;

use super::{
    place::Place,
    report::{BranchReport, ConditionReport, DecisionReport, StatementReport, UnitReport},
};

/// Something that was not covered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What kind.
    pub kind: FindingKind,
    /// Where.
    pub place: Place,
    /// The decision that it is about.
    pub subject: Option<String>,
    /// What, and why, in a sentence without full stop.
    pub message: String,
    /// What would cover it, if that can be said.
    pub advice: Option<String>,
}

/// The kinds of findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FindingKind {
    /// A statement was not run.
    Statement,
    /// A way of a branch was not gone.
    Branch,
    /// A decision was not evaluated, or always came out the same.
    Decision,
    /// A condition was not shown to decide.
    Condition,
}

impl FindingKind {
    /// Its name, for tables and files.
    pub const fn name(self) -> &'static str {
        match self {
            FindingKind::Statement => "statement",
            FindingKind::Branch => "branch",
            FindingKind::Decision => "decision",
            FindingKind::Condition => "condition",
        }
    }
}

/// What is missing in a unit, in the order of the text.
pub(super) fn missing(unit: &UnitReport) -> Vec<Finding> {
    let mut found = statements(unit);
    for branch in &unit.branches {
        branch_ways(branch, &mut found);
    }
    for decision in &unit.decisions {
        decision_parts(unit, decision, &mut found);
    }
    found.sort_by_key(|finding| (finding.place, finding.kind));
    found
}

/// Statements that were not run; those that follow one another, and those inside others, together.
fn statements(unit: &UnitReport) -> Vec<Finding> {
    // A condition that was asked stands between statements that were not run: ELSIF.
    let asked: BTreeSet<u32> =
        unit.decisions.iter().filter(|it| it.is_evaluated()).map(|it| it.place.line).collect();
    let mut found: Vec<(&StatementReport, Place)> = Vec::new();
    let mut goes_on = false;
    for statement in &unit.statements {
        if statement.covered {
            goes_on = false;
            continue;
        }
        let own = statement.place;
        match found.last_mut() {
            Some((first, place))
                if goes_on
                    && first.unreachable == statement.unreachable
                    && asked.range(place.line + 1..=own.line).next().is_none() =>
            {
                place.end_line = place.end_line.max(own.end_line);
            }
            _ => found.push((statement, own)),
        }
        goes_on = true;
    }
    let told = found.into_iter().map(|(first, place)| {
        let text = &first.text;
        let message = match (first.unreachable, place.line == place.end_line) {
            (true, _) => format!("`{text}` can never run: what stands before it always leaves"),
            (false, true) => format!("`{text}` was never run"),
            (false, false) => format!("nothing was run from `{text}` to line {}", place.end_line),
        };
        Finding { kind: FindingKind::Statement, place, subject: None, message, advice: None }
    });
    told.collect()
}

/// Ways that were not gone of a branch that was reached.
fn branch_ways(branch: &BranchReport, found: &mut Vec<Finding>) {
    if !branch.is_reached() {
        return;
    }
    for arm in branch.arms.iter().filter(|arm| !arm.covered) {
        let keyword = &branch.keyword;
        let message = match (arm.place, arm.label.as_str()) {
            (Some(_), label) => format!("the group `{label}` of the CASE was never chosen"),
            (None, "ELSE") => "the selector of the CASE was always one of its labels".to_owned(),
            (None, "entered") => "the body of the FOR was never entered".to_owned(),
            (None, "not entered") => "the body of the FOR was entered every time".to_owned(),
            (None, label) => format!("the condition of {keyword} was never {label}"),
        };
        let place = arm.place.unwrap_or(branch.place);
        found.push(Finding { kind: FindingKind::Branch, place, subject: None, message, advice: None });
    }
}

fn decision_parts(unit: &UnitReport, decision: &DecisionReport, found: &mut Vec<Finding>) {
    let place = decision.place;
    let finding = |kind, message: String, advice| Finding {
        kind,
        place,
        subject: Some(decision.text.clone()),
        message,
        advice,
    };
    if !decision.is_evaluated() {
        // What is not reached is told already, by its statement or by the branch before it.
        let inside = |statement: &&StatementReport| {
            let (outer, line) = (statement.place, place.line);
            outer.line <= line && line <= outer.end_line
        };
        let innermost = unit.statements.iter().rev().find(inside);
        if innermost.is_some_and(|statement| statement.covered)
            && decision.keyword.as_deref() != Some("ELSIF")
        {
            found.push(finding(FindingKind::Decision, "was never evaluated".to_owned(), None));
        }
        return;
    }
    if decision.keyword.is_none() && decision.outcomes != [true; 2] {
        let [_, was_true] = decision.outcomes;
        let missing = if was_true { "FALSE" } else { "TRUE" };
        found.push(finding(FindingKind::Decision, format!("was never {missing}"), None));
    }
    // With one condition its values are the outcomes.
    if let [_] = decision.conditions.as_slice() {
        return;
    }
    for condition in &decision.conditions {
        if let Some(missing) = &condition.missing {
            let advice = Some(missing.advice.clone());
            found.push(finding(FindingKind::Condition, missing.reason.clone(), advice));
        } else if decision.too_long {
            let Some(message) = too_long(decision, condition) else { continue };
            found.push(finding(FindingKind::Condition, message, None));
        }
    }
}

/// What is known of a condition whose values are not followed together with the others.
fn too_long(decision: &DecisionReport, condition: &ConditionReport) -> Option<String> {
    let missing = match condition.seen {
        [true, true] => return None,
        [true, false] => "TRUE",
        _ => "FALSE",
    };
    let count = decision.conditions.len();
    Some(format!("{} was never {missing}; it is one of {count} conditions of a decision", condition.name))
}
