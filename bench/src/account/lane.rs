//! How something changed from scan to scan.

use latchwork_vm::{Changes, ElementaryType, Value};

/// 64 bits over the scans of a run, in few bytes.
#[derive(Clone, Debug, Default)]
pub(super) struct Lane {
    changes: Changes,
    last: Option<u64>,
}

impl Lane {
    /// The value in this scan and all later ones until another is set.
    pub(super) fn set(&mut self, scan: u32, word: u64) {
        if self.last != Some(word) {
            self.changes.push(scan, &Value::Unsigned(word, ElementaryType::Ulint));
            self.last = Some(word);
        }
    }

    /// The value in a scan, and the first scan since which it is that.
    pub(super) fn at(&self, scan: u32) -> Option<(u32, u64)> {
        self.changes.in_force(scan).map(|change| (change.scan, word(&change.value)))
    }

    /// The stretches up to a scan, latest first: first and last scan, and the value.
    pub(super) fn backwards(&self, scan: u32) -> impl Iterator<Item = (u32, u32, u64)> + '_ {
        let mut end = Some(scan);
        std::iter::from_fn(move || {
            let (start, word) = self.at(end?)?;
            let stretch = (start, end?, word);
            end = start.checked_sub(1);
            Some(stretch)
        })
    }

    /// The first scan behind this one that brings another value.
    pub(super) fn until(&self, scan: u32) -> Option<u32> {
        self.changes.after(scan).next().map(|change| change.scan)
    }

    /// Number of changes.
    pub(super) fn len(&self) -> usize {
        self.changes.len()
    }
}

fn word(value: &Value) -> u64 {
    value.to_bits().unwrap_or_default()
}
