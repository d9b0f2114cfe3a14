//! An exercise made ready to mark by: what is asked, what doing nothing earns.

use std::sync::Arc;

use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::Program;

use super::{
    interface,
    model::{Finding, Item, ItemKind, MarkingScheme},
    nothing,
    points::Points,
};
use crate::{
    exercise::{Credit, Exercise},
    procedure::{Outcome, ProcedureTexts, RunBudget, RunOptions, Script, Tally},
    station::Station,
};

/// What an exercise is, with all files that it names read.
#[derive(Clone)]
pub struct ExerciseParts<'e> {
    /// Its description.
    pub exercise: &'e Exercise,
    /// The panel.
    pub station: Option<&'e Station>,
    /// The texts of the panel and its plant.
    pub plant: &'e Sources,
    /// Its files of procedures, in the order of the description.
    pub procedures: Vec<ProcedureTexts<'e>>,
    /// The reference, if it is there; without it nothing is known of what is expected but the procedures.
    pub reference: Option<Arc<Program>>,
    /// What the standard leaves open, for submissions.
    pub options: CompileOptions,
}

/// An exercise made ready to mark by.
pub struct Marker<'e> {
    pub(super) parts: ExerciseParts<'e>,
    pub(super) scheme: MarkingScheme,
    /// For each item of the scheme its file of procedures and its number in it; `None` for compiling.
    pub(super) places: Vec<Option<(usize, usize)>>,
    /// For each item what a program that does nothing meets of it, where that counts.
    pub(super) by_nothing: Vec<Option<Tally>>,
    /// Texts for items without procedures.
    pub(super) none: Sources,
}

impl<'e> Marker<'e> {
    /// Makes an exercise ready: the scheme, what doing nothing earns.
    ///
    /// # Errors
    /// What is wrong with its procedures on the reference, by the number of their file.
    pub fn new(parts: ExerciseParts<'e>) -> Result<Self, (usize, Vec<Diagnostic>)> {
        let mut marker = Marker {
            scheme: MarkingScheme {
                title: parts.exercise.title.clone(),
                items: Vec::new(),
                out_of: Points::ZERO,
            },
            places: Vec::new(),
            by_nothing: Vec::new(),
            none: Sources::new(),
            parts,
        };
        let compiles = marker.parts.exercise.compiles;
        if compiles > Points::ZERO {
            let title = "compiles and works a load".to_owned();
            let item = Item {
                title,
                file: String::new(),
                points: compiles,
                shown: true,
                kind: ItemKind::Compiles,
                hint: None,
            };
            marker.add(item, None, None);
        }
        let nothing = marker.nothing();
        for file in 0..marker.parts.procedures.len() {
            marker.add_file(file, nothing.as_ref()).map_err(|problems| (file, problems))?;
        }
        Ok(marker)
    }

    fn add(&mut self, item: Item, place: Option<(usize, usize)>, by_nothing: Option<Tally>) {
        self.scheme.out_of = self.scheme.out_of.plus(item.points);
        self.scheme.items.push(item);
        self.places.push(place);
        self.by_nothing.push(by_nothing);
    }

    fn add_file(&mut self, file: usize, nothing: Option<&Arc<Program>>) -> Result<(), Vec<Diagnostic>> {
        let Some(described) = self.parts.exercise.procedures.get(file) else { return Ok(()) };
        let (shown, credit, name) = (described.shown, described.credit, described.file.value.clone());
        let mut added = Vec::new();
        {
            // Without a reference its names are those of the interface.
            let Some(program) = self.parts.reference.as_ref().or(nothing) else { return Ok(()) };
            let script = self.script(file, program)?;
            let idle = nothing.filter(|_| credit == Credit::ByExpectation);
            let idle = idle.and_then(|program| self.script(file, program).ok());
            for (index, procedure) in script.procedures().iter().enumerate() {
                let points = procedure.points.map_or(Points::of_hundredths(100), Points::of);
                let item = Item {
                    title: procedure.title.value.clone(),
                    file: name.clone(),
                    points,
                    shown,
                    kind: ItemKind::Procedure,
                    hint: procedure.hint.as_ref().map(|hint| hint.value.clone()),
                };
                let counting = RunOptions { carry_on: true, brief: true, ..self.run_options() };
                let by_nothing = idle.as_ref().and_then(|script| script.run(index, &counting).tally);
                added.push((item, Some((file, index)), by_nothing));
            }
        }
        for (item, place, by_nothing) in added {
            self.add(item, place, by_nothing);
        }
        Ok(())
    }

    /// What is asked.
    pub fn scheme(&self) -> &MarkingScheme {
        &self.scheme
    }

    /// For each item the texts of its file of procedures; empty ones for compiling.
    pub fn procedure_sources(&self) -> Vec<&Sources> {
        (0..self.places.len()).map(|item| self.sources_of(item)).collect()
    }

    /// The texts of an item's file of procedures; empty ones for compiling.
    pub(super) fn sources_of(&self, item: usize) -> &Sources {
        let place = self.places.get(item).copied().flatten();
        let texts = place.and_then(|(file, _)| self.parts.procedures.get(file));
        texts.map_or(&self.none, |texts| texts.sources)
    }

    /// The text of a program that has the interface and does nothing.
    pub fn nothing_text(&self) -> String {
        nothing::program(self.parts.exercise, self.parts.station)
    }

    fn nothing(&self) -> Option<Arc<Program>> {
        let mut sources = Sources::new();
        sources.add("nothing.st", self.nothing_text());
        let image = compile_with(&sources, &self.parts.options).image?;
        Program::load(image, latchwork_stdlib::natives()).ok().map(Arc::new)
    }

    /// Names of all devices and loads.
    pub(super) fn rows(&self) -> Vec<String> {
        let Some(station) = self.parts.station else { return Vec::new() };
        let devices = station.devices.iter().map(|device| device.name.value.clone());
        devices.chain(station.loads.iter().map(|load| load.name.value.clone())).collect()
    }

    /// How procedures are run within the budget of the exercise.
    pub fn run_options(&self) -> RunOptions {
        let budget = &self.parts.exercise.budget;
        RunOptions {
            budget: RunBudget {
                scans: budget.scans,
                scan_instructions: budget.scan_instructions,
                instructions: budget.procedure_instructions,
            },
            ..RunOptions::default()
        }
    }

    pub(super) fn script(&self, file: usize, program: &Arc<Program>) -> Result<Script<'e>, Vec<Diagnostic>> {
        match self.parts.procedures.get(file) {
            Some(texts) => texts.script(program, self.parts.station),
            None => Err(Vec::new()),
        }
    }

    /// What of the interface a program lacks.
    pub fn lacking(&self, program: &Program) -> Vec<Finding> {
        interface::check(self.parts.exercise, program)
    }

    /// Runs the reference through an item; for checking the exercise.
    pub fn run_on(&self, item: usize, program: &Arc<Program>) -> Option<Outcome> {
        let (file, index) = (*self.places.get(item)?)?;
        let script = self.script(file, program).ok()?;
        Some(script.run(index, &RunOptions { brief: true, ..self.run_options() }))
    }
}
