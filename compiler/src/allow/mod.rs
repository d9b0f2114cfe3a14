//! Pragmas that silence warnings: `{allow double-coil}`, `{allow double-coil, real-equal: reason}`.
//!
//! The standard has pragmas and leaves their content to the implementer (IEC 61131-3:2013, 6.2 and table 4);
//! this content is our choice. A pragma holds for what follows it: the unit, section, declaration, statement
//! or instruction that begins behind it, with everything inside. In front of everything else in its file it
//! holds for the whole file. A warning is silenced by the place its message points at; an error never is.
//! Pragmas that do not begin with `allow` are somebody else's and stay without effect.
//!
//! Knows places and names, not what the warnings mean.

mod scopes;

use std::{borrow::Cow, collections::BTreeMap};

use latchwork_grammar::{
    Diagnostic, Severity, Sources, Span,
    tree::{SyntaxTree, Trivia, TriviaKind},
};

use self::scopes::Scopes;
use crate::{
    catalogue::{WARNINGS, WARNINGS_OF_STATIONS},
    findings::{SAME_NAME_MAX, SameName},
    nearest::nearest,
};

/// What the pragmas of a program allow.
#[derive(Clone, Debug, Default)]
pub struct Allowances {
    list: Vec<Allowance>,
    /// What is wrong with the pragmas themselves.
    problems: Vec<Diagnostic>,
    counted: SameName,
}

/// One name in one pragma.
#[derive(Clone, Debug)]
struct Allowance {
    name: &'static str,
    /// The name as it stands in the pragma.
    written: Span,
    /// Where warnings are silenced; `None` if nothing follows the pragma.
    scope: Option<Span>,
}

/// The word that makes a pragma one of these.
const WORD: &str = "allow";

impl Allowances {
    /// Reads the pragmas of all files.
    pub fn read(trees: &[SyntaxTree], sources: &Sources) -> Self {
        let mut found = Allowances::default();
        for tree in trees {
            let is_pragma = |trivia: &&Trivia| trivia.kind == TriviaKind::Pragma;
            if !tree.trivia.iter().any(|trivia| is_pragma(&trivia)) {
                continue;
            }
            let text = &sources.file(tree.file).text;
            let scopes = Scopes::of(tree, text);
            for pragma in tree.trivia.iter().filter(is_pragma) {
                found.pragma(pragma.span, sources.text(pragma.span), &scopes);
            }
        }
        found
    }

    fn problem(&mut self, diagnostic: Diagnostic) {
        self.problems.extend(self.counted.admit(diagnostic));
    }

    fn pragma(&mut self, span: Span, text: &str, scopes: &Scopes) {
        // The lexer gives a pragma with both its braces.
        let inner = text.strip_prefix('{').and_then(|rest| rest.strip_suffix('}')).unwrap_or_default();
        let content = inner.trim_start();
        let start = span.start + 1 + (inner.len() - content.len()) as u32;
        let word_end = content.find(|letter: char| !letter.is_ascii_alphanumeric()).unwrap_or(content.len());
        let (word, rest) = content.split_at(word_end);
        let names = rest.split(':').next().unwrap_or_default();
        let at = |offset: usize, length: usize| {
            let first = start + (word_end + offset) as u32;
            Span::new(span.file, first, first + length as u32)
        };
        if !word.eq_ignore_ascii_case(WORD) {
            // A slip in the word, if a warning is named behind it.
            let first = names.split(',').next().unwrap_or_default().trim();
            if nearest(word, [WORD]).is_some() && known(first).is_some() {
                let place = Span::new(span.file, start, start + word_end as u32);
                self.problem(
                    Diagnostic::warning(
                        "allow-unknown",
                        place,
                        format!("`{word}` has no effect in a pragma"),
                    )
                    .label("did you mean `allow`?")
                    .fix("write `allow`", place, WORD),
                );
            }
            return;
        }
        if names.trim().is_empty() {
            self.problem(
                Diagnostic::warning("allow-unknown", span, "this pragma names no warning")
                    .label("nothing behind `allow`")
                    .note("write the name that stands in brackets behind `warning`: `{allow double-coil}`"),
            );
            return;
        }
        let scope = scopes.behind(span);
        let mut offset = 0;
        for piece in names.split(',') {
            let name = piece.trim();
            let written = at(offset + (piece.len() - piece.trim_start().len()), name.len());
            offset += piece.len() + 1;
            match known(name) {
                Some(name) => self.list.push(Allowance { name, written, scope }),
                None => self.problem(unknown(name, written)),
            }
        }
    }

    /// Whether a warning of this name at this place is allowed.
    pub fn cover(&self, name: &str, place: Span) -> bool {
        self.list.iter().any(|allowance| {
            allowance.name == name && allowance.scope.is_some_and(|scope| covers(scope, place))
        })
    }

