//! The keys `strip` and `wire`: how a person finds a wire on the board.
//!
//! They are free words, since every workshop has its own way to number. Nothing of the simulation rests on them.

use std::collections::BTreeMap;

use latchwork_grammar::Diagnostic;

use super::{Device, Load, Placed, Terminal, WireMarks, entry::Entry, read::Reader};

impl Reader {
    pub(super) fn marks(&mut self, entry: &Entry<'_>) -> WireMarks {
        WireMarks {
            strip: entry.text("strip", &mut self.diagnostics),
            wire: entry.text("wire", &mut self.diagnostics),
        }
    }

    /// One wire has one label, and ends at one place of the strip. Loads on one output may share both.
    pub(super) fn check_marks(&mut self, devices: &[Device], loads: &[Load]) {
        let of_devices = devices.iter().map(|device| (&device.marks, &device.name, &device.terminal));
        let of_loads = loads.iter().map(|load| (&load.marks, &load.name, &load.terminal));
        let all: Vec<(&WireMarks, &Placed<String>, &Terminal)> = of_devices.chain(of_loads).collect();
        self.marked_once(&all, |marks| marks.strip.as_ref(), "the place `{}` of the strip has two wires");
        self.marked_once(&all, |marks| marks.wire.as_ref(), "the label `{}` is on two wires");
    }

    fn marked_once(
        &mut self,
        all: &[(&WireMarks, &Placed<String>, &Terminal)],
        mark: impl for<'m> Fn(&'m WireMarks) -> Option<&'m Placed<String>>,
        message: &str,
    ) {
        let mut first: BTreeMap<String, (&Placed<String>, &Terminal)> = BTreeMap::new();
        for (marks, name, terminal) in all {
            let Some(text) = mark(marks) else { continue };
            match first.get(&text.value.trim().to_ascii_uppercase()) {
                None => {
                    first.insert(text.value.trim().to_ascii_uppercase(), (text, terminal));
                }
                Some((_, other)) if same_place(other, terminal) => {}
                Some((other, _)) => self.diagnostics.push(
                    Diagnostic::warning(
                        "station-mark-twice",
                        text.span,
                        message.replace("{}", text.value.trim()),
                    )
                    .label(format!("the wire of `{}`", name.value))
                    .also(other.span, "used here first")
                    .note("a person at the board cannot tell the two apart by it"),
                ),
            }
        }
    }
}

fn same_place(one: &Terminal, other: &Terminal) -> bool {
    match (&one.address, &other.address) {
        (Some(one), Some(other)) => one == other,
        _ => one.text.eq_ignore_ascii_case(&other.text),
    }
}
