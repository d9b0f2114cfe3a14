//! What let a statement run, and why another one that would have written the same did not.

use latchwork_compiler::logic::{LogicKind, LogicStatement, LogicUnit, Part, PartKind};

use super::{
    Cause, Guard, Reason,
    derive::{Derivation, Run},
    names::shown,
    quote,
};

/// Deepest nesting of calls that is followed outwards.
const CALLS_MAX: u32 = 16;

/// Stands for the scan where something is told once, whichever scan it is of.
pub(super) const EVERY_SCAN: u32 = u32::MAX;

/// A statement that holds another one, and in which of its lists; or one of the list in front of it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Way<'d> {
    /// It holds it in the list of this number.
    Inside(&'d LogicStatement, usize),
    /// It stands in front of it in the same list.
    Behind(&'d LogicStatement),
}

/// From the body of a unit to a statement: outermost first.
pub(super) fn way<'d>(list: &'d [LogicStatement], number: u32, found: &mut Vec<Way<'d>>) -> bool {
    let start = found.len();
    for statement in list {
        if statement.number == number {
            return true;
        }
        let length = found.len();
        for (inner, index) in statement.inner().into_iter().zip(0..) {
            found.push(Way::Inside(statement, index));
            if way(inner, number, found) {
                return true;
            }
            found.truncate(length);
        }
        found.push(Way::Behind(statement));
    }
    found.truncate(start);
    false
}

impl<'d> Derivation<'d> {
    /// The conditions that let a statement run, innermost first, and those of the call of its block.
    pub(super) fn guards(&mut self, statement: &'d LogicStatement, run: Run, depth: u32) -> Vec<Reason> {
        self.guards_within(statement, run, depth, CALLS_MAX)
    }

    fn guards_within(
        &mut self,
        statement: &'d LogicStatement,
        run: Run,
        depth: u32,
        calls: u32,
    ) -> Vec<Reason> {
        let Some((unit, _)) = self.evidence.account.statement(statement.number) else { return Vec::new() };
        let mut found = Vec::new();
        way(&unit.statements, statement.number, &mut found);
        let mut reasons = Vec::new();
        for step in found.iter().rev() {
            match step {
                Way::Inside(holder, index) => reasons.extend(self.holder(holder, *index, run, depth)),
                Way::Behind(earlier) => reasons.extend(self.not_left(unit, earlier, statement, run, depth)),
            }
        }
        reasons.extend(self.actions_around(unit, statement, run, depth));
        if let Some(calls) = calls.checked_sub(1)
            && let Some((caller, statement)) = self.caller(unit, run)
        {
            if let LogicKind::Call(call) = &statement.kind
                && let Some(enable) = &call.enable
            {
                reasons.extend(self.condition(enable, Guard::Enable, true, caller, depth));
            }
            reasons.extend(self.guards_within(statement, caller, depth, calls));
        }
        reasons
    }

    /// The call that ran the body of a block for an instance.
    pub(super) fn caller(&self, unit: &LogicUnit, run: Run) -> Option<(Run, &'d LogicStatement)> {
        let account = self.evidence.account;
        let numbers = self.reasoner.callers.get(&unit.name.to_ascii_uppercase())?;
        let mut latest: Option<(Run, &LogicStatement)> = None;
        for number in numbers {
            let (_, statement) = account.statement(*number)?;
            let LogicKind::Call(call) = &statement.kind else { continue };
            for site in account.passes_of(*number) {
                let Some(moment) = account.last_run(site, run.moment) else { continue };
                if moment.scan != run.moment.scan
                    || account.place(site, call.instance.number, moment.scan) != Some(run.base)
                {
                    continue;
                }
                if latest.is_none_or(|(latest, _)| latest.moment < moment) {
                    latest = self.run(site, moment);
                }
            }
        }
        latest
    }

    /// The conditions of a statement that holds another one in the list of a number.
    fn holder(&mut self, holder: &'d LogicStatement, index: usize, run: Run, depth: u32) -> Vec<Reason> {
        if !holder.written {
            return Vec::new();
        }
        let inner = run;
        let Some(run) = self.last(holder.number, run) else { return Vec::new() };
        match &holder.kind {
            LogicKind::If { branches, .. } => {
                // In the order in which they are read, so that what is told above stands above.
                let mut reasons = Vec::new();
                let conditions: Vec<_> = branches.iter().zip(0..=index).collect();
                for ((condition, _), number) in conditions.into_iter().rev() {
                    let (kind, wanted) =
                        if number == index { (Guard::Branch, true) } else { (Guard::Earlier, false) };
                    reasons.extend(self.condition(condition, kind, wanted, run, depth));
                }
                reasons
            }
            LogicKind::Case { selector, .. } => self.selector(selector, run, depth).into_iter().collect(),
            LogicKind::For { variable, .. } => {
                // The variable goes on counting, so its value is the one that was read in the pass.
                let value = self.read_in_pass(variable, inner);
                self.in_loop(variable, value, run)
            }
            LogicKind::While { condition, .. } => self.in_loop(condition, None, run),
            LogicKind::Repeat { until, .. } => self.in_loop(until, None, run),
            _ => Vec::new(),
        }
    }

