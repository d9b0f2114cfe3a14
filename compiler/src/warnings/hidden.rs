//! Variables whose names hide something else: a function, a type, a value of an enumeration.
//!
//! All of them are legal (IEC 61131-3:2013, 6.5: the scope of a variable is its unit), but the hidden thing cannot
//! be used in that unit any more. A variable may bear the name of its own type, since a type and a value never
//! stand at the same place. LEFT, RIGHT, FIND and the other functions of texts have names that a plant needs too;
//! in a unit without any text nobody misses them.

use latchwork_grammar::{
    Diagnostic, Name,
    tree::{SectionKind, UnitKind},
};

use latchwork_stdlib::TypeClass;

use super::Context;
use crate::{
    check::Checker,
    findings::Findings,
    typed::Variable,
    types::{Type, UnitId},
};

/// Variables of a unit that hide something.
pub(super) fn names(context: &Context<'_>, unit: UnitId, found: &mut Findings) {
    let result = context.checker.units[unit.0 as usize].result;
    let has_text = context.variables.iter().any(|variable| is_text(context.checker, variable));
    for (variable, index) in context.variables.iter().zip(0..) {
        let own_result = result.is_some_and(|id| id.0 == index);
        // The name of an external is that of its global.
        let own = !variable.hidden && !own_result && variable.section != SectionKind::External;
        let Some(name) = variable.name.filter(|_| own) else { continue };
        let Some((what, place)) = hidden(context.checker, variable, name, has_text) else { continue };
        let spelling = context.text(variable.span);
        let mut diagnostic = Diagnostic::warning(
            "hidden-name",
            variable.span,
            format!("the variable `{spelling}` hides {what} of the same name"),
        )
        .label("means the variable in this whole unit")
        .note("rename the variable if the other one is wanted here");
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, "hidden here");
        }
        found.push(diagnostic);
    }
}

/// What a variable hides, and where that is declared.
fn hidden(
    checker: &Checker<'_>,
    variable: &Variable,
    name: Name,
    has_text: bool,
) -> Option<(&'static str, Option<latchwork_grammar::Span>)> {
    let own_type = checker.types.underlying(variable.kind);
    if let Some(unit) = checker.unit_names.get(name) {
        let scope = &checker.units[unit.0 as usize];
        let what = match scope.kind {
            UnitKind::Function => "a function",
            UnitKind::Program => "a program",
            _ if *checker.types.get(own_type) == Type::Unit(*unit) => return None,
            _ => "a function block type",
        };
        return Some((what, Some(scope.tree.name.span)));
    }
    if let Some(symbol) = checker.type_symbols.get(&name) {
        let own = symbol.id.is_some_and(|id| id == variable.kind || checker.types.underlying(id) == own_type);
        return (!own).then_some(("a type", Some(symbol.declaration.name.span)));
    }
    if checker.values.contains_key(&name) {
        return Some(("a value of an enumeration", None));
    }
    if !checker.is_standard(name) {
        return None;
    }
    let spelling = checker.spelling(name);
    if let Some(function) = latchwork_stdlib::function(spelling) {
        let of_texts = function.definition.generic_class() == Some(TypeClass::AnyString);
        return (has_text || !of_texts).then_some(("a standard function", None));
    }
    let block = latchwork_stdlib::block(spelling)?;
    let own = matches!(checker.types.get(own_type), Type::StandardBlock(index)
        if checker.types.standard_block(*index).name == block.name);
    (!own).then_some(("a standard function block type", None))
}

/// Whether a variable is a text or an array of texts.
fn is_text(checker: &Checker<'_>, variable: &Variable) -> bool {
    let mut kind = checker.types.underlying(variable.kind);
    while let Type::Array { element, .. } | Type::OpenArray { element, .. } = checker.types.get(kind) {
        kind = checker.types.underlying(*element);
    }
    matches!(checker.types.get(kind), Type::String { .. })
}
