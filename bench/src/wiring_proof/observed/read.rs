//! From the text of a checkout to its steps.

use latchwork_grammar::{Diagnostic, FileId, Names, Severity, Span};
use latchwork_vm::{ElementaryType, Value};

use super::{Checkout, CheckoutStep, OBSERVED_BYTES_MAX, OBSERVED_STEPS_MAX, Seen, WAIT_DEFAULT_NS};
use crate::{
    nearest::{did_you_mean, nearest},
    replay::SCANS_MAX,
    station::{Device, DeviceForm, LoadForm, Station},
    stimulus::{
        cell::{self, CellType},
        read::{ERRORS_MAX, shortened},
        time,
    },
    table::{Cell, Lines},
};

/// What a column stands for.
enum Meaning {
    Ignored,
    Wait,
    Device(usize),
    Load(usize),
}

/// Reads a checkout on a station. It is there unless an error was found.
pub fn read(
    file: FileId,
    text: &str,
    station: &Station,
    scan_ns: i64,
) -> (Option<Checkout>, Vec<Diagnostic>) {
    let start = Span::new(file, 0, 0);
    let mut reader = Reader { file, station, diagnostics: Vec::new(), names: Names::new() };
    if text.len() > OBSERVED_BYTES_MAX {
        let message =
            format!("the table has {} bytes, more than the {OBSERVED_BYTES_MAX} allowed", text.len());
        return (None, vec![Diagnostic::error("observed-too-large", start, message)]);
    }
    let mut lines = Lines::new(text);
    let mut cells = Vec::new();
    let heading = lines.next_line().map(|line| lines.cells(line, &mut cells));
    match heading {
        None => {
            return (None, vec![empty(start, "the table has no heading line")]);
        }
        Some(Err(error)) => {
            let span = Span::new(file, error.place.start, error.place.end);
            return (None, vec![Diagnostic::error("observed-row", span, error.message).label(error.remedy)]);
        }
        Some(Ok(())) => {}
    }
    let meanings = reader.headings(&cells);
    let looked = meanings.iter().any(|meaning| matches!(meaning, Meaning::Load(_)));
    if !looked && reader.diagnostics.is_empty() {
        reader.diagnostics.push(empty(reader.span_of(cells.first()), "no column stands for a load"));
    }
    let mut steps = Vec::new();
    let mut duration_ns = 0_i64;
    while let Some(line) = lines.next_line() {
        if reader.diagnostics.len() > ERRORS_MAX {
            break;
        }
        let place = Span::new(file, line.start as u32, line.end as u32);
        if steps.len() == OBSERVED_STEPS_MAX {
            let message = format!("the table has more than {OBSERVED_STEPS_MAX} steps");
            reader.diagnostics.push(Diagnostic::error("observed-too-large", place, message));
            break;
        }
        let number = text.get(..line.start).map_or(1, |before| before.matches('\n').count() + 1);
        match lines.cells(line, &mut cells) {
            // A row of separators only, as spreadsheets append them.
            Ok(()) if cells.iter().all(|cell| cell.text.is_empty()) => {}
            Ok(()) => {
                let step = reader.step(&meanings, &cells, place, number);
                duration_ns = duration_ns.saturating_add(step.wait_ns);
                if duration_ns / scan_ns.max(1) > SCANS_MAX as i64 {
                    let message =
                        format!("the checkout would take more than the {SCANS_MAX} scans that are allowed");
                    let diagnostic = Diagnostic::error("observed-too-large", place, message);
                    reader.diagnostics.push(diagnostic.note("wait for less long"));
                    break;
                }
                steps.push(step);
            }
            Err(error) => {
                let span = Span::new(file, error.place.start, error.place.end);
                let diagnostic = Diagnostic::error("observed-row", span, error.message).label(error.remedy);
                reader.diagnostics.push(diagnostic);
            }
        }
    }
    let checkout = Checkout { file, steps };
    if reader.diagnostics.is_empty() && checkout.observations() == 0 {
        reader.diagnostics.push(empty(start, "nobody looked at any load"));
    }
    let failed = reader.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
    (if failed { None } else { Some(checkout) }, reader.diagnostics)
}

