//! What lies between a device and its terminal: the contact, the wire, and what can be wrong with them.
//!
//! Knows nothing of programs. A person acts on a device; the program sees its terminal. A normally closed
//! contact turns the sense round, and a wiring fault can part the two altogether; the same holds between an
//! output terminal and its load. The designations "normally open" and "normally closed" are the trade's words
//! for make and break contacts.

use std::fmt;

use crate::recording::Contact;

/// A fault placed on the wiring of a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WiringFault {
    /// A wire has come off: no current reaches the terminal.
    OpenWire,
    /// The contact is bridged: current always reaches the terminal.
    Shorted,
    /// The contact no longer moves.
    Stuck,
}

impl WiringFault {
    /// The fault in words, as a station file has it.
    pub fn words(self) -> &'static str {
        match self {
            WiringFault::OpenWire => "open wire",
            WiringFault::Shorted => "shorted",
            WiringFault::Stuck => "stuck",
        }
    }
}

/// A fault placed on a load: on its wire, or on the relay of the output that drives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadFault {
    /// A wire has come off: no current reaches the load.
    OpenWire,
    /// The load works whatever the output says: the relay's contact is welded. An analog load stands at its upper end.
    StuckOn,
    /// The load does not work whatever the output says: the relay does not close. An analog load stands at its
    /// lower end.
    StuckOff,
    /// An analog load no longer moves; its value in engineering units. A load that is on or off works unless it is 0.
    StuckAt(f64),
}

impl LoadFault {
    /// The fault in words, as a station file has it.
    pub fn words(self) -> &'static str {
        match self {
            LoadFault::OpenWire => "open wire",
            LoadFault::StuckOn | LoadFault::StuckOff | LoadFault::StuckAt(_) => "stuck",
        }
    }
}

impl fmt::Display for LoadFault {
    /// The fault with the place where it is stuck.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LoadFault::OpenWire => out.write_str("open wire"),
            LoadFault::StuckOn => out.write_str("stuck on"),
            LoadFault::StuckOff => out.write_str("stuck off"),
            LoadFault::StuckAt(value) => write!(out, "stuck at {value}"),
        }
    }
}

/// Whether a contact conducts while its device is, or is not, actuated.
pub fn contact_closed(contact: Contact, actuated: bool) -> bool {
    match contact {
        Contact::NormallyOpen => actuated,
        Contact::NormallyClosed => !actuated,
    }
}

/// The level the input terminal of a two-state device reads: TRUE while current reaches it.
///
/// `stuck_at` is the position (actuated or not) that a stuck contact has, whatever is done to the device; the
/// other cases do not look at it.
pub fn terminal_level(contact: Contact, fault: Option<WiringFault>, stuck_at: bool, actuated: bool) -> bool {
    match fault {
        None => contact_closed(contact, actuated),
        Some(WiringFault::OpenWire) => false,
        Some(WiringFault::Shorted) => true,
        Some(WiringFault::Stuck) => contact_closed(contact, stuck_at),
    }
}

/// Whether a load works while its output terminal is, or is not, TRUE.
pub fn load_on(fault: Option<LoadFault>, output: bool) -> bool {
    match fault {
        None => output,
        Some(LoadFault::OpenWire | LoadFault::StuckOff) => false,
        Some(LoadFault::StuckOn) => true,
        Some(LoadFault::StuckAt(value)) => value != 0.0,
    }
}

/// The straight line between the engineering units of an analog device or load and the numbers at its terminal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scaling {
    /// Lower and upper end in engineering units; finite, lower < upper.
    pub range: (f64, f64),
    /// What the terminal reads at the two ends; finite, different. It may fall as the value rises.
    pub raw: (f64, f64),
}

impl Scaling {
    /// What the terminal reads at a value in engineering units. The line goes on beyond both ends, as a
    /// transmitter's does; what the terminal's type can not hold is cut off where it is written.
    pub fn raw_value(&self, value: f64) -> f64 {
        let (low, high) = self.range;
        let (raw_low, raw_high) = self.raw;
        if value == high {
            return raw_high;
        }
        raw_low + (value - low) * (raw_high - raw_low) / (high - low)
    }

