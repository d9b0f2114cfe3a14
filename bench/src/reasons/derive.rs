//! From a variable at a moment back through the statements that wrote it.

use std::collections::BTreeSet;

use latchwork_compiler::logic::{LogicKind, LogicStatement, Part, PartKind, PartValue};
use latchwork_vm::{Resolved, ResolvedKind, Value};

use super::{
    Cause, Evidence, Explanation, PARTS_MAX, Reason, Reasoner, Statement,
    function::Called,
    is_bit,
    names::{kind, short, shown, size},
    quote,
};
use crate::account::{Moment, SiteId, Write};

/// Most characters of a string that are shown.
const CHARACTERS_MAX: u64 = 60;

/// A variable as it was found at a moment.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    /// What to call it.
    pub(super) name: String,
    pub(super) address: u32,
    pub(super) bytes: u32,
    pub(super) kind: PartValue,
    /// Its bytes; `None` for what has more than eight.
    pub(super) value: Option<u64>,
    /// What wrote it did so before this.
    pub(super) before: Moment,
}

/// A run of a statement.
#[derive(Clone, Copy, Debug)]
pub(super) struct Run {
    pub(super) site: SiteId,
    /// The instance.
    pub(super) base: u32,
    pub(super) moment: Moment,
}

/// A variable whose reason is being found.
#[derive(Clone, Debug)]
struct Open {
    address: u32,
    value: Option<u64>,
    since: Option<u32>,
    /// When it was written.
    moment: Moment,
    /// It is the scan that is explained in which it became what it is.
    turning: bool,
}

/// What became of a reason that was already told.
type Key = (u32, u32, Option<u64>, Option<u32>);

/// One question being answered.
pub(super) struct Derivation<'d> {
    pub(super) reasoner: &'d Reasoner<'d>,
    pub(super) evidence: Evidence<'d>,
    /// The scan that was asked about.
    pub(super) asked: u32,
    open: Vec<Open>,
    pub(super) calls: Vec<Called<'d>>,
    told: BTreeSet<Key>,
    /// Conditions that were told: the part, the instance, the scan.
    pub(super) guarded: BTreeSet<(u32, u32, u32)>,
    left: usize,
}

impl<'d> Derivation<'d> {
    pub(super) fn new(reasoner: &'d Reasoner<'_>, asked: u32) -> Self {
        let evidence = reasoner.evidence;
        let (open, calls, told, guarded) = Default::default();
        Derivation { reasoner, evidence, asked, open, calls, told, guarded, left: PARTS_MAX }
    }

    /// The whole answer.
    pub(super) fn explain(&mut self, variable: &Resolved, depth: u32) -> Explanation {
        let seen = self.seen(variable, self.asked);
        let mut reason = match is_bit(variable) {
            Some(bit) => {
                let value = seen.value.map(|byte| byte >> bit & 1);
                self.outside(&Seen { value, ..seen.clone() }, self.since(&seen))
            }
            None => self.variable(&seen, depth),
        };
        if let ResolvedKind::String { wide, .. } = variable.kind {
            reason.value = self.characters(variable.address, wide);
        }
        let (otherwise, more_ways) =
            if is_bit(variable).is_some() { Default::default() } else { self.otherwise(&seen) };
        Explanation { reason, otherwise, more_ways }
    }

    /// What a string held after the scan that is asked about, as a literal; its beginning, if it is long.
    fn characters(&self, address: u32, wide: bool) -> Option<String> {
        let memory =
            |address: u32, bytes: u32| self.evidence.account.memory(address, bytes, Some(self.asked));
        // Capacity, length, characters.
        let length = memory(address.checked_add(2)?, 2)?.min(CHARACTERS_MAX);
        let first = address.checked_add(4)?;
        let width = if wide { 2 } else { 1 };
        let codes = (0..length).map(|index| memory(first + u32::try_from(index).unwrap_or(0) * width, width));
        let codes: Vec<u16> =
            codes.map(|code| code.and_then(|code| u16::try_from(code).ok())).collect::<Option<_>>()?;
        Some(if wide {
            Value::WideString(codes).to_string()
        } else {
            Value::String(codes.into_iter().filter_map(|code| u8::try_from(code).ok()).collect()).to_string()
        })
    }

    /// A variable after a scan.
    pub(super) fn seen(&self, variable: &Resolved, scan: u32) -> Seen {
        let bytes = size(variable).unwrap_or(1);
        let kind = kind(self.evidence.program, variable);
        let value = match kind {
            PartValue::Other => None,
            _ => self.evidence.account.memory(variable.address, bytes, Some(scan)),
        };
        let name = short(self.evidence.program, variable);
        Seen { name, address: variable.address, bytes, kind, value, before: Moment::end_of(scan) }
    }

