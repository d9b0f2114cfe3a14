//! From the name a program uses to a row of the function table.
//!
//! Source: IEC 61131-3:2013, Table 21 (overloaded and typed functions) and Table 22 (names of conversions).
//! `ADD` is the row itself; `ADD_INT` is the row `ADD` with INT for its generic type; conversions are found by
//! the form of their name. Only names that work are found.

use latchwork_vm::ElementaryType;

use crate::{
    definition::{FunctionDefinition, Lowering},
    functions::{conversion::conversion, row},
};

/// A function found by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Resolved {
    /// Its row.
    pub definition: &'static FunctionDefinition,
    /// The type a typed name (`ADD_INT`) demands for the generic type.
    pub typed: Option<ElementaryType>,
    /// The source type a conversion's name demands (`INT_TO_REAL`); `None` in `TO_REAL` and `TRUNC`.
    pub from: Option<ElementaryType>,
    /// The target type a conversion's name gives; `None` in `TRUNC`, which takes it from the context (without
    /// one: DINT for a REAL, LINT for an LREAL).
    pub to: Option<ElementaryType>,
}

impl Resolved {
    fn plain(definition: &'static FunctionDefinition) -> Self {
        Self { definition, typed: None, from: None, to: None }
    }
}

/// The standard function with this name, in any case of letters.
pub fn function(name: &str) -> Option<Resolved> {
    // No name is longer; this also keeps the search below short whatever the caller passes.
    if name.len() > 64 || !name.is_ascii() {
        return None;
    }
    // A star is not a letter of any name, so the rows of conversions are not found this way.
    if let Some(definition) = row(name).filter(|_| !name.contains('*')) {
        return Some(Resolved::plain(definition));
    }
    // The others are joined from several words.
    if !name.contains('_') {
        return None;
    }
    let upper = name.to_ascii_uppercase();
    conversion_by_name(&upper).or_else(|| typed_by_name(&upper))
}

/// `ADD_INT`: the name of a row with a generic type, then a type of its class. Type names may contain
/// underscores themselves, so every split is tried.
fn typed_by_name(upper: &str) -> Option<Resolved> {
    upper.match_indices('_').find_map(|(at, _)| {
        let ty = ElementaryType::from_name(&upper[at + 1..])?;
        let definition = row(&upper[..at])?;
        let class = definition.generic_class()?;
        class.accepts(ty).then_some(Resolved { typed: Some(ty), ..Resolved::plain(definition) })
    })
}

/// `INT_TO_REAL`, `TO_REAL`, `REAL_TRUNC_INT`, `TRUNC_INT`.
fn conversion_by_name(upper: &str) -> Option<Resolved> {
    for (word, truncate, typed_row, open_row) in
        [("TO_", false, "*_TO_*", "TO_*"), ("TRUNC_", true, "*_TRUNC_*", "TRUNC_*")]
    {
        if let Some(to) = upper.strip_prefix(word).and_then(ElementaryType::from_name) {
            let offered = ElementaryType::ALL.iter().any(|from| conversion(*from, to, truncate).is_some());
            return offered
                .then(|| row(open_row))
                .flatten()
                .map(|definition| Resolved { to: Some(to), ..Resolved::plain(definition) });
        }
        let found = upper.match_indices(word).find_map(|(at, _)| {
            let from = ElementaryType::from_name(upper[..at].strip_suffix('_')?)?;
            let to = ElementaryType::from_name(&upper[at + word.len()..])?;
            conversion(from, to, truncate)?;
            let definition = row(typed_row)?;
            Some(Resolved { from: Some(from), to: Some(to), ..Resolved::plain(definition) })
        });
        if found.is_some() {
            return found;
        }
    }
    None
}

impl FunctionDefinition {
    /// Whether this is a row of conversions, whose names are made by a rule.
    pub fn is_conversion(&self) -> bool {
        matches!(self.lowering, Lowering::Convert { .. })
    }
}
