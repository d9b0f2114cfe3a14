//! Reading and writing variables of a machine by their resolved places.
//!
//! Values are checked against the type of the variable; the data image is only changed where the whole value fits.

use crate::machine::Machine;
use crate::program::Program;
use crate::resolve::{Resolved, ResolvedKind};
use crate::types::ElementaryType;
use crate::value::Value;
use std::fmt;

/// Why a value cannot be written to a variable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WriteError {
    /// The value is of another type.
    Type {
        /// The variable.
        name: String,
        /// The value.
        value: Value,
    },
    /// The variable is constant.
    Constant {
        /// The variable.
        name: String,
    },
    /// The text is longer than the string.
    TooLong {
        /// The variable.
        name: String,
        /// Greatest number of characters.
        capacity: u16,
    },
    /// The place does not belong to the program of the machine.
    Place {
        /// The variable.
        name: String,
    },
}

impl fmt::Display for WriteError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Type { name, value } => {
                write!(formatter, "the value {value} does not have the type of `{name}`")
            }
            Self::Constant { name } => write!(formatter, "`{name}` is a constant and cannot be written"),
            Self::TooLong { name, capacity } => {
                write!(formatter, "the text is longer than `{name}`, which holds {capacity} characters")
            }
            Self::Place { name } => {
                write!(formatter, "`{name}` does not belong to this program; resolve it again")
            }
        }
    }
}

impl std::error::Error for WriteError {}

impl ResolvedKind {
    /// Bytes that a variable of this kind takes in the data image.
    #[must_use]
    pub fn bytes(self) -> usize {
        match self {
            Self::Elementary(kind) => kind.size().unwrap_or(0) as usize,
            Self::String { wide, capacity } => 4 + usize::from(capacity) * if wide { 2 } else { 1 },
            Self::Enumeration(_) | Self::Reference => 4,
            Self::Bit(_) => 1,
        }
    }
}

/// The value of the bytes of a variable. Missing bytes count as 0.
pub(crate) fn value_of_bytes(program: &Program, kind: ResolvedKind, bytes: &[u8]) -> Value {
    let number =
        |size: usize| bytes.iter().take(size).rev().fold(0u64, |number, byte| number << 8 | u64::from(*byte));
    match kind {
        ResolvedKind::Elementary(kind) => {
            let bits = number(kind.size().unwrap_or(0) as usize);
            // Strings have a kind of their own; an elementary string description is refused by the verifier.
            Value::from_bits(bits, kind).unwrap_or(Value::Bits(bits, kind))
        }
        ResolvedKind::String { wide, capacity } => {
            let text = text_of_bytes(wide, capacity, bytes);
            if wide {
                let units = text.as_chunks::<2>().0.iter();
                Value::WideString(units.map(|pair| u16::from_le_bytes(*pair)).collect())
            } else {
                Value::String(text.to_vec())
            }
        }
        ResolvedKind::Enumeration(index) => {
            let value = number(4) as u32 as i32;
            Value::Enumeration { value, name: program.enumeration_name(index, value).map(str::to_owned) }
        }
        ResolvedKind::Reference => Value::Bits(number(4), ElementaryType::Dword),
        ResolvedKind::Bit(bit) => Value::Bool(number(1) >> bit & 1 != 0),
    }
}

/// The characters of a string variable with these bytes, two bytes each in a WSTRING.
pub(crate) fn text_of_bytes(wide: bool, capacity: u16, bytes: &[u8]) -> &[u8] {
    let length = bytes.get(2..4).and_then(|bytes| bytes.first_chunk()).copied().map_or(0, u16::from_le_bytes);
    let length = usize::from(length.min(capacity)) * if wide { 2 } else { 1 };
    let text = bytes.get(4..).unwrap_or_default();
    text.get(..length).unwrap_or(text)
}

impl Machine {
    /// The value of a variable of its program. Bytes outside the data image (of a variable of another program) count
    /// as 0.
    #[must_use]
    pub fn read(&self, variable: &Resolved) -> Value {
        value_of_bytes(self.program(), variable.kind, bytes_of(self.data(), variable))
    }

    /// Writes a variable between scans. A located BOOL is written together with the bit that it mirrors, so that an
    /// input keeps the value when the next scan latches it.
    ///
    /// # Errors
    /// [`WriteError`] when the variable is constant, or the value does not have its type or does not fit.
    pub fn write(&mut self, variable: &Resolved, value: &Value) -> Result<(), WriteError> {
        let name = || variable.name.clone();
        if variable.constant {
            return Err(WriteError::Constant { name: name() });
        }
        let mistyped = || WriteError::Type { name: name(), value: value.clone() };
        let bytes = match (variable.kind, value) {
            (ResolvedKind::Elementary(kind), value) if value.elementary_type() == Some(kind) => {
                let bits = value.to_bits().ok_or_else(mistyped)?;
                let bytes = bits.to_le_bytes();
                bytes.get(..kind.size().unwrap_or(0) as usize).unwrap_or_default().to_vec()
            }
            (ResolvedKind::String { wide: false, capacity }, Value::String(text)) => {
                string_bytes(variable, capacity, text.len(), text.iter().copied())?
            }
            (ResolvedKind::String { wide: true, capacity }, Value::WideString(text)) => {
                string_bytes(variable, capacity, text.len(), text.iter().flat_map(|unit| unit.to_le_bytes()))?
            }
            (ResolvedKind::Enumeration(index), Value::Enumeration { value: number, .. }) => {
                if self.program().enumeration_name(index, *number).is_none() {
                    return Err(mistyped());
                }
                number.to_le_bytes().to_vec()
            }
            (ResolvedKind::Bit(bit), Value::Bool(value)) => {
                let old = bytes_of(self.data(), variable).first().copied().unwrap_or(0);
                vec![old & !(1 << (bit & 7)) | u8::from(*value) << (bit & 7)]
            }
            _ => return Err(mistyped()),
        };
        let start = variable.address as usize;
        let target = self.data_mut().get_mut(start..start.saturating_add(bytes.len()));
        target.ok_or_else(|| WriteError::Place { name: name() })?.copy_from_slice(&bytes);
        if let (Some(mirror), Value::Bool(value)) = (variable.mirror, value)
            && let Some(byte) = self.data_mut().get_mut(mirror.byte as usize)
        {
            let mask = 1 << (mirror.bit & 7);
            *byte = if *value { *byte | mask } else { *byte & !mask };
        }
        Ok(())
    }
}

fn bytes_of<'a>(data: &'a [u8], variable: &Resolved) -> &'a [u8] {
    let start = variable.address as usize;
    data.get(start..start.saturating_add(variable.kind.bytes())).unwrap_or_default()
}

/// Capacity, length and characters of a string variable.
fn string_bytes(
    variable: &Resolved,
    capacity: u16,
    length: usize,
    text: impl Iterator<Item = u8>,
) -> Result<Vec<u8>, WriteError> {
    let length = u16::try_from(length)
        .ok()
        .filter(|length| *length <= capacity)
        .ok_or_else(|| WriteError::TooLong { name: variable.name.clone(), capacity })?;
    Ok(capacity.to_le_bytes().into_iter().chain(length.to_le_bytes()).chain(text).collect())
}