    /// What the terminal reads with a wiring fault. Common practice, no source: without current a transmitter's
    /// input reads 0, a bridged one its upper end.
    pub fn terminal_value(&self, fault: Option<WiringFault>, stuck_at: f64, value: f64) -> f64 {
        match fault {
            None => self.raw_value(value),
            Some(WiringFault::OpenWire) => 0.0,
            Some(WiringFault::Shorted) => self.raw.0.max(self.raw.1),
            Some(WiringFault::Stuck) => self.raw_value(stuck_at),
        }
    }

    /// The value in engineering units that a number at an output makes of an analog load. Common practice, no source:
    /// a load goes no further than its range, and without current it goes where 0 would send it. A number that is none
    /// is no current.
    pub fn load_value(&self, fault: Option<LoadFault>, raw: f64) -> f64 {
        let (low, high) = self.range;
        match fault {
            None if !raw.is_nan() => self.value_of_raw(raw).clamp(low, high),
            None | Some(LoadFault::OpenWire) => self.value_of_raw(0.0).clamp(low, high),
            Some(LoadFault::StuckOn) => high,
            Some(LoadFault::StuckOff) => low,
            Some(LoadFault::StuckAt(value)) => value,
        }
    }

    /// Whether the numbers at the terminal can be negative, so that a bit string there is a signed number.
    pub(crate) fn is_signed(&self) -> bool {
        self.raw.0 < 0.0 || self.raw.1 < 0.0
    }

    /// The inverse of [`Scaling::raw_value`].
    pub(crate) fn value_of_raw(&self, raw: f64) -> f64 {
        let (low, high) = self.range;
        let (raw_low, raw_high) = self.raw;
        if raw == raw_high {
            return high;
        }
        low + (raw - raw_low) * (high - low) / (raw_high - raw_low)
    }
}

#[cfg(test)]
mod tests {
    use super::{LoadFault, Scaling, WiringFault, load_on, terminal_level};
    use crate::recording::Contact;

    /// Every combination, written as data. Common practice, no source.
    #[test]
    fn truth_table() {
        use Contact::{NormallyClosed as Nc, NormallyOpen as No};
        use WiringFault::{OpenWire, Shorted, Stuck};
        let table = [
            // contact, fault, stuck at, actuated, terminal
            (No, None, false, false, false),
            (No, None, false, true, true),
            (No, None, true, false, false),
            (No, None, true, true, true),
            (No, Some(OpenWire), false, false, false),
            (No, Some(OpenWire), false, true, false),
            (No, Some(OpenWire), true, false, false),
            (No, Some(OpenWire), true, true, false),
            (No, Some(Shorted), false, false, true),
            (No, Some(Shorted), false, true, true),
            (No, Some(Shorted), true, false, true),
            (No, Some(Shorted), true, true, true),
            (No, Some(Stuck), false, false, false),
            (No, Some(Stuck), false, true, false),
            (No, Some(Stuck), true, false, true),
            (No, Some(Stuck), true, true, true),
            (Nc, None, false, false, true),
            (Nc, None, false, true, false),
            (Nc, None, true, false, true),
            (Nc, None, true, true, false),
            (Nc, Some(OpenWire), false, false, false),
            (Nc, Some(OpenWire), false, true, false),
            (Nc, Some(OpenWire), true, false, false),
            (Nc, Some(OpenWire), true, true, false),
            (Nc, Some(Shorted), false, false, true),
            (Nc, Some(Shorted), false, true, true),
            (Nc, Some(Shorted), true, false, true),
            (Nc, Some(Shorted), true, true, true),
            (Nc, Some(Stuck), false, false, true),
            (Nc, Some(Stuck), false, true, true),
            (Nc, Some(Stuck), true, false, false),
            (Nc, Some(Stuck), true, true, false),
        ];
        for (contact, fault, stuck_at, actuated, expected) in table {
            assert_eq!(
                terminal_level(contact, fault, stuck_at, actuated),
                expected,
                "{contact:?} {fault:?} stuck at {stuck_at} actuated {actuated}"
            );
        }
        // The table is complete and has no row twice.
        let mut keys: Vec<String> = table.iter().map(|(c, f, s, a, _)| format!("{c:?}{f:?}{s}{a}")).collect();
        keys.sort();
        keys.dedup();
        assert_eq!(keys.len(), 2 * 4 * 2 * 2);
    }

