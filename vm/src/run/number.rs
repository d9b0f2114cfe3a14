//! The machine scalars as Rust numbers: arithmetic, comparison and conversion with the error rules of the language.
//!
//! Choices where IEC 61131-3:2013 leaves them open: integers wrap (two's complement), reals follow IEC 60559 and every
//! NaN that an operation produces is the one canonical NaN, so that results are equal bit for bit on all platforms.

use crate::types::ElementaryType;
use crate::value::Value;

/// A scalar that can be stored.
pub(crate) trait Number: Copy + Default + PartialOrd + 'static {
    /// Its bytes, little endian.
    type Bytes: Copy + AsRef<[u8]> + for<'a> TryFrom<&'a [u8]>;
    fn from_bytes(bytes: Self::Bytes) -> Self;
    fn to_bytes(self) -> Self::Bytes;
    /// The value for messages.
    fn value(self) -> Value;
    /// The smaller of two; of a number and NaN the number, of two zeros the negative one.
    fn lower(self, other: Self) -> Self;
    /// The larger of two; of a number and NaN the number, of two zeros the positive one.
    fn higher(self, other: Self) -> Self;
}

/// A scalar that can be calculated with. The flag of a result asks for a closer look: an integer has wrapped, a real
/// is not finite.
pub(crate) trait Arithmetic: Number {
    fn sum(self, other: Self) -> (Self, bool);
    fn difference(self, other: Self) -> (Self, bool);
    fn product(self, other: Self) -> (Self, bool);
    /// `None` where the quotient does not exist: integer division by zero.
    fn quotient(self, other: Self) -> Option<(Self, bool)>;
    fn is_zero(self) -> bool;
    /// Whether a flagged result of these operands is an event: always for integers; for reals a NaN when no operand
    /// was one (an invalid operation), an infinity when the operands were finite.
    fn is_event(self, operands: &[Self]) -> bool;
    /// The value with NaN replaced by the canonical one.
    fn canonical(self) -> Self;
}

/// A scalar with a sign.
pub(crate) trait SignedNumber: Arithmetic {
    fn negated(self) -> (Self, bool);
    fn magnitude(self) -> (Self, bool);
}

/// An integer.
pub(crate) trait Integer: Arithmetic {
    /// Remainder with the sign of the first operand; `None` for a remainder by zero.
    fn remainder(self, other: Self) -> Option<Self>;
    fn is_positive_step(self) -> bool;
    /// The value as an index; `None` above the largest i64.
    fn as_index(self) -> Option<i64>;
    /// The next greater value; the greatest stays.
    fn counted_up(self) -> Self;
    /// The next smaller value; the least stays.
    fn counted_down(self) -> Self;
}

/// A plain bit pattern.
pub(crate) trait Bits: Number {
    fn and(self, other: Self) -> Self;
    fn or(self, other: Self) -> Self;
    fn xor(self, other: Self) -> Self;
    fn complement(self) -> Self;
    fn shifted_left(self, count: i64) -> Self;
    fn shifted_right(self, count: i64) -> Self;
    fn rotated_left(self, count: i64) -> Self;
    fn rotated_right(self, count: i64) -> Self;
}

/// Conversion by the rules of IEC 61131-3:2013 Table 22; the flag says that the value does not fit.
pub(crate) trait ConvertTo<T>: Number {
    fn convert(self) -> (T, bool);
}

/// Conversion towards zero; the flag says that the value does not fit.
pub(crate) trait TruncateTo<T>: Number {
    fn truncate(self) -> (T, bool);
}

macro_rules! integers {
    ($($kind:ident $bytes:literal $value:expr;)*) => {$(
        impl Number for $kind {
            type Bytes = [u8; $bytes];
            #[inline(always)]
            fn from_bytes(bytes: Self::Bytes) -> Self { Self::from_le_bytes(bytes) }
            #[inline(always)]
            fn to_bytes(self) -> Self::Bytes { self.to_le_bytes() }
            fn value(self) -> Value { $value(self) }
            #[inline(always)]
            fn lower(self, other: Self) -> Self { self.min(other) }
            #[inline(always)]
            fn higher(self, other: Self) -> Self { self.max(other) }
        }

        impl Arithmetic for $kind {
            #[inline(always)]
            fn sum(self, other: Self) -> (Self, bool) { self.overflowing_add(other) }
            #[inline(always)]
            fn difference(self, other: Self) -> (Self, bool) { self.overflowing_sub(other) }
            #[inline(always)]
            fn product(self, other: Self) -> (Self, bool) { self.overflowing_mul(other) }
            #[inline(always)]
            fn quotient(self, other: Self) -> Option<(Self, bool)> {
                if other == 0 { None } else { Some(self.overflowing_div(other)) }
            }
            #[inline(always)]
            fn is_zero(self) -> bool { self == 0 }
            fn is_event(self, _: &[Self]) -> bool { true }
            #[inline(always)]
            fn canonical(self) -> Self { self }
        }

        impl Integer for $kind {
            #[inline(always)]
            fn remainder(self, other: Self) -> Option<Self> {
                if other == 0 { None } else { Some(self.wrapping_rem(other)) }
            }
            #[inline(always)]
            fn is_positive_step(self) -> bool { self > 0 }
            #[inline(always)]
            fn as_index(self) -> Option<i64> { i64::try_from(self).ok() }
            #[inline(always)]
            fn counted_up(self) -> Self { self.saturating_add(1) }
            #[inline(always)]
            fn counted_down(self) -> Self { self.saturating_sub(1) }
        }
    )*};
}

