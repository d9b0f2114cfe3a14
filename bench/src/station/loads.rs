//! The entries `[[load]]`: loads that are on or off, and analog loads.

use latchwork_grammar::tree::Area;
use toml::de::DeValue;

use super::{Load, LoadForm, entry::Entry, read::Reader};
use crate::wiring::LoadFault;

const LOAD_KEYS: [&str; 11] =
    ["name", "label", "kind", "terminal", "strip", "wire", "range", "unit", "raw", "fault", "stuck_at"];

impl Reader {
    pub(super) fn load(&mut self, entry: &Entry<'_>) -> Option<Load> {
        let elsewhere = [
            ("contact", "a device, below a heading `[[device]]`"),
            ("action", "a device, below a heading `[[device]]`"),
            ("actuated", "a device, below a heading `[[device]]`"),
            ("start", "a device, below a heading `[[device]]` or `[[analog]]`"),
        ];
        entry.check_keys(&LOAD_KEYS, &elsewhere, &mut self.diagnostics);
        let name = self.name(entry);
        let label = self.label(entry);
        let kind = entry.text("kind", &mut self.diagnostics).map(|kind| kind.value);
        let analog = ["range", "raw", "unit"].iter().any(|key| entry.value(key).is_some());
        let form = if analog {
            let unit = entry.text("unit", &mut self.diagnostics).map(|unit| unit.value);
            self.scaling(entry).map(|scaling| LoadForm::Analog { scaling, unit })
        } else {
            Some(LoadForm::TwoState)
        };
        let fault = self.load_fault(entry, analog);
        let terminal = self.terminal(entry, Area::Output);
        let marks = self.marks(entry);
        Some(Load { name: name?, label, kind, terminal: terminal?, marks, form: form?, fault })
    }

    fn load_fault(&mut self, entry: &Entry<'_>, analog: bool) -> Option<LoadFault> {
        let words = [LoadFault::OpenWire, LoadFault::StuckOff].map(|fault| (fault.words(), fault));
        let fault = entry.word("fault", &words, &mut self.diagnostics);
        let stuck_at = match entry.value("stuck_at") {
            None => None,
            Some(_) if analog => {
                entry.number("stuck_at", &mut self.diagnostics).map(|at| LoadFault::StuckAt(at.value))
            }
            Some(value) => match value.get_ref() {
                DeValue::Boolean(true) => Some(LoadFault::StuckOn),
                DeValue::Boolean(false) => Some(LoadFault::StuckOff),
                _ => {
                    let expected = "true (the load works) or false (it does not)";
                    self.diagnostics.push(entry.wrong_type("stuck_at", value, expected));
                    None
                }
            },
        };
        if fault != Some(LoadFault::StuckOff) {
            self.not_stuck(entry);
            return fault;
        }
        stuck_at.or(fault)
    }
}
