//! From what was handed in to the words that are fingerprinted: each body of a program organization unit, method or action
//! on its own, so that the order of units does not matter.
//!
//! Declarations take no part but by what they say of the variables that bodies use: their order and names are the author's,
//! and most of them follow from the wiring, which is the same for everyone. Bodies of Instruction List are taken as the
//! Structured Text they can be rewritten into with certainty; a program with errors and a body that cannot be rewritten are
//! followed line by line instead. What is no body at all is taken token by token.

use std::collections::BTreeMap;

use latchwork_compiler::{
    CompileOptions,
    rewrite::{Language, Rewriting, Rewritten, rewrite},
};
use latchwork_grammar::{
    FileId, Names, Sources, Span, Token, parse, tokens,
    tree::{Body, Declaration, Ident, ProgramUnit, SyntaxTree},
};

use super::{
    Demanded, FILES_MAX, Handed, WORDS_MAX,
    normal::{Declared, Lines, Scope, Word, Writer},
};

/// Where the words of a body were taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    /// The body as it stands.
    Tree,
    /// The Structured Text that the body was rewritten into.
    Rewritten,
    /// The bare tokens of what could not be understood.
    Tokens,
}

/// The words of a body.
#[derive(Clone, Debug)]
pub(super) struct Stream {
    /// In the normal form.
    pub(super) words: Vec<Word>,
    /// Where they were taken from.
    pub(super) origin: Origin,
}

/// The words of everything that was handed in, in the order of the texts; at most [`WORDS_MAX`] of them.
pub(super) fn streams(handed: &Handed, demanded: &[Demanded]) -> Vec<Stream> {
    let mut sources = Sources::new();
    for (name, text) in handed.texts.iter().take(FILES_MAX) {
        sources.add(name.as_str(), text.as_str());
    }
    let (trees, mut names) = parsed(&sources);
    let mut lexed: BTreeMap<FileId, Vec<Token>> = BTreeMap::new();
    for (tree, (file, source)) in trees.iter().zip(sources.iter()) {
        if is_strange(tree) || bodies(tree).iter().any(|place| place.unit.damaged) {
            lexed.insert(file, tokens(file, &source.text, &mut names).tokens);
        }
    }
    let declared = Declared::new(&trees, &sources, &names, demanded);
    let lines = |span: Span| lines_of(&sources, span);
    let mut anew = rewritten(&trees, &sources, demanded);
    let mut streams = Vec::new();
    for (tree, (file, source)) in trees.iter().zip(sources.iter()) {
        let tokens = lexed.get(&file).map_or(&[][..], Vec::as_slice);
        if is_strange(tree) {
            let writer = Writer { declared: &declared, scope: Scope::none(), lines: &lines };
            let all = Span::new(file, 0, source.text.len() as u32);
            let words = writer.plain(tokens, all, &sources, &names);
            streams.push(Stream { words, origin: Origin::Tokens });
            continue;
        }
        for place in bodies(tree) {
            if let Some(words) = anew.remove(&(file, place.name(&sources))) {
                streams.push(Stream { words, origin: Origin::Rewritten });
                continue;
            }
            let scope = Scope::of(place.unit, place.owner, &declared);
            let writer = Writer { declared: &declared, scope, lines: &lines };
            let words = writer.body(place.body);
            let span = place.span();
            let first = tokens.partition_point(|token| token.start < span.start);
            let count = tokens.iter().skip(first).take_while(|token| token.end <= span.end).count();
            // Most of a body that has lost this much is not in its tree.
            if place.unit.damaged && words.len() * 2 < count {
                let words = writer.plain(tokens, span, &sources, &names);
                streams.push(Stream { words, origin: Origin::Tokens });
            } else {
                streams.push(Stream { words, origin: Origin::Tree });
            }
        }
    }
    let mut left = WORDS_MAX;
    for stream in &mut streams {
        stream.words.truncate(left);
        left -= stream.words.len();
    }
    streams.retain(|stream| !stream.words.is_empty());
    streams
}

fn parsed(sources: &Sources) -> (Vec<SyntaxTree>, Names) {
    let mut names = Names::new();
    let trees = sources.iter().map(|(file, source)| parse(file, &source.text, &mut names).tree).collect();
    (trees, names)
}

/// Whether a file has text, but nothing of it was understood.
fn is_strange(tree: &SyntaxTree) -> bool {
    tree.declarations.is_empty()
}

fn lines_of(sources: &Sources, span: Span) -> Lines {
    let ((from, _), (to, _)) = sources.range(span);
    Lines { file: span.file.0 as u16, from, to: to.max(from) }
}

