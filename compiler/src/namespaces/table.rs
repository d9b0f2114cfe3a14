//! Which namespaces there are and what each holds. A namespace may be written in many parts; all names in one
//! differ, whatever they stand for.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{
        Declaration, Ident, Namespace, ProgramUnit, Qualifier, TypeSpecification, TypeSpecificationKind,
        UnitKind,
    },
};

use super::{Flattener, Own};

/// Longest full name of a namespace in bytes: all names in it grow by as much.
const FULL_NAME_MAX: usize = 1000;

/// The namespace of what stands in none.
pub(super) const GLOBAL: usize = 0;

/// A namespace.
pub(super) struct Space {
    /// In full; `None` for the global one.
    pub name: Option<Name>,
    pub parent: Option<usize>,
}

/// What a name in a namespace stands for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Space(usize),
    Declaration,
}

/// A name in a namespace.
#[derive(Clone, Copy)]
pub(super) struct Member {
    pub kind: Kind,
    /// The namespace it is a name in.
    pub holder: usize,
    /// In full.
    pub full: Name,
    /// `INTERNAL`: reachable only inside this namespace.
    pub internal: bool,
    /// First place.
    pub span: Span,
}

/// All namespaces.
pub(super) struct Table {
    pub spaces: Vec<Space>,
    pub members: BTreeMap<(usize, Name), Member>,
    /// Declarations of a name in other namespaces than the global one, for what to say when it is not found.
    pub elsewhere: BTreeMap<Name, Vec<Member>>,
}

impl Default for Table {
    fn default() -> Self {
        let spaces = vec![Space { name: None, parent: None }];
        Table { spaces, members: BTreeMap::new(), elsewhere: BTreeMap::new() }
    }
}

impl Table {
    /// Whether a namespace is another one or inside it.
    pub fn is_inside(&self, inner: usize, outer: usize) -> bool {
        let mut space = Some(inner);
        while let Some(current) = space {
            if current == outer {
                return true;
            }
            space = self.spaces.get(current).and_then(|space| space.parent);
        }
        false
    }
}

