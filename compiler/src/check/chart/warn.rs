//! Warnings about actions that are right but probably not what their author wants.

use latchwork_grammar::{Diagnostic, tree::ActionQualifier as Q};

use super::{ControlledAction, Network, Target};
use crate::{
    check::Checker,
    typed::{Root, VariableId, walk},
};

impl<'a> Checker<'a> {
    pub(super) fn warn_of_actions(&mut self, network: &Network<'_>) {
        for action in &network.actions {
            self.warn_of_set(action);
            self.warn_of_pulse(network, action);
            if let Target::Variable(id) = action.target {
                self.warn_of_writes(network, action, id);
            }
        }
        let mut used = vec![false; network.tree.actions.len()];
        for action in &network.actions {
            if let Target::Body(index) = action.target
                && let Some(used) = used.get_mut(index)
            {
                *used = true;
            }
        }
        for (tree, _) in network.tree.actions.iter().zip(used).filter(|(_, used)| !used) {
            let name = self.text(tree.name.span);
            self.report(
                Diagnostic::warning(
                    "unused-action",
                    tree.name.span,
                    format!("no step is associated with the action `{name}`"),
                )
                .label("never runs")
                .note(format!("name it in a step: `{name}(N);`")),
            );
        }
    }

    fn warn_of_set(&mut self, action: &ControlledAction) {
        let stores = |it: &&super::Use| {
            matches!(it.qualifier, Q::Set | Q::StoredDelayed | Q::DelayedStored | Q::StoredLimited)
        };
        let Some(set) = action.uses.iter().find(stores) else { return };
        if action.uses.iter().any(|it| it.qualifier == Q::Reset) {
            return;
        }
        let (name, word) = (self.text(action.name.span), set.qualifier.spelling());
        let label = if set.qualifier == Q::StoredLimited {
            "runs once and never again"
        } else {
            "goes on for ever once it has begun"
        };
        self.report(
            Diagnostic::warning(
                "set-no-reset",
                set.span,
                format!("`{name}` is stored by {word} and never reset"),
            )
            .label(label)
            .note(format!("reset it in a later step: `{name}(R);`")),
        );
    }

    fn warn_of_pulse(&mut self, network: &Network<'_>, action: &ControlledAction) {
        if !self.options.final_scan || matches!(action.target, Target::Variable(_)) {
            return;
        }
        let body = self.action_place(network, action);
        for it in action.uses.iter().filter(|it| it.qualifier == Q::Pulse) {
            let name = self.text(action.name.span);
            self.report(
                Diagnostic::warning(
                    "pulse-runs-twice",
                    it.span,
                    format!("`{name}` runs twice: in the scan of the pulse and once more as its final scan"),
                )
                .label("P has a final scan like N")
                .also(body, "the action")
                .note("P1 runs an action exactly once when its step is entered"),
            );
        }
    }

    /// A Boolean action is written in every scan, so that another writer and the step undo each other.
    fn warn_of_writes(&mut self, network: &Network<'_>, action: &ControlledAction, id: VariableId) {
        let mut writes = Vec::new();
        for statement in network.bodies.iter().flatten() {
            walk::statements(std::slice::from_ref(statement), &mut |inner| {
                walk::own_writes(inner, &mut |access| {
                    if access.root == Root::Variable(id) && access.steps.is_empty() {
                        writes.push(access.span);
                    }
                });
            });
        }
        let Some(write) = writes.first() else { return };
        let name = self.text(*write);
        self.report(
            Diagnostic::warning(
                "double-coil",
                *write,
                format!("`{name}` is written here and by the steps it is associated with"),
            )
            .label("lost at the next scan, when the steps write it again")
            .also(action.name.span, "written in every scan by this association")
            .note("write it in one way: by associations alone, or by actions alone"),
        );
    }
}
