//! Finding an entry whose name is not known exactly.

use std::sync::LazyLock;

use latchwork_stdlib::{BlockDefinition, FunctionDefinition, blocks, conversion, functions};
use latchwork_vm::ElementaryType;

use super::overview::{Group, groups};

/// Every name that may be called: rows, typed names, conversions, blocks.
pub(super) fn all() -> Vec<String> {
    let mut names: Vec<String> =
        functions().map(|row| row.name.to_owned()).filter(|name| !name.contains('*')).collect();
    names.extend(blocks().map(|block| block.name.to_owned()));
    for row in functions() {
        names.extend(typed_names(row));
    }
    names.extend_from_slice(conversions());
    names
}

/// The names of all conversions, which are made by a rule and stand in no row.
pub(crate) fn conversions() -> &'static [String] {
    static NAMES: LazyLock<Vec<String>> = LazyLock::new(|| {
        let mut names = Vec::new();
        for to in ElementaryType::ALL {
            for from in ElementaryType::ALL {
                for (word, truncate) in [("TO", false), ("TRUNC", true)] {
                    if conversion(*from, *to, truncate).is_some() {
                        names.push(format!("{}_{word}_{}", short(*from), short(*to)));
                        names.push(format!("{word}_{}", short(*to)));
                    }
                }
            }
        }
        names
    });
    &NAMES
}

/// The name of a type as names of functions have it.
pub(super) fn short(ty: ElementaryType) -> &'static str {
    match ty {
        ElementaryType::TimeOfDay => "TOD",
        ElementaryType::LtimeOfDay => "LTOD",
        ElementaryType::DateAndTime => "DT",
        ElementaryType::LdateAndTime => "LDT",
        _ => ty.name(),
    }
}

/// `ADD_SINT`, `ADD_INT`…: the typed names of a row, as far as they are no rows themselves.
pub(super) fn typed_names(row: &FunctionDefinition) -> Vec<String> {
    let Some(class) = row.generic_class() else { return Vec::new() };
    ElementaryType::ALL
        .iter()
        .filter(|ty| class.accepts(**ty))
        .map(|ty| format!("{}_{}", row.name, short(*ty)))
        .filter(|name| functions().all(|other| other.name != name))
        .filter(|name| latchwork_stdlib::function(name).is_some())
        .collect()
}

/// The name most like one that is none.
pub fn nearest(name: &str) -> Option<String> {
    let names = all();
    // Nothing so long is a slip, and comparing takes the product of the lengths.
    (name.len() <= 64)
        .then(|| crate::nearest::nearest(name, names.iter().map(String::as_str)).map(str::to_owned))
        .flatten()
}

/// The part of the overview that a word leaves: a family whose title has it, or entries whose names or summaries have
/// it, in any case of letters. Empty if nothing does.
pub fn search(word: &str) -> Vec<Group> {
    let wanted = word.trim().to_ascii_lowercase();
    if wanted.is_empty() {
        return Vec::new();
    }
    let has = |text: &str| text.to_ascii_lowercase().contains(&wanted);
    let mut found = groups();
    for group in &mut found {
        if !has(group.title) {
            group.entries.retain(|entry| {
                has(&entry.name) || entry.names.iter().any(|name| has(name)) || has(&entry.summary)
            });
        }
    }
    found.retain(|group| !group.entries.is_empty());
    found
}

/// Other rows of a function that differ in types only.
pub(super) fn siblings(row: &FunctionDefinition) -> Vec<&'static str> {
    let groups = groups();
    let entries = groups.iter().flat_map(|group| &group.entries);
    let mut found = entries.filter(|entry| entry.names.contains(&row.name));
    found
        .next()
        .map_or(Vec::new(), |entry| entry.names.iter().copied().filter(|name| *name != row.name).collect())
}

/// Other names of a block: those with the same code and the same kind of members.
pub(super) fn relatives(block: &BlockDefinition) -> Vec<&'static str> {
    let stem = stem(block.name);
    blocks().map(|other| other.name).filter(|name| *name != block.name && self::stem(name) == stem).collect()
}

/// The name of a block without the type of its values: `CTU` of `CTU_DINT`, but `R_TRIG` as it is.
pub(super) fn stem(name: &'static str) -> &'static str {
    match name.split_once('_') {
        Some((stem, ty)) if ElementaryType::from_name(ty).is_some() => stem,
        _ => name,
    }
}
