//! From the text of a stimulus to its rows.
//!
//! Knows the form of rows and times; `columns` knows what the headings stand for, `cell` what a cell may hold.

use latchwork_grammar::{Diagnostic, FileId, Names, Span};
use latchwork_vm::{ElementaryType, Program, Restart, Value};

use super::{
    STIMULUS_BYTES_MAX, STIMULUS_CELLS_MAX, STIMULUS_ROWS_MAX, Stimulus, StimulusCell, StimulusRow, Taken,
    cell::{self, CellType},
    columns::{DeviceCells, Heading, Meaning, headings},
    time,
    words::kind_name,
};
use crate::{
    nearest::{did_you_mean, nearest},
    station::Station,
    table::{Cell, FormError, Lines},
};

/// Most errors reported for one file.
pub(crate) const ERRORS_MAX: usize = 100;

/// Reads a stimulus; the result is incomplete if an error is among the diagnostics.
pub(super) fn read(
    file: FileId,
    text: &str,
    program: &Program,
    station: Option<&Station>,
) -> (Option<Stimulus>, Vec<Diagnostic>) {
    let start = Span::new(file, 0, 0);
    if text.len() > STIMULUS_BYTES_MAX {
        let message =
            format!("the stimulus has {} bytes, more than the {STIMULUS_BYTES_MAX} allowed", text.len());
        let diagnostic = Diagnostic::error("stimulus-too-large", start, message)
            .note("write only the rows in which something changes; empty cells leave a value as it is");
        return (None, vec![diagnostic]);
    }
    let mut lines = Lines::new(text);
    let mut cells = Vec::new();
    let Some(heading) = lines.next_line() else {
        let diagnostic = Diagnostic::error("stimulus-empty", start, "the stimulus has no heading line")
            .note("write the columns on the first line, the first one is `time`: `time,Start,Stop`");
        return (None, vec![diagnostic]);
    };
    if let Err(error) = lines.cells(heading, &mut cells) {
        return (None, vec![form_error(file, &error)]);
    }
    let (mut columns, mut meanings, mut diagnostics) = headings(file, &cells, program, station, Taken::All);
    if let Some(output) = diagnostics.iter().find(|diagnostic| diagnostic.name == "stimulus-output").cloned()
    {
        // Only a recorded trace has outputs. What was said about its other columns does not count.
        diagnostics.retain(|diagnostic| !TRACE_COLUMNS.contains(&diagnostic.name));
        diagnostics.push(trace_warning(output));
        (columns, meanings, _) = headings(file, &cells, program, station, Taken::Inputs);
    }
    let mut reader = Reader {
        file,
        separator: lines.separator(),
        names: Names::new(),
        stimulus: Stimulus { file, columns, rows: Vec::new(), cells: Vec::new() },
        diagnostics: Vec::new(),
    };
    // Without headings that can be understood every row would only repeat the complaint.
    if diagnostics.iter().all(|diagnostic| diagnostic.name != "stimulus-time-column") {
        reader.rows(&meanings, &mut lines, &mut cells);
    }
    diagnostics.append(&mut reader.diagnostics);
    if diagnostics.len() > ERRORS_MAX {
        diagnostics.truncate(ERRORS_MAX);
        let last = diagnostics.last().map_or(start, |diagnostic| diagnostic.primary.span);
        diagnostics.push(
            Diagnostic::error(
                "stimulus-too-many-errors",
                last,
                "too many errors: the rest of the stimulus was not read",
            )
            .note("is this the right file?"),
        );
    }
    (Some(reader.stimulus), diagnostics)
}

/// Complaints about columns that a recorded trace has by nature.
const TRACE_COLUMNS: [&str; 4] =
    ["stimulus-output", "stimulus-constant", "stimulus-wired-input", "station-plant-driven"];

