//! Action control: from the active steps of this scan to which actions run in it.
//!
//! One control for each action, in the order of first association, as the figure of IEC 61131-3:2013, 6.7.4.6 has
//! it (table 60): the inputs N, R, S, L, D, P, SD, DS, SL, P1, P0 are the OR of the flags of all steps that hold the
//! action with this qualifier, T is the time of the active timed association. Only the parts that the qualifiers of an
//! action need are made. Our choices: P1 and P0 stand outside of R; falling edges begin with "was FALSE", so that
//! no action runs at the start only for that; a Boolean action is TRUE whenever a body would run, without the
//! final scan.

use latchwork_grammar::{Span, tree::ActionQualifier as Q};
use latchwork_stdlib::Operator;
use latchwork_vm::{ElementaryType as E, EventKind};

use super::{
    ControlledAction, Network, Target, Use,
    build::{assign, call, event, jump, jump_when, label, read},
};
use crate::{
    check::Checker,
    typed::{Access, Constant, Expression, ExpressionKind, Root, Statement},
};

/// Whether and why the body of an action runs in this scan.
pub(super) struct Run {
    /// The action in the tree.
    pub(super) body: usize,
    pub(super) place: Span,
    /// TRUE in a scan in which it runs.
    pub(super) active: Access,
    /// TRUE in the scan in which it runs for the last time, only for that.
    pub(super) last: Option<Access>,
}

/// The control of one action while it is made.
struct Control<'n> {
    action: &'n ControlledAction,
    span: Span,
    /// R.
    reset: Option<Access>,
    /// T.
    time: Option<Expression>,
}

impl Control<'_> {
    fn has(&self, qualifier: Q) -> bool {
        self.action.uses.iter().any(|it| it.qualifier == qualifier)
    }
}

impl<'a> Checker<'a> {
    /// Adds the controls of all actions; the bodies that may run.
    pub(super) fn control(&mut self, network: &Network<'_>, into: &mut Vec<Statement>) -> Vec<Run> {
        let mut runs = Vec::new();
        let mut written = Vec::new();
        for action in &network.actions {
            let span = action.name.span;
            let mut control = Control { action, span, reset: None, time: None };
            control.time = self.control_time(network, action, into);
            if control.has(Q::Reset) {
                control.reset = Some(self.input(network, action, Q::Reset, into));
            }
            let held = self.held(network, &control, into);
            let pulses = self.pulses(network, &control, into);
            let boolean = self.boolean();
            let active = self.passing(boolean, span);
            let mut flags: Vec<Expression> = held.iter().chain(&pulses).map(read).collect();
            if flags.is_empty() {
                flags.push(self.truth(false, span));
            }
            self.gather(Operator::Or, &active, flags, into);
            match action.target {
                Target::Variable(id) => {
                    let target = Access::whole(Root::Variable(id), boolean, span);
                    written.push(assign(target, read(&active)));
                }
                Target::Body(body) => {
                    let last = match held {
                        Some(held) if self.options.final_scan => {
                            Some(self.last_run(&held, &active, span, into))
                        }
                        _ => None,
                    };
                    runs.push(Run { body, place: self.action_place(network, action), active, last });
                }
            }
        }
        into.append(&mut written);
        runs
    }

    /// The OR of the flags of all steps that hold the action with a qualifier.
    fn input(
        &mut self,
        network: &Network<'_>,
        action: &ControlledAction,
        qualifier: Q,
        into: &mut Vec<Statement>,
    ) -> Access {
        let boolean = self.boolean();
        let mut flags = Vec::new();
        for it in action.uses.iter().filter(|it| it.qualifier == qualifier) {
            let flag = self.active_flag(network.variable(it.step), it.span);
            flags.push(read(&flag));
        }
        let target = self.passing(boolean, action.name.span);
        self.gather(Operator::Or, &target, flags, into);
        target
    }

    /// T: the time of the active timed association, the first one where there are several; it stays when none
    /// is active any more. A single constant needs no memory.
    fn control_time(
        &mut self,
        network: &Network<'_>,
        action: &ControlledAction,
        into: &mut Vec<Statement>,
    ) -> Option<Expression> {
        let timed: Vec<(&Use, &Expression)> =
            action.uses.iter().filter_map(|it| Some((it, it.time.as_ref()?))).collect();
        let (_, first) = *timed.first()?;
        let span = action.name.span;
        let constant = |time: &Expression| match time.kind {
            ExpressionKind::Constant(Constant::Time(nanoseconds)) => Some(nanoseconds),
            _ => None,
        };
        let known =
            constant(first).filter(|known| timed.iter().all(|(_, time)| constant(time) == Some(*known)));
        if known.is_some() && !action.contended {
            return Some(first.clone());
        }
        let (boolean, duration) = (self.boolean(), self.duration());
        let time = self.kept(duration, span);
        let taken = self.passing(boolean, span);
        let no = self.truth(false, span);
        into.push(assign(taken.clone(), no));
        for (it, value) in timed {
            let next = self.chart_label();
            let flag = self.active_flag(network.variable(it.step), it.span);
            into.push(jump_when(read(&flag), false, next));
            if action.contended {
                let alone = self.chart_label();
                into.push(jump_when(read(&taken), false, alone));
                into.push(event(EventKind::ActionContention, it.span));
                into.push(jump(next, it.span));
                into.push(label(alone, it.span));
            }
            into.push(assign(time.clone(), value.clone()));
            let yes = self.truth(true, span);
            into.push(assign(taken.clone(), yes));
            into.push(label(next, it.span));
        }
        Some(read(&time))
    }

