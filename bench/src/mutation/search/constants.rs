//! The numbers and durations that a program names: where its behaviour changes.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Literal, Names, Sources, TokenKind, parse_constant, tokens,
    tree::{Expression, ExpressionKind},
};

/// Most numbers, and most durations, that are taken from a program.
const CONSTANTS_MAX: usize = 200;

/// What a program names.
#[derive(Clone, Debug, Default)]
pub(super) struct Constants {
    /// Numbers, without signs.
    pub(super) numbers: Vec<f64>,
    /// Durations longer than nothing, in nanoseconds.
    pub(super) durations_ns: Vec<i64>,
}

impl Constants {
    /// Those in some texts, each once.
    pub(super) fn of<'s>(programs: impl IntoIterator<Item = &'s Sources>) -> Constants {
        let mut numbers = BTreeSet::new();
        let mut durations = BTreeSet::new();
        for (file, source) in programs.into_iter().flat_map(Sources::iter) {
            let mut names = Names::new();
            for token in tokens(file, &source.text, &mut names).tokens {
                let is_constant = matches!(
                    token.kind,
                    TokenKind::IntegerLiteral
                        | TokenKind::RealLiteral
                        | TokenKind::TimeLiteral
                        | TokenKind::TypedLiteral
                );
                let text = source.text.get(token.start as usize..token.end as usize);
                let Some(text) = text.filter(|_| is_constant) else { continue };
                let Ok(Expression { kind, .. }) = parse_constant(text, &mut names) else { continue };
                let (ExpressionKind::Literal(literal) | ExpressionKind::TypedLiteral { literal, .. }) = kind
                else {
                    continue;
                };
                match literal {
                    Literal::Duration { nanoseconds, .. } if nanoseconds > 0 => {
                        durations.insert(nanoseconds);
                    }
                    // Numbers of a person are exact here: they are not larger than 2^53.
                    Literal::Integer(value) => {
                        numbers.insert((value as f64).to_bits());
                    }
                    Literal::Real { long, .. } if long.is_finite() => {
                        numbers.insert(long.to_bits());
                    }
                    _ => {}
                }
            }
        }
        Constants {
            numbers: numbers.into_iter().take(CONSTANTS_MAX).map(f64::from_bits).collect(),
            durations_ns: durations.into_iter().take(CONSTANTS_MAX).collect(),
        }
    }
}
