//! Where the terminals of a station lie in a program, and what may be done to a variable from outside.
//!
//! Knows the program's variables and their places; knows nothing of devices or stimuli. Writing a located input
//! goes to its packed area too, so that latching stays the machine's business.

use latchwork_grammar::tree::{AddressSize, Area};
use latchwork_vm::{
    AreaKind, ElementaryType, NO_STATUS, Program, Region, ResolveError, Resolved, ResolvedKind, Section,
    TaskStatus, TypeDescription, Value,
};

use crate::{
    address::Address,
    nearest::{did_you_mean, nearest},
    stimulus::cell::CellType,
};

/// What a variable is to the outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Direction {
    /// An input: it lies in the area `%I`, or is a `VAR_INPUT` of a program that no configuration connects.
    Input,
    /// An output: it lies in the area `%Q`, or is a `VAR_OUTPUT` of such a program.
    Output,
    /// A constant.
    Constant,
    /// The status of a task, or a variable that VAR_ACCESS gives to read only.
    ReadOnly,
    /// Anything else.
    Other,
}

/// What a variable is to the outside.
pub(crate) fn direction(program: &Program, variable: &Resolved) -> Direction {
    if variable.constant {
        let fixed = variable.section != Section::Access && !is_task_status(program, variable);
        return if fixed { Direction::Constant } else { Direction::ReadOnly };
    }
    let image = program.image();
    let within =
        |region: Region| (region.start..region.start.saturating_add(region.size)).contains(&variable.address);
    let area = match &variable.mirror {
        Some(bit) => Some(bit.area),
        None if within(image.layout.inputs) => Some(AreaKind::Input),
        None if within(image.layout.outputs) => Some(AreaKind::Output),
        None if within(image.layout.memory) => Some(AreaKind::Memory),
        None => None,
    };
    match area {
        Some(AreaKind::Input) => return Direction::Input,
        Some(AreaKind::Output) => return Direction::Output,
        Some(AreaKind::Memory) => return Direction::Other,
        None => {}
    }
    // `Main.Start` is a terminal; `Main.Fill.IN`, and `Fill.IN` of a global instance, are connections within the
    // program. With a configuration the inputs of programs are connected there, and the outside sees addresses.
    let of_program = || {
        image.resources.is_empty()
            && variable.name.split('.').count() == 2
            && image.tasks.iter().flat_map(|task| &task.programs).any(|call| {
                let bytes = image.units.get(call.unit as usize).map_or(0, |unit| unit.instance_bytes);
                (call.base..call.base.saturating_add(bytes)).contains(&variable.address)
            })
    };
    match variable.section {
        Section::Input if of_program() => Direction::Input,
        Section::Output if of_program() => Direction::Output,
        _ => Direction::Other,
    }
}

/// Whether a variable is part of the status of a task.
pub(crate) fn is_task_status(program: &Program, variable: &Resolved) -> bool {
    let within = |start: u32| {
        start != NO_STATUS && (start..start.saturating_add(TaskStatus::BYTES)).contains(&variable.address)
    };
    program.image().tasks.iter().any(|task| within(task.status))
}

/// What a cell for a variable must hold; `None` for a reference.
pub(crate) fn cell_type(program: &Program, variable: &Resolved) -> Option<CellType> {
    match variable.kind {
        ResolvedKind::Elementary(kind) => Some(CellType::Elementary(kind)),
        ResolvedKind::String { wide, capacity } => {
            Some(CellType::Text { wide, capacity: u32::from(capacity) })
        }
        ResolvedKind::Enumeration(index) => match program.image().debug.kind(index) {
            Some(TypeDescription::Enumeration { name, values }) => {
                Some(CellType::Enumeration { name: name.clone(), values: values.clone() })
            }
            _ => None,
        },
        ResolvedKind::Bit(_) => Some(CellType::Elementary(ElementaryType::Bool)),
        ResolvedKind::Reference => None,
    }
}

/// Address and bit of a variable as the outside sees it: the same for two variables of one terminal. Bit 8 stands
/// for whole bytes.
pub(crate) fn place_key(variable: &Resolved) -> (u32, u8) {
    match (&variable.mirror, variable.kind) {
        (Some(mirror), _) => (mirror.byte, mirror.bit),
        (None, ResolvedKind::Bit(bit)) => (variable.address, bit),
        (None, _) => (variable.address, 8),
    }
}

/// Why a path could not be resolved, or the nearest names among the program's variables and `others`.
pub(crate) fn unresolved_text(
    program: &Program,
    path: &str,
    error: &ResolveError,
    others: &[&str],
) -> String {
    if path.starts_with('%') {
        return match Address::parse(path) {
            Err(problem) => problem,
            Ok(_) => "the program has no variable at this address".into(),
        };
    }
    let near = nearest(path, others.iter().copied());
    if !near.is_empty() || !matches!(error, ResolveError::Unknown { .. }) {
        return did_you_mean(&near).unwrap_or_else(|| error.to_string());
    }
    // Who writes `Strat` means `Start`; who writes `Main.Strat` means `Main.Start`.
    let names: Vec<String> = program.variables().map(|variable| variable.name).collect();
    let last = |name: &'_ str| name.rfind('.').map_or(0, |point| point + 1);
    let near = match path.contains('.') {
        true => nearest(path, names.iter().map(String::as_str)),
        false => nearest(path, names.iter().filter_map(|name| name.get(last(name)..))),
    };
    did_you_mean(&near).unwrap_or_else(|| "nothing has a similar name".into())
}

