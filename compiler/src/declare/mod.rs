//! Declarations: what the names of a program stand for.
//!
//! [`Checker::collect`] only enters names, so that the order of declarations and files does not matter; types,
//! globals and variables are then resolved one after another, each when it is first needed.
//!
//! Source: IEC 61131-3:2013, 6.1.2 (identifiers), 6.4.4 (types), 6.5 (variables), 6.6 (units).

mod address;
mod chart;
mod cycles;
mod enumeration;
mod headings;
mod inheritance;
mod initial;
mod methods;
mod objects;
mod open_array;
mod places;
mod prototypes;
mod sections;
mod types;
mod variables;

pub(crate) use address::{size_bits, size_letter, size_type};
pub(crate) use initial::listed;
pub(crate) use types::elementary;

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Declaration, Ident, ProgramUnit, SyntaxTree, TypeDeclaration},
};

use crate::{
    check::{Checker, describe::a_unit},
    configuration::Level,
    scope::{Progress, TypeSymbol, UnitScope},
    types::UnitId,
};

impl<'a> Checker<'a> {
    /// Enters the names of all types, globals and units.
    pub(crate) fn collect(&mut self, trees: &'a [SyntaxTree]) {
        let mut places: BTreeMap<Name, Span> = BTreeMap::new();
        for declaration in trees.iter().flat_map(|tree| &tree.declarations) {
            match declaration {
                Declaration::Types(section) => {
                    for declaration in &section.types {
                        self.collect_type(declaration, &mut places);
                    }
                }
                Declaration::Globals(section) => {
                    self.configuration.outside.push(section.keyword);
                    self.enter_globals(section, Level::Configuration);
                }
                Declaration::Configuration(configuration) => self.collect_configuration(configuration),
                Declaration::Unit(unit) => {
                    self.collect_unit(unit, &mut places);
                }
                Declaration::Interface(interface) => self.collect_interface(interface, &mut places),
                // Namespaces have become part of the names in them.
                Declaration::Namespace(_) | Declaration::Using(_) => {}
            }
        }
    }

    fn collect_type(&mut self, declaration: &'a TypeDeclaration, places: &mut BTreeMap<Name, Span>) {
        if self.name_is_free(declaration.name, "a type", places) {
            let symbol = TypeSymbol { declaration, progress: Progress::Pending, id: None };
            self.type_symbols.insert(declaration.name.name, symbol);
        }
    }

    fn collect_unit(&mut self, tree: &'a ProgramUnit, places: &mut BTreeMap<Name, Span>) {
        let free = self.name_is_free(tree.name, a_unit(tree.kind), places);
        let id = UnitId(self.units.len() as u32);
        // A second unit of one name is checked too, but nothing can refer to it.
        if free {
            self.unit_names.insert(tree.name.name, id);
        }
        let object = self.object_heading(tree);
        self.units.push(UnitScope::new(tree, tree.name.name, object));
        self.collect_methods(id, tree);
    }

    /// Whether a type or unit may have a name: not twice, and no name of the standard library.
    pub(super) fn name_is_free(
        &mut self,
        ident: Ident,
        what: &str,
        places: &mut BTreeMap<Name, Span>,
    ) -> bool {
        self.check_reserved(ident, what);
        // With its namespace, so that only a name of the global one can be that of the standard.
        let spelling = self.spelling(ident.name);
        let standard = if latchwork_stdlib::function(spelling).is_some() {
            Some("function")
        } else if latchwork_stdlib::block(spelling).is_some() {
            Some("function block")
        } else {
            None
        };
        if let Some(standard) = standard {
            self.report(
                Diagnostic::error(
                    "standard-name",
                    ident.span,
                    format!("`{spelling}` is a standard {standard} and cannot be the name of {what}"),
                )
                .label("already in the standard library")
                .note(
                    "every program may rely on the standard library, so its names are taken; choose another",
                ),
            );
        }
        if let Some(first) = places.get(&ident.name) {
            let first = *first;
            self.report_duplicate(ident, first, "types and program organization units");
            return false;
        }
        places.insert(ident.name, ident.span);
        standard.is_none()
    }

    /// A second declaration of a name.
    pub(crate) fn report_duplicate(&mut self, ident: Ident, first: Span, what: &str) {
        let spelling = self.text(ident.span);
        let first_spelling = self.text(first);
        let mut diagnostic =
            Diagnostic::error("duplicate-declaration", ident.span, format!("`{spelling}` is declared twice"))
                .label("second declaration")
                .also(first, "first declaration")
                .note(format!("{what} need names of their own; rename or remove one of the two"));
        if spelling != first_spelling {
            diagnostic = diagnostic.note("letter case does not matter in names");
        }
        self.report(diagnostic);
    }
}
