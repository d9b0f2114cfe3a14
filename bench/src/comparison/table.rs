//! A trace from a table: the form of our own export and of a stimulus.
//!
//! Knows the form of rows; `subject` knows what a cell holds.

use latchwork_grammar::{Diagnostic, FileId, Names, Span};

use super::{
    Expected, Subject, TRACE_COLUMNS_MAX, TRACE_VALUES_MAX, Track, ambiguous_signal,
    naming::{Key, Nearness, Wanted},
    no_such_signal, short, too_many_values,
};
use crate::{
    stimulus::{read::ERRORS_MAX, time},
    table::{Cell, FormError, Lines},
};

/// Reads a table.
pub(super) fn read(file: FileId, text: &str, subjects: &[Subject]) -> (Option<Expected>, Vec<Diagnostic>) {
    let start = Span::new(file, 0, 0);
    let mut lines = Lines::new(text);
    let mut cells = Vec::new();
    let Some(heading) = lines.next_line() else {
        let diagnostic = Diagnostic::error("trace-empty", start, "the trace is empty").note(
            "a trace is a table whose first line names the columns, such as `time,Pump`, or a value change dump",
        );
        return (None, vec![diagnostic]);
    };
    if let Err(error) = lines.cells(heading, &mut cells) {
        return (None, vec![form_error(file, &error)]);
    }
    let (columns, mut diagnostics) = columns(file, &cells, subjects);
    if !diagnostics.is_empty() {
        return (None, diagnostics);
    }
    let mut reader = Reader {
        file,
        separator: lines.separator(),
        headings: cells.len(),
        names: Names::new(),
        columns,
        values: 0,
        last: None,
        diagnostics: Vec::new(),
    };
    reader.rows(&mut lines, &mut cells);
    diagnostics.append(&mut reader.diagnostics);
    let Some(last) = reader.last else {
        if diagnostics.is_empty() {
            let message = "the trace has a heading line and no rows";
            diagnostics.push(
                Diagnostic::error("trace-empty", start, message)
                    .note("write a row for each change: the time, then the values from then on"),
            );
        }
        return (None, diagnostics);
    };
    // Values in the last row hold at its time at least; a row without any only ends the trace.
    let end_ns = last.time_ns.saturating_add(i64::from(last.filled));
    let tracks = reader.columns.into_iter().map(|column| column.track).collect();
    (Some(Expected { file, end_ns, tracks }), diagnostics)
}

/// A column that is compared.
struct Column {
    /// Its number among the cells of a row.
    cell: usize,
    track: Track,
    /// The last cell, which most cells of a full table repeat.
    last: String,
}

/// The last row so far.
#[derive(Clone, Copy)]
struct LastRow {
    time_ns: i64,
    span: Span,
    /// Whether it has a cell with a value.
    filled: bool,
}