/// The words of the bodies that could be rewritten into Structured Text, by their files and names.
fn rewritten(
    trees: &[SyntaxTree],
    old: &Sources,
    demanded: &[Demanded],
) -> BTreeMap<(FileId, String), Vec<Word>> {
    let mut found = BTreeMap::new();
    let lists = |tree: &SyntaxTree| bodies(tree).iter().any(|it| matches!(it.body, Body::InstructionList(_)));
    if !trees.iter().any(lists) {
        return found;
    }
    let options = CompileOptions::default();
    let Rewriting { texts, bodies: anew, .. } = rewrite(old, Language::StructuredText, None, &options);
    let mut sources = Sources::new();
    for ((_, text), (_, source)) in texts.iter().zip(old.iter()) {
        sources.add(source.name.as_str(), text.as_str());
    }
    let (trees, names) = parsed(&sources);
    let declared = Declared::new(&trees, &sources, &names, demanded);
    let ends: Vec<(&Rewritten, Vec<u32>)> =
        anew.iter().map(|body| (body, line_ends(body, &sources))).collect();
    let lines = |span: Span| {
        // The last body that begins before it: bodies are in textual order.
        let behind =
            ends.partition_point(|(body, _)| (body.file, body.lines.start) <= (span.file, span.start));
        let before = behind.checked_sub(1).and_then(|at| ends.get(at));
        let origin = before.filter(|(body, _)| body.file == span.file).and_then(|(body, ends)| {
            let line = ends.partition_point(|end| *end <= span.start);
            body.origins.get(line).or(body.origins.last())
        });
        lines_of(old, origin.copied().unwrap_or_else(|| Span::new(span.file, 0, 0)))
    };
    for (tree, (file, _)) in trees.iter().zip(sources.iter()) {
        for place in bodies(tree) {
            let name = place.name(&sources);
            if anew.iter().any(|body| body.file == file && body.name == name) {
                let scope = Scope::of(place.unit, place.owner, &declared);
                let writer = Writer { declared: &declared, scope, lines: &lines };
                found.insert((file, name), writer.body(place.body));
            }
        }
    }
    found
}

/// Where the lines of a body end that was written anew.
fn line_ends(body: &Rewritten, sources: &Sources) -> Vec<u32> {
    let text = sources.text(body.lines);
    text.match_indices('\n').map(|(at, _)| body.lines.start + at as u32 + 1).collect()
}

/// A body with the unit it belongs to.
struct Place<'t> {
    unit: &'t ProgramUnit,
    /// The type that a method belongs to.
    owner: Option<&'t ProgramUnit>,
    /// The action of a chart, if it is not the body of the unit itself.
    action: Option<Ident>,
    body: &'t Body,
}

impl Place<'_> {
    /// Its name, as a rewriting tells it.
    fn name(&self, sources: &Sources) -> String {
        let method = self.owner.map(|_| self.unit.name);
        let parts = [Some(self.owner.unwrap_or(self.unit).name), method, self.action];
        let names: Vec<&str> = parts.into_iter().flatten().map(|part| sources.text(part.span)).collect();
        names.join(".")
    }

    /// From the declarations to the end of the unit.
    fn span(&self) -> Span {
        let unit = self.unit;
        let sections = unit.sections.iter().map(|section| section.span.end);
        let methods = unit.methods.iter().map(|method| method.span.end);
        let start = sections.chain(methods).max().unwrap_or(unit.name.span.end);
        Span { start: start.min(unit.span.end), ..unit.span }
    }
}

/// All bodies of a file that say anything, in textual order; the networks of charts before their actions.
fn bodies(tree: &SyntaxTree) -> Vec<Place<'_>> {
    let mut found = Vec::new();
    enter(&tree.declarations, &mut found);
    found
}

fn enter<'t>(declarations: &'t [Declaration], found: &mut Vec<Place<'t>>) {
    for declaration in declarations {
        match declaration {
            Declaration::Unit(unit) => {
                enter_unit(unit, None, found);
                unit.methods.iter().for_each(|method| enter_unit(method, Some(unit), found));
            }
            Declaration::Namespace(namespace) => enter(&namespace.declarations, found),
            _ => {}
        }
    }
}

fn enter_unit<'t>(unit: &'t ProgramUnit, owner: Option<&'t ProgramUnit>, found: &mut Vec<Place<'t>>) {
    if matches!(unit.body, Body::Empty) && !unit.damaged {
        return;
    }
    found.push(Place { unit, owner, action: None, body: &unit.body });
    if let Body::SequentialFunctionChart(chart) = &unit.body {
        for action in &chart.actions {
            found.push(Place { unit, owner, action: Some(action.name), body: &action.body });
        }
    }
}
