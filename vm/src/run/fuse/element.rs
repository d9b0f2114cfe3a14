//! Array elements: subscript and access in one.
//!
//! The element of an array that lies at a place begins at the place or behind it, never below the system bytes, so only
//! the subscripts and the end of the value are checked.

use super::arithmetic::following;
use super::{Form, Group, Source, overlap};
use crate::instruction::{Family, Opcode};
use crate::place::Place;
use crate::types::Scalar;

/// Width of an address in bytes.
const ADDRESS_BYTES: u32 = Scalar::U32.size();

/// The group that begins at a subscript, if it is worth one.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let (first, [address, place, index, range]) = source.get(start, start)?;
    let kind = index_kind(first)?;
    if !source.lifetimes.ends_by(start, start + 1) {
        return None;
    }
    let (second, operands) = source.get(start, start + 1)?;
    match second.family() {
        Family::Load | Family::Store => {
            let access = access(second, operands, *address)?;
            if let Some(group) = chain(source, start, &access, [*place, *index, *range], kind) {
                return Some(group);
            }
            let words = [access.value, moved(*place, access.offset)?, *index, *range];
            let form = if access.stores {
                Form::StoreElement { scalar: access.scalar, index: kind }
            } else {
                Form::LoadElement { scalar: access.scalar, index: kind }
            };
            Some(Group { form, length: 2, words, tail: [0; 2], jump: None })
        }
        Family::IndexAddress => {
            let [inner, outer, second_index, second_range] = operands;
            if outer != address
                || index_kind(second)? != kind
                || overlap((*second_index, kind.size()), (*address, ADDRESS_BYTES))
                || !source.lifetimes.ends_by(start + 1, start + 2)
            {
                return None;
            }
            let (third, operands) = source.get(start, start + 2)?;
            let access = access(third, operands, *inner)?;
            let words = [access.value, moved(*place, access.offset)?, *index, *range];
            let form = if access.stores {
                Form::StoreElement2 { scalar: access.scalar, index: kind }
            } else {
                Form::LoadElement2 { scalar: access.scalar, index: kind }
            };
            Some(Group { form, length: 3, words, tail: [*second_index, *second_range], jump: None })
        }
        _ => None,
    }
}

/// An element that is loaded for the operation behind it.
fn chain(
    source: &Source<'_>,
    start: usize,
    access: &Access,
    [place, subscript, range]: [u32; 3],
    index: Scalar,
) -> Option<Group> {
    let (operation, scalar, to, other, flipped) = following(source, start + 1, access.value)?;
    let common = matches!(scalar, Scalar::I16 | Scalar::I32 | Scalar::F32 | Scalar::F64);
    // As wide as the operation reads it: it takes the element itself and not the place of the loaded value.
    if access.stores || !common || access.scalar.size() != scalar.size() {
        return None;
    }
    let form = Form::ElementChain { operation, scalar, index, flipped };
    let words = [to, other, moved(place, access.offset)?, subscript];
    Some(Group { form, length: 3, words, tail: [range, 0], jump: None })
}

/// The scalar of a subscript that has handlers of its own.
fn index_kind(opcode: Opcode) -> Option<Scalar> {
    Some(opcode.scalar()).filter(|scalar| matches!(scalar, Scalar::I16 | Scalar::I32))
}

/// A load or a store through an address.
struct Access {
    stores: bool,
    scalar: Scalar,
    value: u32,
    offset: u32,
}

fn access(opcode: Opcode, operands: &[u32; 4], address: u32) -> Option<Access> {
    let scalar = opcode.scalar();
    let (stores, value, through, offset) = match opcode.family() {
        Family::Load => (false, operands[0], operands[1], operands[2]),
        Family::Store => (true, operands[2], operands[0], operands[1]),
        _ => return None,
    };
    // A stored value that lies over the address would be the address, or parts of it. A loaded one may take its place.
    let over = stores && overlap((value, scalar.size()), (address, ADDRESS_BYTES));
    (through == address && !over).then_some(Access { stores, scalar, value, offset })
}

/// A place so many bytes further on, where such a place can be written.
fn moved(word: u32, bytes: u32) -> Option<u32> {
    let place = Place::from_word(word);
    let moved = place.plus(bytes);
    (moved.offset() == place.offset().checked_add(bytes)?).then(|| moved.word())
}
