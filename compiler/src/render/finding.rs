//! What was found in another way than by reading a program, shown like what is found by reading it.

use latchwork_grammar::{Diagnostic, Sources};

use super::{lines::Files, spans, text};
use crate::explain::explain;

/// One diagnostic with an excerpt of the source, followed by an empty line; `word` stands at its head where an error
/// has "error". The page about its name is pointed to if there is one.
pub fn finding(word: &str, diagnostic: &Diagnostic, sources: &Sources, colour: bool) -> String {
    let files = Files::new(sources, spans(std::slice::from_ref(diagnostic)));
    let hint = explain(diagnostic.name).is_some();
    // The first thing written is the severity, an error's, behind a colour sequence at most.
    text::one(diagnostic, &files, colour, hint).replacen("error", word, 1)
}
