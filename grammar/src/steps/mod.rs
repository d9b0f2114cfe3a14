//! Procedures: the timeline of a test on the virtual bench, in the style of Structured Text.
//!
//! A procedure is written in a `*.steps` file: what is done to the panel, how time passes, and what must be seen.
//! Its words are our own; literals, comments and expressions are those of IEC 61131-3:2013, read by the same lexer and
//! grammar. What devices and variables there are is none of this crate's business. The language is told on one page,
//! `PROCEDURES.md`.

mod actions;
mod blocks;
mod expectations;
mod format;
mod items;
mod layout;
mod operands;
mod parts;
mod procedures;
mod reader;
mod repair;
mod repeats;
mod responses;
mod slips;
pub mod tree;
mod words;

pub use format::format;
pub use words::step_words;

use crate::{
    diagnostic::{Diagnostic, Severity},
    lexer::{Lexed, Token},
    names::Names,
    parser::{Parser, Read},
    piece::Context,
    source::FileId,
};
use layout::Layout;
use reader::Reader;
use tree::StepsFile;
use words::Word;

/// A file of procedures: the tree of what could be understood, and what was wrong with the rest.
#[derive(Clone, Debug, Default)]
pub struct ParsedSteps {
    /// The tree.
    pub tree: StepsFile,
    /// In source order.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a file of procedures. Never fails: what cannot be understood is left out of the tree and reported, one
/// message for one mistake.
pub fn parse_steps(file: FileId, text: &str, names: &mut Names) -> ParsedSteps {
    read(file, text, names).parsed
}

/// What was read, and what of it a formatter has to know.
struct Outcome {
    parsed: ParsedSteps,
    tokens: Vec<Token>,
    words: Vec<Word>,
    layout: Layout,
}

fn read(file: FileId, text: &str, names: &mut Names) -> Outcome {
    let mut lexed = crate::lexer::tokens(file, text, names);
    let mut diagnostics = std::mem::take(&mut lexed.diagnostics);
    diagnostics.iter_mut().for_each(|problem| repair::tell_of_unit(text, problem));
    let wrong = diagnostics.iter().filter(|problem| problem.severity == Severity::Error);
    let mut wrong: Vec<u32> = wrong.map(|problem| problem.primary.span.start).collect();
    wrong.sort_unstable();
    let words = repair::words(file, text, &mut lexed.tokens, &mut diagnostics);
    let boundaries = blocks::pair(text, &mut lexed.tokens, &words);
    let Lexed { tokens, trivia, values, unread_from, .. } = lexed;
    let context = Context::new(file, &values, names);
    let parser = Parser::new(Read { file, text, tokens: &tokens, unread_from }, names, &context, diagnostics);
    let mut reader = Reader {
        parser,
        words,
        boundaries,
        wrong,
        at: 0,
        limit: tokens.len(),
        depth: 0,
        said_depth: false,
        lost_count: false,
        values: &values,
        layout: Layout::default(),
    };
    let items = reader.items();
    let Reader { parser, words, layout, .. } = reader;
    let diagnostics = parser.into_diagnostics();
    Outcome {
        parsed: ParsedSteps { tree: StepsFile { file, items, trivia }, diagnostics },
        tokens,
        words,
        layout,
    }
}
