//! Variables that nothing uses, nothing writes or nothing reads.
//!
//! Inside a function or a function block a value that is only written or only read is always a slip. In a
//! program it may be meant for someone who watches the run or sets values by hand: there it is a slip only if
//! the program has a face of its own, inputs for what is read and outputs for what is written.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Name,
    tree::{Area, Body, SectionKind, UnitKind},
};

use super::Context;
use crate::{
    check::Checker,
    findings::Findings,
    object_scope::Visibility,
    scope::VariableSet,
    typed::{Root, StatementKind, Step, Variable, VariableId},
    types::{Type, UnitId},
};

/// Declared and never mentioned: VAR, VAR_TEMP and VAR_EXTERNAL. Outputs and PUBLIC variables belong to the face of a unit and
/// located variables to the wiring; both may be declared for completeness.
pub(super) fn unused(checker: &Checker<'_>, unit: UnitId, outside: &BTreeSet<Name>, found: &mut Findings) {
    let scope = &checker.units[unit.0 as usize];
    for (index, variable) in scope.variables.iter().enumerate() {
        let id = VariableId(index as u32);
        // The type that declares a variable knows of its uses in derived types.
        let inherited = index < scope.object.inherited;
        let public = scope.object.variable_visibility.get(index) == Some(&Visibility::Public);
        let inner = !inherited
            && !public
            && matches!(variable.section, SectionKind::Var | SectionKind::Temp | SectionKind::External);
        if !inner || variable.hidden || variable.location.is_some() || scope.result == Some(id) {
            continue;
        }
        let Some(name) = variable.name else { continue };
        if variable.section == SectionKind::Var && outside.contains(&name) {
            continue;
        }
        if !scope.used.contains(id) {
            let name = checker.spelling(name);
            found.push(
                Diagnostic::warning("unused-variable", variable.span, format!("`{name}` is never used"))
                    .label("declared, but not mentioned in the body")
                    .note("remove the declaration, or use another name where this one was meant"),
            );
        }
    }
}

/// What a body does with the variables of its unit, as wholes.
#[derive(Default)]
struct Uses {
    read: VariableSet,
    written: VariableSet,
    /// A directly represented input or output is used.
    direct_input: bool,
    direct_output: bool,
}

impl Uses {
    fn of(context: &Context<'_>) -> Self {
        let mut uses = Uses::default();
        let survey = context.survey;
        if survey.kinds.counted_loops {
            for surveyed in survey.statements() {
                if let StatementKind::For { variable, .. } = &surveyed.statement.kind
                    && let Root::Variable(id) = variable.root
                {
                    uses.read.insert(id);
                }
            }
        }
        for access in survey.reads() {
            match &access.root {
                Root::Variable(id) => uses.read.insert(*id),
                Root::Direct(address) => uses.direct_input |= address.area == Area::Input,
                Root::This | Root::Global(_) => {}
            }
        }
        for access in survey.references() {
            if let Root::Variable(id) = access.root {
                uses.written.insert(id);
            }
        }
        for access in survey.writes() {
            match &access.root {
                // What it points to is written, not the reference.
                Root::Variable(id) if access.steps.iter().any(|step| matches!(step, Step::Dereference)) => {
                    uses.read.insert(*id);
                }
                Root::Variable(id) => uses.written.insert(*id),
                Root::Direct(address) => uses.direct_output |= address.area == Area::Output,
                Root::This | Root::Global(_) => {}
            }
        }
        uses
    }
}

