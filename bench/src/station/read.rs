//! From the text of a station file to a [`Station`].
//!
//! Knows the file alone; what a program makes of the terminals is compared in `check`.

use latchwork_grammar::{Diagnostic, FileId, Span, tree::Area};
use toml::de::{DeTable, DeValue};

use super::{
    Action, Device, DeviceForm, STATION_BYTES_MAX, Station,
    entry::{Entry, span_of},
    state_of_word,
};
use crate::{recording::Contact, wiring::WiringFault};

const STATION_KEYS: [&str; 5] = ["title", "device", "analog", "load", "plant"];
const DEVICE_KEYS: [&str; 12] = [
    "name", "label", "contact", "action", "actuated", "released", "start", "terminal", "strip", "wire",
    "fault", "stuck_at",
];
const ANALOG_KEYS: [&str; 11] =
    ["name", "label", "terminal", "strip", "wire", "range", "unit", "raw", "start", "fault", "stuck_at"];

/// Most syntax errors reported for one file.
const SYNTAX_ERRORS_MAX: usize = 20;

/// Most devices, and most loads, of one station.
const ENTRIES_MAX: usize = 1000;

/// Reads a station; the result is incomplete if an error is among the diagnostics.
pub(super) fn read(file: FileId, text: &str) -> (Option<Station>, Vec<Diagnostic>) {
    let start = Span::new(file, 0, 0);
    if text.len() > STATION_BYTES_MAX {
        let message =
            format!("the station file has {} bytes, more than the {STATION_BYTES_MAX} allowed", text.len());
        let diagnostic = Diagnostic::error("station-too-large", start, message)
            .note("a station describes a panel; is this the right file?");
        return (None, vec![diagnostic]);
    }
    let (document, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        let diagnostics =
            errors.iter().take(SYNTAX_ERRORS_MAX).map(|error| syntax_error(file, text, error)).collect();
        return (None, diagnostics);
    }
    let mut reader = Reader { file, diagnostics: Vec::new() };
    let station = reader.station(document.get_ref(), start);
    reader.diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span, diagnostic.name));
    (Some(station), reader.diagnostics)
}

fn syntax_error(file: FileId, text: &str, error: &toml::de::Error) -> Diagnostic {
    let span = error.span().map_or(Span::new(file, 0, 0), |range| {
        // The parser may point between two characters of the text or one past its end.
        let mut from = range.start.min(text.len());
        while !text.is_char_boundary(from) {
            from -= 1;
        }
        let mut to = range.end.clamp(from, text.len());
        while !text.is_char_boundary(to) {
            to += 1;
        }
        span_of(file, &(from..to))
    });
    let diagnostic = Diagnostic::error("station-syntax", span, "the station file is not well-formed TOML");
    // The reader's words for the three slips that happen most are put into plainer ones.
    let message = error.message();
    if message.starts_with("string values must be quoted") {
        let written = text.get(span.start as usize..span.end as usize).unwrap_or("");
        return diagnostic.label("text stands in quotation marks").fix(
            "put it into quotation marks",
            span,
            format!("\"{}\"", written.trim_end()),
        );
    }
    let label = if message.starts_with("invalid basic string") {
        "the quotation mark is not closed on this line".to_string()
    } else if message.starts_with("duplicate key") {
        "this key is there already; every device and load has a heading of its own".to_string()
    } else {
        message.replace('\n', ", ")
    };
    diagnostic.label(label).note("a station file has lines `key = value` below headings `[[device]]`, `[[analog]]` and `[[load]]`; text stands in quotation marks")
}

/// Reads one file.
pub(super) struct Reader {
    pub(super) file: FileId,
    pub(super) diagnostics: Vec<Diagnostic>,
}

