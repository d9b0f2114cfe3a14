//! Text that could not be understood as a body: its tokens as they stand, with names and literals in the normal form as far
//! as that can be known of a single one.

use latchwork_grammar::{
    FileId, Names, Sources, Span, Token, TokenKind, parse_constant,
    tree::{Expression, ExpressionKind},
};

use super::{Word, Writer};

pub(super) fn words(
    writer: &Writer<'_>,
    tokens: &[Token],
    span: Span,
    sources: &Sources,
    names: &Names,
) -> Vec<Word> {
    let mut words = Vec::new();
    let first = tokens.partition_point(|token| token.start < span.start);
    for token in tokens.iter().skip(first).take_while(|token| token.end <= span.end) {
        let place = token.span(span.file);
        let text = sources.text(place);
        match token.kind {
            TokenKind::Semicolon | TokenKind::EndOfFile | TokenKind::Unreadable => {}
            TokenKind::Identifier => match names.find(text) {
                Some(name) => {
                    let access = Expression { kind: ExpressionKind::Name(name), span: place };
                    writer.access(&access, &mut words);
                }
                None => words.push(writer.word("name", place)),
            },
            kind if kind.is_literal() || kind == TokenKind::DirectAddress => {
                words.extend(literal(writer, text, place));
            }
            TokenKind::Ampersand => words.push(writer.word("AND", place)),
            _ => words.push(writer.word(text.to_ascii_uppercase(), place)),
        }
    }
    words
}

fn literal(writer: &Writer<'_>, text: &str, place: Span) -> Vec<Word> {
    let mut names = Names::new();
    let parsed = match text.starts_with('%') {
        true => latchwork_grammar::parse_expression(FileId(0), text, &mut names).ok(),
        false => parse_constant(text, &mut names).ok(),
    };
    let lines = (writer.lines)(place);
    let words = parsed.map(|parsed| writer.words(&parsed)).unwrap_or_default();
    match words.as_slice() {
        [] => vec![writer.word(text.to_ascii_uppercase(), place)],
        _ => words.into_iter().map(|word| Word { lines, ..word }).collect(),
    }
}
