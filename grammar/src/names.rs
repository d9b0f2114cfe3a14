//! Interned names: letter case does not matter in identifiers (IEC 61131-3:2013, 6.1.2), so two spellings
//! of one name become one [`Name`] and compare as one number.

use std::collections::HashMap;

/// An identifier without its letter case. Compare with `==`; ask [`Names::spelling`] for its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Name(pub u32);

/// The table of all names of one compilation.
#[derive(Clone, Debug, Default)]
pub struct Names {
    spellings: Vec<Box<str>>,
    by_folded: HashMap<Box<str>, Name>,
}

impl Names {
    /// An empty table.
    pub fn new() -> Self {
        Self::default()
    }

    /// The name of an identifier, entered if it is new.
    pub fn intern(&mut self, spelling: &str) -> Name {
        let folded = spelling.to_ascii_uppercase();
        if let Some(name) = self.by_folded.get(folded.as_str()) {
            return *name;
        }
        let name = Name(self.spellings.len() as u32);
        self.spellings.push(spelling.into());
        self.by_folded.insert(folded.into(), name);
        name
    }

    /// The name of an identifier if it has occurred.
    pub fn find(&self, spelling: &str) -> Option<Name> {
        self.by_folded.get(spelling.to_ascii_uppercase().as_str()).copied()
    }

    /// The text of a name as it was first written.
    pub fn spelling(&self, name: Name) -> &str {
        &self.spellings[name.0 as usize]
    }
}
