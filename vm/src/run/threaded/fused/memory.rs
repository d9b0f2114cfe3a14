//! Copies of several values, and array elements.

use super::super::super::access::Access;
use super::super::super::fuse::Form;
use super::super::super::number::{Integer, Number};
use super::super::super::{Outcome, Step, Stop};
use super::super::Handler;
use super::super::access::{Addressing, Unchecked};
use super::{Fused, addressed};
use crate::types::Scalar;
use std::marker::PhantomData;

/// See [`Form::Moves`].
struct Moves<S, const COUNT: usize>(PhantomData<S>);

impl<S: Number, const COUNT: usize> Fused for Moves<S, COUNT> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        for pair in 0..COUNT {
            let value = access.get::<S>(words[2 * pair + 1]);
            access.set(words[2 * pair], value);
        }
        Ok(Step::Next)
    }
}

/// See [`Form::MovePair`].
struct MovePair<S, T>(PhantomData<(S, T)>);

impl<S: Number, T: Number> Fused for MovePair<S, T> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let value = access.get::<S>(words[1]);
        access.set(words[0], value);
        let value = access.get::<T>(words[3]);
        access.set(words[2], value);
        Ok(Step::Next)
    }
}

/// The offset of an element from element 0, if the subscript is within its range.
#[inline(always)]
pub(super) fn offset<I: Integer, P: Addressing>(
    access: &mut Unchecked<P>,
    index: u32,
    range: u32,
) -> Result<u32, Stop> {
    let range = access.range(range);
    let index = access.get::<I>(index);
    // The lower bound is limited so that this difference cannot wrap around into the range (limits::INDEX_LOWER).
    match index.as_index().map(|index| index.wrapping_sub(range.lower) as u64) {
        Some(number) if number < u64::from(range.count) => Ok((number as u32).saturating_mul(range.stride)),
        _ => Err(Stop::Slow),
    }
}

/// See [`Form::LoadElement`] and [`Form::LoadElement2`].
struct LoadElement<S, I, const PLANE: bool>(PhantomData<(S, I)>);

impl<S: Number, I: Integer, const PLANE: bool> Fused for LoadElement<S, I, PLANE> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let address = element::<I, P, PLANE>(access, words)?;
        let Some(value) = access.get_at::<S>(address) else { return Err(Stop::Slow) };
        access.set(words[0], value);
        Ok(Step::Next)
    }
}

/// See [`Form::StoreElement`] and [`Form::StoreElement2`].
struct StoreElement<S, I, const PLANE: bool>(PhantomData<(S, I)>);

impl<S: Number, I: Integer, const PLANE: bool> Fused for StoreElement<S, I, PLANE> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let address = element::<I, P, PLANE>(access, words)?;
        let value = access.get::<S>(words[0]);
        match access.set_at(address, value) {
            Some(()) => Ok(Step::Next),
            None => Err(Stop::Slow),
        }
    }
}

#[inline(always)]
fn element<I: Integer, P: Addressing, const PLANE: bool>(
    access: &mut Unchecked<P>,
    words: &[u32; 6],
) -> Result<u32, Stop> {
    let mut address = access.address(words[1]).saturating_add(offset::<I, P>(access, words[2], words[3])?);
    if PLANE {
        address = address.saturating_add(offset::<I, P>(access, words[4], words[5])?);
    }
    Ok(address)
}

/// The handler of a form of this module.
pub(super) fn handler_of(form: Form, absolute: bool) -> Option<Handler> {
    match form {
        Form::Moves { scalar, .. }
        | Form::MovePair { first: scalar, .. }
        | Form::LoadElement { scalar, .. }
        | Form::StoreElement { scalar, .. }
        | Form::LoadElement2 { scalar, .. }
        | Form::StoreElement2 { scalar, .. } => match scalar {
            Scalar::U8 => of_scalar::<u8>(form, absolute),
            Scalar::U16 => of_scalar::<u16>(form, absolute),
            Scalar::U32 => of_scalar::<u32>(form, absolute),
            Scalar::U64 => of_scalar::<u64>(form, absolute),
            _ => None,
        },
        _ => None,
    }
}

fn of_scalar<S: Number>(form: Form, absolute: bool) -> Option<Handler> {
    Some(match form {
        Form::Moves { count: 2, .. } => addressed!(absolute, Moves<S, 2>),
        Form::Moves { count: 3, .. } => addressed!(absolute, Moves<S, 3>),
        Form::MovePair { second: Scalar::U8, .. } => addressed!(absolute, MovePair<S, u8>),
        Form::MovePair { second: Scalar::U16, .. } => addressed!(absolute, MovePair<S, u16>),
        Form::MovePair { second: Scalar::U32, .. } => addressed!(absolute, MovePair<S, u32>),
        Form::MovePair { second: Scalar::U64, .. } => addressed!(absolute, MovePair<S, u64>),
        Form::LoadElement { index: Scalar::I16, .. } => addressed!(absolute, LoadElement<S, i16, false>),
        Form::LoadElement { index: Scalar::I32, .. } => addressed!(absolute, LoadElement<S, i32, false>),
        Form::StoreElement { index: Scalar::I16, .. } => addressed!(absolute, StoreElement<S, i16, false>),
        Form::StoreElement { index: Scalar::I32, .. } => addressed!(absolute, StoreElement<S, i32, false>),
        Form::LoadElement2 { index: Scalar::I16, .. } => addressed!(absolute, LoadElement<S, i16, true>),
        Form::LoadElement2 { index: Scalar::I32, .. } => addressed!(absolute, LoadElement<S, i32, true>),
        Form::StoreElement2 { index: Scalar::I16, .. } => addressed!(absolute, StoreElement<S, i16, true>),
        Form::StoreElement2 { index: Scalar::I32, .. } => addressed!(absolute, StoreElement<S, i32, true>),
        _ => return None,
    })
}
