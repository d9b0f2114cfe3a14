//! What the standard function blocks did.

use latchwork_compiler::logic::{LogicCall, LogicKind, LogicStatement, Part};
use latchwork_stdlib::{BlockDefinition, BlockMember};
use latchwork_vm::{ElementaryType, Section, Value};

use super::{
    BlockWork, Cause, Instant, Reason, TimerKind,
    derive::{Derivation, Run, Seen},
    model::Statement,
};
use crate::account::Moment;

/// Most calls that are looked through for the one that gave an input.
const CALLS_MAX: usize = 16;

/// Most changes of a counter that are told.
const COUNTS_MAX: usize = 5;

/// A call of a standard block that is being explained.
struct Call<'d> {
    standard: &'static BlockDefinition,
    /// Address of the instance.
    instance: u32,
    /// As the text calls it.
    name: String,
    run: Run,
    statement: &'d LogicStatement,
}

impl<'d> Derivation<'d> {
    /// A member of an instance of a standard block, last written by a call.
    pub(super) fn block(
        &mut self,
        seen: &Seen,
        call: &'d LogicCall,
        standard: &'static BlockDefinition,
        statement: &'d LogicStatement,
        run: Run,
        depth: u32,
    ) -> (Cause, Vec<Reason>) {
        let account = self.evidence.account;
        let told = self.statement(statement, run);
        let Some(instance) = account.place(run.site, call.instance.number, run.moment.scan) else {
            return (Cause::Written(told), Vec::new());
        };
        let offset = seen.address.saturating_sub(instance);
        let Some(member) = standard.members.iter().find(|member| member.offset == offset) else {
            // The whole instance.
            return (Cause::Written(told), Vec::new());
        };
        let name = call.instance.text.clone();
        let this = Call { standard, instance, name, run, statement };
        if member.section == Section::Input {
            return self.input(&this, member, told, seen, depth);
        }
        if !call.runs
            && let Some(earlier) = self.running(&this)
        {
            return self.output(&earlier, member, depth);
        }
        self.output(&this, member, depth)
    }

    /// An input: the call that gave it.
    fn input(
        &mut self,
        call: &Call<'d>,
        member: &BlockMember,
        told: Statement,
        seen: &Seen,
        depth: u32,
    ) -> (Cause, Vec<Reason>) {
        match self.giver(call, member, seen.before) {
            Some(Giver::Call(statement, part, run)) => {
                let mut parts = self.guards(statement, run, depth);
                parts.extend(self.decisive(part, run, depth));

                (Cause::Given(self.statement(statement, run)), parts)
            }
            Some(Giver::Assignment(statement, part, run)) => {
                let mut parts = self.guards(statement, run, depth);
                parts.extend(self.decisive(part, run, depth));

                (Cause::Written(self.statement(statement, run)), parts)
            }
            None => (Cause::Block { call: told, work: BlockWork::Kept }, Vec::new()),
        }
    }

