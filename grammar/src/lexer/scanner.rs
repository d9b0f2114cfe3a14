//! The scanner: how tokens begin. What needs more than a few characters to tell is read on by the rest of the lexer.

use super::TokenKind;

/// A short token, or the beginning of a longer one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Raw {
    /// Line ends with the blanks around them.
    LineEnd,
    /// Letters, digits and underscores.
    Word {
        /// There is an underscore among them.
        underscores: bool,
    },
    /// One digit.
    Digit,

    LineComment,
    /// `(*`
    ParenthesisComment,
    /// `/*`
    SlashComment,
    Pragma,
    /// `*)` or `*/`
    CommentEnd,

    Apostrophe,
    Quote,
    Percent,

    /// `.`, which may begin a number.
    Dot,
    /// `=`, which may end a sign that was begun before a blank; so may `>`.
    Equal,
    Greater,
    /// Any other sign.
    Plain(TokenKind),

    // Operators of other languages, read as one so that they cost one message.
    EqualEqual,
    BangEqual,
    Bang,
    AmpersandAmpersand,
    BarBar,
    CompoundAssign,

    /// A character that no token begins with.
    Foreign,
}

/// A byte that can stand in a word.
const WORD: u8 = 1;
/// An underscore.
const UNDERSCORE: u8 = 2;
/// A blank within a line.
const BLANK: u8 = 4;
/// A byte that ends a line.
const LINE_END: u8 = 8;

/// The classes of each byte.
static CLASSES: [u8; 256] = {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        table[byte] = match byte as u8 {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' => WORD,
            b'_' => WORD | UNDERSCORE,
            b' ' | b'\t' | b'\x0c' => BLANK,
            b'\r' | b'\n' => LINE_END,
            _ => 0,
        };
        byte += 1;
    }
    table
};

/// Goes through a text. What was read last lies between two places of it.
pub(super) struct Scanner<'a> {
    text: &'a str,
    start: usize,
    end: usize,
}

