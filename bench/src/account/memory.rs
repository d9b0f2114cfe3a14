//! The data image after every scan, in few bytes: words of eight bytes, kept when they change.

use std::{collections::BTreeMap, ops::Range};

use latchwork_vm::{Machine, SYSTEM_BYTES};

use super::lane::Lane;

/// Bytes of a word.
const WORD: usize = 8;

/// Bytes that are compared at one go.
const BLOCK: usize = 64;

/// The state over the scans of a run.
#[derive(Clone, Debug, Default)]
pub(super) struct Memory {
    /// In front of the first scan.
    initial: Vec<u8>,
    /// After the last scan.
    last: Vec<u8>,
    /// The words that have changed, by their number.
    words: BTreeMap<u32, Lane>,
}

impl Memory {
    /// In front of the first scan.
    pub(super) fn of(machine: &Machine) -> Self {
        Memory { initial: machine.data().to_vec(), last: machine.data().to_vec(), words: BTreeMap::new() }
    }

    /// Keeps what a scan has changed; how many words those are. Temporaries and the words of the machine itself are no
    /// state.
    pub(super) fn scan(&mut self, scan: u32, machine: &Machine) -> usize {
        let data = machine.data();
        let mut changed = 0;
        for range in machine.program().image().state_ranges() {
            let mut start = range.start.max(SYSTEM_BYTES as usize) / WORD * WORD;
            while start < range.end {
                let block = start..(start + BLOCK).min(range.end);
                if data.get(block.clone()) != self.last.get(block.clone()) {
                    changed += self.block(scan, data, block);
                }
                start += BLOCK;
            }
        }
        changed
    }

    fn block(&mut self, scan: u32, data: &[u8], block: Range<usize>) -> usize {
        let mut changed = 0;
        for start in block.step_by(WORD) {
            let (before, now) = (word(&self.last, start), word(data, start));
            if before == now {
                continue;
            }
            // The machine has no addresses beyond 32 bits.
            self.words.entry((start / WORD) as u32).or_default().set(scan, now);
            let end = (start + WORD).min(data.len());
            if let (Some(target), Some(source)) = (self.last.get_mut(start..end), data.get(start..end)) {
                target.copy_from_slice(source);
            }
            changed += 1;
        }
        changed
    }

    /// Up to eight bytes at an address, the lowest first; `None` beyond the image.
    pub(super) fn value(&self, address: u32, bytes: u32, after: Option<u32>) -> Option<u64> {
        if bytes == 0 || bytes > WORD as u32 || address.checked_add(bytes)? as usize > self.initial.len() {
            return None;
        }
        let index = address / WORD as u32;
        let shift = 8 * (address % WORD as u32);
        let low = self.word(index, after) >> shift;
        let high = if shift == 0 { 0 } else { self.word(index + 1, after) << (64 - shift) };
        let mask = if bytes == WORD as u32 { u64::MAX } else { (1 << (8 * bytes)) - 1 };
        Some((low | high) & mask)
    }

    /// The first scan since which those bytes have been what they are after this one; `None` if they were so in front of
    /// the first scan.
    pub(super) fn since(&self, address: u32, bytes: u32, scan: u32) -> Option<u32> {
        let value = self.value(address, bytes, Some(scan))?;
        let index = address / WORD as u32;
        let end = (address + bytes - 1) / WORD as u32;
        let mut since = scan;
        loop {
            // When one of the words that it lies in changed last.
            let changed =
                (index..=end).filter_map(|word| self.words.get(&word)?.at(since)).map(|(scan, _)| scan);
            let begun = changed.max()?;
            let before = begun.checked_sub(1);
            if self.value(address, bytes, before) != Some(value) {
                return Some(begun);
            }
            since = before?;
        }
    }

    fn word(&self, index: u32, after: Option<u32>) -> u64 {
        let changed = after.and_then(|scan| self.words.get(&index)?.at(scan));
        changed.map_or_else(|| word(&self.initial, index as usize * WORD), |(_, word)| word)
    }
}

/// The word at a place; what lies beyond the end is 0.
fn word(data: &[u8], start: usize) -> u64 {
    let end = (start + WORD).min(data.len());
    let mut bytes = [0; WORD];
    data.get(start..end).unwrap_or_default().iter().zip(&mut bytes).for_each(|(from, to)| *to = *from);
    u64::from_le_bytes(bytes)
}
