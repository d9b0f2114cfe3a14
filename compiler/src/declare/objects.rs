//! Classes, methods and interfaces: their names and headings, and the variables a type has from its base.
//!
//! Source: IEC 61131-3:2013, 6.6.5 (classes, table 48), 6.6.6 (interfaces, table 51), 6.6.7 (function blocks,
//! table 53). Our choice: a method without an access specifier is PROTECTED.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{
        self, Ident, Modifier, ProgramUnit, Qualifier, SectionKind, UnitKind, VariableDeclaration,
        VariableSection,
    },
};

use super::sections::Qualifiers;
use crate::{
    check::{
        Checker,
        describe::{a_unit, section_keyword},
    },
    object_scope::{InterfaceScope, ObjectScope, Owner, Visibility, method_of, with_bases},
    scope::UnitScope,
    typed::{Variable, VariableId},
    types::{InterfaceId, Type, UnitId},
};

/// The visibility that an access specifier stands for.
pub(super) fn visibility(qualifier: Qualifier) -> Option<Visibility> {
    match qualifier {
        Qualifier::Public => Some(Visibility::Public),
        Qualifier::Protected => Some(Visibility::Protected),
        Qualifier::Private => Some(Visibility::Private),
        Qualifier::Internal => Some(Visibility::Internal),
        Qualifier::Constant | Qualifier::Retain | Qualifier::NonRetain => None,
    }
}

impl<'a> Checker<'a> {
    /// Enters an interface and its prototypes.
    pub(super) fn collect_interface(&mut self, tree: &'a tree::Interface, places: &mut BTreeMap<Name, Span>) {
        let free = self.name_is_free(tree.name, "an interface", places);
        let id = InterfaceId(self.interface_scopes.len() as u32);
        if free {
            self.interface_names.insert(tree.name.name, id);
        }
        self.interface_scopes.push(InterfaceScope { tree, extends: Vec::new(), methods: BTreeMap::new() });
        for method in &tree.methods {
            let Some(unit) = self.collect_method(tree.name, method, Owner::Interface(id)) else { continue };
            self.interface_scopes[id.0 as usize].methods.insert(method.name.name, unit);
        }
    }

    /// Enters the methods of a class or function block.
    pub(super) fn collect_methods(&mut self, unit: UnitId, tree: &'a ProgramUnit) {
        for method in &tree.methods {
            let Some(id) = self.collect_method(tree.name, method, Owner::Unit(unit)) else { continue };
            self.units[unit.0 as usize].object.methods.insert(method.name.name, id);
        }
    }

    /// Enters a method; `None` if its owner has one of that name.
    fn collect_method(&mut self, of: Ident, tree: &'a ProgramUnit, owner: Owner) -> Option<UnitId> {
        let siblings = match owner {
            Owner::Unit(unit) => &self.units[unit.0 as usize].object.methods,
            Owner::Interface(interface) => &self.interface_scopes[interface.0 as usize].methods,
        };
        let first = siblings.get(&tree.name.name).map(|first| self.units[first.0 as usize].tree.name.span);
        if let Some(first) = first {
            self.report_duplicate(tree.name, first, "the methods of a type");
        }
        let title = format!("{}.{}", self.spelling(of.name), self.spelling(tree.name.name));
        let name = self.names.intern(&title);
        let mut object = self.object_heading(tree);
        object.owner = Some(owner);
        if let Owner::Interface(_) = owner {
            object.visibility = Visibility::Public;
            object.is_abstract = true;
            self.check_prototype(tree);
        }
        let id = UnitId(self.units.len() as u32);
        // A second method of one name is checked too, but nothing can refer to it.
        self.units.push(UnitScope::new(tree, name, object));
        first.is_none().then_some(id)
    }

    /// A prototype has parameters and a result, nothing else (table 51).
    fn check_prototype(&mut self, tree: &'a ProgramUnit) {
        let words = tree.modifiers.iter().map(|(_, span)| *span);
        if let Some(span) = words.chain(tree.access.map(|(_, span)| span)).min() {
            let word = self.text(span).to_ascii_uppercase();
            self.report(
                Diagnostic::error(
                    "modifier-not-allowed",
                    span,
                    format!("a method prototype of an interface cannot be {word}"),
                )
                .label("remove this word")
                .note("the methods of an interface are PUBLIC, and the types that implement it write their bodies"),
            );
        }
        for section in &tree.sections {
            let parameters =
                matches!(section.kind, SectionKind::Input | SectionKind::Output | SectionKind::InOut);
            if !parameters {
                let keyword = section_keyword(section.kind);
                self.report(
                    Diagnostic::error(
                        "section-not-allowed",
                        section.keyword,
                        format!("a method prototype cannot have a {keyword} section"),
                    )
                    .label("not possible here")
                    .note("an interface says how a method is called; what the method needs inside stands where it is written"),
                );
            }
        }
        let body = match &tree.body {
            tree::Body::Empty => None,
            tree::Body::StructuredText(statements) => statements.first().map(|first| first.span),
            tree::Body::InstructionList(instructions) => instructions.first().map(|first| first.span),
            tree::Body::SequentialFunctionChart(_) => Some(tree.name.span),
        };
        if let Some(span) = body {
            self.report(
                Diagnostic::error("abstract-method", span, "a method prototype of an interface has no body")
                    .label("remove these statements")
                    .note("each type that implements the interface writes a body of its own"),
            );
        }
    }

