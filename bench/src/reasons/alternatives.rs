//! What would have to differ for a BOOL to have the other value.

use latchwork_compiler::logic::{LogicCall, LogicKind, LogicStatement, Part, PartKind};
use latchwork_stdlib::BlockDefinition;
use latchwork_vm::{Section, Value};

use super::{
    Alternative, Change,
    decide::{Truth, truth},
    derive::{Derivation, Run, Seen},
    otherwise::Atoms,
    outside::state_text,
    quote::bare_text,
    words,
};
use crate::{account::Moment, recording::Contact, station::DeviceForm};

/// Most ways that are told.
const WAYS_MAX: usize = 6;

/// Statements that are followed from one variable to the next.
pub(super) const STEPS_MAX: u32 = 6;

/// Where the changes of a variable come from.
enum Followed {
    /// From those.
    To(Vec<Vec<Change>>),
    /// It takes more than a change of values.
    Only(String),
    Nowhere,
}

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
        let Some(write) = self.writer(seen, since) else { return self.step_ways(seen) };
        let Some((run, statement)) = self.run(write.site, write.moment) else { return Vec::new() };
        if !statement.written {
            return self.step_ways(seen);
        }
        let LogicKind::Assign { target, value } = &statement.kind else {
            return match self.followed(seen, seen.before.scan, steps) {
                Followed::To(ways) => {
                    ways.into_iter().map(|changes| Alternative { changes, by: None }).collect()
                }
                _ => Vec::new(),
            };
        };
        let mut ways = Vec::new();
        if run.moment.scan == seen.before.scan && value.value.is_bool() {
            // What it was before cannot be changed any more, unless nothing else counts.
            let others = self.changed(value, run, steps, Some(seen.address));
            if others.is_empty() {
                let mut all = self.changed(value, run, steps, None);
                let rests = |way: &Alternative| way.changes.iter().any(|change| change.subject == seen.name);
                if !all.iter().all(rests) {
                    all.retain(|way| !rests(way));
                }
                ways.extend(all);
            } else {
                ways.extend(others);
            }
        }
        ways.extend(self.by_others(statement, target, run, seen));
        ways
    }

    /// The smallest changes of an expression, followed to the variables that it rests on.
    pub(super) fn changed(
        &self,
        value: &'d Part,
        run: Run,
        steps: u32,
        own: Option<u32>,
    ) -> Vec<Alternative> {
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
                (own.is_some() && (place == own || self.is_fed_back(part, run)))
                    || self.is_constant(part, run)
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

    /// Whether a variable was read with what the scan before left in it, and is written anew in this scan.
    fn is_fed_back(&self, part: &Part, run: Run) -> bool {
        let account = self.evidence.account;
        let scan = run.moment.scan;
        account.place(run.site, part.number, scan).is_some_and(|address| {
            let written = |before| account.writer(address, part.bytes, before).map(|write| write.moment.scan);
            written(Moment::end_of(scan)) == Some(scan)
                && written(run.moment).is_none_or(|earlier| earlier < scan)
        })
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
        let mut how = None;
        if let Some(seen) = &found {
            match self.followed(seen, run.moment.scan, steps) {
                Followed::To(ways) => return ways,
                Followed::Only(words) => how = Some(words),
                Followed::Nowhere => {}
            }
        }
        if part.is_hidden() {
            return Vec::new();
        }
        let subject = found.as_ref().map_or_else(|| bare_text(&part.text), |seen| seen.name.clone());
        let device = found.as_ref().and_then(|seen| self.device_for(seen, wanted));
        vec![vec![Change { subject, value: if wanted { "TRUE" } else { "FALSE" }.to_owned(), device, how }]]
    }

    /// The changes of what made a variable in a scan.
    fn followed(&self, seen: &Seen, scan: u32, steps: u32) -> Followed {
        let write = self.writer(seen, self.since(seen)).filter(|write| write.moment.scan == scan);
        let run = write
            .and_then(|write| self.run(write.site, write.moment))
            .filter(|(_, statement)| statement.written);
        let (Some(fewer), Some(write), Some((run, statement))) = (steps.checked_sub(1), write, run) else {
            return Followed::Nowhere;
        };
        let value = match &statement.kind {
            LogicKind::Assign { value, .. } => value,
            LogicKind::Call(call) => {
                if let Some(standard) = call.standard
                    && call.instance.number == write.part
                {
                    return self.through_block(seen, call, standard, run, fewer);
                }
                if let Some(input) = call.inputs.iter().find(|input| input.value.number == write.part) {
                    &input.value
                } else if let Some(output) =
                    call.outputs.iter().find(|output| output.target.number == write.part)
                    && let Some(member) =
                        self.member(&call.instance, run, output.offset, &output.target, &output.name)
                {
                    return self.followed(&member, scan, fewer);
                } else {
                    return Followed::Nowhere;
                }
            }
            _ => return Followed::Nowhere,
        };
        self.followed_to(value, run, fewer, seen.address)
    }

    fn followed_to(&self, value: &'d Part, run: Run, steps: u32, own: u32) -> Followed {
        let ways =
            if value.value.is_bool() { self.changed(value, run, steps, Some(own)) } else { Vec::new() };
        if ways.is_empty() {
            Followed::Nowhere
        } else {
            Followed::To(ways.into_iter().map(|way| way.changes).collect())
        }
    }

    /// The changes of an input that turn an output of a standard block at once; otherwise what it takes.
    fn through_block(
        &self,
        seen: &Seen,
        call: &'d LogicCall,
        standard: &BlockDefinition,
        run: Run,
        steps: u32,
    ) -> Followed {
        let account = self.evidence.account;
        let Some(instance) = account.place(run.site, call.instance.number, run.moment.scan) else {
            return Followed::Nowhere;
        };
        let member = |name: &str| standard.members.iter().find(|member| member.name == name);
        let value = |name: &str| {
            let member = member(name)?;
            account.memory(instance.checked_add(member.offset)?, member.ty.size()?, Some(run.moment.scan))
        };
        let is_true = |name: &str| value(name) == Some(1);
        // Bits of durations, which are signed.
        let duration = |name: &str| value(name).unwrap_or_default() as i64;
        let on = seen.value == Some(1);
        let kind = standard.name.split('_').next().unwrap_or_default();
        let wait = |nanoseconds: i64| words::duration(nanoseconds.max(0));
        let left = duration("PT") - duration("ET");
        let (input, how) = match (kind, on) {
            ("TON", true) => (Some("IN"), String::new()),
            ("TON", false) if is_true("IN") => (None, format!("after {} more with IN TRUE", wait(left))),
            ("TON", false) => (None, format!("after {} with IN TRUE", wait(duration("PT")))),
            ("TOF", false) => (Some("IN"), String::new()),
            ("TOF", true) if is_true("IN") => (None, format!("after {} with IN FALSE", wait(duration("PT")))),
            ("TOF", true) => (None, format!("after {} more with IN FALSE", wait(left))),
            ("TP", true) => (None, format!("when the pulse ends, in {}", wait(left))),
            ("TP", false) => (None, "at a rising edge of IN".to_owned()),
            ("R", _) => (None, "at a rising edge of CLK".to_owned()),
            ("F", _) => (None, "at a falling edge of CLK".to_owned()),
            ("SR", false) => (Some("S1"), String::new()),
            ("SR", true) if !is_true("S1") => (Some("R"), String::new()),
            ("RS", true) => (Some("R1"), String::new()),
            ("RS", false) if !is_true("R1") => (Some("S"), String::new()),
            ("CTU", true) => (Some("R"), String::new()),
            ("CTU", false) => (None, "at further rising edges of CU".to_owned()),
            ("CTD", true) => (Some("LD"), String::new()),
            ("CTD", false) => (None, "at further rising edges of CD".to_owned()),
            _ => return Followed::Nowhere,
        };
        let offset = input.and_then(member).map(|member| member.offset);
        match (call.inputs.iter().find(|input| Some(input.offset) == offset), how) {
            (Some(input), _) => self.followed_to(&input.value, run, steps, seen.address),
            (None, how) if !how.is_empty() => Followed::Only(how),
            _ => Followed::Nowhere,
        }
    }

    /// What is to be done to the device of a terminal for a level.
    fn device_for(&self, seen: &Seen, wanted: bool) -> Option<String> {
        let index = self.reasoner.names.device(seen.address)?;
        let device = self.evidence.station?.devices.get(index)?;
        let DeviceForm::TwoState { contact, .. } = &device.form else { return None };
        let actuated = wanted == (*contact == Contact::NormallyOpen);
        Some(format!("{} {}", device.name.value, state_text(device, &Value::Bool(actuated))))
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
            let by = Some(format!("{} runs", self.statement(other, run).place));
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
