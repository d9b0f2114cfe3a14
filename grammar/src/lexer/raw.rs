//! The generated scanner: how tokens begin. What needs more than a regular expression is read on by hand.

use logos::Logos;

/// A short token, or the beginning of a longer one.
#[derive(Logos, Clone, Copy, Debug, PartialEq, Eq)]
#[logos(skip r"[ \t\x0C]+")]
pub(super) enum Raw {
    #[regex(r"[\r\n][ \t\x0C\r\n]*")]
    LineEnd,
    #[regex(r"[A-Za-z_][A-Za-z0-9_]*")]
    Word,
    #[regex(r"[0-9]")]
    Digit,

    #[token("//")]
    LineComment,
    #[token("(*")]
    ParenthesisComment,
    #[token("/*")]
    SlashComment,
    #[token("{")]
    Pragma,
    #[token("*)")]
    #[token("*/")]
    CommentEnd,

    #[token("'")]
    Apostrophe,
    #[token("\"")]
    Quote,
    #[token("%")]
    Percent,

    #[token("(")]
    ParenthesisOpen,
    #[token(")")]
    ParenthesisClose,
    #[token("[")]
    BracketOpen,
    #[token("]")]
    BracketClose,
    #[token(",")]
    Comma,
    #[token(";")]
    Semicolon,
    #[token(":")]
    Colon,
    #[token(".")]
    Dot,
    #[token("..")]
    DotDot,
    #[token(":=")]
    Assign,
    #[token("=>")]
    Output,
    #[token("?=")]
    Attempt,
    #[token("^")]
    Caret,
    #[token("+")]
    Plus,
    #[token("-")]
    Minus,
    #[token("*")]
    Star,
    #[token("/")]
    Slash,
    #[token("**")]
    Power,
    #[token("&")]
    Ampersand,
    #[token("<")]
    Less,
    #[token("<=")]
    LessOrEqual,
    #[token(">")]
    Greater,
    #[token(">=")]
    GreaterOrEqual,
    #[token("=")]
    Equal,
    #[token("<>")]
    NotEqual,
    #[token("?")]
    Question,
    #[token("#")]
    Hash,

    // Operators of other languages, read as one so that they cost one message.
    #[token("==")]
    EqualEqual,
    #[token("!=")]
    BangEqual,
    #[token("!")]
    Bang,
    #[token("&&")]
    AmpersandAmpersand,
    #[token("||")]
    #[token("|")]
    BarBar,
    #[token("+=")]
    #[token("-=")]
    #[token("*=")]
    #[token("/=")]
    CompoundAssign,
}
