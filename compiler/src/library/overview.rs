//! The library at a glance: families, and in each one line for what belongs together.

use latchwork_stdlib::{BlockDefinition, FunctionDefinition, block_families, blocks, families};
use latchwork_vm::ElementaryType;

use super::{declaration, names::stem, text::Setter};

/// Entries that belong together.
#[derive(Clone, Debug)]
pub struct Group {
    /// What they are.
    pub title: &'static str,
    /// The tables of the standard they stand in: `Table 43`.
    pub tables: String,
    /// The entries.
    pub entries: Vec<Folded>,
}

/// One line of the overview: a function or block, or several that differ in their types only.
#[derive(Clone, Debug)]
pub struct Folded {
    /// What it is called in the overview: `LIMIT`, `X_BCD_TO_Y`.
    pub name: String,
    /// In few words: `LIMIT(MN, IN, MX)`.
    pub signature: String,
    /// One line about it.
    pub summary: String,
    /// All names folded into it, rows of the tables.
    pub names: Vec<&'static str>,
}

/// The whole library.
pub fn groups() -> Vec<Group> {
    let functions = families().iter().map(|family| {
        let mut entries: Vec<(String, Vec<&FunctionDefinition>)> = Vec::new();
        for row in family.rows {
            let key = key(row.name);
            match entries.iter_mut().find(|(known, _)| *known == key) {
                Some((_, rows)) => rows.push(row),
                None => entries.push((key, vec![row])),
            }
        }
        Group {
            title: family.title,
            tables: tables(family.rows.iter().map(|row| row.clause)),
            entries: entries.into_iter().map(|(key, rows)| folded(&key, &rows)).collect(),
        }
    });
    let blocks = block_families().iter().map(|family| {
        let mut entries: Vec<(&str, Vec<&BlockDefinition>)> = Vec::new();
        for block in blocks().filter(|block| block.clause == family.clause) {
            match entries.iter_mut().find(|(known, _)| *known == stem(block.name)) {
                Some((_, rows)) => rows.push(block),
                None => entries.push((stem(block.name), vec![block])),
            }
        }
        let folded = entries.into_iter().filter_map(|(stem, rows)| {
            let first = rows.first()?;
            Some(Folded {
                name: stem.to_owned(),
                signature: declaration::short_block(stem, first),
                summary: first.summary.to_owned(),
                names: rows.iter().map(|row| row.name).collect(),
            })
        });
        Group { title: family.title, tables: family.clause.to_owned(), entries: folded.collect() }
    });
    functions.chain(blocks).collect()
}

/// What a name has in common with those of other types: `*_BCD_TO_*`, and `ADD_TOD_TIME` for the long times too.
fn key(name: &str) -> String {
    let words = name.split('_').map(|word| match ElementaryType::from_name(word) {
        Some(ty) if ty.is_bit() || ty.is_number() => "*",
        Some(ty) if ty.is_duration() || ty.is_date() || word.ends_with("TOD") || word.ends_with("DT") => {
            word.strip_prefix('L').unwrap_or(word)
        }
        _ => word,
    });
    words.collect::<Vec<_>>().join("_")
}

fn folded(key: &str, rows: &[&FunctionDefinition]) -> Folded {
    let names: Vec<&'static str> = rows.iter().map(|row| row.name).collect();
    let first = rows.first();
    let stars = |text: &str| match text.matches('*').count() {
        0 => text.to_owned(),
        1 => text.replace('*', "Y"),
        _ => text.replacen('*', "X", 1).replace('*', "Y"),
    };
    let name = match names[..] {
        [_, ..] if key.contains('*') => stars(key),
        [first, ..] => first.to_owned(),
        [] => String::new(),
    };
    let summary = first.map_or(String::new(), |row| summary(row));
    let signature = first.map_or(name.clone(), |row| declaration::short(&name, row));
    Folded { name, signature, summary, names }
}

/// The summary of a row without its own name at the end, which says there what it stands for.
pub(super) fn summary(row: &FunctionDefinition) -> String {
    let own = format!(": {}.", row.name);
    row.summary.strip_suffix(own.as_str()).map_or(row.summary.to_owned(), |start| format!("{start}."))
}

fn tables<'t>(clauses: impl Iterator<Item = &'t str>) -> String {
    let mut seen: Vec<&str> = Vec::new();
    for clause in clauses {
        if !seen.contains(&clause) {
            seen.push(clause);
        }
    }
    let numbers: Vec<&str> = seen.iter().map(|clause| clause.trim_start_matches("Table ")).collect();
    format!("Table{} {}", if numbers.len() == 1 { "" } else { "s" }, numbers.join(", "))
}

/// The groups as text for a terminal. In the brief form every entry has one line, and what has no room is left out.
pub fn overview(groups: &[Group], columns: usize, colour: bool, brief: bool) -> String {
    let mut out = Setter::new(columns, colour);
    for (index, group) in groups.iter().enumerate() {
        if index > 0 {
            out.blank();
        }
        out.heading(&format!("{} ({})", group.title, group.tables));
        let widths = group.entries.iter().map(|entry| entry.signature.chars().count());
        let width = widths.filter(|width| *width <= 30).max().unwrap_or(0);
        for entry in &group.entries {
            if brief {
                out.line(&entry.signature, width, &entry.summary);
            } else {
                out.described(&entry.signature, width, &format!("{}{}", entry.summary, others(entry)));
            }
        }
    }
    out.finish()
}

/// The names that an entry does not show.
pub(super) fn others(entry: &Folded) -> String {
    let others: Vec<&str> = entry.names.iter().copied().filter(|name| *name != entry.name).collect();
    match others[..] {
        [] => String::new(),
        // The name of a rule for names is no name itself, but says how they are made.
        [only] if only.contains('*') => String::new(),
        [first, second, .., last] if others.len() > 7 => {
            format!(" Names: {first}, {second} and so on to {last}.")
        }
        _ if entry.names.contains(&entry.name.as_str()) => format!(" Also {}.", others.join(", ")),
        _ => format!(" Names: {}.", others.join(", ")),
    }
}