impl Flattener<'_> {
    /// The full name of something in a namespace.
    pub(super) fn full(&mut self, space: usize, name: Name) -> Name {
        let Some(around) = self.table.spaces.get(space).and_then(|space| space.name) else { return name };
        let full = format!("{}.{}", self.names.spelling(around), self.names.spelling(name));
        self.names.intern(&full)
    }

    /// Enters the names of all declarations.
    pub(super) fn enter_declarations(&mut self, declarations: &[Declaration], space: usize) {
        for declaration in declarations {
            match declaration {
                Declaration::Types(section) => {
                    for declaration in &section.types {
                        self.enter(declaration.name, space, false);
                        self.enter_values(&declaration.specification);
                    }
                }
                Declaration::Unit(unit) => self.enter_unit(unit, space),
                Declaration::Interface(interface) => self.enter(interface.name, space, false),
                Declaration::Namespace(namespace) => self.enter_namespace(namespace, space),
                Declaration::Globals(section) => {
                    for variable in &section.variables {
                        self.enter_values(&variable.specification);
                    }
                }
                Declaration::Using(_) | Declaration::Configuration(_) => {}
            }
        }
    }

    fn enter_unit(&mut self, unit: &ProgramUnit, space: usize) {
        let internal = unit.access.is_some_and(|(access, _)| access == Qualifier::Internal);
        if let (true, Some((_, span)), GLOBAL) = (internal, unit.access, space) {
            self.report_internal_at_global(span);
        }
        self.enter(unit.name, space, internal && space != GLOBAL);
        for variable in unit.sections.iter().flat_map(|section| &section.variables) {
            self.enter_values(&variable.specification);
        }
        if matches!(unit.kind, UnitKind::FunctionBlock | UnitKind::Class) {
            let full = self.full(space, unit.name.name);
            let mut names = declared_names(unit);
            names.extend(unit.methods.iter().map(|method| method.name.name));
            self.owners.entry(full).or_insert(Own { names, base: None });
        }
    }

    fn enter_values(&mut self, specification: &TypeSpecification) {
        match &specification.kind {
            TypeSpecificationKind::Enumeration { values, .. } => {
                self.values.extend(values.iter().map(|value| value.name.name));
            }
            TypeSpecificationKind::Array { element, .. } => self.enter_values(element),
            _ => {}
        }
    }

    fn enter_namespace(&mut self, namespace: &Namespace, outer: usize) {
        let mut space = outer;
        for ident in namespace.name.path.iter().chain([&namespace.name.name]) {
            space = self.enter_space(*ident, space);
        }
        if let Some(span) = namespace.internal {
            // `INTERNAL` speaks of the innermost name of the heading.
            let parent = self.table.spaces.get(space).and_then(|space| space.parent).unwrap_or(GLOBAL);
            if parent == GLOBAL {
                self.report_internal_at_global(span);
            } else if let Some(member) = self.table.members.get_mut(&(parent, namespace.name.name.name)) {
                member.internal = true;
            }
        }
        self.enter_declarations(&namespace.declarations, space);
    }

    fn enter_space(&mut self, ident: Ident, outer: usize) -> usize {
        let known = self.table.members.get(&(outer, ident.name)).copied();
        if let Some(Member { kind: Kind::Space(space), .. }) = known {
            return space;
        }
        if let Some(other) = known {
            self.report_name_taken(ident, other.span);
        }
        let around = self.table.spaces.get(outer).and_then(|space| space.name);
        let length = around.map_or(0, |name| self.spelling(name).len()) + self.text(ident.span).len();
        if length > FULL_NAME_MAX {
            self.report_too_long(ident.span);
            return outer;
        }
        let full = self.full(outer, ident.name);
        let space = self.table.spaces.len();
        self.table.spaces.push(Space { name: Some(full), parent: Some(outer) });
        let member =
            Member { kind: Kind::Space(space), holder: outer, full, internal: false, span: ident.span };
        self.table.members.insert((outer, ident.name), member);
        space
    }

    fn enter(&mut self, ident: Ident, space: usize, internal: bool) {
        let full = self.full(space, ident.name);
        let member = Member { kind: Kind::Declaration, holder: space, full, internal, span: ident.span };
        match self.table.members.get(&(space, ident.name)).copied() {
            // A second declaration of one kind is reported where declarations are collected.
            Some(Member { kind: Kind::Declaration, .. }) => {}
            Some(other) => self.report_name_taken(ident, other.span),
            None => {
                self.table.members.insert((space, ident.name), member);
                if space != GLOBAL {
                    self.table.elsewhere.entry(ident.name).or_default().push(member);
                }
            }
        }
    }

    fn report_too_long(&mut self, span: Span) {
        self.report(
            Diagnostic::error(
                "identifier-too-long",
                span,
                format!("the full name of this namespace has more than {FULL_NAME_MAX} characters"),
            )
            .label("too long with the namespaces around it")
            .note("give the namespaces shorter names, or put fewer into one another"),
        );
    }

    fn report_name_taken(&mut self, ident: Ident, first: Span) {
        let spelling = self.text(ident.span);
        self.report(
            Diagnostic::error(
                "duplicate-declaration",
                ident.span,
                format!("`{spelling}` is the name of a namespace and of something else"),
            )
            .label("second declaration")
            .also(first, "first declaration")
            .note("all names in one namespace differ, whatever they stand for; rename one of the two"),
        );
    }
}

/// The names of the variables of a unit.
pub(super) fn declared_names(unit: &ProgramUnit) -> std::collections::BTreeSet<Name> {
    let variables = unit.sections.iter().flat_map(|section| &section.variables);
    variables.flat_map(|variable| &variable.names).map(|ident| ident.name).collect()
}
