//! Recording variables of a machine scan by scan.
//!
//! Between two scans most variables keep their values, so the recorder asks as cheaply as it can whether anything changed:
//! it compares the recorded bytes of the data image block by block with what they were, and looks closer only at the
//! variables that lie in words that differ. What nobody records costs nothing.

use super::{Changes, ScanRecord, Signal, SignalKind, Trace};
use crate::access::text_of_bytes;
use crate::machine::Machine;
use crate::program::Program;
use crate::resolve::{Resolved, ResolvedKind};
use crate::types::ElementaryType;

/// Bytes that are compared at one go: enough for the compiler to use the widest registers that a processor has, few
/// enough that scattered variables do not make it compare much else.
const BLOCK_BYTES: usize = 64;
const WORDS: usize = BLOCK_BYTES / 8;

/// A stretch of the data image that holds recorded bytes.
#[derive(Clone, Debug)]
struct Block {
    start: usize,
    /// Which bits are recorded.
    mask: [u64; WORDS],
    /// The recorded bits after the last scan.
    last: [u64; WORDS],
    /// Where in [`Recorder::in_words`] the places of each word begin; behind the last word, where they end.
    places: [u32; WORDS + 1],
}

impl Block {
    /// Whether a recorded bit differs from what it was after the last scan.
    #[inline]
    fn differs(&self, data: &[u8]) -> bool {
        let Some(bytes) = data.get(self.start..).and_then(|bytes| bytes.first_chunk::<BLOCK_BYTES>()) else {
            return self.now(data) != self.last;
        };
        // Without an early end, so that the compiler compares several words by one instruction.
        let words = bytes.as_chunks::<8>().0.iter().zip(&self.mask).zip(&self.last);
        words.fold(0, |differing, ((word, mask), last)| differing | (u64::from_le_bytes(*word) & mask ^ last))
            != 0
    }

    /// The recorded bits; those behind the end of the data image are 0.
    fn now(&self, data: &[u8]) -> [u64; WORDS] {
        let mut bytes = [0; BLOCK_BYTES];
        for (byte, from) in bytes.iter_mut().zip(data.get(self.start..).unwrap_or_default()) {
            *byte = *from;
        }
        let mut now = self.mask;
        for (word, bytes) in now.iter_mut().zip(bytes.as_chunks::<8>().0) {
            *word &= u64::from_le_bytes(*bytes);
        }
        now
    }
}

/// A recorded variable, or a part of one, in a word of a block.
#[derive(Clone, Copy, Debug)]
struct InWord {
    /// Its bits of the word.
    mask: u64,
    /// Index of the place.
    place: u32,
}

/// A recorded variable.
#[derive(Clone, Debug)]
struct Place {
    start: usize,
    /// 0 outside the data image.
    size: usize,
    kind: ResolvedKind,
    /// Number of the scan after which it was looked at last, from 1 on.
    looked: u64,
    /// What its value was then: bits as [`crate::Value::to_bits`] has them, or the characters of a string.
    bits: u64,
    text: Vec<u8>,
}

