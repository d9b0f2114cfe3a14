//! Values as they stand in the data files: `INT#-7`, `BYTE#16#81`, `REAL#1.5`, `LREAL#NaN`, `TIME#1500` (time
//! types in nanoseconds), `BOOL#TRUE`.

use latchwork_vm::{ElementaryType, Scalar};

/// A value: its type and its bits, low bits first.
#[derive(Clone, Copy, Debug)]
pub struct Typed {
    pub ty: ElementaryType,
    pub bits: u64,
}

impl Typed {
    /// The value in a data file.
    pub fn parse(text: &str) -> Self {
        let (name, rest) = text.split_once('#').unwrap_or_else(|| panic!("{text}: TYPE#value is wanted"));
        let ty = ElementaryType::from_name(name).unwrap_or_else(|| panic!("{text}: no type {name}"));
        let bits = match ty.scalar().expect("scalars only") {
            Scalar::F32 => u64::from(rest.parse::<f32>().expect("a number").to_bits()),
            Scalar::F64 => rest.parse::<f64>().expect("a number").to_bits(),
            _ if ty == ElementaryType::Bool => u64::from(rest == "TRUE"),
            _ => {
                let number = match rest.strip_prefix("16#") {
                    Some(digits) => i128::from_str_radix(digits, 16),
                    None => rest.parse(),
                };
                number.unwrap_or_else(|_| panic!("{text}: not a number")) as u64
            }
        };
        Self::new(ty, bits)
    }

    /// Bits cut to the width of the type.
    pub fn new(ty: ElementaryType, bits: u64) -> Self {
        let width = 8 * ty.size().expect("scalars only");
        Self { ty, bits: bits & (u64::MAX >> (64 - width)) }
    }

    /// The value as an integer.
    pub fn integer(self) -> i128 {
        let width = 8 * self.ty.size().expect("scalars only");
        if self.ty.scalar().is_some_and(Scalar::is_signed) {
            i128::from((self.bits << (64 - width)) as i64 >> (64 - width))
        } else {
            i128::from(self.bits)
        }
    }

    /// The value as a real.
    pub fn real(self) -> f64 {
        match self.ty.scalar() {
            Some(Scalar::F32) => f64::from(f32::from_bits(self.bits as u32)),
            Some(Scalar::F64) => f64::from_bits(self.bits),
            _ => self.integer() as f64,
        }
    }

    /// Whether two values agree: the same type and bits (any NaN agrees with any NaN), or for reals so many
    /// units in the last place apart.
    pub fn agrees(self, other: Self, units: u64) -> bool {
        if self.ty != other.ty {
            return false;
        }
        if self.ty.is_real() && self.real().is_nan() && other.real().is_nan() {
            return true;
        }
        // Neighbouring reals of one sign have neighbouring bit patterns.
        self.bits.abs_diff(other.bits) <= if self.ty.is_real() { units } else { 0 }
    }
}
