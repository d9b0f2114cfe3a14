//! Reading `exercise.toml`: its form, and that what stands in it can be.
//!
//! Knows nothing of the files that it names, nor of programs.

use latchwork_compiler::{
    catalogue::{WARNINGS, WARNINGS_OF_STATIONS},
    rewrite::Language,
};
use latchwork_grammar::{Diagnostic, FileId, Severity, Span, source::SOURCE_BYTES_MAX};
use latchwork_stdlib::{blocks, functions};
use latchwork_vm::limits;
use serde::Deserialize;
use toml::Spanned;

use super::{Budget, Constraints, Credit, Exercise, NoWarnings, ProcedureFile, RequiredVariable};
use crate::{
    address::Address,
    marking::Points,
    nearest::{did_you_mean, nearest},
    replay::SCANS_MAX,
    station::Placed,
};

/// Largest exercise file accepted, in bytes.
pub const EXERCISE_BYTES_MAX: usize = 256 * 1024;

/// Most files of one kind that an exercise names, and most entries of one list.
const ENTRIES_MAX: usize = 1_000;

type Text = Spanned<String>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    title: Text,
    task: Text,
    station: Option<Text>,
    reference: Vec<Text>,
    #[serde(default)]
    skeleton: Vec<Text>,
    #[serde(default)]
    points: WrittenPoints,
    procedures: Vec<WrittenProcedures>,
    #[serde(default)]
    interface: WrittenInterface,
    #[serde(default)]
    constraints: WrittenConstraints,
    #[serde(default)]
    budget: WrittenBudget,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenPoints {
    compiles: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenProcedures {
    file: Text,
    shown: Option<bool>,
    credit: Option<Text>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenInterface {
    #[serde(default)]
    programs: Vec<Text>,
    #[serde(default)]
    variable: Vec<WrittenVariable>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenVariable {
    name: Text,
    #[serde(rename = "type")]
    kind: Option<Text>,
    address: Option<Text>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct WrittenConstraints {
    language: Option<Text>,
    #[serde(default)]
    must_use: Vec<Text>,
    #[serde(default)]
    must_not_use: Vec<Text>,
    lines_max: Option<Spanned<u64>>,
    no_warnings: Option<Spanned<WrittenWarnings>>,
    deduction: Option<Spanned<f64>>,
}

/// A list of names, or a word for all of them.
#[derive(Deserialize)]
#[serde(untagged, expecting = "needs a list of names, or \"all\"")]
enum WrittenWarnings {
    Word(String),
    Names(Vec<String>),
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct WrittenBudget {
    text_bytes: Option<Spanned<u64>>,
    files: Option<Spanned<u64>>,
    memory_bytes: Option<Spanned<u64>>,
    scan_instructions: Option<Spanned<u64>>,
    procedure_instructions: Option<Spanned<u64>>,
    scans: Option<Spanned<u64>>,
}

/// Reads the text; nothing if an error is among the diagnostics.
pub(super) fn read(file: FileId, text: &str) -> (Option<Exercise>, Vec<Diagnostic>) {
    let whole = Span::new(file, 0, text.len().min(u32::MAX as usize) as u32);
    if text.len() > EXERCISE_BYTES_MAX {
        let message =
            format!("the exercise file has {} bytes, more than the {EXERCISE_BYTES_MAX} allowed", text.len());
        return (
            None,
            vec![Diagnostic::error("exercise-syntax", Span { end: whole.start, ..whole }, message)],
        );
    }
    let written: Written = match toml::from_str(text) {
        Ok(written) => written,
        Err(error) => return (None, vec![malformed(&error, file, text)]),
    };
    let mut reader = Reader { file, diagnostics: Vec::new() };
    let exercise = reader.exercise(written, whole);
    let failed = reader.diagnostics.iter().any(|problem| problem.severity == Severity::Error);
    (Some(exercise).filter(|_| !failed), reader.diagnostics)
}

/// What the reader of TOML says, at its place, with what may have been meant.
fn malformed(error: &toml::de::Error, file: FileId, text: &str) -> Diagnostic {
    let span = error.span().map_or(Span::new(file, 0, 0), |range| {
        let end = range.end.min(text.len());
        Span::new(file, range.start.min(end) as u32, end as u32)
    });
    let message = error.message().lines().next().unwrap_or_default();
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let (about, label) = match quoted.split_first() {
        Some((unknown, known)) if message.starts_with("unknown field") => {
            let label = did_you_mean(&nearest(unknown, known.iter().copied()))
                .unwrap_or_else(|| format!("the keys here are {}", known.join(", ")));
            (format!("an exercise has no key `{unknown}` here"), label)
        }
        Some((missing, _)) if message.starts_with("missing field") => {
            (format!("the exercise has no `{missing}`"), format!("`{missing}` must stand here"))
        }
        _ => ("the exercise file cannot be read".to_owned(), message.to_owned()),
    };
    Diagnostic::error("exercise-syntax", span, about)
        .label(label)
        .note("an exercise file is TOML: lines `key = value` below headings such as `[[procedures]]`; text stands in quotation marks")
}

struct Reader {
    file: FileId,
    diagnostics: Vec<Diagnostic>,
}

impl Reader {
    fn span<T>(&self, value: &Spanned<T>) -> Span {
        let range = value.span();
        Span::new(self.file, range.start as u32, range.end as u32)
    }

    fn wrong(&mut self, span: Span, message: impl Into<String>, label: impl Into<String>) {
        self.diagnostics.push(Diagnostic::error("exercise-value", span, message).label(label));
    }

    fn placed(&mut self, text: Text) -> Placed<String> {
        let span = self.span(&text);
        let value = text.into_inner();
        if value.trim().is_empty() || value.chars().any(char::is_control) {
            self.wrong(span, "this text is empty or has a line end in it", "write it on one line");
        }
        Placed { value, span }
    }

    fn all(&mut self, texts: Vec<Text>) -> Vec<Placed<String>> {
        if let Some(first) = texts.get(ENTRIES_MAX) {
            let span = self.span(first);
            self.wrong(
                span,
                format!("this list has more than {ENTRIES_MAX} entries"),
                "the first one too many",
            );
        }
        texts.into_iter().take(ENTRIES_MAX).map(|text| self.placed(text)).collect()
    }

    fn points(&mut self, points: Option<Spanned<f64>>, otherwise: f64) -> Points {
        let Some(points) = points else { return Points::of(otherwise) };
        let number = *points.get_ref();
        if !(0.0..=1_000_000.0).contains(&number) {
            let span = self.span(&points);
            self.wrong(span, "points are a number from 0 to 1000000", "out of this range");
        }
        Points::of(number)
    }

    fn exercise(&mut self, written: Written, whole: Span) -> Exercise {
        let reference = self.all(written.reference);
        if reference.is_empty() {
            let label =
                "name its source files, or one image built from them: `reference = [\"reference.st\"]`";
            self.wrong(Span { end: whole.start, ..whole }, "the exercise has no reference", label);
        }
        if written.procedures.is_empty() {
            let label = "name a file of procedures below a heading `[[procedures]]`";
            self.wrong(Span { end: whole.start, ..whole }, "the exercise has no procedures", label);
        }
        Exercise {
            file: self.file,
            title: self.placed(written.title).value,
            task: self.placed(written.task),
            station: written.station.map(|station| self.placed(station)),
            reference,
            skeleton: self.all(written.skeleton),
            compiles: self.points(written.points.compiles, 0.0),
            procedures: written.procedures.into_iter().map(|file| self.procedures(file)).collect(),
            programs: self.all(written.interface.programs).into_iter().map(|name| name.value).collect(),
            variables: written
                .interface
                .variable
                .into_iter()
                .map(|variable| self.variable(variable))
                .collect(),
            constraints: self.constraints(written.constraints),
            budget: self.budget(written.budget),
        }
    }

    fn procedures(&mut self, written: WrittenProcedures) -> ProcedureFile {
        let credit = match &written.credit {
            None => Credit::default(),
            Some(word) => match word.get_ref().as_str() {
                "all or nothing" => Credit::AllOrNothing,
                "by expectation" => Credit::ByExpectation,
                other => {
                    let message = format!("`{}` is no way to give credit", other.escape_debug());
                    let span = self.span(word);
                    self.wrong(span, message, "expected \"all or nothing\" or \"by expectation\"");
                    Credit::default()
                }
            },
        };
        ProcedureFile { file: self.placed(written.file), shown: written.shown.unwrap_or(true), credit }
    }

    fn variable(&mut self, written: WrittenVariable) -> RequiredVariable {
        let address = written.address.map(|address| self.placed(address));
        if let Some(address) = &address
            && let Err(reason) = Address::parse(&address.value)
        {
            self.wrong(address.span, format!("`{}` is no address", address.value), reason);
        }
        let kind = written.kind.map(|kind| self.placed(kind));
        RequiredVariable {
            name: self.placed(written.name).value,
            kind: kind.map(|kind| kind.value),
            address: address.map(|address| address.value),
        }
    }

    fn constraints(&mut self, written: WrittenConstraints) -> Constraints {
        let language = written.language.and_then(|word| match word.get_ref().as_str() {
            "ST" => Some(Language::StructuredText),
            "IL" => Some(Language::InstructionList),
            other => {
                let message = format!("`{}` is no language", other.escape_debug());
                let span = self.span(&word);
                self.wrong(span, message, "expected \"ST\" or \"IL\"");
                None
            }
        });
        let no_warnings = match written.no_warnings {
            None => NoWarnings::Any,
            Some(written) => {
                let span = self.span(&written);
                match written.into_inner() {
                    WrittenWarnings::Word(word) if word == "all" => NoWarnings::All,
                    WrittenWarnings::Word(_) => {
                        self.wrong(
                            span,
                            "only \"all\" stands here without brackets",
                            "or a list of names in brackets",
                        );
                        NoWarnings::Any
                    }
                    WrittenWarnings::Names(names) => {
                        // The places of the single names are not kept.
                        let names = names.into_iter().map(|name| Placed { value: name, span }).collect();
                        let warnings = [WARNINGS, WARNINGS_OF_STATIONS].concat();
                        NoWarnings::Named(self.known(names, &warnings, "warning"))
                    }
                }
            }
        };
        let standard: Vec<&str> =
            blocks().map(|block| block.name).chain(functions().map(|function| function.name)).collect();
        let (must_use, must_not_use) = (self.all(written.must_use), self.all(written.must_not_use));
        Constraints {
            language,
            must_use: self.known(must_use, &standard, "standard function block or function"),
            must_not_use: self.known(must_not_use, &standard, "standard function block or function"),
            lines_max: written.lines_max.map(Spanned::into_inner),
            no_warnings,
            deduction: self.points(written.deduction, 1.0),
        }
    }

    /// Names that must be among those that are known, letter case aside; as those are written.
    fn known(&mut self, names: Vec<Placed<String>>, known: &[&str], what: &str) -> Vec<String> {
        let mut found = Vec::new();
        for name in names {
            match known.iter().find(|other| other.eq_ignore_ascii_case(&name.value)) {
                Some(name) => found.push((*name).to_owned()),
                None => {
                    let near = did_you_mean(&nearest(&name.value, known.iter().copied()));
                    let message = format!("there is no {what} named `{}`", name.value);
                    self.wrong(name.span, message, near.unwrap_or_else(|| "unknown".to_owned()));
                }
            }
        }
        found
    }

    fn budget(&mut self, written: WrittenBudget) -> Budget {
        let usual = Budget::default();
        let mut number = |key: &str, written: Option<Spanned<u64>>, usual: u64, most: u64| match written {
            Some(number) if (1..=most).contains(number.get_ref()) => number.into_inner(),
            Some(number) => {
                let span = self.span(&number);
                self.wrong(span, format!("`{key}` is a whole number from 1 to {most}"), "out of this range");
                usual
            }
            None => usual,
        };
        Budget {
            text_bytes: number("text-bytes", written.text_bytes, usual.text_bytes, SOURCE_BYTES_MAX as u64),
            files: number("files", written.files, usual.files, 1_000),
            memory_bytes: number(
                "memory-bytes",
                written.memory_bytes,
                usual.memory_bytes,
                limits::DATA_BYTES as u64,
            ),
            scan_instructions: number(
                "scan-instructions",
                written.scan_instructions,
                usual.scan_instructions,
                limits::DEFAULT_BUDGET,
            ),
            procedure_instructions: number(
                "procedure-instructions",
                written.procedure_instructions,
                usual.procedure_instructions,
                1_000_000_000_000,
            ),
            scans: number("scans", written.scans, usual.scans, SCANS_MAX),
        }
    }
}
