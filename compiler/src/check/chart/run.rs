//! The bodies of the actions: two passes over one copy of each.
//!
//! ```text
//! pass := FALSE;  (* TRUE: the second pass *)
//! again:
//!   run_a ? body of a;  run_a := active_a;
//!   run_b ? body of b;  run_b := active_b;
//! NOT pass ? pass := TRUE, again
//! ```
//!
//! In the first pass `run` stands for the final scan, in the second for the scans in which the action is active. So
//! all final scans come before all other runs and a step that is entered wins over one that is left (our choice;
//! IEC 61131-3:2013, 6.7.4.6 leaves the order open). A RETURN in a body leaves that body.

use super::{
    Network,
    build::{assign, jump, jump_when, label, read},
    control::Run,
};
use crate::{
    check::Checker,
    typed::{Observation, Statement, StatementKind},
};

impl<'a> Checker<'a> {
    /// Adds the bodies of the actions that are associated with steps.
    pub(super) fn run_actions(
        &mut self,
        network: &mut Network<'_>,
        runs: Vec<Run>,
        into: &mut Vec<Statement>,
    ) {
        let Some(first) = runs.first().map(|run| run.place) else { return };
        let boolean = self.boolean();
        let last_runs = runs.iter().any(|run| run.last.is_some());
        let (again, done) = (self.chart_label(), self.chart_label());
        let second = self.passing(boolean, first);
        if last_runs {
            let no = self.truth(false, first);
            into.push(assign(second.clone(), no));
            into.push(label(again, first));
        }
        for run in runs {
            let skip = self.chart_label();
            let decides = match (&run.last, last_runs) {
                (Some(last), _) => last.clone(),
                (None, false) => run.active.clone(),
                (None, true) => {
                    // Has no final scan, so nothing to run in the first pass.
                    into.push(jump_when(read(&second), false, skip));
                    run.active.clone()
                }
            };
            into.push(jump_when(read(&decides), false, skip));
            let mut body = network.bodies.get_mut(run.body).map(std::mem::take).unwrap_or_default();
            return_to(&mut body, skip);
            self.observe(Observation::Written(true), run.place, into);
            into.append(&mut body);
            self.observe(Observation::Written(false), run.place, into);
            into.push(label(skip, run.place));
            if let Some(last) = run.last {
                into.push(assign(last, read(&run.active)));
            }
        }
        if last_runs {
            into.push(jump_when(read(&second), true, done));
            let yes = self.truth(true, first);
            into.push(assign(second, yes));
            into.push(jump(again, first));
            into.push(label(done, first));
        }
    }
}

/// Turns each RETURN into a jump.
fn return_to(statements: &mut [Statement], target: u32) {
    for statement in statements {
        match &mut statement.kind {
            StatementKind::Return => {
                statement.kind = StatementKind::Jump { label: target, condition: None };
            }
            StatementKind::If { branches, otherwise } => {
                branches.iter_mut().for_each(|(_, body)| return_to(body, target));
                return_to(otherwise, target);
            }
            StatementKind::Case { groups, otherwise, .. } => {
                groups.iter_mut().for_each(|(_, body)| return_to(body, target));
                return_to(otherwise, target);
            }
            StatementKind::For { body, .. }
            | StatementKind::While { body, .. }
            | StatementKind::Repeat { body, .. } => return_to(body, target),
            _ => {}
        }
    }
}
