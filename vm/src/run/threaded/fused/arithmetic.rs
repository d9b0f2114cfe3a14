//! Comparisons with a jump, and pairs of operations.

use super::super::super::access::Access;
use super::super::super::fuse::{Comparison, Form, Operation};
use super::super::super::number::{Arithmetic, ConvertTo, Integer, Number, TruncateTo};
use super::super::super::{Outcome, Step, Stop};
use super::super::Handler;
use super::super::access::{Addressing, Unchecked};
use super::memory::offset;
use super::{Fused, addressed};
use crate::instruction::Family;
use crate::types::Scalar;
use std::marker::PhantomData;

/// A comparison as a type.
trait Compare {
    fn holds<S: Number>(left: S, right: S) -> bool;
}

/// An operation as a type; `None` where the plain instruction must take a closer look.
trait Operate {
    fn result<S: Arithmetic>(left: S, right: S) -> Option<S>;
}

macro_rules! comparisons {
    ($($name:ident $operator:tt;)*) => {$(
        struct $name;

        impl Compare for $name {
            #[inline(always)]
            fn holds<S: Number>(left: S, right: S) -> bool {
                left $operator right
            }
        }
    )*};
}

comparisons! {
    Equal ==;
    NotEqual !=;
    Less <;
    LessOrEqual <=;
}

macro_rules! operations {
    ($($name:ident $method:ident;)*) => {$(
        struct $name;

        impl Operate for $name {
            #[inline(always)]
            fn result<S: Arithmetic>(left: S, right: S) -> Option<S> {
                let (result, flag) = left.$method(right);
                (!flag).then_some(result)
            }
        }
    )*};
}

operations! {
    Add sum;
    Subtract difference;
    Multiply product;
}

struct Divide;

impl Operate for Divide {
    #[inline(always)]
    fn result<S: Arithmetic>(left: S, right: S) -> Option<S> {
        left.quotient(right).and_then(|(result, flag)| (!flag).then_some(result))
    }
}

/// See [`Form::CompareJump`].
struct CompareJump<C, S, const WHEN: bool>(PhantomData<(C, S)>);

impl<C: Compare, S: Number, const WHEN: bool> Fused for CompareJump<C, S, WHEN> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let holds = C::holds(access.get::<S>(words[0]), access.get::<S>(words[1]));
        if holds == WHEN { Ok(Step::Jump(words[3])) } else { Ok(Step::Next) }
    }
}

/// See [`Form::Chain`].
struct Chain<A, B, S, const FLIPPED: bool>(PhantomData<(A, B, S)>);

impl<A: Operate, B: Operate, S: Arithmetic, const FLIPPED: bool> Fused for Chain<A, B, S, FLIPPED> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let [to, left, right, other, ..] = *words;
        let Some(first) = A::result(access.get::<S>(left), access.get::<S>(right)) else {
            return Err(Stop::Slow);
        };
        let other = access.get::<S>(other);
        let result = if FLIPPED { B::result(other, first) } else { B::result(first, other) };
        let Some(result) = result else {
            return Err(Stop::Slow);
        };
        access.set(to, result);
        Ok(Step::Next)
    }
}

/// See [`Form::ElementChain`].
struct ElementChain<O, S, I, const FLIPPED: bool>(PhantomData<(O, S, I)>);

impl<O: Operate, S: Arithmetic, I: Integer, const FLIPPED: bool> Fused for ElementChain<O, S, I, FLIPPED> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let [to, other, place, index, range, _] = *words;
        let address = access.address(place).saturating_add(offset::<I, P>(access, index, range)?);
        let Some(element) = access.get_at::<S>(address) else { return Err(Stop::Slow) };
        let other = access.get::<S>(other);
        let result = if FLIPPED { O::result(other, element) } else { O::result(element, other) };
        let Some(result) = result else { return Err(Stop::Slow) };
        access.set(to, result);
        Ok(Step::Next)
    }
}

/// See [`Form::ConvertChain`].
struct ConvertChain<T, O, S, const FLIPPED: bool>(PhantomData<(T, O, S)>);

