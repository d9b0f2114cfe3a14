//! The statement as text for a terminal, and as Markdown for a document.
//!
//! Nothing is told by colour: the text is plain.

use std::fmt::Write as _;

use super::{Feature, Statement, Status, Table};

const STATUSES: &str = "yes: as the standard has it; part: with the limits told; no: not provided; n/a: of the graphic \
                        languages only.";

/// Narrower than this the text is not made.
const COLUMNS_MIN: usize = 40;

/// The statement in so many columns.
pub fn text(statement: &Statement, columns: usize) -> String {
    let columns = columns.max(COLUMNS_MIN);
    let mut out = format!("{} {}: compliance statement\n", statement.product, statement.version);
    paragraph(&mut out, columns, "", statement.standard);
    paragraph(&mut out, columns, "", &format!("Subset: {}.", statement.subset));
    paragraph(&mut out, columns, "", statement.source);
    paragraph(&mut out, columns, "", STATUSES);
    for table in &statement.tables {
        out.push('\n');
        paragraph(&mut out, columns, "", &heading(table));
        let width = table.features.iter().map(|feature| feature.feature.len()).max().unwrap_or(0);
        for feature in &table.features {
            let start = format!("  {:<4}  {:width$}  ", feature.status.word(), feature.feature);
            paragraph(&mut out, columns, &start, &described(feature));
        }
    }
    section(&mut out, "Choices of the implementer", statement.choices.is_empty());
    for choice in &statement.choices {
        let place = place(choice.clause, choice.tables);
        paragraph(&mut out, columns, "  ", &format!("{} ({place}): {}", choice.id, choice.topic));
        paragraph(&mut out, columns, "      ", choice.choice);
        paragraph(&mut out, columns, "      ", &format!("Reason: {}", choice.reason));
    }
    section(&mut out, "Errors and their time of report", statement.errors.is_empty());
    for error in &statement.errors {
        paragraph(
            &mut out,
            columns,
            "  ",
            &format!("{} (clause {}): {}", error.id, error.clause, error.condition),
        );
        paragraph(&mut out, columns, "      ", &format!("At {}: {}", error.when, error.reaction));
    }
    section(&mut out, "Extensions", statement.extensions.is_empty());
    for extension in &statement.extensions {
        let start = format!("{} (clause {}): {}", extension.id, extension.clause, extension.extension);
        paragraph(&mut out, columns, "  ", &start);
        paragraph(&mut out, columns, "      ", &format!("Without it: {}", extension.instead));
    }
    out
}

fn heading(table: &Table) -> String {
    let (provided, applicable) = table.provided();
    let count =
        if applicable == 0 { "graphic only".to_owned() } else { format!("{provided} of {applicable}") };
    let memory = if table.sure { "" } else { "; numbers unsure" };
    format!("Table {} {} (clause {}{memory}): {count}", table.table, table.title, table.clause)
}

fn described(feature: &Feature) -> String {
    let note = if feature.note.is_empty() { String::new() } else { format!(" ({})", feature.note) };
    match feature.status {
        Status::Yes | Status::Part => format!("{}{note} [{}]", feature.title, feature.languages),
        Status::No | Status::NotApplicable => format!("{}{note}", feature.title),
    }
}

fn place(clause: &str, tables: &str) -> String {
    let mut place = format!("clause {clause}");
    for table in tables.split_whitespace() {
        // Writing to a string cannot fail, here and below.
        let _ = write!(place, ", Table {table}");
    }
    place
}

fn section(out: &mut String, title: &str, empty: bool) {
    if !empty {
        let _ = write!(out, "\n{title}\n\n");
    }
}

/// Adds words, wrapped; the first line begins with `start`, the others with as many blanks.
fn paragraph(out: &mut String, columns: usize, start: &str, words: &str) {
    let indent = start.chars().count();
    let mut used = indent;
    out.push_str(start);
    for (number, word) in words.split_whitespace().enumerate() {
        let width = word.chars().count();
        if number > 0 {
            if used + 1 + width > columns {
                out.push('\n');
                out.extend(std::iter::repeat_n(' ', indent));
                used = indent;
            } else {
                out.push(' ');
                used += 1;
            }
        }
        out.push_str(word);
        used += width;
    }
    out.push('\n');
}

/// The statement as a Markdown document.
pub fn markdown(statement: &Statement) -> String {
    let mut out = format!("# {} {}: compliance statement\n\n", statement.product, statement.version);
    for line in [statement.standard, statement.subset, statement.source, STATUSES] {
        let _ = write!(out, "{}\n\n", escaped(line));
    }
    for table in &statement.tables {
        let _ = write!(out, "## {}\n\n", escaped(&heading(table)));
        rows(
            &mut out,
            &["Feature", "Title", "Languages", "Provided", "Note"],
            table.features.iter().map(|feature| {
                vec![feature.feature, feature.title, feature.languages, feature.status.word(), feature.note]
            }),
        );
    }
    if !statement.choices.is_empty() {
        out.push_str("## Choices of the implementer\n\n");
        let header = ["Id", "Clause", "Tables", "Topic", "Choice", "Reason"];
        rows(
            &mut out,
            &header,
            statement.choices.iter().map(|choice| {
                vec![choice.id, choice.clause, choice.tables, choice.topic, choice.choice, choice.reason]
            }),
        );
    }
    if !statement.errors.is_empty() {
        out.push_str("## Errors\n\n");
        let header = ["Id", "Clause", "Condition", "Reported at", "Reaction"];
        rows(
            &mut out,
            &header,
            statement
                .errors
                .iter()
                .map(|error| vec![error.id, error.clause, error.condition, error.when, error.reaction]),
        );
    }
    if !statement.extensions.is_empty() {
        out.push_str("## Extensions\n\n");
        let header = ["Id", "Clause", "Extension", "Without it"];
        rows(
            &mut out,
            &header,
            statement.extensions.iter().map(|extension| {
                vec![extension.id, extension.clause, extension.extension, extension.instead]
            }),
        );
    }
    out
}

fn rows<'a>(out: &mut String, header: &[&str], rows: impl Iterator<Item = Vec<&'a str>>) {
    let _ = write!(out, "| {} |\n|{}\n", header.join(" | "), " --- |".repeat(header.len()));
    for row in rows {
        let cells: Vec<String> = row.into_iter().map(escaped).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    out.push('\n');
}

/// Signs that Markdown would take for its own.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(character, '\\' | '`' | '*' | '_' | '|' | '<' | '>' | '[' | ']' | '#' | '$' | '~') {
            out.push('\\');
        }
        out.push(character);
    }
    out
}