    /// Why a variable has the value that was found.
    pub(super) fn variable(&mut self, seen: &Seen, depth: u32) -> Reason {
        let since = self.since(seen);
        let Some(write) = self.writer(seen, since) else {
            return match self.unwritten_step(seen, depth) {
                Some((cause, parts)) => Reason { parts, ..self.about(seen, since, cause) },
                None => self.never_written(seen, since, depth),
            };
        };
        let open = self.open.iter().rev().find(|open| open.address == seen.address);
        if let Some(open) = open {
            let cause = match open {
                Open { moment, .. } if *moment == write.moment => Cause::Told,
                Open { value, .. } if *value != seen.value => Cause::Before,
                Open { since: same, turning, .. } if *same != since || *turning => Cause::Before,
                _ if self.reasoner.is_step(&seen.name) => Cause::Told,
                _ => Cause::Itself,
            };
            let mut reason = self.about(seen, since, cause);
            if let (Cause::Itself, Some(turned)) = (&reason.cause, since) {
                reason.parts = self.turning(seen, turned, depth);
            }
            return reason;
        }
        let key = (seen.address, seen.bytes, seen.value, since);
        if self.told.contains(&key) {
            return self.about(seen, since, Cause::Told);
        }
        let Some(deeper) = depth.checked_sub(1).filter(|_| self.left > 0) else {
            return self.about(seen, since, Cause::Deeper);
        };
        self.left -= 1;
        self.told.insert(key);
        let (address, value, moment) = (seen.address, seen.value, write.moment);
        self.open.push(Open { address, value, since, moment, turning: false });
        let (cause, parts) = self.written(seen, write, deeper);
        self.open.pop();
        let mut reason = self.about(seen, since, cause);
        reason.parts = parts;
        reason
    }

    /// What made a variable what it is, in the scan in which it became that.
    fn turning(&mut self, seen: &Seen, turned: u32, depth: u32) -> Vec<Reason> {
        let then = Seen { before: Moment::end_of(turned), ..seen.clone() };
        let Some(write) = self.writer(&then, Some(turned)).filter(|write| write.moment.scan == turned) else {
            return vec![self.outside(&then, Some(turned))];
        };
        let Some(deeper) = depth.checked_sub(1) else {
            return vec![self.about(&then, Some(turned), Cause::Deeper)];
        };
        let (address, value, moment) = (seen.address, seen.value, write.moment);
        self.open.push(Open { address, value, since: Some(turned), moment, turning: true });
        let (_, parts) = self.written(&then, write, deeper);
        self.open.pop();
        parts
    }

    /// The run that gave a variable its value; `None` if that came from outside.
    pub(super) fn writer(&self, seen: &Seen, since: Option<u32>) -> Option<Write> {
        let account = self.evidence.account;
        let write = account.writer(seen.address, seen.bytes, seen.before)?;
        let changed_later = seen.value.is_some() && since.is_some_and(|since| since > write.moment.scan);
        let restarted = account.last_restart(seen.before.scan).is_some_and(|scan| scan > write.moment.scan);
        (!changed_later && (!restarted || self.is_retained(seen.address))).then_some(write)
    }

    /// Whether a warm restart keeps a variable.
    pub(super) fn is_retained(&self, address: u32) -> bool {
        let retained = &self.evidence.program.image().layout.retained;
        retained
            .iter()
            .any(|region| (region.start..region.start.saturating_add(region.size)).contains(&address))
    }

    /// The first scan since which a variable has had its value without a break, as far as it is seen after scans.
    pub(super) fn since(&self, seen: &Seen) -> Option<u32> {
        let account = self.evidence.account;
        let Seen { address, bytes, before, .. } = *seen;
        if before == Moment::end_of(before.scan) {
            return account.memory_since(address, bytes.min(8), before.scan);
        }
        let earlier = before.scan.checked_sub(1);
        if seen.value.is_some() && account.memory(address, bytes, earlier) != seen.value {
            return Some(before.scan);
        }
        account.memory_since(address, bytes.min(8), earlier?)
    }

    /// Whether the reason of a variable is just being found.
    pub(super) fn is_open(&self, address: u32) -> bool {
        self.open.iter().any(|open| open.address == address)
    }

    /// A reason without parts.
    pub(super) fn about(&self, seen: &Seen, since: Option<u32>, cause: Cause) -> Reason {
        Reason {
            subject: seen.name.clone(),
            value: seen.value.and_then(|value| shown(&seen.kind, value)),
            at: self.reasoner.instant(seen.before.scan),
            // What was so after the first scan was so at the start.
            since: since.filter(|scan| *scan > 0).map(|scan| self.reasoner.instant(scan)),
            since_known: seen.value.is_some(),
            cause,
            parts: Vec::new(),
        }
    }

    /// A run of a statement, with the statement.
    pub(super) fn run(&self, site: SiteId, moment: Moment) -> Option<(Run, &'d LogicStatement)> {
        let (number, base) = self.evidence.account.identity(site)?;
        let (_, statement) = self.evidence.account.statement(number)?;
        Some((Run { site, base, moment }, statement))
    }

