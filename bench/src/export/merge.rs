//! The changes of several rows in the order of scans.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use latchwork_vm::{
    Value,
    trace::{Change, Changes, ChangesIter},
};

/// The changes of all rows in the order of scans, within a scan in the order of rows.
pub(crate) struct Merge<'a> {
    /// Scan and row of the next change of each row that has one.
    next: BinaryHeap<Reverse<(u32, usize)>>,
    /// For each row its next value and those behind it.
    rows: Vec<(Option<Value>, ChangesIter<'a>)>,
}

impl<'a> Merge<'a> {
    pub(crate) fn new(rows: &[&'a Changes]) -> Self {
        let mut merge = Merge { next: BinaryHeap::with_capacity(rows.len()), rows: Vec::new() };
        for (row, changes) in rows.iter().enumerate() {
            merge.rows.push((None, changes.iter()));
            merge.advance(row);
        }
        merge
    }

    fn advance(&mut self, row: usize) {
        if let Some((value, rest)) = self.rows.get_mut(row)
            && let Some(Change { scan, value: next }) = rest.next()
        {
            *value = Some(next);
            self.next.push(Reverse((scan, row)));
        }
    }

    /// The next change, if it belongs to a scan up to this one.
    pub(super) fn next_until(&mut self, scan: u32) -> Option<(usize, Value)> {
        let Reverse((found, _)) = self.next.peek()?;
        if *found > scan { None } else { self.next().map(|(_, row, value)| (row, value)) }
    }
}

/// Scan, row and value.
impl Iterator for Merge<'_> {
    type Item = (u32, usize, Value);

    fn next(&mut self) -> Option<Self::Item> {
        let Reverse((scan, row)) = self.next.pop()?;
        let value = self.rows.get_mut(row)?.0.take()?;
        self.advance(row);
        Some((scan, row, value))
    }
}
