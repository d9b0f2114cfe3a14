//! The changes of a dump, of the variables that are compared.

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, Names, Span};
use latchwork_vm::Value;

use super::{
    super::{TRACE_VALUES_MAX, Track, dumped::Bits, short, too_many_values},
    Chosen,
    heading::{Form, Heading, Variable},
    tokens::{Token, Tokens, malformed},
};

/// Reads the changes; gives the signals and the first time that the dump says nothing about.
pub(super) fn read<'t>(
    tokens: &mut Tokens<'t>,
    heading: &Heading<'t>,
    chosen: Vec<Chosen>,
) -> Result<(Vec<Track>, i64), Box<Diagnostic>> {
    let mut codes: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for variable in &heading.variables {
        codes.entry(variable.code).or_default();
    }
    for (index, chosen) in chosen.iter().enumerate() {
        if let Some(variable) = heading.variables.get(chosen.variable) {
            if variable.form == Form::Event {
                return Err(event(variable));
            }
            codes.entry(variable.code).or_default().push(index);
        }
    }
    let mut changes =
        Changes { heading, chosen, codes, names: Names::new(), now_ns: None, changed: false, values: 0 };
    while let Some(token) = tokens.next() {
        changes.command(&token, tokens)?;
    }
    let Some(now_ns) = changes.now_ns.map(|(now, _)| now) else {
        let diagnostic = Diagnostic::error("trace-empty", heading.place, "the dump has no times")
            .label("nothing follows the heading")
            .note("a time is written as `#100`, and changes follow it");
        return Err(Box::new(diagnostic));
    };
    let end_ns = now_ns.saturating_add(i64::from(changes.changed));
    Ok((changes.chosen.into_iter().map(|chosen| chosen.track).collect(), end_ns))
}

struct Changes<'h, 't> {
    heading: &'h Heading<'t>,
    chosen: Vec<Chosen>,
    /// For each code the signals that are compared with it.
    codes: BTreeMap<&'h str, Vec<usize>>,
    names: Names,
    /// The time now and its place; `None` before the first.
    now_ns: Option<(i64, Span)>,
    /// Whether something changed since the last time.
    changed: bool,
    values: usize,
}

impl Changes<'_, '_> {
    /// Reads what begins with a word.
    fn command(&mut self, token: &Token<'_>, tokens: &mut Tokens<'_>) -> Result<(), Box<Diagnostic>> {
        let mut letters = token.text.chars();
        let first = letters.next().unwrap_or(' ');
        let rest = letters.as_str();
        match first.to_ascii_lowercase() {
            '#' => self.time(token, rest),
            '$' => match token.text {
                // Values follow as elsewhere, up to `$end`.
                "$dumpvars" | "$dumpall" | "$dumpon" | "$dumpoff" | "$end" => Ok(()),
                "$comment" => tokens.skip_section(token),
                other => {
                    let message = format!("`{}` is no section between changes", short(other));
                    Err(malformed(token, message, "only four-state dumps are read; export such a one"))
                }
            },
            'b' => {
                let code = tokens.expect("the code of a variable")?;
                self.change(token, &code, &Dumped::Bits(rest))
            }
            'r' => {
                let number: f64 = rest.parse().map_err(|_| {
                    malformed(token, format!("`{}` is no real number", short(rest)), "write `r2.5 !`")
                })?;
                let code = tokens.expect("the code of a variable")?;
                self.change(token, &code, &Dumped::Real(number))
            }
            's' => {
                let code = tokens.expect("the code of a variable")?;
                self.change(token, &code, &Dumped::Text(rest))
            }
            '0' | '1' | 'x' | 'z' | 'u' | 'w' | 'l' | 'h' | '-' => {
                let code = Token { text: rest, place: Span { start: token.place.start + 1, ..token.place } };
                if rest.is_empty() {
                    return Err(malformed(
                        token,
                        "this value has no code of a variable",
                        "the code follows at once: `1!`",
                    ));
                }
                let digits = token.text.get(..1).unwrap_or_default();
                self.change(token, &code, &Dumped::Bits(digits))
            }
            _ => {
                let message = format!("`{}` is neither a time nor a change", short(token.text));
                Err(malformed(token, message, "a change is written as `1!`, `b101 !`, `r2.5 !` or `sidle !`"))
            }
        }
    }

    fn time(&mut self, token: &Token<'_>, digits: &str) -> Result<(), Box<Diagnostic>> {
        let error = |message: String| Diagnostic::error("trace-time", token.place, message);
        let ticks: u64 = digits.parse().map_err(|_| {
            let message = format!("`{}` is no time of a dump", short(token.text));
            Box::new(error(message).label("write a whole number, such as `#100`"))
        })?;
        let now_ns = self.heading.unit.nanoseconds(ticks).ok_or_else(|| {
            let message = format!("`{}` can not be a time", short(token.text));
            Box::new(error(message).label("too late: a run ends within 292 years"))
        })?;
        if let Some((before_ns, before)) = self.now_ns
            && now_ns < before_ns
        {
            return Err(Box::new(
                Diagnostic::error("trace-time-order", token.place, "the time goes backwards")
                    .label("earlier than the time before")
                    .also(before, "the time before")
                    .note("times rise from the start to the end of a dump"),
            ));
        }
        // A time that is there twice takes no change back.
        self.changed &= self.now_ns.is_some_and(|(before_ns, _)| before_ns == now_ns);
        self.now_ns = Some((now_ns, token.place));
        Ok(())
    }

