//! Charts: why a step is active or not, and what its actions do. What the compiler has made of a chart is never shown.

use latchwork_compiler::logic::{Chart, ChartTransition, LogicKind, LogicStatement, LogicUnit};

use super::{
    Alternative, Cause, Reason, StepState, TransitionState,
    alternatives::STEPS_MAX,
    decide::truth,
    derive::{Derivation, Run, Seen},
    quote,
};
use crate::account::Moment;

/// Most transitions that are told of a step.
const TRANSITIONS_MAX: usize = 8;

/// A variable or action that steps control.
#[derive(Clone, Copy, Debug)]
struct Control<'c> {
    name: &'c str,
    /// Whether it is TRUE, or active.
    on: bool,
    scan: u32,
    /// The scan since which it is so.
    turned: u32,
    base: u32,
}

impl<'d> Derivation<'d> {
    /// What a statement that the compiler has made for a chart wrote.
    pub(super) fn made(
        &mut self,
        seen: &Seen,
        statement: &'d LogicStatement,
        run: Run,
        depth: u32,
    ) -> (Cause, Vec<Reason>) {
        let unknown = (Cause::Unknown, Vec::new());
        let Some((unit, _)) = self.evidence.account.statement(statement.number) else { return unknown };
        let Some(chart) = &unit.chart else { return unknown };
        let name = self.reasoner.names.at(seen.address, seen.bytes).map(|named| named.variable.name.clone());
        let name = name.unwrap_or_default();
        let mut segments = name.rsplit('.');
        let (last, before) = (segments.next().unwrap_or_default(), segments.next().unwrap_or_default());
        let step = chart.steps.iter().find(|step| step.name.eq_ignore_ascii_case(before));
        match step {
            Some(step) if last.eq_ignore_ascii_case("X") => {
                self.step(chart, &step.name, seen.value == Some(1), seen.before.scan, run.base, depth)
            }
            Some(step) if last.eq_ignore_ascii_case("T") => {
                // A transition asks before it clears.
                let asking = seen.before != Moment::end_of(seen.before.scan);
                let then = seen.before.scan.saturating_sub(u32::from(asking));
                let flag = self.flag(&step.name, run.base, then).filter(|flag| !self.is_open(flag.address));
                let parts = flag.map(|flag| self.variable(&flag, depth)).into_iter().collect();
                let text = if self.is_active(&step.name, run.base, then) {
                    format!("the time since {} was activated", step.name)
                } else {
                    format!("how long {} was active last", step.name)
                };
                (Cause::Computed(text), parts)
            }
            _ => self.controlled(chart, last, seen, run, depth),
        }
    }

    /// The flag of a step that nothing has written: it is as at the start.
    pub(super) fn unwritten_step(&mut self, seen: &Seen, depth: u32) -> Option<(Cause, Vec<Reason>)> {
        let deeper = depth.checked_sub(1)?;
        let (chart, step, base) = self.place_of_step(seen)?;
        Some(self.step(chart, step, seen.value == Some(1), seen.before.scan, base, deeper))
    }

    /// The chart of a step whose flag is given, its name, and the instance.
    fn place_of_step(&self, seen: &Seen) -> Option<(&'d Chart, &'d str, u32)> {
        let account = self.evidence.account;
        let name = seen.name.strip_suffix(".X")?.rsplit('.').next()?;
        let scan = seen.before.scan;
        for unit in &account.logic().units {
            let step =
                |chart: &'d Chart| chart.steps.iter().find(|step| step.name.eq_ignore_ascii_case(name));
            let Some((chart, step)) = unit.chart.as_ref().and_then(|chart| Some((chart, step(chart)?)))
            else {
                continue;
            };
            let sites = unit.statements.first().map(|statement| account.sites_of(statement.number));
            for (_, base) in sites.into_iter().flatten().filter_map(|site| account.identity(site)) {
                if self.flag(&step.name, base, scan).is_some_and(|flag| flag.address == seen.address) {
                    return Some((chart, &step.name, base));
                }
            }
        }
        None
    }

    /// The flag of a step of an instance, after a scan.
    fn flag(&self, step: &str, base: u32, scan: u32) -> Option<Seen> {
        let ending = format!(".{}.X", step.to_ascii_uppercase());
        let flags = self.reasoner.names.beyond(base);
        let flags = flags.filter(|named| named.variable.name.to_ascii_uppercase().ends_with(&ending));
        // The nearest one that is not inside another instance.
        let found =
            flags.min_by_key(|named| (named.variable.name.matches('.').count(), named.variable.address))?;
        Some(self.seen(&found.variable, scan))
    }

    fn is_active(&self, step: &str, base: u32, scan: u32) -> bool {
        self.flag(step, base, scan).is_some_and(|flag| flag.value == Some(1))
    }