    /// What the heading of a unit says about it.
    pub(super) fn object_heading(&mut self, tree: &'a ProgramUnit) -> ObjectScope {
        let mut object = ObjectScope::default();
        let mut places: Vec<(Modifier, Span)> = Vec::new();
        let object_type = matches!(tree.kind, UnitKind::Class | UnitKind::FunctionBlock);
        for (modifier, span) in &tree.modifiers {
            let (flag, word) = match modifier {
                Modifier::Abstract => (&mut object.is_abstract, "ABSTRACT"),
                Modifier::Final => (&mut object.is_final, "FINAL"),
                Modifier::Override => (&mut object.is_override, "OVERRIDE"),
            };
            let twice = std::mem::replace(flag, true);
            let method = tree.kind == UnitKind::Method;
            let fits = method || object_type && *modifier != Modifier::Override;
            if twice {
                self.report_modifier(*span, format!("{word} is written twice"), "once is enough");
            } else if !fits {
                let message = format!("{} cannot be {word}", a_unit(tree.kind));
                let note = if *modifier == Modifier::Override {
                    "OVERRIDE stands before the name of a method that replaces one of the base"
                } else {
                    "only classes, function blocks and their methods can be extended"
                };
                self.report_modifier(*span, message, note);
                *flag = false;
            }
            places.push((*modifier, *span));
        }
        let place = |wanted| places.iter().find(|(modifier, _)| *modifier == wanted).map(|(_, span)| *span);
        if let (Some(_), Some(span)) = (place(Modifier::Abstract), place(Modifier::Final)) {
            self.report_modifier(
                span,
                format!("{} cannot be both ABSTRACT and FINAL", a_unit(tree.kind)),
                "ABSTRACT asks for a derived type that completes it, FINAL forbids one",
            );
            object.is_final = false;
        }
        self.access_specifier(tree, &places, &mut object);
        if !object_type {
            self.check_no_bases(tree);
        }
        object
    }

    fn access_specifier(
        &mut self,
        tree: &'a ProgramUnit,
        places: &[(Modifier, Span)],
        object: &mut ObjectScope,
    ) {
        let Some((qualifier, span)) = tree.access else { return };
        let Some(visibility) = visibility(qualifier) else { return };
        object.visibility = visibility;
        if tree.kind != UnitKind::Method {
            if visibility != Visibility::Internal {
                self.report_modifier(
                    span,
                    format!("{} cannot be {}", a_unit(tree.kind), visibility.keyword()),
                    "access specifiers stand before methods and variable sections; a unit in a namespace can be INTERNAL",
                );
            }
            return;
        }
        let clash = places.iter().find(|(modifier, _)| *modifier != Modifier::Final);
        if let (Visibility::Private, Some((modifier, place))) = (visibility, clash) {
            let (word, why) = match modifier {
                Modifier::Abstract => {
                    ("ABSTRACT", "a derived type has to write its body, but cannot see a PRIVATE method")
                }
                _ => (
                    "OVERRIDE",
                    "what overrides has the access of the method it replaces, which is not PRIVATE",
                ),
            };
            self.report_modifier(*place, format!("a PRIVATE method cannot be {word}"), why);
        }
    }

    fn check_no_bases(&mut self, tree: &'a ProgramUnit) {
        let extends = tree.extends.iter().map(|name| ("EXTENDS", name.span));
        let implements = tree.implements.iter().map(|name| ("IMPLEMENTS", name.span));
        let Some((word, span)) = extends.chain(implements).next() else { return };
        self.report_modifier(
            span,
            format!("{} cannot have {word}", a_unit(tree.kind)),
            "only classes and function blocks extend other types and implement interfaces",
        );
    }

    fn report_modifier(&mut self, span: Span, message: String, note: &str) {
        self.report(
            Diagnostic::error("modifier-not-allowed", span, message).label("not possible here").note(note),
        );
    }

