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
pub(crate) use self::survey::SurveyLists;
use crate::{
    check::Checker,
    findings::{Findings, SameName},
    typed::{Statement, Variable, VariableId},
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
    /// The body as it was written, if that was in Structured Text.
    text: &'c [tree::Statement],
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
        let location = variable.location.as_deref().or(global.and_then(|global| global.location.as_deref()));
        location.map(|address| address.area)
    }
}

/// The warnings found so far. They are reported at the end: what is found wrong with a unit later takes its warnings
/// away.
pub(crate) struct Warnings {
    /// Names that are reached from outside of all bodies.
    outside: BTreeSet<Name>,
    found: Vec<(UnitId, Found)>,
    /// How many were found in all bodies.
    counted: SameName,
}

/// What was found in one unit.
struct Found {
    warnings: Vec<Diagnostic>,
    /// Instances that no body calls; a task may do it.
    uncalled: Vec<(VariableId, Diagnostic)>,
}

impl Warnings {
    /// Before the first body.
    pub(crate) fn new(trees: &[SyntaxTree]) -> Self {
        Warnings { outside: outside::names(trees), found: Vec::new(), counted: SameName::default() }
    }

    /// Looks for warnings in a body that has just been checked; `text` are its statements if it was written in
    /// Structured Text. The lists of a survey are handed on from body to body.
    pub(crate) fn look(
        &mut self,
        checker: &Checker<'_>,
        unit: UnitId,
        text: &[tree::Statement],
        body: &[Statement],
        lists: SurveyLists,
    ) -> SurveyLists {
        let Some(scope) = checker.units.get(unit.0 as usize) else { return lists };
        if is_silent(checker, unit) {
            return lists;
        }
        let survey = lists.survey(body);
        let context = Context {
            types: &checker.types,
            variables: &scope.variables,
            globals: &checker.globals.variables,
            body,
            survey: &survey,
            tree: scope.tree,
            text,
            outside: &self.outside,
            checker,
            unit,
        };
        let mut found = Findings::after(std::mem::take(&mut self.counted));
        let mut uncalled = Vec::new();
        look_at(&context, &mut found, &mut uncalled);
        let (warnings, counted) = found.into_parts();
        self.counted = counted;
        if !warnings.is_empty() || !uncalled.is_empty() {
            self.found.push((unit, Found { warnings, uncalled }));
        }
        survey.into_lists()
    }

    /// Reports all warnings.
    pub(crate) fn report(self, checker: &mut Checker<'_>) {
        let mut found = self.found.into_iter().peekable();
        let mut reported = Vec::new();
        let mut unused = Findings::default();
        for index in 0..checker.units.len() {
            let unit = UnitId(index as u32);
            let of_body = found.next_if(|(of, _)| *of == unit);
            if is_silent(checker, unit) {
                continue;
            }
            // Other bodies may use a variable too.
            usage::unused(checker, unit, &self.outside, &mut unused);
            let Some((_, of_body)) = of_body else { continue };
            reported.extend(of_body.warnings);
            let tasked = &checker.configuration.tasked;
            let uncalled = of_body.uncalled.into_iter();
            reported.extend(
                uncalled.filter(|(id, _)| !tasked.contains(&(unit, *id))).map(|(_, diagnostic)| diagnostic),
            );
        }
        for diagnostic in unused.into_parts().0.into_iter().chain(reported) {
            checker.report(diagnostic);
        }
    }
}

/// Whether nothing is said of a unit: it was made by the checker, or something is wrong with it.
fn is_silent(checker: &Checker<'_>, unit: UnitId) -> bool {
    let scope = &checker.units[unit.0 as usize];
    scope.object.made || scope.tree.damaged || checker.has_error_in(scope.tree.span)
}

/// Looks for all warnings that follow from a unit and its body alone.
fn look_at(context: &Context<'_>, found: &mut Findings, uncalled: &mut Vec<(VariableId, Diagnostic)>) {
    let (checker, unit, tree) = (context.checker, context.unit, context.tree);
    hidden::names(context, unit, found);
    usage::one_way(context, unit, found);
    names::alike(context, unit, found);
    result::missing(context, checker.units[unit.0 as usize].result, found);
    targets::shared(context, found);
    coils::double_coils(context, found);
    blocks::block_calls(context, found, uncalled);
    // In Instruction List the checker sees the very instruction, also where it leaves no statement.
    if !matches!(tree.body, Body::InstructionList(_)) {
        flow::unreachable(context, found);
    }
    flow::empty_branches(context, found);
    flow::empty_body(context, found);
    conditions::always(context, found);
    conditions::guards(context, found);
    contradictions::settled(context, found);
    counting::without_edge(context, found);
    latches::never_reset(context, found);
    mixing::bit_with_word(context, found);
    narrowing::lossy(context, found);
    arithmetic::real_equality(context, found);
    arithmetic::late_widening(context, found);
    arithmetic::divided_first(context, found);
    loops::endless(context, found);
    loops::bound_changed(context, found);
    loops::control_read_after(context, found);
    loops::missing_case_values(context, found);
    operators::mixed_operators(context, found);
}

/// Reports the warnings about the expressions of the only unit, which is no program: those that look at values, not
/// at statements and variables.
pub(crate) fn warn_of_values(checker: &mut Checker<'_>) {
    let Some(unit) = checker.units.first().filter(|_| !checker.has_errors()) else { return };
    let (tree, outside) = (unit.tree, BTreeSet::new());
    let survey = SurveyLists::default().survey(&unit.body);
    let mut found = Findings::default();
    let context = Context {
        types: &checker.types,
        variables: &unit.variables,
        globals: &checker.globals.variables,
        body: &unit.body,
        survey: &survey,
        tree,
        text: statements(&tree.body),
        outside: &outside,
        checker: &*checker,
        unit: UnitId(0),
    };
    conditions::always(&context, &mut found);
    conditions::guards(&context, &mut found);
    // There is no IF to put the comparison into.
    let (mut found, counted) = found.into_parts();
    found.iter_mut().filter(|diagnostic| diagnostic.name == "guard-and").for_each(|diagnostic| {
        diagnostic.notes =
            vec!["both sides of AND and OR are always evaluated, here as in programs".to_owned()];
    });
    let mut others = Findings::after(counted);
    contradictions::settled(&context, &mut others);
    mixing::bit_with_word(&context, &mut others);
    narrowing::lossy(&context, &mut others);
    arithmetic::real_equality(&context, &mut others);
    arithmetic::late_widening(&context, &mut others);
    arithmetic::divided_first(&context, &mut others);
    operators::mixed_operators(&context, &mut others);
    for diagnostic in found.into_iter().chain(others.into_parts().0) {
        checker.report(diagnostic);
    }
}

/// The bodies of a unit that are written in Structured Text: its own, or those of the actions of its chart.
fn structured_texts<'c>(context: &Context<'c>) -> Vec<&'c [tree::Statement]> {
    match &context.tree.body {
        Body::SequentialFunctionChart(chart) => {
            chart.actions.iter().map(|action| statements(&action.body)).collect()
        }
        _ => vec![context.text],
    }
}

/// The statements of a body in Structured Text; none of another one.
fn statements(body: &Body) -> &[tree::Statement] {
    match body {
        Body::StructuredText(statements) => statements,
        _ => &[],
    }
}
