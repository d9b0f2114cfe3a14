//! Conditions of transitions: BOOL, and computed without changing anything.
//!
//! Source: IEC 61131-3:2013, 6.7.3 (side effects in a condition are an error). A condition is computed only while
//! its transition is enabled, so what it changed would depend on the steps. That a function may write globals is
//! seen when all bodies have been checked.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{SectionKind, TransitionCondition, UnitKind},
};

use super::{Condition, Network};
use crate::{
    check::Checker,
    scope::ConditionCall,
    typed::{Access, Expression, ExpressionKind, FunctionCall, Root, Statement, StatementKind, Step},
    types::{Type, UnitId},
};

impl<'a> Checker<'a> {
    /// Checks the conditions of all transitions.
    pub(super) fn check_conditions(&mut self, network: &mut Network<'_>) {
        for index in 0..network.transitions.len() {
            let tree = network.transitions[index].tree;
            let condition = match &tree.condition {
                TransitionCondition::Missing => {
                    network.sound = false;
                    continue;
                }
                TransitionCondition::Expression(written) => {
                    let value = self.condition(written, "TRANSITION");
                    let value = (!self.is_unknown(value.ty)).then_some(value);
                    Condition { statements: Vec::new(), value }
                }
                TransitionCondition::Instructions(instructions) => {
                    match self.instruction_condition(instructions, tree.heading) {
                        Some((statements, value)) => Condition { statements, value: Some(value) },
                        None => Condition::default(),
                    }
                }
            };
            for statement in &condition.statements {
                self.check_condition_statement(statement);
            }
            if let Some(value) = &condition.value {
                self.check_effects(value);
            }
            network.transitions[index].condition = condition;
        }
    }

