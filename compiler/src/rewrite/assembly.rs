//! New bodies put into the old texts, and the check of what came out.

use latchwork_grammar::{FileId, Severity, Sources, Span};

use super::{Attempt, facts::NewVariable, place::Indent, refusal::Refusal};
use crate::{CompileOptions, compile_with};

/// Texts with new bodies.
pub(super) struct Assembled {
    /// The texts of all files.
    pub(super) texts: Vec<(FileId, String)>,
    /// Where each body stands now, with the number of its attempt.
    places: Vec<(usize, NewPlace)>,
}

/// Where a new body stands.
#[derive(Clone, Copy)]
struct NewPlace {
    /// All that was put in, new declarations among it.
    whole: Span,
    /// The first byte of the first line of the body.
    body: u32,
}

impl Assembled {
    /// Where the lines of the body of an attempt stand in the new text.
    pub(super) fn lines_of(&self, attempt: usize) -> Option<Span> {
        let (_, place) = self.places.iter().find(|(number, _)| *number == attempt)?;
        Some(Span { start: place.body, ..place.whole })
    }
}

/// A change of a text: what is replaced, by what, and the number of the attempt whose body that is with what
/// stands before its first line.
struct Edit {
    start: u32,
    end: u32,
    text: String,
    body: Option<(usize, u32)>,
}

/// Puts the new bodies into the texts.
pub(super) fn assemble(sources: &Sources, attempts: &[Attempt<'_>]) -> Assembled {
    let mut assembled = Assembled { texts: Vec::new(), places: Vec::new() };
    for (file, source) in sources.iter() {
        let mut edits: Vec<Edit> = Vec::new();
        for (number, attempt) in attempts.iter().enumerate() {
            let Some(body) = attempt.result.as_ref().ok().filter(|_| attempt.place.span.file == file) else {
                continue;
            };
            let Span { start, end, .. } = attempt.place.span;
            let old = source.text.get(start as usize..end as usize).unwrap_or("");
            let mut section = declarations(&body.variables, attempt.place.section(), attempt.place.indent);
            // A body of its own stands right behind the declarations, an action further down.
            if attempt.place.action.is_some() && !section.is_empty() {
                let at = attempt.place.declarations_end;
                let text = format!("\n{}", section.trim_end());
                edits.push(Edit { start: at, end: at, text, body: None });
                section.clear();
            }
            let (text, before) = framed(old, &section, &body.text);
            edits.push(Edit { start, end, text, body: Some((number, before)) });
        }
        edits.sort_by_key(|edit| edit.start);
        let mut text = String::with_capacity(source.text.len());
        let mut at = 0;
        for edit in edits {
            text.push_str(source.text.get(at as usize..edit.start as usize).unwrap_or(""));
            let from = text.len() as u32;
            text.push_str(&edit.text);
            if let Some((number, before)) = edit.body {
                let whole = Span::new(file, from, text.len() as u32);
                assembled.places.push((number, NewPlace { whole, body: from + before }));
            }
            at = edit.end;
        }
        text.push_str(source.text.get(at as usize..).unwrap_or(""));
        assembled.texts.push((file, text));
    }
    assembled
}

/// A body with the line ends and the empty line before it that the old one had; and how many bytes stand before the body.
fn framed(old: &str, section: &str, body: &str) -> (String, u32) {
    let first: Vec<&str> = old.split('\n').take(3).collect();
    let spaced = matches!(first.as_slice(), [_, second, _] if second.trim().is_empty());
    let gap = if spaced { "\n" } else { "" };
    let ends = |text: &str| {
        if old.contains("\r\n") { text.replace("\r\n", "\n").replace('\n', "\r\n") } else { text.to_owned() }
    };
    let before = ends(&format!("\n{section}{gap}"));
    (format!("{before}{}", ends(body)), before.len() as u32)
}

/// A section for new variables.
fn declarations(variables: &[NewVariable], keyword: &str, indent: Indent) -> String {
    if variables.is_empty() {
        return String::new();
    }
    let (outer, inner) = (" ".repeat(indent.heading), " ".repeat(indent.heading + indent.step));
    let mut text = format!("{outer}{keyword}\n");
    for variable in variables {
        text.push_str(&format!("{inner}{} : {};\n", variable.name, variable.type_text));
    }
    text.push_str(&format!("{outer}END_VAR\n"));
    text
}

/// Compiles the new texts and takes bodies with errors back; whether there was one.
pub(super) fn withdraw(
    assembled: &Assembled,
    attempts: &mut [Attempt<'_>],
    options: &CompileOptions,
) -> bool {
    let mut sources = Sources::new();
    for (_, text) in &assembled.texts {
        sources.add("rewritten", text.as_str());
    }
    let compilation = compile_with(&sources, options);
    let mut errors =
        compilation.diagnostics.iter().filter(|problem| problem.severity == Severity::Error).peekable();
    if errors.peek().is_none() || assembled.places.is_empty() {
        return false;
    }
    let mut refused: Vec<(usize, String)> = Vec::new();
    for error in errors {
        let at = error.primary.span;
        let inside = |span: &Span| span.file == at.file && span.start <= at.start && at.start <= span.end;
        if let Some((number, _)) = assembled.places.iter().find(|(_, place)| inside(&place.whole)) {
            refused.push((*number, error.message.clone()));
        }
    }
    if refused.is_empty() {
        // An error of the whole: nobody can say which body it comes from.
        refused = assembled
            .places
            .iter()
            .map(|(number, _)| (*number, "the whole would not compile".into()))
            .collect();
    }
    for (number, message) in refused {
        if let Some(attempt) = attempts.get_mut(number).filter(|attempt| attempt.result.is_ok()) {
            let place = attempt.place.action.unwrap_or(attempt.place.unit.name).span;
            attempt.result = Err(Refusal::new(
                place,
                format!("what it would become has an error: {message}"),
                "write the part that the message speaks of in a simpler way",
            ));
        }
    }
    true
}
