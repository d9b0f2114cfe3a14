//! Interned names: letter case does not matter in identifiers (IEC 61131-3:2013, 6.1.2), so two spellings
//! of one name become one [`Name`] and compare as one number.

use std::collections::HashMap;

/// Longest identifier folded without an allocation, in bytes.
const FOLDED_MAX: usize = 48;

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
        if let Some(name) = self.find(spelling) {
            return name;
        }
        let name = Name(self.spellings.len() as u32);
        self.spellings.push(spelling.into());
        self.by_folded.insert(spelling.to_ascii_uppercase().into(), name);
        name
    }

    /// The name of an identifier if it has occurred.
    pub fn find(&self, spelling: &str) -> Option<Name> {
        // Asked for every identifier of a text: words of usual length are folded without an allocation.
        let mut buffer = [0u8; FOLDED_MAX];
        let folded = buffer.get_mut(..spelling.len()).and_then(|folded| {
            folded.copy_from_slice(spelling.as_bytes());
            folded.make_ascii_uppercase();
            std::str::from_utf8(folded).ok()
        });
        match folded {
            Some(folded) => self.by_folded.get(folded).copied(),
            None => self.by_folded.get(spelling.to_ascii_uppercase().as_str()).copied(),
        }
    }

    /// The text of a name as it was first written.
    pub fn spelling(&self, name: Name) -> &str {
        &self.spellings[name.0 as usize]
    }
}
