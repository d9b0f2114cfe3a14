//! Charts in the normal form: steps with their actions and transitions with their conditions, in the order of the text.
//! The bodies of actions are fingerprinted each on its own.

use latchwork_grammar::tree::{Chart, TransitionCondition};

use super::{Word, Writer};

impl Writer<'_> {
    pub(super) fn chart(&self, chart: &Chart, words: &mut Vec<Word>) {
        for step in &chart.steps {
            words.push(self.word(if step.initial { "INITIAL_STEP" } else { "STEP" }, step.name.span));
            for association in &step.associations {
                let qualifier = association.qualifier.map_or("N", |(qualifier, _)| qualifier.spelling());
                words.push(self.word(format!("action {qualifier}"), association.span));
                if let Some(time) = &association.time {
                    words.extend(self.words(time));
                }
                // An action of the author has no name; a Boolean variable is what it is.
                let own = chart.actions.iter().any(|action| action.name.name == association.action.name);
                if !own {
                    let variable = latchwork_grammar::tree::Expression {
                        kind: latchwork_grammar::tree::ExpressionKind::Name(association.action.name),
                        span: association.action.span,
                    };
                    self.access(&variable, words);
                }
            }
        }
        for transition in &chart.transitions {
            let (from, to) = (transition.from.len(), transition.to.len());
            words.push(self.word(format!("transition {from} to {to}"), transition.heading));
            match &transition.condition {
                TransitionCondition::Expression(condition) => words.extend(self.words(condition)),
                TransitionCondition::Instructions(instructions) => words.extend(self.result_of(instructions)),
                TransitionCondition::Missing => {}
            }
        }
    }
}