/// A number in the type of a terminal: rounded to nearest (ties to even) for integers and bit strings, and cut off
/// at the ends of the type. A bit string is taken as signed if `signed`. `None` for types that hold no number.
pub(crate) fn terminal_number(number: f64, kind: ElementaryType, signed: bool) -> Option<Value> {
    let size = kind.size()?;
    let rounded = number.round_ties_even();
    if kind.is_signed() || (kind.is_bit() && kind != ElementaryType::Bool && signed) {
        // Casts from floating point saturate.
        let value = match size {
            1 => i64::from(rounded as i8),
            2 => i64::from(rounded as i16),
            4 => i64::from(rounded as i32),
            _ => rounded as i64,
        };
        return Value::from_bits(value as u64, kind);
    }
    if kind.is_unsigned() || (kind.is_bit() && kind != ElementaryType::Bool) {
        let value = match size {
            1 => u64::from(rounded as u8),
            2 => u64::from(rounded as u16),
            4 => u64::from(rounded as u32),
            _ => rounded as u64,
        };
        return Value::from_bits(value, kind);
    }
    match kind {
        ElementaryType::Real => Some(Value::Real(number as f32)),
        ElementaryType::Lreal => Some(Value::Lreal(number)),
        _ => None,
    }
}

/// A bit string as a signed number of its size.
pub(crate) fn signed_number(bits: u64, kind: ElementaryType) -> i64 {
    // Casts of the low bits.
    match kind {
        ElementaryType::Byte => i64::from(bits as i8),
        ElementaryType::Word => i64::from(bits as i16),
        ElementaryType::Dword => i64::from(bits as i32),
        _ => bits as i64,
    }
}

/// The type of an address by its size letter.
pub(crate) fn address_type(address: &Address) -> ElementaryType {
    match address.size {
        AddressSize::Bit => ElementaryType::Bool,
        AddressSize::Byte => ElementaryType::Byte,
        AddressSize::Word => ElementaryType::Word,
        AddressSize::DoubleWord => ElementaryType::Dword,
        AddressSize::LongWord => ElementaryType::Lword,
    }
}

/// The addresses of all located variables of a program.
pub(crate) fn located(program: &Program) -> Vec<Address> {
    let locations = program.variables().filter_map(|variable| variable.location);
    locations.filter_map(|location| Address::parse(&location).ok()).collect()
}

/// Whether a variable of the program covers a bit of this address.
pub(crate) fn is_used(program: &Program, located: &[Address], address: &Address) -> bool {
    if located.iter().any(|known| known.overlaps(address)) {
        return true;
    }
    // Elements of located arrays bear no address of their own: look at their places.
    let layout = &program.image().layout;
    let region = match address.area {
        Area::Input => layout.inputs,
        Area::Output => layout.outputs,
        Area::Memory => layout.memory,
    };
    let Some(bits) = address.bits() else { return false };
    let start = u64::from(region.start) * 8;
    let (first, end) = (start + bits.start, start + bits.end);
    program
        .image()
        .bits
        .iter()
        .any(|bit| (first..end).contains(&(u64::from(bit.byte) * 8 + u64::from(bit.bit))))
}

#[cfg(test)]
mod tests {
    use super::terminal_number;
    use latchwork_vm::{ElementaryType as T, Value};

    #[test]
    fn numbers_round_to_even_and_stop_at_the_ends() {
        let cases = [
            (2.5, T::Int, false, "2"),
            (3.5, T::Int, false, "4"),
            (40000.0, T::Int, false, "32767"),
            (-40000.0, T::Int, false, "-32768"),
            (-1.0, T::Uint, false, "0"),
            (70000.0, T::Uint, false, "65535"),
            (32767.5, T::Word, false, "16#8000"),
            (-1.0, T::Word, true, "16#FFFF"),
            (-1.0, T::Word, false, "16#0000"),
            (1e30, T::Ulint, false, "18446744073709551615"),
            (0.1, T::Real, false, "0.1"),
            (-2.5, T::Lreal, false, "-2.5"),
        ];
        for (number, kind, signed, expected) in cases {
            let found = terminal_number(number, kind, signed).map(|value| value.to_string());
            assert_eq!(found.as_deref(), Some(expected), "{number} as {}", kind.name());
        }
        assert_eq!(terminal_number(1.0, T::Bool, false), None::<Value>);
        assert_eq!(terminal_number(1.0, T::Time, false), None::<Value>);
    }
}
