//! VAR_CONFIG: places for variables declared with `AT %I*`, and initial values of single instances.
//!
//! Source: IEC 61131-3:2013, 6.8.1, 6.5.5, tables 16 and 62. Our choices: a value without a place is allowed; the
//! value of VAR_CONFIG wins over all others; without a configuration `AT %I*` is an error.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{DirectAddress, Ident, InstanceDeclaration},
};

use super::{parts::is_open, paths::Reached};
use crate::{
    check::Checker,
    typed::{InstancePlace, InstanceValue, PathTarget, Root},
    types::TypeId,
};

impl<'a> Checker<'a> {
    pub(super) fn check_places(&mut self) {
        let sections = self.configuration.tree.map_or(&[][..], |tree| &tree.instances);
        for declaration in sections.iter().flat_map(|section| &section.variables) {
            self.instance_declaration(declaration);
        }
        self.report_open_variables();
    }

    fn instance_declaration(&mut self, tree: &'a InstanceDeclaration) {
        let kind = self.resolve(&tree.specification);
        let Some(reached) = self.walk_path(&tree.path) else { return };
        if tree.location.is_some() {
            self.configuration.attempted.insert(reached.key.clone());
        }
        let Some(variable) = reached.variable.clone().filter(|_| reached.whole) else {
            self.report(
                Diagnostic::error(
                    "access-path",
                    tree.path.span,
                    "VAR_CONFIG speaks of a whole variable of an instance",
                )
                .label("not a variable of a program or function block"),
            );
            return;
        };
        if variable.constant {
            self.report(
                Diagnostic::error(
                    "access-path",
                    tree.path.span,
                    format!("{} is CONSTANT in every instance", self.variable_name(&variable)),
                )
                .label("cannot be set for one instance")
                .also(variable.span, "CONSTANT"),
            );
            return;
        }
        if !self.same_type(kind, reached.walk.ty, tree.specification.span, variable.span) {
            return;
        }
        if let Some(address) = &tree.location {
            self.instance_place(tree, address, &reached, kind);
        }
        if let Some(initial) = &tree.initial {
            let ident = Ident {
                name: variable.name.unwrap_or(latchwork_grammar::Name(u32::MAX)),
                span: tree.path.span,
            };
            if let Some(value) = self.initial_value(initial, kind, ident)
                && let Some(target) = self.completed(&reached, tree.path.span)
            {
                self.configuration.typed.values.push(InstanceValue { target, value });
            }
        }
    }

    fn instance_place(
        &mut self,
        tree: &'a InstanceDeclaration,
        address: &DirectAddress,
        reached: &Reached,
        kind: TypeId,
    ) {
        let open = reached.open.as_ref().filter(|open| open.steps == reached.walk.steps.len());
        let Some(declared) = open.map(|open| &open.address) else {
            let place = reached.variable.as_ref().map(|variable| variable.span);
            let mut diagnostic = Diagnostic::error(
                "partial-address",
                address.span,
                format!("`{}` was not declared with a place to be completed", reached.shown),
            )
            .label("no `AT %I*`, `AT %Q*` or `AT %M*` there");
            if let Some(place) = place {
                diagnostic = diagnostic.also(place, "declared here");
            }
            self.report(diagnostic);
            return;
        };
        if declared.area != address.area {
            let (here, there) = (self.text(address.span), self.text(declared.span));
            self.report(
                Diagnostic::error(
                    "partial-address",
                    address.span,
                    format!("{here} lies in another area than {there}"),
                )
                .label("another area")
                .also(declared.span, "the area is chosen here"),
            );
            return;
        }
        if !self.check_address(address) {
            return;
        }
        self.check_address_type(address, kind);
        let first = self.configuration.completed.get(&reached.key).map(|(_, first)| *first);
        if let Some(first) = first {
            self.report(
                Diagnostic::error(
                    "partial-address",
                    address.span,
                    format!("`{}` gets a second place", reached.shown),
                )
                .label("second place")
                .also(first, "first place"),
            );
            return;
        }
        self.configuration.completed.insert(reached.key.clone(), (address.clone(), address.span));
        self.configuration.typed.places.push(InstancePlace {
            variable: reached.target(tree.path.span).access,
            path: reached.shown.clone(),
            address: address.clone(),
            span: tree.path.span,
        });
    }

    /// The addresses that VAR_CONFIG gives, with the types of what lies there.
    pub(crate) fn completed_places(&self) -> impl Iterator<Item = (&DirectAddress, TypeId)> {
        self.configuration.typed.places.iter().map(|place| (&place.address, place.variable.ty))
    }

    /// The place a path leads to, through the place that VAR_CONFIG gave to a variable on the way.
    pub(super) fn completed(&self, reached: &Reached, span: Span) -> Option<PathTarget> {
        let mut target = reached.target(span);
        if let Some(open) = &reached.open {
            let (address, _) = self.configuration.completed.get(&open.key)?;
            target.access.root = Root::Direct(Box::new(address.clone()));
            target.access.steps = target.access.steps[open.steps..].into();
            target.start = open.kind;
        }
        Some(target)
    }

    /// Whether a type written in a path declaration is that of the variable; reports if not.
    pub(super) fn same_type(&mut self, written: TypeId, found: TypeId, place: Span, declared: Span) -> bool {
        let (left, right) = (self.types.underlying(written), self.types.underlying(found));
        if self.is_unknown(left) || self.is_unknown(right) {
            return false;
        }
        if left == right {
            return true;
        }
        let (here, there) = (self.type_name(written), self.type_name(found));
        self.report(
            Diagnostic::error(
                "access-mismatch",
                place,
                format!("the variable is {there}, and this says {here}"),
            )
            .label(here)
            .also(declared, there)
            .note("both declarations speak of one variable and need the same type"),
        );
        false
    }

    fn report_open_variables(&mut self) {
        if self.configuration.tree.is_none() {
            let units = self.units.iter().flat_map(|unit| &unit.variables);
            let open = units.filter_map(|variable| variable.location.as_deref().filter(|at| is_open(at)));
            let open = open.chain(self.types.open_members.values());
            let places: Vec<Span> = open.map(|address| address.span).collect();
            for place in places {
                self.report(
                    Diagnostic::error("partial-address", place, "this place is completed by a configuration, and there is none")
                        .label("place left open")
                        .note("write the address, or a CONFIGURATION with VAR_CONFIG: `Resource.Program.variable AT %IX0.0 : BOOL;`"),
                );
            }
            return;
        }
        let mut missing: BTreeMap<Span, (String, usize)> = BTreeMap::new();
        for open in self.open_variables() {
            if self.configuration.attempted.contains(&open.key) {
                continue;
            }
            missing.entry(open.span).and_modify(|(_, further)| *further += 1).or_insert((open.shown, 0));
        }
        for (span, (shown, further)) in missing {
            if self.has_error_in(span) {
                continue;
            }
            let area = self.text(span).get(..2).unwrap_or("%I").to_owned();
            let mut diagnostic =
                Diagnostic::error("partial-address", span, format!("VAR_CONFIG gives no place to `{shown}`"))
                    .label("to be completed for each instance")
                    .note(format!("write in VAR_CONFIG: `{shown} AT {area}… : type;`"));
            if further > 0 {
                let more = crate::check::describe::count(further, "further instance", "further instances");
                diagnostic = diagnostic.note(format!("the same holds for {more}"));
            }
            self.report(diagnostic);
        }
    }
}
