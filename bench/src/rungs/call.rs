//! Calls of function blocks as rungs: networks lead to the Boolean inputs, outputs lead to the coils that take them.

use latchwork_compiler::logic::{LogicCall, LogicKind, LogicStatement, Part, PartKind, PartValue};
use latchwork_stdlib::{BlockDefinition, BlockMember, Edge};
use latchwork_vm::Section;

use super::{
    build::Builder,
    model::{Body, CallRung, Feed, InputPin, Output, OutputForm, OutputPin, Rung},
    text::whole,
};

impl<'l> Builder<'l> {
    /// A call, and how many of the statements behind it take nothing but its outputs.
    pub(super) fn call(
        &mut self,
        statement: &'l LogicStatement,
        call: &'l LogicCall,
        behind: &'l [LogicStatement],
    ) -> (Body, usize) {
        let instance = self.known.text(&call.instance);
        if !call.runs
            && let Some(body) = self.stores(statement, call, &instance)
        {
            return (body, 0);
        }
        let Some(inputs) = self.inputs(call) else {
            let (mut text, _) = whole(&[statement], &self.known);
            text.reason = Some(format!("more than {} elements: not drawn", super::ELEMENTS_MAX));
            return (Body::Text(text), 0);
        };
        let outputs = self.outputs(statement, call);
        let mut rung =
            CallRung { instance, part: call.instance.number, block: call.block.clone(), inputs, outputs };
        self.senses(call, &rung.instance);
        for output in &call.outputs {
            self.known.write(&output.target.text);
        }
        let mut taken = 0;
        while let Some(next) = behind.get(taken) {
            let more = self.follows(next, behind.get(taken + 1..).unwrap_or_default(), call, &mut rung);
            if more == 0 {
                break;
            }
            taken += more;
        }
        (Body::Call(rung), taken)
    }

    /// An input operator of Instruction List that only stores a BOOL is a coil.
    fn stores(&mut self, statement: &LogicStatement, call: &LogicCall, instance: &str) -> Option<Body> {
        let [input] = call.inputs.as_slice() else { return None };
        if !input.value.value.is_bool() {
            let (text, _) = whole(&[statement], &self.known);
            return Some(Body::Text(text));
        }
        let network = self.known.network(&input.value, false)?;
        let output = Output {
            form: OutputForm::Coil,
            name: format!("{instance}.{}", input.name),
            part: Some(input.value.number),
            statement: statement.number,
        };
        Some(Body::Rung(Rung { network, ends: vec![output] }))
    }

    fn inputs(&self, call: &LogicCall) -> Option<Vec<InputPin>> {
        let mut pins = Vec::new();
        if let Some(enable) = &call.enable {
            let feed = Feed::Network(self.known.network(enable, false)?);
            pins.push(InputPin { name: "EN".to_owned(), edge: None, feed });
        }
        let feed = |value: &Part| {
            Some(if value.value.is_bool() {
                Feed::Network(self.known.network(value, false)?)
            } else {
                Feed::Value(self.known.operand("", value))
            })
        };
        match call.standard {
            Some(block) => {
                for member in shown(block, Section::Input) {
                    let given = call.inputs.iter().find(|input| input.offset == member.offset);
                    let feed = match given {
                        Some(input) => feed(&input.value)?,
                        None => Feed::Kept { offset: member.offset, value: PartValue::Elementary(member.ty) },
                    };
                    pins.push(InputPin { name: member.name.to_owned(), edge: sensed(block, member), feed });
                }
            }
            None => {
                for input in &call.inputs {
                    pins.push(InputPin { name: input.name.clone(), edge: None, feed: feed(&input.value)? });
                }
            }
        }
        for (name, argument) in &call.in_outs {
            pins.push(InputPin {
                name: name.clone(),
                edge: None,
                feed: Feed::InOut(self.known.text(argument)),
            });
        }
        Some(pins)
    }

