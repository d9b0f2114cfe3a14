//! Fragments of the page, each for a row and an interval of scans.
//!
//! Whoever makes them says everything as often as it holds; equal fragments are kept once. Fragments are markup, so whoever
//! makes them escapes the texts of others. When they would take more room than they may, what comes then is left out and
//! counted, and the page says so.

use std::{collections::BTreeMap, ops::Range};

/// Bytes that an interval takes in a page, roughly.
const INTERVAL_BYTES: usize = 16;

/// Fragments for the rows of one recording.
#[derive(Clone, Debug)]
pub(crate) struct Fragments {
    /// A word that tells them from others of the page.
    pub(crate) kind: &'static str,
    /// The heading above them.
    pub(crate) heading: &'static str,
    kept: Vec<String>,
    known: BTreeMap<String, u32>,
    /// By row: from this scan on and before that one, these fragments.
    intervals: BTreeMap<usize, Vec<(u32, u32, Vec<u32>)>>,
    bytes: usize,
    bytes_max: usize,
    /// As many as may be there now, so that the first rows do not take the room of the others.
    allowed: usize,
    left_out: usize,
}

impl Fragments {
    /// None yet, and room for so many bytes.
    pub(crate) fn new(kind: &'static str, heading: &'static str, bytes_max: usize) -> Self {
        let (kept, known, intervals) = Default::default();
        Fragments {
            kind,
            heading,
            kept,
            known,
            intervals,
            bytes: 0,
            bytes_max,
            allowed: bytes_max,
            left_out: 0,
        }
    }

    /// Leaves to the next row its share of the room, with so many rows to come, itself among them.
    pub(super) fn share(&mut self, rows: usize) {
        self.allowed = self.bytes + (self.bytes_max - self.bytes.min(self.bytes_max)) / rows.max(1);
    }

    /// Adds what holds for a row from a scan on and before another one. Intervals of a row come in rising order. `false` if
    /// there is no room.
    pub(super) fn add(
        &mut self,
        row: usize,
        scans: Range<u32>,
        fragments: impl IntoIterator<Item = String>,
    ) -> bool {
        let mut ids = Vec::new();
        for fragment in fragments {
            let id = match self.known.get(&fragment) {
                Some(id) => *id,
                None if self.bytes + fragment.len() > self.allowed => return false,
                None => self.keep(fragment),
            };
            ids.push(id);
        }
        let intervals = self.intervals.entry(row).or_default();
        if let Some((_, until, last)) = intervals.last_mut()
            && *until == scans.start
            && *last == ids
        {
            *until = scans.end;
            return true;
        }
        if self.bytes + INTERVAL_BYTES > self.allowed {
            return false;
        }
        self.bytes += INTERVAL_BYTES;
        intervals.push((scans.start, scans.end, ids));
        true
    }

    fn keep(&mut self, fragment: String) -> u32 {
        // At least a byte each, so fewer than there may be bytes.
        let id = self.kept.len() as u32;
        self.bytes += fragment.len();
        self.known.insert(fragment.clone(), id);
        self.kept.push(fragment);
        id
    }

    /// Counts a row of which not everything has room.
    pub(super) fn leave_out(&mut self) {
        self.left_out += 1;
    }

    /// Whether there are none.
    pub(crate) fn is_empty(&self) -> bool {
        self.intervals.values().all(Vec::is_empty)
    }

    /// Of how many rows not everything had room, and how many bytes there may be.
    pub(crate) fn limit(&self) -> (usize, usize) {
        (self.left_out, self.bytes_max)
    }

    /// The fragments, each once, by number.
    pub(crate) fn kept(&self) -> &[String] {
        &self.kept
    }

    /// The intervals as the text of a data block: an object by row.
    pub(crate) fn json(&self) -> String {
        // Numbers alone, which always can be written.
        serde_json::to_string(&self.intervals).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_fragments_are_kept_once_and_intervals_joined() {
        let mut all = Fragments::new("reasons", "Why", 1_000);
        all.add(3, 0..10, ["<p>a</p>".to_owned()]);
        all.add(3, 10..20, ["<p>a</p>".to_owned()]);
        all.add(3, 20..21, ["<p>b</p>".to_owned(), "<p>a</p>".to_owned()]);
        assert_eq!(all.kept(), ["<p>a</p>", "<p>b</p>"]);
        assert_eq!(all.json(), r#"{"3":[[0,20,[0]],[20,21,[1,0]]]}"#);
    }

    #[test]
    fn a_row_leaves_room_to_the_others() {
        let mut all = Fragments::new("reasons", "Why", 1_000);
        let long = |scan: u32| format!("{scan:0>300}");
        all.share(2);
        let room: Vec<bool> = (0..3).map(|scan| all.add(0, scan..scan + 1, [long(scan)])).collect();
        assert_eq!(room, [true, false, false]);
        all.share(1);
        assert!(all.add(1, 0..1, [long(1)]));
        // What is known already costs an interval alone.
        assert!(all.add(1, 1..2, [long(0)]));
        assert!(all.add(1, 2..3, [long(2)]));
        assert!(!all.add(1, 3..4, [long(3)]));
    }
}