    /// The last call in front of one that only stores an input, which ran the body.
    fn running(&self, call: &Call<'d>) -> Option<Call<'d>> {
        let account = self.evidence.account;
        let mut before = call.run.moment;
        for _ in 0..CALLS_MAX {
            let write = account.writer(call.instance, call.standard.bytes, before)?;
            let (run, statement) = self.run(write.site, write.moment)?;
            if matches!(&statement.kind, LogicKind::Call(call) if call.runs) {
                return Some(Call { run, statement, name: call.name.clone(), ..*call });
            }
            before = write.moment;
        }
        None
    }

    /// What stored an input last in front of a moment.
    fn giver(&self, call: &Call<'d>, member: &BlockMember, before: Moment) -> Option<Giver<'d>> {
        let account = self.evidence.account;
        let (address, bytes) = (call.instance + member.offset, member.ty.size().unwrap_or(1));
        let mut before = before;
        for _ in 0..CALLS_MAX {
            let write = account.writer(address, bytes, before)?;
            let (run, statement) = self.run(write.site, write.moment)?;
            match &statement.kind {
                LogicKind::Call(call) => {
                    if let Some(input) = call.inputs.iter().find(|input| input.offset == member.offset) {
                        return Some(Giver::Call(statement, &input.value, run));
                    }
                }
                LogicKind::Assign { value, .. } => return Some(Giver::Assignment(statement, value, run)),
                _ => return None,
            }
            before = write.moment;
        }
        None
    }

    /// Why an input was what it was in front of a moment; nothing if no one gives it or a constant is given.
    fn because(&mut self, call: &Call<'d>, name: &str, before: Moment, depth: u32) -> Vec<Reason> {
        let Some(member) = call.standard.members.iter().find(|member| member.name == name) else {
            return Vec::new();
        };
        match self.giver(call, member, before) {
            Some(Giver::Call(_, part, run) | Giver::Assignment(_, part, run)) => {
                self.decisive(part, run, depth)
            }
            None => Vec::new(),
        }
    }

    /// The value of a member after the scan of a call.
    fn member_value(&self, call: &Call<'_>, name: &str) -> Option<u64> {
        let (address, bytes) = place_of(call, name)?;
        self.evidence.account.memory(address, bytes, Some(call.run.moment.scan))
    }

    fn is_true(&self, call: &Call<'_>, name: &str) -> bool {
        self.member_value(call, name).is_some_and(|value| value & 1 == 1)
    }

    /// Since when a member has been what it is after the scan of a call; `None` since the start.
    fn member_since(&self, call: &Call<'_>, name: &str) -> Option<Instant> {
        let (address, bytes) = place_of(call, name)?;
        let scan = self.evidence.account.memory_since(address, bytes, call.run.moment.scan)?;
        (scan > 0).then(|| self.reasoner.instant(scan))
    }

    /// An output: what the block did.
    fn output(&mut self, call: &Call<'d>, member: &BlockMember, depth: u32) -> (Cause, Vec<Reason>) {
        let name = call.standard.name;
        let mut parts = self.guards(call.statement, call.run, depth);
        let (work, inputs) = match name.split('_').next().unwrap_or(name) {
            "TON" => self.timer(call, TimerKind::OnDelay, depth),
            "TOF" => self.timer(call, TimerKind::OffDelay, depth),
            "TP" => self.timer(call, TimerKind::Pulse, depth),
            "CTU" | "CTD" | "CTUD" => self.counter(call, member, depth),
            "SR" => self.bistable(call, ["S1", "R"], true, depth),
            "RS" => self.bistable(call, ["S", "R1"], false, depth),
            "R" => self.edge(call, true, depth),
            "F" => self.edge(call, false, depth),
            _ => {
                let told = self.statement(call.statement, call.run);
                return (Cause::Written(told), parts);
            }
        };
        parts.extend(inputs);
        (Cause::Block { call: self.statement(call.statement, call.run), work }, parts)
    }

    fn timer(&mut self, call: &Call<'d>, kind: TimerKind, depth: u32) -> (BlockWork, Vec<Reason>) {
        // Bits of durations, which are signed.
        let duration = |name: &str| self.member_value(call, name).unwrap_or_default() as i64;
        let work = BlockWork::Timer {
            kind,
            input: self.is_true(call, "IN"),
            input_since: self.member_since(call, "IN"),
            preset_ns: duration("PT").max(0),
            elapsed_ns: duration("ET"),
            output: self.is_true(call, "Q"),
            output_since: self.member_since(call, "Q"),
        };
        let scan = call.run.moment.scan;
        // A pulse goes on without its input: what began it is told.
        let pulse = kind == TimerKind::Pulse && self.is_true(call, "Q");
        let begun = place_of(call, "Q").and_then(|(address, bytes)| {
            self.evidence.account.memory_since(address, bytes, scan).filter(|_| pulse)
        });
        let parts = self.because(call, "IN", Moment::end_of(begun.unwrap_or(scan)), depth);
        (work, parts)
    }

    fn counter(&mut self, call: &Call<'d>, member: &BlockMember, depth: u32) -> (BlockWork, Vec<Reason>) {
        let kind = call
            .standard
            .members
            .iter()
            .find(|member| member.name == "CV")
            .map_or(ElementaryType::Int, |cv| cv.ty);
        let number =
            |bits: u64| Value::from_bits(bits, kind).and_then(|value| value.as_i128()).unwrap_or_default();
        let value_of = |name: &str| number(self.member_value(call, name).unwrap_or_default());
        let mut counts = Vec::new();
        if let Some((address, bytes)) = place_of(call, "CV") {
            let account = self.evidence.account;
            let mut scan = Some(call.run.moment.scan);
            while let (Some(here), true) = (scan, counts.len() < COUNTS_MAX) {
                let Some(since) = account.memory_since(address, bytes, here) else { break };
                let value = account.memory(address, bytes, Some(since)).unwrap_or_default();
                counts.push((self.reasoner.instant(since), number(value)));
                scan = since.checked_sub(1);
            }
        }
        let names = ["R", "LD"].into_iter();
        let held_by =
            names.filter(|name| place_of(call, name).is_some()).find(|name| self.is_true(call, name));
        let work = BlockWork::Counter {
            value: value_of("CV"),
            preset: value_of("PV"),
            member: member.name,
            output: member.ty == ElementaryType::Bool && self.is_true(call, member.name),
            down: call.standard.name.starts_with("CTD") && !call.standard.name.starts_with("CTUD"),
            counts: counts.clone(),
            held_by,
        };
        let mut parts = Vec::new();
        if let Some(name) = held_by {
            parts.extend(self.because(call, name, Moment::end_of(call.run.moment.scan), depth));
        } else if let Some((last, _)) = counts.first() {
            // Whoever counted, loaded or reset last.
            let before = Moment::end_of(last.scan);
            let account = self.evidence.account;
            let was = |name: &str| {
                place_of(call, name)
                    .and_then(|(address, bytes)| account.memory(address, bytes, Some(last.scan)))
                    == Some(1)
            };
            let names = ["R", "LD", "CU", "CD"];
            if let Some(name) = names.into_iter().find(|name| was(name)) {
                parts.extend(self.because(call, name, before, depth));
            }
        } else {
            for name in ["CU", "CD"] {
                parts.extend(self.because(call, name, Moment::end_of(call.run.moment.scan), depth));
            }
        }
        (work, parts)
    }

    fn bistable(
        &mut self,
        call: &Call<'d>,
        [set_name, reset_name]: [&'static str; 2],
        set_first: bool,
        depth: u32,
    ) -> (BlockWork, Vec<Reason>) {
        let (set, reset) = (self.is_true(call, set_name), self.is_true(call, reset_name));
        let output = self.is_true(call, "Q1");
        let turned = self.member_since(call, "Q1");
        let work = BlockWork::Bistable { set_name, reset_name, set_first, set, reset, output, turned };
        let now = Moment::end_of(call.run.moment.scan);
        let then = turned.map(|turned| Moment::end_of(turned.scan));
        let mut parts = Vec::new();
        match (output, set, reset) {
            (true, true, _) => parts.extend(self.because(call, set_name, now, depth)),
            (true, false, _) => {
                if let Some(then) = then {
                    parts.extend(self.because(call, set_name, then, depth));
                }
                parts.extend(self.because(call, reset_name, now, depth));
            }
            (false, _, true) => {
                parts.extend(self.because(call, reset_name, now, depth));
                if set_first {
                    parts.extend(self.because(call, set_name, now, depth));
                }
            }
            (false, _, false) => {
                parts.extend(self.because(call, set_name, now, depth));
                if let Some(then) = then {
                    parts.extend(self.because(call, reset_name, then, depth));
                }
            }
        }
        (work, parts)
    }

    fn edge(&mut self, call: &Call<'d>, rising: bool, depth: u32) -> (BlockWork, Vec<Reason>) {
        let work = BlockWork::Edge {
            rising,
            clock: self.is_true(call, "CLK"),
            clock_since: self.member_since(call, "CLK"),
            output: self.is_true(call, "Q"),
        };
        let parts = self.because(call, "CLK", Moment::end_of(call.run.moment.scan), depth);
        (work, parts)
    }
}

/// What stored an input.
enum Giver<'d> {
    Call(&'d LogicStatement, &'d Part, Run),
    Assignment(&'d LogicStatement, &'d Part, Run),
}

/// Address and size of a member.
fn place_of(call: &Call<'_>, name: &str) -> Option<(u32, u32)> {
    let member = call.standard.members.iter().find(|member| member.name == name)?;
    Some((call.instance.checked_add(member.offset)?, member.ty.size()?))
}
