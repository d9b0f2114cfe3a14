//! Constants a little off.

use latchwork_grammar::{
    Literal, Span,
    tree::{ElementaryType, Expression, ExpressionKind, Initializer, TypePrefix},
};

use super::Seeder;
use crate::mutation::kind::MutantKind;

const MICROSECOND_NS: i64 = 1_000;

impl Seeder<'_, '_> {
    /// The initial value of a variable.
    pub(super) fn initial(&mut self, initial: &Initializer) {
        match initial {
            Initializer::Expression(value) => self.expression(value),
            Initializer::Array { elements, .. } => {
                elements.iter().flat_map(|element| &element.values).for_each(|value| self.initial(value));
            }
            Initializer::Structure { members, .. } => {
                members.iter().for_each(|(_, value)| self.initial(value));
            }
        }
    }

    /// A literal with a prefix or without.
    pub(super) fn constant(&mut self, expression: &Expression) {
        match &expression.kind {
            ExpressionKind::Literal(Literal::Boolean(value)) => self.truth(expression.span, *value),
            ExpressionKind::TypedLiteral { prefix, literal, .. }
                if *prefix == TypePrefix::Elementary(ElementaryType::Bool) =>
            {
                match literal {
                    Literal::Boolean(value) => self.truth(expression.span, *value),
                    Literal::Integer(value) => self.truth(expression.span, *value != 0),
                    _ => {}
                }
            }
            ExpressionKind::Literal(literal) => self.off(expression.span, "", false, literal),
            ExpressionKind::TypedLiteral { negative, literal, .. } => {
                let prefix =
                    self.text(expression.span).split_once('#').map(|(prefix, _)| format!("{prefix}#"));
                self.off(expression.span, &prefix.unwrap_or_default(), *negative, literal);
            }
            _ => {}
        }
    }

    fn truth(&mut self, span: Span, value: bool) {
        self.become_other(MutantKind::TruthSwapped, span, if value { "FALSE" } else { "TRUE" });
    }

    fn off(&mut self, span: Span, prefix: &str, negative: bool, literal: &Literal) {
        let sign = if negative { "-" } else { "" };
        let others = match literal {
            Literal::Integer(value) => {
                let less = value.checked_sub(1).map(|less| less.to_string());
                let more = value.checked_add(1).map(|more| more.to_string());
                [less, more]
            }
            Literal::Real { long, .. } => tenths(*long),
            Literal::Duration { nanoseconds, .. } => self.longer_and_shorter(span, *nanoseconds),
            _ => return,
        };
        for other in others.into_iter().flatten() {
            // A duration brings its prefix.
            self.become_other(MutantKind::PresetOff, span, format!("{prefix}{sign}{other}"));
        }
    }

    fn longer_and_shorter(&self, span: Span, nanoseconds: i64) -> [Option<String>; 2] {
        let text = self.text(span);
        let Some((prefix, _)) = text.split_once('#') else { return [None, None] };
        let step = (nanoseconds.saturating_abs() / 10).max(self.walk.scan_ns);
        // No more digits than a person would write.
        let step = if step > MICROSECOND_NS { step - step % MICROSECOND_NS } else { step };
        let shorter = nanoseconds.checked_sub(step).filter(|shorter| *shorter >= 0 || nanoseconds < 0);
        [shorter, nanoseconds.checked_add(step)].map(|other| Some(format!("{prefix}#{}", duration(other?))))
    }
}

/// A tenth less and a tenth more of a number with a point; of 0.0 only more.
fn tenths(value: f64) -> [Option<String>; 2] {
    let written = |number: f64| {
        let text = format!("{number}");
        let text = if text.contains('.') { text } else { format!("{text}.0") };
        (number.is_finite() && text.len() <= 24).then_some(text)
    };
    if value == 0.0 {
        return [None, written(0.1)];
    }
    // Rounded to the digits that the value has and one more, so that 2.0 becomes 1.8 and not 1.7999999999999998.
    let digits = value.to_string().split_once('.').map_or(0, |(_, digits)| digits.len()).min(12) + 1;
    let scale = (0..digits).fold(1.0, |scale: f64, _| scale * 10.0);
    let rounded = |number: f64| {
        let scaled = libm::round(number * scale) / scale;
        if scaled == value || !scaled.is_finite() { number } else { scaled }
    };
    [written(rounded(value * 0.9)), written(rounded(value * 1.1))]
}

/// A duration in the units of a literal, without prefix: `3s300ms`.
pub(in crate::mutation) fn duration(nanoseconds: i64) -> String {
    let units: [(&str, u64); 7] = [
        ("d", 86_400_000_000_000),
        ("h", 3_600_000_000_000),
        ("m", 60_000_000_000),
        ("s", 1_000_000_000),
        ("ms", 1_000_000),
        ("us", 1_000),
        ("ns", 1),
    ];
    let mut rest = nanoseconds.unsigned_abs();
    let mut text = String::new();
    for (unit, size) in units {
        let count = rest / size;
        rest %= size;
        if count > 0 {
            text.push_str(&format!("{count}{unit}"));
        }
    }
    match text.as_str() {
        "" => "0s".to_owned(),
        _ if nanoseconds < 0 => format!("-{text}"),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::{duration, tenths};

    #[test]
    fn durations_are_written_as_people_do() {
        let cases = [
            (3_300_000_000, "3s300ms"),
            (0, "0s"),
            (-1_500_000, "-1ms500us"),
            (90_000_000_000, "1m30s"),
            (86_400_000_000_001, "1d1ns"),
        ];
        for (nanoseconds, text) in cases {
            assert_eq!(duration(nanoseconds), text);
        }
    }

    #[test]
    fn tenths_have_few_digits() {
        let cases = [
            (2.0, "1.8", "2.2"),
            (0.5, "0.45", "0.55"),
            (160.0, "144.0", "176.0"),
            (4000.0, "3600.0", "4400.0"),
            (0.001, "0.0009", "0.0011"),
        ];
        for (value, less, more) in cases {
            assert_eq!(tenths(value), [Some(less.to_owned()), Some(more.to_owned())], "{value}");
        }
        assert_eq!(tenths(0.0), [None, Some("0.1".to_owned())]);
        assert_eq!(tenths(1e300), [None, None]);
    }
}