impl Reader {
    fn station(&mut self, document: &DeTable<'_>, span: Span) -> Station {
        let top = Entry { file: self.file, what: "station", one: "a station", table: document, span };
        let of_device = |key: &'static str| (key, "a device, below a heading `[[device]]`");
        let elsewhere: Vec<_> = DEVICE_KEYS.iter().copied().map(of_device).collect();
        top.check_keys(&STATION_KEYS, &elsewhere, &mut self.diagnostics);
        let title = top.text("title", &mut self.diagnostics);

        let mut devices = Vec::new();
        for entry in self.entries(&top, "device") {
            devices.extend(self.device(&entry));
        }
        for entry in self.entries(&top, "analog") {
            devices.extend(self.analog(&entry));
        }
        devices.sort_by_key(|device: &Device| device.name.span);
        let mut loads = Vec::new();
        for entry in self.entries(&top, "load") {
            loads.extend(self.load(&entry));
        }
        let plant = self.plant(&top);
        if devices.is_empty() && loads.is_empty() && self.diagnostics.is_empty() {
            self.diagnostics.push(
                Diagnostic::warning("station-empty", span, "the station has neither devices nor loads")
                    .note("describe each device below a heading `[[device]]` or `[[analog]]`, each load below `[[load]]`"),
            );
        }
        self.check_names(&devices, &loads);
        self.check_terminals(&devices);
        self.check_marks(&devices, &loads);
        Station { file: self.file, title, devices, loads, plant, process: None }
    }

    /// The tables below one kind of heading.
    fn entries<'t>(&mut self, top: &Entry<'t>, key: &'static str) -> Vec<Entry<'t>> {
        let Some(value) = top.value(key) else { return Vec::new() };
        let (what, one) = match key {
            "analog" => ("analog device", "an analog device"),
            "load" => ("load", "a load"),
            _ => ("device", "a device"),
        };
        let wrong = |span: Span| {
            Diagnostic::error("station-value-type", span, format!("`{key}` is not a list of tables"))
                .label(format!("write each {what} below a heading `[[{key}]]`, with two brackets"))
        };
        let DeValue::Array(array) = value.get_ref() else {
            // The heading `[device]` or the key of `device = …`.
            let place = top.table.iter().find(|(name, _)| name.get_ref() == key).map(|(name, _)| name.span());
            let span = place.map_or(top.span, |range| span_of(self.file, &range));
            self.diagnostics.push(wrong(span));
            return Vec::new();
        };
        if array.len() > ENTRIES_MAX {
            let message = format!(
                "the station has {} entries `[[{key}]]`, more than the {ENTRIES_MAX} allowed",
                array.len()
            );
            self.diagnostics.push(Diagnostic::error("station-too-large", top.span, message));
            return Vec::new();
        }
        let mut entries = Vec::new();
        for element in array.iter() {
            let span = span_of(self.file, &element.span());
            match element.get_ref() {
                DeValue::Table(table) => entries.push(Entry { file: self.file, what, one, table, span }),
                _ => self.diagnostics.push(wrong(span)),
            }
        }
        entries
    }

    fn device(&mut self, entry: &Entry<'_>) -> Option<Device> {
        let elsewhere = [
            ("range", "an analog device, below a heading `[[analog]]`"),
            ("unit", "an analog device, below a heading `[[analog]]`"),
            ("raw", "an analog device, below a heading `[[analog]]`"),
            ("kind", "a load, below a heading `[[load]]`"),
        ];
        entry.check_keys(&DEVICE_KEYS, &elsewhere, &mut self.diagnostics);
        let name = self.name(entry);
        let label = self.label(entry);
        let contacts =
            [("normally open", Contact::NormallyOpen), ("normally closed", Contact::NormallyClosed)];
        let contact = entry.word("contact", &contacts, &mut self.diagnostics);
        if entry.value("contact").is_none() {
            let remedy = "`contact = \"normally open\"` or `contact = \"normally closed\"`";
            entry.missing("contact", remedy, &mut self.diagnostics);
        }
        let actions = [("momentary", Action::Momentary), ("maintained", Action::Maintained)];
        let action = entry.word("action", &actions, &mut self.diagnostics).unwrap_or(Action::Momentary);
        let actuated = entry.text("actuated", &mut self.diagnostics).map(|word| word.value);
        let released = entry.text("released", &mut self.diagnostics);
        let actuated = actuated.unwrap_or_else(|| match action {
            Action::Momentary => "pressed".into(),
            Action::Maintained => "turned".into(),
        });
        if let Some(word) = &released
            && word.value.eq_ignore_ascii_case(&actuated)
        {
            self.diagnostics.push(
                Diagnostic::error(
                    "station-state-words",
                    word.span,
                    format!("both states of the device are called `{}`", word.value),
                )
                .label(format!("choose another word, such as \"not {actuated}\"")),
            );
        }
        let released = released.map(|word| word.value).unwrap_or_else(|| match actuated.as_str() {
            "pressed" => "released".into(),
            word => format!("not {word}"),
        });
        let start = self.state(entry, "start", &actuated, &released).unwrap_or(false);
        let stuck_at = self.state(entry, "stuck_at", &actuated, &released).unwrap_or(start);
        let fault = self.device_fault(entry);
        let terminal = self.terminal(entry, Area::Input);
        let form = DeviceForm::TwoState { contact: contact?, action, actuated, released, start, stuck_at };
        let marks = self.marks(entry);
        Some(Device { name: name?, label, terminal: terminal?, marks, form, fault })
    }

