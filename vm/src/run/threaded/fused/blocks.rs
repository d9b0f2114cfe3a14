//! Standard function blocks with the copies of their inputs.

use super::super::super::access::{Access, Instance, Members};
use super::super::super::fuse::Form;
use super::super::super::fuse::blocks::{INPUTS, Input, NOT_COPIED, inputs};
use super::super::super::handlers::blocks as work;
use super::super::super::number::{Integer, Number};
use super::super::super::{Outcome, Step};
use super::super::Handler;
use super::super::access::{Addressing, Unchecked};
use super::{Fused, addressed};
use crate::instruction::Family;
use crate::types::Scalar;
use std::marker::PhantomData;

/// See [`Form::Block`].
struct Block<B>(PhantomData<B>);

/// A standard function block as a type.
trait Kind {
    const INPUTS: [Input; INPUTS];
    fn work<X: Members>(access: &mut X, instance: Instance);
}

macro_rules! kinds {
    ($($name:ident $scalar:ident $work:path;)*) => {$(
        struct $name;

        impl Kind for $name {
            const INPUTS: [Input; INPUTS] = inputs(Family::$name, Scalar::$scalar);

            #[inline(always)]
            fn work<X: Members>(access: &mut X, instance: Instance) {
                $work(access, instance);
            }
        }
    )*};
}

kinds! {
    SetDominant U8 work::set_dominant;
    ResetDominant U8 work::reset_dominant;
    RisingEdge U8 work::rising_edge;
    FallingEdge U8 work::falling_edge;
    Pulse I64 work::pulse;
    OnDelay I64 work::on_delay;
    OffDelay I64 work::off_delay;
}

/// A scalar of counters.
trait Count: Integer {
    const SCALAR: Scalar;
}

impl Count for i16 {
    const SCALAR: Scalar = Scalar::I16;
}

impl Count for i32 {
    const SCALAR: Scalar = Scalar::I32;
}

macro_rules! counters {
    ($($name:ident $work:ident;)*) => {$(
        struct $name<S>(PhantomData<S>);

        impl<S: Count> Kind for $name<S> {
            const INPUTS: [Input; INPUTS] = inputs(Family::$name, S::SCALAR);

            #[inline(always)]
            fn work<X: Members>(access: &mut X, instance: Instance) {
                work::$work::<S, X>(access, instance);
            }
        }
    )*};
}

counters! {
    CountUp count_up;
    CountDown count_down;
    CountUpDown count_up_down;
}

impl<B: Kind> Fused for Block<B> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let [instance, sources @ ..] = *words;
        let instance = access.instance(instance);
        for (input, source) in B::INPUTS.into_iter().zip(sources) {
            match input.bytes {
                1 => copy::<u8, P>(access, instance, input.offset, source),
                2 => copy::<u16, P>(access, instance, input.offset, source),
                4 => copy::<u32, P>(access, instance, input.offset, source),
                8 => copy::<u64, P>(access, instance, input.offset, source),
                _ => {}
            }
        }
        B::work(access, instance);
        Ok(Step::Next)
    }
}

#[inline(always)]
fn copy<S: Number, P: Addressing>(access: &mut Unchecked<P>, instance: Instance, offset: u32, source: u32) {
    if source != NOT_COPIED {
        let value = access.get::<S>(source);
        access.set_member(instance, offset, value);
    }
}

/// The handler of a form of this module.
pub(super) fn handler_of(form: Form, absolute: bool) -> Option<Handler> {
    let Form::Block { family, scalar } = form else { return None };
    Some(match (family, scalar) {
        (Family::SetDominant, _) => addressed!(absolute, Block<SetDominant>),
        (Family::ResetDominant, _) => addressed!(absolute, Block<ResetDominant>),
        (Family::RisingEdge, _) => addressed!(absolute, Block<RisingEdge>),
        (Family::FallingEdge, _) => addressed!(absolute, Block<FallingEdge>),
        (Family::Pulse, _) => addressed!(absolute, Block<Pulse>),
        (Family::OnDelay, _) => addressed!(absolute, Block<OnDelay>),
        (Family::OffDelay, _) => addressed!(absolute, Block<OffDelay>),
        (Family::CountUp, Scalar::I16) => addressed!(absolute, Block<CountUp<i16>>),
        (Family::CountUp, Scalar::I32) => addressed!(absolute, Block<CountUp<i32>>),
        (Family::CountDown, Scalar::I16) => addressed!(absolute, Block<CountDown<i16>>),
        (Family::CountDown, Scalar::I32) => addressed!(absolute, Block<CountDown<i32>>),
        (Family::CountUpDown, Scalar::I16) => addressed!(absolute, Block<CountUpDown<i16>>),
        (Family::CountUpDown, Scalar::I32) => addressed!(absolute, Block<CountUpDown<i32>>),
        _ => return None,
    })
}
