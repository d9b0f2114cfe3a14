//! Programs rewritten in one call, and what every rewriting must keep.

use std::collections::BTreeMap;

use latchwork_compiler::{
    CompileOptions,
    rewrite::{Language, Rewriting, rewrite},
};
use latchwork_grammar::{Names, Sources, parse};

use crate::workbench;

/// The sources of a program in the other language, and what was said about it.
///
/// # Errors
/// The errors of the program.
pub fn rewritten(sources: &Sources, language: Language) -> Result<(Sources, Rewriting), String> {
    let done = rewrite(sources, language, None, &CompileOptions::default());
    if done.texts.is_empty() {
        return Err(workbench::text(&done.diagnostics, sources));
    }
    let mut new = Sources::new();
    for ((_, old), (_, text)) in sources.iter().zip(&done.texts) {
        new.add(old.name.as_str(), text.as_str());
    }
    Ok((new, done))
}

/// How often each comment and pragma stands in the files of a program, however its lines are indented.
pub fn comments(sources: &Sources) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    for (file, source) in sources.iter() {
        for trivia in parse(file, &source.text, &mut Names::new()).tree.trivia {
            *found
                .entry(sources.text(trivia.span).split_whitespace().collect::<Vec<_>>().join(" "))
                .or_default() += 1;
        }
    }
    found
}
