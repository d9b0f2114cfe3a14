//! The changes of one signal in few bytes.
//!
//! Ten minutes of scans a millisecond apart are 600,000 values of a variable that counts; kept as [`Change`]s they would
//! take 24 MB, here they take 1.4 MB. Changes lie in blocks; a mark in front of each says what its first change refers to,
//! so that a change can be found without reading all in front of it.

use super::encoding::{Form, Reader, folded, put_number, unfolded};
use crate::types::ElementaryType;
use crate::value::Value;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// Most changes of a block: a mark takes as much as some ten changes, and finding a change reads half a block.
const BLOCK_CHANGES: usize = 128;

/// A new value of a signal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Change {
    /// Index into [`super::Trace::scans`] of the first scan with the value.
    pub scan: u32,
    /// The value from then on.
    pub value: Value,
}

/// The changes of a signal in the order of scans. Reads as a sequence of [`Change`]s, and is written as one.
#[derive(Clone, Default, Serialize, Deserialize)]
#[serde(from = "Vec<Change>", into = "Vec<Change>")]
pub struct Changes {
    bytes: Vec<u8>,
    marks: Vec<Mark>,
    len: usize,
    /// Scan of the last change.
    scan: u32,
    /// Value of the last change; of an enumeration the number, of strings nothing.
    bits: u64,
    /// The names that numbers of enumerations had, mostly one each.
    names: BTreeMap<i32, Vec<Option<String>>>,
}

/// Where a block begins.
#[derive(Clone, Copy, Debug)]
struct Mark {
    /// Number of changes in front of it.
    index: usize,
    /// Number of bytes in front of it.
    offset: usize,
    /// Scan of its first change.
    scan: u32,
    form: Form,
}

impl Changes {
    /// No changes.
    #[must_use]
    pub const fn new() -> Self {
        Self { bytes: Vec::new(), marks: Vec::new(), len: 0, scan: 0, bits: 0, names: BTreeMap::new() }
    }

