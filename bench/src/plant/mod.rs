//! Plants: the process on the other side of the terminals, as a program of the standard's languages.
//!
//! A plant is one PROGRAM. What it calls an input is what the controller's loads do, what it calls an output is what
//! happens to the devices:
//!
//! ```text
//! PROGRAM Tank
//! VAR_INPUT
//!   P1 : BOOL;           // the load P1 works
//!   V1 : LREAL;          // the analog load V1, in its engineering units
//!   Interval : TIME;     // time since the last run of the plant; of type LREAL a number of seconds
//! END_VAR
//! VAR_OUTPUT
//!   Level : LREAL := 40.0;   // the analog device Level, in its engineering units, at the start too
//!   FloatFull : BOOL;        // the device FloatFull is actuated
//! END_VAR
//! ```
//!
//! - It sees the panel only: contacts, wires and their faults lie between it and the controller.
//! - After a scan at t it runs once for the time to the next one, and then the stimulus of the next scan is applied. Its
//!   clock stands at the end of that time. Before the first scan the initial values of its outputs act on the devices,
//!   in place of their `start`.
//! - A restart of the controller is none of the plant: the process goes on.
//! - Its own variables can be recorded and set by path: `Tank.Inflow`. An output that is set acts at once.
//! - It has the same instruction budget as a program; its instructions take no simulated time.
//!
//! The station file names the files of a plant ([`PlantFiles`]); the front end reads and compiles them, makes a
//! [`Plant`] and connects it ([`crate::station::Station::connect`]).

mod places;
mod wire;

use std::sync::Arc;

use latchwork_grammar::{Diagnostic, FileId, Sources, Span};
use latchwork_vm::{Image, NativeFunction, Program, ResolveError, Resolved};

use crate::station::{Placed, Station};

/// Most files of one plant.
pub const PLANT_FILES_MAX: usize = 64;

/// What a station file says of its plant.
#[derive(Clone, Debug)]
pub struct PlantFiles {
    /// Paths from the folder of the station file, with `/` between folders, never absolute.
    pub files: Vec<Placed<String>>,
    /// The program, where the files hold several.
    pub program: Option<Placed<String>>,
    /// The heading.
    pub span: Span,
}

/// A plant wired to a station.
#[derive(Clone, Debug)]
pub struct Plant {
    program: Arc<Program>,
    name: String,
    /// `Interval`.
    interval: Option<Resolved>,
    /// What loads set, by index of the load.
    inputs: Vec<(usize, Resolved)>,
    /// What acts on devices, by index of the device.
    outputs: Vec<(usize, Resolved)>,
}

impl Plant {
    /// The plant of a station, from the compiled image of its files. `files` are these files among `sources`; they give
    /// the places of messages.
    ///
    /// # Errors
    /// Everything that is wrong between the plant and the station: not one program to run, inputs that are no loads,
    /// outputs that are no devices, types that do not fit. With a station that has no plant nothing is wrong, and nothing
    /// wired.
    pub fn new(
        image: Image,
        natives: &[NativeFunction],
        station: &Station,
        sources: &Sources,
        files: &[FileId],
    ) -> Result<Plant, Vec<Diagnostic>> {
        wire::wire(image, natives, station, &places::Places::of(sources, files))
    }

    /// The name of its program as declared.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its program.
    pub fn program(&self) -> &Arc<Program> {
        &self.program
    }

    /// Whether it drives a device of the station, by the index of the device.
    pub fn drives(&self, device: usize) -> bool {
        self.outputs.iter().any(|(index, _)| *index == device)
    }

    /// Whether a path begins with its name.
    pub fn owns(&self, path: &str) -> bool {
        let path = path.trim();
        path.len() > self.name.len()
            && path.as_bytes().get(self.name.len()) == Some(&b'.')
            && path.get(..self.name.len()).is_some_and(|name| name.eq_ignore_ascii_case(&self.name))
    }

    /// The variable of a path that begins with its name.
    ///
    /// # Errors
    /// As [`Program::resolve`].
    pub fn resolve(&self, path: &str) -> Result<Resolved, ResolveError> {
        self.program.resolve(path)
    }

    /// Whether a load, or the time, sets this variable of it.
    pub fn is_input(&self, variable: &Resolved) -> bool {
        let inputs = self.inputs.iter().map(|(_, input)| input);
        inputs.chain(&self.interval).any(|input| input.address == variable.address)
    }

    /// The names of its variables, with the name of its program in front.
    pub(crate) fn variable_names(&self) -> Vec<String> {
        self.program.variables().map(|variable| variable.name).filter(|name| self.owns(name)).collect()
    }

    pub(crate) fn interval(&self) -> Option<&Resolved> {
        self.interval.as_ref()
    }

    pub(crate) fn inputs(&self) -> &[(usize, Resolved)] {
        &self.inputs
    }

    pub(crate) fn outputs(&self) -> &[(usize, Resolved)] {
        &self.outputs
    }
}
