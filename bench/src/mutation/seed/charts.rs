//! Faults in sequential function charts: qualifiers of actions, conditions of transitions, bodies of actions.

use latchwork_grammar::tree::{ActionQualifier, Chart, TransitionCondition};

use super::Seeder;
use crate::mutation::kind::MutantKind;

impl Seeder<'_, '_> {
    pub(super) fn chart(&mut self, chart: &Chart) {
        for association in chart.steps.iter().flat_map(|step| &step.associations) {
            if let Some((qualifier, span)) = association.qualifier {
                let other = match qualifier {
                    ActionQualifier::Set => Some("R"),
                    ActionQualifier::Reset => Some("S"),
                    _ => None,
                };
                if let Some(other) = other {
                    let words = format!("`{}` with the qualifier `{other}`", self.quoted(association.span));
                    self.push(MutantKind::SetResetSwapped, span, other, words);
                }
            }
            if let Some(time) = &association.time {
                self.expression(time);
            }
            self.deleted(association.span);
        }
        for transition in &chart.transitions {
            match &transition.condition {
                TransitionCondition::Expression(condition) => self.condition(condition),
                TransitionCondition::Instructions(instructions) => self.instructions(instructions),
                TransitionCondition::Missing => {}
            }
        }
        for action in &chart.actions {
            self.body(&action.body);
        }
    }
}
