//! Variables that nothing uses.

use latchwork_grammar::{Diagnostic, tree::SectionKind};

use super::Context;
use crate::{typed::VariableId, types::UnitId};

/// Declared and never mentioned: VAR, VAR_TEMP and VAR_EXTERNAL. Inputs and outputs belong to the face of a
/// unit and located variables to the wiring; both may be declared for completeness.
pub(super) fn unused(context: &Context<'_>, unit: UnitId, found: &mut Vec<Diagnostic>) {
    let scope = &context.checker.units[unit.0 as usize];
    for (index, variable) in context.variables.iter().enumerate() {
        let id = VariableId(index as u32);
        let inner = matches!(variable.section, SectionKind::Var | SectionKind::Temp | SectionKind::External);
        if !inner || variable.hidden || variable.location.is_some() || scope.result == Some(id) {
            continue;
        }
        let Some(name) = variable.name else { continue };
        if !scope.used.contains(&id) {
            let name = context.checker.spelling(name);
            found.push(
                Diagnostic::warning("unused-variable", variable.span, format!("`{name}` is never used"))
                    .label("declared, but not mentioned in the body")
                    .note("remove the declaration, or use another name where this one was meant"),
            );
        }
    }
}
