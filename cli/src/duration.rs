//! Durations on the command line: literals of the standard (`T#1s500ms`) or plain milliseconds (`1500`, `12.5`).

use latchwork_grammar::{Literal, Names, parse_constant, tree::ExpressionKind};

/// A duration in nanoseconds.
pub(crate) type Nanoseconds = i64;

/// Decimal places of a millisecond that a nanosecond is.
const MILLISECOND_PLACES: usize = 6;

/// A duration above zero.
pub(crate) fn positive(text: &str) -> Result<Nanoseconds, String> {
    let text = text.trim();
    match milliseconds(text).or_else(|| literal(text)) {
        Some(nanoseconds) if nanoseconds > 0 => Ok(nanoseconds),
        Some(_) => Err("the duration must be longer than zero".into()),
        None => Err("expected a duration such as T#1s500ms, or milliseconds such as 1500".into()),
    }
}

/// A point in time: zero or later.
pub(crate) fn point(text: &str) -> Result<Nanoseconds, String> {
    let text = text.trim();
    match milliseconds(text).or_else(|| literal(text)) {
        Some(nanoseconds) if nanoseconds >= 0 => Ok(nanoseconds),
        Some(_) => Err("the time lies before the start".into()),
        None => Err("expected a time such as T#3.2s, or milliseconds such as 3200".into()),
    }
}

/// The time of an instruction: above zero, and so short that 32 bits hold its nanoseconds.
pub(crate) fn instruction(text: &str) -> Result<u32, String> {
    let nanoseconds = positive(text)?;
    u32::try_from(nanoseconds).map_err(|_| "an instruction takes at most 4 seconds".into())
}

fn literal(text: &str) -> Option<Nanoseconds> {
    match parse_constant(text, &mut Names::new()).ok()?.kind {
        ExpressionKind::Literal(Literal::Duration { nanoseconds, .. }) => Some(nanoseconds),
        _ => None,
    }
}

/// A decimal number of milliseconds, exactly.
fn milliseconds(text: &str) -> Option<Nanoseconds> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !digits(whole) || !digits(fraction) || fraction.len() > MILLISECOND_PLACES {
        return None;
    }
    let whole: i64 = whole.parse().ok()?;
    let fraction: i64 = format!("{fraction:0<MILLISECOND_PLACES$}").parse().ok()?;
    whole.checked_mul(10_i64.pow(MILLISECOND_PLACES as u32))?.checked_add(fraction)
}

#[cfg(test)]
mod tests {
    use super::positive;

    #[test]
    fn literals_and_milliseconds_are_durations() {
        assert_eq!(positive("T#1s500ms"), Ok(1_500_000_000));
        assert_eq!(positive("t#10ms"), Ok(10_000_000));
        assert_eq!(positive("LTIME#2us"), Ok(2_000));
        assert_eq!(positive("1500"), Ok(1_500_000_000));
        assert_eq!(positive("12.5"), Ok(12_500_000));
        assert_eq!(positive("0.000001"), Ok(1));
    }

    #[test]
    fn anything_else_is_refused() {
        for text in [
            "",
            "0",
            "T#0s",
            "-5",
            "T#-5s",
            "5s",
            "1.",
            ".5",
            "1.0000001",
            "99999999999999999999",
            "1e3",
            "TRUE",
            "T#",
            "9223372036855",
            "'5'",
        ] {
            assert!(positive(text).is_err(), "{text} is taken for a duration");
        }
    }
}
