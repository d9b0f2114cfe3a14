//! A map from names to what they stand for in a whole program: names are numbers, so that a list does.

use latchwork_grammar::Name;

/// What names stand for, in the order in which the names were met first. Takes memory for every name of a program, so
/// that it is not meant for the names of one unit.
#[derive(Clone, Debug)]
pub(crate) struct NameMap<V> {
    entries: Vec<Option<V>>,
    length: usize,
}

impl<V> Default for NameMap<V> {
    fn default() -> Self {
        NameMap { entries: Vec::new(), length: 0 }
    }
}

impl<V> NameMap<V> {
    /// What a name stands for.
    pub(crate) fn get(&self, name: Name) -> Option<&V> {
        self.entries.get(name.0 as usize)?.as_ref()
    }

    /// Enters what a name stands for from now on.
    pub(crate) fn insert(&mut self, name: Name, value: V) {
        let index = name.0 as usize;
        if index >= self.entries.len() {
            self.entries.resize_with(index + 1, || None);
        }
        if let Some(entry) = self.entries.get_mut(index)
            && entry.replace(value).is_none()
        {
            self.length += 1;
        }
    }

    /// How many names stand for something.
    pub(crate) fn len(&self) -> usize {
        self.length
    }

    /// The names with what they stand for.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (Name, &V)> {
        (0..).zip(&self.entries).filter_map(|(index, entry)| Some((Name(index), entry.as_ref()?)))
    }

    /// The names that stand for something.
    pub(crate) fn keys(&self) -> impl Iterator<Item = Name> {
        self.iter().map(|(name, _)| name)
    }
}
