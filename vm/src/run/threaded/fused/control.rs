//! Copies that depend on a BOOL or come with a jump, and the ends of loops.

use super::super::super::access::Access;
use super::super::super::fuse::Form;
use super::super::super::number::{Arithmetic, Number};
use super::super::super::{Outcome, Step, Stop};
use super::super::Handler;
use super::super::access::{Addressing, Unchecked};
use super::{Fused, addressed};
use crate::types::Scalar;
use std::marker::PhantomData;

/// See [`Form::MoveWhen`].
struct MoveWhen<S, const WHEN: bool>(PhantomData<S>);

impl<S: Number, const WHEN: bool> Fused for MoveWhen<S, WHEN> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        if (access.get::<u8>(words[2]) != 0) == WHEN {
            let value = access.get::<S>(words[1]);
            access.set(words[0], value);
            return Ok(Step::Next);
        }
        // The copy is not run and does not count; the jump over it looks at the budget.
        let skipped = i64::from(words[4]);
        if access.count + i64::from(words[5]) - skipped > 0 {
            return Err(Stop::Slow);
        }
        access.count -= skipped;
        Ok(Step::Next)
    }
}

/// See [`Form::MoveJump`].
struct MoveJump<S>(PhantomData<S>);

impl<S: Number> Fused for MoveJump<S> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        // The budget is looked at behind the copy: where it is used up, the copy has happened.
        let value = access.get::<S>(words[1]);
        access.set(words[0], value);
        Ok(Step::Jump(words[3]))
    }
}

/// See [`Form::Next`].
struct Next<S>(PhantomData<S>);

/// A scalar of loops.
trait Control: Arithmetic {
    fn of_step(step: u32) -> Self;
}

impl Control for i16 {
    #[inline(always)]
    fn of_step(step: u32) -> Self {
        step as i16
    }
}

impl Control for i32 {
    #[inline(always)]
    fn of_step(step: u32) -> Self {
        step as i32
    }
}

impl<S: Control> Fused for Next<S> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let (next, wrapped) = access.get::<S>(words[0]).sum(S::of_step(words[2]));
        if wrapped {
            return Ok(Step::Next);
        }
        // Before the control variable is written, which may be the limit as well.
        let limit = access.get::<S>(words[1]);
        access.set(words[0], next);
        if next <= limit { Ok(Step::Jump(words[3])) } else { Ok(Step::Next) }
    }
}

/// The handler of a form of this module.
pub(super) fn handler_of(form: Form, absolute: bool) -> Option<Handler> {
    match form {
        Form::MoveWhen { scalar, .. } | Form::MoveJump { scalar } => match scalar {
            Scalar::U8 => of_scalar::<u8>(form, absolute),
            Scalar::U16 => of_scalar::<u16>(form, absolute),
            Scalar::U32 => of_scalar::<u32>(form, absolute),
            Scalar::U64 => of_scalar::<u64>(form, absolute),
            _ => None,
        },
        Form::Next { scalar: Scalar::I16 } => Some(addressed!(absolute, Next<i16>)),
        Form::Next { scalar: Scalar::I32 } => Some(addressed!(absolute, Next<i32>)),
        _ => None,
    }
}

fn of_scalar<S: Number>(form: Form, absolute: bool) -> Option<Handler> {
    Some(match form {
        Form::MoveWhen { when: true, .. } => addressed!(absolute, MoveWhen<S, true>),
        Form::MoveWhen { when: false, .. } => addressed!(absolute, MoveWhen<S, false>),
        Form::MoveJump { .. } => addressed!(absolute, MoveJump<S>),
        _ => return None,
    })
}