fn empty(span: Span, message: &str) -> Diagnostic {
    Diagnostic::error("observed-empty", span, message).note(
        "write a heading line with devices and loads, and a row for each step: what was done, and which loads were on",
    )
}

struct Reader<'s> {
    file: FileId,
    station: &'s Station,
    diagnostics: Vec<Diagnostic>,
    names: Names,
}

impl Reader<'_> {
    fn span(&self, cell: &Cell<'_>) -> Span {
        Span::new(self.file, cell.place.start, cell.place.end)
    }

    fn span_of(&self, cell: Option<&Cell<'_>>) -> Span {
        cell.map_or(Span::new(self.file, 0, 0), |cell| self.span(cell))
    }

    fn headings(&mut self, cells: &[Cell<'_>]) -> Vec<Meaning> {
        // Spreadsheets append empty columns.
        let used = cells.iter().rposition(|cell| !cell.text.is_empty()).map_or(0, |last| last + 1);
        let cells = cells.get(..used).unwrap_or(&[]);
        let mut meanings: Vec<Meaning> = Vec::new();
        for (index, cell) in cells.iter().enumerate() {
            if self.diagnostics.len() > ERRORS_MAX {
                break;
            }
            let earlier = cells.iter().take(index);
            let mut same = earlier.filter(|other| other.text.eq_ignore_ascii_case(&cell.text));
            if let Some(first) = same.next() {
                let message = format!("`{}` already has a column", shortened(&cell.text));
                let diagnostic = Diagnostic::error("observed-column", self.span(cell), message)
                    .label("delete one of the two columns")
                    .also(self.span(first), "the first one");
                self.diagnostics.push(diagnostic);
                meanings.push(Meaning::Ignored);
            } else {
                let meaning = self.heading(cell);
                meanings.push(meaning);
            }
        }
        meanings
    }

    fn heading(&mut self, cell: &Cell<'_>) -> Meaning {
        let (station, name) = (self.station, cell.text.as_ref());
        let same = |other: &str| other.eq_ignore_ascii_case(name);
        if same("wait") {
            return Meaning::Wait;
        }
        if let Some(index) = station.loads.iter().position(|load| same(&load.name.value)) {
            return Meaning::Load(index);
        }
        let span = self.span(cell);
        let Some(index) = station.devices.iter().position(|device| same(&device.name.value)) else {
            let devices = station.devices.iter().map(|device| device.name.value.as_str());
            let names = devices.chain(station.loads.iter().map(|load| load.name.value.as_str()));
            let near = nearest(name, names.chain(["wait"]));
            let message = format!("`{}` is neither a device nor a load of the station", shortened(name));
            let label = did_you_mean(&near).unwrap_or_else(|| "unknown column".into());
            self.diagnostics.push(Diagnostic::error("observed-column", span, message).label(label));
            return Meaning::Ignored;
        };
        if station.process().is_some_and(|plant| plant.drives(index)) {
            let message = format!("the plant drives `{}`", shortened(name));
            let diagnostic = Diagnostic::error("observed-column", span, message);
            self.diagnostics.push(
                diagnostic
                    .label("delete this column")
                    .note("use a station without plant for a checkout by hand"),
            );
            return Meaning::Ignored;
        }
        Meaning::Device(index)
    }

    fn step(&mut self, meanings: &[Meaning], cells: &[Cell<'_>], span: Span, line: usize) -> CheckoutStep {
        let mut step =
            CheckoutStep { acts: Vec::new(), wait_ns: WAIT_DEFAULT_NS, seen: Vec::new(), line, span };
        if let Some(extra) = cells.iter().skip(meanings.len()).find(|cell| !cell.text.is_empty()) {
            let message =
                format!("this row has more cells than the heading line, which has {}", meanings.len());
            let diagnostic = Diagnostic::error("observed-row", self.span(extra), message).label("no column");
            self.diagnostics.push(diagnostic);
        }
        for (meaning, cell) in meanings.iter().zip(cells).filter(|(_, cell)| !cell.text.is_empty()) {
            match meaning {
                Meaning::Ignored => {}
                Meaning::Wait => match time::read(&cell.text, &mut self.names) {
                    Ok(wait_ns) if wait_ns > 0 => step.wait_ns = wait_ns,
                    Ok(_) => {
                        let message = "a step takes some time";
                        let diagnostic = Diagnostic::error("observed-value", self.span(cell), message);
                        self.diagnostics.push(diagnostic.label("write a duration above zero"));
                    }
                    Err(error) => {
                        let diagnostic = error.diagnostic("observed-value", self.span(cell));
                        self.diagnostics.push(diagnostic);
                    }
                },
                Meaning::Device(index) => {
                    if let Some(value) = self.device_cell(*index, cell) {
                        step.acts.push((*index, value));
                    }
                }
                Meaning::Load(index) => {
                    if let Some(seen) = self.load_cell(*index, cell) {
                        step.seen.push((*index, seen));
                    }
                }
            }
        }
        step
    }

    fn device_cell(&mut self, index: usize, cell: &Cell<'_>) -> Option<Value> {
        let device: &Device = self.station.devices.get(index)?;
        if let Some(state) = device.state_of_word(&cell.text) {
            return Some(Value::Bool(state));
        }
        let (kind, remedy, words) = match &device.form {
            DeviceForm::TwoState { actuated, released, .. } => (
                ElementaryType::Bool,
                format!(
                    "write `{actuated}` or 1, `{released}` or 0; an empty cell leaves the device as it is"
                ),
                vec![actuated.as_str(), released.as_str(), "TRUE", "FALSE"],
            ),
            DeviceForm::Analog { .. } => (
                ElementaryType::Lreal,
                "write a number in the units of its range; an empty cell leaves the device as it is".into(),
                Vec::new(),
            ),
        };
        match cell::read(&cell.text, &CellType::Elementary(kind), &mut self.names) {
            Ok(value) => Some(value),
            Err(_) => {
                let name = &device.name.value;
                let message = format!("`{}` is no state of `{name}`", shortened(&cell.text));
                let near = did_you_mean(&nearest(&cell.text, words));
                let diagnostic = Diagnostic::error("observed-value", self.span(cell), message)
                    .label(near.unwrap_or_else(|| "unknown state".into()))
                    .note(remedy);
                self.diagnostics.push(diagnostic);
                None
            }
        }
    }

    fn load_cell(&mut self, index: usize, cell: &Cell<'_>) -> Option<Seen> {
        let load = self.station.loads.get(index)?;
        let text = cell.text.as_ref();
        if text.eq_ignore_ascii_case("on") {
            return Some(Seen::Works(true));
        }
        if text.eq_ignore_ascii_case("off") {
            return Some(Seen::Works(false));
        }
        let analog = matches!(load.form, LoadForm::Analog { .. });
        let kind = if analog { ElementaryType::Lreal } else { ElementaryType::Bool };
        match cell::read(text, &CellType::Elementary(kind), &mut self.names) {
            Ok(Value::Bool(works)) => Some(Seen::Works(works)),
            Ok(value) if value.as_f64().is_some_and(f64::is_finite) => value.as_f64().map(Seen::Near),
            _ => {
                let message = format!("`{}` is nothing seen of `{}`", shortened(text), load.name.value);
                let remedy = if analog {
                    "write a number in the units of its range, or `on` or `off`; an empty cell was not looked at"
                } else {
                    "write `on` or `off`; an empty cell was not looked at"
                };
                let near = did_you_mean(&nearest(text, ["on", "off", "TRUE", "FALSE"]));
                let diagnostic = Diagnostic::error("observed-value", self.span(cell), message)
                    .label(near.unwrap_or_else(|| "not a state of a load".into()))
                    .note(remedy);
                self.diagnostics.push(diagnostic);
                None
            }
        }
    }
}
