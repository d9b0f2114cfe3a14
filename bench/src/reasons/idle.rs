//! Statements that would have written a variable and did not run.

use latchwork_compiler::logic::{LogicKind, LogicStatement, LogicUnit, Part};

use super::{
    Cause, Guard, Reason,
    derive::{Derivation, Run, Seen},
    guard::{EVERY_SCAN, Way, way},
};
use crate::account::Moment;

/// Most statements that did not run that are told of one variable.
const IDLE_MAX: usize = 4;

/// Stands for the condition where it is noted that something was told of a variable; no part has this number.
const NEVER_WRITTEN: u32 = u32::MAX;

impl<'d> Derivation<'d> {
    /// Other statements of the same unit that write the same variable and have not run since.
    pub(super) fn idle(
        &mut self,
        writer: &LogicStatement,
        target: &Part,
        run: Run,
        seen: &Seen,
        depth: u32,
    ) -> Vec<Reason> {
        let Some((unit, _)) = self.evidence.account.statement(writer.number) else { return Vec::new() };
        let asked = seen.before.scan;
        let mut reasons = Vec::new();
        for other in self.others(unit, target, run, writer.number) {
            let Some((holder, holder_run, index)) = self.stopped(unit, other, run.base, asked) else {
                continue;
            };
            let mut reason = self.unrun(other, run, asked);
            reason.parts = self.why_not(holder, index, holder_run, depth);
            reasons.push(reason);
            if reasons.len() >= IDLE_MAX {
                break;
            }
        }
        reasons
    }

    /// The statements of a unit that write the same variable and have not run since a run.
    pub(super) fn others(
        &self,
        unit: &'d LogicUnit,
        target: &Part,
        run: Run,
        writer: u32,
    ) -> Vec<&'d LogicStatement> {
        let mut found = Vec::new();
        writers(&unit.statements, target, &mut found);
        let account = self.evidence.account;
        found.retain(|other| {
            let site = account.site(other.number, run.base);
            let last = site.and_then(|site| account.last_run(site, Moment::end_of(self.asked)));
            other.number != writer && other.written && last.is_none_or(|last| last < run.moment)
        });
        found
    }

    /// The innermost statement around one that ran in a scan, but not the list in which that stands.
    pub(super) fn stopped(
        &self,
        unit: &'d LogicUnit,
        statement: &LogicStatement,
        base: u32,
        scan: u32,
    ) -> Option<(&'d LogicStatement, Run, usize)> {
        let account = self.evidence.account;
        let mut found = Vec::new();
        way(&unit.statements, statement.number, &mut found);
        let inside = found.iter().rev().filter_map(|way| match way {
            Way::Inside(holder, index) => Some((*holder, *index)),
            Way::Behind(_) => None,
        });
        for (holder, index) in inside {
            let site = account.site(holder.number, base);
            let moment = site.and_then(|site| account.last_run(site, Moment::end_of(scan)));
            if let (Some(site), Some(moment)) = (site, moment.filter(|moment| moment.scan == scan)) {
                return Some((holder, Run { site, base, moment }, index));
            }
        }
        None
    }

    /// A variable that nothing has written, with what kept from running the statements that would write it.
    pub(super) fn never_written(&mut self, seen: &Seen, since: Option<u32>, depth: u32) -> Reason {
        let mut reason = self.outside(seen, since);
        let waits = matches!(reason.cause, Cause::Initial | Cause::Restarted | Cause::Retained);
        let full = self.reasoner.names.at(seen.address, seen.bytes).map(|named| named.variable.name.clone());
        let (Some(deeper), Some(full), true) = (depth.checked_sub(1), full, waits) else { return reason };
        let scan = seen.before.scan;
        // Of what was so in the past it does not matter what kept it from changing then.
        if scan < self.asked || !self.guarded.insert((NEVER_WRITTEN, seen.address, EVERY_SCAN)) {
            return reason;
        }
        for unit in &self.evidence.account.logic().units {
            let mut found = Vec::new();
            might_write(&unit.statements, &full, &mut found);
            for other in found {
                let Some((holder, run, index)) = self.stopped_anywhere(unit, other, scan) else { continue };
                let because = self.why_not(holder, index, run, deeper);
                if because.is_empty() {
                    continue;
                }
                let mut idle = self.unrun(other, run, scan);
                idle.parts = because;
                reason.parts.push(idle);
                if reason.parts.len() >= IDLE_MAX {
                    return reason;
                }
            }
        }
        reason
    }

    /// As [`Derivation::stopped`], where the statement has never run and so the instance is not known: if it is the only
    /// one.
    fn stopped_anywhere(
        &self,
        unit: &'d LogicUnit,
        statement: &LogicStatement,
        scan: u32,
    ) -> Option<(&'d LogicStatement, Run, usize)> {
        let account = self.evidence.account;
        let ran = |site| account.last_run(site, Moment::end_of(scan)).is_some();
        if account.sites_of(statement.number).any(ran) {
            return None;
        }
        let mut found = Vec::new();
        way(&unit.statements, statement.number, &mut found);
        let holders = found.iter().rev().filter_map(|way| match way {
            Way::Inside(holder, _) => Some(*holder),
            Way::Behind(_) => None,
        });
        for holder in holders {
            let mut bases = account.sites_of(holder.number).filter_map(|site| account.identity(site));
            if let (Some((_, base)), None) = (bases.next(), bases.next()) {
                return self.stopped(unit, statement, base, scan);
            }
        }
        None
    }

    fn unrun(&self, statement: &LogicStatement, run: Run, scan: u32) -> Reason {
        let account = self.evidence.account;
        let site = account.site(statement.number, run.base);
        let last = site.and_then(|site| account.last_run(site, Moment::end_of(scan)));
        let ran = Run { moment: last.unwrap_or(run.moment), ..run };
        Reason {
            subject: String::new(),
            value: None,
            at: self.reasoner.instant(scan),
            since: None,
            since_known: false,
            cause: Cause::Idle { statement: self.statement(statement, ran), ran_before: last.is_some() },
            parts: Vec::new(),
        }
    }

    /// Why a list of a statement did not run.
    fn why_not(&mut self, holder: &'d LogicStatement, index: usize, run: Run, depth: u32) -> Vec<Reason> {
        match &holder.kind {
            LogicKind::If { branches, .. } => {
                let truth = |part: &Part| self.evidence.account.value(run.site, part.number, run.moment.scan);
                let earlier = branches.iter().take(index).find(|(condition, _)| truth(condition) == Some(1));
                match (earlier, branches.get(index)) {
                    (Some((condition, _)), _) => self.condition(condition, Guard::Branch, true, run, depth),
                    (None, Some((condition, _))) => {
                        self.condition(condition, Guard::Earlier, false, run, depth)
                    }
                    (None, None) => Vec::new(),
                }
            }
            LogicKind::Case { selector, .. } => self.selector(selector, run, depth).into_iter().collect(),
            _ => Vec::new(),
        }
    }
}