    /// Statements from Instruction List: hidden results alone may be stored.
    fn check_condition_statement(&mut self, statement: &Statement) {
        match &statement.kind {
            StatementKind::Assign { target, value } if self.is_hidden(target) => self.check_effects(value),
            StatementKind::Evaluate(value) => self.check_effects(value),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    self.check_effects(condition);
                    body.iter().for_each(|inner| self.check_condition_statement(inner));
                }
                otherwise.iter().for_each(|inner| self.check_condition_statement(inner));
            }
            StatementKind::Observe(_) => {}
            _ => self.report_effect(statement.span, "this is more than a computation"),
        }
    }

    fn is_hidden(&self, target: &Access) -> bool {
        let Root::Variable(id) = target.root else { return false };
        let unit = self.unit.map(|unit| &self.units[unit.0 as usize]);
        unit.and_then(|unit| unit.variables.get(id.0 as usize)).is_some_and(|variable| variable.hidden)
    }

    /// Reports what in an expression may change something.
    fn check_effects(&mut self, value: &Expression) {
        match &value.kind {
            ExpressionKind::Constant(_) | ExpressionKind::ScanTime => {}
            ExpressionKind::Access(access) => self.check_subscripts_of(access),
            ExpressionKind::Reference(access) => self.check_subscripts_of(access),
            ExpressionKind::Convert(inner)
            | ExpressionKind::CheckRange(inner)
            | ExpressionKind::Attempt { value: inner, .. } => self.check_effects(inner),
            ExpressionKind::Bound(bound) => self.check_effects(&bound.dimension),
            ExpressionKind::Standard { arguments, .. } => {
                arguments.iter().for_each(|argument| self.check_effects(argument));
            }
            ExpressionKind::Function(call) => self.check_called(call, value.span),
            ExpressionKind::Outputs(call) => {
                let targets =
                    call.outputs.iter().map(|output| &output.target).chain(call.enable_output.as_deref());
                for target in targets.take(1) {
                    self.report_effect(target.span, "an output of a call is stored here");
                }
                call.enable.iter().for_each(|value| self.check_effects(value));
                call.arguments.iter().for_each(|value| self.check_effects(value));
            }
            ExpressionKind::Controlled(call) => {
                if let Some(target) = &call.enable_output {
                    self.report_effect(target.span, "an output of a call is stored here");
                }
                call.enable.iter().for_each(|value| self.check_effects(value));
                call.arguments.iter().for_each(|(_, value)| self.check_effects(value));
                self.check_effects(&call.value);
            }
        }
    }

    fn check_subscripts_of(&mut self, access: &Access) {
        for step in &access.steps {
            match step {
                Step::Index(subscripts) => subscripts.iter().for_each(|value| self.check_effects(value)),
                Step::Character(position) => self.check_effects(position),
                Step::Member(_) | Step::Dereference | Step::Partial { .. } => {}
            }
        }
    }

    fn check_called(&mut self, call: &FunctionCall, span: Span) {
        if call.receiver.is_some() {
            self.report_effect(span, "a method may change its instance");
            return;
        }
        if let Some(output) = call.outputs.first() {
            self.report_effect(output.target.span, "an output of a call is stored here");
        } else if let Some(target) = &call.enable_output {
            self.report_effect(target.span, "an output of a call is stored here");
        } else if let Some((_, access)) = call.in_outs.first() {
            self.report_effect(access.span, "a VAR_IN_OUT may be changed by the call");
        } else {
            self.condition_calls.push(ConditionCall { callee: call.unit, span });
        }
        call.inputs.iter().for_each(|(_, value)| self.check_effects(value));
        call.enable.iter().for_each(|value| self.check_effects(value));
    }

    pub(in crate::check) fn report_effect(&mut self, span: Span, label: &str) {
        self.report(
            Diagnostic::error("transition-condition", span, "the condition of a transition must not change anything")
                .label(label.to_owned())
                .note("a condition runs only while its transition is enabled; do this in an action and test the result"),
        );
    }

    /// Functions called in conditions that write globals or run function blocks, themselves or by what they call.
    pub(in crate::check) fn report_condition_effects(&mut self) {
        let calls = std::mem::take(&mut self.condition_calls);
        if calls.is_empty() {
            return;
        }
        let mut callees: BTreeMap<UnitId, BTreeSet<UnitId>> = BTreeMap::new();
        for edge in &self.calls {
            callees.entry(edge.caller).or_default().insert(edge.callee);
        }
        let mut known: BTreeMap<UnitId, Option<(UnitId, Span)>> = BTreeMap::new();
        for call in calls {
            let effect =
                *known.entry(call.callee).or_insert_with(|| self.first_effect(call.callee, &callees));
            let Some((unit, place)) = effect else { continue };
            let scope = &self.units[unit.0 as usize];
            let name = self.spelling(scope.name).to_owned();
            let what = if scope.kind == UnitKind::Function {
                format!("`{name}` may write this global variable")
            } else {
                format!("`{name}` has a memory of its own")
            };
            self.report(
                Diagnostic::error(
                    "transition-condition",
                    call.span,
                    "the condition of a transition must not change anything",
                )
                .label("this call may")
                .also(place, what)
                .note("a condition runs only while its transition is enabled; do this in an action and test the result"),
            );
        }
    }

    /// The nearest unit among those that a function calls, itself included, that keeps or changes something.
    fn first_effect(
        &self,
        function: UnitId,
        callees: &BTreeMap<UnitId, BTreeSet<UnitId>>,
    ) -> Option<(UnitId, Span)> {
        let mut seen = BTreeSet::from([function]);
        let mut waiting = std::collections::VecDeque::from([function]);
        while let Some(unit) = waiting.pop_front() {
            let scope = self.units.get(unit.0 as usize)?;
            if scope.kind != UnitKind::Function {
                return Some((unit, scope.tree.name.span));
            }
            let external = scope.variables.iter().zip(0..).find(|(variable, index)| {
                let id = crate::typed::VariableId(*index);
                let instance =
                    matches!(self.types.get(self.types.underlying(variable.kind)), Type::StandardBlock(_));
                variable.section == SectionKind::External
                    && (scope.written.contains(id) || instance && scope.used.contains(id))
            });
            if let Some((variable, _)) = external {
                return Some((unit, variable.span));
            }
            for callee in callees.get(&unit).into_iter().flatten() {
                if seen.insert(*callee) {
                    waiting.push_back(*callee);
                }
            }
        }
        None
    }
}
