//! Where faults can be seeded into a program: a walk over its syntax trees that gives an edit of the text for each.
//!
//! ```text
//! declarations -> types of blocks, initial values, edges, RETAIN
//! bodies -> statements | instructions | charts -> expressions -> constants
//! ```
//!
//! Knows the text alone. What an edit does to types is the compiler's business: what does not compile is no mutant.

mod blocks;
mod charts;
mod constants;
mod declarations;
mod expressions;
mod instructions;
mod rungs;
mod scope;
mod statements;
mod touched;

use latchwork_grammar::{
    Names, Sources, Span, parse,
    tree::{Body, Declaration, ProgramUnit, Trivia},
};

pub(super) use self::constants::duration;
use self::scope::{Scope, Surroundings};
use super::{
    kind::MutantKind,
    mutant::{Mutant, Mutants, chosen},
};

/// Most candidates that are looked at; a text with more is cut there, and the rest is not counted.
const CANDIDATES_MAX: usize = 100_000;

/// Most characters of the program that are quoted in the words of a fault.
const QUOTED_MAX: usize = 60;

/// Longest piece of text that is moved, in bytes.
const MOVED_BYTES_MAX: usize = 2_000;

/// The faults that can be seeded into a program, at most `most`; `scan_ns` is the time between two scans, by which a
/// duration changes at least.
pub(super) fn mutants(sources: &Sources, scan_ns: i64, most: usize) -> Mutants {
    let mut names = Names::new();
    let trees: Vec<_> =
        sources.iter().map(|(file, source)| parse(file, &source.text, &mut names).tree).collect();
    let surroundings = Surroundings::read(trees.iter().flat_map(|tree| &tree.declarations), sources);
    let mut found = Vec::new();
    for tree in &trees {
        let walk =
            Walk { sources, names: &names, surroundings: &surroundings, trivia: &tree.trivia, scan_ns };
        walk.declarations(&tree.declarations, &mut found);
    }
    chosen(found, most)
}

/// A walk through one file.
struct Walk<'a> {
    sources: &'a Sources,
    names: &'a Names,
    surroundings: &'a Surroundings,
    trivia: &'a [Trivia],
    scan_ns: i64,
}

/// What is found in the body of a unit.
struct Seeder<'w, 'a> {
    walk: &'w Walk<'a>,
    scope: &'w Scope<'a>,
    found: &'w mut Vec<Mutant>,
    /// In Instruction List: the operands have no NOT of their own.
    in_list: bool,
}

impl<'w, 'a> Seeder<'w, 'a> {
    fn new(walk: &'w Walk<'a>, scope: &'w Scope<'a>, found: &'w mut Vec<Mutant>) -> Self {
        Seeder { walk, scope, found, in_list: false }
    }
}

impl Walk<'_> {
    fn declarations(&self, declarations: &[Declaration], found: &mut Vec<Mutant>) {
        for declaration in declarations {
            match declaration {
                Declaration::Unit(unit) => self.unit(&[unit], found),
                Declaration::Namespace(namespace) => self.declarations(&namespace.declarations, found),
                Declaration::Globals(section) => {
                    let scope = Scope::new(self.surroundings, &[], self.sources, self.names);
                    Seeder::new(self, &scope, found).section(section);
                }
                Declaration::Configuration(configuration) => {
                    let scope = Scope::new(self.surroundings, &[], self.sources, self.names);
                    let mut seeder = Seeder::new(self, &scope, found);
                    configuration.globals.iter().for_each(|section| seeder.section(section));
                    let resources = configuration.resources.iter().flat_map(|resource| &resource.globals);
                    resources.for_each(|section| seeder.section(section));
                }
                Declaration::Types(_) | Declaration::Interface(_) | Declaration::Using(_) => {}
            }
        }
    }

    /// A unit, the last of those that stand around one another.
    fn unit(&self, units: &[&ProgramUnit], found: &mut Vec<Mutant>) {
        let Some(unit) = units.last() else { return };
        let scope = Scope::new(self.surroundings, units, self.sources, self.names);
        let mut seeder = Seeder::new(self, &scope, found);
        unit.sections.iter().for_each(|section| seeder.section(section));
        seeder.body(&unit.body);
        for method in &unit.methods {
            self.unit(&[unit, method], found);
        }
    }
}

impl Seeder<'_, '_> {
    fn body(&mut self, body: &Body) {
        match body {
            Body::Empty => {}
            Body::StructuredText(statements) => self.statements(statements),
            Body::InstructionList(instructions) => self.instructions(instructions),
            Body::SequentialFunctionChart(chart) => self.chart(chart),
        }
    }

    /// Notes a fault.
    fn push(&mut self, kind: MutantKind, span: Span, replacement: impl Into<String>, words: String) {
        if self.found.len() < CANDIDATES_MAX {
            let line = self.walk.sources.range(span).0.0;
            self.found.push(Mutant { kind, span, replacement: replacement.into(), line, words });
        }
    }

    /// Notes that one text becomes another.
    fn become_other(&mut self, kind: MutantKind, span: Span, replacement: impl Into<String>) {
        let replacement = replacement.into();
        let words = format!("`{}` became `{}`", self.quoted(span), cut(&replacement));
        self.push(kind, span, replacement, words);
    }

    /// Notes that a text is missing; `shown` is what of it is told.
    fn leave_out(&mut self, kind: MutantKind, span: Span, shown: Span) {
        let words = format!("`{}` left out", self.quoted(shown));
        self.push(kind, span, "", words);
    }

    fn text(&self, span: Span) -> &str {
        self.walk.sources.text(span)
    }

    /// A piece of the text on one line.
    fn quoted(&self, span: Span) -> String {
        cut(self.text(span))
    }

    /// Whether two pieces of text are the same but for blanks and letter case.
    fn same(&self, one: Span, other: Span) -> bool {
        let plain = |span: Span| {
            let characters = self.text(span).chars().filter(|character| !character.is_whitespace());
            characters.map(|character| character.to_ascii_uppercase())
        };
        plain(one).eq(plain(other))
    }

    /// Whether a comment or pragma begins in a piece of the text.
    fn has_comment(&self, span: Span) -> bool {
        let trivia = self.walk.trivia;
        let first = trivia.partition_point(|trivia| trivia.span.start < span.start);
        trivia.get(first).is_some_and(|trivia| trivia.span.start < span.end)
    }
}

/// A text on one line, cut off where it is long.
fn cut(text: &str) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= QUOTED_MAX {
        return line;
    }
    let start: String = line.chars().take(QUOTED_MAX - 1).collect();
    format!("{}…", start.trim_end())
}