    fn change(
        &mut self,
        token: &Token<'_>,
        code: &Token<'_>,
        dumped: &Dumped<'_>,
    ) -> Result<(), Box<Diagnostic>> {
        let Some(signals) = self.codes.get(code.text) else {
            let message = format!("no variable of the dump has the code `{}`", short(code.text));
            return Err(malformed(code, message, "not declared by a `$var` of the heading"));
        };
        self.changed = true;
        // What stands before the first time is the state at the start.
        let now_ns = self.now_ns.map_or(0, |(now, _)| now);
        for index in signals {
            let Some(chosen) = self.chosen.get_mut(*index) else { continue };
            let Some(variable) = self.heading.variables.get(chosen.variable) else { continue };
            if self.values > TRACE_VALUES_MAX {
                return Err(Box::new(too_many_values(token.place)));
            }
            self.values += 1;
            match dumped.value(variable, &chosen.track, &mut self.names) {
                Ok(value) => chosen.track.push(now_ns, value),
                Err(problem) => {
                    let subject = &chosen.track.subject;
                    let message = format!(
                        "`{}` is no value of `{}`, which is of type {}",
                        short(token.text),
                        subject.name(),
                        subject.type_name()
                    );
                    let diagnostic = Diagnostic::error("trace-value", token.place, message)
                        .label(format!("this is {problem}"))
                        .also(chosen.track.span, "the variable of the dump");
                    return Err(Box::new(diagnostic));
                }
            }
        }
        Ok(())
    }
}

/// A value as it stands in a dump.
enum Dumped<'t> {
    Bits(&'t str),
    Real(f64),
    Text(&'t str),
}

impl Dumped<'_> {
    /// The value for a signal; `None` if it is not known.
    fn value(
        &self,
        variable: &Variable<'_>,
        track: &Track,
        names: &mut Names,
    ) -> Result<Option<Value>, String> {
        match self {
            Dumped::Real(number) => track.subject.value_of_real(*number).map(Some),
            Dumped::Text(text) => track.subject.value_of_text(&unescaped(text), names).map(Some),
            Dumped::Bits(digits) => {
                let mut known = String::with_capacity(digits.len());
                for digit in digits.chars() {
                    match digit.to_ascii_lowercase() {
                        '0' | 'l' => known.push('0'),
                        '1' | 'h' => known.push('1'),
                        'x' | 'z' | 'u' | 'w' | '-' => return Ok(None),
                        _ => return Err("a vector with a digit that is neither 0, 1, x nor z".to_owned()),
                    }
                }
                if known.is_empty() {
                    return Err("a vector without digits".to_owned());
                }
                if known.trim_start_matches('0').len() as u64 > u64::from(variable.width.max(1)) {
                    return Err(format!("a vector of more bits than the {} declared", variable.width));
                }
                let signed = variable.form == Form::Signed;
                track.subject.value_of_bits(&Bits { digits: &known, width: variable.width, signed }).map(Some)
            }
        }
    }
}

/// A text without the escapes that writers of texts use, since blanks would end it: `\x20`, `\n`, `\\`, `\040`.
fn unescaped(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('\\') {
        plain.push_str(rest.get(..at).unwrap_or_default());
        let behind = rest.get(at + 1..).unwrap_or_default();
        let number = |digits: Option<&str>, base| {
            let digits = digits.filter(|digits| digits.chars().all(|digit| digit.is_digit(base)));
            digits.and_then(|digits| u32::from_str_radix(digits, base).ok()).and_then(char::from_u32)
        };
        let (character, length) = match behind.chars().next() {
            Some('n') => ('\n', 1),
            Some('r') => ('\r', 1),
            Some('t') => ('\t', 1),
            Some('\\') => ('\\', 1),
            Some('x') => number(behind.get(1..3), 16).map_or(('\\', 0), |character| (character, 3)),
            Some('0'..='7') => number(behind.get(..3), 8).map_or(('\\', 0), |character| (character, 3)),
            _ => ('\\', 0),
        };
        plain.push(character);
        rest = behind.get(length..).unwrap_or_default();
    }
    plain.push_str(rest);
    plain
}

/// A variable that has moments and no values.
fn event(variable: &Variable<'_>) -> Box<Diagnostic> {
    let message = format!("`{}` is an event: it has moments and no values", short(variable.name));
    Box::new(
        Diagnostic::error("trace-value", variable.place, message)
            .label("dump a variable of type `wire` or `reg` instead"),
    )
}

#[cfg(test)]
mod tests {
    use super::unescaped;

    #[test]
    fn escapes_of_texts_are_resolved() {
        let cases = [
            ("idle", "idle"),
            ("a\\x20b", "a b"),
            ("a\\040b", "a b"),
            ("\\\\n", "\\n"),
            ("\\n", "\n"),
            ("\\q\\", "\\q\\"),
            ("\\xZ", "\\xZ"),
            ("\\x", "\\x"),
        ];
        for (text, plain) in cases {
            assert_eq!(unescaped(text), plain, "{text}");
        }
    }
}