    /// A loop is told of once in an explanation, with the pass that is looked at first.
    fn in_loop(&mut self, part: &Part, value: Option<u64>, run: Run) -> Vec<Reason> {
        if !self.guarded.insert((part.number, run.base, EVERY_SCAN)) {
            return Vec::new();
        }
        let cause = self.guard(Guard::Loop, part);
        vec![self.bare(part, value, cause, run)]
    }

    /// What a statement in a loop found in the variable of the loop, if it read it.
    fn read_in_pass(&self, variable: &Part, inner: Run) -> Option<u64> {
        let account = self.evidence.account;
        let scan = inner.moment.scan;
        let (_, statement) = self.run(inner.site, inner.moment)?;
        let mut parts: Vec<&Part> = statement.kind.parts();
        while let Some(part) = parts.pop() {
            let same = matches!(part.kind, PartKind::Variable { .. })
                && part.text.eq_ignore_ascii_case(&variable.text);
            if let Some(value) = account.value(inner.site, part.number, scan).filter(|_| same) {
                return Some(value);
            }
            parts.extend(part.operands());
        }
        None
    }

    /// The run of a statement that belongs to a run of a statement inside it or behind it.
    fn last(&self, statement: u32, run: Run) -> Option<Run> {
        let (site, moment) = self.evidence.account.latest(statement, run.base, run.moment)?;
        (moment.scan == run.moment.scan).then_some(Run { site, moment, ..run })
    }

    /// A jump over a statement, or a RETURN in front of it, that was not taken.
    fn not_left(
        &mut self,
        unit: &'d LogicUnit,
        earlier: &'d LogicStatement,
        statement: &LogicStatement,
        run: Run,
        depth: u32,
    ) -> Vec<Reason> {
        if !earlier.written {
            return Vec::new();
        }
        let Some(earlier_run) = self.last(earlier.number, run) else { return Vec::new() };
        match &earlier.kind {
            LogicKind::Jump { label, condition: Some((condition, wanted)) } => {
                let behind =
                    |other: &LogicStatement| matches!(other.kind, LogicKind::Label(name) if name == *label);
                let target = unit.statements.iter().position(behind);
                let here = unit.statements.iter().position(|other| other.number == statement.number);
                if target.zip(here).is_none_or(|(target, here)| target <= here) {
                    return Vec::new();
                }
                self.condition(condition, Guard::NotLeft, !wanted, earlier_run, depth)
            }
            LogicKind::If { branches, .. } => {
                let mut reasons = Vec::new();
                for (condition, body) in branches {
                    if body.iter().any(|inner| matches!(inner.kind, LogicKind::Return)) {
                        reasons.extend(self.condition(condition, Guard::NotLeft, false, earlier_run, depth));
                    }
                }
                reasons
            }
            _ => Vec::new(),
        }
    }

    pub(super) fn guard(&self, kind: Guard, part: &Part) -> Cause {
        Cause::Guard { kind, place: quote::place(self.evidence.sources, part.span) }
    }

    pub(super) fn condition(
        &mut self,
        condition: &'d Part,
        kind: Guard,
        wanted: bool,
        run: Run,
        depth: u32,
    ) -> Vec<Reason> {
        if !self.guarded.insert((condition.number, run.base, run.moment.scan)) {
            return Vec::new();
        }
        let cause = self.guard(kind, condition);
        let mut reason = self.bare(condition, Some(u64::from(wanted)), cause, run);
        reason.parts = self.decisive(condition, run, depth);
        vec![reason]
    }

    pub(super) fn selector(&mut self, selector: &'d Part, run: Run, depth: u32) -> Option<Reason> {
        if !self.guarded.insert((selector.number, run.base, run.moment.scan)) {
            return None;
        }
        let value = self.evidence.account.value(run.site, selector.number, run.moment.scan);
        let cause = self.guard(Guard::Selector, selector);
        let mut reason = self.bare(selector, value, cause, run);
        reason.parts = self.values(selector, run, depth);
        Some(reason)
    }

    /// An expression as a reason without parts.
    pub(super) fn bare(&self, part: &Part, value: Option<u64>, cause: Cause, run: Run) -> Reason {
        Reason {
            subject: part.text.clone(),
            value: value.and_then(|value| shown(&part.value, value)),
            at: self.reasoner.instant(run.moment.scan),
            since: None,
            since_known: false,
            cause,
            parts: Vec::new(),
        }
    }
}
