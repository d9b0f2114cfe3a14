//! Methods against the methods of bases and interfaces: what overrides what, equal signatures, nothing abstract
//! left in a type of which there are instances.
//!
//! Source: IEC 61131-3:2013, 6.6.5.4 to 6.6.5.6, 6.6.6.2, 6.6.6.3, tables 48 and 51. Our choices: an overriding
//! method has exactly the access of the one it overrides, and the initial values of inputs belong to the
//! signature, since a caller that leaves one out need not know which method runs.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Body, SectionKind, UnitKind},
};

use crate::{
    check::{
        Checker,
        describe::{a_unit, section_keyword},
    },
    object_scope::{
        Visibility, derives_from, implemented, is_incomplete, method_of, with_bases, with_extended,
    },
    typed::{InitialValue, Root},
    types::{InterfaceId, UnitId},
};

/// Most methods named in one message.
const LISTED_MAX: usize = 10;

impl Checker<'_> {
    /// Checks the methods of all types and interfaces.
    pub(crate) fn check_objects(&mut self) {
        for index in 0..self.interface_scopes.len() {
            self.check_interface(InterfaceId(index as u32));
        }
        for index in 0..self.units.len() {
            let unit = UnitId(index as u32);
            for method in self.own_methods(unit) {
                self.check_override(unit, method);
            }
        }
        for index in 0..self.units.len() {
            let unit = UnitId(index as u32);
            if matches!(self.units[index].kind, UnitKind::Class | UnitKind::FunctionBlock) {
                let missing = self.check_interfaces(unit);
                self.check_abstract(unit, missing);
                self.check_empty_body(unit);
            }
        }
    }

    fn own_methods(&self, unit: UnitId) -> Vec<UnitId> {
        self.units[unit.0 as usize].object.methods.values().copied().collect()
    }

    /// One prototype under each name, also among the interfaces it extends.
    fn check_interface(&mut self, interface: InterfaceId) {
        let mut known: BTreeMap<Name, UnitId> = BTreeMap::new();
        for from in with_extended(&self.interface_scopes, [interface]) {
            let methods: Vec<(Name, UnitId)> = self.interface_scopes[from.0 as usize]
                .methods
                .iter()
                .map(|(name, id)| (*name, *id))
                .collect();
            for (name, method) in methods {
                let first = *known.entry(name).or_insert(method);
                if first == method {
                    continue;
                }
                let Some(difference) = self.heading_difference(first, method) else { continue };
                let here = self.interface_scopes[interface.0 as usize].tree.name;
                let own = self.interface_scopes[interface.0 as usize].methods.contains_key(&name);
                let span = if own { self.units[first.0 as usize].tree.name.span } else { here.span };
                let mut diagnostic = Diagnostic::error(
                    "signature-differs",
                    span,
                    format!(
                        "the interface `{}` would have two different methods `{}`",
                        self.spelling(here.name),
                        self.spelling(name)
                    ),
                )
                .label(if own {
                    "differs from the one it inherits"
                } else {
                    "inherits both"
                });
                if !own {
                    diagnostic = diagnostic.also(self.units[first.0 as usize].tree.name.span, "one of them");
                }
                diagnostic = diagnostic
                    .also(self.units[method.0 as usize].tree.name.span, "the other one")
                    .note(difference);
                self.report(diagnostic);
            }
        }
    }

    fn check_override(&mut self, unit: UnitId, method: UnitId) {
        let tree = self.units[method.0 as usize].tree;
        let (name, span) = (tree.name.name, tree.name.span);
        let spelling = self.text(span);
        let is_abstract = self.units[method.0 as usize].object.is_abstract;
        if is_abstract && !matches!(tree.body, Body::Empty) {
            self.report(
                Diagnostic::error(
                    "abstract-method",
                    span,
                    format!("the method `{spelling}` is ABSTRACT and cannot have a body"),
                )
                .label("has statements")
                .note("an ABSTRACT method is only declared; types derived from this one write its body with OVERRIDE"),
            );
        } else if is_abstract && !self.units[unit.0 as usize].object.is_abstract {
            let owner = self.units[unit.0 as usize].tree.name;
            self.report(
                Diagnostic::error(
                    "abstract-method",
                    span,
                    format!(
                        "`{}` has the ABSTRACT method `{spelling}` and has to be ABSTRACT too",
                        self.text(owner.span)
                    ),
                )
                .label("has no body that could run")
                .also(owner.span, "not ABSTRACT")
                .note("write ABSTRACT before the name of the type, or give the method a body"),
            );
        }
        let base = self.units[unit.0 as usize].object.base;
        let inherited_variable = base.and_then(|base| {
            let scope = &self.units[unit.0 as usize];
            let id = scope.by_name.get(&name)?;
            let place = scope.variables[id.0 as usize].span;
            ((id.0 as usize) < scope.object.inherited).then_some((base, place))
        });
        if let Some((_, place)) = inherited_variable {
            self.report_inherited_name(tree.name, place);
            return;
        }
        let replaced = base.and_then(|base| self.visible_method(base, name));
        let is_override = self.units[method.0 as usize].object.is_override;
        let Some(replaced) = replaced else {
            if is_override && !is_incomplete(&self.units, unit) {
                self.report_nothing_to_override(unit, method);
            }
            return;
        };
        let place = self.units[replaced.0 as usize].tree.name.span;
        let type_name = self.owner_name(replaced);
        if !is_override {
            self.report(
                Diagnostic::error(
                    "missing-override",
                    span,
                    format!("`{spelling}` replaces the method of `{type_name}`, but does not say OVERRIDE"),
                )
                .label("a method of this name is inherited")
                .also(place, "the inherited method")
                .note("a method that replaces an inherited one is marked, so that it does not happen by accident")
                .fix("write OVERRIDE before the name", Span::new(span.file, span.start, span.start), "OVERRIDE "),
            );
            return;
        }
        self.units[method.0 as usize].object.overridden = Some(replaced);
        if self.units[replaced.0 as usize].object.is_final {
            self.report(
                Diagnostic::error(
                    "final-overridden",
                    span,
                    format!("the method `{spelling}` of `{type_name}` is FINAL and cannot be replaced"),
                )
                .label("not possible")
                .also(place, "FINAL")
                .note("give this method another name, or take FINAL away from the inherited one"),
            );
            return;
        }
        let access = |id: UnitId| self.units[id.0 as usize].object.visibility;
        let difference = if access(method) != access(replaced) {
            let (own, wanted) = (access(method).keyword(), access(replaced).keyword());
            Some(format!("this one is {own}, the inherited one is {wanted}"))
        } else {
            self.heading_difference(method, replaced)
        };
        if let Some(difference) = difference {
            self.report(
                Diagnostic::error(
                    "signature-differs",
                    span,
                    format!("`{spelling}` does not have the same heading as the method of `{type_name}`"),
                )
                .label("overrides, so a caller must see no difference")
                .also(place, "the inherited method")
                .note(difference),
            );
        }
    }

    /// The method of a base that a derived type sees under a name.
    fn visible_method(&self, base: UnitId, name: Name) -> Option<UnitId> {
        let private = |method: UnitId| self.units[method.0 as usize].object.visibility == Visibility::Private;
        with_bases(&self.units, base)
            .filter_map(|unit| self.units[unit.0 as usize].object.methods.get(&name).copied())
            .find(|method| !private(*method))
    }

    fn report_nothing_to_override(&mut self, unit: UnitId, method: UnitId) {
        let tree = self.units[method.0 as usize].tree;
        let (name, span) = (tree.name.name, tree.name.span);
        let spelling = self.text(span);
        let mut diagnostic = Diagnostic::error(
            "nothing-to-override",
            span,
            format!("there is no inherited method `{spelling}` to override"),
        )
        .label("OVERRIDE without a method to replace");
        let bases: Vec<UnitId> = with_bases(&self.units, unit).skip(1).collect();
        let private = bases
            .iter()
            .find_map(|base| self.units[base.0 as usize].object.methods.get(&name).copied())
            .map(|method| self.units[method.0 as usize].tree.name.span);
        if let Some(place) = private {
            diagnostic =
                diagnostic.also(place, "this one is PRIVATE").note("a PRIVATE method is not inherited");
        } else if bases.is_empty() {
            diagnostic = diagnostic.note(
                "this type extends nothing; a method that an interface asks for is written without OVERRIDE",
            );
        } else {
            let known = bases
                .iter()
                .flat_map(|base| self.units[base.0 as usize].object.methods.keys())
                .map(|name| self.spelling(*name).to_owned());
            let known: Vec<String> = known.collect();
            let search = self.may_search(known.len());
            let near = if search {
                crate::nearest::nearest(spelling, known.iter().map(String::as_str))
            } else {
                None
            };
            diagnostic = diagnostic.note(match near {
                Some(near) => format!("the nearest inherited method is `{near}`"),
                None => "take OVERRIDE away if the method is new".to_owned(),
            });
        }
        self.report(diagnostic);
    }

    /// The name of the type or interface that declares a method.
    pub(crate) fn owner_name(&self, method: UnitId) -> String {
        let name = self.spelling(self.units[method.0 as usize].name);
        name.rsplit_once('.').map_or(name, |(owner, _)| owner).to_owned()
    }

    /// How the headings of two methods differ, if they do; the first is `this one`.
    pub(crate) fn heading_difference(&mut self, own: UnitId, other: UnitId) -> Option<String> {
        let result = |checker: &Self, unit: UnitId| {
            let scope = &checker.units[unit.0 as usize];
            scope.result.map(|id| scope.variables[id.0 as usize].kind)
        };
        let unlike = |checker: &Self, one, another| {
            one != another && !checker.is_unknown(one) && !checker.is_unknown(another)
        };
        match (result(self, own), result(self, other)) {
            (Some(own), Some(other)) if unlike(self, own, other) => {
                let (own, other) = (self.type_name(own), self.type_name(other));
                return Some(format!("this one gives back {own}, the other one {other}"));
            }
            (Some(own), None) => {
                let own = self.type_name(own);
                return Some(format!("this one gives back {own}, the other one nothing"));
            }
            (None, Some(other)) => {
                let other = self.type_name(other);
                return Some(format!("this one gives back nothing, the other one {other}"));
            }
            _ => {}
        }
        let (own_interface, other_interface) =
            (self.unit_interface(own, None), self.unit_interface(other, None));
        let (ours, theirs) = (&own_interface.parameters, &other_interface.parameters);
        for (ours, theirs) in ours.iter().zip(theirs.iter()) {
            if !ours.name.eq_ignore_ascii_case(&theirs.name) {
                return Some(format!(
                    "where this one has `{}`, the other one has `{}`",
                    ours.name, theirs.name
                ));
            }
            if ours.section != theirs.section {
                return Some(format!(
                    "`{}` is {} here and {} there",
                    ours.name,
                    section_keyword(ours.section),
                    section_keyword(theirs.section)
                ));
            }
            if unlike(self, ours.ty, theirs.ty) {
                let (here, there) = (self.type_name(ours.ty), self.type_name(theirs.ty));
                return Some(format!("`{}` is {here} here and {there} there", ours.name));
            }
            let initial = |unit: UnitId, index: u32| {
                let variable = self.units[unit.0 as usize].variables.get(index as usize)?;
                variable.initial.clone()
            };
            let (here, there) = (initial(own, ours.index), initial(other, theirs.index));
            if ours.section == SectionKind::Input && !same_value(here.as_ref(), there.as_ref()) {
                return Some(format!("`{}` has another initial value there", ours.name));
            }
        }
        // ENO is in every call and no parameter, but a method that sets it is called in another way.
        let sets_eno = |checker: &Self, unit: UnitId| {
            let variables = &checker.units[unit.0 as usize].variables;
            variables.iter().any(|variable| {
                let name = variable.name.map_or("", |name| checker.spelling(name));
                variable.section == SectionKind::Output && name.eq_ignore_ascii_case("ENO")
            })
        };
        if sets_eno(self, own) != sets_eno(self, other) {
            return Some("ENO is declared in one of them only".to_owned());
        }
        let (extra, side) = match ours.len().cmp(&theirs.len()) {
            std::cmp::Ordering::Greater => (ours.get(theirs.len())?, "this one"),
            std::cmp::Ordering::Less => (theirs.get(ours.len())?, "the other one"),
            std::cmp::Ordering::Equal => return None,
        };
        Some(format!("`{}` is a parameter of {side} only", extra.name))
    }

    /// Every method of the interfaces of a type, with the same heading; the prototypes without a method.
    fn check_interfaces(&mut self, unit: UnitId) -> Vec<UnitId> {
        let mut missing = Vec::new();
        let base = self.units[unit.0 as usize].object.base;
        let done =
            base.map(|base| implemented(&self.units, &self.interface_scopes, base)).unwrap_or_default();
        let complete = base.is_none_or(|base| !self.units[base.0 as usize].object.is_abstract);
        for interface in implemented(&self.units, &self.interface_scopes, unit) {
            // The base has all of them, and what overrides them has the same heading.
            if complete && done.contains(&interface) {
                continue;
            }
            let prototypes: Vec<(Name, UnitId)> = self.interface_scopes[interface.0 as usize]
                .methods
                .iter()
                .map(|(name, id)| (*name, *id))
                .collect();
            for (name, prototype) in prototypes {
                let Some(method) = method_of(&self.units, unit, name) else {
                    missing.push(prototype);
                    if missing.len() > LISTED_MAX {
                        return missing;
                    }
                    continue;
                };
                self.check_implementation(unit, method, prototype);
            }
        }
        missing
    }

    fn check_implementation(&mut self, unit: UnitId, method: UnitId, prototype: UnitId) {
        let visibility = self.units[method.0 as usize].object.visibility;
        let spelling = self.text(self.units[method.0 as usize].tree.name.span);
        let interface = self.owner_name(prototype);
        let own = self.units[unit.0 as usize].object.methods.values().any(|own| *own == method);
        let method_place = self.units[method.0 as usize].tree.name.span;
        let span = if own { method_place } else { self.units[unit.0 as usize].tree.name.span };
        let place = self.units[prototype.0 as usize].tree.name.span;
        if !matches!(visibility, Visibility::Public | Visibility::Internal) {
            let word = visibility.keyword();
            self.report(
                Diagnostic::error(
                    "signature-differs",
                    span,
                    format!("`{spelling}` is {word}, but the interface `{interface}` asks for it"),
                )
                .label(word)
                .also(place, "asked for here")
                .note("a method of an interface is called from outside: write `METHOD PUBLIC`"),
            );
            return;
        }
        let Some(difference) = self.heading_difference(method, prototype) else { return };
        let mut diagnostic = Diagnostic::error(
            "signature-differs",
            span,
            format!("`{spelling}` does not have the heading that the interface `{interface}` asks for"),
        )
        .label("a caller through the interface must see no difference");
        if !own {
            diagnostic = diagnostic.also(method_place, "the inherited method");
        }
        self.report(diagnostic.also(place, "the prototype").note(difference));
    }

    /// A type with instances has a body for every method.
    fn check_abstract(&mut self, unit: UnitId, missing: Vec<UnitId>) {
        let scope = &self.units[unit.0 as usize];
        if scope.object.is_abstract || scope.tree.damaged || is_incomplete(&self.units, unit) {
            return;
        }
        let mut left = missing;
        let base_abstract =
            scope.object.base.is_some_and(|base| self.units[base.0 as usize].object.is_abstract);
        if base_abstract {
            // Abstract methods of abstract bases, if the nearest method of the name is still that.
            let bases: Vec<UnitId> = with_bases(&self.units, unit)
                .skip(1)
                .take_while(|base| self.units[base.0 as usize].object.is_abstract)
                .collect();
            for base in bases {
                for (name, method) in &self.units[base.0 as usize].object.methods {
                    if left.len() > LISTED_MAX {
                        break;
                    }
                    let is_abstract = self.units[method.0 as usize].object.is_abstract;
                    if is_abstract && method_of(&self.units, unit, *name) == Some(*method) {
                        left.push(*method);
                    }
                }
            }
        }
        if left.is_empty() {
            return;
        }
        let scope = &self.units[unit.0 as usize];
        let span = scope.tree.name.span;
        let mut names: Vec<String> = left
            .iter()
            .take(LISTED_MAX)
            .map(|method| self.spelling(self.units[method.0 as usize].name).to_owned())
            .collect();
        if left.len() > LISTED_MAX {
            names.push("more".to_owned());
        }
        let own = self.spelling(scope.name).to_owned();
        let mut diagnostic = Diagnostic::error(
            "missing-method",
            span,
            format!("`{own}` has no body for {}", crate::declare::listed(&names)),
        )
        .label(format!("{} that is not ABSTRACT needs one for every method", a_unit(scope.kind)));
        for method in left.iter().take(LISTED_MAX) {
            diagnostic = diagnostic.also(self.units[method.0 as usize].tree.name.span, "asked for here");
        }
        let from_interface = left.iter().any(|method| {
            matches!(
                self.units[method.0 as usize].object.owner,
                Some(crate::object_scope::Owner::Interface(_))
            )
        });
        self.report(diagnostic.note(if from_interface {
            "write the method with the heading of the prototype and PUBLIC before its name"
        } else {
            "write the method with OVERRIDE before its name, or make this type ABSTRACT too"
        }));
    }

    /// A derived function block without statements, whose base has some that will not run.
    fn check_empty_body(&mut self, unit: UnitId) {
        let tree = self.units[unit.0 as usize].tree;
        if tree.kind != UnitKind::FunctionBlock || tree.damaged || !matches!(tree.body, Body::Empty) {
            return;
        }
        let filled = with_bases(&self.units, unit).skip(1).find(|base| {
            let base = self.units[base.0 as usize].tree;
            base.kind == UnitKind::FunctionBlock && !matches!(base.body, Body::Empty)
        });
        let Some(base) = filled else { return };
        let place = self.units[base.0 as usize].tree.name;
        let base_name = self.text(place.span);
        self.report(
            Diagnostic::warning(
                "empty-derived-body",
                tree.name.span,
                format!("calling an instance of `{}` does nothing", self.text(tree.name.span)),
            )
            .label("has no statements of its own")
            .also(place.span, format!("the body of `{base_name}` runs only by `SUPER()`"))
            .note("write `SUPER();` if the body of the base shall run"),
        );
    }

    /// Whether something declared in one type may be used where `inside` is being checked.
    pub(crate) fn may_use(
        &self,
        visibility: Visibility,
        declared_in: UnitId,
        inside: Option<UnitId>,
    ) -> bool {
        match visibility {
            Visibility::Public => true,
            Visibility::Internal => self.same_namespace(declared_in),
            Visibility::Protected => {
                inside.is_some_and(|inside| derives_from(&self.units, inside, declared_in))
            }
            Visibility::Private => inside == Some(declared_in),
        }
    }

    /// Whether the place being checked is in the namespace of a type, or inside of that.
    fn same_namespace(&self, declared_in: UnitId) -> bool {
        let around = |unit: UnitId| {
            let name = self.spelling(self.units[unit.0 as usize].tree.name.name);
            name.rsplit_once('.').map(|(space, _)| space)
        };
        let Some(wanted) = around(declared_in) else { return true };
        // The name of a method has no namespace; that of its owner has.
        let here = self.inside_type().or(self.unit).and_then(around).unwrap_or("");
        let nested = || here.get(..wanted.len()).zip(here.get(wanted.len()..));
        nested().is_some_and(|(outer, rest)| {
            outer.eq_ignore_ascii_case(wanted) && (rest.is_empty() || rest.starts_with('.'))
        })
    }
}

/// Whether two written initial values are the same.
fn same_value(one: Option<&InitialValue>, other: Option<&InitialValue>) -> bool {
    match (one, other) {
        (None, None) => true,
        (Some(InitialValue::Constant(one)), Some(InitialValue::Constant(other))) => one == other,
        (Some(InitialValue::Array(ones)), Some(InitialValue::Array(others))) => {
            ones.len() == others.len()
                && ones.iter().zip(others).all(|(one, other)| same_value(one.as_ref(), other.as_ref()))
        }
        (Some(InitialValue::Members(ones)), Some(InitialValue::Members(others))) => {
            ones.len() == others.len()
                && ones.iter().zip(others).all(|((index, one), (other_index, other))| {
                    index == other_index && same_value(Some(one), Some(other))
                })
        }
        // Globals; the variables of two methods are not the same.
        (Some(InitialValue::Reference(one)), Some(InitialValue::Reference(other))) => {
            matches!(one.root, Root::Global(_))
                && one.root == other.root
                && one.steps.is_empty()
                && other.steps.is_empty()
        }
        _ => false,
    }
}
