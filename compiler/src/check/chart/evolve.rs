//! The evolution of a chart as statements: which steps are active in this scan.
//!
//! In the first scan the initial step is active and no transition is tested. In each later one the times of active
//! steps grow, then the conditions of enabled transitions are computed in textual order, conflicts are decided,
//! and all transitions that clear leave their steps before any step is entered (IEC 61131-3:2013, 6.7.5; that this
//! happens once a scan, before the actions, is our choice). Where two transitions leave one step, the one with
//! the lower priority number goes first, then the one that stands first; a transition without a number comes
//! behind those with one. This order is the same at every step, so that conflicts at several steps at once have
//! one answer.

use latchwork_grammar::Span;
use latchwork_stdlib::Operator;
use latchwork_vm::EventKind;

use super::{
    Network,
    build::{assign, event, jump, jump_when, label, read},
};
use crate::{
    check::Checker,
    typed::{Access, Observation, Statement},
};

/// What the evolution remembers for each step.
struct Clock {
    /// When it became active.
    start: Access,
}

impl<'a> Checker<'a> {
    /// Adds the statements that move the chart on.
    pub(super) fn evolve(&mut self, network: &mut Network<'_>, initial: usize, into: &mut Vec<Statement>) {
        let first = network.step_name(initial).span;
        let (boolean, duration) = (self.boolean(), self.duration());
        let started = self.kept(boolean, first);
        let clocks: Vec<Clock> = (0..network.steps.len())
            .map(|step| Clock { start: self.kept(duration, network.step_name(step).span) })
            .collect();
        let (tested, moved) = (self.chart_label(), self.chart_label());
        into.push(jump_when(read(&started), true, tested));
        let yes = self.truth(true, first);
        into.push(assign(started, yes));
        let now = self.scan_time(first);
        into.push(assign(clocks[initial].start.clone(), now));
        into.push(jump(moved, first));
        into.push(label(tested, first));
        self.grow_times(network, &clocks, into);
        let clearing = self.test_conditions(network, into);
        self.leave_steps(network, &clearing, into);
        self.enter_steps(network, &clocks, &clearing, into);
        into.push(label(moved, first));
    }

    fn grow_times(&mut self, network: &Network<'_>, clocks: &[Clock], into: &mut Vec<Statement>) {
        for (step, clock) in clocks.iter().enumerate() {
            let span = network.step_name(step).span;
            let idle = self.chart_label();
            let active = self.active_flag(network.variable(step), span);
            into.push(jump_when(read(&active), false, idle));
            let now = self.scan_time(span);
            let elapsed = self.difference(now, read(&clock.start));
            let time = self.elapsed_time(network.variable(step), span);
            into.push(assign(time, elapsed));
            into.push(label(idle, span));
        }
    }

    /// A flag for each transition: enabled, and its condition is TRUE.
    fn test_conditions(&mut self, network: &mut Network<'_>, into: &mut Vec<Statement>) -> Vec<Access> {
        let boolean = self.boolean();
        let mut clearing = Vec::with_capacity(network.transitions.len());
        for index in 0..network.transitions.len() {
            let span = network.transitions[index].tree.heading;
            let clears = self.passing(boolean, span);
            self.all_active(network, index, &clears, into);
            let condition = std::mem::take(&mut network.transitions[index].condition);
            if let Some(value) = condition.value {
                let disabled = self.chart_label();
                into.push(jump_when(read(&clears), false, disabled));
                self.observe(Observation::Written(true), span, into);
                into.extend(condition.statements);
                self.observe(Observation::Transition, span, into);
                // At the place of the condition, so that what happens in it is shown there.
                let target = Access { span: value.span, ..clears.clone() };
                into.push(assign(target, value));
                self.observe(Observation::Written(false), span, into);
                into.push(label(disabled, span));
            }
            clearing.push(clears);
        }
        clearing
    }

    fn all_active(
        &mut self,
        network: &Network<'_>,
        index: usize,
        target: &Access,
        into: &mut Vec<Statement>,
    ) {
        let crossing = &network.transitions[index];
        let mut flags = Vec::with_capacity(crossing.from.len());
        for step in &crossing.from {
            let active = self.active_flag(network.variable(*step), crossing.tree.heading);
            flags.push(read(&active));
        }
        self.gather(Operator::And, target, flags, into);
    }

    /// Transitions clear in the order of priority as long as their steps have not been taken by another one.
    fn leave_steps(&mut self, network: &Network<'_>, clearing: &[Access], into: &mut Vec<Statement>) {
        let mut leaving = vec![0u32; network.steps.len()];
        for crossing in &network.transitions {
            crossing.from.iter().for_each(|step| leaving[*step] += 1);
        }
        let mut order: Vec<usize> = (0..network.transitions.len()).collect();
        order.sort_by_key(|index| {
            let priority = network.transitions[*index].tree.priority;
            (priority.is_none(), priority.map(|(number, _)| number), *index)
        });
        for index in order {
            let crossing = &network.transitions[index];
            let span = crossing.tree.heading;
            let stays = self.chart_label();
            into.push(jump_when(read(&clearing[index]), false, stays));
            if crossing.from.iter().any(|step| leaving[*step] > 1) {
                self.all_active(network, index, &clearing[index], into);
                if self.options.exclusive_selections && crossing.tree.priority.is_none() {
                    let clears = self.chart_label();
                    into.push(jump_when(read(&clearing[index]), true, clears));
                    into.push(event(EventKind::SelectionConflict, span));
                    into.push(jump(stays, span));
                    into.push(label(clears, span));
                } else {
                    into.push(jump_when(read(&clearing[index]), false, stays));
                }
            }
            for step in &network.transitions[index].from {
                self.set_active(network, *step, false, span, into);
            }
            into.push(label(stays, span));
        }
    }

    fn enter_steps(
        &mut self,
        network: &Network<'_>,
        clocks: &[Clock],
        clearing: &[Access],
        into: &mut Vec<Statement>,
    ) {
        for (crossing, clears) in network.transitions.iter().zip(clearing) {
            let span = crossing.tree.heading;
            let stays = self.chart_label();
            into.push(jump_when(read(clears), false, stays));
            for step in &crossing.to {
                let entered = self.chart_label();
                if !network.safe {
                    // The step goes on as it is.
                    let free = self.chart_label();
                    let active = self.active_flag(network.variable(*step), span);
                    into.push(jump_when(read(&active), false, free));
                    into.push(event(EventKind::SfcUnsafe, span));
                    into.push(jump(entered, span));
                    into.push(label(free, span));
                }
                self.set_active(network, *step, true, span, into);
                let now = self.scan_time(span);
                into.push(assign(Access { span, ..clocks[*step].start.clone() }, now));
                let nothing = self.no_time(span);
                let time = self.elapsed_time(network.variable(*step), span);
                into.push(assign(time, nothing));
                into.push(label(entered, span));
            }
            into.push(label(stays, span));
        }
    }

    fn set_active(
        &mut self,
        network: &Network<'_>,
        step: usize,
        value: bool,
        span: Span,
        into: &mut Vec<Statement>,
    ) {
        let target = self.active_flag(network.variable(step), span);
        let value = self.truth(value, span);
        into.push(assign(target, value));
    }
}