/// What is said of a stimulus with a column for an output.
fn trace_warning(output: Diagnostic) -> Diagnostic {
    Diagnostic::warning("stimulus-output", output.primary.span, output.message)
        .label("not applied")
        .note("a file with outputs is taken for a recorded trace: devices and inputs are applied, all other columns are left out")
}

struct Reader {
    file: FileId,
    separator: char,
    names: Names,
    stimulus: Stimulus,
    diagnostics: Vec<Diagnostic>,
}

impl Reader {
    fn rows<'t>(&mut self, headings: &[Heading], lines: &mut Lines<'t>, cells: &mut Vec<Cell<'t>>) {
        while let Some(line) = lines.next_line() {
            let place = Span::new(self.file, line.start as u32, line.end as u32);
            if self.diagnostics.len() > ERRORS_MAX {
                return;
            }
            if self.stimulus.rows.len() == STIMULUS_ROWS_MAX
                || self.stimulus.cells.len() >= STIMULUS_CELLS_MAX
            {
                let message = format!(
                    "the stimulus has more than {STIMULUS_ROWS_MAX} rows or {STIMULUS_CELLS_MAX} filled cells"
                );
                self.diagnostics.push(
                    Diagnostic::error("stimulus-too-large", place, message)
                        .label("the first row too many")
                        .note("write only what changes; empty cells leave a value as it is"),
                );
                return;
            }
            match lines.cells(line, cells) {
                Ok(()) => {
                    // A row of separators only, as spreadsheets append them.
                    if cells.iter().any(|cell| !cell.text.is_empty()) {
                        self.row(headings, cells);
                    }
                }
                Err(error) => self.diagnostics.push(form_error(self.file, &error)),
            }
        }
    }

    fn row(&mut self, headings: &[Heading], cells: &[Cell<'_>]) {
        let Some(time_cell) = cells.first() else { return };
        let time_span = self.span(time_cell);
        let Some(time_ns) = self.time(time_cell) else { return };
        if let Some(before) = self.stimulus.rows.last()
            && time_ns < before.time_ns
        {
            self.diagnostics.push(
                Diagnostic::error("stimulus-time-order", time_span, "the time goes backwards")
                    .label("earlier than the row before")
                    .also(before.span, "the row before")
                    .note("sort the rows by time; rows of equal time are applied in the order of the file"),
            );
            return;
        }
        if let Some(extra) = cells.iter().skip(headings.len() + 1).find(|cell| !cell.text.is_empty()) {
            let decimal_comma = self.separator == ',' && cells.len() > headings.len() + 1;
            let mut diagnostic = Diagnostic::error(
                "stimulus-extra-cell",
                self.span(extra),
                format!("this row has more cells than the heading line, which has {}", headings.len() + 1),
            )
            .label("no column");
            if decimal_comma {
                diagnostic = diagnostic.note("a decimal number is written with a point: `2.5`; a cell with a comma stands in quotation marks");
            }
            self.diagnostics.push(diagnostic);
        }
        let first_cell = self.stimulus.cells.len() as u32;
        let mut restart = None;
        for (index, cell) in cells.iter().skip(1).enumerate() {
            if cell.text.is_empty() {
                continue;
            }
            let Some(heading) = headings.get(index) else { break };
            match &heading.meaning {
                Meaning::Ignored => {}
                Meaning::Restart => restart = self.restart(cell).or(restart),
                Meaning::Column { index, kind, device } => {
                    let column = *index;
                    let state = device.as_ref().and_then(|device| device.state(&cell.text)).map(Value::Bool);
                    let value = match state {
                        Some(value) => Ok(value),
                        None => cell::read(&cell.text, kind, &mut self.names),
                    };
                    match value {
                        Ok(value) => {
                            let span = self.span(cell);
                            self.stimulus.cells.push(StimulusCell { column, value, span });
                        }
                        Err(error) => {
                            let diagnostic = self.cell_error(cell, heading, kind, error);
                            self.diagnostics.push(diagnostic);
                        }
                    }
                }
            }
        }
        self.stimulus.rows.push(StimulusRow { time_ns, restart, first_cell, span: time_span });
    }

    fn cell_error(
        &self,
        cell: &Cell<'_>,
        heading: &Heading,
        kind: &CellType,
        error: cell::CellError,
    ) -> Diagnostic {
        let shown = shortened(&cell.text);
        let (message, label, remedy) = match &heading.meaning {
            Meaning::Column { device: Some(device @ DeviceCells::TwoState { .. }), .. } => {
                let near = did_you_mean(&nearest(&cell.text, device.words()));
                let label = near.unwrap_or_else(|| "unknown state".into());
                (format!("`{shown}` is no state of `{}`", heading.name), label, device.remedy())
            }
            Meaning::Column { device: Some(device), .. } => {
                let label = error.label.replace("a value of type LREAL", "a number");
                (
                    format!("`{shown}` is no value of the analog device `{}`", heading.name),
                    label,
                    device.remedy(),
                )
            }
            _ => (
                format!(
                    "`{shown}` can not be put into `{}`, which is of type {}",
                    heading.name,
                    kind_name(kind)
                ),
                error.label,
                error.remedy,
            ),
        };
        let mut diagnostic = Diagnostic::error("stimulus-value", self.span(cell), message)
            .label(label)
            .also(heading.span, "the column")
            .note(remedy);
        // `2,5` in a file with semicolons.
        if let CellType::Elementary(kind) = kind
            && kind.is_real()
            && cell.text.contains(',')
            && cell.text.replace(',', ".").parse::<f64>().is_ok()
        {
            diagnostic = diagnostic.fix("write a point", self.span(cell), cell.text.replace(',', "."));
        }
        if let CellType::Elementary(ElementaryType::Time) = kind
            && cell.text.bytes().all(|byte| byte.is_ascii_digit())
        {
            diagnostic = diagnostic.note(format!("if milliseconds are meant, write `T#{}ms`", cell.text));
        }
        diagnostic
    }

    fn restart(&mut self, cell: &Cell<'_>) -> Option<Restart> {
        if cell.text.eq_ignore_ascii_case("warm") {
            return Some(Restart::Warm);
        }
        if cell.text.eq_ignore_ascii_case("cold") {
            return Some(Restart::Cold);
        }
        let label =
            did_you_mean(&nearest(&cell.text, ["warm", "cold"])).unwrap_or_else(|| "unknown restart".into());
        self.diagnostics.push(
            Diagnostic::error(
                "stimulus-restart",
                self.span(cell),
                format!("`{}` is no restart", shortened(&cell.text)),
            )
            .label(label)
            .note(
                "write `warm` (RETAIN variables keep their values) or `cold` (all variables are initialized)",
            ),
        );
        None
    }

    /// The time of a row in nanoseconds.
    fn time(&mut self, cell: &Cell<'_>) -> Option<i64> {
        match time::read(&cell.text, &mut self.names) {
            Ok(time_ns) => Some(time_ns),
            Err(error) => {
                let diagnostic = error.diagnostic("stimulus-time", self.span(cell));
                self.diagnostics.push(diagnostic);
                None
            }
        }
    }

    fn span(&self, cell: &Cell<'_>) -> Span {
        Span::new(self.file, cell.place.start, cell.place.end)
    }
}

/// A text for a message: not longer than 40 characters, without control characters.
pub(crate) fn shortened(text: &str) -> String {
    let mut shown: String =
        text.chars().take(40).map(|letter| if letter.is_control() { '\u{fffd}' } else { letter }).collect();
    if text.chars().count() > 40 {
        shown.push('…');
    }
    shown
}

fn form_error(file: FileId, error: &FormError) -> Diagnostic {
    Diagnostic::error("stimulus-quote", Span::new(file, error.place.start, error.place.end), error.message)
        .label(error.remedy)
}