    /// A step: which transition made it what it is, and what could change it.
    fn step(
        &mut self,
        chart: &'d Chart,
        step: &str,
        active: bool,
        scan: u32,
        base: u32,
        depth: u32,
    ) -> (Cause, Vec<Reason>) {
        let account = self.evidence.account;
        let Some(flag) = self.flag(step, base, scan) else { return (Cause::Unknown, Vec::new()) };
        let turned = account.memory_since(flag.address, flag.bytes, scan);
        let cleared = turned.and_then(|turned| {
            let write = account.writer(flag.address, flag.bytes, Moment::end_of(turned))?;
            let (_, statement) =
                self.run(write.site, write.moment).filter(|_| write.moment.scan == turned)?;
            let found = chart.transitions.iter().find(|other| within(statement, other))?;
            Some((found, turned))
        });
        let mut parts = Vec::new();
        if let Some((transition, turned)) = cleared {
            parts.push(self.transition(transition, TransitionState::Cleared, turned, base, depth));
        }
        let touching = |transition: &&ChartTransition| {
            let list = if active { &transition.from } else { &transition.to };
            list.iter().any(|name| name.eq_ignore_ascii_case(step))
        };
        // What could change it counts only where it is asked about.
        let told = if scan == self.asked { TRANSITIONS_MAX } else { 0 };
        for transition in chart.transitions.iter().filter(touching).take(told) {
            if let Some(state) = self.stands(transition, scan, base) {
                parts.push(self.transition(transition, state, scan, base, depth));
            }
        }
        let initial = chart.steps.iter().any(|other| other.initial && other.name.eq_ignore_ascii_case(step));
        let state = match (active, cleared) {
            (true, None) if initial => StepState::ActiveFromStart,
            (true, _) => StepState::Active,
            (false, None) => StepState::NeverActive,
            (false, Some(_)) => StepState::Left,
        };
        (Cause::Step(state), parts)
    }

    /// The conditions of transitions that would turn the flag of a step, were they TRUE.
    pub(super) fn step_ways(&self, seen: &Seen) -> Vec<Alternative> {
        let Some((chart, step, base)) = self.place_of_step(seen) else { return Vec::new() };
        let scan = seen.before.scan;
        let mut ways = Vec::new();
        for transition in &chart.transitions {
            let list = if seen.value == Some(1) { &transition.from } else { &transition.to };
            let touches = list.iter().any(|name| name.eq_ignore_ascii_case(step));
            if !touches || self.stands(transition, scan, base) != Some(TransitionState::Waits) {
                continue;
            }
            let Some((run, statement)) = self.condition_run(transition, scan, base) else { continue };
            let LogicKind::Transition(value) = &statement.kind else { continue };
            let by = format!("the transition {} clears", heading(transition));
            let changed = self.changed(value, run, STEPS_MAX, None).into_iter();
            ways.extend(changed.map(|way| Alternative { by: Some(by.clone()), ..way }));
        }
        ways
    }

    /// How it stands with a transition after a scan; `None` if it cleared just then.
    fn stands(&self, transition: &ChartTransition, scan: u32, base: u32) -> Option<TransitionState> {
        let enabled = transition.from.iter().all(|step| self.is_active(step, base, scan));
        if !enabled {
            return Some(TransitionState::NotEnabled);
        }
        match self.condition_value(transition, scan, base) {
            Some(false) => Some(TransitionState::Waits),
            Some(true) => Some(TransitionState::Beaten),
            // Its steps were entered in this scan: it is looked at in the next one.
            None => None,
        }
    }

    fn condition_run(
        &self,
        transition: &ChartTransition,
        scan: u32,
        base: u32,
    ) -> Option<(Run, &'d LogicStatement)> {
        let account = self.evidence.account;
        let site = account.site(transition.condition?, base)?;
        let moment = account.last_run(site, Moment::end_of(scan)).filter(|moment| moment.scan == scan)?;
        self.run(site, moment)
    }

    fn condition_value(&self, transition: &ChartTransition, scan: u32, base: u32) -> Option<bool> {
        let (run, statement) = self.condition_run(transition, scan, base)?;
        let LogicKind::Transition(value) = &statement.kind else { return None };
        truth(value, &|part| self.noted(part, run))
    }

    fn transition(
        &mut self,
        transition: &'d ChartTransition,
        state: TransitionState,
        scan: u32,
        base: u32,
        depth: u32,
    ) -> Reason {
        let mut parts = Vec::new();
        let mut condition = String::new();
        if state == TransitionState::NotEnabled {
            for step in transition.from.iter().filter(|step| !self.is_active(step, base, scan)) {
                if let Some(flag) = self.flag(step, base, scan) {
                    // What they wait for in turn would be the whole chart.
                    let since = self.since(&flag);
                    let mut reason = self.about(&flag, since, Cause::Told);
                    reason.cause =
                        Cause::Step(if since.is_some() { StepState::Left } else { StepState::NeverActive });
                    parts.push(reason);
                }
            }
        } else if let Some((run, statement)) = self.condition_run(transition, scan, base)
            && let LogicKind::Transition(value) = &statement.kind
        {
            condition.clone_from(&value.text);
            if let Some(deeper) = depth.checked_sub(1) {
                parts = self.decisive(value, run, deeper);
                if state == TransitionState::Cleared {
                    parts.extend(self.entered(transition, scan, base, deeper, parts.is_empty()));
                }
            }
        }
        let place = quote::place(self.evidence.sources, transition.heading);
        let value = match state {
            TransitionState::Cleared | TransitionState::Beaten => Some("TRUE".to_owned()),
            TransitionState::Waits => Some("FALSE".to_owned()),
            TransitionState::NotEnabled => None,
        };
        Reason {
            subject: condition,
            value,
            at: self.reasoner.instant(scan),
            since: None,
            since_known: false,
            cause: Cause::Transition { heading: heading(transition), place, state },
            parts,
        }
    }

