//! The recorded traces that the procedures of a file are compared with: found and read.

use std::path::{Path, PathBuf};

use latchwork_bench::{
    comparison::TRACE_BYTES_MAX,
    procedure::{TraceFile, Traces, files as wording},
};
use latchwork_grammar::{
    Diagnostic, Sources,
    steps::tree::{Comparison, Procedure, Text},
};

use super::trace_paths::trace_paths;
use crate::{files, program};

/// What was found for the procedures of a file.
#[derive(Default)]
pub(super) struct FoundTraces {
    pub(super) traces: Traces,
    /// For each procedure that is compared with an approved trace its path.
    pub(super) approved: Vec<Option<PathBuf>>,
    /// What cannot be read.
    pub(super) problems: Vec<Diagnostic>,
    /// All that was read, or would be if it were there.
    pub(super) inputs: Vec<PathBuf>,
}

impl FoundTraces {
    /// Reads the traces of the procedures of a file into its sources; names are meant from its folder.
    pub(super) fn read(steps: &Path, procedures: &[&Procedure], sources: &mut Sources) -> Self {
        let titles: Vec<&str> = procedures.iter().map(|procedure| procedure.title.value.as_str()).collect();
        let folder = steps.parent().map(Path::to_path_buf).unwrap_or_default();
        let mut found = FoundTraces::default();
        for (procedure, approved) in procedures.iter().zip(trace_paths(steps, &titles)) {
            let mut asked = None;
            for comparison in &procedure.comparisons {
                match &comparison.file {
                    Some(name) => found.trace(comparison, name, &folder.join(&name.value), sources),
                    None if approved.exists() => {
                        let name = Text { value: program::name(&approved), span: comparison.span };
                        found.trace(comparison, &name, &approved, sources);
                    }
                    None => {
                        let path = program::name(&approved);
                        found.traces.insert(comparison, TraceFile::NotApproved(path));
                        found.inputs.push(approved.clone());
                    }
                }
                if comparison.file.is_none() {
                    asked = Some(approved.clone());
                }
            }
            found.approved.push(asked);
        }
        found
    }

    fn trace(&mut self, comparison: &Comparison, name: &Text, path: &Path, sources: &mut Sources) {
        self.inputs.push(path.to_path_buf());
        match files::text_file(path, TRACE_BYTES_MAX, "a recorded trace") {
            Ok(text) => {
                let file = sources.add(program::name(path), text);
                self.traces.insert(comparison, TraceFile::Read(file));
            }
            Err(failure) => self.problems.push(wording::unreadable(name, &failure.message)),
        }
    }
}
