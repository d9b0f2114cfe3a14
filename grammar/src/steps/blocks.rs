//! Pairs the words that open and close blocks, before anything is read. A procedure begins and ends where its words
//! stand; between them `repeat` and `while` are paired as loops of Structured Text are, which a procedure does not have
//! but which may stand in one by mistake.

use super::words::Word;
use crate::{
    lexer::{Token, TokenKind},
    parser::blocks::pair_words,
};

/// Tokens between a word at the end of a line and the start of the line; more are no line that somebody wrote.
const LINE_TOKENS_MAX: usize = 64;

/// Leaves in the payload of each word that opens a block where it ends. Tells the places of the words that begin and
/// end procedures and preparations.
pub(super) fn pair(text: &str, tokens: &mut [Token], words: &[Word]) -> Vec<usize> {
    let mut boundaries = Vec::new();
    let mut blocks = Vec::new();
    let mut start = 0;
    for index in 0..tokens.len() {
        if is_boundary(tokens, words, index) {
            pair_words(text, tokens, &blocks, start..index, line_start);
            blocks.clear();
            boundaries.push(index);
            start = index + 1;
        } else if is_block_word(tokens, words, index) {
            blocks.push(index);
        }
    }
    pair_words(text, tokens, &blocks, start..tokens.len(), line_start);
    boundaries
}

fn kind(tokens: &[Token], index: usize) -> TokenKind {
    tokens.get(index).map_or(TokenKind::EndOfFile, |token| token.kind)
}

fn word(words: &[Word], index: usize) -> Word {
    words.get(index).copied().unwrap_or(Word::Other)
}

/// Whether what follows a word shows that it is the name of something.
fn is_name(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    matches!(kind(tokens, index + 1), T::Assign | T::Dot | T::Comma)
        || index > 0 && kind(tokens, index - 1) == T::Dot
}

/// Whether a statement can begin at a token.
pub(super) fn begins_statement(tokens: &[Token], words: &[Word], index: usize) -> bool {
    let Some(before) = index.checked_sub(1) else { return true };
    let kind = kind(tokens, before);
    let closed = kind == TokenKind::Semicolon || word(words, before).closes();
    let ends_line =
        kind.ends_operand() || word(words, before) == Word::While || kind == TokenKind::Unreadable;
    closed || ends_line && tokens.get(index).is_some_and(|token| token.first_on_line)
}

fn is_boundary(tokens: &[Token], words: &[Word], index: usize) -> bool {
    use TokenKind as T;
    match word(words, index) {
        Word::EndPrepare | Word::EndProcedure => !is_name(tokens, index),
        Word::Procedure if matches!(kind(tokens, index + 1), T::StringLiteral | T::Unreadable) => {
            tokens.get(index).is_some_and(|token| token.first_on_line)
                || begins_statement(tokens, words, index)
        }
        Word::Procedure | Word::Prepare => !is_name(tokens, index) && begins_statement(tokens, words, index),
        _ => false,
    }
}

fn is_block_word(tokens: &[Token], words: &[Word], index: usize) -> bool {
    use TokenKind as T;
    match kind(tokens, index) {
        T::Repeat | T::EndRepeat | T::While | T::EndWhile | T::EndIf | T::EndCase | T::EndFor => true,
        T::If | T::Case => begins_statement(tokens, words, index),
        // `for T#1s` may begin a line.
        T::For => kind(tokens, index + 2) == T::Assign,
        _ => false,
    }
}

/// The first token of the line of a word: an opening word may stand at the end of one (`expect Pump while`).
fn line_start(tokens: &[Token], index: usize) -> usize {
    let from = index.saturating_sub(LINE_TOKENS_MAX);
    let line = tokens.get(from..=index).unwrap_or(&[]);
    line.iter().rposition(|token| token.first_on_line).map_or(index, |place| from + place)
}
