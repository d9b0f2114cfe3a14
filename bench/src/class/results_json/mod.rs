//! `results.json`: everything about a class as one JSON document, an interface: `cli/schemas/marking-results.json` tells its
//! form. Members may be added; none is renamed or removed without a new `schema_version`.
//!
//! It is written student by student, each on a line of its own, so that it needs no memory for the class and compares well.
//! The same records give the same bytes.

mod class;
mod student;

use std::fmt::{self, Write};

use serde::Serialize;

use super::{ClassResults, names};
use crate::{
    diagram::SAFETY_SENTENCE,
    marking::{Item, Marked, MarkingScheme, Points},
};

/// Version of the document's form.
const SCHEMA_VERSION: u32 = 1;

/// Writes the document, student by student.
#[derive(Clone, Debug, Default)]
pub struct ResultsWriter {
    begun: bool,
}

impl ResultsWriter {
    /// Writes what stands in front of the students: the exercise.
    ///
    /// # Errors
    /// Those of the output.
    pub fn begin(scheme: &MarkingScheme, output: &mut dyn Write) -> Result<Self, fmt::Error> {
        writeln!(output, "{{\n  \"schema_version\": {SCHEMA_VERSION},")?;
        writeln!(output, "  \"exercise\": {},", line(&scheme.title))?;
        writeln!(output, "  \"out_of\": {},", line(&number(scheme.out_of)))?;
        list(
            "items",
            scheme.items.iter().zip(1..).map(|(item, number)| ItemEntry::of(item, number)),
            output,
        )?;
        output.write_str("  \"students\": [")?;
        Ok(ResultsWriter { begun: false })
    }

    /// Writes a student.
    ///
    /// # Errors
    /// Those of the output.
    pub fn student(&mut self, marked: &Marked, output: &mut dyn Write) -> fmt::Result {
        output.write_str(if self.begun { ",\n    " } else { "\n    " })?;
        self.begun = true;
        output.write_str(&line(&student::entry(marked)))
    }

    /// Writes what stands behind the students: the class as a whole. `complete` says whether the students are the whole
    /// class, and not those of a run that was ended.
    ///
    /// # Errors
    /// Those of the output.
    pub fn finish(self, results: &ClassResults, complete: bool, output: &mut dyn Write) -> fmt::Result {
        output.write_str(if self.begun { "\n  ],\n" } else { "],\n" })?;
        writeln!(output, "  \"complete\": {complete},")?;
        writeln!(output, "  \"statistics\": {},", indented(&class::statistics(&results.statistics)))?;
        list("findings", results.findings.iter().map(class::finding), output)?;
        list("divergences", class::divergences(results), output)?;
        writeln!(output, "  \"note\": {}\n}}", line(&SAFETY_SENTENCE))
    }
}

#[derive(Serialize)]
struct ItemEntry<'a> {
    number: usize,
    title: &'a str,
    file: Option<&'a str>,
    kind: &'static str,
    points: f64,
    shown: bool,
    hint: Option<&'a str>,
}

impl<'a> ItemEntry<'a> {
    fn of(item: &'a Item, place: usize) -> Self {
        ItemEntry {
            number: place,
            title: &item.title,
            file: Some(item.file.as_str()).filter(|file| !file.is_empty()),
            kind: names::item_kind(item.kind),
            points: number(item.points),
            shown: item.shown,
            hint: item.hint.as_deref(),
        }
    }
}

/// Points as a number: the one nearest to its hundredths.
fn number(points: Points) -> f64 {
    points.hundredths() as f64 / 100.0
}

/// A member that is a list, with each entry on a line.
fn list<T: Serialize>(name: &str, entries: impl Iterator<Item = T>, output: &mut dyn Write) -> fmt::Result {
    write!(output, "  \"{name}\": [")?;
    let mut begun = false;
    for entry in entries {
        output.write_str(if begun { ",\n    " } else { "\n    " })?;
        output.write_str(&line(&entry))?;
        begun = true;
    }
    output.write_str(if begun { "\n  ],\n" } else { "],\n" })
}

/// A value on one line. These are trees of texts and finite numbers, which always can be written.
fn line(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

/// A value on several lines, as a member of the document.
fn indented(value: &impl Serialize) -> String {
    // Line ends within texts are escaped, so those that are there are of the form alone.
    serde_json::to_string_pretty(value).unwrap_or_default().replace('\n', "\n  ")
}