integers! {
    i8 1 |value| Value::Signed(i64::from(value), ElementaryType::Sint);
    i16 2 |value| Value::Signed(i64::from(value), ElementaryType::Int);
    i32 4 |value| Value::Signed(i64::from(value), ElementaryType::Dint);
    i64 8 |value| Value::Signed(value, ElementaryType::Lint);
    u8 1 |value| Value::Unsigned(u64::from(value), ElementaryType::Usint);
    u16 2 |value| Value::Unsigned(u64::from(value), ElementaryType::Uint);
    u32 4 |value| Value::Unsigned(u64::from(value), ElementaryType::Udint);
    u64 8 |value| Value::Unsigned(value, ElementaryType::Ulint);
}

macro_rules! signed_integers {
    ($($kind:ident)*) => {$(
        impl SignedNumber for $kind {
            #[inline(always)]
            fn negated(self) -> (Self, bool) { self.overflowing_neg() }
            #[inline(always)]
            fn magnitude(self) -> (Self, bool) { self.overflowing_abs() }
        }
    )*};
}

signed_integers! { i8 i16 i32 i64 }

macro_rules! bits {
    ($($kind:ident)*) => {$(
        impl Bits for $kind {
            #[inline(always)]
            fn and(self, other: Self) -> Self { self & other }
            #[inline(always)]
            fn or(self, other: Self) -> Self { self | other }
            #[inline(always)]
            fn xor(self, other: Self) -> Self { self ^ other }
            #[inline(always)]
            fn complement(self) -> Self { !self }
            #[inline(always)]
            fn shifted_left(self, count: i64) -> Self {
                match u32::try_from(count) {
                    Ok(count) => self.checked_shl(count).unwrap_or(0),
                    Err(_) if count < 0 => self,
                    Err(_) => 0,
                }
            }
            #[inline(always)]
            fn shifted_right(self, count: i64) -> Self {
                match u32::try_from(count) {
                    Ok(count) => self.checked_shr(count).unwrap_or(0),
                    Err(_) if count < 0 => self,
                    Err(_) => 0,
                }
            }
            #[inline(always)]
            fn rotated_left(self, count: i64) -> Self {
                // The width is a power of two, so that the mask takes the count modulo the width.
                if count < 0 { self } else { self.rotate_left((count as u32) & (Self::BITS - 1)) }
            }
            #[inline(always)]
            fn rotated_right(self, count: i64) -> Self {
                if count < 0 { self } else { self.rotate_right((count as u32) & (Self::BITS - 1)) }
            }
        }
    )*};
}

bits! { u8 u16 u32 u64 }

