//! Expressions: which parts of them decided, and what those are.

use latchwork_compiler::logic::{LogicKind, Part, PartKind, PartValue};
use latchwork_vm::Value;

use super::{
    Cause, Reason,
    decide::{deciding, truth},
    derive::{Derivation, Run, Seen},
    names::{short, shown, size},
    quote,
};

impl<'d> Derivation<'d> {
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
            subject: quote::bare_text(&part.text),
            value: value.and_then(|value| shown(&part.value, value)),
            at: self.reasoner.instant(run.moment.scan),
            since: None,
            since_known: false,
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
                let mut parts = self.guards(statement, run, deeper);
                parts.extend(self.decisive(value, run, deeper));
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
        // At the address of a structure stands its first member, which is not what is meant.
        let named = self.reasoner.names.at(address, bytes);
        let Some(named) = named.filter(|named| size(&named.variable).is_none_or(|own| own >= bytes)) else {
            return text.to_owned();
        };
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
        // What began then is what made it so.
        let began = reasons.get(index).and_then(|reason| reason.since);
        let told = |part: &Reason| {
            part.since != began
                && reasons
                    .iter()
                    .any(|other| !matches!(other.cause, Cause::Itself | Cause::Told) && same(other, part))
        };
        let kept: Vec<Reason> = parts.iter().filter(|part| !told(part)).cloned().collect();
        if let Some(reason) = reasons.get_mut(index).filter(|_| !kept.is_empty()) {
            reason.parts = kept;
        }
    }
}