/// The column of each subject.
fn columns(file: FileId, cells: &[Cell<'_>], subjects: &[Subject]) -> (Vec<Column>, Vec<Diagnostic>) {
    let span = |cell: &Cell<'_>| Span::new(file, cell.place.start, cell.place.end);
    let first = cells.first().map_or(Span::new(file, 0, 0), span);
    if !cells.first().is_some_and(|cell| cell.text.eq_ignore_ascii_case("time")) {
        let found = cells.first().map_or("", |cell| cell.text.as_ref());
        let diagnostic = Diagnostic::error(
            "trace-time-column",
            first,
            "the first column of a trace is `time`",
        )
        .label(format!("found `{}`", short(found)))
        .note(
            "write a heading line such as `time,Pump` above the rows; lines beginning with `#` are comments",
        )
        .note("a value change dump begins with a section such as `$timescale 1 ms $end`");
        return (Vec::new(), vec![diagnostic]);
    }
    if cells.len() > TRACE_COLUMNS_MAX {
        let message = format!("the trace has more than {TRACE_COLUMNS_MAX} columns");
        let diagnostic = Diagnostic::error("trace-too-large", first, message)
            .note("keep the columns that are compared, and leave out the rest");
        return (Vec::new(), vec![diagnostic]);
    }
    let line = first.to(cells.last().map_or(first, span));
    let keys: Vec<Key> = cells.iter().map(|cell| Key::of(&cell.text)).collect();
    let mut columns = Vec::new();
    let mut diagnostics = Vec::new();
    for subject in subjects {
        let wanted = Wanted::new(subject.names());
        let mut found: Vec<(Nearness, usize)> = keys
            .iter()
            .enumerate()
            .skip(1)
            .filter_map(|(index, key)| Some((wanted.nearness(|| key.backwards())?, index)))
            .collect();
        found.sort_unstable();
        let place = |index: usize| cells.get(index).map_or(line, span);
        match found.as_slice() {
            [] => {
                let known: Vec<&str> = cells.iter().skip(1).map(|cell| cell.text.as_ref()).collect();
                diagnostics.push(no_such_signal(line, subject, &known, "column"));
            }
            [(nearest, one), (next, other), ..] if nearest == next => {
                diagnostics.push(ambiguous_signal(place(*one), place(*other), subject, "column"));
            }
            [(_, index), ..] => {
                let heading = cells.get(*index).map_or("", |cell| cell.text.as_ref());
                let track = Track::new(subject, short(heading), place(*index));
                columns.push(Column { cell: *index, track, last: String::new() });
            }
        }
    }
    (columns, diagnostics)
}

struct Reader {
    file: FileId,
    separator: char,
    /// Cells of the heading line.
    headings: usize,
    names: Names,
    columns: Vec<Column>,
    values: usize,
    last: Option<LastRow>,
    diagnostics: Vec<Diagnostic>,
}

impl Reader {
    fn rows<'t>(&mut self, lines: &mut Lines<'t>, cells: &mut Vec<Cell<'t>>) {
        while let Some(line) = lines.next_line() {
            let place = Span::new(self.file, line.start as u32, line.end as u32);
            if self.diagnostics.len() >= ERRORS_MAX {
                let message = "too many errors: the rest of the trace was not read";
                self.diagnostics.push(
                    Diagnostic::error("trace-too-many-errors", place, message)
                        .note("is this the right file?"),
                );
                return;
            }
            if self.values > TRACE_VALUES_MAX {
                self.diagnostics.push(too_many_values(place));
                return;
            }
            match lines.cells(line, cells) {
                // A row of separators only, as spreadsheets append them.
                Ok(()) if cells.iter().all(|cell| cell.text.is_empty()) => {}
                Ok(()) => self.row(cells),
                Err(error) => self.diagnostics.push(form_error(self.file, &error)),
            }
        }
    }

    fn row(&mut self, cells: &[Cell<'_>]) {
        let Some(first) = cells.first() else { return };
        let span = self.span(first);
        let time_ns = match time::read(&first.text, &mut self.names) {
            Ok(time_ns) => time_ns,
            Err(error) => {
                self.diagnostics.push(error.diagnostic("trace-time", span));
                return;
            }
        };
        if let Some(before) = self.last
            && time_ns < before.time_ns
        {
            self.diagnostics.push(
                Diagnostic::error("trace-time-order", span, "the time goes backwards")
                    .label("earlier than the row before")
                    .also(before.span, "the row before")
                    .note("sort the rows by time"),
            );
            return;
        }
        if let Some(extra) = cells.iter().skip(self.headings).find(|cell| !cell.text.is_empty()) {
            let diagnostic = self.extra_cell(extra);
            self.diagnostics.push(diagnostic);
            return;
        }
        let filled = cells.iter().skip(1).any(|cell| !cell.text.is_empty());
        // A row of the same time that ends nothing takes nothing back.
        let filled = filled || self.last.is_some_and(|last| last.time_ns == time_ns && last.filled);
        self.last = Some(LastRow { time_ns, span, filled });
        for index in 0..self.columns.len() {
            self.cell(index, cells, time_ns);
        }
    }

    /// The cell of a column that is compared.
    fn cell(&mut self, index: usize, cells: &[Cell<'_>], time_ns: i64) {
        let Some(column) = self.columns.get_mut(index) else { return };
        let Some(cell) = cells.get(column.cell).filter(|cell| !cell.text.is_empty()) else { return };
        if column.last == cell.text && !column.track.values.is_empty() {
            return;
        }
        match column.track.subject.value_of_cell(&cell.text, &mut self.names) {
            Ok(value) => {
                column.track.push(time_ns, Some(value));
                column.last.clear();
                column.last.push_str(&cell.text);
                self.values += 1;
            }
            Err(error) => {
                let subject = &column.track.subject;
                let message = format!(
                    "`{}` is no value of `{}`, which is of type {}",
                    short(&cell.text),
                    subject.name(),
                    subject.type_name()
                );
                let heading = column.track.span;
                let place = Span::new(self.file, cell.place.start, cell.place.end);
                self.diagnostics.push(
                    Diagnostic::error("trace-value", place, message)
                        .label(error.label)
                        .also(heading, "the column")
                        .note(error.remedy),
                );
            }
        }
    }

    fn extra_cell(&self, extra: &Cell<'_>) -> Diagnostic {
        let message = format!("this row has more cells than the heading line, which has {}", self.headings);
        let diagnostic = Diagnostic::error("trace-extra-cell", self.span(extra), message).label("no column");
        if self.separator == ',' {
            return diagnostic.note(
                "a decimal number is written with a point: `2.5`; a cell with a comma stands in quotation marks",
            );
        }
        diagnostic
    }

    fn span(&self, cell: &Cell<'_>) -> Span {
        Span::new(self.file, cell.place.start, cell.place.end)
    }
}

fn form_error(file: FileId, error: &FormError) -> Diagnostic {
    Diagnostic::error("trace-quote", Span::new(file, error.place.start, error.place.end), error.message)
        .label(error.remedy)
}