    /// Takes the allowed warnings out of a list, and puts in what is wrong with the pragmas: names that are no
    /// warnings, and, where no error keeps warnings from being looked for, pragmas without effect.
    pub fn apply(&self, diagnostics: &mut Vec<Diagnostic>) {
        if !self.list.is_empty() {
            self.silence(diagnostics);
        }
        diagnostics.extend(self.problems.iter().cloned());
    }

    /// Goes through pragmas and warnings in the order of the text. Scopes are parts of a tree, so that those
    /// around a place lie in one another: the innermost one silences.
    fn silence(&self, diagnostics: &mut Vec<Diagnostic>) {
        let mut pending: Vec<(Span, usize)> = Vec::new();
        for (index, allowance) in self.list.iter().enumerate() {
            pending.extend(allowance.scope.map(|scope| (scope, index)));
        }
        pending.sort_by_key(|(scope, _)| (scope.file, scope.start, std::cmp::Reverse(scope.end)));
        let mut pending = pending.into_iter().peekable();
        let mut open: BTreeMap<&str, Vec<(Span, usize)>> = BTreeMap::new();
        let mut used = vec![false; self.list.len()];
        let mut silent = vec![false; diagnostics.len()];
        let mut places: Vec<(Span, usize)> =
            diagnostics.iter().enumerate().map(|(index, found)| (found.primary.span, index)).collect();
        places.sort_unstable();
        for (place, index) in places {
            let begun = |(scope, _): &(Span, usize)| (scope.file, scope.start) <= (place.file, place.start);
            while let Some((scope, allowance)) = pending.next_if(begun) {
                open.entry(self.list[allowance].name).or_default().push((scope, allowance));
            }
            let found = &diagnostics[index];
            if found.severity != Severity::Warning {
                continue;
            }
            let Some(around) = open.get_mut(found.name) else { continue };
            while around.last().is_some_and(|(scope, _)| !covers(*scope, place)) {
                around.pop();
            }
            if let Some((_, allowance)) = around.last() {
                used[*allowance] = true;
                silent[index] = true;
            }
        }
        let failed = diagnostics.iter().any(|found| found.severity == Severity::Error);
        let mut told: BTreeMap<&str, usize> = BTreeMap::new();
        diagnostics.iter().for_each(|found| *told.entry(found.name).or_default() += 1);
        let mut index = 0;
        diagnostics.retain(|_| {
            index += 1;
            !silent[index - 1]
        });
        if failed {
            return;
        }
        let mut counted = SameName::default();
        for (allowance, _) in self.list.iter().zip(used).filter(|(_, used)| !used) {
            // Found only where the wiring is known.
            if WARNINGS_OF_STATIONS.contains(&allowance.name) {
                continue;
            }
            let name = allowance.name;
            // Of those that are not told any more it is not known which are allowed.
            if told.get(name).is_some_and(|told| *told >= SAME_NAME_MAX) {
                continue;
            }
            let message = format!("there is no warning `{name}` here to allow");
            let mut diagnostic = Diagnostic::warning("allow-unused", allowance.written, message)
                .label("this pragma silences nothing");
            diagnostic = match allowance.scope {
                None => diagnostic.note("nothing follows it: a pragma stands in front of what it is about"),
                Some(_) => diagnostic.note(
                    "take it out, or put it in front of the statement, declaration or unit that the warning points at",
                ),
            };
            let Some(diagnostic) = counted.admit(diagnostic) else { break };
            diagnostics.push(diagnostic);
        }
    }
}

fn covers(scope: Span, place: Span) -> bool {
    scope.file == place.file && (scope.start..scope.end.max(scope.start + 1)).contains(&place.start)
}

/// A name as the catalogue has it, if it is that of a warning.
fn known(name: &str) -> Option<&'static str> {
    let all = WARNINGS.iter().chain(WARNINGS_OF_STATIONS);
    all.copied().find(|known| known.eq_ignore_ascii_case(name))
}

/// A name that is no warning: unknown, or that of an error.
fn unknown(name: &str, written: Span) -> Diagnostic {
    // Quoted, so not without end.
    let shown: Cow<'_, str> = match name.char_indices().nth(60) {
        Some((end, _)) => format!("{}…", name.get(..end).unwrap_or_default()).into(),
        None => name.into(),
    };
    if crate::explain::explain(name).is_some() {
        return Diagnostic::warning("allow-unknown", written, format!("`{shown}` cannot be allowed"))
            .label("not a warning that can be silenced")
            .note("errors have to be mended; only warnings about a correct program can be allowed");
    }
    let diagnostic =
        Diagnostic::warning("allow-unknown", written, format!("there is no warning named `{shown}`"));
    match nearest(name, WARNINGS.iter().chain(WARNINGS_OF_STATIONS).copied()) {
        Some(near) => diagnostic
            .label(format!("did you mean `{near}`?"))
            .fix(format!("write `{near}`"), written, near),
        None => diagnostic
            .label("unknown")
            .note("a warning shows its name in brackets; several names are separated by commas, a reason follows a colon"),
    }
}
