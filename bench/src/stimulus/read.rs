//! From the text of a stimulus to its rows.
//!
//! Knows the form of rows and times; `columns` knows what the headings stand for, `cell` what a cell may hold.

use latchwork_grammar::{Diagnostic, FileId, Names, Span};
use latchwork_vm::{ElementaryType, Program, Restart, Value};

use super::{
    STIMULUS_BYTES_MAX, STIMULUS_CELLS_MAX, STIMULUS_ROWS_MAX, Stimulus, StimulusCell, StimulusRow, Taken,
    cell::{self, CellType},
    columns::{DeviceCells, Heading, Meaning, headings},
    table::{Cell, FormError, Lines},
    words::kind_name,
};
use crate::{
    nearest::{did_you_mean, nearest},
    station::Station,
};

/// Most errors reported for one file.
pub(super) const ERRORS_MAX: usize = 100;

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
const TRACE_COLUMNS: [&str; 3] = ["stimulus-output", "stimulus-constant", "stimulus-wired-input"];

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
        let span = self.span(cell);
        const FORM: &str =
            "a time is a plain number of milliseconds such as 1500 or 12.5, or a duration such as T#1s500ms";
        let before_start = || -> (String, String) {
            let label = "times count from the start of the run and are not negative";
            ("the time is before the start".into(), label.into())
        };
        let (message, label): (String, String) = if cell.text.is_empty() {
            ("this row has no time".into(), "write the time of the row in its first cell".into())
        } else if cell.text.strip_prefix('-').is_some_and(|text| milliseconds(text).is_some()) {
            before_start()
        } else if let Some(plain) = milliseconds(&cell.text) {
            match plain {
                Ok(time) => return Some(time),
                Err(problem) => (format!("`{}` can not be a time", shortened(&cell.text)), problem.into()),
            }
        } else {
            match cell::read(&cell.text, &CellType::Elementary(ElementaryType::Ltime), &mut self.names) {
                Ok(Value::Duration(time, _)) if time >= 0 => return Some(time),
                Ok(_) => before_start(),
                Err(error) => (format!("`{}` is not a time", shortened(&cell.text)), error.label),
            }
        };
        let mut diagnostic = Diagnostic::error("stimulus-time", span, message).label(label).note(FORM);
        if cell.text.contains(',') && matches!(milliseconds(&cell.text.replace(',', ".")), Some(Ok(_))) {
            diagnostic = diagnostic.fix("write a point", span, cell.text.replace(',', "."));
        }
        self.diagnostics.push(diagnostic);
        None
    }

    fn span(&self, cell: &Cell<'_>) -> Span {
        Span::new(self.file, cell.place.start, cell.place.end)
    }
}

/// A plain decimal number of milliseconds as nanoseconds; `None` if the text is no such number.
fn milliseconds(text: &str) -> Option<Result<i64, &'static str>> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || !digits(whole) || !digits(fraction) || text.ends_with('.') {
        return None;
    }
    let significant = fraction.trim_end_matches('0');
    if significant.len() > 6 {
        return Some(Err("finer than a nanosecond: at most six digits after the point"));
    }
    let too_late = "too late: a run ends within 292 years";
    let nanoseconds: i64 = format!("{significant:0<6}").parse().unwrap_or(0);
    let time =
        whole.parse::<i64>().ok().and_then(|whole| whole.checked_mul(1_000_000)?.checked_add(nanoseconds));
    Some(time.ok_or(too_late))
}

/// A text for a message: not longer than 40 characters, without control characters.
pub(super) fn shortened(text: &str) -> String {
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

#[cfg(test)]
mod tests {
    use super::milliseconds;

    #[test]
    fn plain_milliseconds() {
        let cases = [
            ("0", 0),
            ("1500", 1_500_000_000),
            ("12.5", 12_500_000),
            ("0.000001", 1),
            ("1.0000000", 1_000_000),
            ("007", 7_000_000),
        ];
        for (text, expected) in cases {
            assert_eq!(milliseconds(text), Some(Ok(expected)), "{text}");
        }
        for text in ["", ".5", "5.", "-1", "1e3", "T#1s", "1 000", "0x10"] {
            assert_eq!(milliseconds(text), None, "{text}");
        }
        for text in ["0.0000001", "9223372036855", "99999999999999999999"] {
            assert!(matches!(milliseconds(text), Some(Err(_))), "{text}");
        }
        assert_eq!(milliseconds("9223372036854.775807"), Some(Ok(i64::MAX)));
    }
}
