//! Pages and the whole library as Markdown.

use std::fmt::Write as _;

use latchwork_vm::ElementaryType;

use super::{
    Picture, find,
    overview::{Group, groups, others},
    page,
    page::{Page, Part},
    rule::rule,
};

/// What stands before the first family.
const INTRODUCTION: &str = include_str!("introduction.md");

/// A page; its heading has so many `#`.
pub fn markdown(page: &Page, level: usize) -> String {
    // Writing to a string cannot fail, here and below.
    let mut out = format!(
        "{} {}\n\n{}. {}\n",
        "#".repeat(level),
        escaped(&page.name),
        capital(&page.kind),
        escaped(&page.summary)
    );
    for section in &page.sections {
        let _ = write!(out, "\n**{}**\n", section.title);
        for part in &section.parts {
            out.push('\n');
            match part {
                Part::Words(words) => out.push_str(&(escaped(words) + "\n")),
                Part::Code(language, code) => {
                    let _ = writeln!(out, "```{language}\n{}\n```", code.trim_end());
                }
                Part::Picture(picture) => {
                    let _ = writeln!(out, "```text\n{}\n```", picture.trim_end());
                }
                Part::Table(headings, rows) => table(&mut out, headings, rows),
            }
        }
    }
    out
}

fn table(out: &mut String, headings: &[&str], rows: &[Vec<String>]) {
    let _ = writeln!(out, "| {} |\n|{}", headings.join(" | "), " --- |".repeat(headings.len()));
    for row in rows {
        // Calls are code, which needs no escapes; a bar would end the cell.
        let cells: Vec<String> = row
            .iter()
            .zip(headings)
            .map(|(cell, heading)| match *heading {
                "Call" | "Operator" if !cell.contains(['|', '`']) => format!("`{cell}`"),
                _ => escaped(cell),
            })
            .collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
}

/// The whole library as one document.
pub fn document(picture: Picture<'_>) -> String {
    let mut out = INTRODUCTION.to_owned();
    out.push_str("\n## Contents\n\n");
    let groups = groups();
    for group in &groups {
        let _ = writeln!(out, "- [{}](#{}) ({})", group.title, anchor(group.title), group.tables);
    }
    for group in &groups {
        let _ = write!(out, "\n## {}\n\n", group.title);
        overview_table(&mut out, group);
        if group.title == "Type conversion" {
            conversions(&mut out);
        }
        for entry in &group.entries {
            // What differs in types only is told once.
            if let Some(entry) = entry.names.first().and_then(|name| find(name)) {
                out.push('\n');
                out.push_str(&markdown(&page(&entry, picture), 3));
            }
        }
    }
    out
}

fn overview_table(out: &mut String, group: &Group) {
    let rows: Vec<Vec<String>> = group
        .entries
        .iter()
        .map(|entry| vec![entry.signature.clone(), format!("{}{}", entry.summary, others(entry))])
        .collect();
    table(out, &["Call", "What it gives"], &rows);
}

/// Which pairs of types there are.
fn conversions(out: &mut String) {
    out.push_str(
        "\nWhich X_TO_Y exist: X at the left, Y at the top. `i` the conversion is implicit too; `n` it keeps the number or \
         rounds it; `b` it takes the bits as they are; `o` another rule, told on its page; a blank: there is no such \
         function.\n\n",
    );
    let types: Vec<ElementaryType> = ElementaryType::ALL
        .iter()
        .copied()
        .filter(|ty| ElementaryType::ALL.iter().any(|other| other != ty && has(*ty, *other)))
        .collect();
    let names: Vec<&str> = types.iter().map(|ty| super::names::short(*ty)).collect();
    let _ = writeln!(out, "| X \\ Y | {} |\n|{}", names.join(" | "), " --- |".repeat(names.len() + 1));
    for from in &types {
        let cells = types.iter().map(|to| mark(*from, *to));
        let _ =
            writeln!(out, "| {} | {} |", super::names::short(*from), cells.collect::<Vec<_>>().join(" | "));
    }
}

fn has(from: ElementaryType, to: ElementaryType) -> bool {
    latchwork_stdlib::conversion(from, to, false).is_some()
        || latchwork_stdlib::conversion(to, from, false).is_some()
}

fn mark(from: ElementaryType, to: ElementaryType) -> &'static str {
    if from == to || latchwork_stdlib::conversion(from, to, false).is_none() {
        return "";
    }
    let words = rule(from, to, false).unwrap_or_default();
    if latchwork_stdlib::implicitly_converts(from, to) {
        "i"
    } else if words.starts_with("Binary") {
        "b"
    } else if from.is_number() && to.is_number() {
        "n"
    } else {
        "o"
    }
}

/// `Function, Table 29`
fn capital(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().into_iter().flat_map(char::to_uppercase).chain(characters.clone()).collect()
}

/// The anchor that a heading gets where Markdown is shown.
fn anchor(title: &str) -> String {
    title.to_lowercase().replace(' ', "-")
}

/// Signs that Markdown would take for its own within a line; an underline within a word is none of them.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(character, '\\' | '`' | '*' | '|' | '<' | '>' | '[' | ']' | '$' | '~') {
            out.push('\\');
        }
        out.push(character);
    }
    out
}
