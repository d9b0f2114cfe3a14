//! The cell `time` of a row: a plain number of milliseconds or a duration literal of the standard.
//!
//! Shared by all tables whose first column is a time; knows nothing of rows.

use latchwork_grammar::{Diagnostic, Names, Span};
use latchwork_vm::{ElementaryType, Value};

use super::{
    cell::{self, CellType},
    read::shortened,
};

/// Why a cell is no time.
#[derive(Clone, Debug)]
pub(crate) struct TimeError {
    message: String,
    label: String,
    /// The cell as it was probably meant.
    repaired: Option<String>,
}

impl TimeError {
    /// The message under the name that the reader of the table has for it.
    pub(crate) fn diagnostic(self, name: &'static str, span: Span) -> Diagnostic {
        const FORM: &str =
            "a time is a plain number of milliseconds such as 1500 or 12.5, or a duration such as T#1s500ms";
        let diagnostic = Diagnostic::error(name, span, self.message).label(self.label).note(FORM);
        match self.repaired {
            Some(text) => diagnostic.fix("write a point", span, text),
            None => diagnostic,
        }
    }
}

/// The time in a cell, in nanoseconds, not negative. `names` only spares entering the same identifiers again.
pub(crate) fn read(text: &str, names: &mut Names) -> Result<i64, TimeError> {
    let before_start = || -> (String, String) {
        let label = "times count from the start of the run and are not negative";
        ("the time is before the start".into(), label.into())
    };
    let (message, label): (String, String) = if text.is_empty() {
        ("this row has no time".into(), "write the time of the row in its first cell".into())
    } else if text.strip_prefix('-').is_some_and(|text| milliseconds(text).is_some()) {
        before_start()
    } else if let Some(plain) = milliseconds(text) {
        match plain {
            Ok(time) => return Ok(time),
            Err(problem) => (format!("`{}` can not be a time", shortened(text)), problem.into()),
        }
    } else {
        match cell::read(text, &CellType::Elementary(ElementaryType::Ltime), names) {
            Ok(Value::Duration(time, _)) if time >= 0 => return Ok(time),
            Ok(_) => before_start(),
            Err(error) => (format!("`{}` is not a time", shortened(text)), error.label),
        }
    };
    let pointed = text.replace(',', ".");
    let comma = text.contains(',') && matches!(milliseconds(&pointed), Some(Ok(_)));
    Err(TimeError { message, label, repaired: comma.then_some(pointed) })
}

/// A plain decimal number of milliseconds as nanoseconds; `None` if the text is no such number.
fn milliseconds(text: &str) -> Option<Result<i64, &'static str>> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || !digits(whole) || !digits(fraction) || text.ends_with('.') {
        return None;
    }
    let significant = fraction.trim_end_matches('0');
    if significant.len() > 6 {
        return Some(Err("finer than a nanosecond: at most six digits after the point"));
    }
    let too_late = "too late: a run ends within 292 years";
    let nanoseconds: i64 = format!("{significant:0<6}").parse().unwrap_or(0);
    let time =
        whole.parse::<i64>().ok().and_then(|whole| whole.checked_mul(1_000_000)?.checked_add(nanoseconds));
    Some(time.ok_or(too_late))
}

#[cfg(test)]
mod tests {
    use super::milliseconds;

    #[test]
    fn plain_milliseconds() {
        let cases = [
            ("0", 0),
            ("1500", 1_500_000_000),
            ("12.5", 12_500_000),
            ("0.000001", 1),
            ("1.0000000", 1_000_000),
            ("007", 7_000_000),
        ];
        for (text, expected) in cases {
            assert_eq!(milliseconds(text), Some(Ok(expected)), "{text}");
        }
        for text in ["", ".5", "5.", "-1", "1e3", "T#1s", "1 000", "0x10"] {
            assert_eq!(milliseconds(text), None, "{text}");
        }
        for text in ["0.0000001", "9223372036855", "99999999999999999999"] {
            assert!(matches!(milliseconds(text), Some(Err(_))), "{text}");
        }
        assert_eq!(milliseconds("9223372036854.775807"), Some(Ok(i64::MAX)));
    }
}
