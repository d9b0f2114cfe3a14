//! Strings: comparison and assignment (IEC 61131-3:2013 Tables 33 and 34; the shorter operand of a comparison is filled
//! with code 0 at the right).
//!
//! A string is a capacity word, a length word, then the characters. String operations always take the checked step:
//! what they do is long against the way there.

use super::handler;
use crate::event::EventKind;
use crate::instruction::BYTES_PER_COUNT;
use crate::run::access::Access;
use crate::run::number::Number;
use crate::run::{Outcome, Step, Stop};
use crate::types::ElementaryType;
use crate::value::{Value, compare_padded};

/// A string in the data image: addresses in bytes, sizes in characters.
#[derive(Clone, Copy)]
struct Text {
    head: usize,
    capacity: usize,
    length: usize,
}

impl Text {
    const fn start(self) -> usize {
        self.head + 4
    }
}

/// The string whose address is at a place, all of its capacity inside the data image.
fn text<X: Access>(x: &mut X, place: u32, width: usize) -> Result<Text, Stop> {
    let address = x.get::<u32>(place);
    let address = x.used_address(address)?;
    let (Some(capacity), Some(length)) =
        (x.get_at::<u16>(address), x.get_at::<u16>(address.saturating_add(2)))
    else {
        return Err(x.outside(address));
    };
    let text = Text {
        head: address as usize,
        capacity: usize::from(capacity),
        length: usize::from(length.min(capacity)),
    };
    if text.start() + width * text.capacity > x.size() as usize {
        return Err(x.outside(address));
    }
    Ok(text)
}

fn compare<X: Access>(x: &mut X, operands: [u32; 4], width: usize) -> Outcome {
    x.careful()?;
    let [to, left, right, _] = operands;
    let (left, right) = (text(x, left, width)?, text(x, right, width)?);
    let data = x.data();
    let bytes = |text: Text| data.get(text.start()..text.start() + width * text.length).unwrap_or_default();
    let order = if width == 1 {
        compare_padded(bytes(left), bytes(right))
    } else {
        compare_padded(&units(bytes(left)), &units(bytes(right)))
    };
    charge(x, width * left.length.max(right.length));
    x.set(to, order as i8);
    Ok(Step::Next)
}

fn units(bytes: &[u8]) -> Vec<u16> {
    bytes.as_chunks::<2>().0.iter().map(|pair| u16::from_le_bytes(*pair)).collect()
}

fn copy<X: Access>(x: &mut X, operands: [u32; 4], width: usize) -> Outcome {
    x.careful()?;
    let [to, from, _, _] = operands;
    let (to, from) = (text(x, to, width)?, text(x, from, width)?);
    let kept = from.length.min(to.capacity);
    if kept < from.length {
        let values = || {
            let number = |count: usize| Value::Unsigned(count as u64, ElementaryType::Uint);
            vec![("length".to_owned(), number(from.length)), ("capacity".to_owned(), number(to.capacity))]
        };
        x.event(EventKind::StringCut, values)?;
    }
    let data = x.data();
    let bytes = width * kept;
    // Both strings were checked to lie in the data image, and no more than either holds is copied.
    if from.start() + bytes <= data.len() && to.start() + bytes <= data.len() {
        data.copy_within(from.start()..from.start() + bytes, to.start());
    }
    if let Some(length) = data.get_mut(to.head + 2..to.head + 4) {
        length.copy_from_slice(&(kept as u16).to_le_bytes());
    }
    charge(x, bytes);
    Ok(Step::Next)
}

fn charge<X: Access>(x: &mut X, bytes: usize) {
    x.charge(bytes as u64 / u64::from(BYTES_PER_COUNT));
}

handler! {
    CompareString<S: Number>(x, operands) {
        compare(x, operands, size_of::<S>())
    }

    CompareWideString<S: Number>(x, operands) {
        compare(x, operands, size_of::<S>())
    }

    CopyString<S: Number>(x, operands) {
        copy(x, operands, size_of::<S>())
    }

    CopyWideString<S: Number>(x, operands) {
        copy(x, operands, size_of::<S>())
    }
}
