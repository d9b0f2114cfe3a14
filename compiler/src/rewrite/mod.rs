//! A program in the other text language: the bodies of program organization units, methods and actions written anew in
//! Instruction List or Structured Text. Everything else stays as it is, byte by byte.
//!
//! ```text
//! trees + types -> bodies in the other language -> texts -> check of the new texts
//! ```
//!
//! The rewritten program does what the old one does: the values of its variables are the same after every scan. Where the
//! other language cannot say something, or not without changing what is computed, the body stays as it is and a
//! diagnostic tells why. The new texts are compiled before they are handed out, so that they are always programs.

mod assembly;
mod comments;
mod facts;
mod list;
mod names;
mod place;
mod refusal;
mod text;

use latchwork_grammar::{
    Diagnostic, FileId, Names, Severity, SourceFile, Sources, Span, parse,
    tree::{Body, SyntaxTree},
};

use self::{
    facts::{Facts, FreshNames, NewVariable},
    names::Scope,
    place::BodyPlace,
    refusal::Refusal,
};
use crate::{CompileOptions, check::check_with};

/// The names and explanations of what rewriting reports.
pub const CATALOGUE: &[(&str, &str)] = &[(
    "not-rewritten",
    "a body that the other language cannot say, or not without changing what is computed",
)];

/// A text language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Language {
    /// Instruction List.
    InstructionList,
    /// Structured Text.
    StructuredText,
}

impl Language {
    /// Its name in the standard.
    pub const fn name(self) -> &'static str {
        match self {
            Language::InstructionList => "Instruction List",
            Language::StructuredText => "Structured Text",
        }
    }
}

/// A body in the other language.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rewritten {
    /// The name of its unit, with the type of a method or the action of a chart.
    pub name: String,
    /// The file.
    pub file: FileId,
    /// Variables that were declared for values that have no name in the old text, with their types.
    pub variables: Vec<(String, String)>,
    /// Where its lines stand in the new text.
    pub lines: Span,
    /// For each of these lines, which part of the old text it says anew; empty for a body in Instruction List.
    pub origins: Vec<Span>,
}

/// What became of a program.
#[derive(Clone, Debug, Default)]
pub struct Rewriting {
    /// The texts of the files, in their order; empty if the program has errors.
    pub texts: Vec<(FileId, String)>,
    /// The bodies that are in the other language now, in textual order.
    pub bodies: Vec<Rewritten>,
    /// The errors of the program, or what could not be rewritten.
    pub diagnostics: Vec<Diagnostic>,
    /// The names of all units that could be rewritten, for who asks for one that is not there.
    pub units: Vec<String>,
}

/// Writes the bodies of a program anew; with `only`, those of the units of that name and of their methods and actions.
pub fn rewrite(
    sources: &Sources,
    language: Language,
    only: Option<&str>,
    options: &CompileOptions,
) -> Rewriting {
    let mut names = Names::new();
    let mut trees = Vec::new();
    let mut diagnostics = Vec::new();
    for (file, source) in sources.iter() {
        let parsed = parse(file, &source.text, &mut names);
        diagnostics.extend(parsed.diagnostics);
        trees.push(parsed.tree);
    }
    let checked = check_with(&trees, sources, &mut names, options);
    diagnostics.extend(checked.diagnostics);
    diagnostics.retain(|diagnostic| diagnostic.severity == Severity::Error);
    if !diagnostics.is_empty() {
        return Rewriting { diagnostics, ..Rewriting::default() };
    }
    let facts = Facts::new(&checked.program, &trees, sources, &names);
    let mut attempts: Vec<Attempt<'_>> = Vec::new();
    let mut units = Vec::new();
    for (tree, (_, source)) in trees.iter().zip(sources.iter()) {
        for place in place::bodies(tree, &source.text) {
            let unit = unit_name(&place, &facts);
            if !units.contains(&unit) {
                units.push(unit.clone());
            }
            if only.is_some_and(|only| !only.eq_ignore_ascii_case(&unit)) {
                continue;
            }
            if let Some(result) = attempt(&place, tree, source, language, &facts) {
                attempts.push(Attempt { name: body_name(&place, &facts), place, result });
            }
        }
    }
    // What does not compile is not handed out: bodies with errors stay as they were.
    let assembled = loop {
        let assembled = assembly::assemble(sources, &attempts);
        if !assembly::withdraw(&assembled, &mut attempts, options) {
            break assembled;
        }
    };
    let mut rewriting = Rewriting { units, ..Rewriting::default() };
    for (number, attempt) in attempts.into_iter().enumerate() {
        match attempt.result {
            Ok(body) => rewriting.bodies.push(Rewritten {
                name: attempt.name,
                file: attempt.place.span.file,
                variables: body.variables.into_iter().map(|v| (v.name, v.type_text)).collect(),
                lines: assembled.lines_of(number).unwrap_or_default(),
                origins: body.origins,
            }),
            Err(refusal) => {
                rewriting.diagnostics.push(refusal.diagnostic(&attempt.name, language.name()));
            }
        }
    }
    rewriting.texts = assembled.texts;
    rewriting
}

/// A body in the other language.
struct NewBody {
    text: String,
    variables: Vec<NewVariable>,
    /// What each line of the text says anew.
    origins: Vec<Span>,
}

/// A body that is in the wrong language, and what became of it.
struct Attempt<'a> {
    place: BodyPlace<'a>,
    name: String,
    result: Result<NewBody, Refusal>,
}

fn unit_name(place: &BodyPlace<'_>, facts: &Facts<'_>) -> String {
    facts.text(place.owner.unwrap_or(place.unit).name.span).to_owned()
}

fn body_name(place: &BodyPlace<'_>, facts: &Facts<'_>) -> String {
    let mut name = unit_name(place, facts);
    let method = place.owner.map(|_| place.unit.name);
    for part in method.into_iter().chain(place.action) {
        name.push('.');
        name.push_str(facts.text(part.span));
    }
    name
}

/// The body in the wanted language; `None` if there is nothing to rewrite.
fn attempt(
    place: &BodyPlace<'_>,
    tree: &SyntaxTree,
    source: &SourceFile,
    language: Language,
    facts: &Facts<'_>,
) -> Option<Result<NewBody, Refusal>> {
    let comments = comments::comments(tree, &source.text, place.span);
    let scope = Scope::new(place);
    let mut fresh = FreshNames::new(facts.names);
    let written =
        match (place.body, language) {
            (Body::StructuredText(statements), Language::InstructionList) => {
                list::write(statements, facts, &scope, &comments, &mut fresh)
                    .map(|(text, variables)| NewBody { text, variables, origins: Vec::new() })
            }
            (Body::InstructionList(instructions), Language::StructuredText) => {
                text::write(instructions, facts, &scope, &comments, &mut fresh, place.indent)
            }
            _ => return None,
        };
    Some(written)
}
