//! What would have to differ for a BOOL to have the other value.

use latchwork_compiler::logic::{LogicKind, LogicStatement, Part, PartKind};
use latchwork_vm::Section;

use super::{
    Alternative, Change,
    decide::{Truth, truth},
    derive::{Derivation, Run, Seen},
    otherwise::Atoms,
    outside::state_text,
};
use crate::station::DeviceForm;

/// Most ways that are told.
const WAYS_MAX: usize = 6;

/// Statements that are followed from one variable to the next.
const STEPS_MAX: u32 = 6;

impl<'d> Derivation<'d> {
    /// The ways to the other value, the smallest first; and whether there are more.
    pub(super) fn otherwise(&self, seen: &Seen) -> (Vec<Alternative>, bool) {
        if !seen.kind.is_bool() || seen.value.is_none() {
            return Default::default();
        }
        let mut ways = self.ways(seen, STEPS_MAX);
        ways.sort_by_key(|way| way.changes.len());
        let mut told: Vec<Alternative> = Vec::new();
        for way in ways {
            if !way.changes.is_empty() && !told.contains(&way) {
                told.push(way);
            }
        }
        let more = told.len() > WAYS_MAX;
        told.truncate(WAYS_MAX);
        (told, more)
    }

    fn ways(&self, seen: &Seen, steps: u32) -> Vec<Alternative> {
        let since = self.since(seen);
        let Some(write) = self.writer(seen, since) else { return Vec::new() };
        let Some((run, statement)) = self.run(write.site, write.moment) else { return Vec::new() };
        let LogicKind::Assign { target, value } = &statement.kind else { return Vec::new() };
        if !statement.written {
            return Vec::new();
        }
        let mut ways = Vec::new();
        if run.moment.scan == seen.before.scan && value.value.is_bool() {
            // What it was before cannot be changed any more, unless nothing else counts.
            let others = self.changed(value, run, steps, Some(seen.address));
            let own = if others.is_empty() { self.changed(value, run, steps, None) } else { others };
            ways.extend(own);
        }
        ways.extend(self.by_others(statement, target, run, seen));
        ways
    }

    /// The smallest changes of an expression, followed to the variables that it rests on.
    fn changed(&self, value: &'d Part, run: Run, steps: u32, own: Option<u32>) -> Vec<Alternative> {
        let account = self.evidence.account;
        let scan = run.moment.scan;
        let noted: Truth<'_> =
            &|part: &Part| account.value(run.site, part.number, scan).map(|word| word & 1 == 1);
        let same = |part: &Part| match part.kind {
            PartKind::Variable { .. } => (account.place(run.site, part.number, scan), String::new()),
            _ => (None, part.text.to_ascii_uppercase()),
        };
        let fixed = |part: &Part| match part.kind {
            PartKind::Constant => true,
            PartKind::Variable { .. } => {
                let place = account.place(run.site, part.number, scan);
                (own.is_some() && place == own) || self.is_constant(part, run)
            }
            _ => false,
        };
        let mut ways = Vec::new();
        for set in Atoms::of(value, same).smallest(value, noted, &fixed) {
            let mut combined = vec![Vec::new()];
            for part in set {
                let wanted = !truth(part, noted).unwrap_or_default();
                let single = self.through(part, wanted, run, steps);
                combined = combined
                    .iter()
                    .flat_map(|changes: &Vec<Change>| {
                        single.iter().map(move |more| changes.iter().chain(more).cloned().collect::<Vec<_>>())
                    })
                    .take(WAYS_MAX * 4)
                    .collect();
            }
            ways.extend(combined.into_iter().map(|changes| Alternative { changes, by: None }));
        }
        ways
    }

    fn is_constant(&self, part: &Part, run: Run) -> bool {
        let seen = self.found(part, run);
        let named = seen.as_ref().and_then(|seen| self.reasoner.names.at(seen.address, seen.bytes));
        named.is_some_and(|named| named.variable.constant && named.variable.section != Section::Access)
    }

    /// The changes that give one part another value: of a variable that another expression of this scan has made, those of
    /// that expression.
    fn through(&self, part: &'d Part, wanted: bool, run: Run, steps: u32) -> Vec<Vec<Change>> {
        let found = if matches!(part.kind, PartKind::Variable { .. }) { self.found(part, run) } else { None };
        if let Some(seen) = &found
            && let Some(fewer) = steps.checked_sub(1)
            && let Some(write) =
                self.writer(seen, self.since(seen)).filter(|write| write.moment.scan == run.moment.scan)
            && let Some((inner, statement)) = self.run(write.site, write.moment)
            && let LogicKind::Assign { value, .. } = &statement.kind
            && statement.written
            && value.value.is_bool()
        {
            let ways = self.changed(value, inner, fewer, Some(seen.address));
            if !ways.is_empty() {
                return ways.into_iter().map(|way| way.changes).collect();
            }
        }
        if part.is_hidden() {
            return Vec::new();
        }
        let subject = found.as_ref().map_or_else(|| part.text.clone(), |seen| seen.name.clone());
        let device = found.as_ref().and_then(|seen| self.device_for(seen, wanted));
        vec![vec![Change { subject, value: if wanted { "TRUE" } else { "FALSE" }.to_owned(), device }]]
    }

    /// What is to be done to the device of a terminal for a level.
    fn device_for(&self, seen: &Seen, wanted: bool) -> Option<String> {
        let index = self.reasoner.names.device(seen.address)?;
        let device = self.evidence.station?.devices.get(index)?;
        let DeviceForm::TwoState { contact, .. } = &device.form else { return None };
        let actuated = wanted == (*contact == crate::recording::Contact::NormallyOpen);
        Some(format!("{} {}", device.name.value, state_text(device, &latchwork_vm::Value::Bool(actuated))))
    }

    /// Other statements that would have written the other value, had the conditions around them been so.
    fn by_others(&self, writer: &LogicStatement, target: &Part, run: Run, seen: &Seen) -> Vec<Alternative> {
        let Some((unit, _)) = self.evidence.account.statement(writer.number) else { return Vec::new() };
        let mut ways = Vec::new();
        for other in self.others(unit, target, run, writer.number) {
            let LogicKind::Assign { value, .. } = &other.kind else { continue };
            if !opposite(value, seen) {
                continue;
            }
            let Some((holder, holder_run, index)) = self.stopped(unit, other, run.base, seen.before.scan)
            else {
                continue;
            };
            let LogicKind::If { branches, .. } = &holder.kind else { continue };
            // Those in front are FALSE, or the other list would have run.
            let Some((condition, body)) = branches.get(index) else { continue };
            if !body.iter().any(|inner| inner.number == other.number) {
                continue;
            }
            let by = Some(self.statement(other, run));
            let ways_there = self.changed(condition, holder_run, STEPS_MAX, None);
            ways.extend(ways_there.into_iter().map(|way| Alternative { by: by.clone(), ..way }));
        }
        ways
    }
}

/// Whether a constant is the other value than a variable has.
fn opposite(value: &Part, seen: &Seen) -> bool {
    let literal = match value.text.trim().to_ascii_uppercase().as_str() {
        "TRUE" | "1" | "BOOL#TRUE" | "BOOL#1" => 1,
        "FALSE" | "0" | "BOOL#FALSE" | "BOOL#0" => 0,
        // Of Instruction List, as it is written there.
        text if text.starts_with("S ") || text.starts_with("S\t") => 1,
        text if text.starts_with("R ") || text.starts_with("R\t") => 0,
        _ => return false,
    };
    matches!(value.kind, PartKind::Constant) && seen.value.is_some_and(|value| value != literal)
}
