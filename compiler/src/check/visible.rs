//! What the checker still has to know of namespaces: which enumeration values can be written without their type,
//! and what to say of a name that was not found with its namespaces.
//!
//! Source: IEC 61131-3:2013, 6.9.4.

use latchwork_grammar::{Diagnostic, Name, Span, tree::QualifiedName};

use super::Checker;
use crate::{scope::ValueSymbol, types::Type};

impl Checker<'_> {
    /// The place that decides what is visible: the unit, or the type being declared.
    fn place(&self) -> Option<Span> {
        let unit = self.unit.and_then(|unit| self.units.get(unit.0 as usize));
        unit.map(|unit| unit.tree.name.span).or(self.declaring)
    }

    /// The type of a value if it has a name.
    fn type_of_value(&self, value: &ValueSymbol) -> Option<Name> {
        match self.types.get(self.types.underlying(value.ty)) {
            Type::Enumeration(derived) | Type::NamedValues { id: derived, .. } => {
                self.types.enumeration(*derived).name
            }
            _ => None,
        }
    }

    /// The namespace in front of a full name.
    fn namespace_of(&self, name: Name) -> Option<Name> {
        let (around, _) = self.spelling(name).rsplit_once('.')?;
        self.names.find(around)
    }

    /// Whether the namespace of the type of a value is searched here.
    pub(super) fn sees_value(&self, value: &ValueSymbol) -> bool {
        let Some(visibility) = self.visibility else { return true };
        let space = self.type_of_value(value).and_then(|name| self.namespace_of(name));
        match (space, self.place()) {
            (Some(space), Some(place)) => visibility.sees(place, Some(space)),
            // At file level, outside of types, nothing is written without its namespace.
            (Some(_), None) => false,
            (None, _) => true,
        }
    }

    /// Reports a name that is only a value of a type whose namespace is not searched here. Tells whether it is.
    pub(super) fn report_value_elsewhere(&mut self, name: Name, span: Span) -> bool {
        let values = self.values.get(&name).into_iter().flatten();
        let types: Vec<Name> = values.filter_map(|value| self.type_of_value(value)).collect();
        let Some(first) = types.first() else { return false };
        let spelling = self.text(span);
        let full = format!("{}#{spelling}", self.spelling(*first));
        let diagnostic = Diagnostic::error(
            "namespace-needed",
            span,
            format!("`{spelling}` is a value of a type in a namespace that is not searched here"),
        )
        .label("not found without its type")
        .note(format!("write `{full}`, or `USING` with the namespace behind the heading of the unit"));
        self.report(diagnostic);
        true
    }

    /// Reports a name with namespaces that was not found. Where there are namespaces, that has been done.
    pub(crate) fn report_unresolved(&mut self, name: &QualifiedName) {
        if self.visibility.is_some() {
            return;
        }
        let first = name.path.first().copied().unwrap_or(name.name);
        let spelling = self.text(first.span);
        self.report(
            Diagnostic::error("unknown-namespace", first.span, format!("there is no namespace `{spelling}`"))
                .label("not declared in any file")
                .note("a namespace is declared by `NAMESPACE name … END_NAMESPACE`"),
        );
    }
}
