//! Conversions between scalars (IEC 61131-3:2013 Tables 22 and 23).

use super::Handler;
use crate::event::EventKind;
use crate::run::access::Access;
use crate::run::number::{ConvertTo, Number, TruncateTo};
use crate::run::{Outcome, Step};
use std::marker::PhantomData;

/// Conversion from `S` to `T` with rounding.
pub(crate) struct Convert<T, S>(PhantomData<(T, S)>);

/// Conversion from `S` to `T` towards zero.
pub(crate) struct Truncate<T, S>(PhantomData<(T, S)>);

/// Stores a converted value; an event tells that it is not the same value any more.
#[inline(always)]
fn store<X: Access, S: Number, T: Number>(
    x: &mut X,
    to: u32,
    value: S,
    (result, changed): (T, bool),
) -> Outcome {
    if changed {
        x.event(EventKind::Conversion, || {
            vec![("value".to_owned(), value.value()), ("result".to_owned(), result.value())]
        })?;
    }
    x.set(to, result);
    Ok(Step::Next)
}

impl<T: Number, S: ConvertTo<T>> Handler for Convert<T, S> {
    #[inline(always)]
    fn run<X: Access>(x: &mut X, operands: &[u32; 4]) -> Outcome {
        let [to, from, _, _] = *operands;
        let value = x.get::<S>(from);
        store(x, to, value, value.convert())
    }
}

impl<T: Number, S: TruncateTo<T>> Handler for Truncate<T, S> {
    #[inline(always)]
    fn run<X: Access>(x: &mut X, operands: &[u32; 4]) -> Outcome {
        let [to, from, _, _] = *operands;
        let value = x.get::<S>(from);
        store(x, to, value, value.truncate())
    }
}

pub(crate) type ToI8<S> = Convert<i8, S>;
pub(crate) type ToI16<S> = Convert<i16, S>;
pub(crate) type ToI32<S> = Convert<i32, S>;
pub(crate) type ToI64<S> = Convert<i64, S>;
pub(crate) type ToU8<S> = Convert<u8, S>;
pub(crate) type ToU16<S> = Convert<u16, S>;
pub(crate) type ToU32<S> = Convert<u32, S>;
pub(crate) type ToU64<S> = Convert<u64, S>;
pub(crate) type ToF32<S> = Convert<f32, S>;
pub(crate) type ToF64<S> = Convert<f64, S>;
pub(crate) type TruncateI8<S> = Truncate<i8, S>;
pub(crate) type TruncateI16<S> = Truncate<i16, S>;
pub(crate) type TruncateI32<S> = Truncate<i32, S>;
pub(crate) type TruncateI64<S> = Truncate<i64, S>;
pub(crate) type TruncateU8<S> = Truncate<u8, S>;
pub(crate) type TruncateU16<S> = Truncate<u16, S>;
pub(crate) type TruncateU32<S> = Truncate<u32, S>;
pub(crate) type TruncateU64<S> = Truncate<u64, S>;
