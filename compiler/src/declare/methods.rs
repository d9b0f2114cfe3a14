//! Methods against the methods of bases: what overrides what, nothing abstract left in a type of which there are
//! instances; who may use what.
//!
//! Source: IEC 61131-3:2013, 6.6.5.4 to 6.6.5.9, table 48. Our choice: an overriding method has exactly the access of
//! the one it overrides.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Body, UnitKind},
};

use crate::{
    check::{Checker, describe::a_unit},
    object_scope::{Visibility, derives_from, is_incomplete, method_of, with_bases},
    types::{InterfaceId, UnitId},
};

/// Most methods named in one message.
pub(super) const LISTED_MAX: usize = 10;

impl Checker<'_> {
    /// Checks the methods of all types and interfaces.
    pub(crate) fn check_objects(&mut self) {
        let mut lists = BTreeSet::new();
        for index in 0..self.interface_scopes.len() {
            self.check_interface(InterfaceId(index as u32), &mut lists);
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
