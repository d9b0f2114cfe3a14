//! Names that are easily taken for one another: two that differ only by underscores, a local variable named like a
//! global one, a label named like a variable (IEC 61131-3:2013, 6.1.2, 6.5.2.2, 7.2.1: all of them are legal).

use std::collections::{BTreeMap, btree_map::Entry};

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Body, Instruction, SectionKind},
};

use super::Context;
use crate::{findings::Findings, typed::Variable, types::UnitId};

pub(super) fn alike(context: &Context<'_>, unit: UnitId, found: &mut Findings) {
    let scope = &context.checker.units[unit.0 as usize];
    // Names without underscores that differ only by them are one name.
    let underscored =
        |variable: &Variable| variable.name.is_some_and(|name| context.checker.spelling(name).contains('_'));
    let compared = context.variables.iter().any(underscored);
    let mut bare: BTreeMap<String, Span> = BTreeMap::new();
    for (index, variable) in context.variables.iter().enumerate() {
        let is_result = scope.result.is_some_and(|id| id.0 as usize == index);
        let Some(name) = variable.name.filter(|_| !variable.hidden && !is_result) else { continue };
        let spelling = context.checker.spelling(name);
        if compared {
            match bare.entry(without_underscores(spelling)) {
                Entry::Occupied(first) => {
                    let first = *first.get();
                    let other = context.text(first);
                    found.push(
                        Diagnostic::warning(
                            "similar-name",
                            variable.span,
                            format!("`{spelling}` and `{other}` differ only by underscores"),
                        )
                        .label("easily taken for the other")
                        .also(first, "declared here")
                        .note("choose names that tell the two apart"),
                    );
                }
                Entry::Vacant(place) => {
                    place.insert(variable.span);
                }
            }
        }
        let local = matches!(variable.section, SectionKind::Var | SectionKind::Temp);
        if let (true, Some(global)) = (local, context.checker.globals.by_name.get(&name))
            && let Some(global) = context.globals.get(global.0 as usize)
        {
            found.push(
                Diagnostic::warning(
                    "shadowed-global",
                    variable.span,
                    format!("`{spelling}` is a variable of its own, not the global one of this name"),
                )
                .label("hides the global variable")
                .also(global.span, "the global variable")
                .note("declare it as VAR_EXTERNAL to use the global variable, or choose another name"),
            );
        }
    }
    if let Body::InstructionList(instructions) = &context.tree.body {
        labels(context, unit, instructions, found);
    }
}

/// The name without its underscores, except between digits, where they tell numbers apart: `Valve1_1`.
fn without_underscores(name: &str) -> String {
    let bytes = name.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let keeps = |at: usize| digit(at.checked_sub(1)) && digit(at.checked_add(1));
    let kept = name.char_indices().filter(|(at, letter)| *letter != '_' || keeps(*at));
    kept.map(|(_, letter)| letter.to_ascii_lowercase()).collect()
}

fn labels(context: &Context<'_>, unit: UnitId, instructions: &[Instruction], found: &mut Findings) {
    let scope = &context.checker.units[unit.0 as usize];
    for label in instructions.iter().filter_map(|instruction| instruction.label) {
        let Some(id) = scope.by_name.get(&label.name) else { continue };
        let Some(variable) = context.variables.get(id.0 as usize) else { continue };
        let name = context.text(label.span);
        found.push(
            Diagnostic::warning(
                "label-like-variable",
                label.span,
                format!("`{name}` is a label and a variable"),
            )
            .label("a place in the text")
            .also(variable.span, "a variable")
            .note("labels have names of their own, so this is allowed; another name is easier to read"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::without_underscores;

    #[test]
    fn underscores_between_digits_count() {
        assert_eq!(without_underscores("Pump_On"), without_underscores("PumpOn"));
        assert_eq!(without_underscores("PUMP_1"), without_underscores("Pump1"));
        assert_ne!(without_underscores("Valve1_1"), without_underscores("Valve11"));
        assert_ne!(without_underscores("Valve1_1"), without_underscores("Valve1_2"));
    }
}
