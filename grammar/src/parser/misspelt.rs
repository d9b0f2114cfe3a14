//! Closing words that are nearly right: `END IF`, `ENDIF`, `ELSEIF`, `END_PROGAM`. They are repaired before
//! blocks are paired, so that each costs one message.

use crate::{
    diagnostic::Diagnostic,
    keyword,
    lexer::{Token, TokenKind},
    source::{FileId, Span},
};

/// Whether an identifier may be a closing word that is nearly right.
pub(crate) fn is_possible(word: &str) -> bool {
    word.len() >= 3 && word.as_bytes().first().is_some_and(|byte| byte.eq_ignore_ascii_case(&b'E'))
}

/// Replaces misspelt closing words by the right tokens. `candidates` are the indices, in order, of all tokens that
/// [`is_possible`] holds for.
pub(super) fn repair(
    file: FileId,
    text: &str,
    candidates: &[usize],
    tokens: &mut Vec<Token>,
    problems: &mut Vec<Diagnostic>,
) {
    let mut removed: Vec<usize> = Vec::new();
    for &index in candidates {
        let Some(token) = tokens.get(index).copied() else { break };
        if token.kind != TokenKind::Identifier {
            continue;
        }
        let word = text.get(token.start as usize..token.end as usize).unwrap_or("");
        if !is_possible(word) {
            continue;
        }
        let next = tokens.get(index + 1).copied();
        if word.eq_ignore_ascii_case("END")
            && let Some(second) = next
            && !second.first_on_line
        {
            let second_word = text.get(second.start as usize..second.end as usize).unwrap_or("");
            let joined = format!("END_{}", second_word.to_ascii_uppercase());
            if let Some((kind, keyword)) = find(&joined) {
                let span = Span::new(file, token.start, second.end);
                problems.push(
                    Diagnostic::error(
                        "misspelt-keyword",
                        span,
                        format!("the keyword is `{keyword}`, in one word"),
                    )
                    .label("two words")
                    .fix(format!("write `{keyword}`"), span, keyword),
                );
                replace(tokens, index, kind, second.end);
                removed.push(index + 1);
            }
            continue;
        }
        if next.is_some_and(|next| {
            use TokenKind as T;
            matches!(
                next.kind,
                T::Assign | T::Attempt | T::Colon | T::Dot | T::Comma | T::BracketOpen | T::Caret
            )
        }) {
            continue;
        }
        let called = next.is_some_and(|next| next.kind == TokenKind::ParenthesisOpen);
        let upper = word.to_ascii_uppercase();
        let meant = match upper.as_str() {
            "ELSEIF" | "ELIF" | "ELSE_IF" if condition_follows(tokens, index) => find("ELSIF"),
            _ if called => None,
            _ => closing_word(&upper),
        };
        if let Some((kind, keyword)) = meant {
            let span = Span::new(file, token.start, token.end);
            problems.push(
                Diagnostic::error(
                    "misspelt-keyword",
                    span,
                    format!("the keyword is `{keyword}`, not `{word}`"),
                )
                .label("not a keyword of the standard")
                .fix(format!("write `{keyword}`"), span, keyword),
            );
            replace(tokens, index, kind, token.end);
        }
    }
    if !removed.is_empty() {
        let mut place = 0;
        let mut next = removed.into_iter().peekable();
        tokens.retain(|_| {
            let keep = next.next_if_eq(&place).is_none();
            place += 1;
            keep
        });
    }
}

fn replace(tokens: &mut [Token], index: usize, kind: TokenKind, end: u32) {
    if let Some(token) = tokens.get_mut(index) {
        token.kind = kind;
        token.end = end;
        token.payload = 0;
    }
}

fn find(word: &str) -> Option<(TokenKind, &'static str)> {
    let (text, kind) = keyword::KEYWORDS.get(keyword::find(word)?)?;
    Some((*kind, text))
}

/// Whether `THEN` follows before the statement ends.
fn condition_follows(tokens: &[Token], index: usize) -> bool {
    tokens
        .iter()
        .skip(index)
        .map(|token| token.kind)
        .find(|kind| matches!(kind, TokenKind::Then | TokenKind::Semicolon | TokenKind::Assign))
        == Some(TokenKind::Then)
}

/// The closing word a word in capital letters was meant to be.
fn closing_word(word: &str) -> Option<(TokenKind, &'static str)> {
    let rest = word.strip_prefix("END")?;
    let has_underscore = rest.starts_with('_');
    let rest = rest.trim_start_matches('_');
    if rest.len() < 2 {
        return None;
    }
    let closing = keyword::KEYWORDS
        .iter()
        .filter_map(|(text, kind)| text.strip_prefix("END_").map(|opening| (opening, *kind, *text)));
    for (opening, kind, text) in closing.clone() {
        if rest == opening || rest == opening.replace('_', "") {
            return Some((kind, text));
        }
    }
    if !has_underscore || rest.len() < 4 {
        return None;
    }
    closing
        .filter(|(opening, ..)| opening.len() >= 4)
        .find(|(opening, ..)| strsim::osa_distance(rest, opening) == 1)
        .map(|(_, kind, text)| (kind, text))
}
