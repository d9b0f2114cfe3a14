//! Lays a file of procedures out anew: one step a line, two blanks for each block around it, words of procedures in
//! small letters, operators and TRUE and FALSE in capitals, blanks as usual between tokens. Comments stay where they
//! are, and one blank line where some were. What is laid out twice does not change, and the tree is the same.

mod lines;
mod spacing;

use super::read;
use crate::{
    diagnostic::{Diagnostic, Severity},
    names::Names,
    source::FileId,
};

/// The text of a file of procedures, laid out. Line ends are those of its first line.
///
/// # Errors
/// Everything that is wrong with the text, in its order, if it has an error.
pub fn format(file: FileId, text: &str, names: &mut Names) -> Result<String, Vec<Diagnostic>> {
    let outcome = read(file, text, names);
    if outcome.parsed.diagnostics.iter().any(|problem| problem.severity == Severity::Error) {
        return Err(outcome.parsed.diagnostics);
    }
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    for line in lines::lines(text, &outcome) {
        line.write(&mut out);
    }
    // Comments may hold line ends of any kind.
    let out = out.replace("\r\n", "\n").replace('\r', "\n");
    let out = if has_line_feeds_only(text) { out } else { out.replace('\n', "\r\n") };
    Ok(if text.starts_with('\u{feff}') { format!("\u{feff}{out}") } else { out })
}

fn has_line_feeds_only(text: &str) -> bool {
    text.find('\n').is_none_or(|end| !text.get(..end).is_some_and(|line| line.ends_with('\r')))
}