    /// Common practice, no source.
    #[test]
    fn loads_with_faults() {
        let table = [
            (None, false, false),
            (None, true, true),
            (Some(LoadFault::OpenWire), false, false),
            (Some(LoadFault::OpenWire), true, false),
            (Some(LoadFault::StuckOn), false, true),
            (Some(LoadFault::StuckOn), true, true),
            (Some(LoadFault::StuckOff), false, false),
            (Some(LoadFault::StuckOff), true, false),
            (Some(LoadFault::StuckAt(1.0)), false, true),
            (Some(LoadFault::StuckAt(0.0)), true, false),
        ];
        for (fault, output, on) in table {
            assert_eq!(load_on(fault, output), on, "{fault:?} output {output}");
        }
    }

    /// Linear arithmetic; the signals as in the next test.
    #[test]
    fn an_analog_load_follows_its_output_within_its_range() {
        let cases = [
            // range, raw, output, value, without current
            ((0.0, 100.0), (4.0, 20.0), 12.0, 50.0, 0.0),
            ((0.0, 100.0), (4.0, 20.0), 20.0, 100.0, 0.0),
            ((0.0, 100.0), (4.0, 20.0), 22.0, 100.0, 0.0),
            ((0.0, 100.0), (4.0, 20.0), 2.0, 0.0, 0.0),
            ((-1500.0, 1500.0), (-10.0, 10.0), -2.5, -375.0, 0.0),
            ((0.0, 2000.0), (0.0, 27648.0), 6912.0, 500.0, 0.0),
            // A valve that opens as its signal falls, and is open without one.
            ((0.0, 100.0), (20.0, 4.0), 8.0, 75.0, 100.0),
        ];
        for (range, raw, output, value, without) in cases {
            let scaling = Scaling { range, raw };
            assert!((scaling.load_value(None, output) - value).abs() < 1e-12, "{range:?} {raw:?} {output}");
            assert_eq!(scaling.load_value(Some(LoadFault::OpenWire), output), without, "{range:?} {raw:?}");
            assert_eq!(scaling.load_value(None, f64::NAN), without, "{range:?} {raw:?}");
            assert_eq!(scaling.load_value(Some(LoadFault::StuckOn), output), range.1);
            assert_eq!(scaling.load_value(Some(LoadFault::StuckOff), output), range.0);
            assert_eq!(scaling.load_value(Some(LoadFault::StuckAt(12.5)), output), 12.5);
        }
    }

    /// The live zero of IEC 60381-1 (4 to 20 mA) and the voltage ranges of IEC 61131-2, both from memory; the
    /// values are linear arithmetic.
    #[test]
    fn straight_line_scaling() {
        let cases = [
            ((0.0, 100.0), (4.0, 20.0), 0.0, 4.0),
            ((0.0, 100.0), (4.0, 20.0), 25.0, 8.0),
            ((0.0, 100.0), (4.0, 20.0), 50.0, 12.0),
            ((0.0, 100.0), (4.0, 20.0), 75.0, 16.0),
            ((0.0, 100.0), (4.0, 20.0), 100.0, 20.0),
            ((-50.0, 150.0), (4.0, 20.0), 50.0, 12.0),
            ((0.0, 250.0), (4.0, 20.0), 150.0, 13.6),
            ((0.0, 3000.0), (0.0, 10.0), 750.0, 2.5),
            ((-100.0, 100.0), (-10.0, 10.0), -25.0, -2.5),
            ((0.0, 10.0), (0.0, 65535.0), 5.0, 32767.5),
            // Falling, and beyond an end.
            ((0.0, 10.0), (1000.0, 0.0), 2.5, 750.0),
            ((0.0, 100.0), (4.0, 20.0), 110.0, 21.6),
            ((0.0, 100.0), (4.0, 20.0), -2.5, 3.6),
        ];
        for (range, raw, value, expected) in cases {
            let found = Scaling { range, raw }.raw_value(value);
            assert!((found - expected).abs() < 1e-12, "{range:?} {raw:?} {value}: {found}, not {expected}");
        }
    }

    #[test]
    fn faults_of_an_analog_device() {
        let scaling = Scaling { range: (0.0, 100.0), raw: (4000.0, 20000.0) };
        assert_eq!(scaling.terminal_value(None, 50.0, 25.0), 8000.0);
        assert_eq!(scaling.terminal_value(Some(WiringFault::OpenWire), 50.0, 25.0), 0.0);
        assert_eq!(scaling.terminal_value(Some(WiringFault::Shorted), 50.0, 25.0), 20000.0);
        assert_eq!(scaling.terminal_value(Some(WiringFault::Stuck), 50.0, 25.0), 12000.0);
    }
}
