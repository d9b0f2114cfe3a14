//! What is said on a page of feedback, in pieces, before it becomes HTML or Markdown.
//!
//! Texts are kept as they are, whoever wrote them: what they hold is made harmless where they are set, by the one function
//! of each renderer that sets a piece.

use crate::{
    diagram::Diagram,
    marking::{ItemVerdict, Points},
};

/// A page.
#[derive(Clone, Debug)]
pub(super) struct Feedback<'a> {
    /// Title of the exercise.
    pub(super) title: String,
    /// Whose page it is.
    pub(super) student: Text,
    /// How it went, on one line.
    pub(super) outcome: Text,
    /// What went well, and what to look at first.
    pub(super) summary: Vec<Text>,
    /// The parts. They are left out from the last one on where they have no room.
    pub(super) parts: Vec<Part<'a>>,
    /// The parts behind them, for which there always is room.
    pub(super) last: Vec<Part<'a>>,
}

/// A part of a page.
#[derive(Clone, Debug)]
pub(super) struct Part<'a> {
    /// Its name within the page: small letters, digits and dashes.
    pub(super) anchor: String,
    /// Its heading.
    pub(super) heading: Text,
    /// Whether it stands under the part before it that does not.
    pub(super) is_inner: bool,
    /// What it says.
    pub(super) blocks: Vec<Block<'a>>,
}

/// Something that stands by itself.
#[derive(Clone, Debug)]
pub(super) enum Block<'a> {
    /// A paragraph.
    Paragraph(Text),
    /// A heading within a part: 1 for the outermost.
    Heading(usize, Text),
    /// Points in a row, numbered from a number on or not.
    List(Option<u64>, Vec<Vec<Block<'a>>>),
    /// A table.
    Table(Table),
    /// Lines as they are, with what they are.
    Lines(String, String),
    /// What somebody else says.
    Quote(Vec<Block<'a>>),
    /// Something to be seen at a glance, with the word at its head.
    Remark(&'static str, Text),
    /// Pictures of a run, with what they show.
    Pictures(String, Vec<Diagram<'a>>),
    /// What only some want to read, under one line that tells what it is.
    Folded(Text, Vec<Block<'a>>),
    /// A line between two things.
    Rule,
}

/// A table.
#[derive(Clone, Debug, Default)]
pub(super) struct Table {
    /// What it shows.
    pub(super) label: String,
    /// Headings of its columns.
    pub(super) head: Vec<Text>,
    /// Its rows, each with as many cells; the first cell of each heads its row.
    pub(super) rows: Vec<Vec<Text>>,
}

/// A text in pieces.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Text {
    /// The pieces in order.
    pub(super) pieces: Vec<Piece>,
}

/// A piece of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Piece {
    /// Plain words.
    Words(String),
    /// What is to be seen at a glance.
    Strong(String),
    /// What is said with weight.
    Emphasis(String),
    /// Text of a program or a procedure.
    Code(String),
    /// The name of a person, in whatever direction it is written.
    Person(String),
    /// A reference to a part of the page: its anchor, and the words.
    Reference(String, String),
    /// How something went: sign and words.
    Verdict(Tone, String),
    /// The end of a line.
    Break,
}

/// How something went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// As it should.
    Well,
    /// In part.
    Partly,
    /// Not as it should.
    Wrong,
    /// It cannot be said.
    Open,
}

impl Tone {
    /// A sign of its own shape.
    pub(super) const fn sign(self) -> &'static str {
        match self {
            Tone::Well => "✓",
            Tone::Partly => "◐",
            Tone::Wrong => "✗",
            Tone::Open => "–",
        }
    }

    /// How many points out of all went.
    pub(super) fn of(points: Points, all: Points) -> Self {
        match points {
            points if points >= all => Tone::Well,
            Points::ZERO => Tone::Wrong,
            _ => Tone::Partly,
        }
    }
}

impl From<ItemVerdict> for Tone {
    fn from(verdict: ItemVerdict) -> Self {
        match verdict {
            ItemVerdict::Passed => Tone::Well,
            ItemVerdict::Partly => Tone::Partly,
            ItemVerdict::Failed | ItemVerdict::Refused => Tone::Wrong,
            ItemVerdict::NotRun => Tone::Open,
        }
    }
}

impl Text {
    /// Plain words.
    pub(super) fn new(words: impl Into<String>) -> Self {
        Text::default().words(words)
    }

    /// A message: what stands between backquotes is text of a program.
    pub(super) fn message(message: &str) -> Self {
        let mut text = Text::default();
        let mut rest = message;
        while let Some((before, quoted, after)) = rest.split_once('`').and_then(|(before, behind)| {
            let (quoted, after) = behind.split_once('`')?;
            Some((before, quoted, after))
        }) {
            text = text.words(before).code(quoted);
            rest = after;
        }
        text.words(rest)
    }

    /// Plain words behind what is there.
    pub(super) fn words(mut self, words: impl Into<String>) -> Self {
        let words: String = words.into();
        match self.pieces.last_mut() {
            Some(Piece::Words(last)) => last.push_str(&words),
            _ if words.is_empty() => {}
            _ => self.pieces.push(Piece::Words(words)),
        }
        self
    }

    /// Something else behind what is there.
    pub(super) fn piece(mut self, piece: Piece) -> Self {
        self.pieces.push(piece);
        self
    }

    /// Text of a program behind what is there.
    pub(super) fn code(self, code: impl Into<String>) -> Self {
        self.piece(Piece::Code(code.into()))
    }

    /// Something to be seen at a glance behind what is there.
    pub(super) fn strong(self, words: impl Into<String>) -> Self {
        self.piece(Piece::Strong(words.into()))
    }

    /// How something went, behind what is there.
    pub(super) fn verdict(self, tone: Tone, words: impl Into<String>) -> Self {
        self.piece(Piece::Verdict(tone, words.into()))
    }

    /// Another text behind it.
    pub(super) fn then(mut self, other: Text) -> Self {
        for piece in other.pieces {
            match piece {
                Piece::Words(words) => self = self.words(words),
                piece => self.pieces.push(piece),
            }
        }
        self
    }

    /// Several texts in one sentence: "a, b and c".
    pub(super) fn list(texts: Vec<Text>) -> Text {
        let count = texts.len();
        let mut all = Text::default();
        for (index, text) in texts.into_iter().enumerate() {
            if index > 0 {
                all = all.words(if index + 1 == count { " and " } else { ", " });
            }
            all = all.then(text);
        }
        all
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

    /// Whether nothing is said.
    pub(super) fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }
}

impl Part<'_> {
    /// An empty part.
    pub(super) fn new(anchor: &str, heading: Text) -> Self {
        Part { anchor: anchor.to_owned(), heading, is_inner: false, blocks: Vec::new() }
    }

    /// The same under the part before it that is not.
    pub(super) fn inner(self) -> Self {
        Part { is_inner: true, ..self }
    }

    /// A paragraph behind what is there.
    pub(super) fn say(&mut self, text: Text) {
        self.blocks.push(Block::Paragraph(text));
    }
}
