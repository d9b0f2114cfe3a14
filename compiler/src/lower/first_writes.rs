//! Which variables a body always writes before anything reads them, so that they need no initial value.
//!
//! Follows assignments of whole variables through IF and CASE. Whatever is not understood at once counts as a read.

use std::collections::BTreeSet;

use crate::typed::{Access, Expression, Root, Statement, StatementKind, VariableId, accesses};

/// Whether a body that runs from its beginning writes all of these variables before it reads one of them or ends.
pub(super) fn writes_all_first(body: &[Statement], variables: BTreeSet<VariableId>) -> bool {
    let mut left = variables;
    walk(body, &mut left) && left.is_empty()
}

/// Takes the variables that are written out of those that are left. Tells whether the end of the body is reached with
/// none of the others read.
fn walk(body: &[Statement], left: &mut BTreeSet<VariableId>) -> bool {
    for statement in body {
        if left.is_empty() {
            return true;
        }
        let well = match &statement.kind {
            StatementKind::Assign { target, value } => !reads(value, left) && assigned(target, left),
            StatementKind::If { branches, otherwise } => {
                let conditions = branches.iter().map(|(condition, _)| condition);
                let ways = branches.iter().map(|(_, body)| body.as_slice());
                !conditions.into_iter().any(|condition| reads(condition, left))
                    && all_ways(ways.chain([otherwise.as_slice()]), left)
            }
            StatementKind::Case { selector, groups, otherwise } => {
                let ways = groups.iter().map(|(_, body)| body.as_slice());
                !reads(selector, left) && all_ways(ways.chain([otherwise.as_slice()]), left)
            }
            StatementKind::CallBlock(_) | StatementKind::Evaluate(_) => !mentions(statement, left),
            StatementKind::Event(_) | StatementKind::Observe(_) => true,
            // Loops may have passes that see what others wrote, jumps lead anywhere, and RETURN ends the body.
            _ => false,
        };
        if !well {
            return false;
        }
    }
    true
}

/// What is written on every way.
fn all_ways<'s>(ways: impl Iterator<Item = &'s [Statement]>, left: &mut BTreeSet<VariableId>) -> bool {
    let mut after = BTreeSet::new();
    for way in ways {
        let mut own = left.clone();
        if !walk(way, &mut own) {
            return false;
        }
        after.append(&mut own);
    }
    *left = after;
    true
}

fn assigned(target: &Access, left: &mut BTreeSet<VariableId>) -> bool {
    match target.root {
        Root::Variable(id) if target.steps.is_empty() => {
            left.remove(&id);
            true
        }
        // Subscripts are read, and a part that is written leaves the other parts.
        _ => {
            let mut found = false;
            accesses::access(target, &mut |access| found |= is_one_of(access, left));
            !found
        }
    }
}

fn reads(value: &Expression, left: &BTreeSet<VariableId>) -> bool {
    let mut found = false;
    accesses::expression_accesses(value, &mut |access| found |= is_one_of(access, left));
    found
}

fn mentions(statement: &Statement, left: &BTreeSet<VariableId>) -> bool {
    let mut found = false;
    accesses::accesses(std::slice::from_ref(statement), &mut |access| found |= is_one_of(access, left));
    found
}

fn is_one_of(access: &Access, left: &BTreeSet<VariableId>) -> bool {
    matches!(&access.root, Root::Variable(id) if left.contains(id))
}
