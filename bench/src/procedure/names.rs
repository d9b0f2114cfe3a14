//! The types of what steps and conditions name, for the compiler of conditions.

use latchwork_compiler::probe::{Outside, ProbeKind};
use latchwork_vm::{ElementaryType, Program, ResolveError};

use crate::{
    nearest::nearest,
    panel::{Missing, Panel, Place},
    station::{DeviceForm, LoadForm},
};

/// The names of one program on one panel.
pub(super) struct NamesOutside<'a> {
    pub(super) program: &'a Program,
    pub(super) panel: &'a Panel<'a>,
}

impl NamesOutside<'_> {
    /// What a name stands for.
    pub(super) fn find(&self, path: &str) -> Result<Place, Missing> {
        self.panel.find(self.program, path)
    }

    /// The type of what a place holds; `None` for a reference.
    pub(super) fn kind_of(&self, place: &Place) -> Option<ProbeKind> {
        let panel = self.panel;
        let kind = match place {
            Place::Device(index) => match panel.devices().get(*index)?.device.form {
                DeviceForm::Analog { .. } => ElementaryType::Lreal,
                DeviceForm::TwoState { .. } => ElementaryType::Bool,
            },
            Place::Load(index) => match panel.loads().get(*index)?.load.form {
                LoadForm::Analog { .. } => ElementaryType::Lreal,
                LoadForm::TwoState => ElementaryType::Bool,
            },
            Place::Terminal(index) => panel.devices().get(*index)?.terminal_kind(),
            Place::Variable(variable) => return ProbeKind::of(self.program.image(), variable.kind),
            Place::Plant(variable) => {
                return ProbeKind::of(panel.plant()?.program().image(), variable.kind);
            }
        };
        Some(ProbeKind::Elementary(kind))
    }
}

impl Outside for NamesOutside<'_> {
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String> {
        match self.find(path) {
            Ok(place) => match self.kind_of(&place) {
                Some(kind) => Ok(Some(kind)),
                None => Err("a reference; name the variable it refers to".into()),
            },
            Err(Missing { unknown: true, .. }) => Ok(None),
            Err(Missing { label, .. }) => Err(label),
        }
    }

    fn nearest(&self, path: &str) -> Vec<String> {
        let names = self.panel.names();
        let near = nearest(path, names.iter().map(String::as_str));
        if !near.is_empty() {
            return near.into_iter().map(str::to_owned).collect();
        }
        match self.program.resolve(path) {
            Err(ResolveError::Unknown { nearest, .. }) => nearest,
            _ => Vec::new(),
        }
    }
}
