//! A reference under examination: every fault of it, one by one.

use std::sync::Arc;

use latchwork_compiler::CompileOptions;
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::Program;

use super::{
    mutant::{MUTANTS_MAX, Mutant, Mutants},
    prove::{self, Built, Chosen},
    search::{self, Search, Sight},
    seed,
};
use crate::{
    procedure::{ProcedureTexts, RunOptions, Verdict},
    station::Station,
};

/// What is examined.
#[derive(Clone)]
pub struct Reference<'s> {
    /// The texts of the reference, and nothing else.
    pub sources: &'s Sources,
    /// How it is compiled. Neither coverage nor a journal is of use here.
    pub options: CompileOptions,
    /// The station, with its plant connected.
    pub station: Option<&'s Station>,
    /// The procedures, those that are kept back too.
    pub procedures: &'s [ProcedureTexts<'s>],
    /// How procedures are run; failures are always told briefly.
    pub run: RunOptions,
}

/// How hard it is looked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ExaminationOptions {
    /// Most faults; more than [`MUTANTS_MAX`] are as many.
    pub mutants: usize,
    /// Most scans in which it is looked for what tells a survivor from the reference; 0 for not at all. More than
    /// [`search::SEARCH_SCANS_MAX`] are as many.
    pub search_scans: u64,
}

impl Default for ExaminationOptions {
    fn default() -> Self {
        ExaminationOptions { mutants: MUTANTS_MAX, search_scans: search::SEARCH_SCANS_DEFAULT }
    }
}

/// Why a reference cannot be examined.
#[derive(Clone, Debug)]
pub enum Refusal {
    /// It does not compile. Places are in the sources of the reference.
    Program(Vec<Diagnostic>),
    /// It does not fit its station. Places are in the station file.
    Station(Vec<Diagnostic>),
    /// Procedures cannot be run on it. Places are in the sources of this file, which is counted from 0.
    Procedures(usize, Vec<Diagnostic>),
    /// There is no procedure that it passes: nothing could tell a fault from it.
    NothingPasses,
}

/// A reference whose faults are examined.
pub struct Examination<'s> {
    reference: Reference<'s>,
    program: Arc<Program>,
    mutants: Mutants,
    /// The procedures that the reference passes.
    passed: Vec<Chosen>,
    /// The others.
    failed: Vec<Chosen>,
    options: ExaminationOptions,
}

/// What became of one fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Examined {
    /// Its number, from 0.
    pub number: usize,
    /// What became of it.
    pub fate: Fate,
    /// Scans that were run for it.
    pub scans: u64,
}

/// What becomes of a fault.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// There is no program with it.
    NotCompiled,
    /// The program is the same with it.
    TheSame,
    /// A procedure notices it.
    Noticed {
        /// The file of procedures, from 0.
        file: usize,
        /// The procedure in it, from 0.
        procedure: usize,
    },
    /// No procedure does.
    Survived(Sight),
}

impl<'s> Examination<'s> {
    /// Compiles the reference, runs every procedure on it and seeds the faults.
    ///
    /// # Errors
    /// [`Refusal`] says why there is nothing to examine.
    pub fn new(reference: Reference<'s>, options: ExaminationOptions) -> Result<Self, Refusal> {
        let program = match prove::build(reference.sources, &reference.options) {
            Built::Program(program) => program,
            Built::Nothing(problems) => return Err(Refusal::Program(problems)),
        };
        let unfit = reference.station.map_or_else(Vec::new, |station| prove::errors(station.check(&program)));
        if !unfit.is_empty() {
            return Err(Refusal::Station(unfit));
        }
        let run = RunOptions { brief: true, ..reference.run.clone() };
        let (mut passed, mut failed) = (Vec::new(), Vec::new());
        let mut scan_ns = i64::MAX;
        for (file, procedures) in reference.procedures.iter().enumerate() {
            let script = procedures
                .script(&program, reference.station)
                .map_err(|problems| Refusal::Procedures(file, problems))?;
            scan_ns = scan_ns.min(script.scan_ns());
            for procedure in 0..script.procedures().len() {
                let chosen = Chosen { file, procedure };
                match script.run(procedure, &run).verdict {
                    Verdict::Passed => passed.push(chosen),
                    Verdict::Failed(_) => failed.push(chosen),
                    Verdict::Refused(problems) => return Err(Refusal::Procedures(file, problems)),
                }
            }
        }
        if passed.is_empty() {
            return Err(Refusal::NothingPasses);
        }
        let mutants = seed::mutants(reference.sources, scan_ns, options.mutants.min(MUTANTS_MAX));
        let reference = Reference { run, ..reference };
        Ok(Examination { reference, program, mutants, passed, failed, options })
    }

    /// The faults that were seeded.
    #[must_use]
    pub fn mutants(&self) -> &Mutants {
        &self.mutants
    }

    /// The number of faults that are tried.
    #[must_use]
    pub fn count(&self) -> usize {
        self.mutants.list.len()
    }

    /// What is examined.
    #[must_use]
    pub fn reference(&self) -> &Reference<'s> {
        &self.reference
    }

    pub(super) fn failed(&self) -> &[Chosen] {
        &self.failed
    }

    pub(super) fn passed(&self) -> &[Chosen] {
        &self.passed
    }

    /// Tries one fault, by its number from 0. The result depends on nothing but the number. `None` beyond the last one.
    #[must_use]
    pub fn examine(&self, number: usize) -> Option<Examined> {
        let mutant = self.mutants.list.get(number)?;
        let (fate, scans) = self.fate(number, mutant);
        Some(Examined { number, fate, scans })
    }

    fn fate(&self, number: usize, mutant: &Mutant) -> (Fate, u64) {
        let Reference { station, procedures, run, .. } = &self.reference;
        let sources = mutant.apply(self.reference.sources);
        let Built::Program(program) = prove::build(&sources, &self.reference.options) else {
            return (Fate::NotCompiled, 0);
        };
        if prove::is_same(self.program.image(), program.image()) {
            return (Fate::TheSame, 0);
        }
        // What no longer fits the station is found by whoever puts it there, before any procedure.
        if station.is_some_and(|station| !prove::errors(station.check(&program)).is_empty()) {
            return (Fate::NotCompiled, 0);
        }
        let (noticed, scans) = prove::noticed(&program, *station, procedures, &self.passed, run);
        if let Some(Chosen { file, procedure }) = noticed {
            return (Fate::Noticed { file, procedure }, scans);
        }
        let search = Search {
            reference: &self.program,
            mutant: &program,
            texts: [self.reference.sources, &sources],
            station: *station,
            files: procedures,
            chosen: &self.passed,
            run,
            scans: self.options.search_scans.min(search::SEARCH_SCANS_MAX),
            seed: number as u64,
        };
        let heading = format!("fault {}: line {}, {}", number + 1, mutant.line, mutant.kind.words());
        let (sight, looked) = search.search(&heading);
        (Fate::Survived(sight), scans + looked)
    }
}
