//! Pairs the words that open and close blocks of statements, before anything is parsed.
//!
//! Where all words of a unit pair, that is the end of it. Where they do not, indentation decides which block
//! is the unclosed one. The result is left in the payload of the opening tokens; it is reported when the
//! statements are read, so that text that is skipped costs no messages.

use super::cut::{find_kind, is_boundary, is_boundary_word, opens_block, used_as_name};
use crate::lexer::{Token, TokenKind};
use std::{collections::BTreeMap, ops::Range};

/// Set in the payload of an opening word whose closing word is missing; the rest of the payload is then the
/// token before which it is missing.
const MISSING: u32 = 1 << 31;

/// Payload of the `IF` of an `ELSE IF` that was meant as `ELSIF`.
const ELSE_IF: u32 = u32::MAX;

/// Where a block ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct BlockEnd {
    /// Index of the closing word, or of the token before which it is missing.
    pub index: usize,
    /// Whether it is missing.
    pub missing: bool,
}

/// The end of the block that a token opens.
pub(crate) fn end_of(token: Token) -> BlockEnd {
    BlockEnd { index: (token.payload & !MISSING) as usize, missing: token.payload & MISSING != 0 }
}

/// Whether the token is an `IF` behind `ELSE` that was meant as `ELSIF`.
pub(super) fn is_else_if(token: Token) -> bool {
    token.kind == TokenKind::If && token.payload == ELSE_IF
}

/// Leaves in every opening word where its block ends.
pub(super) fn pair(text: &str, tokens: &mut [Token]) {
    let mut start = 0;
    let mut words = Vec::new();
    let mut index = 0;
    loop {
        index = find_kind(tokens, index, |kind| may_be_block_word(kind) || is_boundary_word(kind));
        if index >= tokens.len() || is_boundary(tokens, index) {
            if !words.is_empty() {
                pair_words(text, tokens, &words, start..index, |_, index| index);
                words.clear();
            }
            start = index + 1;
        } else if is_block_word(tokens, index) {
            words.push(index);
        }
        if index >= tokens.len() {
            return;
        }
        index += 1;
    }
}

/// Whether a word is about blocks of statements.
fn may_be_block_word(kind: TokenKind) -> bool {
    kind >= TokenKind::If && kind <= TokenKind::EndRepeat
}

/// How to take a segment.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reading {
    /// A closing word closes the innermost block of its kind.
    Plain,
    /// As plain, and `ELSE IF` on one line is `ELSIF`.
    ElseIf,
    /// Indentation decides.
    Indented,
}

/// Pairs the words of blocks at the given places, all of them in one region. `stands_for` tells the token whose
/// column is that of a word; it counts if that token is the first of its line.
pub(crate) fn pair_words(
    text: &str,
    tokens: &mut [Token],
    words: &[usize],
    region: Range<usize>,
    stands_for: fn(&[Token], usize) -> usize,
) {
    let pairing = Pairing { text, words, region, stands_for };
    if pairing.pass(tokens, Reading::Plain) {
        return;
    }
    let has_else_if = words.iter().any(|index| is_else_if_text(tokens, *index));
    if has_else_if && pairing.pass(tokens, Reading::ElseIf) {
        return;
    }
    pairing.pass(tokens, Reading::Indented);
}

/// What is paired.
struct Pairing<'a> {
    text: &'a str,
    words: &'a [usize],
    region: Range<usize>,
    /// See [`pair_words`].
    stands_for: fn(&[Token], usize) -> usize,
}

fn is_block_word(tokens: &[Token], index: usize) -> bool {
    use TokenKind as T;
    tokens.get(index).is_some_and(|token| {
        may_be_block_word(token.kind)
            && (opens_block(token.kind)
                || closer_of(token.kind).is_some()
                || matches!(token.kind, T::Else | T::Elsif | T::Until))
            && !used_as_name(tokens, index)
    })
}

/// The opening word a closing word belongs to.
fn closer_of(kind: TokenKind) -> Option<TokenKind> {
    use TokenKind as T;
    Some(match kind {
        T::EndIf => T::If,
        T::EndCase => T::Case,
        T::EndFor => T::For,
        T::EndWhile => T::While,
        T::EndRepeat => T::Repeat,
        _ => return None,
    })
}

/// `ELSE IF` on one line.
fn is_else_if_text(tokens: &[Token], index: usize) -> bool {
    let is_if = tokens.get(index).is_some_and(|token| token.kind == TokenKind::If && !token.first_on_line);
    let before = index.checked_sub(1).and_then(|before| tokens.get(before));
    is_if && before.is_some_and(|token| token.kind == TokenKind::Else)
}

/// Open blocks looked at from the innermost outwards; the limit on nesting makes more pointless.
const SEARCH_MAX: usize = 512;

/// An open block.
struct Open {
    index: usize,
    kind: TokenKind,
    /// Column of the word if it is the first of its line.
    column: Option<usize>,
    /// First line behind it that is not indented more than it.
    dedent: Option<usize>,
    /// It is the `IF` of an `ELSE IF` on one line.
    behind_else: bool,
}

/// Whether a word inside or at the end of a block belongs to blocks that a word opens.
fn belongs(word: TokenKind, opening: TokenKind) -> bool {
    use TokenKind as T;
    match word {
        T::Elsif => opening == T::If,
        T::Else => matches!(opening, T::If | T::Case),
        T::Until => opening == T::Repeat,
        closing => closer_of(closing) == Some(opening),
    }
}

/// The open blocks, outermost first.
#[derive(Default)]
struct Stack {
    open: Vec<Open>,
    /// How many of each kind are open: without it, many closing words too many would search a deep stack each.
    counts: BTreeMap<TokenKind, usize>,
}

