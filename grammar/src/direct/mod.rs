//! The short way for what stands in most lines of a program: statements, the heads of blocks, labels and declarations
//! of variables, read by hand from the tokens.
//!
//! It takes only what is usual and right, and gives for it the very tree that the grammar gives; everything else it
//! leaves to the grammar, which alone says what is wrong. The tests beside it hold the two to one another.
//! Must not report anything, and must not accept what the grammar refuses.

mod declarations;
mod expressions;
mod statements;

pub(crate) use statements::ForHead;

#[cfg(test)]
mod tests;

use crate::{
    construct,
    lexer::{Token, TokenKind},
    piece::Context,
    tree::{Argument, Ident},
};

/// Most tokens of a piece that is read here. So few nest no deeper than a tree may, whatever they are.
const PIECE_TOKENS_MAX: usize = crate::parser::NESTING_MAX;

/// Goes through the tokens of one piece. Every reading method gives nothing where the grammar has to look.
pub(crate) struct Reader<'a> {
    context: &'a Context<'a>,
    tokens: &'a [Token],
    /// How many of them have been read.
    read: usize,
    /// Arguments of the calls being read, the innermost last: a list is copied out when its length is known.
    arguments: Vec<Argument>,
}

impl<'a> Reader<'a> {
    /// A reader of the piece at the start of some tokens. The memory of `arguments` is used again; what is in it is
    /// dropped.
    pub(crate) fn new(context: &'a Context<'a>, tokens: &'a [Token], mut arguments: Vec<Argument>) -> Self {
        arguments.clear();
        Reader { context, tokens: tokens.get(..PIECE_TOKENS_MAX).unwrap_or(tokens), read: 0, arguments }
    }

    /// The memory for another reader.
    pub(crate) fn into_arguments(self) -> Vec<Argument> {
        self.arguments
    }

    /// How many tokens have been read.
    pub(crate) fn read(&self) -> usize {
        self.read
    }

    fn kind(&self) -> TokenKind {
        self.kind_ahead(0)
    }

    fn kind_ahead(&self, ahead: usize) -> TokenKind {
        self.tokens.get(self.read + ahead).map_or(TokenKind::EndOfFile, |token| token.kind)
    }

    /// The next token, whatever it is.
    fn next(&mut self) -> Option<Token> {
        let token = self.tokens.get(self.read).copied()?;
        self.read += 1;
        Some(token)
    }

    /// The next token, if it is of a kind.
    fn take(&mut self, kind: TokenKind) -> Option<Token> {
        let token = self.tokens.get(self.read).copied().filter(|token| token.kind == kind)?;
        self.read += 1;
        Some(token)
    }

    /// Whether the next token is of a kind; it is then read.
    fn skip(&mut self, kind: TokenKind) -> bool {
        let is_next = self.kind() == kind;
        self.read += usize::from(is_next);
        is_next
    }

    fn ident(&mut self) -> Option<Ident> {
        let token = self.take(TokenKind::Identifier)?;
        Some(construct::ident(self.context, token.start, token.payload, token.end))
    }

    /// One or more items with commas between them.
    fn list<Item>(&mut self, mut item: impl FnMut(&mut Self) -> Option<Item>) -> Option<Vec<Item>> {
        let mut items = vec![item(self)?];
        while self.skip(TokenKind::Comma) {
            items.push(item(self)?);
        }
        Some(items)
    }

    /// Where the last token that was read ends.
    fn end(&self) -> u32 {
        let last = self.read.checked_sub(1).and_then(|last| self.tokens.get(last));
        last.map_or(0, |token| token.end)
    }

    /// Where the next token begins.
    fn start(&self) -> u32 {
        self.tokens.get(self.read).map_or(0, |token| token.start)
    }
}