    /// Number of changes.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.len
    }

    /// Whether there are none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Bytes of memory that the changes take, without room kept for further ones.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        self.bytes.len() + size_of_val(self.marks.as_slice())
    }

    /// Appends a change, whether or not it brings another value. A scan in front of the last change counts as that of the
    /// last change. A value must lie in the range of its type, as those made by [`Value::from_bits`] do.
    pub fn push(&mut self, scan: u32, value: &Value) {
        match value {
            Value::String(text) => self.push_text(scan, text),
            Value::WideString(text) => self
                .push_wide_text(scan, &text.iter().flat_map(|unit| unit.to_le_bytes()).collect::<Vec<u8>>()),
            Value::Enumeration { value, name } => self.push_named(scan, *value, name.as_deref()),
            _ => {
                // Only strings have no bits and only enumerations no elementary type.
                let kind = value.elementary_type().unwrap_or(ElementaryType::Bool);
                self.push_bits(scan, kind, value.to_bits().unwrap_or(0));
            }
        }
    }

    /// Appends a value of an elementary type other than a string, by its bits as [`Value::to_bits`] has them.
    #[inline]
    pub(super) fn push_bits(&mut self, scan: u32, kind: ElementaryType, bits: u64) {
        let scans = self.begin(scan, Form::Elementary(kind));
        match kind {
            ElementaryType::Bool => put_number(&mut self.bytes, scans << 1 | bits & 1),
            ElementaryType::Real | ElementaryType::Lreal => {
                put_number(&mut self.bytes, scans);
                let bytes = bits.to_le_bytes();
                let width = if kind == ElementaryType::Real { 4 } else { 8 };
                self.bytes.extend_from_slice(bytes.get(..width).unwrap_or_default());
            }
            _ => {
                put_number(&mut self.bytes, scans);
                // Differences wrap, and so do the sums that undo them.
                put_number(&mut self.bytes, folded(bits.wrapping_sub(self.bits) as i64));
            }
        }
        self.bits = bits;
    }

    /// Appends a STRING.
    pub(super) fn push_text(&mut self, scan: u32, text: &[u8]) {
        let scans = self.begin(scan, Form::Text);
        put_number(&mut self.bytes, scans);
        put_number(&mut self.bytes, text.len() as u64);
        self.bytes.extend_from_slice(text);
    }

    /// Appends a WSTRING, its characters in two bytes each, the low one first.
    pub(super) fn push_wide_text(&mut self, scan: u32, text: &[u8]) {
        let scans = self.begin(scan, Form::WideText);
        put_number(&mut self.bytes, scans);
        put_number(&mut self.bytes, (text.len() / 2) as u64);
        self.bytes.extend_from_slice(text.as_chunks::<2>().0.as_flattened());
    }

    /// Appends a value of an enumeration.
    pub(super) fn push_named(&mut self, scan: u32, value: i32, name: Option<&str>) {
        let scans = self.begin(scan, Form::Named);
        put_number(&mut self.bytes, scans);
        let bits = i64::from(value) as u64;
        put_number(&mut self.bytes, folded(bits.wrapping_sub(self.bits) as i64));
        self.bits = bits;
        let names = self.names.entry(value).or_default();
        let known = names.iter().position(|known| known.as_deref() == name);
        put_number(&mut self.bytes, known.unwrap_or(names.len()) as u64);
        if known.is_none() {
            names.push(name.map(str::to_owned));
        }
    }

    /// Begins a change: the scans since the last one, in the block or a new one.
    #[inline]
    fn begin(&mut self, scan: u32, form: Form) -> u64 {
        let scan = scan.max(self.scan);
        let goes_on =
            self.marks.last().is_some_and(|mark| mark.form == form && self.len - mark.index < BLOCK_CHANGES);
        if !goes_on {
            self.marks.push(Mark { index: self.len, offset: self.bytes.len(), scan, form });
            self.scan = scan;
            self.bits = 0;
        }
        let scans = u64::from(scan - self.scan);
        self.scan = scan;
        self.len += 1;
        scans
    }

    /// The change at an index.
    #[must_use]
    pub fn get(&self, index: usize) -> Option<Change> {
        if index >= self.len {
            return None;
        }
        let block = self.marks.partition_point(|mark| mark.index <= index).checked_sub(1)?;
        let first = self.marks.get(block)?.index;
        self.beginning_with(block).nth(index - first)
    }

    /// The first change.
    #[must_use]
    pub fn first(&self) -> Option<Change> {
        self.iter().next()
    }

    /// The last change.
    #[must_use]
    pub fn last(&self) -> Option<Change> {
        self.get(self.len.checked_sub(1)?)
    }

    /// The change whose value is in force after a scan: the last one up to it.
    #[must_use]
    pub fn in_force(&self, scan: u32) -> Option<Change> {
        let block = self.marks.partition_point(|mark| mark.scan <= scan).checked_sub(1)?;
        self.beginning_with(block).take_while(|change| change.scan <= scan).last()
    }

    /// The changes that belong to scans after this one.
    #[must_use]
    pub fn after(&self, scan: u32) -> ChangesIter<'_> {
        let block = self.marks.partition_point(|mark| mark.scan <= scan).saturating_sub(1);
        let mut found = self.beginning_with(block);
        loop {
            let here = found.clone();
            match found.next() {
                Some(change) if change.scan <= scan => {}
                _ => return here,
            }
        }
    }

    /// All changes.
    #[must_use]
    pub fn iter(&self) -> ChangesIter<'_> {
        self.beginning_with(0)
    }

    /// The changes from a block on.
    fn beginning_with(&self, block: usize) -> ChangesIter<'_> {
        let mark = self.marks.get(block);
        let offset = mark.map_or(self.bytes.len(), |mark| mark.offset);
        ChangesIter {
            reader: Reader { bytes: self.bytes.get(offset..).unwrap_or_default() },
            marks: self.marks.get(block..).unwrap_or_default(),
            names: &self.names,
            index: mark.map_or(self.len, |mark| mark.index),
            len: self.len,
            form: Form::Text,
            scan: 0,
            bits: 0,
        }
    }

    /// Forgets all changes and keeps the memory for further ones.
    pub fn clear(&mut self) {
        self.bytes.clear();
        self.marks.clear();
        self.names.clear();
        (self.len, self.scan, self.bits) = (0, 0, 0);
    }
}

