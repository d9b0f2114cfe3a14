//! What to say about names and namespaces that do not find one another.

use latchwork_grammar::{Diagnostic, Name, Span, tree::Ident};

use super::{
    Flattener,
    table::{Kind, Member},
};
use crate::{declare::listed, nearest::nearest};

/// Names compared to find the nearest: a text full of unknown names is not worth more.
const SEARCH_MAX: usize = 1000;

impl Flattener<'_> {
    pub(super) fn report_internal_at_global(&mut self, span: Span) {
        self.report(
            Diagnostic::error(
                "internal-without-namespace",
                span,
                "`INTERNAL` has no meaning outside of a namespace",
            )
            .label("in the global namespace")
            .note("it hides something from everything outside the namespace around it; put it into one, or leave the word out")
            .fix("remove `INTERNAL`", span, ""),
        );
    }

    pub(super) fn report_internal(&mut self, span: Span, member: &Member) {
        let full = self.spelling(member.full).to_owned();
        let around = self.space_name(member.holder);
        self.report(
            Diagnostic::error("internal-access", span, format!("`{full}` is INTERNAL to `{around}`"))
                .label("cannot be used here")
                .also(member.span, "declared here")
                .note(format!("only what stands in the namespace `{around}` can use it")),
        );
    }

    pub(super) fn report_ambiguous(&mut self, ident: Ident, found: &[Member]) {
        let spelling = self.text(ident.span);
        let found = found.get(..3).unwrap_or(found);
        let names: Vec<String> =
            found.iter().map(|member| format!("`{}`", self.spelling(member.full))).collect();
        let mut diagnostic = Diagnostic::error(
            "ambiguous-name",
            ident.span,
            format!("`{spelling}` may be {}", names.join(" or ")),
        )
        .label("found in more than one namespace");
        for member in found {
            let text = format!("`{}` is declared here", self.spelling(member.full));
            diagnostic = diagnostic.also(member.span, text);
        }
        self.report(diagnostic.note("write the full name of the one that is meant"));
    }

    pub(super) fn report_namespace_needed(&mut self, ident: Ident, found: &[Member]) {
        let spelling = self.text(ident.span);
        let mut diagnostic = Diagnostic::error(
            "namespace-needed",
            ident.span,
            format!("`{spelling}` stands in a namespace that is not searched here"),
        )
        .label("not found without its namespace");
        for member in found.iter().take(3) {
            let text = format!("`{}` is declared here", self.spelling(member.full));
            diagnostic = diagnostic.also(member.span, text);
        }
        diagnostic = match found {
            [one] => {
                let full = self.spelling(one.full).to_owned();
                diagnostic.fix(format!("write `{full}`"), ident.span, full)
            }
            _ => diagnostic,
        };
        self.report(
            diagnostic
                .note("write its full name, or `USING` with the namespace behind the heading of the unit"),
        );
    }

    pub(super) fn report_unknown_namespace(&mut self, ident: Ident, around: Option<usize>) {
        let spelling = self.text(ident.span);
        let message = match around {
            Some(space) => format!("`{}` has no namespace `{spelling}`", self.space_name(space)),
            None => format!("there is no namespace `{spelling}`"),
        };
        let candidates = self.table.members.iter().filter(|((space, _), member)| {
            matches!(member.kind, Kind::Space(_)) && around.is_none_or(|around| around == *space)
        });
        let near = self.near(ident.name, candidates.map(|((_, name), member)| (*name, member.span)));
        let diagnostic =
            Diagnostic::error("unknown-namespace", ident.span, message).label("not declared in any file");
        self.report(with_near(diagnostic, near));
    }

    /// `name` stands for a namespace where a declaration is wanted, or for nothing.
    pub(super) fn report_not_in_namespace(&mut self, ident: Ident, space: usize, is_space: bool) {
        let spelling = self.text(ident.span);
        let around = self.space_name(space);
        if is_space {
            self.report(
                Diagnostic::error(
                    "not-in-namespace",
                    ident.span,
                    format!("`{around}.{spelling}` is a namespace, not something in one"),
                )
                .label("a type, function or the like is expected here"),
            );
            return;
        }
        let candidates = self
            .table
            .members
            .iter()
            .filter(|((holder, _), member)| *holder == space && member.kind == Kind::Declaration);
        let candidates: Vec<(Name, Span)> =
            candidates.map(|((_, name), member)| (*name, member.span)).collect();
        let near = self.near(ident.name, candidates.iter().copied());
        let mut diagnostic = Diagnostic::error(
            "not-in-namespace",
            ident.span,
            format!("the namespace `{around}` has no `{spelling}`"),
        )
        .label("not declared there");
        if near.is_none() && !candidates.is_empty() && candidates.len() <= 8 {
            let names: Vec<String> =
                candidates.iter().map(|(name, _)| self.spelling(*name).to_owned()).collect();
            diagnostic = diagnostic.note(format!("it has {}", listed(&names)));
        }
        self.report(with_near(diagnostic, near));
    }

    fn near(&self, name: Name, candidates: impl Iterator<Item = (Name, Span)>) -> Option<(String, Span)> {
        let candidates: Vec<(&str, Span)> =
            candidates.take(SEARCH_MAX).map(|(name, span)| (self.spelling(name), span)).collect();
        let near = nearest(self.spelling(name), candidates.iter().map(|(text, _)| *text))?;
        candidates.iter().find(|(text, _)| *text == near).map(|(text, span)| ((*text).to_owned(), *span))
    }

    /// The full name of a namespace in words.
    pub(super) fn space_name(&self, space: usize) -> String {
        let name = self.table.spaces.get(space).and_then(|space| space.name);
        name.map_or_else(|| "the global namespace".to_owned(), |name| self.spelling(name).to_owned())
    }
}

fn with_near(diagnostic: Diagnostic, near: Option<(String, Span)>) -> Diagnostic {
    match near {
        Some((near, place)) => diagnostic.also(place, format!("`{near}` is declared here")),
        None => diagnostic,
    }
}
