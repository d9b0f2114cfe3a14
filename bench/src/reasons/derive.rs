//! From a variable at a moment back through the statements that wrote it.

use std::collections::BTreeSet;

use latchwork_compiler::logic::{LogicKind, LogicStatement, Part, PartKind, PartValue};
use latchwork_vm::{Resolved, Value};

use super::{
    Cause, Evidence, Explanation, PARTS_MAX, Reason, Reasoner, Statement,
    decide::{deciding, truth},
    function::Called,
    is_bit,
    names::{kind, short, shown, size},
    quote,
};
use crate::account::{Moment, SiteId, Write};

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
    left: usize,
}

impl<'d> Derivation<'d> {
    pub(super) fn new(reasoner: &'d Reasoner<'_>, asked: u32) -> Self {
        let evidence = reasoner.evidence;
        let (open, calls, told) = Default::default();
        Derivation { reasoner, evidence, asked, open, calls, told, left: PARTS_MAX }
    }

    /// The whole answer.
    pub(super) fn explain(&mut self, variable: &Resolved, depth: u32) -> Explanation {
        let seen = self.seen(variable, self.asked);
        let reason = match is_bit(variable) {
            Some(bit) => {
                let value = seen.value.map(|byte| byte >> bit & 1);
                self.outside(&Seen { value, ..seen.clone() }, self.since(&seen))
            }
            None => self.variable(&seen, depth),
        };
        let (otherwise, more_ways) =
            if is_bit(variable).is_some() { Default::default() } else { self.otherwise(&seen) };
        Explanation { reason, otherwise, more_ways }
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
        let Some(write) = self.writer(seen, since) else { return self.outside(seen, since) };
        let open = self.open.iter().rev().find(|open| open.address == seen.address);
        if let Some(open) = open {
            let cause = match open {
                Open { value, .. } if *value != seen.value => Cause::Before,
                Open { since: same, turning, .. } if *same != since || *turning => Cause::Before,
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
        self.open.push(Open { address: seen.address, value: seen.value, since, turning: false });
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
        let value = seen.value;
        self.open.push(Open { address: seen.address, value, since: Some(turned), turning: true });
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
            LogicKind::Assign { target, value } => {
                let mut parts = match &value.value {
                    PartValue::Other => self.copied(seen, target, value, run, depth),
                    _ => self.decisive(value, run, depth),
                };
                parts.extend(self.guards(statement, run, depth));
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
                    let mut parts = self.decisive(&input.value, run, depth);
                    parts.extend(self.guards(statement, run, depth));
                    return (Cause::Given(told), parts);
                }
                if let Some(output) = call.outputs.iter().find(|output| output.target.number == write.part) {
                    let member =
                        self.member(&call.instance, run, output.offset, &output.target, &output.name);
                    let mut parts: Vec<Reason> =
                        member.iter().map(|seen| self.variable(seen, depth)).collect();
                    parts.extend(self.guards(statement, run, depth));
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
                let mut parts = Vec::new();
                for part in whole {
                    parts.extend(self.values(part, run, depth));
                }
                parts.extend(self.guards(statement, run, depth));
                (Cause::Written(told), parts)
            }
        }
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

    /// The parts that decided what a Boolean expression is; all parts of another one.
    pub(super) fn decisive(&mut self, part: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        let account = self.evidence.account;
        let noted =
            |part: &Part| account.value(run.site, part.number, run.moment.scan).map(|word| word & 1 == 1);
        let parts = deciding(part, &noted);
        let mut reasons: Vec<Reason> = Vec::new();
        for part in parts {
            let more = if part.value.is_bool() && matches!(part.kind, PartKind::Operation { .. }) {
                self.computed(part, run, depth)
            } else {
                self.values(part, run, depth)
            };
            for reason in more {
                // One variable that stands twice in an expression is told once.
                if !reasons.iter().any(|told| told.subject == reason.subject && told.value == reason.value) {
                    reasons.push(reason);
                }
            }
        }
        without_the_same(&mut reasons);
        reasons
    }

    /// The truth value of a part in a run. That of a comparison which the machine did not compute alone follows from its
    /// operands.
    pub(super) fn noted(&self, part: &Part, run: Run) -> Option<bool> {
        let account = self.evidence.account;
        if let Some(word) = account.value(run.site, part.number, run.moment.scan) {
            return Some(word & 1 == 1);
        }
        let PartKind::Operation { name, operands } = &part.kind else { return None };
        let [left, right] = operands.as_slice() else { return None };
        let value = |part: &Part| {
            let word = account.value(run.site, part.number, run.moment.scan)?;
            match &part.value {
                PartValue::Elementary(kind) => Value::from_bits(word, *kind),
                // A DINT in the low bits.
                PartValue::Enumeration(_) => Some(Value::Enumeration { value: word as i32, name: None }),
                PartValue::Other => None,
            }
        };
        let order = value(left)?.compare(&value(right)?)?;
        Some(match *name {
            "LT" => order.is_lt(),
            "LE" => order.is_le(),
            "GT" => order.is_gt(),
            "GE" => order.is_ge(),
            "EQ" => order.is_eq(),
            "NE" => order.is_ne(),
            _ => return None,
        })
    }

    /// A comparison, or another function with a truth value.
    fn computed(&mut self, part: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        let parts = self.values(part, run, depth);
        if parts.is_empty() {
            return parts;
        }
        let account = self.evidence.account;
        let noted =
            |part: &Part| account.value(run.site, part.number, run.moment.scan).map(|word| word & 1 == 1);
        let value = truth(part, &noted).map(u64::from);
        vec![Reason {
            subject: part.text.clone(),
            value: value.and_then(|value| shown(&part.value, value)),
            at: self.reasoner.instant(run.moment.scan),
            since: None,
            cause: Cause::Computed(self.with_values(part, run)),
            parts,
        }]
    }

    /// The variables and functions that an expression is made of, as far as they counted.
    pub(super) fn values(&mut self, part: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        match &part.kind {
            PartKind::Constant => Vec::new(),
            PartKind::Variable { hidden: true, .. } => self.look_through(part, run, depth),
            PartKind::Variable { .. } => self.read(part, run, depth).into_iter().collect(),
            PartKind::Function { .. } => self.function(part, run, depth),
            PartKind::Operation { name, operands } => {
                let mut reasons = Vec::new();
                for operand in self.chosen(name, operands, run) {
                    let more = if operand.value.is_bool() {
                        self.decisive(operand, run, depth)
                    } else {
                        self.values(operand, run, depth)
                    };
                    reasons.extend(more);
                }
                reasons
            }
            PartKind::Other { operands, .. } => {
                let mut reasons = Vec::new();
                for operand in operands {
                    reasons.extend(self.values(operand, run, depth));
                }
                reasons
            }
        }
    }

    /// The operands that counted: of a selection the chosen one.
    fn chosen(&self, name: &str, operands: &'d [Part], run: Run) -> Vec<&'d Part> {
        let value = |part: &Part| self.evidence.account.value(run.site, part.number, run.moment.scan);
        let selector = operands.first().and_then(value);
        let place = match (name, selector) {
            ("SEL", Some(word)) => usize::try_from(word & 1).ok(),
            ("MUX", Some(word)) => usize::try_from(word).ok(),
            _ => None,
        };
        match (operands.first(), place.and_then(|place| operands.get(place.checked_add(1)?))) {
            (Some(selector), Some(chosen)) => vec![selector, chosen],
            _ => operands.iter().collect(),
        }
    }

    /// A variable that the compiler keeps: what was put into it.
    fn look_through(&mut self, part: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        let account = self.evidence.account;
        let write = account
            .place(run.site, part.number, run.moment.scan)
            .and_then(|address| account.writer(address, part.bytes, run.moment));
        let Some((run, statement)) = write.and_then(|write| self.run(write.site, write.moment)) else {
            return Vec::new();
        };
        match (&statement.kind, depth.checked_sub(1)) {
            (LogicKind::Assign { value, .. }, Some(deeper)) => {
                let mut parts = self.decisive(value, run, deeper);
                parts.extend(self.guards(statement, run, deeper));
                parts
            }
            _ => Vec::new(),
        }
    }

    /// A variable that an expression reads.
    fn read(&mut self, part: &'d Part, run: Run, depth: u32) -> Option<Reason> {
        if let Some(reason) = self.parameter(part, run, depth) {
            return Some(reason);
        }
        let seen = self.found(part, run)?;
        Some(self.variable(&seen, depth))
    }

    /// A variable as a run of a statement found it.
    pub(super) fn found(&self, part: &Part, run: Run) -> Option<Seen> {
        let account = self.evidence.account;
        let scan = run.moment.scan;
        let address = account.place(run.site, part.number, scan)?;
        let value = account.value(run.site, part.number, scan);
        let name = self.name(address, part.bytes, &part.text);
        let bytes = part.bytes.max(1);
        Some(Seen { name, address, bytes, kind: part.value.clone(), value, before: run.moment })
    }

    /// What to call a variable: its full name as far as it is needed, and how the text calls it, if otherwise.
    pub(super) fn name(&self, address: u32, bytes: u32, text: &str) -> String {
        let Some(named) = self.reasoner.names.at(address, bytes) else { return text.to_owned() };
        let name = short(self.evidence.program, &named.variable);
        let same = |text: &str| {
            let (whole, end) = (name.to_ascii_uppercase(), text.to_ascii_uppercase());
            whole == end || whole.ends_with(&format!(".{end}"))
        };
        if text.is_empty() || text.contains(['[', '^']) || same(text) {
            name
        } else {
            format!("{text} ({name})")
        }
    }

    /// An expression with values instead of variables: `51.3 < 60.0`.
    fn with_values(&self, part: &Part, run: Run) -> String {
        let PartKind::Operation { name, operands } = &part.kind else { return String::new() };
        let text = |operand: &Part| {
            let value = self.evidence.account.value(run.site, operand.number, run.moment.scan);
            value.and_then(|value| shown(&operand.value, value)).unwrap_or_else(|| operand.text.clone())
        };
        let values: Vec<String> = operands.iter().map(text).collect();
        let symbol = match *name {
            "LT" => "<",
            "LE" => "<=",
            "GT" => ">",
            "GE" => ">=",
            "EQ" => "=",
            "NE" => "<>",
            _ => return format!("{name}({})", values.join(", ")),
        };
        values.join(&format!(" {symbol} "))
    }
}

/// Takes away from what made a variable what it is whatever was so then as it is now and stands beside it, as long as
/// something else is left.
fn without_the_same(reasons: &mut [Reason]) {
    let same = |a: &Reason, b: &Reason| a.subject == b.subject && a.value == b.value && a.since == b.since;
    for index in 0..reasons.len() {
        let Some(Reason { cause: Cause::Itself, parts, .. }) = reasons.get(index) else { continue };
        let told =
            |part: &Reason| reasons.iter().any(|other| other.cause != Cause::Itself && same(other, part));
        let kept: Vec<Reason> = parts.iter().filter(|part| !told(part)).cloned().collect();
        if let Some(reason) = reasons.get_mut(index).filter(|_| !kept.is_empty()) {
            reason.parts = kept;
        }
    }
}
