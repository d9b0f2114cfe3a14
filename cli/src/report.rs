//! The report of a run: the facts that only the command knows, and writing it.

use std::path::{Path, PathBuf};

use latchwork_bench::{
    coverage::Report,
    replay::Replayed,
    report::{self, Evidence, Fact, RunParts},
};
use latchwork_grammar::Sources;

use crate::{arguments::RunArguments, exit::Failure, files, program};

/// Writes the report of a run.
pub(crate) fn write(
    path: &Path,
    arguments: &RunArguments,
    replayed: &Replayed,
    sources: &Sources,
    coverage: Option<&Report>,
    evidence: Option<Evidence<'_>>,
) -> Result<(), Failure> {
    let facts = facts(&arguments.files, arguments.station.as_ref(), arguments.stimulus.as_ref());
    let parts = RunParts { replayed, sources, coverage, facts: &facts, evidence };
    files::write(path, report::run(&parts).as_bytes())
}

fn facts(program: &[PathBuf], station: Option<&PathBuf>, stimulus: Option<&PathBuf>) -> Vec<Fact> {
    let mut facts = vec![Fact { term: "Program", text: program::names(program) }];
    for (term, path) in [("Station", station), ("Stimulus", stimulus)] {
        let text = path.map_or_else(|| "none".to_owned(), |path| program::name(path));
        facts.push(Fact { term, text });
    }
    facts.push(version());
    facts
}

/// Which program made the report.
pub(crate) fn version() -> Fact {
    Fact { term: "Made by", text: format!("latchwork {}", env!("CARGO_PKG_VERSION")) }
}
