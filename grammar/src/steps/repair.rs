//! Slips seen before anything is read: closing words that are nearly right (`end procedure`, `endrepeat`), so that
//! each costs one message, and durations without their `T#`.

use super::words::{CLOSING, Word, nearest};
use crate::{
    diagnostic::{Diagnostic, Edit, Fix},
    lexer::{Token, TokenKind},
    names::Names,
    source::{FileId, Span},
};

/// What the words of a file are, in the order of its tokens; misspelt closing words are put right.
pub(super) fn words(
    file: FileId,
    text: &str,
    tokens: &mut Vec<Token>,
    problems: &mut Vec<Diagnostic>,
) -> Vec<Word> {
    let slice = |token: &Token| text.get(token.start as usize..token.end as usize).unwrap_or("");
    let mut words = Vec::with_capacity(tokens.len());
    let mut kept: Vec<Token> = Vec::with_capacity(tokens.len());
    let mut rest = tokens.iter().copied().peekable();
    while let Some(mut token) = rest.next() {
        let mut word = Word::Other;
        if token.kind == TokenKind::Identifier || token.kind.is_keyword() {
            let written = slice(&token);
            word = Word::of(written);
            let behind_point = kept.last().is_some_and(|last| last.kind == TokenKind::Dot);
            if word == Word::Other && !behind_point && begins_with_end(written) {
                let next = rest.peek().copied();
                let meant = if written.eq_ignore_ascii_case("end") {
                    next.filter(|next| !next.first_on_line)
                        .and_then(|next| two_words(slice(&next)).map(|word| (word, next.end)))
                } else if is_name(next) {
                    None
                } else {
                    one_word(written).map(|word| (word, token.end))
                };
                if let Some((meant, end)) = meant {
                    let span = Span::new(file, token.start, end);
                    problems.push(misspelt_closing(span, written, meant, end != token.end));
                    if end != token.end {
                        rest.next();
                    }
                    token.end = end;
                    token.kind = kind_of(meant);
                    word = meant;
                }
            }
        }
        words.push(word);
        kept.push(token);
    }
    *tokens = kept;
    words
}

fn begins_with_end(word: &str) -> bool {
    word.get(..3).is_some_and(|start| start.eq_ignore_ascii_case("end"))
}

/// Whether what follows a word shows that it is the name of something.
fn is_name(next: Option<Token>) -> bool {
    use TokenKind as T;
    next.is_some_and(|next| {
        matches!(next.kind, T::Assign | T::Dot | T::Comma | T::BracketOpen | T::ParenthesisOpen)
    })
}

/// The closing word meant by `end` and another word.
fn two_words(second: &str) -> Option<Word> {
    CLOSING
        .into_iter()
        .find(|word| word.text().get(4..).is_some_and(|opening| opening.eq_ignore_ascii_case(second)))
}

/// The closing word meant by a word that begins with `end`.
fn one_word(written: &str) -> Option<Word> {
    let folded = written.to_ascii_lowercase();
    let joined = CLOSING.into_iter().find(|word| word.text().replace('_', "") == folded.replace('_', ""));
    joined.or_else(|| nearest(written, &CLOSING).filter(|(distance, _)| *distance <= 2).map(|found| found.1))
}

fn kind_of(word: Word) -> TokenKind {
    match word {
        Word::EndRepeat => TokenKind::EndRepeat,
        Word::EndWhile => TokenKind::EndWhile,
        _ => TokenKind::Identifier,
    }
}

fn misspelt_closing(span: Span, written: &str, meant: Word, two: bool) -> Diagnostic {
    let word = meant.text();
    let message = if two {
        format!("the word is `{word}`, in one word")
    } else {
        format!("the word is `{word}`, not `{written}`")
    };
    Diagnostic::error("steps-misspelt-word", span, message)
        .label(if two { "two words" } else { "not a word of procedures" })
        .fix(format!("write `{word}`"), span, word)
}

/// A number with a unit, such as `20ms`, is a duration that lacks its `T#`.
pub(super) fn tell_of_unit(text: &str, problem: &mut Diagnostic) {
    let span = problem.primary.span;
    let written = text.get(span.start as usize..span.end as usize).unwrap_or("");
    if problem.name != "malformed-number" {
        return;
    }
    let meant = format!("T#{written}");
    let alone = crate::lexer::tokens(span.file, &meant, &mut Names::new());
    let is_duration = matches!(alone.tokens.as_slice(), [token] if token.kind == TokenKind::TimeLiteral);
    if !is_duration || !alone.diagnostics.is_empty() {
        return;
    }
    problem.notes.push(format!("a duration is written `{meant}`"));
    let edits = vec![Edit { span, text: meant.clone() }];
    problem.fix = Some(Fix { message: format!("write `{meant}`"), edits });
}
