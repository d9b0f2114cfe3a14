//! The heading of a dump: time unit, scopes, variables.
//!
//! Scopes are kept as a tree, never as joined names: a dump may nest them as deep as it likes.

use std::borrow::Cow;

use latchwork_grammar::{Diagnostic, Span};

use super::{
    super::{DUMP_VARIABLES_MAX, short},
    tokens::{Token, Tokens, malformed},
};

/// How many times fall into a nanosecond, or nanoseconds into a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TimeUnit {
    numerator: i128,
    denominator: i128,
}

impl TimeUnit {
    /// A time in whole nanoseconds, rounded down; `None` if no run lasts so long.
    pub(super) fn nanoseconds(self, ticks: u64) -> Option<i64> {
        // A unit is at most 100 s, so the product stays far below the limit.
        i64::try_from(i128::from(ticks) * self.numerator / self.denominator).ok()
    }
}

/// A variable.
#[derive(Clone, Debug)]
pub(super) struct Variable<'t> {
    /// Its name, without a range of bits.
    pub(super) name: &'t str,
    /// A single bit that it is, such as `[3]`, where that stands apart from the name.
    bit: Option<&'t str>,
    scope: Option<usize>,
    /// Its short code.
    pub(super) code: &'t str,
    /// Width in bits.
    pub(super) width: u32,
    pub(super) form: Form,
    /// Where its name stands.
    pub(super) place: Span,
}

/// What the values of a variable are, as declared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// Bits without sign.
    Bits,
    /// Bits in two's complement.
    Signed,
    /// Moments, not values.
    Event,
}

struct Scope<'t> {
    name: &'t str,
    parent: Option<usize>,
}

/// A heading.
pub(super) struct Heading<'t> {
    pub(super) unit: TimeUnit,
    scopes: Vec<Scope<'t>>,
    pub(super) variables: Vec<Variable<'t>>,
    /// Where it ends.
    pub(super) place: Span,
}

impl<'t> Heading<'t> {
    /// Reads up to the end of the section `$enddefinitions`.
    pub(super) fn read(tokens: &mut Tokens<'t>) -> Result<Self, Box<Diagnostic>> {
        let mut unit = None;
        let mut scopes: Vec<Scope<'t>> = Vec::new();
        let mut variables: Vec<Variable<'t>> = Vec::new();
        let mut inside: Option<usize> = None;
        loop {
            let token = tokens.expect("`$enddefinitions $end`")?;
            match token.text {
                "$timescale" => unit = Some(time_unit(&token, &tokens.section(&token)?)?),
                "$scope" => {
                    let words = tokens.section(&token)?;
                    let name = words.get(1).or(words.first());
                    let name = name.ok_or_else(|| {
                        malformed(&token, "this scope has no name", "write `$scope module Main $end`")
                    })?;
                    scopes.push(Scope { name: name.text, parent: inside });
                    inside = Some(scopes.len() - 1);
                }
                "$upscope" => {
                    tokens.skip_section(&token)?;
                    let Some(scope) = inside.and_then(|inside| scopes.get(inside)) else {
                        return Err(malformed(
                            &token,
                            "`$upscope` without a scope that is open",
                            "delete it, or open one by `$scope`",
                        ));
                    };
                    inside = scope.parent;
                }
                "$var" => {
                    if variables.len() >= DUMP_VARIABLES_MAX {
                        let message = format!("the dump has more than {DUMP_VARIABLES_MAX} variables");
                        let diagnostic = Diagnostic::error("trace-too-large", token.place, message)
                            .label("the first one too many")
                            .note("export only the variables that are compared");
                        return Err(Box::new(diagnostic));
                    }
                    variables.push(variable(&token, &tokens.section(&token)?, inside)?);
                }
                "$enddefinitions" => {
                    tokens.skip_section(&token)?;
                    let unit = unit.ok_or_else(|| {
                        Box::new(
                            Diagnostic::error(
                                "trace-timescale",
                                token.place,
                                "the dump does not say in which unit its times are",
                            )
                            .label("no `$timescale` before this")
                            .note("write for example `$timescale 1 ms $end`"),
                        )
                    })?;
                    return Ok(Heading { unit, scopes, variables, place: token.place });
                }
                "$end" => return Err(malformed(&token, "`$end` without a section", "delete it")),
                section if section.starts_with('$') => tokens.skip_section(&token)?,
                other => {
                    let message = format!("`{}` stands before the end of the heading", short(other));
                    let remedy = "the heading has sections only, from `$…` to `$end`; `$enddefinitions $end` closes it";
                    return Err(malformed(&token, message, remedy));
                }
            }
        }
    }

