//! The values of rows in few bytes, in the order of scans, for a script to read.
//!
//! Numbers are varints: seven bits a byte, the lowest first, the highest bit set where more follow. A row is the scans of its
//! changes, each as the distance from the one before, then its values. Two levels alternate, so that the first is all there
//! is. Whole numbers, times and the bits of reals are differences from what was to be expected: the value before, or the
//! value that goes on from the two before it, whichever takes fewer bytes. Everything else is a number in a list of texts.
//! All arithmetic is that of 64 bits and wraps.

use std::collections::BTreeMap;

use latchwork_vm::{
    trace::{Changes, SignalKind},
    value::Value,
};

use crate::diagram::words::value_text;

/// How the values of a row are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// Two levels, of which this is the first.
    Levels { first: bool },
    /// Numbers, expected to be equal to the one before or to go on evenly.
    Numbers { evenly: bool },
    /// Texts by their number.
    Texts(Vec<String>),
}

/// A row, written.
#[derive(Clone, Debug)]
pub(super) struct Stream {
    pub(super) form: Form,
    /// Number of values.
    pub(super) count: usize,
    pub(super) bytes: Vec<u8>,
}

/// Writes the changes of a row. Those that bring no other value are left out.
pub(super) fn stream(kind: SignalKind, changes: &Changes) -> Stream {
    let mut writer = Writer::new(kind);
    changes.iter().for_each(|change| writer.change(change.scan, &change.value));
    writer.finish()
}

/// The times of scans as numbers.
pub(super) fn times(times_ns: impl Iterator<Item = i64>) -> Vec<u8> {
    let mut expected = Expected { evenly: true, ..Expected::default() };
    let mut bytes = Vec::new();
    times_ns.for_each(|time_ns| expected.put(&mut bytes, time_ns as u64));
    bytes
}

/// Appends a varint.
pub(super) fn put(bytes: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        // Cut to the low seven bits.
        bytes.push(number as u8 | 0x80);
        number >>= 7;
    }
    bytes.push(number as u8);
}

/// Numbers as their difference from what was to be expected.
#[derive(Clone, Copy, Debug, Default)]
struct Expected {
    evenly: bool,
    last: u64,
    before: u64,
    count: usize,
}

impl Expected {
    fn put(&mut self, bytes: &mut Vec<u8>, number: u64) {
        let expected = match self.count {
            // From the second difference on there is a slope.
            2.. if self.evenly => self.last.wrapping_mul(2).wrapping_sub(self.before),
            _ => self.last,
        };
        let difference = number.wrapping_sub(expected) as i64;
        // Small numbers for small differences of either sign: 0, -1, 1, -2…
        put(bytes, (difference << 1) as u64 ^ (difference >> 63) as u64);
        (self.before, self.last) = (self.last, number);
        self.count += 1;
    }
}

struct Writer {
    kind: SignalKind,
    scans: Vec<u8>,
    last_scan: u32,
    count: usize,
    last: Option<Value>,
    first_level: bool,
    /// The same values under either expectation.
    equal: (Expected, Vec<u8>),
    evenly: (Expected, Vec<u8>),
    texts: Vec<String>,
    known: BTreeMap<String, u64>,
    numbers: Vec<u8>,
}

impl Writer {
    fn new(kind: SignalKind) -> Self {
        Writer {
            kind,
            scans: Vec::new(),
            last_scan: 0,
            count: 0,
            last: None,
            first_level: false,
            equal: (Expected::default(), Vec::new()),
            evenly: (Expected { evenly: true, ..Expected::default() }, Vec::new()),
            texts: Vec::new(),
            known: BTreeMap::new(),
            numbers: Vec::new(),
        }
    }

    fn change(&mut self, scan: u32, value: &Value) {
        // The zeros of reals are equal and read differently.
        if self.last.as_ref().is_some_and(|last| last == value && last.to_bits() == value.to_bits()) {
            return;
        }
        put(&mut self.scans, u64::from(scan.saturating_sub(self.last_scan)));
        self.last_scan = scan;
        if self.count == 0 {
            self.first_level = *value == Value::Bool(true);
        }
        self.count += 1;
        self.last = Some(value.clone());
        if self.kind == SignalKind::Bool {
            return;
        }
        if is_number(self.kind) {
            // Signs are extended; only strings have none.
            let bits = value.to_bits().unwrap_or(0);
            self.equal.0.put(&mut self.equal.1, bits);
            self.evenly.0.put(&mut self.evenly.1, bits);
            return;
        }
        let text = value_text(value);
        let next = self.texts.len() as u64;
        let number = *self.known.entry(text).or_insert_with_key(|text| {
            self.texts.push(text.clone());
            next
        });
        put(&mut self.numbers, number);
    }

