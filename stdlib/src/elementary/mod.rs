//! Elementary functions where the library for mathematical functions (`libm`) has errors beyond one unit in the last
//! place: the angle of a point, and powers of a base next to 1.
//!
//! Plain IEEE 754 operations and a fused multiply-add by `libm`, so that every platform gives the same bits. The module
//! knows numbers only; the rows of the function table and their errors are in `functions::numerical`.

mod angle;
mod pair;
mod power;

pub(crate) use angle::angle;
pub(crate) use power::power;
