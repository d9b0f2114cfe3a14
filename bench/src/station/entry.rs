//! Typed access to the keys of one TOML table, with errors that name key, place and remedy.
//!
//! Knows TOML values; knows nothing of what the keys mean.

use latchwork_grammar::{Diagnostic, FileId, Span};
use toml::{
    Spanned,
    de::{DeTable, DeValue},
};

use super::Placed;
use crate::nearest::{alternatives, did_you_mean, nearest};

/// One table of the station file.
pub(super) struct Entry<'t> {
    /// The file.
    pub(super) file: FileId,
    /// What the table describes, for messages: "device".
    pub(super) what: &'static str,
    /// The same with its article: "a device".
    pub(super) one: &'static str,
    /// Its keys.
    pub(super) table: &'t DeTable<'t>,
    /// The place of its heading.
    pub(super) span: Span,
}

impl<'t> Entry<'t> {
    /// The value of a key.
    pub(super) fn value(&self, key: &str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.table.iter().find(|(name, _)| name.get_ref() == key).map(|(_, value)| value)
    }

    /// Reports every key that is not of `known`; `elsewhere` names keys of other tables with the table they
    /// belong to.
    pub(super) fn check_keys(
        &self,
        known: &[&'static str],
        elsewhere: &[(&'static str, &'static str)],
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        for (name, _) in self.table.iter() {
            let key: &str = name.get_ref();
            if known.contains(&key) {
                continue;
            }
            let span = span_of(self.file, &name.span());
            let mut diagnostic =
                Diagnostic::error("station-unknown-key", span, format!("{} has no key `{key}`", self.one));
            if let Some((_, owner)) = elsewhere.iter().find(|(other, _)| *other == key) {
                diagnostic = diagnostic.label(format!("this key belongs to {owner}"));
            } else {
                diagnostic =
                    suggest(diagnostic, &nearest(key, known.iter().copied()), "unknown", span, |near| {
                        near.into()
                    });
            }
            diagnostics.push(diagnostic.note(format!("the keys of {} are {}", self.one, listing(known))));
        }
    }

    /// The text of a key.
    pub(super) fn text(&self, key: &str, diagnostics: &mut Vec<Diagnostic>) -> Option<Placed<String>> {
        let value = self.value(key)?;
        let span = span_of(self.file, &value.span());
        let DeValue::String(text) = value.get_ref() else {
            diagnostics.push(self.wrong_type(key, value, "text in quotation marks"));
            return None;
        };
        if text.trim().is_empty() {
            diagnostics.push(
                Diagnostic::error("station-empty-text", span, format!("`{key}` is empty"))
                    .label(format!("write the {key} of this {}, or delete the line", self.what)),
            );
            return None;
        }
        if text.chars().any(char::is_control) {
            diagnostics.push(
                Diagnostic::error(
                    "station-empty-text",
                    span,
                    format!("`{key}` contains a line end or control character"),
                )
                .label("write it on one line"),
            );
            return None;
        }
        Some(Placed { value: text.to_string(), span })
    }

    /// The text of a key that must be there.
    pub(super) fn required_text(
        &self,
        key: &str,
        remedy: &str,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<Placed<String>> {
        if self.value(key).is_none() {
            self.missing(key, remedy, diagnostics);
            return None;
        }
        self.text(key, diagnostics)
    }

    /// Reports a key that is not there, unless it is there misspelt: that is reported as an unknown key.
    pub(super) fn missing(&self, key: &str, remedy: &str, diagnostics: &mut Vec<Diagnostic>) {
        if self.table.iter().any(|(other, _)| !nearest(other.get_ref(), [key]).is_empty()) {
            return;
        }
        diagnostics.push(
            Diagnostic::error("station-missing-key", self.span, format!("this {} has no `{key}`", self.what))
                .label(format!("write {remedy} below this line")),
        );
    }

    /// One of a set of words.
    pub(super) fn word<T: Copy>(
        &self,
        key: &str,
        words: &[(&'static str, T)],
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<T> {
        let text = self.text(key, diagnostics)?;
        if let Some((_, value)) = words.iter().find(|(word, _)| word.eq_ignore_ascii_case(text.value.trim()))
        {
            return Some(*value);
        }
        let known: Vec<&'static str> = words.iter().map(|(word, _)| *word).collect();
        // The trade's abbreviations are understood well enough to say what to write.
        let near = match text.value.to_ascii_uppercase().as_str() {
            "NO" if key == "contact" => vec!["normally open"],
            "NC" if key == "contact" => vec!["normally closed"],
            _ => nearest(&text.value, known.iter().copied()),
        };
        let message = format!("`{}` is no {key} of {}", text.value, self.one);
        let diagnostic = Diagnostic::error("station-unknown-word", text.span, message);
        let expected = format!("expected {}", quoted(&known));
        let mut diagnostic = suggest(diagnostic, &near, &expected, text.span, |word| format!("\"{word}\""));
        if !near.is_empty() && known.len() > 1 {
            diagnostic = diagnostic.note(format!("the words for `{key}` are {}", quoted(&known)));
        }
        diagnostics.push(diagnostic);
        None
    }

    /// A finite number.
    pub(super) fn number(&self, key: &str, diagnostics: &mut Vec<Diagnostic>) -> Option<Placed<f64>> {
        let value = self.value(key)?;
        let span = span_of(self.file, &value.span());
        match finite(value.get_ref()) {
            Some(number) => Some(Placed { value: number, span }),
            None => {
                diagnostics.push(self.wrong_type(key, value, "a number"));
                None
            }
        }
    }

    /// Two finite numbers.
    pub(super) fn pair(&self, key: &str, diagnostics: &mut Vec<Diagnostic>) -> Option<Placed<(f64, f64)>> {
        let value = self.value(key)?;
        let span = span_of(self.file, &value.span());
        if let DeValue::Array(array) = value.get_ref()
            && let (Some(first), Some(second), None) = (array.first(), array.get(1), array.get(2))
            && let (Some(first), Some(second)) = (finite(first.get_ref()), finite(second.get_ref()))
        {
            return Some(Placed { value: (first, second), span });
        }
        diagnostics.push(self.wrong_type(key, value, "two numbers in brackets, such as `[0, 100]`"));
        None
    }

    /// The message for a value of the wrong type.
    pub(super) fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, expected: &str) -> Diagnostic {
        let found = match value.get_ref() {
            DeValue::String(_) => "text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let span = span_of(self.file, &value.span());
        let found =
            if found == "a number" && expected == "a number" { "a number beyond all limits" } else { found };
        Diagnostic::error("station-value-type", span, format!("`{key}` needs {expected}"))
            .label(format!("found {found}"))
    }
}

/// Adds the suggestions to a diagnostic: a single one also as a fix.
fn suggest(
    diagnostic: Diagnostic,
    near: &[&str],
    otherwise: &str,
    span: Span,
    written: impl Fn(&str) -> String,
) -> Diagnostic {
    let diagnostic = diagnostic.label(did_you_mean(near).unwrap_or_else(|| otherwise.to_string()));
    match near {
        [single] => diagnostic.fix(format!("write `{single}`"), span, written(single)),
        _ => diagnostic,
    }
}

/// A span of a byte range; the caller has checked that the file is small.
pub(super) fn span_of(file: FileId, range: &std::ops::Range<usize>) -> Span {
    Span::new(file, range.start as u32, range.end as u32)
}

/// A TOML number that is neither infinite nor NaN.
fn finite(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok()? as f64,
        DeValue::Float(float) => float.as_str().parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}

/// "`a`, `b` and `c`"
fn listing(words: &[&str]) -> String {
    alternatives(words).replace(" or ", " and ")
}

/// "\"a\" or \"b\""
fn quoted(words: &[&str]) -> String {
    alternatives(words).replace('`', "\"")
}
