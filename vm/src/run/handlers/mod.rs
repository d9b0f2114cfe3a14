//! What each instruction does. One type a family, generic over the scalar; one body for both dispatchers.
//!
//! Rules for a body: report ([`Access::event`], [`Access::fault`], [`Access::careful`]) before changing anything, and
//! own nothing with a destructor on the way to the end.

mod arithmetic;
pub(crate) mod blocks;
mod control;
mod convert;
mod logic;
mod memory;
mod observing;
mod strings;

pub(crate) use arithmetic::*;
pub(crate) use blocks::{
    CompareCount, CompareCountAt, CountDown, CountDownAt, CountUp, CountUpAt, CountUpDown, CountUpDownAt,
    FallingEdge, FallingEdgeAt, LoadCount, LoadCountAt, OffDelay, OffDelayAt, OnDelay, OnDelayAt, Pulse,
    PulseAt, ResetDominant, ResetDominantAt, RisingEdge, RisingEdgeAt, SetDominant, SetDominantAt,
};
pub(crate) use control::*;
pub(crate) use convert::*;
pub(crate) use logic::*;
pub(crate) use memory::*;
pub(crate) use observing::*;
pub(crate) use strings::*;

use super::Outcome;
use super::access::Access;

/// Runs one instruction.
pub(crate) trait Handler {
    fn run<X: Access>(access: &mut X, operands: &[u32; 4]) -> Outcome;
}

/// The Rust type of each scalar, under the scalar's name in the instruction table.
pub(crate) mod scalar_types {
    pub(crate) type I8 = i8;
    pub(crate) type I16 = i16;
    pub(crate) type I32 = i32;
    pub(crate) type I64 = i64;
    pub(crate) type U8 = u8;
    pub(crate) type U16 = u16;
    pub(crate) type U32 = u32;
    pub(crate) type U64 = u64;
    pub(crate) type F32 = f32;
    pub(crate) type F64 = f64;
}

/// Declares the handler of a family: `handler! { Add<S: Arithmetic>(x, [to, left, right]) { body } }`.
macro_rules! handler {
    ($($name:ident<$scalar:ident: $bound:ident>($access:ident, $operands:pat) $body:block)*) => {$(
        pub(crate) struct $name<$scalar>(std::marker::PhantomData<$scalar>);

        impl<$scalar: $bound> $crate::run::handlers::Handler for $name<$scalar> {
            #[inline(always)]
            fn run<X: $crate::run::access::Access>($access: &mut X, operands: &[u32; 4]) -> $crate::run::Outcome {
                let $operands = *operands;
                $body
            }
        }
    )*};
}

pub(crate) use handler;
