//! Columns that stand for variables of the plant, and devices that it drives.

use latchwork_grammar::{Diagnostic, Span};
use latchwork_vm::{Resolved, Section};

use super::{
    Taken, Target,
    columns::{Finder, Meaning, Place},
    read::shortened,
};
use crate::{
    plant::Plant,
    station::Station,
    terminals::{cell_type, unresolved_text},
};

impl<'a> Finder<'a> {
    pub(super) fn plant(&self) -> Option<&'a Plant> {
        self.station.and_then(Station::process)
    }

    /// A variable of the plant.
    pub(super) fn of_plant(&mut self, name: &str, span: Span) -> Meaning {
        let Some(plant) = self.plant().filter(|_| self.taken == Taken::All) else { return Meaning::Ignored };
        let refused = |problem: &'static str, message: String, label: String| {
            Diagnostic::error(problem, span, message).label(label)
        };
        let diagnostic = match plant.resolve(name) {
            Ok(variable) if plant.is_input(&variable) => refused(
                "station-plant-driven",
                format!("`{name}` is an input of the plant, which follows the panel"),
                "delete this column".into(),
            ),
            Ok(variable) if variable.constant => {
                refused("stimulus-constant", format!("`{name}` is a constant"), "delete this column".into())
            }
            Ok(variable) => match cell_type(plant.program(), &variable) {
                Some(kind) => {
                    if self.twice(Place::Plant(variable.address), name, span) {
                        return Meaning::Ignored;
                    }
                    return self.column(name, span, Target::Plant(variable), kind, None);
                }
                None => refused(
                    "stimulus-reference",
                    format!("`{name}` is a reference, which has no literal"),
                    "name the variable it refers to".into(),
                ),
            },
            Err(error) => refused(
                "stimulus-unknown-column",
                format!("the plant has no variable `{}`", shortened(name)),
                unresolved_text(plant.program(), name, &error, &[]),
            ),
        };
        self.diagnostics.push(diagnostic);
        Meaning::Ignored
    }

    /// Whether the plant drives a device, so that nobody else does; reports it.
    pub(super) fn is_driven(&mut self, device: usize, name: &str, span: Span) -> bool {
        let Some(plant) = self.plant().filter(|plant| plant.drives(device)) else { return false };
        if self.taken == Taken::All {
            let note = format!(
                "set a variable of the plant, such as `{}`, or place a fault on the device",
                example(plant)
            );
            self.diagnostics.push(
                Diagnostic::error("station-plant-driven", span, format!("the plant drives `{name}`"))
                    .label("delete this column")
                    .note(note),
            );
        }
        true
    }
}

/// A variable of a plant that may be set, rather one of its own than an output.
fn example(plant: &Plant) -> String {
    let settable =
        |variable: &Resolved| !plant.is_input(variable) && !variable.constant && plant.owns(&variable.name);
    let variables: Vec<Resolved> = plant.program().variables().filter(settable).collect();
    let own = variables.iter().find(|variable| variable.section == Section::Local);
    own.or(variables.first()).map_or_else(|| plant.name().to_string(), |variable| variable.name.clone())
}