impl<'a> Scanner<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Scanner { text, start: 0, end: 0 }
    }

    /// The first of the bytes that were read last.
    pub(super) fn start(&self) -> usize {
        self.start
    }

    /// Behind what has been read.
    pub(super) fn end(&self) -> usize {
        self.end
    }

    /// What was read last.
    pub(super) fn slice(&self) -> &'a str {
        self.text.get(self.start..self.end).unwrap_or("")
    }

    /// What has not been read yet.
    pub(super) fn remainder(&self) -> &'a str {
        self.text.get(self.end..).unwrap_or("")
    }

    /// The bytes that have not been read yet.
    pub(super) fn bytes(&self) -> &'a [u8] {
        self.text.as_bytes().get(self.end..).unwrap_or(&[])
    }

    /// Takes so many bytes more to what was read last.
    pub(super) fn bump(&mut self, length: usize) {
        self.end = (self.end + length).min(self.text.len());
    }

    fn byte(&self, at: usize) -> u8 {
        self.text.as_bytes().get(at).copied().unwrap_or(0)
    }

    /// Where the bytes from a place on are no longer of the given classes.
    fn behind(&self, mut at: usize, classes: u8) -> usize {
        let bytes = self.text.as_bytes();
        while bytes.get(at).is_some_and(|byte| CLASSES[usize::from(*byte)] & classes != 0) {
            at += 1;
        }
        at
    }

    /// Reads on, behind blanks. Nothing at the end of the text.
    #[inline] // called at one place, for every token
    pub(super) fn next(&mut self) -> Option<Raw> {
        let bytes = self.text.as_bytes();
        self.start = self.behind(self.end, BLANK);
        let Some(&first) = bytes.get(self.start) else {
            self.end = self.start;
            return None;
        };
        match first {
            b'A'..=b'Z' | b'a'..=b'z' | b'_' => {
                let mut at = self.start;
                let mut seen = 0;
                while let Some(byte) = bytes.get(at)
                    && let class = CLASSES[usize::from(*byte)]
                    && class & WORD != 0
                {
                    seen |= class;
                    at += 1;
                }
                self.end = at;
                Some(Raw::Word { underscores: seen & UNDERSCORE != 0 })
            }
            b'0'..=b'9' => {
                self.end = self.start + 1;
                Some(Raw::Digit)
            }
            b'\r' | b'\n' => {
                self.end = self.behind(self.start + 1, BLANK | LINE_END);
                Some(Raw::LineEnd)
            }
            _ => {
                let (raw, length) = self.sign(first);
                self.end = self.start + length;
                Some(raw)
            }
        }
    }

    /// What begins with something else than a letter or a digit, and its length.
    fn sign(&self, first: u8) -> (Raw, usize) {
        use TokenKind as T;
        let second = self.byte(self.start + 1);
        match (first, second) {
            (b'(', b'*') => (Raw::ParenthesisComment, 2),
            (b'(', _) => (Raw::Plain(T::ParenthesisOpen), 1),
            (b')', _) => (Raw::Plain(T::ParenthesisClose), 1),
            (b'[', _) => (Raw::Plain(T::BracketOpen), 1),
            (b']', _) => (Raw::Plain(T::BracketClose), 1),
            (b',', _) => (Raw::Plain(T::Comma), 1),
            (b';', _) => (Raw::Plain(T::Semicolon), 1),
            (b':', b'=') => (Raw::Plain(T::Assign), 2),
            (b':', _) => (Raw::Plain(T::Colon), 1),
            (b'.', b'.') => (Raw::Plain(T::DotDot), 2),
            (b'.', _) => (Raw::Dot, 1),
            (b'=', b'=') => (Raw::EqualEqual, 2),
            (b'=', b'>') => (Raw::Plain(T::Output), 2),
            (b'=', _) => (Raw::Equal, 1),
            (b'<', b'=') => (Raw::Plain(T::LessOrEqual), 2),
            (b'<', b'>') => (Raw::Plain(T::NotEqual), 2),
            (b'<', _) => (Raw::Plain(T::Less), 1),
            (b'>', b'=') => (Raw::Plain(T::GreaterOrEqual), 2),
            (b'>', _) => (Raw::Greater, 1),
            (b'+' | b'-' | b'*' | b'/', b'=') => (Raw::CompoundAssign, 2),
            (b'+', _) => (Raw::Plain(T::Plus), 1),
            (b'-', _) => (Raw::Plain(T::Minus), 1),
            (b'*', b'*') => (Raw::Plain(T::Power), 2),
            (b'*', b')' | b'/') => (Raw::CommentEnd, 2),
            (b'*', _) => (Raw::Plain(T::Star), 1),
            (b'/', b'/') => (Raw::LineComment, 2),
            (b'/', b'*') => (Raw::SlashComment, 2),
            (b'/', _) => (Raw::Plain(T::Slash), 1),
            (b'&', b'&') => (Raw::AmpersandAmpersand, 2),
            (b'&', _) => (Raw::Plain(T::Ampersand), 1),
            (b'\'', _) => (Raw::Apostrophe, 1),
            (b'"', _) => (Raw::Quote, 1),
            (b'%', _) => (Raw::Percent, 1),
            (b'{', _) => (Raw::Pragma, 1),
            (b'^', _) => (Raw::Plain(T::Caret), 1),
            (b'?', b'=') => (Raw::Plain(T::Attempt), 2),
            (b'?', _) => (Raw::Plain(T::Question), 1),
            (b'#', _) => (Raw::Plain(T::Hash), 1),
            (b'!', b'=') => (Raw::BangEqual, 2),
            (b'!', _) => (Raw::Bang, 1),
            (b'|', b'|') => (Raw::BarBar, 2),
            (b'|', _) => (Raw::BarBar, 1),
            _ => {
                let rest = self.text.get(self.start..).unwrap_or("");
                (Raw::Foreign, rest.chars().next().map_or(1, char::len_utf8))
            }
        }
    }
}
