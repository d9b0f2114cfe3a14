//! Warnings for programs that are correct but probably not what their author wants.
//!
//! They look at the typed tree of a unit without errors, so that both text languages are covered and no
//! warning follows from a mistake. A warning must be right: where a pattern is also a common idiom, it stays
//! silent. Syntax is consulted only where parentheses matter.

mod arithmetic;
mod blocks;
mod coils;
mod conditions;
mod contradictions;
mod counting;
mod flow;
mod hidden;
mod latches;
mod loops;
mod mixing;
mod names;
mod narrowing;
mod operators;
mod outside;
mod result;
mod survey;
mod targets;
mod usage;

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Name,
    tree::{self, Area, Body, ProgramUnit, SyntaxTree},
};

use self::survey::Survey;
use crate::{
    check::Checker,
    typed::{Statement, Variable},
    types::{Types, UnitId},
};

/// What the warnings of one unit may look at.
struct Context<'c> {
    types: &'c Types,
    variables: &'c [Variable],
    globals: &'c [Variable],
    body: &'c [Statement],
    survey: &'c Survey<'c>,
    tree: &'c ProgramUnit,
    /// Names that are reached from outside of all bodies.
    outside: &'c BTreeSet<Name>,
    checker: &'c Checker<'c>,
    unit: UnitId,
}

impl Context<'_> {
    /// The text of a place.
    fn text(&self, span: latchwork_grammar::Span) -> &str {
        self.checker.sources.text(span)
    }

    /// Whether other code than the body works on the variables of the unit: methods, bases, derived types.
    fn is_open(&self) -> bool {
        let object = &self.checker.units[self.unit.0 as usize].object;
        !object.methods.is_empty()
            || !object.derived.is_empty()
            || object.owner.is_some()
            || self.tree.extends.is_some()
    }

    /// The area a variable lies in, by its own address or by that of the global it stands for.
    fn area(&self, variable: &Variable) -> Option<Area> {
        let global = variable.global.and_then(|id| self.globals.get(id.0 as usize));
        let location = variable.location.as_ref().or(global.and_then(|global| global.location.as_ref()));
        location.map(|address| address.area)
    }
}

/// Reports the warnings of all units.
pub(crate) fn warn(checker: &mut Checker<'_>, trees: &[SyntaxTree]) {
    let outside = outside::names(trees);
    let mut found: Vec<Diagnostic> = Vec::new();
    let mut surveys = Survey::default();
    for index in 0..checker.units.len() {
        let unit = UnitId(index as u32);
        let tree = checker.units[index].tree;
        if checker.units[index].object.made || tree.damaged || checker.has_error_in(tree.span) {
            continue;
        }
        surveys.take(&checker.units[index].body);
        let context = Context {
            types: &checker.types,
            variables: &checker.units[index].variables,
            globals: &checker.globals.variables,
            body: &checker.units[index].body,
            survey: &surveys,
            tree,
            outside: &outside,
            checker: &*checker,
            unit,
        };
        usage::unused(&context, unit, &mut found);
        hidden::names(&context, unit, &mut found);
        usage::one_way(&context, unit, &mut found);
        names::alike(&context, unit, &mut found);
        result::missing(&context, checker.units[index].result, &mut found);
        targets::shared(&context, &mut found);
        coils::double_coils(&context, &mut found);
        blocks::block_calls(&context, &mut found);
        // In Instruction List the checker sees the very instruction, also where it leaves no statement.
        if !matches!(tree.body, Body::InstructionList(_)) {
            flow::unreachable(&context, &mut found);
        }
        flow::empty_branches(&context, tree, &mut found);
        flow::empty_body(&context, &mut found);
        conditions::always(&context, &mut found);
        conditions::guards(&context, &mut found);
        contradictions::settled(&context, &mut found);
        counting::without_edge(&context, &mut found);
        latches::never_reset(&context, &mut found);
        mixing::bit_with_word(&context, &mut found);
        narrowing::lossy(&context, &mut found);
        arithmetic::real_equality(&context, &mut found);
        arithmetic::late_widening(&context, &mut found);
        arithmetic::divided_first(&context, &mut found);
        loops::endless(&context, &mut found);
        loops::bound_changed(&context, &mut found);
        loops::control_read_after(&context, &mut found);
        loops::missing_case_values(&context, &mut found);
        operators::mixed_operators(tree, &context, &mut found);
    }
    for diagnostic in found {
        checker.report(diagnostic);
    }
}

/// Reports the warnings about the expressions of the only unit, which is no program: those that look at values, not
/// at statements and variables.
pub(crate) fn warn_of_values(checker: &mut Checker<'_>) {
    let Some(unit) = checker.units.first().filter(|_| !checker.has_errors()) else { return };
    let (tree, outside) = (unit.tree, BTreeSet::new());
    let mut survey = Survey::default();
    survey.take(&unit.body);
    let mut found: Vec<Diagnostic> = Vec::new();
    let context = Context {
        types: &checker.types,
        variables: &unit.variables,
        globals: &checker.globals.variables,
        body: &unit.body,
        survey: &survey,
        tree,
        outside: &outside,
        checker: &*checker,
        unit: UnitId(0),
    };
    conditions::always(&context, &mut found);
    conditions::guards(&context, &mut found);
    // There is no IF to put the comparison into.
    found.iter_mut().filter(|diagnostic| diagnostic.name == "guard-and").for_each(|diagnostic| {
        diagnostic.notes =
            vec!["both sides of AND and OR are always evaluated, here as in programs".to_owned()];
    });
    contradictions::settled(&context, &mut found);
    mixing::bit_with_word(&context, &mut found);
    narrowing::lossy(&context, &mut found);
    arithmetic::real_equality(&context, &mut found);
    arithmetic::late_widening(&context, &mut found);
    arithmetic::divided_first(&context, &mut found);
    operators::mixed_operators(tree, &context, &mut found);
    for diagnostic in found {
        checker.report(diagnostic);
    }
}

/// The bodies of a unit that are written in Structured Text: its own, or those of the actions of its chart.
fn structured_texts(unit: &ProgramUnit) -> Vec<&[tree::Statement]> {
    fn text(body: &Body) -> Option<&[tree::Statement]> {
        match body {
            Body::StructuredText(statements) => Some(statements),
            _ => None,
        }
    }
    match &unit.body {
        Body::SequentialFunctionChart(chart) => {
            chart.actions.iter().filter_map(|action| text(&action.body)).collect()
        }
        body => text(body).into_iter().collect(),
    }
}
