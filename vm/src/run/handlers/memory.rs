//! Moves, block copies, addresses and array elements.

use super::handler;
use crate::fault::FaultKind;
use crate::image::IndexRange;
use crate::run::access::Access;
use crate::run::number::{Integer, Number};
use crate::run::{Outcome, Step, Stop};
use crate::types::ElementaryType;
use crate::value::Value;

/// Number of the element that an index selects, from 0.
#[inline(always)]
fn element<S: Integer, X: Access>(x: &mut X, index: S, range: IndexRange) -> Result<u32, Stop> {
    // The lower bound is limited so that this difference cannot wrap around into the range (limits::INDEX_LOWER).
    let distance = index.as_index().map(|index| index.wrapping_sub(range.lower) as u64);
    match distance {
        Some(distance) if distance < u64::from(range.count) => Ok(distance as u32),
        _ => Err(x.fault(FaultKind::Subscript, || {
            let upper = range.lower.saturating_add(i64::from(range.count) - 1);
            vec![
                ("index".to_owned(), index.value()),
                ("lower bound".to_owned(), Value::Signed(range.lower, ElementaryType::Lint)),
                ("upper bound".to_owned(), Value::Signed(upper, ElementaryType::Lint)),
            ]
        })),
    }
}

/// Address of a character of a string; `width` is the size of a character in bytes.
#[inline(always)]
fn character<S: Integer, X: Access>(x: &mut X, operands: [u32; 4], width: u32) -> Outcome {
    let [to, address, index, _] = operands;
    let address = x.get::<u32>(address);
    let address = x.used_address(address)?;
    let Some(length) = x.get_at::<u16>(address.saturating_add(2)) else {
        return Err(x.outside(address));
    };
    let range = IndexRange { lower: 1, count: u32::from(length), stride: width };
    let index = x.get::<S>(index);
    let element = element(x, index, range)?;
    x.set(to, address.saturating_add(4).saturating_add(element.saturating_mul(width)));
    Ok(Step::Next)
}

handler! {
    Move<S: Number>(x, [to, from, _, _]) {
        let value = x.get::<S>(from);
        x.set(to, value);
        Ok(Step::Next)
    }

    CopyRegion<S: Number>(x, [to, from, bytes, _]) {
        let (to, from) = (x.address(to), x.address(from));
        match x.copy(to, from, bytes) {
            Some(()) => Ok(Step::Next),
            None => Err(x.outside(to.max(from))),
        }
    }

    AddressOf<S: Number>(x, [to, place, _, _]) {
        let address = x.address(place);
        x.set(to, address);
        Ok(Step::Next)
    }

    OffsetAddress<S: Number>(x, [to, address, offset, _]) {
        let address = x.get::<u32>(address);
        let address = x.used_address(address)?.saturating_add(offset);
        x.set(to, address);
        Ok(Step::Next)
    }

    Load<S: Number>(x, [to, address, offset, _]) {
        let address = x.get::<u32>(address);
        let address = x.used_address(address)?.saturating_add(offset);
        match x.get_at::<S>(address) {
            Some(value) => {
                x.set(to, value);
                Ok(Step::Next)
            }
            None => Err(x.outside(address)),
        }
    }

    Store<S: Number>(x, [address, offset, from, _]) {
        let address = x.get::<u32>(address);
        let address = x.used_address(address)?.saturating_add(offset);
        let value = x.get::<S>(from);
        match x.set_at(address, value) {
            Some(()) => Ok(Step::Next),
            None => Err(x.outside(address)),
        }
    }

    CopyFrom<S: Number>(x, [to, from, bytes, _]) {
        let from = x.get::<u32>(from);
        let (to, from) = (x.address(to), x.used_address(from)?);
        match x.copy(to, from, bytes) {
            Some(()) => Ok(Step::Next),
            None => Err(x.outside(from)),
        }
    }

    CopyTo<S: Number>(x, [to, from, bytes, _]) {
        let to = x.get::<u32>(to);
        let (to, from) = (x.used_address(to)?, x.address(from));
        match x.copy(to, from, bytes) {
            Some(()) => Ok(Step::Next),
            None => Err(x.outside(to)),
        }
    }

    CopyBetween<S: Number>(x, [to, from, bytes, _]) {
        let (to, from) = (x.get::<u32>(to), x.get::<u32>(from));
        let (to, from) = (x.used_address(to)?, x.used_address(from)?);
        match x.copy(to, from, bytes) {
            Some(()) => Ok(Step::Next),
            None => Err(x.outside(to.max(from))),
        }
    }

    Index<S: Integer>(x, [to, place, index, range]) {
        let (index, range) = (x.get::<S>(index), x.range(range));
        let element = element(x, index, range)?;
        let address = x.address(place).saturating_add(element.saturating_mul(range.stride));
        x.set(to, address);
        Ok(Step::Next)
    }

    IndexAddress<S: Integer>(x, [to, address, index, range]) {
        let address = x.get::<u32>(address);
        let address = x.used_address(address)?;
        let (index, range) = (x.get::<S>(index), x.range(range));
        let element = element(x, index, range)?;
        let address = address.saturating_add(element.saturating_mul(range.stride));
        x.set(to, address);
        Ok(Step::Next)
    }

    IndexOpen<S: Integer>(x, [to, position, index, bounds]) {
        let bounds = x.get::<u64>(bounds);
        let (upper, lower) = (i64::from(bounds as u32 as i32), i64::from((bounds >> 32) as u32 as i32));
        // No array is as long as 2^32 elements, so a length beyond u32 has no elements either.
        let count = u32::try_from(upper - lower + 1).unwrap_or(0);
        let (position, index) = (x.get::<u32>(position), x.get::<S>(index));
        let element = element(x, index, IndexRange { lower, count, stride: 0 })?;
        x.set(to, position.wrapping_mul(count).wrapping_add(element));
        Ok(Step::Next)
    }

    IndexCharacter<S: Integer>(x, operands) {
        character::<S, X>(x, operands, 1)
    }

    IndexWideCharacter<S: Integer>(x, operands) {
        character::<S, X>(x, operands, 2)
    }
}