macro_rules! floats {
    ($($kind:ident $bytes:literal $nan:literal $value:ident;)*) => {$(
        impl Number for $kind {
            type Bytes = [u8; $bytes];
            #[inline(always)]
            fn from_bytes(bytes: Self::Bytes) -> Self { Self::from_le_bytes(bytes) }
            #[inline(always)]
            fn to_bytes(self) -> Self::Bytes { self.to_le_bytes() }
            fn value(self) -> Value { Value::$value(self) }
            #[inline(always)]
            fn lower(self, other: Self) -> Self {
                if self < other || (other.is_nan() && !self.is_nan()) { self }
                else if other < self || (self.is_nan() && !other.is_nan()) { other }
                else if self.is_sign_negative() { self.canonical() }
                else { other.canonical() }
            }
            #[inline(always)]
            fn higher(self, other: Self) -> Self {
                if self > other || (other.is_nan() && !self.is_nan()) { self }
                else if other > self || (self.is_nan() && !other.is_nan()) { other }
                else if self.is_sign_positive() { self.canonical() }
                else { other.canonical() }
            }
        }

        impl Arithmetic for $kind {
            #[inline(always)]
            fn sum(self, other: Self) -> (Self, bool) { flagged(self + other, |value| value.is_finite()) }
            #[inline(always)]
            fn difference(self, other: Self) -> (Self, bool) { flagged(self - other, |value| value.is_finite()) }
            #[inline(always)]
            fn product(self, other: Self) -> (Self, bool) { flagged(self * other, |value| value.is_finite()) }
            #[inline(always)]
            fn quotient(self, other: Self) -> Option<(Self, bool)> {
                Some(flagged(self / other, |value| value.is_finite()))
            }
            #[inline(always)]
            fn is_zero(self) -> bool { self == 0.0 }
            fn is_event(self, operands: &[Self]) -> bool {
                if self.is_nan() {
                    !operands.iter().any(|operand| operand.is_nan())
                } else {
                    operands.iter().all(|operand| operand.is_finite())
                }
            }
            #[inline(always)]
            fn canonical(self) -> Self { if self.is_nan() { Self::from_bits($nan) } else { self } }
        }

        impl SignedNumber for $kind {
            #[inline(always)]
            fn negated(self) -> (Self, bool) { flagged(-self, |value| value.is_finite()) }
            #[inline(always)]
            fn magnitude(self) -> (Self, bool) { flagged(self.abs(), |value| value.is_finite()) }
        }
    )*};
}

#[inline(always)]
fn flagged<T: Copy>(value: T, finite: impl FnOnce(T) -> bool) -> (T, bool) {
    (value, !finite(value))
}

floats! {
    f32 4 0x7fc0_0000 Real;
    f64 8 0x7ff8_0000_0000_0000 Lreal;
}

macro_rules! integer_conversions {
    ($($from:ident)*) => {$(
        integer_conversions! { @to $from: i8 i16 i32 i64 u8 u16 u32 u64 }
        impl ConvertTo<f32> for $from {
            #[inline(always)]
            fn convert(self) -> (f32, bool) { (self as f32, false) }
        }
        impl ConvertTo<f64> for $from {
            #[inline(always)]
            fn convert(self) -> (f64, bool) { (self as f64, false) }
        }
    )*};
    (@to $from:ident: $($to:ident)*) => {$(
        impl ConvertTo<$to> for $from {
            #[inline(always)]
            fn convert(self) -> ($to, bool) {
                let low = self as $to;
                (low, low as i128 != self as i128)
            }
        }
    )*};
}

integer_conversions! { i8 i16 i32 i64 u8 u16 u32 u64 }

macro_rules! float_conversions {
    ($($from:ident)*) => {$(
        float_conversions! { @to $from: i8 i16 i32 i64 u8 u16 u32 u64 }
    )*};
    (@to $from:ident: $($to:ident)*) => {$(
        impl ConvertTo<$to> for $from {
            #[inline(always)]
            fn convert(self) -> ($to, bool) {
                let rounded = self.round_ties_even();
                // Both bounds are powers of two or zero, so they are exact; the upper one is the first value that
                // no longer fits. The cast saturates and turns NaN into 0.
                let upper = ($to::MAX / 2 + 1) as $from * 2.0;
                (rounded as $to, !(rounded >= $to::MIN as $from && rounded < upper))
            }
        }
        impl TruncateTo<$to> for $from {
            #[inline(always)]
            fn truncate(self) -> ($to, bool) {
                let lower = $to::MIN as $from;
                let upper = ($to::MAX / 2 + 1) as $from * 2.0;
                // Between the lower bound and the integer below it the truncated value still fits.
                let fits = self < upper && (self >= lower || self.trunc() == lower);
                (self as $to, !fits)
            }
        }
    )*};
}

float_conversions! { f32 f64 }

impl ConvertTo<f32> for f32 {
    #[inline(always)]
    fn convert(self) -> (f32, bool) {
        (self.canonical(), false)
    }
}

impl ConvertTo<f64> for f64 {
    #[inline(always)]
    fn convert(self) -> (f64, bool) {
        (self.canonical(), false)
    }
}

impl ConvertTo<f64> for f32 {
    #[inline(always)]
    fn convert(self) -> (f64, bool) {
        (f64::from(self).canonical(), false)
    }
}

impl ConvertTo<f32> for f64 {
    #[inline(always)]
    fn convert(self) -> (f32, bool) {
        let rounded = self as f32;
        (rounded.canonical(), rounded.is_infinite() && self.is_finite())
    }
}
