//! Boolean expressions as tables.

use super::super::super::access::Access;
use super::super::super::fuse::{Form, Reach};
use super::super::super::{Outcome, Step};
use super::super::access::{Absolute, Addressing, Mixed, Relative, Unchecked};
use super::super::{Handler, group};
use super::Fused;

/// One half of a word of the operands.
#[inline(always)]
fn half(words: &[u32; 6], index: usize) -> u16 {
    (words[index / 2] >> (index % 2 * 16)) as u16
}

/// See [`Form::Truth`].
struct Truth<const INPUTS: usize>;

impl<const INPUTS: usize> Fused for Truth<INPUTS> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let mut combination = 0u32;
        for input in (0..INPUTS).rev() {
            // SAFETY: the place is one of the group.
            combination = combination * 2 + u32::from(unsafe { access.byte(half(words, input)) });
        }
        let table = u64::from(words[4]) | u64::from(words[5]) << 32;
        let result = (table.wrapping_shr(combination) & 1) as u8;
        // SAFETY: as above.
        unsafe { access.set_byte(half(words, 6), result) };
        Ok(Step::Next)
    }
}

/// See [`Form::WideTruth`].
struct WideTruth<const INPUTS: usize>;

impl<const INPUTS: usize> Fused for WideTruth<INPUTS> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let mut combination = 0u32;
        for input in (0..INPUTS).rev() {
            combination = combination * 2 + u32::from(access.get::<u8>(words[input]));
        }
        let result = (words[5].wrapping_shr(combination) & 1) as u8;
        access.set(words[4], result);
        Ok(Step::Next)
    }
}

/// See [`Form::TruthJump`].
struct TruthJump<const INPUTS: usize>;

impl<const INPUTS: usize> Fused for TruthJump<INPUTS> {
    #[inline(always)]
    unsafe fn run<P: Addressing>(access: &mut Unchecked<P>, words: &[u32; 6]) -> Outcome {
        let mut combination = 0u32;
        for input in (0..INPUTS).rev() {
            // SAFETY: the place is one of the group.
            combination = combination * 2 + u32::from(unsafe { access.byte(half(words, input)) });
        }
        if words[2].wrapping_shr(combination) & 1 != 0 { Ok(Step::Jump(words[3])) } else { Ok(Step::Next) }
    }
}

/// The handler of a form with a table.
pub(super) fn handler_of(form: Form) -> Option<Handler> {
    macro_rules! reaching {
        ($handler:ident<$inputs:literal>, $reach:expr) => {
            match $reach {
                Reach::Absolute => group::<$handler<$inputs>, Absolute>,
                Reach::Relative => group::<$handler<$inputs>, Relative>,
                Reach::Mixed => group::<$handler<$inputs>, Mixed>,
            }
        };
    }
    Some(match form {
        Form::Truth { inputs: 1, reach } => reaching!(Truth<1>, reach),
        Form::Truth { inputs: 2, reach } => reaching!(Truth<2>, reach),
        Form::Truth { inputs: 3, reach } => reaching!(Truth<3>, reach),
        Form::Truth { inputs: 4, reach } => reaching!(Truth<4>, reach),
        Form::Truth { inputs: 5, reach } => reaching!(Truth<5>, reach),
        Form::Truth { inputs: 6, reach } => reaching!(Truth<6>, reach),
        Form::WideTruth { inputs: 1 } => group::<WideTruth<1>, Mixed>,
        Form::WideTruth { inputs: 2 } => group::<WideTruth<2>, Mixed>,
        Form::WideTruth { inputs: 3 } => group::<WideTruth<3>, Mixed>,
        Form::WideTruth { inputs: 4 } => group::<WideTruth<4>, Mixed>,
        Form::TruthJump { inputs: 1, reach } => reaching!(TruthJump<1>, reach),
        Form::TruthJump { inputs: 2, reach } => reaching!(TruthJump<2>, reach),
        Form::TruthJump { inputs: 3, reach } => reaching!(TruthJump<3>, reach),
        Form::TruthJump { inputs: 4, reach } => reaching!(TruthJump<4>, reach),
        _ => return None,
    })
}