    /// Q of the figure: what runs the body, and runs it once more when it ends; `None` without a qualifier for it.
    fn held(
        &mut self,
        network: &Network<'_>,
        control: &Control<'_>,
        into: &mut Vec<Statement>,
    ) -> Option<Access> {
        let (action, span) = (control.action, control.span);
        let mut terms = Vec::new();
        if control.has(Q::NonStored) {
            terms.push(read(&self.input(network, action, Q::NonStored, into)));
        }
        if control.has(Q::Set) {
            let set = self.input(network, action, Q::Set, into);
            terms.push(read(&self.stored(control, read(&set), into)));
        }
        if control.has(Q::Limited) {
            let input = self.input(network, action, Q::Limited, into);
            let ended = self.delayed(control, read(&input), into);
            let running = self.not(ended);
            terms.push(self.both(read(&input), running));
        }
        if control.has(Q::Delayed) {
            let input = self.input(network, action, Q::Delayed, into);
            terms.push(self.delayed(control, read(&input), into));
        }
        if control.has(Q::Pulse) {
            let input = self.input(network, action, Q::Pulse, into);
            terms.push(read(&self.risen(&input, span, into)));
        }
        if control.has(Q::StoredDelayed) {
            let input = self.input(network, action, Q::StoredDelayed, into);
            let stored = self.stored(control, read(&input), into);
            terms.push(self.delayed(control, read(&stored), into));
        }
        if control.has(Q::DelayedStored) {
            let input = self.input(network, action, Q::DelayedStored, into);
            let delayed = self.delayed(control, read(&input), into);
            terms.push(read(&self.stored(control, delayed, into)));
        }
        if control.has(Q::StoredLimited) {
            let input = self.input(network, action, Q::StoredLimited, into);
            let stored = self.stored(control, read(&input), into);
            let ended = self.delayed(control, read(&stored), into);
            let running = self.not(ended);
            terms.push(self.both(read(&stored), running));
        }
        if terms.is_empty() {
            return None;
        }
        let boolean = self.boolean();
        let held = self.passing(boolean, span);
        self.gather(Operator::Or, &held, terms, into);
        if let Some(reset) = &control.reset {
            let free = self.not(read(reset));
            let value = self.both(read(&held), free);
            into.push(assign(held.clone(), value));
        }
        Some(held)
    }

    /// P1 and P0.
    fn pulses(
        &mut self,
        network: &Network<'_>,
        control: &Control<'_>,
        into: &mut Vec<Statement>,
    ) -> Vec<Access> {
        let mut pulses = Vec::new();
        if control.has(Q::PulseRising) {
            let input = self.input(network, control.action, Q::PulseRising, into);
            pulses.push(self.risen(&input, control.span, into));
        }
        if control.has(Q::PulseFalling) {
            let input = self.input(network, control.action, Q::PulseFalling, into);
            pulses.push(self.fallen(&input, control.span, into));
        }
        pulses
    }

    /// The body of RS (table 43): `Q1 := NOT R1 AND (S OR Q1)`.
    fn stored(&mut self, control: &Control<'_>, set: Expression, into: &mut Vec<Statement>) -> Access {
        let boolean = self.boolean();
        let memory = self.kept(boolean, control.span);
        let mut value = self.either(set, read(&memory));
        if let Some(reset) = &control.reset {
            let free = self.not(read(reset));
            value = self.both(value, free);
        }
        into.push(assign(memory.clone(), value));
        memory
    }

    /// A TON (table 46): its Q.
    fn delayed(&mut self, control: &Control<'_>, input: Expression, into: &mut Vec<Statement>) -> Expression {
        let span = control.span;
        let time = match &control.time {
            Some(time) => time.clone(),
            // A timed qualifier has a time.
            None => self.no_time(span),
        };
        let Some(block) = latchwork_stdlib::block("TON") else { return input };
        let index = |name: &str| block.member_index(name).map(|index| index as u32);
        let (Some(start), Some(preset), Some(output)) = (index("IN"), index("PT"), index("Q")) else {
            return input;
        };
        let kind = self.types.add_standard_block(block);
        let timer = self.kept(kind, span);
        let time = Expression { span, ..time };
        into.push(call(timer.clone(), vec![(start, input), (preset, time)]));
        let ty = self.elementary(E::Bool);
        let Root::Variable(id) = timer.root else { return self.truth(false, span) };
        read(&Access::member(Root::Variable(id), output, ty, span))
    }

    /// The body of R_TRIG (table 44): `Q := CLK AND NOT M; M := CLK;`
    fn risen(&mut self, clock: &Access, span: Span, into: &mut Vec<Statement>) -> Access {
        let boolean = self.boolean();
        let (pulse, memory) = (self.passing(boolean, span), self.kept(boolean, span));
        let before = self.not(read(&memory));
        let value = self.both(read(clock), before);
        into.push(assign(pulse.clone(), value));
        into.push(assign(memory, read(clock)));
        pulse
    }

    /// TRUE in the scan in which a flag becomes FALSE; not in the first one.
    fn fallen(&mut self, clock: &Access, span: Span, into: &mut Vec<Statement>) -> Access {
        let boolean = self.boolean();
        let (pulse, memory) = (self.passing(boolean, span), self.kept(boolean, span));
        let now = self.not(read(clock));
        let value = self.both(read(&memory), now);
        into.push(assign(pulse.clone(), value));
        into.push(assign(memory, read(clock)));
        pulse
    }

    /// The final scan: Q has fallen, and nothing else runs the body.
    fn last_run(&mut self, held: &Access, active: &Access, span: Span, into: &mut Vec<Statement>) -> Access {
        let fallen = self.fallen(held, span, into);
        let idle = self.not(read(active));
        let value = self.both(read(&fallen), idle);
        into.push(assign(fallen.clone(), value));
        fallen
    }
}
