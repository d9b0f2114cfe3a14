//! Why rows have the values they have: fragments of the page, each for a row and an interval of scans.
//!
//! Whoever makes explanations says everything as often as it holds; equal fragments are kept once. Fragments are markup,
//! so whoever makes them escapes the texts of others. When they would take more room than they may, what comes then is left
//! out and counted, and the page says so.

use std::collections::BTreeMap;

/// Most bytes that the fragments of one recording take in a page.
pub const FRAGMENTS_BYTES_MAX: usize = 1_000_000;

/// Bytes that an interval takes in a page, roughly.
const INTERVAL_BYTES: usize = 16;

/// Explanations of the rows of one recording.
#[derive(Clone, Debug, Default)]
pub struct Explanations {
    fragments: Vec<String>,
    known: BTreeMap<String, u32>,
    /// By row: from this scan on and before that one, these fragments.
    intervals: BTreeMap<usize, Vec<(u32, u32, Vec<u32>)>>,
    bytes: usize,
    left_out: usize,
}

impl Explanations {
    /// Explains a row of the recording, by its index, from a scan on and before another one. Intervals of a row come in
    /// rising order.
    pub fn add(
        &mut self,
        row: usize,
        scans: std::ops::Range<u32>,
        fragments: impl IntoIterator<Item = String>,
    ) {
        let mut ids = Vec::new();
        for fragment in fragments {
            let id = match self.known.get(&fragment) {
                Some(id) => *id,
                None if self.bytes + fragment.len() > FRAGMENTS_BYTES_MAX => {
                    self.left_out += 1;
                    return;
                }
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
            return;
        }
        if self.bytes + INTERVAL_BYTES > FRAGMENTS_BYTES_MAX {
            self.left_out += 1;
            return;
        }
        self.bytes += INTERVAL_BYTES;
        intervals.push((scans.start, scans.end, ids));
    }

    fn keep(&mut self, fragment: String) -> u32 {
        // At least a byte each, so fewer than a million.
        let id = self.fragments.len() as u32;
        self.bytes += fragment.len();
        self.known.insert(fragment.clone(), id);
        self.fragments.push(fragment);
        id
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.intervals.is_empty()
    }

    /// How many were left out because there was no room.
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// The fragments, each once, by number.
    pub(super) fn fragments(&self) -> &[String] {
        &self.fragments
    }

    /// The intervals as the text of a data block: an object by row.
    pub(super) fn json(&self) -> String {
        // Numbers alone, which always can be written.
        serde_json::to_string(&self.intervals).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_fragments_are_kept_once_and_intervals_joined() {
        let mut all = Explanations::default();
        all.add(3, 0..10, ["<p>a</p>".to_owned()]);
        all.add(3, 10..20, ["<p>a</p>".to_owned()]);
        all.add(3, 20..21, ["<p>b</p>".to_owned(), "<p>a</p>".to_owned()]);
        assert_eq!(all.fragments(), ["<p>a</p>", "<p>b</p>"]);
        assert_eq!(all.json(), r#"{"3":[[0,20,[0]],[20,21,[1,0]]]}"#);
    }

    #[test]
    fn what_has_no_room_is_counted() {
        let mut all = Explanations::default();
        let long = "x".repeat(FRAGMENTS_BYTES_MAX / 2);
        for scan in 0..4 {
            all.add(0, scan..scan + 1, [format!("{scan}{long}")]);
        }
        assert_eq!((all.fragments().len(), all.left_out()), (1, 3));
        // What is known already costs an interval alone.
        all.add(1, 0..1, [format!("0{long}")]);
        assert_eq!(all.left_out(), 3);
    }
}
