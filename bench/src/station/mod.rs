//! Stations: the devices and loads on a panel and the terminals they are wired to.
//!
//! A station is written as TOML (the text form of version 1.0 of that open format), usually in `station.toml`:
//!
//! ```toml
//! title = "Transfer pump"
//!
//! [[device]]                      # a device with a contact
//! name = "StartPB"
//! label = "start, green"          # free words
//! contact = "normally open"       # or "normally closed"
//! action = "momentary"            # springs back (the default); "maintained" stays
//! actuated = "pressed"            # the word for the actuated state; "pressed" or "turned" by action
//! released = "released"           # the word for the other state
//! start = "released"              # state at the start of a run; a word or true/false
//! terminal = "%IX0.0"             # an input address, or the name of an input variable
//! strip = "X1:1"                  # optional: where its wire ends on the terminal strip of the board
//! wire = "101"                    # optional: the label on that wire; analog devices and loads have both keys too
//! fault = "open wire"             # optional wiring fault: "open wire", "shorted", "stuck"
//! stuck_at = "pressed"            # with fault = "stuck": where the contact is stuck; by default at its start
//!
//! [[analog]]                      # a transmitter, a potentiometer
//! name = "Level"
//! terminal = "%IW2"
//! range = [0.0, 250.0]            # engineering units
//! unit = "cm"
//! raw = [0, 27648]                # what the terminal reads at the ends; by default the range itself
//! start = 40.0                    # by default the lower end
//!
//! [[load]]                        # a lamp, a motor, a valve…
//! name = "P1"
//! label = "transfer pump"
//! kind = "motor"
//! terminal = "%QX0.0"
//! fault = "open wire"             # the output is TRUE, the load stays off; or "stuck"
//! stuck_at = true                 # with fault = "stuck": the load works, or (the default) it does not, whatever the
//!                                 # output says
//!
//! [[load]]                        # an analog load: a control valve, a heater, a drive with a speed
//! name = "V1"
//! terminal = "%QW2"
//! range = [0.0, 100.0]            # engineering units; this key makes the load an analog one
//! unit = "%"
//! raw = [0, 27648]                # what the output writes for the ends; by default the range itself
//! fault = "stuck"
//! stuck_at = 40.0                 # in engineering units; by default the lower end
//!
//! [plant]                         # the process on the other side of the terminals, see the module `plant`
//! files = ["tank.st"]             # its source files, beside the station file
//! program = "Tank"                # which of their programs; needed only where there are several
//! ```
//!
//! This module knows the panel and its wiring, not what a program does; [`Station::check`] compares the two.

mod check;
mod entry;
mod loads;
mod marks;
mod parts;
mod plant;
mod range;
mod read;
mod stops;

use latchwork_grammar::{Diagnostic, FileId, Severity, Span};

use crate::{
    address::Address,
    plant::{Plant, PlantFiles},
    recording::Contact,
    wiring::{LoadFault, Scaling, WiringFault},
};

/// Largest station file accepted, in bytes: a panel of thousands of devices.
pub const STATION_BYTES_MAX: usize = 1024 * 1024;

/// A value and where it is written.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Its place in the station file.
    pub span: Span,
}

/// A panel and its wiring.
#[derive(Clone, Debug)]
pub struct Station {
    /// The file it was read from.
    pub file: FileId,
    /// Title for people.
    pub title: Option<Placed<String>>,
    /// Devices in the order of the file.
    pub devices: Vec<Device>,
    /// Loads in the order of the file.
    pub loads: Vec<Load>,
    /// The files of its plant.
    pub plant: Option<PlantFiles>,
    /// The plant, once it is connected.
    process: Option<Plant>,
}

/// Something a person or the process acts on.
#[derive(Clone, Debug)]
pub struct Device {
    /// Its name, an identifier.
    pub name: Placed<String>,
    /// Words for people.
    pub label: Option<String>,
    /// The input it is wired to.
    pub terminal: Terminal,
    /// What its wire is marked with.
    pub marks: WireMarks,
    /// Two-state or analog.
    pub form: DeviceForm,
    /// The fault placed on its wiring.
    pub fault: Option<WiringFault>,
}

/// The two forms of devices.
#[derive(Clone, Debug)]
pub enum DeviceForm {
    /// A device with a contact.
    TwoState {
        /// Contact form.
        contact: Contact,
        /// What happens when the hand leaves it.
        action: Action,
        /// The word for the actuated state.
        actuated: String,
        /// The word for the other state.
        released: String,
        /// Actuated at the start.
        start: bool,
        /// Where a stuck contact is: actuated or not. Same as `start` unless the file tells otherwise.
        stuck_at: bool,
    },
    /// A device with a range.
    Analog {
        /// Engineering units to terminal.
        scaling: Scaling,
        /// The engineering unit.
        unit: Option<String>,
        /// Value at the start, in engineering units.
        start: f64,
        /// Where it is stuck, in engineering units. Same as `start` unless the file tells otherwise.
        stuck_at: f64,
    },
}

