//! What is compared: a device, a load, a terminal or a variable, with the type of its values, so that what a file says
//! can be read as values of that type.
//!
//! Names follow the rule of recordings: a device or load of the station first, then a variable or address of the
//! program, then a variable of the plant, then the terminal of a device that the program does not read.

use latchwork_grammar::Names;
use latchwork_vm::{ElementaryType, Program, Resolved, Value};

use super::dumped::{Bits, value_of_bits, value_of_real, value_of_text};
use crate::{
    address::Address,
    nearest::{did_you_mean, nearest},
    plant::Plant,
    recording::{Role, Row},
    station::{DeviceForm, LoadForm, Station, state_of_word},
    stimulus::{
        cell::{self, CellError, CellType},
        words::kind_name,
    },
    terminals::{address_type, cell_type, unresolved_text},
};

/// A name whose values are compared.
#[derive(Clone, Debug)]
pub struct Subject {
    /// As it was asked for.
    asked: String,
    /// Its full name: the path of a variable, the name of a device or load.
    full: String,
    /// Its address.
    location: Option<String>,
    /// What its values are.
    kind: CellType,
    /// The words for the two states of a device, the actuated one first.
    states: Option<(String, String)>,
}

/// Why a name can not be compared.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SubjectError {
    /// Stable name, lower case with dashes.
    pub name: &'static str,
    /// One sentence without full stop.
    pub message: String,
    /// What is near, or what to do: a label for the place of the name.
    pub remedy: String,
}

impl Subject {
    /// What a name stands for in a program and on a station.
    ///
    /// # Errors
    /// A name that nobody knows, and a reference, whose value can not be written down.
    pub fn find(name: &str, program: &Program, station: Option<&Station>) -> Result<Self, SubjectError> {
        let name = name.trim();
        let plain = |full: &str, kind: ElementaryType| Subject {
            asked: name.to_owned(),
            full: full.to_owned(),
            location: None,
            kind: CellType::Elementary(kind),
            states: None,
        };
        if let Some(device) = station.and_then(|station| station.device(name)) {
            return Ok(match &device.form {
                DeviceForm::TwoState { actuated, released, .. } => Subject {
                    states: Some((actuated.clone(), released.clone())),
                    ..plain(&device.name.value, ElementaryType::Bool)
                },
                DeviceForm::Analog { .. } => plain(&device.name.value, ElementaryType::Lreal),
            });
        }
        if let Some(load) = station.and_then(|station| station.load(name)) {
            let kind = match &load.form {
                LoadForm::TwoState => ElementaryType::Bool,
                LoadForm::Analog { .. } => ElementaryType::Lreal,
            };
            return Ok(plain(&load.name.value, kind));
        }
        let of = |program: &Program, variable: Resolved| {
            let kind = cell_type(program, &variable).ok_or_else(|| SubjectError {
                name: "trace-reference",
                message: format!("`{name}` is a reference, whose value no trace can hold"),
                remedy: "name the variable it refers to".to_owned(),
            })?;
            let (full, location) = (variable.name, variable.location);
            Ok(Subject { asked: name.to_owned(), full, location, kind, states: None })
        };
        let unknown = |remedy: String| SubjectError {
            name: "procedure-unknown-name",
            message: format!("there is nothing named `{name}` to compare"),
            remedy,
        };
        let error = match program.resolve(name) {
            Ok(variable) => return of(program, variable),
            Err(error) => error,
        };
        let plant = station.and_then(Station::process);
        if let Some(plant) = plant.filter(|plant| plant.owns(name)) {
            return match plant.resolve(name) {
                Ok(variable) => of(plant.program(), variable),
                Err(error) => Err(unknown(unresolved_text(plant.program(), name, &error, &[]))),
            };
        }
        let devices = station.map_or(&[][..], |station| &station.devices);
        if let Ok(address) = Address::parse(name)
            && devices.iter().any(|device| device.terminal.address.as_ref() == Some(&address))
        {
            let written = address.to_string();
            return Ok(Subject {
                location: Some(written.clone()),
                ..plain(&written, address_type(&address))
            });
        }
        let loads = station.map_or(&[][..], |station| &station.loads);
        let of_plant = plant.map(Plant::variable_names).unwrap_or_default();
        let others: Vec<&str> = devices
            .iter()
            .map(|device| device.name.value.as_str())
            .chain(loads.iter().map(|load| load.name.value.as_str()))
            .chain(of_plant.iter().map(String::as_str))
            .collect();
        Err(unknown(unresolved_text(program, name, &error, &others)))
    }

