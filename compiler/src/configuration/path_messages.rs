//! Messages about paths that lead nowhere.

use latchwork_grammar::{Diagnostic, Span, tree::Ident};

use crate::{check::Checker, nearest::nearest, types::UnitId};

impl Checker<'_> {
    pub(super) fn report_path(&mut self, span: Span, message: &str) {
        self.report(
            Diagnostic::error("access-path", span, message).label("not a path").note(
                "a path is `Resource.Program.variable`, or the name of a global variable, or an address",
            ),
        );
    }

    pub(super) fn report_no_such(&mut self, member: Ident, first: Ident) {
        let (spelling, whole) = (self.text(member.span), self.text(first.span));
        let search = self.may_search_paths();
        let diagnostic = Diagnostic::error(
            "access-path",
            member.span,
            format!("the resource `{whole}` has no program and no global variable `{spelling}`"),
        )
        .label("not in this resource");
        let index = self.resource_named(first.name);
        let names = index.map(|index| &self.configuration.resources[index]);
        let names = names
            .into_iter()
            .flat_map(|resource| {
                resource.instances.iter().map(|i| i.name.name).chain(resource.globals.keys().copied())
            })
            .map(|name| self.spelling(name));
        let diagnostic = match search.then(|| nearest(spelling, names)).flatten() {
            Some(near) => diagnostic.note(format!("the nearest name is `{near}`")),
            None => diagnostic,
        };
        self.report(diagnostic);
    }

    pub(super) fn report_no_start(&mut self, first: Ident) {
        let spelling = self.text(first.span);
        let search = self.may_search_paths();
        let diagnostic = Diagnostic::error(
            "access-path",
            first.span,
            format!("`{spelling}` is no resource, program or global variable of the configuration"),
        )
        .label("unknown start of a path");
        let resources = self.configuration.resources.iter();
        let names = resources
            .flat_map(|resource| {
                resource.name.into_iter().chain(resource.instances.iter().map(|instance| instance.name))
            })
            .map(|ident| self.spelling(ident.name));
        let diagnostic = match search.then(|| nearest(spelling, names)).flatten() {
            Some(near) => diagnostic.note(format!("the nearest name is `{near}`")),
            None => diagnostic.note("a path starts with the name of a resource: `Resource.Program.variable`"),
        };
        self.report(diagnostic);
    }

    pub(super) fn report_no_variable_inside(&mut self, member: Ident, unit: UnitId) {
        let spelling = self.text(member.span);
        let search = self.may_search(self.units[unit.0 as usize].by_name.len());
        let scope = &self.units[unit.0 as usize];
        let (place, name) = (scope.tree.name.span, self.spelling(scope.name));
        let diagnostic =
            Diagnostic::error("access-path", member.span, format!("`{name}` has no variable `{spelling}`"))
                .label("no such variable")
                .also(place, format!("`{name}` is declared here"));
        let names = scope.by_name.keys().map(|name| self.spelling(*name));
        let near = search.then(|| nearest(spelling, names)).flatten();
        let diagnostic = match near {
            Some(near) => diagnostic.note(format!("the nearest name is `{near}`")),
            None => diagnostic,
        };
        self.report(diagnostic);
    }

    /// Whether one more search among the names a path can start with is worth its time.
    fn may_search_paths(&mut self) -> bool {
        let resources = self.configuration.resources.iter();
        let names = resources.map(|resource| 1 + resource.instances.len() + resource.globals.len()).sum();
        self.may_search(names)
    }
}
