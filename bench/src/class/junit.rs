//! `results.xml`: the class as JUnit XML, the form in which most tools take results: a suite for each student, a case for
//! each item. (There is no standard of it; this is the part that readers agree on: common practice, no source.)
//!
//! It is written student by student. Titles of procedures that are kept back stand in it: it is the instructor's. A student
//! whose program could not be run has an error on every item, which tells the state.

use std::fmt::{self, Write};

use super::names;
use crate::{
    diagram::scale::duration_words,
    marking::{Finding, Gravity, Item, ItemResult, ItemVerdict, Marked, MarkingScheme, Points, State},
    render::xml::{attribute, content},
};

/// Most findings that are told at length for a student; how many more there are is told.
const FINDINGS_MAX: usize = 50;

/// Writes the document, student by student.
#[derive(Clone, Debug)]
pub struct JunitWriter {
    items: Vec<Item>,
    out_of: Points,
}

impl JunitWriter {
    /// Writes what stands in front of the students.
    ///
    /// # Errors
    /// Those of the output.
    pub fn begin(scheme: &MarkingScheme, output: &mut dyn Write) -> Result<Self, fmt::Error> {
        output.write_str("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")?;
        writeln!(output, "<testsuites name=\"{}\">", attribute(&scheme.title))?;
        Ok(JunitWriter { items: scheme.items.clone(), out_of: scheme.out_of })
    }

    /// Writes a student.
    ///
    /// # Errors
    /// Those of the output.
    pub fn student(&mut self, marked: &Marked, output: &mut dyn Write) -> fmt::Result {
        let results: Vec<&ItemResult> = marked.items.iter().take(self.items.len()).collect();
        let count =
            |outcome: Outcome| results.iter().filter(|it| Outcome::of(marked.state, it) == outcome).count();
        write!(
            output,
            "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\">\n    <properties>\n",
            attribute(&marked.student.id),
            results.len(),
            count(Outcome::Failure),
            count(Outcome::Error),
            count(Outcome::Skipped)
        )?;
        let mut property = |name: &str, value: &str| {
            writeln!(output, "      <property name=\"{name}\" value=\"{}\"/>", attribute(value))
        };
        if let Some(name) = &marked.student.name {
            property("name", name)?;
        }
        property("state", names::state(marked.state))?;
        property("points", &self.out_of.to_string())?;
        if marked.state != State::InternalFault {
            property("points_reached", &marked.total.to_string())?;
            property("points_deducted", &marked.deducted.to_string())?;
        }
        output.write_str("    </properties>\n")?;
        for (index, (item, result)) in self.items.iter().zip(results).enumerate() {
            case(item, result, marked, index == 0, output)?;
        }
        output.write_str("  </testsuite>\n")
    }

    /// Writes the end.
    ///
    /// # Errors
    /// Those of the output.
    pub fn finish(self, output: &mut dyn Write) -> fmt::Result {
        output.write_str("</testsuites>\n")
    }
}

/// What a case is to readers of this form.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Passed,
    Failure,
    Error,
    Skipped,
}

impl Outcome {
    const fn of(state: State, result: &ItemResult) -> Outcome {
        match (state, result.verdict) {
            (State::Ran, ItemVerdict::Passed) => Outcome::Passed,
            (State::Ran, ItemVerdict::Partly | ItemVerdict::Failed) => Outcome::Failure,
            (State::Ran, ItemVerdict::NotRun) => Outcome::Skipped,
            (State::Ran, ItemVerdict::Refused) | (_, _) => Outcome::Error,
        }
    }
}

fn case(
    item: &Item,
    result: &ItemResult,
    marked: &Marked,
    is_first: bool,
    output: &mut dyn Write,
) -> fmt::Result {
    write!(
        output,
        "    <testcase name=\"{}\" classname=\"{}\"",
        attribute(&item.title),
        attribute(&marked.student.id)
    )?;
    if !item.file.is_empty() {
        write!(output, " file=\"{}\"", attribute(&item.file))?;
    }
    if let Some(line) = result.failure.as_ref().and_then(|failure| failure.line) {
        write!(output, " line=\"{line}\"")?;
    }
    write!(output, ">\n      <properties>\n        <property name=\"points\" value=\"{}\"/>\n", item.points)?;
    if marked.state != State::InternalFault {
        writeln!(output, "        <property name=\"points_reached\" value=\"{}\"/>", result.points)?;
    }
    output.write_str("      </properties>\n")?;
    match Outcome::of(marked.state, result) {
        Outcome::Passed => {}
        Outcome::Skipped => output.write_str("      <skipped message=\"not run\"/>\n")?,
        Outcome::Failure => failed("failure", item, result, output)?,
        Outcome::Error if marked.state == State::Ran => failed("error", item, result, output)?,
        Outcome::Error => {
            // The findings stand with the first case alone, or there would be as many copies as items.
            let text = if is_first { findings(&marked.findings) } else { String::new() };
            writeln!(
                output,
                "      <error message=\"{}\" type=\"{}\">{}</error>",
                attribute(marked.state.words()),
                names::state(marked.state),
                content(&text)
            )?;
        }
    }
    output.write_str("    </testcase>\n")
}

/// An item that was run, or was to be.
fn failed(element: &str, item: &Item, result: &ItemResult, output: &mut dyn Write) -> fmt::Result {
    let (name, message) = match &result.failure {
        Some(failure) => (failure.name.as_str(), failure.message.as_str()),
        None => (names::verdict(result.verdict), result.verdict.words()),
    };
    let mut text = format!("{} of {}", result.points, item.points.counted());
    if let Some((met, all)) = result.met {
        text += &format!("; {met} of {all} expectations met");
    }
    if let Some(failure) = &result.failure {
        text += &format!("; first not as expected after {}", duration_words(failure.time_ns));
    }
    writeln!(
        output,
        "      <{element} message=\"{}\" type=\"{}\">{}</{element}>",
        attribute(message),
        attribute(name),
        content(&text)
    )
}

/// Errors at length.
fn findings(findings: &[Finding]) -> String {
    let errors = || findings.iter().filter(|finding| finding.severity == Gravity::Error);
    let mut texts: Vec<&str> = errors()
        .take(FINDINGS_MAX)
        .map(|it| if it.shown.is_empty() { it.message.as_str() } else { it.shown.as_str() })
        .collect();
    let more;
    if let Some(count @ 1..) = errors().count().checked_sub(FINDINGS_MAX) {
        more = format!("{count} more");
        texts.push(&more);
    }
    texts.join("\n")
}
