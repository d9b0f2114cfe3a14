//! What the headings of a stimulus stand for.
//!
//! Knows devices and the program's variables; knows nothing of rows.

use std::collections::BTreeMap;

use latchwork_grammar::{Diagnostic, FileId, Span};
use latchwork_vm::{ElementaryType, Program, ResolveError};

use super::{
    Column, STIMULUS_COLUMNS_MAX, Taken, Target,
    cell::CellType,
    read::{ERRORS_MAX, shortened},
};
use crate::{
    address::Address,
    plant::Plant,
    station::{Device, DeviceForm, Station},
    table::Cell,
    terminals::{Direction, cell_type, direction, is_used, located, place_key, unresolved_text},
};

/// A heading and what it stands for.
pub(super) struct Heading {
    pub(super) name: String,
    pub(super) span: Span,
    pub(super) meaning: Meaning,
}

/// What a heading stands for.
pub(super) enum Meaning {
    /// Nothing that is put in: an error was reported, or the column is not taken.
    Ignored,
    /// The column `restart`.
    Restart,
    /// A device or variable.
    Column {
        /// Index into the columns of the stimulus.
        index: u32,
        /// What its cells hold.
        kind: CellType,
        /// For a device what its cells mean.
        device: Option<DeviceCells>,
    },
}

/// What the cells of a device mean.
pub(super) enum DeviceCells {
    /// One of two states.
    TwoState {
        /// The word for the actuated state.
        actuated: String,
        /// The word for the other one.
        released: String,
    },
    /// A number of engineering units.
    Analog {
        /// The unit.
        unit: Option<String>,
    },
}

impl DeviceCells {
    /// The state a word stands for.
    pub(super) fn state(&self, word: &str) -> Option<bool> {
        match self {
            DeviceCells::TwoState { actuated, released } => {
                crate::station::state_of_word(actuated, released, word)
            }
            DeviceCells::Analog { .. } => None,
        }
    }

    /// The words, for suggestions.
    pub(super) fn words(&self) -> Vec<&str> {
        match self {
            DeviceCells::TwoState { actuated, released } => vec![actuated, released, "TRUE", "FALSE"],
            DeviceCells::Analog { .. } => Vec::new(),
        }
    }

    /// What to write.
    pub(super) fn remedy(&self) -> String {
        let form = match self {
            DeviceCells::TwoState { actuated, released } => format!("`{actuated}` or 1, `{released}` or 0"),
            DeviceCells::Analog { unit: Some(unit) } => format!("a number of {unit} such as 2.5"),
            DeviceCells::Analog { unit: None } => "a number such as 2.5 in the units of its range".into(),
        };
        format!("write {form}; an empty cell leaves the device as it is")
    }
}

/// Reads the heading line.
pub(super) fn headings(
    file: FileId,
    cells: &[Cell<'_>],
    program: &Program,
    station: Option<&Station>,
    taken: Taken,
) -> (Vec<Column>, Vec<Heading>, Vec<Diagnostic>) {
    let devices = station.map_or(&[][..], |station| &station.devices);
    let wired = devices.iter().enumerate().filter_map(|(index, device)| {
        let terminal = program.resolve(&device.terminal.text).ok()?;
        Some((place_key(&terminal), index))
    });
    let mut finder = Finder {
        file,
        program,
        station,
        taken,
        columns: Vec::new(),
        diagnostics: Vec::new(),
        located: located(program),
        wired: wired.collect(),
        device_columns: BTreeMap::new(),
        places: BTreeMap::new(),
    };
    let headings = finder.headings(cells);
    (finder.columns, headings, finder.diagnostics)
}

/// What can have one column only.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Place {
    Restart,
    Device(usize),
    Variable((u32, u8)),
    Plant(u32),
}

pub(super) struct Finder<'a> {
    file: FileId,
    program: &'a Program,
    pub(super) station: Option<&'a Station>,
    pub(super) taken: Taken,
    columns: Vec<Column>,
    pub(super) diagnostics: Vec<Diagnostic>,
    /// Addresses of the program's located variables.
    located: Vec<Address>,
    /// The device wired to each input.
    wired: BTreeMap<(u32, u8), usize>,
    /// Devices with a column, wherever in the heading line.
    device_columns: BTreeMap<usize, Span>,
    /// What already has a column, and where.
    places: BTreeMap<Place, Span>,
}