    pub(super) fn statement(&self, statement: &LogicStatement, run: Run) -> Statement {
        Statement {
            span: statement.span,
            place: quote::place(self.evidence.sources, statement.span),
            text: quote::statement(self.evidence.sources, statement),
            ran: self.reasoner.instant(run.moment.scan),
        }
    }

    /// What a run of a statement wrote, and from what.
    fn written(&mut self, seen: &Seen, write: Write, depth: u32) -> (Cause, Vec<Reason>) {
        let Some((run, statement)) = self.run(write.site, write.moment) else {
            return (Cause::Unknown, Vec::new());
        };
        if !statement.written {
            return self.made(seen, statement, run, depth);
        }
        let told = self.statement(statement, run);
        match &statement.kind {
            LogicKind::Assign { value, .. } if self.is_other_pass(seen, value, run) => {
                (Cause::Unknown, Vec::new())
            }
            LogicKind::Assign { target, value } => {
                let mut parts = self.guards(statement, run, depth);
                parts.extend(match &value.value {
                    PartValue::Other => self.copied(seen, target, value, run, depth),
                    _ => self.decisive(value, run, depth),
                });
                if run.moment.scan < seen.before.scan {
                    parts.extend(self.idle(statement, target, run, seen, depth));
                }
                (Cause::Written(told), parts)
            }
            LogicKind::Call(call) => {
                if let Some(standard) = call.standard
                    && call.instance.number == write.part
                {
                    return self.block(seen, call, standard, statement, run, depth);
                }
                if let Some(input) = call.inputs.iter().find(|input| input.value.number == write.part) {
                    let mut parts = self.guards(statement, run, depth);
                    parts.extend(self.decisive(&input.value, run, depth));
                    return (Cause::Given(told), parts);
                }
                if let Some(output) = call.outputs.iter().find(|output| output.target.number == write.part) {
                    let member =
                        self.member(&call.instance, run, output.offset, &output.target, &output.name);
                    let mut parts = self.guards(statement, run, depth);
                    parts.extend(member.iter().map(|seen| self.variable(seen, depth)));
                    return (Cause::Taken(told), parts);
                }
                (Cause::Written(told), self.guards(statement, run, depth))
            }
            LogicKind::For { bounds, .. } => {
                let mut parts = Vec::new();
                for bound in bounds.iter() {
                    parts.extend(self.values(bound, run, depth));
                }
                (Cause::Written(told), parts)
            }
            _ => {
                let whole: Vec<&Part> = statement.kind.parts();
                let mut parts = self.guards(statement, run, depth);
                for part in whole {
                    parts.extend(self.values(part, run, depth));
                }
                (Cause::Written(told), parts)
            }
        }
    }

    /// Whether a run stored another value than the one that is looked at: that of a pass which was not kept.
    fn is_other_pass(&self, seen: &Seen, value: &Part, run: Run) -> bool {
        let account = self.evidence.account;
        let stored = account.value(run.site, value.number, run.moment.scan);
        let comparable = !account.is_complete() && value.value == seen.kind && value.bytes == seen.bytes;
        comparable && stored.zip(seen.value).is_some_and(|(stored, found)| stored != found)
    }

    /// A member of what is at a part, as it was when the call was over.
    pub(super) fn member(
        &self,
        instance: &Part,
        run: Run,
        offset: u32,
        like: &Part,
        name: &str,
    ) -> Option<Seen> {
        let account = self.evidence.account;
        let address = account.place(run.site, instance.number, run.moment.scan)?.checked_add(offset)?;
        let bytes = like.bytes.clamp(1, 8);
        let value =
            account.memory(address, bytes, Some(run.moment.scan)).filter(|_| like.value != PartValue::Other);
        let name = self.name(address, bytes, &format!("{}.{name}", instance.text));
        Some(Seen {
            name,
            address,
            bytes,
            kind: like.value.clone(),
            value,
            before: Moment::end_of(run.moment.scan),
        })
    }

    /// A whole structure, array or string: what is at the same place of its source.
    fn copied(&mut self, seen: &Seen, target: &Part, value: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        let account = self.evidence.account;
        let scan = run.moment.scan;
        let to = account.place(run.site, target.number, scan);
        let from = account.place(run.site, value.number, scan);
        let distance = to.and_then(|to| seen.address.checked_sub(to));
        if let (PartKind::Variable { hidden: false, .. }, Some(from), Some(distance)) =
            (&value.kind, from, distance)
        {
            let address = from.saturating_add(distance);
            let name = self.name(address, seen.bytes, &value.text);
            let source = Seen { name, address, before: run.moment, ..seen.clone() };
            return vec![self.variable(&source, depth)];
        }
        self.values(value, run, depth)
    }
}