    fn finish(self) -> Stream {
        let mut bytes = self.scans;
        let form = match self.kind {
            SignalKind::Bool => Form::Levels { first: self.first_level },
            kind if is_number(kind) => {
                let evenly = self.evenly.1.len() < self.equal.1.len();
                bytes.extend(if evenly { self.evenly.1 } else { self.equal.1 });
                Form::Numbers { evenly }
            }
            _ => {
                bytes.extend(self.numbers);
                Form::Texts(self.texts)
            }
        };
        Stream { form, count: self.count, bytes }
    }
}

/// Whether the values are written as numbers, whose texts the script makes.
fn is_number(kind: SignalKind) -> bool {
    matches!(
        kind,
        SignalKind::Signed(_)
            | SignalKind::Unsigned(_)
            | SignalKind::Bits(_)
            | SignalKind::Real
            | SignalKind::Lreal
            | SignalKind::Duration
    )
}

#[cfg(test)]
mod tests {
    use latchwork_vm::types::ElementaryType;
    use proptest::prelude::*;

    use super::*;

    /// Reads varints back as a reader of its own would.
    fn numbers(mut bytes: &[u8]) -> Vec<u64> {
        let mut all = Vec::new();
        while !bytes.is_empty() {
            let mut number = 0;
            for (place, byte) in bytes.iter().enumerate() {
                number |= u64::from(byte & 0x7f) << (7 * place);
                if byte & 0x80 == 0 {
                    bytes = &bytes[place + 1..];
                    break;
                }
            }
            all.push(number);
        }
        all
    }

    fn undone(numbers: &[u64], evenly: bool) -> Vec<u64> {
        let mut values: Vec<u64> = Vec::new();
        for number in numbers {
            let difference = number >> 1 ^ (number & 1).wrapping_neg();
            let expected = match values.as_slice() {
                [.., before, last] if evenly => last.wrapping_mul(2).wrapping_sub(*before),
                [.., last] => *last,
                [] => 0,
            };
            values.push(expected.wrapping_add(difference));
        }
        values
    }

    proptest! {
        #[test]
        fn numbers_come_back(values in proptest::collection::vec(any::<i64>(), 0..40), shift in 0u32..64) {
            let values: Vec<i64> = values.iter().map(|value| value >> shift).collect();
            let mut changes = Changes::new();
            for (scan, value) in (0u32..).zip(&values) {
                changes.push(scan * 3, &Value::Signed(*value, ElementaryType::Lint));
            }
            let written = stream(SignalKind::Signed(64), &changes);
            let read = numbers(&written.bytes);
            let (scans, rest) = read.split_at(written.count);
            let Form::Numbers { evenly } = written.form else { panic!("numbers") };
            let mut kept: Vec<(u32, i64)> = Vec::new();
            for (scan, value) in (0u32..).zip(&values) {
                if kept.last().is_none_or(|last| last.1 != *value) {
                    kept.push((scan * 3, *value));
                }
            }
            let mut scan = 0;
            let places: Vec<u32> = scans.iter().map(|distance| { scan += *distance as u32; scan }).collect();
            prop_assert_eq!(places, kept.iter().map(|it| it.0).collect::<Vec<_>>());
            let values: Vec<i64> = undone(rest, evenly).iter().map(|value| *value as i64).collect();
            prop_assert_eq!(values, kept.iter().map(|it| it.1).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_ramp_takes_one_byte_a_value_and_a_level_none() {
        let ramp: Changes = (0..1000u32)
            .map(|scan| latchwork_vm::trace::Change {
                scan,
                value: Value::Duration(i64::from(scan) * 10_000_000, ElementaryType::Time),
            })
            .collect();
        let written = stream(SignalKind::Duration, &ramp);
        assert_eq!(written.form, Form::Numbers { evenly: true });
        assert!(written.bytes.len() < 2_010, "{}", written.bytes.len());
        let levels: Changes = (0..1000u32)
            .map(|scan| latchwork_vm::trace::Change { scan, value: Value::Bool(scan % 2 == 1) })
            .collect();
        let written = stream(SignalKind::Bool, &levels);
        assert_eq!(written.form, Form::Levels { first: false });
        assert_eq!(written.bytes.len(), 1000);
    }
}