impl Place {
    /// Appends the value if it is another one, or the first. Other bytes need not be another value: those behind the end
    /// of a string do not count.
    fn look(&mut self, scan: u32, number: u64, machine: &Machine, changes: &mut Changes) -> bool {
        let first = self.looked == 0;
        if self.looked == number {
            // A long string lies in many words.
            return false;
        }
        self.looked = number;
        let end = self.start.saturating_add(self.size);
        let bytes = machine.data().get(self.start..end).unwrap_or_default();
        if let ResolvedKind::String { wide, capacity } = self.kind {
            let text = text_of_bytes(wide, capacity, bytes);
            if text == self.text && !first {
                return false;
            }
            text.clone_into(&mut self.text);
            if wide {
                changes.push_wide_text(scan, text);
            } else {
                changes.push_text(scan, text);
            }
            return true;
        }
        let stored = bytes.iter().rev().fold(0, |stored, byte| stored << 8 | u64::from(*byte));
        // Casts cut to the width of the type and extend the sign.
        let (kind, bits) = match self.kind {
            ResolvedKind::Bit(bit) => (ElementaryType::Bool, stored >> (bit & 7) & 1),
            ResolvedKind::Elementary(kind @ ElementaryType::Bool) => (kind, stored & 1),
            ResolvedKind::Elementary(kind @ ElementaryType::Sint) => (kind, i64::from(stored as i8) as u64),
            ResolvedKind::Elementary(kind @ ElementaryType::Int) => (kind, i64::from(stored as i16) as u64),
            ResolvedKind::Elementary(kind @ ElementaryType::Dint) => (kind, i64::from(stored as i32) as u64),
            ResolvedKind::Elementary(kind) => (kind, stored),
            ResolvedKind::Enumeration(_) => (ElementaryType::Dint, i64::from(stored as i32) as u64),
            ResolvedKind::Reference | ResolvedKind::String { .. } => (ElementaryType::Dword, stored),
        };
        if bits == self.bits && !first {
            return false;
        }
        self.bits = bits;
        if let ResolvedKind::Enumeration(kind) = self.kind {
            let value = bits as i32;
            changes.push_named(scan, value, machine.program().enumeration_name(kind, value));
        } else {
            changes.push_bits(scan, kind, bits);
        }
        true
    }
}

/// Records variables of a machine scan by scan.
#[derive(Clone, Debug)]
pub struct Recorder {
    blocks: Vec<Block>,
    /// What lies in the words of the blocks, word by word.
    in_words: Vec<InWord>,
    places: Vec<Place>,
    trace: Trace,
    /// Number of scans, those that were forgotten too.
    scans: u64,
    /// Number of changes, those that were forgotten too.
    changes: u64,
}

impl Recorder {
    /// A recorder for variables of a program. Variables outside its data image are recorded as 0.
    #[must_use]
    pub fn new(program: &Program, variables: Vec<Resolved>) -> Self {
        let data_bytes = program.image().data.len();
        let mut places = Vec::with_capacity(variables.len());
        let mut signals = Vec::with_capacity(variables.len());
        for variable in variables {
            let start = variable.address as usize;
            let size = variable.kind.bytes();
            let inside = start.saturating_add(size) <= data_bytes;
            let size = if inside { size } else { 0 };
            places.push(Place { start, size, kind: variable.kind, looked: 0, bits: 0, text: Vec::new() });
            signals.push(Signal {
                kind: SignalKind::of(variable.kind),
                name: variable.name,
                location: variable.location,
                section: variable.section,
                changes: Changes::new(),
            });
        }
        let (blocks, in_words) = blocks(&places, data_bytes);
        let trace = Trace { scans: Vec::new(), signals };
        Self { blocks, in_words, places, trace, scans: 0, changes: 0 }
    }

    /// Records the state after a scan. Scans beyond 2^32 - 1 are not recorded.
    pub fn record(&mut self, machine: &Machine, time_ns: i64) {
        let Ok(scan) = u32::try_from(self.trace.scans.len()) else { return };
        self.trace.scans.push(ScanRecord { time_ns, instructions: machine.last_instructions() });
        self.scans += 1;
        let data = machine.data();
        if self.scans == 1 {
            self.record_first(machine);
            return;
        }
        for index in 0..self.blocks.len() {
            if self.blocks.get(index).is_some_and(|block| block.differs(data)) {
                self.look_closer(index, scan, machine);
            }
        }
    }

    /// Looks at everything: the first scan always has a change.
    fn record_first(&mut self, machine: &Machine) {
        for (place, signal) in self.places.iter_mut().zip(&mut self.trace.signals) {
            self.changes += u64::from(place.look(0, self.scans, machine, &mut signal.changes));
        }
        for block in &mut self.blocks {
            block.last = block.now(machine.data());
        }
    }