    fn outputs(&self, statement: &LogicStatement, call: &LogicCall) -> Vec<OutputPin> {
        let mut pins: Vec<OutputPin> = Vec::new();
        for member in call.standard.into_iter().flat_map(|block| shown(block, Section::Output)) {
            pins.push(OutputPin {
                name: member.name.to_owned(),
                offset: Some(member.offset),
                value: PartValue::Elementary(member.ty),
                read: None,
                ends: Vec::new(),
                stored: None,
            });
        }
        for output in &call.outputs {
            let position = pins.iter().position(|pin| pin.offset == Some(output.offset));
            let position = position.unwrap_or_else(|| {
                pins.push(OutputPin {
                    name: output.name.clone(),
                    offset: Some(output.offset),
                    value: output.target.value.clone(),
                    read: None,
                    ends: Vec::new(),
                    stored: None,
                });
                pins.len() - 1
            });
            let Some(pin) = pins.get_mut(position) else { continue };
            if output.target.value.is_bool() {
                let form = if output.negated { OutputForm::Negated } else { OutputForm::Coil };
                pin.ends.push(self.coil(form, &output.target, statement));
            } else {
                pin.stored = Some(output.target.text.clone());
            }
        }
        pins
    }

    /// Remembers what an edge detector finds the edges of.
    fn senses(&mut self, call: &LogicCall, instance: &str) {
        let edge = match call.block.as_str() {
            "R_TRIG" => Edge::Rising,
            "F_TRIG" => Edge::Falling,
            _ => return,
        };
        let clock = call.inputs.first().filter(|_| call.standard.is_some() && call.enable.is_none());
        if let Some(input) = clock.filter(|input| matches!(input.value.kind, PartKind::Variable { .. })) {
            let name = self.known.text(&input.value);
            self.known.detect(&format!("{instance}.Q"), edge, &name);
        }
    }

    /// Puts a statement that takes nothing but an output of the call to that output; tells how many statements that are.
    fn follows(
        &mut self,
        next: &'l LogicStatement,
        behind: &'l [LogicStatement],
        call: &LogicCall,
        rung: &mut CallRung,
    ) -> usize {
        let LogicKind::Assign { target, value } = &next.kind else { return 0 };
        if !next.written || !matches!(value.kind, PartKind::Variable { hidden: false, .. }) {
            return 0;
        }
        let Some(name) = member(&value.text, &rung.instance) else { return 0 };
        let Some(position) = pin(rung, call, name, value) else { return 0 };
        let mut outputs = Vec::new();
        let mut taken = 1;
        if target.is_hidden() {
            if !target.value.is_bool() {
                return 0;
            }
            self.known.keep(target, value);
            for taker in behind.iter().take_while(|taker| taker.written) {
                let Some(found) = self.takers(taker, target) else { break };
                outputs.extend(found);
                taken += 1;
            }
            if outputs.is_empty() {
                return 0;
            }
        } else if target.value.is_bool() && value.value.is_bool() {
            outputs.push(self.coil(OutputForm::Coil, target, next));
            self.stored(target, value);
        }
        let Some(pin) = rung.outputs.get_mut(position) else { return 0 };
        if outputs.is_empty() {
            if pin.stored.is_some() {
                return 0;
            }
            pin.stored = Some(target.text.clone());
            self.known.write(&target.text);
        }
        pin.ends.extend(outputs);
        pin.read.get_or_insert(value.number);
        taken
    }
}

/// The pin of a name, made where it is none yet: a block of the user shows the outputs that are used.
fn pin(rung: &mut CallRung, call: &LogicCall, name: &str, value: &Part) -> Option<usize> {
    let found = rung.outputs.iter().position(|pin| pin.name.eq_ignore_ascii_case(name));
    if found.is_some() || call.standard.is_some() || name.contains(['.', '[']) {
        return found;
    }
    if rung.inputs.iter().any(|input| input.name.eq_ignore_ascii_case(name)) {
        return None;
    }
    rung.outputs.push(OutputPin {
        name: name.to_owned(),
        offset: None,
        value: value.value.clone(),
        read: None,
        ends: Vec::new(),
        stored: None,
    });
    Some(rung.outputs.len() - 1)
}

/// The member that a path names behind an instance.
fn member<'t>(path: &'t str, instance: &str) -> Option<&'t str> {
    let (begin, rest) = (path.get(..instance.len())?, path.get(instance.len()..)?);
    rest.strip_prefix('.').filter(|_| begin.eq_ignore_ascii_case(instance))
}

fn shown(block: &'static BlockDefinition, section: Section) -> impl Iterator<Item = &'static BlockMember> {
    block.members.iter().filter(move |member| member.section == section && !member.hidden)
}

/// The edge that an input senses. Edge detectors are that as a whole.
fn sensed(block: &BlockDefinition, member: &BlockMember) -> Option<Edge> {
    match block.name {
        "R_TRIG" => Some(Edge::Rising),
        "F_TRIG" => Some(Edge::Falling),
        _ => member.edge,
    }
}
