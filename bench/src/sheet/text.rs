//! Texts of a sheet, with the parts of them that are set apart.

use crate::diagram::words::{harmless, harmless_whole};

/// A text in pieces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Text {
    /// The pieces in order.
    pub pieces: Vec<Piece>,
    /// It tells that something is wrong.
    pub is_trouble: bool,
}

/// A piece of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Plain words.
    Words(String),
    /// The name of a device or load, to be seen at a glance.
    Name(String),
    /// Text of a program or procedure.
    Code(String),
}

impl Text {
    pub(super) fn new(words: &str) -> Self {
        Text::default().words(words)
    }

    /// Plain words behind what is there. Text of the user among them is short: it went through `harmless`.
    pub(super) fn words(mut self, words: &str) -> Self {
        match self.pieces.last_mut() {
            Some(Piece::Words(last)) => last.push_str(&harmless_whole(words)),
            _ => self.pieces.push(Piece::Words(harmless_whole(words))),
        }
        self
    }

    /// A name behind what is there.
    pub(super) fn name(mut self, name: &str) -> Self {
        self.pieces.push(Piece::Name(harmless(name)));
        self
    }

    /// Text of a program behind what is there.
    pub(super) fn code(mut self, code: &str) -> Self {
        let code = code.split_whitespace().collect::<Vec<_>>().join(" ");
        self.pieces.push(Piece::Code(harmless(&code)));
        self
    }

    /// Another text behind it.
    pub(super) fn then(mut self, other: Text) -> Self {
        for piece in other.pieces {
            match piece {
                Piece::Words(words) => self = self.words(&words),
                piece => self.pieces.push(piece),
            }
        }
        self
    }

    pub(super) fn trouble(mut self) -> Self {
        self.is_trouble = true;
        self
    }

    /// Several texts in one sentence: "a, b and c".
    pub(super) fn list(texts: Vec<Text>, last: &str) -> Text {
        let count = texts.len();
        let mut out = Text::default();
        for (index, text) in texts.into_iter().enumerate() {
            if index > 0 {
                out = out.words(if index + 1 == count { last } else { ", " });
            }
            out = out.then(text);
        }
        out
    }

    /// With a large first letter.
    pub(super) fn sentence(mut self) -> Self {
        if let Some(Piece::Words(words)) = self.pieces.first_mut() {
            let mut letters = words.chars();
            if let Some(first) = letters.next() {
                *words = first.to_uppercase().chain(letters).collect();
            }
        }
        self
    }

    /// The text alone.
    pub fn plain(&self) -> String {
        let text = |piece: &Piece| match piece {
            Piece::Words(text) | Piece::Name(text) | Piece::Code(text) => text.clone(),
        };
        self.pieces.iter().map(text).collect()
    }
}