    /// Looks at the places of which something differs in a block. Kept out of the way of scans that change nothing.
    #[inline(never)]
    fn look_closer(&mut self, index: usize, scan: u32, machine: &Machine) {
        let Some(block) = self.blocks.get_mut(index) else { return };
        let now = block.now(machine.data());
        let differing = now.iter().zip(&block.last).zip(block.places.windows(2));
        for ((now, last), bounds) in differing {
            let [from, to] = bounds else { continue };
            let bits = now ^ last;
            if bits == 0 {
                continue;
            }
            for InWord { mask, place } in self.in_words.get(*from as usize..*to as usize).unwrap_or_default()
            {
                if bits & mask == 0 {
                    continue;
                }
                let place = *place as usize;
                let found = self.places.get_mut(place).zip(self.trace.signals.get_mut(place));
                let Some((place, signal)) = found else { continue };
                self.changes += u64::from(place.look(scan, self.scans, machine, &mut signal.changes));
            }
        }
        block.last = now;
    }

    /// Number of recorded scans that are kept.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.trace.scans.len()
    }

    /// Whether no scan is kept.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.trace.scans.is_empty()
    }

    /// Number of changes found so far, also of those that were forgotten.
    #[must_use]
    pub const fn changes(&self) -> u64 {
        self.changes
    }

    /// What was recorded so far, or since [`Recorder::forget`].
    #[must_use]
    pub const fn trace(&self) -> &Trace {
        &self.trace
    }

    /// Forgets the scans so far and their changes, when they have been handed on. The next scan is the first of the trace
    /// again, but only what it changes is recorded.
    pub fn forget(&mut self) {
        self.trace.scans.clear();
        for signal in &mut self.trace.signals {
            signal.changes.clear();
        }
    }

    /// The recording.
    #[must_use]
    pub fn finish(self) -> Trace {
        self.trace
    }
}

/// Blocks over all bytes of the places, and the places in each of their words.
fn blocks(places: &[Place], data_bytes: usize) -> (Vec<Block>, Vec<InWord>) {
    let spans = places.iter().filter(|place| place.size > 0);
    let mut spans: Vec<(usize, usize)> = spans.map(|place| (place.start, place.start + place.size)).collect();
    spans.sort_unstable();
    let mut blocks: Vec<Block> = Vec::new();
    let mut covered = 0;
    for (start, end) in spans {
        while covered.max(start) < end {
            // A whole block, as long as there are so many bytes.
            let start = covered.max(start).min(data_bytes.saturating_sub(BLOCK_BYTES));
            blocks.push(Block { start, mask: [0; WORDS], last: [0; WORDS], places: [0; WORDS + 1] });
            covered = start + BLOCK_BYTES;
        }
    }
    let mut entries: Vec<(usize, usize, InWord)> = Vec::with_capacity(places.len());
    for (number, place) in (0..).zip(places) {
        let end = place.start + place.size;
        let first = blocks.partition_point(|block| block.start + BLOCK_BYTES <= place.start);
        let reached = blocks.iter_mut().enumerate().skip(first).take_while(|(_, block)| block.start < end);
        for (index, block) in reached {
            for (word, all) in block.mask.iter_mut().enumerate() {
                let mask = mask_of(place, block.start + word * 8);
                if mask != 0 {
                    *all |= mask;
                    entries.push((index, word, InWord { mask, place: number }));
                }
            }
        }
    }
    entries.sort_by_key(|(block, word, _)| (*block, *word));
    for (index, block) in blocks.iter_mut().enumerate() {
        for (word, bound) in block.places.iter_mut().enumerate() {
            // There are fewer entries than bytes in the image, which is smaller than 4 GiB, for each of few places.
            *bound = entries.partition_point(|entry| (entry.0, entry.1) < (index, word)) as u32;
        }
    }
    (blocks, entries.into_iter().map(|(_, _, in_word)| in_word).collect())
}

/// The bits of a place in the eight bytes from `start` on.
fn mask_of(place: &Place, start: usize) -> u64 {
    let bits: u8 = if let ResolvedKind::Bit(bit) = place.kind { 1 << (bit & 7) } else { u8::MAX };
    let here = |byte: &usize| (place.start..place.start + place.size).contains(&(start + byte));
    (0..8).filter(here).fold(0, |mask, byte| mask | u64::from(bits) << (byte * 8))
}
