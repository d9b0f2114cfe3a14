//! What the corpus shows of each feature of the compliance statement.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_compiler::compliance::{self, Status};

use super::case::{Case, Check};

/// Programs of the corpus, by what they are and by the features they name.
#[derive(Debug, Default)]
pub struct Evidence {
    /// Texts of accepted programs that name a feature.
    pub accepted: BTreeSet<String>,
    /// Texts of refused programs that name a feature.
    pub refused: BTreeSet<String>,
    /// Of each feature the numbers of accepted and refused programs, and the file that names it first.
    features: BTreeMap<String, (usize, usize, String)>,
}

impl Evidence {
    /// Counts the programs of a case.
    pub fn take(&mut self, file: &str, case: &Case) {
        for wanted in case.checks.iter().filter(|wanted| !wanted.features.is_empty()) {
            let refused = match &wanted.check {
                Check::Refused(text, _) => {
                    self.refused.insert(text.clone());
                    true
                }
                Check::Run(text, script) => {
                    // A program that is made to stop is the other side of one that runs, and shows its text only.
                    let text =
                        if script.fault.is_some() { text.clone() + "\n// stops" } else { text.clone() };
                    self.accepted.insert(text);
                    false
                }
                Check::Warned(text, _) | Check::Accepted(text) | Check::Clean(text) => {
                    self.accepted.insert(text.clone());
                    false
                }
            };
            for feature in &wanted.features {
                let entry = self.features.entry(feature.clone()).or_insert((0, 0, file.to_owned()));
                if refused { entry.1 += 1 } else { entry.0 += 1 }
            }
        }
    }

    /// Where the statement and the corpus do not agree.
    pub fn problems(&self) -> Vec<String> {
        let mut problems = Vec::new();
        let mut unknown = self.features.clone();
        for feature in compliance::features() {
            let id = feature.id();
            let (accepted, refused, file) = unknown.remove(&id).unwrap_or_default();
            let title = feature.title;
            match feature.status {
                Status::Yes | Status::Part => {
                    if accepted == 0 {
                        problems.push(format!("{id} ({title}) is stated, and no accepted program shows it"));
                    }
                    if feature.refusal && refused == 0 {
                        problems.push(format!(
                            "{id} ({title}) is stated, and no refused program shows its limits"
                        ));
                    }
                }
                Status::No | Status::NotApplicable if accepted > 0 => {
                    problems.push(format!(
                        "{id} ({title}) is not stated, and {file} has a program that shows it"
                    ));
                }
                Status::No | Status::NotApplicable => {}
            }
        }
        let unknown = unknown.into_iter();
        problems
            .extend(unknown.map(|(id, (.., file))| format!("{id} of {file} is no feature of the statement")));
        problems
    }
}
