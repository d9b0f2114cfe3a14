//! What the net of a chart does whatever its conditions are, in words.
//!
//! Source: IEC 61131-3:2013, 6.7.5 (unsafe and unreachable networks are errors) and 6.7.4.6 (an action that is
//! controlled by two times at once).

use std::collections::BTreeMap;

use latchwork_grammar::Diagnostic;

use super::{
    ControlledAction, Network, is_timed,
    net::{Arcs, Findings, Member, Net, examine},
};
use crate::{
    check::Checker,
    typed::{Constant, Expression, ExpressionKind, Root, VariableId},
};

/// Most transitions of a sequence that are named.
const SEQUENCE_MAX: usize = 12;

/// Two times with one key are the same.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum TimeKey {
    Constant(i64),
    Variable(VariableId),
    /// Something with subscripts or members, by the number of its association.
    Other(usize),
}

fn time_key(time: &Expression, number: usize) -> TimeKey {
    match &time.kind {
        ExpressionKind::Constant(Constant::Time(nanoseconds)) => TimeKey::Constant(*nanoseconds),
        ExpressionKind::Access(access) if access.steps.is_empty() => match access.root {
            Root::Variable(id) => TimeKey::Variable(id),
            _ => TimeKey::Other(number),
        },
        _ => TimeKey::Other(number),
    }
}

fn sorted(list: &[usize]) -> Vec<usize> {
    let mut list = list.to_vec();
    list.sort_unstable();
    list
}

impl<'a> Checker<'a> {
    /// Examines the net and reports what is wrong with it.
    pub(super) fn examine_net(&mut self, network: &mut Network<'_>) {
        let mut groups = Vec::new();
        let mut grouped = Vec::new();
        for index in 0..network.actions.len() {
            let Some(group) = self.timed_steps(network, index) else { continue };
            groups.push(group);
            grouped.push(index);
        }
        let Some(initial) = network.initial.filter(|_| network.sound) else { return };
        let arcs = network.transitions.iter();
        let transitions = arcs.map(|arcs| Arcs { from: sorted(&arcs.from), to: sorted(&arcs.to) }).collect();
        let findings = examine(&Net { steps: network.steps.len(), initial, transitions, groups });
        network.safe = findings.complete && findings.unsafe_by.is_none();
        for (action, together) in grouped.into_iter().zip(&findings.together) {
            network.actions[action].contended |= !network.safe || together.any.is_some();
            if let Some((first, second)) = together.different {
                self.report_contention(&network.actions[action], first, second);
            }
        }
        self.report_net(network, &findings);
    }

    /// The steps that control an action with a time, if there are several. What one step does to itself is
    /// reported at once.
    fn timed_steps(&mut self, network: &mut Network<'_>, index: usize) -> Option<Vec<Member>> {
        let action = &network.actions[index];
        let mut keys: BTreeMap<TimeKey, usize> = BTreeMap::new();
        let mut members: Vec<Member> = Vec::new();
        let mut contended = false;
        let mut differs = None;
        for (number, it) in action.uses.iter().enumerate() {
            let (Some(time), true) = (&it.time, is_timed(it.qualifier)) else { continue };
            let next = keys.len();
            let key = *keys.entry(time_key(time, number)).or_insert(next);
            // Uses come step by step.
            match members.last() {
                Some(last) if last.step == it.step => {
                    contended = true;
                    if last.key != key {
                        differs = differs.or(Some(it.step));
                    }
                }
                _ => members.push(Member { step: it.step, key }),
            }
        }
        if let Some(step) = differs {
            self.report_contention(&network.actions[index], step, step);
        }
        network.actions[index].contended = contended;
        (members.len() > 1).then_some(members)
    }

    fn report_contention(&mut self, action: &ControlledAction, first: usize, second: usize) {
        let timed = |step: usize| action.uses.iter().filter(move |it| it.step == step && it.time.is_some());
        let first_use = timed(first).next();
        let second_use = if first == second { timed(second).next_back() } else { timed(second).next() };
        let (Some(first), Some(second)) = (first_use, second_use) else { return };
        let name = self.text(action.name.span);
        self.report(
            Diagnostic::error(
                "action-contention",
                second.span,
                format!("`{name}` is controlled by two different times at once"),
            )
            .label("the second time")
            .also(first.span, "the first one; both can be active together")
            .note("an action has one time; use the same in both places, or an action of its own for each"),
        );
    }