/// Variables with a value that goes nowhere or comes from nowhere, and parameters that nothing looks at.
pub(super) fn one_way(context: &Context<'_>, unit: UnitId, found: &mut Findings) {
    let tree = context.tree;
    let text = !matches!(tree.body, Body::Empty);
    // The variables of a method are its own; its parameters an interface or a base may demand.
    let method = tree.kind == UnitKind::Method;
    let open = context.outside.contains(&tree.name.name) || context.is_open();
    if !text || (open && !method) || tree.kind == UnitKind::Class {
        return;
    }
    let scope = &context.checker.units[unit.0 as usize];
    let uses = Uses::of(context);
    let in_program = tree.kind == UnitKind::Program;
    let some = |used: &VariableSet, pick: &dyn Fn(&Variable) -> bool| {
        context.variables.iter().enumerate().any(|(index, variable)| {
            let external =
                variable.section == SectionKind::External && used.contains(VariableId(index as u32));
            external || pick(variable)
        })
    };
    let has_inputs =
        !in_program || uses.direct_input || some(&uses.read, &|variable| is_input(context, variable));
    let has_outputs =
        !in_program || uses.direct_output || some(&uses.written, &|variable| is_output(context, variable));
    for (index, variable) in context.variables.iter().enumerate() {
        let id = VariableId(index as u32);
        let Some(name) = variable.name.filter(|_| !variable.hidden && scope.result != Some(id)) else {
            continue;
        };
        if context.outside.contains(&name) {
            continue;
        }
        let (read, written) = (uses.read.contains(id), uses.written.contains(id));
        let mentioned = scope.used.contains(id);
        let name = context.checker.spelling(name);
        match variable.section {
            SectionKind::Input | SectionKind::InOut | SectionKind::Output if method => {}
            SectionKind::Input | SectionKind::InOut if !mentioned && !read && !written => {
                // Read by the call, not by the body.
                if name.eq_ignore_ascii_case("EN") {
                    continue;
                }
                found.push(
                    Diagnostic::warning(
                        "unused-parameter",
                        variable.span,
                        format!("the body never looks at the parameter `{name}`"),
                    )
                    .label("whatever the caller gives has no effect")
                    .note("use it in the body, or take it out of the declaration"),
                );
            }
            SectionKind::Output if !written && variable.initial.is_none() && is_plain(context, variable) => {
                if name.eq_ignore_ascii_case("ENO") || variable.location.is_some() {
                    continue;
                }
                found.push(
                    Diagnostic::warning(
                        "never-written",
                        variable.span,
                        format!("the output `{name}` never gets a value"),
                    )
                    .label("always its initial value")
                    .note("assign it in the body, or take it out of the declaration"),
                );
            }
            SectionKind::Var | SectionKind::Temp if variable.location.is_none() && !variable.constant => {
                let temporary = variable.section == SectionKind::Temp;
                if !is_plain(context, variable) {
                    continue;
                }
                if read && !written && variable.initial.is_none() && (has_inputs || temporary) {
                    found.push(never_written(context, variable, name, in_program));
                } else if written && !read && (has_outputs || temporary) {
                    found.push(never_read(context, variable, name, in_program));
                }
            }
            _ => {}
        }
    }
}

fn never_written(context: &Context<'_>, variable: &Variable, name: &str, in_program: bool) -> Diagnostic {
    let diagnostic = Diagnostic::warning(
        "never-written",
        variable.span,
        format!("`{name}` is read, but nothing gives it a value"),
    )
    .label("always its initial value");
    let is_bool = context.types.elementary_base(variable.kind) == Some(latchwork_vm::ElementaryType::Bool);
    match (in_program, is_bool) {
        (true, true) => diagnostic.note(format!(
            "a signal from outside needs an address, such as `{name} AT %IX0.0 : BOOL;`; write a constant as VAR CONSTANT"
        )),
        (true, false) => diagnostic.note(
            "a value from outside needs an address, such as `AT %IW2`; write a constant as VAR CONSTANT",
        ),
        (false, _) => diagnostic
            .note("a value from the caller belongs into VAR_INPUT, a fixed one into VAR CONSTANT"),
    }
}

fn never_read(context: &Context<'_>, variable: &Variable, name: &str, in_program: bool) -> Diagnostic {
    let diagnostic = Diagnostic::warning(
        "never-read",
        variable.span,
        format!("`{name}` is written, but nothing reads it"),
    )
    .label("its value goes nowhere");
    let is_bool = context.types.elementary_base(variable.kind) == Some(latchwork_vm::ElementaryType::Bool);
    match (in_program, is_bool) {
        (true, true) => diagnostic.note(format!(
            "a signal to the outside needs an address, such as `{name} AT %QX0.0 : BOOL;`, or belongs into VAR_OUTPUT"
        )),
        (true, false) => diagnostic
            .note("a value for the outside needs an address, such as `AT %QW2`, or belongs into VAR_OUTPUT"),
        (false, _) => diagnostic.note("a value for the caller belongs into VAR_OUTPUT"),
    }
}

/// Neither an instance nor a reference: a value that is written and read by name.
fn is_plain(context: &Context<'_>, variable: &Variable) -> bool {
    let mut kind = context.types.underlying(variable.kind);
    while let Type::Array { element, .. } = context.types.get(kind) {
        kind = context.types.underlying(*element);
    }
    matches!(
        context.types.get(kind),
        Type::Elementary(_)
            | Type::String { .. }
            | Type::Subrange { .. }
            | Type::Enumeration(_)
            | Type::NamedValues { .. }
            | Type::Structure(_)
    )
}

fn is_input(context: &Context<'_>, variable: &Variable) -> bool {
    matches!(variable.section, SectionKind::Input | SectionKind::InOut)
        || context.area(variable) == Some(Area::Input)
}

fn is_output(context: &Context<'_>, variable: &Variable) -> bool {
    matches!(variable.section, SectionKind::Output | SectionKind::InOut)
        || context.area(variable) == Some(Area::Output)
}