    /// What a row of a recording shows, as far as the recording tells: of an enumeration it knows the values that
    /// were seen, of a string no length. For two recordings of one program, without the program.
    pub fn of_row(row: &Row) -> Self {
        Subject {
            asked: row.name().to_owned(),
            full: row.signal.name.clone(),
            location: row.signal.location.clone(),
            kind: kind_of_row(row),
            states: None,
        }
    }

    /// As it was asked for.
    pub fn name(&self) -> &str {
        &self.asked
    }

    /// The names it may bear in a file, the likeliest first.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        [self.asked.as_str(), self.full.as_str()].into_iter().chain(self.location.as_deref())
    }

    /// Whether a row of a recording shows it.
    pub fn is_row(&self, row: &Row) -> bool {
        row.signal.name.eq_ignore_ascii_case(&self.full) || row.name().eq_ignore_ascii_case(&self.asked)
    }

    /// The name of its type.
    pub(super) fn type_name(&self) -> String {
        kind_name(&self.kind)
    }

    /// The value in the cell of a table.
    pub(super) fn value_of_cell(&self, text: &str, names: &mut Names) -> Result<Value, CellError> {
        let state =
            self.states.as_ref().and_then(|(actuated, released)| state_of_word(actuated, released, text));
        match (state, &self.kind, text.parse::<i32>()) {
            (Some(state), ..) => Ok(Value::Bool(state)),
            // A recording may hold a number that no value of the enumeration has; it is written as it is.
            (None, CellType::Enumeration { values, .. }, Ok(number))
                if values.iter().all(|(_, value)| *value != number) =>
            {
                Ok(Value::Enumeration { value: number, name: None })
            }
            (None, ..) => cell::read(text, &self.kind, names).map_err(|error| self.worded(text, error)),
        }
    }

    /// For a device the words of its states belong into the remedy.
    fn worded(&self, text: &str, error: CellError) -> CellError {
        let Some((actuated, released)) = &self.states else { return error };
        let near = did_you_mean(&nearest(text, [actuated.as_str(), released, "TRUE", "FALSE"]));
        CellError {
            label: near.unwrap_or_else(|| "unknown state".to_owned()),
            remedy: format!("write `{actuated}` or 1, `{released}` or 0"),
        }
    }

    /// The value of a vector of bits in a dump.
    ///
    /// # Errors
    /// Why it is none, to stand behind "this is".
    pub(super) fn value_of_bits(&self, bits: &Bits<'_>) -> Result<Value, String> {
        value_of_bits(bits, &self.kind)
    }

    /// The value of a real number in a dump; errors as in [`Subject::value_of_bits`].
    pub(super) fn value_of_real(&self, number: f64) -> Result<Value, String> {
        value_of_real(number, &self.kind)
    }

    /// The value of a text in a dump; errors as in [`Subject::value_of_bits`].
    pub(super) fn value_of_text(&self, text: &str, names: &mut Names) -> Result<Value, String> {
        let state =
            self.states.as_ref().and_then(|(actuated, released)| state_of_word(actuated, released, text));
        state.map_or_else(|| value_of_text(text, &self.kind, names), |state| Ok(Value::Bool(state)))
    }
}

/// What the values of a row are.
fn kind_of_row(row: &Row) -> CellType {
    use ElementaryType as T;
    let values = || row.signal.changes.iter().map(|change| change.value);
    let kind = match values().next() {
        Some(Value::String(_)) => return CellType::Text { wide: false, capacity: u32::MAX },
        Some(Value::WideString(_)) => return CellType::Text { wide: true, capacity: u32::MAX },
        Some(Value::Enumeration { .. }) => {
            let mut seen: Vec<(String, i32)> = Vec::new();
            for value in values() {
                if let Value::Enumeration { value, name: Some(name) } = value
                    && !seen.iter().any(|(known, _)| *known == name)
                {
                    seen.push((name, value));
                }
            }
            return CellType::Enumeration { name: "the enumeration".to_owned(), values: seen };
        }
        Some(value) => value.elementary_type(),
        None => None,
    };
    let of_role = if matches!(row.role, Role::Device { contact: None, .. }) { T::Lreal } else { T::Bool };
    CellType::Elementary(kind.unwrap_or(of_role))
}
