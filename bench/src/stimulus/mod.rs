//! Stimuli: what happens to devices, inputs and variables, and when, as comma-separated text.
//!
//! ```text
//! # a comment line
//! time,   StartPB, StopPB,   Level, restart
//! 0,      ,        released, 40.0,
//! T#1s,   pressed, ,         ,
//! 1100,   0,       ,         ,
//! T#5s,   ,        ,         ,      warm
//! ```
//!
//! - The first column is `time`: a duration literal of the standard or a plain number of milliseconds (`12.5`).
//!   Times do not go backwards; rows of equal time are applied in the order of the file.
//! - Every other column is a device of the station, a variable (`Start`, `Main.Fill.PT`, `Seg[0]`) or an address
//!   (`%IX0.0`). A name with a comma stands in quotation marks: `"Grid[1,2]"`. If the station names a device like
//!   a variable, [`crate::station::Station::check`] says so.
//! - A cell holds a literal of the column's type (`TRUE`, `1`, `16#FF`, `INT#-5`, `2.5`, `T#1s500ms`, `'text'`,
//!   a value of an enumeration). A device with a contact takes 1, 0, TRUE, FALSE or its own words (`pressed`,
//!   `released`); an analog device takes a number of engineering units. An empty or missing cell changes nothing.
//! - A column `restart` holds `warm` or `cold`: the machine is restarted before the scan of that time.
//! - A column may also be a variable of the station's plant by its path, such as `Tank.Inflow`; not one that a load
//!   sets. A device that the plant drives has no column.
//! - Inputs may be set, and any other variable may be forced at its time, except what the program itself writes
//!   to the outside: outputs and located outputs; and constants.
//! - The form of the text is that of RFC 4180 with the liberties told in `table`: `;` or tabulator as separator,
//!   CR LF, a byte order mark, blanks, comment lines beginning with `#`.
//!
//! A recorded trace has the same form. It also has columns for outputs, which can not be put in again: of a file
//! with such a column devices and inputs are taken, all other columns are left out, and one warning says so.

pub(crate) mod cell;
mod columns;
mod plant;
pub(crate) mod read;
pub(crate) mod time;
pub(crate) mod words;

use latchwork_grammar::{Diagnostic, FileId, Severity, Span};
use latchwork_vm::{Program, Resolved, Restart, Value};

use crate::station::Station;

/// Largest stimulus accepted, in bytes.
pub const STIMULUS_BYTES_MAX: usize = 64 * 1024 * 1024;

/// Most rows of a stimulus.
pub const STIMULUS_ROWS_MAX: usize = 1_000_000;

/// Most filled cells of a stimulus.
pub const STIMULUS_CELLS_MAX: usize = 4_000_000;

/// Most columns of a stimulus.
pub const STIMULUS_COLUMNS_MAX: usize = 4_096;

/// What happens, and when.
#[derive(Clone, Debug)]
pub struct Stimulus {
    /// The file it was read from.
    pub file: FileId,
    /// Its columns but `time` and `restart`, in the order of the file.
    pub columns: Vec<Column>,
    /// Its rows; times do not go backwards.
    pub rows: Vec<StimulusRow>,
    /// The filled cells, row by row.
    pub(crate) cells: Vec<StimulusCell>,
}

/// A column.
#[derive(Clone, Debug)]
pub struct Column {
    /// The heading as written.
    pub name: String,
    /// Its place.
    pub span: Span,
    /// What its cells are put into.
    pub target: Target,
}

/// What a column stands for.
#[derive(Clone, Debug)]
pub enum Target {
    /// A device of the station, by its index. Its values are BOOL (actuated or not) or LREAL (engineering units).
    Device(usize),
    /// A variable of the program.
    Variable(Resolved),
    /// A variable of the plant.
    Plant(Resolved),
}

/// A row.
#[derive(Clone, Debug)]
pub struct StimulusRow {
    /// Its time in nanoseconds from the start, not negative.
    pub time_ns: i64,
    /// A restart at this time.
    pub restart: Option<Restart>,
    /// Its first cell in `cells`; the last one is before the first of the next row.
    pub(crate) first_cell: u32,
    /// The row's time cell.
    pub span: Span,
}

/// A filled cell.
#[derive(Clone, Debug)]
pub struct StimulusCell {
    /// Index of its column.
    pub column: u32,
    /// The value in the type of the column's target.
    pub value: Value,
    /// Its place.
    pub span: Span,
}

/// Which columns are taken.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Taken {
    /// All; one that can not be put in is an error.
    All,
    /// Devices and inputs only.
    Inputs,
}

impl Stimulus {
    /// Reads a stimulus for a program on a station. The stimulus is there unless an error was found.
    pub fn parse(
        file: FileId,
        text: &str,
        program: &Program,
        station: Option<&Station>,
    ) -> (Option<Stimulus>, Vec<Diagnostic>) {
        finished(read::read(file, text, program, station))
    }

    /// The filled cells of a row, by its index, in the order of the columns.
    pub fn cells_of_row(&self, row: usize) -> &[StimulusCell] {
        let start = self.rows.get(row).map_or(self.cells.len(), |row| row.first_cell as usize);
        let end = self.rows.get(row + 1).map_or(self.cells.len(), |row| row.first_cell as usize);
        self.cells.get(start..end).unwrap_or(&[])
    }

    /// Time of the last row in nanoseconds; `None` without rows.
    pub fn last_time_ns(&self) -> Option<i64> {
        self.rows.last().map(|row| row.time_ns)
    }
}

fn finished(
    (stimulus, diagnostics): (Option<Stimulus>, Vec<Diagnostic>),
) -> (Option<Stimulus>, Vec<Diagnostic>) {
    let failed = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
    (if failed { None } else { stimulus }, diagnostics)
}