/// What a device does when the hand leaves it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// It springs back.
    Momentary,
    /// It stays.
    Maintained,
}

/// What a device or load is wired to.
#[derive(Clone, Debug)]
pub struct Terminal {
    /// As it is written in the file.
    pub text: String,
    /// Where.
    pub span: Span,
    /// The address; `None` if the terminal is given by the name of a variable.
    pub address: Option<Address>,
}

/// What a wire is marked with on the board, for people who look for it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WireMarks {
    /// Where it ends on the terminal strip.
    pub strip: Option<Placed<String>>,
    /// The label on it.
    pub wire: Option<Placed<String>>,
}

/// Something an output of the controller drives.
#[derive(Clone, Debug)]
pub struct Load {
    /// Its name, an identifier.
    pub name: Placed<String>,
    /// Words for people.
    pub label: Option<String>,
    /// What it is: lamp, motor, valve…
    pub kind: Option<String>,
    /// The output it is wired to.
    pub terminal: Terminal,
    /// What its wire is marked with.
    pub marks: WireMarks,
    /// On or off, or analog.
    pub form: LoadForm,
    /// The fault placed on it.
    pub fault: Option<LoadFault>,
}

/// The two forms of loads.
#[derive(Clone, Debug)]
pub enum LoadForm {
    /// It works or it does not.
    TwoState,
    /// It has a value.
    Analog {
        /// Engineering units to output.
        scaling: Scaling,
        /// The engineering unit.
        unit: Option<String>,
    },
}

impl Station {
    /// Reads a station. The station is there unless an error was found; warnings leave it usable.
    pub fn parse(file: FileId, text: &str) -> (Option<Station>, Vec<Diagnostic>) {
        let (station, diagnostics) = read::read(file, text);
        let failed = diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
        (if failed { None } else { station }, diagnostics)
    }

    /// Connects the plant that was made for this station.
    pub fn connect(&mut self, plant: Plant) {
        self.process = Some(plant);
    }

    /// The same without the faults that its file places.
    #[must_use]
    pub fn sound(mut self) -> Station {
        for device in &mut self.devices {
            device.fault = None;
        }
        for load in &mut self.loads {
            load.fault = None;
        }
        self
    }

    /// The same with its plant taken away: whatever moves its devices does so by hand.
    #[must_use]
    pub fn without_process(mut self) -> Station {
        (self.plant, self.process) = (None, None);
        self
    }

    /// The plant, once it is connected.
    pub fn process(&self) -> Option<&Plant> {
        self.process.as_ref()
    }

    /// The device of a name, letter case aside.
    pub fn device(&self, name: &str) -> Option<&Device> {
        self.devices.iter().find(|device| device.name.value.eq_ignore_ascii_case(name))
    }

    /// The load of a name, letter case aside.
    pub fn load(&self, name: &str) -> Option<&Load> {
        self.loads.iter().find(|load| load.name.value.eq_ignore_ascii_case(name))
    }
}

impl Device {
    /// The word for a state of a two-state device; empty for an analog one.
    pub fn word_of_state(&self, is_actuated: bool) -> &str {
        match &self.form {
            DeviceForm::TwoState { actuated, .. } if is_actuated => actuated,
            DeviceForm::TwoState { released, .. } => released,
            DeviceForm::Analog { .. } => "",
        }
    }

    /// The state a word stands for, letter case aside: the device's own two words, `actuated`, `released`, and
    /// `not` before its word for the actuated state. `None` for other words, and for an analog device.
    pub fn state_of_word(&self, word: &str) -> Option<bool> {
        match &self.form {
            DeviceForm::TwoState { actuated, released, .. } => state_of_word(actuated, released, word),
            DeviceForm::Analog { .. } => None,
        }
    }
}

/// See [`Device::state_of_word`].
pub(crate) fn state_of_word(actuated: &str, released: &str, word: &str) -> Option<bool> {
    let same = |other: &str| word.to_lowercase() == other.to_lowercase();
    if same(actuated) {
        Some(true)
    } else if same(released) {
        Some(false)
    } else if same("actuated") {
        Some(true)
    } else if same("released") || same(&format!("not {actuated}")) {
        Some(false)
    } else {
        None
    }
}
