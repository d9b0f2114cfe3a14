//! Tasks of the gallery under examination.

use latchwork_bench::{
    mutation::{Examination, ExaminationOptions, MUTANTS_MAX, Reference},
    procedure::{ProcedureTexts, RunOptions, Traces},
    station::Station,
};
use latchwork_compiler::CompileOptions;
use latchwork_grammar::{Names, Sources, steps::tree::StepsFile};

use crate::{
    bench::bench,
    folder::{folders, steps_of, trees_of},
};

/// A task with one of its programs.
pub struct Task {
    pub files: Vec<StepsFile>,
    pub steps_sources: Sources,
    pub names: Names,
    pub station: Option<Station>,
    program: Sources,
}

impl Task {
    /// A task by its folder, with one of the programs of its procedures.
    pub fn read(name: &str, variant: usize) -> Task {
        let folder = folders().into_iter().find(|folder| folder.name == name).unwrap();
        let setup = steps_of(&folder, "procedure.steps");
        let (files, steps_sources, names) = trees_of(&folder, "procedure.steps");
        let variant = &setup.variants[variant];
        let mut program = Sources::new();
        for file in variant {
            program.add(file.as_str(), folder.text(file));
        }
        let station = bench(&folder, variant, setup.station.as_deref()).station;
        Task { files, steps_sources, names, station, program }
    }

    /// The texts of the program.
    pub fn sources(&self) -> &Sources {
        &self.program
    }

    /// Does something with its examination.
    pub fn examination(&self, search_scans: u64, work: impl FnOnce(&Examination<'_>)) {
        let procedures = [ProcedureTexts {
            files: &self.files,
            sources: &self.steps_sources,
            names: &self.names,
            traces: Traces::default(),
        }];
        let reference = Reference {
            sources: &self.program,
            options: CompileOptions::default(),
            station: self.station.as_ref(),
            procedures: &procedures,
            run: RunOptions::default(),
        };
        let options = ExaminationOptions { mutants: MUTANTS_MAX, search_scans };
        let examination =
            Examination::new(reference, options).unwrap_or_else(|refusal| panic!("{refusal:?}"));
        work(&examination);
    }
}

/// The programs of all tasks, each with its files.
pub fn programs() -> Vec<Sources> {
    let mut programs = Vec::new();
    for folder in folders() {
        for variant in steps_of(&folder, "procedure.steps").variants {
            let mut sources = Sources::new();
            for file in &variant {
                sources.add(file.as_str(), folder.text(file));
            }
            programs.push(sources);
        }
    }
    programs
}
