//! What all procedures together have covered of the programs that they ran on.

use std::sync::Arc;

use latchwork_bench::coverage::{Covered, Report, combined};
use latchwork_vm::CoverageLog;

use super::{
    program::{Compiled, TestProgram},
    select::Case,
    suite::Suite,
};
use crate::arguments::LanguageArguments;

/// The logs of all procedures, merged by program, in the order in which the programs are first met.
#[derive(Default)]
pub(super) struct Logs {
    programs: Vec<(Arc<TestProgram>, CoverageLog)>,
}

impl Logs {
    /// Adds the log of a case.
    pub(super) fn add(&mut self, suite: &Suite, case: Case, log: CoverageLog) {
        let Some(program) = suite.variants.get(case.variant) else { return };
        match self.programs.iter_mut().find(|(known, _)| Arc::ptr_eq(known, program)) {
            Some((_, all)) => {
                let same = all.merge(&log);
                debug_assert!(same, "logs of one program fit together");
            }
            None => self.programs.push((Arc::clone(program), log)),
        }
    }

    /// What they have covered; programs that never ran are not among it.
    pub(super) fn report(&self, language: LanguageArguments) -> Report {
        let covered = self.programs.iter().filter_map(|(program, log)| match program.compiled(language) {
            Compiled::Ready { sources, coverage: Some(map), .. } => {
                Some(Covered { map, log: Some(log), sources })
            }
            _ => None,
        });
        combined(&covered.collect::<Vec<_>>())
    }
}