/// The changes of a signal one after the other.
#[derive(Clone, Debug)]
pub struct ChangesIter<'a> {
    reader: Reader<'a>,
    /// The blocks not yet begun.
    marks: &'a [Mark],
    names: &'a BTreeMap<i32, Vec<Option<String>>>,
    /// Index of the next change.
    index: usize,
    len: usize,
    form: Form,
    scan: u32,
    bits: u64,
}

impl ChangesIter<'_> {
    fn value(&mut self, scans: u64) -> Value {
        let reader = &mut self.reader;
        match self.form {
            Form::Elementary(kind) => {
                self.bits = match kind {
                    ElementaryType::Bool => scans & 1,
                    ElementaryType::Real => reader.fixed(4),
                    ElementaryType::Lreal => reader.fixed(8),
                    _ => self.bits.wrapping_add(unfolded(reader.number()) as u64),
                };
                Value::from_bits(self.bits, kind).unwrap_or(Value::Bits(self.bits, kind))
            }
            Form::Text => {
                // Lengths come from slices.
                let length = reader.number() as usize;
                Value::String(reader.take(length).to_vec())
            }
            Form::WideText => {
                let length = reader.number() as usize;
                let units = reader.take(length.saturating_mul(2)).as_chunks::<2>().0;
                Value::WideString(units.iter().map(|unit| u16::from_le_bytes(*unit)).collect())
            }
            Form::Named => {
                self.bits = self.bits.wrapping_add(unfolded(reader.number()) as u64);
                // Cut to the width that it had.
                let value = self.bits as i32;
                let name = reader.number() as usize;
                let name = self.names.get(&value).and_then(|names| names.get(name)).cloned().flatten();
                Value::Enumeration { value, name }
            }
        }
    }
}

impl Iterator for ChangesIter<'_> {
    type Item = Change;

    fn next(&mut self) -> Option<Change> {
        if self.index >= self.len {
            return None;
        }
        if let Some((mark, rest)) = self.marks.split_first()
            && mark.index == self.index
        {
            self.marks = rest;
            (self.form, self.scan, self.bits) = (mark.form, mark.scan, 0);
        }
        self.index += 1;
        let number = self.reader.number();
        let scans = if self.form == Form::Elementary(ElementaryType::Bool) { number >> 1 } else { number };
        // Written from a u32.
        self.scan = self.scan.wrapping_add(scans as u32);
        Some(Change { scan: self.scan, value: self.value(number) })
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        let left = self.len - self.index;
        (left, Some(left))
    }
}

impl ExactSizeIterator for ChangesIter<'_> {}

impl<'a> IntoIterator for &'a Changes {
    type Item = Change;
    type IntoIter = ChangesIter<'a>;

    fn into_iter(self) -> ChangesIter<'a> {
        self.iter()
    }
}

impl Extend<Change> for Changes {
    fn extend<T: IntoIterator<Item = Change>>(&mut self, changes: T) {
        for change in changes {
            self.push(change.scan, &change.value);
        }
    }
}

impl FromIterator<Change> for Changes {
    fn from_iter<T: IntoIterator<Item = Change>>(changes: T) -> Self {
        let mut all = Self::new();
        all.extend(changes);
        all
    }
}

impl From<Vec<Change>> for Changes {
    fn from(changes: Vec<Change>) -> Self {
        changes.into_iter().collect()
    }
}

impl From<Changes> for Vec<Change> {
    fn from(changes: Changes) -> Self {
        changes.iter().collect()
    }
}

impl PartialEq for Changes {
    fn eq(&self, other: &Self) -> bool {
        self.len == other.len && self.iter().eq(other.iter())
    }
}

impl Eq for Changes {}

impl fmt::Debug for Changes {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.debug_list().entries(self.iter()).finish()
    }
}