    /// The steps in front of a transition that cleared in a scan; why they were active, if nothing else made it clear.
    fn entered(
        &mut self,
        transition: &ChartTransition,
        scan: u32,
        base: u32,
        depth: u32,
        alone: bool,
    ) -> Vec<Reason> {
        let Some(before) = scan.checked_sub(1).filter(|_| alone || transition.from.len() > 1) else {
            return Vec::new();
        };
        let mut reasons = Vec::new();
        for step in &transition.from {
            let Some(flag) = self.flag(step, base, before) else { continue };
            reasons.push(match alone {
                true => self.variable(&flag, depth),
                false => self.about(&flag, self.since(&flag), Cause::Step(StepState::Active)),
            });
        }
        reasons
    }

    /// A Boolean variable, or the activation of an action, that steps control.
    fn controlled(
        &mut self,
        chart: &'d Chart,
        name: &str,
        seen: &Seen,
        run: Run,
        depth: u32,
    ) -> (Cause, Vec<Reason>) {
        let scan = run.moment.scan;
        let turned = self.since(seen).unwrap_or(0).min(scan);
        let control = Control { name, on: seen.value == Some(1), scan, turned, base: run.base };
        let parts = self.control(chart, control, depth);
        (Cause::Controlled, parts)
    }

    /// The steps that control an action: those that make it what it is.
    fn control(&mut self, chart: &'d Chart, control: Control<'_>, depth: u32) -> Vec<Reason> {
        let Control { name, on, scan, turned, base } = control;
        let mut uses = Vec::new();
        for step in &chart.steps {
            let mine = step.uses.iter().filter(|action| action.action.eq_ignore_ascii_case(name));
            uses.extend(mine.map(|action| (step.name.as_str(), action)));
        }
        let mut parts = Vec::new();
        for (step, action) in &uses {
            let stored = matches!(action.qualifier, "S" | "R" | "SD" | "DS" | "SL");
            let then = if stored { turned } else { scan };
            let active = self.is_active(step, base, then);
            // With it: who has it on. Without it: who could have it on and does not, and who has taken it off.
            let told = match (on, action.qualifier) {
                (true, "R") => false,
                (false, "R") => active && turned > 0,
                // Once, at its end: the step is left.
                (true, "P0") => !active,
                (true, _) => active,
                (false, _) => true,
            };
            if !told {
                continue;
            }
            let Some(flag) = self.flag(step, base, then) else { continue };
            let cause = Cause::Action {
                step: (*step).to_owned(),
                qualifier: action.qualifier,
                time: action.time.clone(),
                place: quote::place(self.evidence.sources, action.span),
            };
            let mut reason = self.about(&flag, self.since(&flag), cause);
            // Why the only step that could have it on is not active is the reason; of several that would be the whole chart.
            let alone = uses.len() == 1 && scan == self.asked;
            if (on || active || alone)
                && let Some(deeper) = depth.checked_sub(1)
            {
                reason.parts.push(self.variable(&flag, deeper));
            }
            parts.push(reason);
        }
        parts
    }

    /// The control of the action whose body a statement stands in.
    pub(super) fn actions_around(
        &mut self,
        unit: &'d LogicUnit,
        statement: &LogicStatement,
        run: Run,
        depth: u32,
    ) -> Vec<Reason> {
        let Some(chart) = &unit.chart else { return Vec::new() };
        let around = chart.actions.iter().find(|action| {
            action.span.file == statement.span.file
                && action.span.start <= statement.span.start
                && statement.span.end <= action.span.end
        });
        let Some(action) = around else { return Vec::new() };
        let scan = run.moment.scan;
        let control = Control { name: &action.name, on: true, scan, turned: scan, base: run.base };
        self.control(chart, control, depth)
    }
}

/// Whether a statement was made for a transition.
fn within(statement: &LogicStatement, transition: &ChartTransition) -> bool {
    statement.span.file == transition.heading.file
        && transition.heading.start <= statement.span.start
        && statement.span.end <= transition.heading.end
}

/// A transition as it is written, in words.
fn heading(transition: &ChartTransition) -> String {
    let ends = format!("from {} to {}", list(&transition.from), list(&transition.to));
    transition.name.as_ref().map_or_else(|| ends.clone(), |name| format!("{name} {ends}"))
}

fn list(names: &[String]) -> String {
    match names {
        [name] => name.clone(),
        names => format!("({})", names.join(", ")),
    }
}