impl<T: ConvertTo<S>, O: Operate, S: Arithmetic, const FLIPPED: bool> Fused
    for ConvertChain<T, O, S, FLIPPED>
{
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let (converted, changed) = access.get::<T>(words[1]).convert();
        let other = access.get::<S>(words[2]);
        let result = if FLIPPED { O::result(other, converted) } else { O::result(converted, other) };
        let Some(result) = result.filter(|_| !changed) else { return Err(Stop::Slow) };
        access.set(words[0], result);
        Ok(Step::Next)
    }
}

/// See [`Form::ChainConvert`].
struct ChainConvert<O, C, S>(PhantomData<(O, C, S)>);

/// A conversion as a type.
trait Change<S> {
    type To: Number;
    fn change(value: S) -> (Self::To, bool);
}

struct Rounded<T>(PhantomData<T>);
struct Truncated<T>(PhantomData<T>);

impl<T: Number, S: ConvertTo<T>> Change<S> for Rounded<T> {
    type To = T;
    #[inline(always)]
    fn change(value: S) -> (T, bool) {
        value.convert()
    }
}

impl<T: Number, S: TruncateTo<T>> Change<S> for Truncated<T> {
    type To = T;
    #[inline(always)]
    fn change(value: S) -> (T, bool) {
        value.truncate()
    }
}

impl<O: Operate, C: Change<S>, S: Arithmetic> Fused for ChainConvert<O, C, S> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let result = O::result(access.get::<S>(words[1]), access.get::<S>(words[2])).map(C::change);
        let Some((result, false)) = result else { return Err(Stop::Slow) };
        access.set(words[0], result);
        Ok(Step::Next)
    }
}

/// See [`Form::Limit`].
struct Limit<S, const UPPER_FIRST: bool>(PhantomData<S>);

impl<S: Number, const UPPER_FIRST: bool> Fused for Limit<S, UPPER_FIRST> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let [to, value, bound, other, ..] = *words;
        let (value, bound, other) = (access.get::<S>(value), access.get::<S>(bound), access.get::<S>(other));
        let result =
            if UPPER_FIRST { value.lower(bound).higher(other) } else { value.higher(bound).lower(other) };
        access.set(to, result);
        Ok(Step::Next)
    }
}

/// The handler of a form of this module.
pub(super) fn handler_of(form: Form, absolute: bool) -> Option<Handler> {
    match form {
        Form::CompareJump { comparison, scalar, when } => compare_jump(comparison, scalar, when, absolute),
        Form::Chain { first, second, scalar, flipped } => {
            let pair = (first, second);
            match scalar {
                Scalar::I16 => Some(chain::<i16>(pair, flipped, absolute)),
                Scalar::I32 => Some(chain::<i32>(pair, flipped, absolute)),
                Scalar::F32 => Some(chain::<f32>(pair, flipped, absolute)),
                Scalar::F64 => Some(chain::<f64>(pair, flipped, absolute)),
                _ => None,
            }
        }
        Form::ElementChain { scalar, .. }
        | Form::ConvertChain { scalar, .. }
        | Form::ChainConvert { scalar, .. }
        | Form::Limit { scalar, .. } => match scalar {
            Scalar::I16 => of_number::<i16>(form, absolute),
            Scalar::I32 => of_number::<i32>(form, absolute),
            Scalar::F32 => of_number::<f32>(form, absolute).or_else(|| of_real::<f32>(form, absolute)),
            Scalar::F64 => of_number::<f64>(form, absolute).or_else(|| of_real::<f64>(form, absolute)),
            _ => None,
        },
        _ => None,
    }
}

/// An operation and whether its operands change sides, as types.
macro_rules! sided {
    ($operation:expr, $flipped:expr, |$name:ident, $side:ident| $handler:expr) => {
        sided!(@ $operation, $flipped, $name, $side, $handler, Add Subtract Multiply Divide)
    };
    (@ $operation:expr, $flipped:expr, $name:ident, $side:ident, $handler:expr, $($each:ident)*) => {
        match ($operation, $flipped) {
            $(
                (Operation::$each, true) => {
                    type $name = $each;
                    const $side: bool = true;
                    $handler
                }
                (Operation::$each, false) => {
                    type $name = $each;
                    const $side: bool = false;
                    $handler
                }
            )*
        }
    };
}

