//! The stations that procedures run on: read once, with their plants.

use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
    sync::Arc,
};

use latchwork_bench::station::Station;
use latchwork_grammar::{Diagnostic, Severity, Sources};

use crate::{arguments::LanguageArguments, exit::Failure, station};

/// A station that was read.
pub(crate) struct TestStation {
    /// Its texts and those of its plant.
    pub(crate) sources: Sources,
    /// The station, unless there is an error in it or in its plant.
    pub(crate) station: Option<Station>,
    /// What is wrong with it.
    pub(crate) problems: Vec<Diagnostic>,
    /// Its file and those of its plant.
    pub(super) inputs: Vec<PathBuf>,
    /// Devices and loads with faults that were left out.
    pub(super) left_out: Vec<String>,
}

impl TestStation {
    /// Whether it cannot be used.
    pub(crate) fn is_wrong(&self) -> bool {
        self.station.is_none() || self.problems.iter().any(|problem| problem.severity == Severity::Error)
    }
}

/// All stations of a run; the same file is the same station.
#[derive(Default)]
pub(super) struct Stations {
    /// Faults that a station file places are left out.
    pub(super) sound: bool,
    known: BTreeMap<PathBuf, Arc<TestStation>>,
}

impl Stations {
    /// The station of a file.
    pub(super) fn of(
        &mut self,
        path: &Path,
        language: LanguageArguments,
    ) -> Result<Arc<TestStation>, Failure> {
        let real = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
        if let Some(known) = self.known.get(&real) {
            return Ok(Arc::clone(known));
        }
        let mut sources = Sources::new();
        let found = station::read(path, language, &mut sources)?;
        let mut inputs = found.plant_files;
        inputs.push(path.to_path_buf());
        let mut read = TestStation {
            sources,
            station: found.station,
            problems: found.problems,
            inputs,
            left_out: Vec::new(),
        };
        if self.sound {
            read.left_out = read.station.as_ref().map(faulty).unwrap_or_default();
            read.station = read.station.map(Station::sound);
        }
        Ok(Arc::clone(self.known.entry(real).or_insert(Arc::new(read))))
    }
}

/// Devices and loads with a fault.
fn faulty(station: &Station) -> Vec<String> {
    let devices = station.devices.iter().filter(|device| device.fault.is_some()).map(|device| &device.name);
    let loads = station.loads.iter().filter(|load| load.fault.is_some()).map(|load| &load.name);
    devices.chain(loads).map(|name| name.value.clone()).collect()
}