    fn report_net(&mut self, network: &Network<'_>, findings: &Findings) {
        if let Some((sequence, step)) = &findings.unsafe_by
            && let Some((last, _)) = sequence.split_last()
        {
            let name = self.text(network.step_name(*step).span);
            let way = self.sequence(network, sequence);
            self.report(
                Diagnostic::error(
                    "sfc-unsafe",
                    network.transitions[*last].tree.heading,
                    format!("this transition can activate the step `{name}` while it is active"),
                )
                .label("enters an active step")
                .also(network.step_name(*step).span, "active already")
                .note(format!("it happens if these clear one after the other: {way}"))
                .note("what begins together with `TO (a, b)` must end together with `FROM (a, b)`"),
            );
        }
        for step in &findings.dead_steps {
            let ident = network.step_name(*step);
            let name = self.text(ident.span);
            let entered = network.transitions.iter().any(|crossing| crossing.to.contains(step));
            let diagnostic = if entered {
                Diagnostic::error(
                    "unreachable-step",
                    ident.span,
                    format!("the step `{name}` never becomes active"),
                )
                .label("only steps that are never active themselves lead here")
            } else {
                Diagnostic::error(
                    "unreachable-step",
                    ident.span,
                    format!("no transition leads to the step `{name}`"),
                )
                .label("never becomes active")
            };
            self.report(
                diagnostic.note(format!("lead to it: `TRANSITION FROM … TO {name} …`, or remove it")),
            );
        }
        for transition in &findings.dead_transitions {
            let crossing = &network.transitions[*transition];
            let steps = self.step_list(network, &crossing.from);
            self.report(
                Diagnostic::error(
                    "unreachable-transition",
                    crossing.tree.heading,
                    "this transition never becomes enabled",
                )
                .label(format!("{steps} are never active together"))
                .note("a transition waits for all steps behind FROM; alternatives need a transition each"),
            );
        }
        let unit = self.unit.map(|unit| self.units[unit.0 as usize].tree.span);
        if unit.is_none_or(|span| self.has_error_in(span)) {
            return;
        }
        for step in &findings.dead_ends {
            let ident = network.step_name(*step);
            let name = self.text(ident.span);
            self.report(
                Diagnostic::warning(
                    "dead-end",
                    ident.span,
                    format!("no transition leaves the step `{name}`"),
                )
                .label("once active, active for ever")
                .note("lead back to the first step if the sequence is to run again"),
            );
        }
        if let Some((sequence, steps)) = &findings.deadlock
            && let Some(first) = steps.first()
        {
            let active = self.step_list(network, steps);
            let way = self.sequence(network, sequence);
            self.report(
                Diagnostic::warning("deadlock", network.step_name(*first).span, "the chart can get stuck")
                    .label(format!("with {active} active, no transition has all its steps"))
                    .note(format!("it happens if these clear one after the other: {way}"))
                    .note("a transition waits for all steps behind FROM"),
            );
        }
        if !findings.complete
            && let Some(initial) = network.initial
        {
            self.report(
                Diagnostic::warning(
                    "safety-not-proved",
                    network.step_name(initial).span,
                    "this chart has too many combinations of active steps to prove that it is sound",
                )
                .label("the search ended before all were seen")
                .note("while the program runs, an event tells if an active step is activated again"),
            );
        }
    }

    /// Transitions in order, the last ones of many.
    fn sequence(&self, network: &Network<'_>, transitions: &[usize]) -> String {
        let skipped = transitions.len().saturating_sub(SEQUENCE_MAX);
        let shown = transitions.iter().skip(skipped).map(|index| self.transition_label(network, *index));
        let start = if skipped > 0 { format!("({skipped} before), ") } else { String::new() };
        format!("{start}{}", shown.collect::<Vec<_>>().join(", "))
    }
}
