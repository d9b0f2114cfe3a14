//! Which procedures run: those with a name, those that failed the last time, a share of them.

use std::collections::BTreeSet;

use super::{
    arguments::{SelectionArguments, Shard},
    last_failed::Entry,
    suite::Suite,
};

/// A procedure on a program: what is run and counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Case {
    /// Which of the suites.
    pub(super) suite: usize,
    /// Which of its variants.
    pub(super) variant: usize,
    /// Which of its procedures; `None` for a file that has none because it is wrong.
    pub(super) procedure: Option<usize>,
}

/// All cases in the order of files, procedures, variants. A file that is wrong and has no procedures that could be
/// read is a case too, so that it is not passed over.
pub(super) fn all(suites: &[Suite]) -> Vec<Case> {
    let mut cases = Vec::new();
    for (index, suite) in suites.iter().enumerate() {
        let procedures = suite.procedure_count();
        if procedures == 0 && suite.is_refused() {
            cases.push(Case { suite: index, variant: 0, procedure: None });
        }
        for procedure in 0..procedures {
            for variant in 0..suite.variant_count() {
                cases.push(Case { suite: index, variant, procedure: Some(procedure) });
            }
        }
    }
    cases
}

/// The cases that are to run. Shares are those of all cases, whatever else is asked for, so that together they are
/// the whole wherever they run.
pub(super) fn select(
    cases: Vec<Case>,
    suites: &[Suite],
    arguments: &SelectionArguments,
    failed: Option<&BTreeSet<Entry>>,
) -> Vec<Case> {
    let wanted: Vec<String> = arguments.names.iter().map(|name| name.to_lowercase()).collect();
    let mut selected = Vec::new();
    for (position, case) in cases.into_iter().enumerate() {
        let Some(suite) = suites.get(case.suite) else { continue };
        let title = title(suite, case).unwrap_or_default();
        let named = wanted.is_empty() || {
            let title = title.to_lowercase();
            wanted.iter().any(|name| title.contains(name.as_str()))
        };
        let failed = failed.is_none_or(|failed| failed.contains(&Entry::of(suite, case)));
        if named && failed && arguments.shard.is_none_or(|shard| shard.has(position)) {
            selected.push(case);
        }
    }
    selected
}

/// The title of a case's procedure.
pub(super) fn title(suite: &Suite, case: Case) -> Option<&str> {
    suite.procedure(case.procedure?).map(|procedure| procedure.title.value.as_str())
}

impl Shard {
    /// Whether the case at a position, from 0, falls to this share. Neighbours go to different shares, since the
    /// procedures of one file often take alike.
    pub(crate) fn has(self, position: usize) -> bool {
        position as u64 % u64::from(self.of) == u64::from(self.number) - 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_apart_and_together_the_whole() {
        for of in 1..8 {
            for position in 0..50 {
                let owners = (1..=of).filter(|number| Shard { number: *number, of }.has(position)).count();
                assert_eq!(owners, 1, "{position} of {of}");
            }
        }
    }
}