impl Stack {
    fn push(&mut self, block: Open) {
        *self.counts.entry(block.kind).or_default() += 1;
        self.open.push(block);
    }

    fn pop(&mut self) -> Option<Open> {
        let block = self.open.pop()?;
        if let Some(count) = self.counts.get_mut(&block.kind) {
            *count -= 1;
        }
        Some(block)
    }

    /// The place of the block a word belongs to; in the indented reading, `column` is that of the word. Blocks
    /// behind `ELSE` on one line may be passed over where that was meant as `ELSIF`.
    fn find(&self, word: TokenKind, column: Option<usize>, passes_else_if: bool) -> Option<usize> {
        if !self.counts.iter().any(|(kind, count)| *count > 0 && belongs(word, *kind)) {
            return None;
        }
        let innermost = self.open.iter().rposition(|block| belongs(word, block.kind))?;
        let Some(column) = column else { return Some(innermost) };
        let is_deeper = self.open.get(innermost).is_some_and(|block| {
            block.behind_else && passes_else_if || block.column.is_some_and(|inner| inner > column)
        });
        let at_column = || {
            let candidates = self.open.iter().enumerate().rev().take(SEARCH_MAX);
            candidates
                .filter(|(_, block)| belongs(word, block.kind) && block.column == Some(column))
                .map(|(place, _)| place)
                .next()
        };
        if is_deeper { at_column().or(Some(innermost)) } else { Some(innermost) }
    }
}

impl Pairing<'_> {
    /// One way of pairing; tells whether nothing is missing.
    fn pass(&self, tokens: &mut [Token], reading: Reading) -> bool {
        let Range { start, end } = self.region;
        let (text, words) = (self.text, self.words);
        let mut stack = Stack::default();
        let mut complete = true;
        let mut from = start;
        for (number, &index) in words.iter().enumerate() {
            if reading == Reading::Indented {
                note_dedents(text, tokens, from, index, &mut stack.open);
                from = index;
            }
            let Some(token) = tokens.get(index).copied() else { break };
            let column = (reading == Reading::Indented).then(|| self.column(tokens, index)).flatten();
            if opens_block(token.kind) {
                if reading == Reading::ElseIf && is_else_if_text(tokens, index) {
                    set(tokens, index, ELSE_IF);
                } else {
                    if reading == Reading::Indented {
                        note_dedents(text, tokens, index, index + 1, &mut stack.open);
                        from = index + 1;
                    }
                    let behind_else = is_else_if_text(tokens, index);
                    stack.push(Open { index, kind: token.kind, column, dedent: None, behind_else });
                }
                continue;
            }
            // `END_IF; END_IF;` closes an `ELSE IF` as it has to be closed.
            let next_word = words.get(number + 1).and_then(|next| tokens.get(*next));
            let passes_else_if =
                token.kind == TokenKind::EndIf && next_word.is_none_or(|next| next.kind != TokenKind::EndIf);
            let Some(place) = stack.find(token.kind, column, passes_else_if) else {
                complete = false;
                continue;
            };
            while stack.open.len() > place + 1 {
                let Some(unclosed) = stack.pop() else { break };
                complete = false;
                if unclosed.behind_else && token.kind == TokenKind::EndIf {
                    set(tokens, unclosed.index, ELSE_IF);
                    continue;
                }
                let before = unclosed.dedent.unwrap_or(index).min(index);
                set(tokens, unclosed.index, before as u32 | MISSING);
            }
            if closer_of(token.kind).is_some()
                && let Some(block) = stack.pop()
            {
                set(tokens, block.index, index as u32);
            }
        }
        if reading == Reading::Indented {
            note_dedents(text, tokens, from, end, &mut stack.open);
        }
        // A block that ends at a lesser indentation ends all blocks inside it, too.
        let mut limits = vec![end];
        for unclosed in stack.open {
            complete = false;
            while limits.len() > 1 && limits.last().is_some_and(|limit| *limit <= unclosed.index) {
                limits.pop();
            }
            let outer = limits.last().copied().unwrap_or(end);
            let limit = unclosed.dedent.unwrap_or(outer).min(outer);
            limits.push(limit);
            set(tokens, unclosed.index, limit as u32 | MISSING);
        }
        complete
    }

    /// Column of a word that begins a line.
    fn column(&self, tokens: &[Token], index: usize) -> Option<usize> {
        let token = tokens.get((self.stands_for)(tokens, index)).copied()?;
        token.first_on_line.then(|| column_of(self.text, token))
    }
}

fn set(tokens: &mut [Token], index: usize, payload: u32) {
    if let Some(token) = tokens.get_mut(index) {
        token.payload = payload;
    }
}

/// Marks the open blocks that a line between two places is not indented more than.
fn note_dedents(text: &str, tokens: &[Token], start: usize, end: usize, open: &mut [Open]) {
    use TokenKind as T;
    if open.is_empty() {
        return;
    }
    for index in start..end {
        let Some(token) = tokens.get(index).copied() else { return };
        let continues =
            matches!(token.kind, T::Else | T::Elsif | T::Until | T::Then | T::Do | T::Of | T::To | T::By)
                || closer_of(token.kind).is_some();
        if !token.first_on_line || continues {
            continue;
        }
        let column = column_of(text, token);
        for block in open.iter_mut().rev().take(SEARCH_MAX) {
            match block.column {
                Some(inner) if column <= inner => {
                    block.dedent.get_or_insert(index);
                }
                Some(_) => break,
                None => {}
            }
        }
    }
}

/// Characters between the line start and the token.
fn column_of(text: &str, token: Token) -> usize {
    let before = text.get(..token.start as usize).unwrap_or("");
    before.bytes().rev().take_while(|byte| !matches!(byte, b'\n' | b'\r')).count()
}