fn of_number<S: Arithmetic>(form: Form, absolute: bool) -> Option<Handler> {
    Some(match form {
        Form::ElementChain { operation, index: Scalar::I16, flipped, .. } => {
            sided!(operation, flipped, |O, F| addressed!(absolute, ElementChain<O, S, i16, F>))
        }
        Form::ElementChain { operation, index: Scalar::I32, flipped, .. } => {
            sided!(operation, flipped, |O, F| addressed!(absolute, ElementChain<O, S, i32, F>))
        }
        Form::Limit { upper_first: false, .. } => addressed!(absolute, Limit<S, false>),
        Form::Limit { upper_first: true, .. } => addressed!(absolute, Limit<S, true>),
        _ => return None,
    })
}

fn of_real<S>(form: Form, absolute: bool) -> Option<Handler>
where
    u8: ConvertTo<S>,
    i16: ConvertTo<S>,
    u16: ConvertTo<S>,
    i32: ConvertTo<S>,
    S: Arithmetic + ConvertTo<i16> + ConvertTo<i32> + TruncateTo<i16> + TruncateTo<i32>,
{
    macro_rules! converted {
        ($conversion:ty, $first:expr) => {
            match $first {
                Operation::Add => addressed!(absolute, ChainConvert<Add, $conversion, S>),
                Operation::Subtract => addressed!(absolute, ChainConvert<Subtract, $conversion, S>),
                Operation::Multiply => addressed!(absolute, ChainConvert<Multiply, $conversion, S>),
                Operation::Divide => addressed!(absolute, ChainConvert<Divide, $conversion, S>),
            }
        };
    }
    macro_rules! converting {
        ($from:ident, $second:expr, $flipped:expr) => {
            sided!($second, $flipped, |O, F| addressed!(absolute, ConvertChain<$from, O, S, F>))
        };
    }
    Some(match form {
        Form::ConvertChain { from, second, flipped, .. } => match from {
            Scalar::U8 => converting!(u8, second, flipped),
            Scalar::I16 => converting!(i16, second, flipped),
            Scalar::U16 => converting!(u16, second, flipped),
            Scalar::I32 => converting!(i32, second, flipped),
            _ => return None,
        },
        Form::ChainConvert { first, conversion, .. } => match conversion {
            Family::ToI16 => converted!(Rounded<i16>, first),
            Family::ToI32 => converted!(Rounded<i32>, first),
            Family::TruncateI16 => converted!(Truncated<i16>, first),
            Family::TruncateI32 => converted!(Truncated<i32>, first),
            _ => return None,
        },
        _ => return None,
    })
}

fn compare_jump(comparison: Comparison, scalar: Scalar, when: bool, absolute: bool) -> Option<Handler> {
    macro_rules! scalars {
        ($($scalar:ident $kind:ident;)*) => {
            match scalar {
                $(Scalar::$scalar => Some(compared::<$kind>(comparison, when, absolute)),)*
                Scalar::I8 => None,
            }
        };
    }
    scalars! {
        I16 i16;
        I32 i32;
        I64 i64;
        U8 u8;
        U16 u16;
        U32 u32;
        U64 u64;
        F32 f32;
        F64 f64;
    }
}

fn compared<S: Number>(comparison: Comparison, when: bool, absolute: bool) -> Handler {
    macro_rules! compared {
        ($($name:ident)*) => {
            match (comparison, when) {
                $(
                    (Comparison::$name, true) => addressed!(absolute, CompareJump<$name, S, true>),
                    (Comparison::$name, false) => addressed!(absolute, CompareJump<$name, S, false>),
                )*
            }
        };
    }
    compared!(Equal NotEqual Less LessOrEqual)
}

fn chain<S: Arithmetic>((first, second): (Operation, Operation), flipped: bool, absolute: bool) -> Handler {
    macro_rules! seconds {
        ($first:ident: $($second:ident)*) => {
            match (second, flipped) {
                $(
                    (Operation::$second, false) => addressed!(absolute, Chain<$first, $second, S, false>),
                    (Operation::$second, true) => addressed!(absolute, Chain<$first, $second, S, true>),
                )*
            }
        };
    }
    match first {
        Operation::Add => seconds!(Add: Add Subtract Multiply Divide),
        Operation::Subtract => seconds!(Subtract: Add Subtract Multiply Divide),
        Operation::Multiply => seconds!(Multiply: Add Subtract Multiply Divide),
        Operation::Divide => seconds!(Divide: Add Subtract Multiply Divide),
    }
}
