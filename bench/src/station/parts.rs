//! Names and terminals of a station file: their form, and that none is used twice.
//!
//! Knows the file alone, like `read`, whose second half this is.

use latchwork_grammar::{Diagnostic, tree::Area};

use super::{Device, Load, Placed, Terminal, entry::Entry, read::Reader};
use crate::address::Address;

impl Reader {
    pub(super) fn name(&mut self, entry: &Entry<'_>) -> Option<Placed<String>> {
        let remedy = if entry.what == "load" {
            "its name, such as `name = \"P1\"`,"
        } else {
            "its name, such as `name = \"StartPB\"`,"
        };
        let name = entry.required_text("name", remedy, &mut self.diagnostics)?;
        if let Some(problem) = not_an_identifier(&name.value) {
            self.diagnostics.push(
                Diagnostic::error("station-name", name.span, format!("`{}` can not be a name", name.value))
                    .label(problem)
                    .note("a name has letters, digits and single underscores, and does not begin with a digit; free words belong into `label`"),
            );
            return None;
        }
        Some(name)
    }

    pub(super) fn label(&mut self, entry: &Entry<'_>) -> Option<String> {
        entry.text("label", &mut self.diagnostics).map(|label| label.value)
    }

    pub(super) fn terminal(&mut self, entry: &Entry<'_>, area: Area) -> Option<Terminal> {
        let (example, kind) = if area == Area::Input { ("%IX0.0", "input") } else { ("%QX0.0", "output") };
        let remedy = format!("the {kind} it is wired to, such as `terminal = \"{example}\"`,");
        let text = entry.required_text("terminal", &remedy, &mut self.diagnostics)?;
        let written = text.value.trim();
        if !written.starts_with('%') {
            if let Some(problem) = written.split(['.', '[', ',']).find_map(|part| {
                let part = part.trim().trim_end_matches(']');
                not_an_identifier(part).filter(|_| part.parse::<i64>().is_err())
            }) {
                self.diagnostics.push(
                    Diagnostic::error(
                        "station-address",
                        text.span,
                        format!("`{written}` is neither an address nor a variable"),
                    )
                    .label(problem)
                    .note(format!(
                        "write an {kind} address such as `{example}`, or the name of an {kind} variable"
                    )),
                );
                return None;
            }
            return Some(Terminal { text: written.to_string(), span: text.span, address: None });
        }
        let address = match Address::parse(written) {
            Ok(address) => address,
            Err(problem) => {
                self.diagnostics.push(
                    Diagnostic::error("station-address", text.span, format!("`{written}` is not an address"))
                        .label(problem),
                );
                return None;
            }
        };
        if address.area != area {
            let message = format!("{} is wired to an {kind}, and `{written}` is none", entry.one);
            self.diagnostics.push(
                Diagnostic::error("station-terminal-direction", text.span, message)
                    .label(format!("write an {kind} address such as `{example}`")),
            );
            return None;
        }
        Some(Terminal { text: written.to_string(), span: text.span, address: Some(address) })
    }

    /// Every name once, over devices and loads.
    pub(super) fn check_names(&mut self, devices: &[Device], loads: &[Load]) {
        let mut names: Vec<&Placed<String>> =
            devices.iter().map(|device| &device.name).chain(loads.iter().map(|load| &load.name)).collect();
        names.sort_by_cached_key(|name| (name.value.to_ascii_uppercase(), name.span));
        for (first, second) in names.iter().zip(names.iter().skip(1)) {
            if first.value.eq_ignore_ascii_case(&second.value) {
                self.diagnostics.push(
                    Diagnostic::error(
                        "station-name-twice",
                        second.span,
                        format!("the name `{}` is used twice", second.value),
                    )
                    .label("choose another name")
                    .also(first.span, "used here first")
                    .note("letter case does not matter in names"),
                );
            }
        }
    }

    /// No input with two devices. Loads may share an output: a lamp beside the motor it shows.
    pub(super) fn check_terminals(&mut self, devices: &[Device]) {
        let mut earlier: Vec<&Device> = Vec::new();
        for device in devices {
            let shared =
                earlier.iter().find(|other| match (&other.terminal.address, &device.terminal.address) {
                    (Some(left), Some(right)) => left.overlaps(right),
                    _ => other.terminal.text.eq_ignore_ascii_case(&device.terminal.text),
                });
            match shared {
                Some(other) => self.diagnostics.push(shared_terminal(other, device)),
                None => earlier.push(device),
            }
        }
    }
}

/// The message for two devices on one input.
pub(super) fn shared_terminal(first: &Device, second: &Device) -> Diagnostic {
    Diagnostic::error(
        "station-terminal-shared",
        second.terminal.span,
        format!("`{}` and `{}` are wired to one input", first.name.value, second.name.value),
    )
    .label("wire this device to an input of its own")
    .also(first.terminal.span, format!("`{}` is wired here", first.name.value))
    .note(
        "contacts that are wired in series or in parallel before the terminal are one device to the program",
    )
}

/// Why a text is not an identifier of the standard (6.1.2, table 2): `None` if it is one.
fn not_an_identifier(text: &str) -> Option<String> {
    let Some(first) = text.chars().next() else { return Some("a part of the name is missing".into()) };
    if first.is_ascii_digit() {
        return Some("it begins with a digit".into());
    }
    if let Some(other) = text.chars().find(|letter| !letter.is_ascii_alphanumeric() && *letter != '_') {
        let shown = if other == ' ' { "a blank".to_string() } else { format!("`{}`", other.escape_debug()) };
        return Some(format!("it contains {shown}"));
    }
    if text.contains("__") || text.ends_with('_') {
        return Some("an underscore stands alone between letters or digits".into());
    }
    None
}