    fn analog(&mut self, entry: &Entry<'_>) -> Option<Device> {
        let elsewhere = [
            ("contact", "a device with a contact, below a heading `[[device]]`"),
            ("action", "a device with a contact, below a heading `[[device]]`"),
            ("actuated", "a device with a contact, below a heading `[[device]]`"),
            ("released", "a device with a contact, below a heading `[[device]]`"),
            ("kind", "a load, below a heading `[[load]]`"),
        ];
        entry.check_keys(&ANALOG_KEYS, &elsewhere, &mut self.diagnostics);
        let name = self.name(entry);
        let label = self.label(entry);
        let unit = entry.text("unit", &mut self.diagnostics).map(|unit| unit.value);
        let scaling = self.scaling(entry);
        let start = entry.number("start", &mut self.diagnostics).map(|number| number.value);
        let stuck_at = entry.number("stuck_at", &mut self.diagnostics).map(|number| number.value);
        let fault = self.device_fault(entry);
        let terminal = self.terminal(entry, Area::Input);
        let marks = self.marks(entry);
        let scaling = scaling?;
        let start = start.unwrap_or(scaling.range.0);
        let form = DeviceForm::Analog { scaling, unit, start, stuck_at: stuck_at.unwrap_or(start) };
        Some(Device { name: name?, label, terminal: terminal?, marks, form, fault })
    }

    /// A state of a two-state device: true, false, or one of its words.
    fn state(&mut self, entry: &Entry<'_>, key: &str, actuated: &str, released: &str) -> Option<bool> {
        let value = entry.value(key)?;
        let expected = format!("\"{actuated}\" or \"{released}\"");
        match value.get_ref() {
            DeValue::Boolean(state) => Some(*state),
            DeValue::String(word) => {
                let state = state_of_word(actuated, released, word.trim());
                if state.is_none() {
                    let span = span_of(self.file, &value.span());
                    self.diagnostics.push(
                        Diagnostic::error(
                            "station-unknown-word",
                            span,
                            format!("`{word}` is no state of this device"),
                        )
                        .label(format!("expected {expected}")),
                    );
                }
                state
            }
            _ => {
                self.diagnostics.push(entry.wrong_type(key, value, &expected));
                None
            }
        }
    }

    fn device_fault(&mut self, entry: &Entry<'_>) -> Option<WiringFault> {
        let words = [WiringFault::OpenWire, WiringFault::Shorted, WiringFault::Stuck]
            .map(|fault| (fault.words(), fault));
        let fault = entry.word("fault", &words, &mut self.diagnostics);
        if fault != Some(WiringFault::Stuck) {
            self.not_stuck(entry);
        }
        fault
    }

    /// Reports a place to be stuck at of something that is not stuck.
    pub(super) fn not_stuck(&mut self, entry: &Entry<'_>) {
        let Some((key, _)) = entry.table.iter().find(|(name, _)| name.get_ref() == "stuck_at") else {
            return;
        };
        let message = format!("`stuck_at` has no effect: the {} is not stuck", entry.what);
        self.diagnostics.push(
            Diagnostic::warning("station-stuck-at", span_of(self.file, &key.span()), message)
                .label("delete this line, or write `fault = \"stuck\"`"),
        );
    }
}