    /// Enters the variables of the bases of a type that have not been entered, then those the type has from its
    /// base, at the same places in its list.
    pub(super) fn inherit_variables(&mut self, unit: UnitId) {
        let waiting: Vec<UnitId> = with_bases(&self.units, unit)
            .skip(1)
            .take_while(|base| !self.units[base.0 as usize].object.entered)
            .collect();
        for base in waiting.into_iter().rev() {
            self.enter_variables(base);
        }
        let Some(base) = self.units[unit.0 as usize].object.base else { return };
        let from = &self.units[base.0 as usize];
        let Some(left) = self.inherited_left.checked_sub(from.variables.len()) else {
            self.report_too_much_inherited(unit);
            return;
        };
        self.inherited_left = left;
        let mut variables = from.variables.clone();
        let declared = from.declared.clone();
        let visibility = from.object.variable_visibility.clone();
        let mut by_name = from.by_name.clone();
        by_name.retain(|_, id| {
            let index = id.0 as usize;
            let temporary =
                variables.get(index).is_some_and(|variable| variable.section == SectionKind::Temp);
            visibility.get(index) != Some(&Visibility::Private) && !temporary
        });
        for variable in &mut variables {
            // What is new at every call belongs to the body of the base.
            variable.hidden |= variable.section == SectionKind::Temp;
        }
        let scope = &mut self.units[unit.0 as usize];
        scope.object.inherited = variables.len();
        scope.variables = variables;
        scope.declared = declared;
        scope.object.variable_visibility = visibility;
        scope.by_name = by_name;
    }

    /// A variable that a type has from its base is what it is there.
    pub(super) fn resolve_inherited(&mut self, unit: UnitId, id: VariableId) {
        let Some(base) = self.units[unit.0 as usize].object.base else { return };
        let index = id.0 as usize;
        self.resolve_variable(base, id);
        let like = self.units[base.0 as usize].variables[index].clone();
        let own = &mut self.units[unit.0 as usize].variables[index];
        own.kind = like.kind;
        own.initial = like.initial;
        own.global = like.global;
        if self.configuration.linked.contains(&(base, id)) {
            self.configuration.linked.insert((unit, id));
        }
    }

    /// Where a name stands for something in a type already, other than a variable of its own: for one of its methods,
    /// or (`true`) for what its base lets it see.
    pub(super) fn taken_name(&self, unit: UnitId, name: Name) -> Option<(Span, bool)> {
        let scope = &self.units[unit.0 as usize];
        let inherited = scope.by_name.get(&name).filter(|id| (id.0 as usize) < scope.object.inherited);
        if let Some(id) = inherited {
            return Some((scope.variables[id.0 as usize].span, true));
        }
        let method = method_of(&self.units, unit, name)?;
        let own = scope.object.methods.get(&name) == Some(&method);
        Some((self.units[method.0 as usize].tree.name.span, !own))
    }

    /// A name of a derived type that its base has already.
    pub(super) fn report_inherited_name(&mut self, ident: Ident, place: Span) {
        let spelling = self.text(ident.span);
        self.report(
            Diagnostic::error(
                "duplicate-declaration",
                ident.span,
                format!("`{spelling}` is declared in the base already"),
            )
            .label("second declaration")
            .also(place, "a derived type has this one too")
            .note("use the inherited one without declaring it, choose another name, or make the one of the base PRIVATE"),
        );
    }

    /// An access specifier of a section; what is wrong with it.
    pub(super) fn section_access(
        &mut self,
        section: &VariableSection,
        unit: Option<UnitKind>,
        qualifier: Qualifier,
        found: &mut Qualifiers,
    ) -> Option<String> {
        let visibility = visibility(qualifier)?;
        let word = visibility.keyword();
        let specifiers = section.qualifiers.iter().filter_map(|(qualifier, _)| self::visibility(*qualifier));
        let keyword = section_keyword(section.kind);
        let object = matches!(unit, Some(UnitKind::Class | UnitKind::FunctionBlock));
        if object && matches!(section.kind, SectionKind::Input | SectionKind::Output) {
            return Some(format!("{keyword} is PUBLIC always; {word} cannot stand here"));
        }
        if !object || section.kind != SectionKind::Var {
            return Some(format!(
                "{word} has no meaning here; only VAR of a class or function block has an access specifier"
            ));
        }
        if specifiers.count() > 1 {
            return Some("a section has one access specifier; make two sections".to_owned());
        }
        found.visibility = visibility;
        None
    }

    /// There are no instances of ABSTRACT types, also not inside arrays and structures.
    pub(super) fn check_abstract_instance(&mut self, declaration: &VariableDeclaration, variable: &Variable) {
        let found = self.find_inside(variable.kind, |kind| match kind {
            Type::Unit(unit) if self.units[unit.0 as usize].object.is_abstract => Some(*unit),
            _ => None,
        });
        let Some(unit) = found else { return };
        let scope = &self.units[unit.0 as usize];
        let (type_name, place) = (self.spelling(scope.name), scope.tree.name.span);
        self.report(
            Diagnostic::error(
                "abstract-instance",
                declaration.specification.span,
                format!("`{type_name}` is ABSTRACT: there are no instances of it"),
            )
            .label("would be an instance")
            .also(place, "declared here")
            .note("declare an instance of a type that extends it, or refer to one with REF_TO, VAR_IN_OUT or an interface"),
        );
    }
}