    /// The parts of a variable's name from the last to the first.
    pub(super) fn backwards<'h>(&'h self, variable: &'h Variable<'t>) -> impl Iterator<Item = Cow<'h, str>> {
        let own = match variable.bit {
            Some(bit) => Cow::Owned(format!("{}{bit}", variable.name)),
            None => Cow::Borrowed(variable.name),
        };
        let mut scope = variable.scope;
        let scopes = std::iter::from_fn(move || {
            let here = self.scopes.get(scope?)?;
            scope = here.parent;
            Some(Cow::Borrowed(here.name))
        });
        std::iter::once(own).chain(scopes)
    }

    /// The name with its scopes, for people: cut where it gets long.
    pub(super) fn path(&self, variable: &Variable<'t>) -> String {
        const PARTS_MAX: usize = 8;
        let mut parts: Vec<String> =
            self.backwards(variable).take(PARTS_MAX).map(|part| short(&part)).collect();
        parts.reverse();
        parts.join(".")
    }
}

/// `1 ns`, `10us`, `100 ps`…
fn time_unit(section: &Token<'_>, words: &[Token<'_>]) -> Result<TimeUnit, Box<Diagnostic>> {
    let text: String = words.iter().take(3).map(|word| word.text).collect();
    let digits = text.len() - text.trim_start_matches(|letter: char| letter.is_ascii_digit()).len();
    let (number, unit) = text.split_at(digits);
    let number = match number {
        "1" => Some(1),
        "10" => Some(10),
        "100" => Some(100),
        _ => None,
    };
    let unit = match unit {
        "s" => Some((1_000_000_000, 1)),
        "ms" => Some((1_000_000, 1)),
        "us" => Some((1_000, 1)),
        "ns" => Some((1, 1)),
        "ps" => Some((1, 1_000)),
        "fs" => Some((1, 1_000_000)),
        _ => None,
    };
    match (number, unit) {
        (Some(number), Some((numerator, denominator))) => {
            Ok(TimeUnit { numerator: numerator * number, denominator })
        }
        _ => {
            let place = words.first().map_or(section.place, |word| word.place);
            let message = format!("`{}` is no time unit of a dump", short(&text));
            let diagnostic = Diagnostic::error("trace-timescale", place, message)
                .label("write 1, 10 or 100, then `s`, `ms`, `us`, `ns`, `ps` or `fs`");
            Err(Box::new(diagnostic))
        }
    }
}

/// `$var reg 16 # Level [15:0] $end`
fn variable<'t>(
    section: &Token<'_>,
    words: &[Token<'t>],
    scope: Option<usize>,
) -> Result<Variable<'t>, Box<Diagnostic>> {
    const REMEDY: &str = "write type, width, code and name: `$var wire 1 ! Pump $end`";
    let [kind, width, code, name, behind @ ..] = words else {
        return Err(malformed(section, "this variable lacks a part", REMEDY));
    };
    let bits: u32 = width
        .text
        .parse()
        .map_err(|_| malformed(width, format!("`{}` is no width in bits", short(width.text)), REMEDY))?;
    let form = match kind.text {
        "integer" | "int" | "shortint" | "longint" | "byte" => Form::Signed,
        "event" => Form::Event,
        _ => Form::Bits,
    };
    // A range of bits does not belong to the name; a single bit, or the subscript of an element, does.
    let without_range = |text: &'t str| match text.rfind('[') {
        Some(at) if text.ends_with(']') && text.get(at..).is_some_and(|range| range.contains(':')) => {
            text.get(..at).unwrap_or(text)
        }
        _ => text,
    };
    let bit =
        behind.first().map(|word| word.text).filter(|text| text.starts_with('[') && !text.contains(':'));
    Ok(Variable {
        name: without_range(name.text),
        bit,
        scope,
        code: code.text,
        width: bits,
        form,
        place: name.place,
    })
}

#[cfg(test)]
mod tests {
    use latchwork_grammar::FileId;

    use super::*;

    fn heading(text: &str) -> Heading<'_> {
        Heading::read(&mut Tokens::new(FileId(0), text)).unwrap()
    }

    #[test]
    fn time_units_are_read_joined_or_apart() {
        let cases = [
            ("1 ns", 7, 7),
            ("10us", 3, 30_000),
            ("100 ms", 2, 200_000_000),
            ("1 s", 1, 1_000_000_000),
            ("1ps", 1_999, 1),
            ("100 fs", 9_999, 0),
        ];
        for (unit, ticks, nanoseconds) in cases {
            let text = format!("$timescale {unit} $end $enddefinitions $end");
            assert_eq!(heading(&text).unit.nanoseconds(ticks), Some(nanoseconds), "{unit}");
        }
        assert_eq!(heading("$timescale 100 s $end $enddefinitions $end").unit.nanoseconds(u64::MAX), None);
    }

    #[test]
    fn variables_know_their_scopes() {
        let text = "$comment a $end $timescale 1ns $end $scope module bench $end $scope module Main $end \
                    $var reg 16 ab Level [15:0] $end $var wire 1 ! Seg [3] $end $upscope $end \
                    $var reg 4 % Mask[3:0] $end $upscope $end $unheard of $end $var real 64 & Speed $end \
                    $enddefinitions $end";
        let heading = heading(text);
        let paths: Vec<String> = heading.variables.iter().map(|variable| heading.path(variable)).collect();
        assert_eq!(paths, ["bench.Main.Level", "bench.Main.Seg[3]", "bench.Mask", "Speed"]);
        assert_eq!(heading.variables[0].code, "ab");
    }
}
