//! What of IEC 61131-3:2013 is there: the implementer's compliance statement that its clause 5 asks for.
//!
//! The data are tables of text beside this file, one record a line: `tables.txt`, `features.txt`, `choices.txt`,
//! `errors.txt` and `extensions.txt`. They are part of the program, so that the statement is at hand offline. The
//! corpus of the tests is tied to them: a feature is stated as provided only if a program shows it. Table and
//! feature numbers are written from memory of the standard's text.
//!
//! This module must not know how anything is compiled, nor how the statement is printed.

mod records;
mod render;

use serde::Serialize;

pub use render::{markdown, text};

/// How far a feature is provided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// As the standard has it.
    Yes,
    /// With limits that its note tells.
    Part,
    /// Not provided.
    No,
    /// Of the graphic languages only, which are no part of the declared subset.
    #[serde(rename = "not applicable")]
    NotApplicable,
}

impl Status {
    /// The word of the statement.
    pub fn word(self) -> &'static str {
        match self {
            Status::Yes => "yes",
            Status::Part => "part",
            Status::No => "no",
            Status::NotApplicable => "n/a",
        }
    }
}

/// A row of a feature table.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Feature {
    /// Number of the table.
    pub table: u16,
    /// Number of the feature in its table, `2a`; a word where we take rows together.
    pub feature: &'static str,
    /// What it is.
    pub title: &'static str,
    /// Languages in which it is provided, or would be.
    pub languages: &'static str,
    /// How far it is provided.
    pub status: Status,
    /// Whether the feature has a wrong use that must be refused.
    #[serde(skip)]
    pub refusal: bool,
    /// What the implementer adds.
    #[serde(skip_serializing_if = "str::is_empty")]
    pub note: &'static str,
}

impl Feature {
    /// Table and feature, `3-2a`.
    pub fn id(&self) -> String {
        format!("{}-{}", self.table, self.feature)
    }
}

/// A feature table of the standard.
#[derive(Clone, Debug, Serialize)]
pub struct Table {
    /// Its number.
    pub table: u16,
    /// Its title.
    pub title: &'static str,
    /// The clause it stands in.
    pub clause: &'static str,
    /// Whether the numbers of its features are remembered well.
    pub sure: bool,
    /// Its rows.
    pub features: Vec<Feature>,
}

impl Table {
    /// How many of its features are provided, wholly or in part, and how many there are beside the graphic ones.
    pub fn provided(&self) -> (usize, usize) {
        let applicable = self.features.iter().filter(|feature| feature.status != Status::NotApplicable);
        let provided = applicable.clone().filter(|feature| feature.status != Status::No);
        (provided.count(), applicable.count())
    }
}

/// What the standard leaves to the implementer, and how it is decided here.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Choice {
    /// Our name for it.
    pub id: &'static str,
    /// Numbers of the tables it belongs to, separated by blanks.
    pub tables: &'static str,
    /// The clause of the standard.
    pub clause: &'static str,
    /// What is to be chosen.
    pub topic: &'static str,
    /// What is chosen.
    pub choice: &'static str,
    /// Why.
    pub reason: &'static str,
}

/// An error of the standard's clauses, when it is reported and what happens then.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ErrorCondition {
    /// Our name for it.
    pub id: &'static str,
    /// The clause of the standard.
    pub clause: &'static str,
    /// What is wrong.
    pub condition: &'static str,
    /// `preparation` (before the program runs), `run`, or both.
    pub when: &'static str,
    /// What is done about it.
    pub reaction: &'static str,
}

/// What is accepted beyond the standard.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Extension {
    /// Our name for it.
    pub id: &'static str,
    /// The clause of the standard it goes beyond.
    pub clause: &'static str,
    /// What is accepted.
    pub extension: &'static str,
    /// How to do without.
    pub instead: &'static str,
}

/// The statement, whole or of one table.
#[derive(Clone, Debug, Serialize)]
pub struct Statement {
    /// Name of the product.
    pub product: &'static str,
    /// Version of the product.
    pub version: &'static str,
    /// The standard and its edition.
    pub standard: &'static str,
    /// The declared subset.
    pub subset: &'static str,
    /// What the reader should know of the numbers.
    pub source: &'static str,
    /// The feature tables.
    pub tables: Vec<Table>,
    /// The choices of the implementer.
    pub choices: Vec<Choice>,
    /// The errors; none in the statement of one table.
    pub errors: Vec<ErrorCondition>,
    /// The extensions; none in the statement of one table.
    pub extensions: Vec<Extension>,
}

impl Statement {
    /// Everything.
    pub fn whole() -> Self {
        Statement {
            product: "Latchwork",
            version: env!("CARGO_PKG_VERSION"),
            standard: "IEC 61131-3:2013 (edition 3.0)",
            subset: "Structured Text (ST), Instruction List (IL), textual Sequential Function Charts (SFC), \
                     configurations and the common elements; no graphic language",
            source: "Numbers of tables and features are written from memory of the standard's text; those of a \
                     table marked as unsure may differ from the printed ones.",
            tables: tables(),
            choices: choices().collect(),
            errors: errors().collect(),
            extensions: extensions().collect(),
        }
    }

    /// One table and the choices that belong to it; nothing if the standard has no such table.
    pub fn of_table(number: u16) -> Option<Self> {
        let mut statement = Statement::whole();
        statement.tables.retain(|table| table.table == number);
        statement.choices.retain(|choice| choice.tables.split(' ').any(|table| table.parse() == Ok(number)));
        statement.errors.clear();
        statement.extensions.clear();
        (!statement.tables.is_empty()).then_some(statement)
    }

    /// One JSON document.
    pub fn json(&self) -> String {
        // Text and numbers only: nothing that has no JSON.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }
}

/// The feature tables in the order of their numbers.
pub fn tables() -> Vec<Table> {
    let features: Vec<Feature> = features().collect();
    records::rows::<4>(include_str!("tables.txt"))
        .map(|[number, title, clause, memory]| {
            let table = number.parse().unwrap_or_default();
            let features = features.iter().filter(|feature| feature.table == table).copied().collect();
            Table { table, title, clause, sure: memory == "sure", features }
        })
        .collect()
}

/// All features in the order of the tables.
pub fn features() -> impl Iterator<Item = Feature> {
    records::rows::<7>(include_str!("features.txt")).map(
        |[table, feature, title, languages, status, refusal, note]| Feature {
            table: table.parse().unwrap_or_default(),
            feature,
            title,
            languages,
            // A misspelt status is stated as not provided; a test notices it.
            status: match status {
                "yes" => Status::Yes,
                "part" => Status::Part,
                "na" => Status::NotApplicable,
                _ => Status::No,
            },
            refusal: refusal == "refuse",
            note,
        },
    )
}

/// The choices of the implementer, in the order of the clauses.
pub fn choices() -> impl Iterator<Item = Choice> {
    records::rows::<6>(include_str!("choices.txt")).map(|[id, tables, clause, topic, choice, reason]| {
        Choice { id, tables, clause, topic, choice, reason }
    })
}

/// The errors of the standard's clauses.
pub fn errors() -> impl Iterator<Item = ErrorCondition> {
    records::rows::<5>(include_str!("errors.txt")).map(|[id, clause, condition, when, reaction]| {
        ErrorCondition { id, clause, condition, when, reaction }
    })
}

/// What is accepted beyond the standard.
pub fn extensions() -> impl Iterator<Item = Extension> {
    records::rows::<4>(include_str!("extensions.txt")).map(|[id, clause, extension, instead]| Extension {
        id,
        clause,
        extension,
        instead,
    })
}

#[cfg(test)]
mod tests;