impl Finder<'_> {
    fn headings(&mut self, cells: &[Cell<'_>]) -> Vec<Heading> {
        let file = self.file;
        let span = |cell: &Cell<'_>| Span::new(file, cell.place.start, cell.place.end);
        let first = cells.first().map_or(Span::new(file, 0, 0), span);
        if !cells.first().is_some_and(|cell| cell.text.eq_ignore_ascii_case("time")) {
            let found = cells.first().map_or("", |cell| cell.text.as_ref());
            self.diagnostics.push(
                Diagnostic::error("stimulus-time-column", first, "the first column of a stimulus is `time`")
                    .label(format!("found `{}`", shortened(found)))
                    .note("write a heading line such as `time,Start,Stop` above the rows; lines beginning with `#` are comments"),
            );
            return Vec::new();
        }
        if cells.len() > STIMULUS_COLUMNS_MAX {
            let message = format!("the stimulus has more than {STIMULUS_COLUMNS_MAX} columns");
            self.diagnostics.push(Diagnostic::error("stimulus-time-column", first, message));
            return Vec::new();
        }
        // Spreadsheets append empty columns.
        let used = cells.iter().rposition(|cell| !cell.text.is_empty()).map_or(0, |last| last + 1);
        let cells = cells.get(1..used).unwrap_or(&[]);
        for cell in cells {
            if let Some((index, _)) = self.device(&cell.text) {
                self.device_columns.entry(index).or_insert(span(cell));
            }
        }
        let mut headings = Vec::new();
        for cell in cells {
            // Beyond the limit the reader stops anyway; looking for similar names takes its time.
            let meaning = if self.diagnostics.len() > ERRORS_MAX {
                Meaning::Ignored
            } else {
                self.meaning(&cell.text, span(cell))
            };
            headings.push(Heading { name: shortened(&cell.text), span: span(cell), meaning });
        }
        headings
    }

    fn device(&self, name: &str) -> Option<(usize, &Device)> {
        let devices = self.station.map_or(&[][..], |station| &station.devices);
        devices.iter().enumerate().find(|(_, device)| device.name.value.eq_ignore_ascii_case(name))
    }

    fn meaning(&mut self, name: &str, span: Span) -> Meaning {
        if name.is_empty() {
            self.diagnostics.push(
                Diagnostic::error("stimulus-unknown-column", span, "this column has no heading")
                    .label("write a device, a variable or an address"),
            );
            return Meaning::Ignored;
        }
        if name.eq_ignore_ascii_case("time") {
            self.diagnostics.push(
                Diagnostic::error("stimulus-column-twice", span, "the column `time` is there twice")
                    .label("delete this column"),
            );
            return Meaning::Ignored;
        }
        if name.eq_ignore_ascii_case("restart") {
            return if self.twice(Place::Restart, name, span) { Meaning::Ignored } else { Meaning::Restart };
        }
        let device = self.device(name).map(|(index, device)| match &device.form {
            DeviceForm::TwoState { actuated, released, .. } => {
                let cells = DeviceCells::TwoState { actuated: actuated.clone(), released: released.clone() };
                (index, ElementaryType::Bool, cells)
            }
            DeviceForm::Analog { unit, .. } => {
                (index, ElementaryType::Lreal, DeviceCells::Analog { unit: unit.clone() })
            }
        });
        let Some((index, kind, cells)) = device else { return self.variable(name, span) };
        if self.twice(Place::Device(index), name, span) {
            return Meaning::Ignored;
        }
        if self.is_driven(index, name, span) {
            return Meaning::Ignored;
        }
        self.column(name, span, Target::Device(index), CellType::Elementary(kind), Some(cells))
    }

    fn variable(&mut self, name: &str, span: Span) -> Meaning {
        let resolved = match self.program.resolve(name) {
            Ok(resolved) => resolved,
            Err(_) if self.plant().is_some_and(|plant| plant.owns(name)) => return self.of_plant(name, span),
            Err(error) => {
                self.unknown(name, span, &error);
                return Meaning::Ignored;
            }
        };
        let direction = direction(self.program, &resolved);
        if self.taken == Taken::Inputs && direction != Direction::Input {
            return Meaning::Ignored;
        }
        let refused = match direction {
            Direction::Output => Some(("stimulus-output", "is an output: the program writes it")),
            Direction::Constant => Some(("stimulus-constant", "is a constant")),
            Direction::ReadOnly => Some(("stimulus-constant", "can only be read from outside")),
            Direction::Input | Direction::Other => None,
        };
        if let Some((problem, reason)) = refused {
            self.diagnostics.push(
                Diagnostic::error(problem, span, format!("`{name}` {reason}"))
                    .label("delete this column")
                    .note("a stimulus sets devices and inputs and forces internal variables"),
            );
            return Meaning::Ignored;
        }
        let Some(kind) = cell_type(self.program, &resolved) else {
            let message = format!("`{name}` is a reference, which has no literal");
            self.diagnostics.push(
                Diagnostic::error("stimulus-reference", span, message)
                    .label("name the variable it refers to"),
            );
            return Meaning::Ignored;
        };
        let unused =
            Address::parse(name).is_ok_and(|address| !is_used(self.program, &self.located, &address));
        if unused && self.taken == Taken::All {
            let message = format!("the program does not use the address `{name}`");
            self.diagnostics.push(
                Diagnostic::warning("stimulus-unknown-column", span, message)
                    .label("this column has no effect"),
            );
        }
        let key = place_key(&resolved);
        if self.twice(Place::Variable(key), name, span) || self.is_set_by_device(key, span) {
            return Meaning::Ignored;
        }
        self.column(name, span, Target::Variable(resolved), kind, None)
    }

    /// Reports a heading that is nothing.
    fn unknown(&mut self, name: &str, span: Span, error: &ResolveError) {
        if self.taken == Taken::Inputs {
            return;
        }
        let load = self.station.and_then(|station| station.load(name));
        let mut diagnostic = if load.is_some() {
            Diagnostic::error("stimulus-output", span, format!("`{name}` is a load: the program drives it"))
                .label("delete this column")
        } else {
            let devices = self.station.map_or(&[][..], |station| &station.devices);
            let of_plant = self.plant().map(Plant::variable_names).unwrap_or_default();
            let names = devices.iter().map(|device| device.name.value.as_str());
            let names: Vec<&str> = names.chain(of_plant.iter().map(String::as_str)).collect();
            let message = format!("`{}` is no device, variable or address", shortened(name));
            Diagnostic::error("stimulus-unknown-column", span, message).label(unresolved_text(
                self.program,
                name,
                error,
                &names,
            ))
        };
        if name.contains('[') && !name.contains(']') {
            diagnostic = diagnostic.note("a name with a comma stands in quotation marks: `\"Grid[1,2]\"`");
        }
        self.diagnostics.push(diagnostic);
    }

    /// Whether the wiring of a device with a column of its own sets this input; reports it. Without such a column
    /// the input is set against its device, which is worth a warning.
    fn is_set_by_device(&mut self, key: (u32, u8), span: Span) -> bool {
        let Some(index) = self.wired.get(&key) else { return false };
        let own_column = self.device_columns.get(index).copied();
        let driven = self.plant().is_some_and(|plant| plant.drives(*index));
        if self.taken == Taken::Inputs {
            return own_column.is_some() || driven;
        }
        let device = self.station.and_then(|station| station.devices.get(*index));
        let device = device.map_or("", |device| device.name.value.as_str());
        let diagnostic = match own_column {
            _ if driven => {
                let message = format!("this input is wired to `{device}`, which the plant drives");
                Diagnostic::error("station-plant-driven", span, message).label("delete this column")
            }
            Some(other) => Diagnostic::error(
                "stimulus-wired-input",
                span,
                format!("both `{device}` and the input it is wired to have a column"),
            )
            .label(format!("the wiring of `{device}` sets this input"))
            .also(other, "the device")
            .note("delete one of the two columns"),
            None => Diagnostic::warning(
                "stimulus-wired-input",
                span,
                format!("this input is wired to `{device}`, which will not move"),
            )
            .label(format!("a column `{device}` acts on the device instead")),
        };
        self.diagnostics.push(diagnostic);
        own_column.is_some() || driven
    }

    pub(super) fn column(
        &mut self,
        name: &str,
        span: Span,
        target: Target,
        kind: CellType,
        device: Option<DeviceCells>,
    ) -> Meaning {
        // The number of columns is limited above.
        let index = self.columns.len() as u32;
        self.columns.push(Column { name: name.to_string(), span, target });
        Meaning::Column { index, kind, device }
    }

    /// Whether something already has a column; reports it.
    pub(super) fn twice(&mut self, place: Place, name: &str, span: Span) -> bool {
        let Some(first) = self.places.get(&place).copied() else {
            self.places.insert(place, span);
            return false;
        };
        if self.taken == Taken::All {
            let message = format!("`{}` already has a column", shortened(name));
            self.diagnostics.push(
                Diagnostic::error("stimulus-column-twice", span, message)
                    .label("delete one of the two columns")
                    .also(first, "the first one"),
            );
        }
        true
    }
}