/// The assignments to a variable as it is written in a unit. Statements nest as deep as the grammar allows.
fn writers<'l>(statements: &'l [LogicStatement], target: &Part, found: &mut Vec<&'l LogicStatement>) {
    for statement in statements {
        if let LogicKind::Assign { target: other, .. } = &statement.kind
            && !other.text.is_empty()
            && other.text.eq_ignore_ascii_case(&target.text)
        {
            found.push(statement);
        }
        statement.inner().into_iter().for_each(|inner| writers(inner, target, found));
    }
}

/// The assignments to a variable, and the calls of the instances that it lies in, as far as their names tell.
/// Statements nest as deep as the grammar allows.
fn might_write<'l>(statements: &'l [LogicStatement], full: &str, found: &mut Vec<&'l LogicStatement>) {
    for statement in statements {
        let fits = match &statement.kind {
            LogicKind::Assign { target, .. } => ends_in(full, &target.text),
            LogicKind::Call(call) => {
                let inside = full.rsplit_once('.').map_or("", |(instance, _)| instance);
                ends_in(inside, &call.instance.text)
                    || call.outputs.iter().any(|output| ends_in(full, &output.target.text))
            }
            _ => false,
        };
        if fits && statement.written {
            found.push(statement);
        }
        statement.inner().into_iter().for_each(|inner| might_write(inner, full, found));
    }
}

/// Whether a path ends with a name.
fn ends_in(path: &str, name: &str) -> bool {
    let (path, name) = (path.to_ascii_uppercase(), name.to_ascii_uppercase());
    !name.is_empty() && (path == name || path.ends_with(&format!(".{name}")))
}
