//! Handlers of groups: several plain instructions in one record. What the words mean is said at [`Form`].
//!
//! Rules for a body: find out that nothing rare happens before anything is changed, and otherwise stop with
//! [`Stop::Slow`], which runs the plain instructions.

mod arithmetic;
mod blocks;
mod boolean;
mod control;
mod memory;

use super::super::Outcome;
use super::super::fuse::Form;
use super::Handler;
use super::access::{Addressing, Unchecked};

/// Runs a group.
pub(super) trait Fused {
    /// # Safety
    /// The words are those of a group of the form of this handler.
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome;
}

/// The handler of a form other than [`Form::Plain`], which has its own. `absolute` says that no place is relative.
pub(super) fn handler_of(form: Form, absolute: bool) -> Handler {
    let found = boolean::handler_of(form)
        .or_else(|| arithmetic::handler_of(form, absolute))
        .or_else(|| memory::handler_of(form, absolute))
        .or_else(|| blocks::handler_of(form, absolute))
        .or_else(|| control::handler_of(form, absolute));
    // All forms that are planned have a handler. The checked step would run such a record too.
    found.unwrap_or(super::slow)
}

/// The handler of a group for places of either kind or for absolute ones only.
macro_rules! addressed {
    ($absolute:expr, $handler:ty) => {
        if $absolute {
            $crate::run::threaded::group::<$handler, $crate::run::threaded::access::Absolute>
        } else {
            $crate::run::threaded::group::<$handler, $crate::run::threaded::access::Mixed>
        }
    };
}

use addressed;
