//! Approved traces being written: what a procedure did becomes what it is compared with from then on.
//!
//! A procedure that does not pass approves nothing, and neither do other programs than the first one of a file: they
//! are to do the same.

use std::{
    collections::BTreeMap,
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

use latchwork_bench::{comparison::TRACE_BYTES_MAX, diagram::words::harmless};

use super::{
    case::{Told, Verdict},
    select::{self, Case},
    suite::Suite,
};
use crate::{exit::Failure, files, program};

/// What became of an approved trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Approval {
    /// There was none.
    New,
    /// It was another one.
    Changed,
    /// It was the same to the byte.
    Unchanged,
    /// The procedure did not pass.
    Refused,
}

impl Approval {
    /// In a word, for people and tools.
    pub(super) fn word(self) -> &'static str {
        match self {
            Approval::New => "new",
            Approval::Changed => "changed",
            Approval::Unchanged => "unchanged",
            Approval::Refused => "not approved",
        }
    }
}

/// The approvals of a run.
#[derive(Default)]
pub(super) struct Approvals {
    /// In the order of the cases: what is told.
    lines: Vec<(&'static str, String)>,
    /// The texts written, by suite and procedure.
    texts: BTreeMap<(usize, usize), String>,
    /// The folders in which they lie, with the suites.
    folders: BTreeMap<PathBuf, usize>,
}

impl Approvals {
    /// Writes the trace of a case if it asks for one and has passed.
    pub(super) fn take(
        &mut self,
        suite: &Suite,
        case: Case,
        told: &mut Told,
    ) -> Result<Option<Approval>, Failure> {
        let Some((procedure, path)) =
            case.procedure.and_then(|index| Some((index, suite.approved_trace(index)?)))
        else {
            return Ok(None);
        };
        let name = harmless(&program::name(path));
        let text = told.approved.take();
        if case.variant > 0 {
            self.other_program(suite, case, procedure, text, &name);
            return Ok(None);
        }
        if let Some(folder) = path.parent() {
            self.folders.insert(folder.to_path_buf(), case.suite);
        }
        let approval = match &text {
            None => Approval::Refused,
            Some(text) => write(path, text)?,
        };
        let line = match (approval, told.verdict) {
            (Approval::Refused, Verdict::Failed) => format!("{name}: the procedure failed"),
            (Approval::Refused, Verdict::NotRun) => format!("{name}: the procedure did not run"),
            (Approval::Refused, _) => format!("{name}: the procedure was refused"),
            _ => name,
        };
        self.lines.push((approval.word(), line));
        self.texts.extend(text.map(|text| ((case.suite, procedure), text)));
        Ok(Some(approval))
    }

    /// Whatever another program does otherwise is worth a word; whether it is near enough, the next run will tell.
    fn other_program(
        &mut self,
        suite: &Suite,
        case: Case,
        procedure: usize,
        text: Option<String>,
        name: &str,
    ) {
        let Some(text) = text else { return };
        let program = suite.variant(case.variant);
        let title = harmless(select::title(suite, case).unwrap_or_default());
        match self.texts.get(&(case.suite, procedure)) {
            Some(first) if *first == text => {}
            Some(_) => self.lines.push(("differs", format!("{name}: {program} does it otherwise"))),
            None => {
                let first = suite.variant(0);
                let line = format!("{name}: {first} approves '{title}', and it did not run or pass");
                self.lines.push((Approval::Refused.word(), line));
            }
        }
    }

    /// What is told at the end; `quiet` leaves out what stayed as it was.
    pub(super) fn told(&self, suites: &[Suite], quiet: bool) -> String {
        let mut lines = self.lines.clone();
        for (folder, suite) in &self.folders {
            let Some(suite) = suites.get(*suite) else { continue };
            lines.extend(unused(folder, suite).into_iter().map(|name| ("unused", name)));
        }
        let quiet_words = [Approval::Unchanged.word()];
        lines.retain(|(word, _)| !quiet || !quiet_words.contains(word));
        if self.lines.is_empty() {
            return "no procedure that ran is compared with an approved trace; write `compare Pump;` at its head\n"
                .to_owned();
        }
        if lines.is_empty() {
            return String::new();
        }
        let width = lines.iter().map(|(word, _)| word.len()).max().unwrap_or(0);
        let mut out = "approved traces\n".to_owned();
        for (word, line) in &lines {
            // Writing into a string cannot fail.
            let _ = writeln!(out, "  {word:<width$}  {line}");
        }
        out
    }
}

/// Writes a trace unless it is there already.
fn write(path: &Path, text: &str) -> Result<Approval, Failure> {
    let approval = if path.exists() {
        let before = files::text_file(path, TRACE_BYTES_MAX, "a recorded trace");
        if before.is_ok_and(|before| before == text) { Approval::Unchanged } else { Approval::Changed }
    } else {
        Approval::New
    };
    if approval != Approval::Unchanged {
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|error| {
                Failure::usage(format!("{}: cannot make this folder: {error}", folder.display()))
            })?;
        }
        files::write(path, text.as_bytes())?;
    }
    Ok(approval)
}

/// Traces that no procedure of the file asks for: their titles have changed.
fn unused(folder: &Path, suite: &Suite) -> Vec<String> {
    let asked: Vec<&Path> =
        (0..suite.procedure_count()).filter_map(|index| suite.approved_trace(index)).collect();
    let entries = fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    let mut names: Vec<String> = entries
        .filter(|path| path.extension().is_some_and(|extension| extension == "csv"))
        .filter(|path| !asked.iter().any(|asked| asked.file_name() == path.file_name()))
        .map(|path| format!("{}: no procedure asks for it", harmless(&program::name(&path))))
        .collect();
    names.sort();
    names
}
