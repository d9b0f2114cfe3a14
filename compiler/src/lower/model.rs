//! The statements of a unit as its reader sees them: see [`crate::logic`].

use std::sync::Arc;

use latchwork_grammar::{Span, tree::UnitKind};

use super::unit::Lowering;
use crate::{
    logic::{
        LogicCall, LogicInput, LogicKind, LogicOutput, LogicStatement, LogicUnit, Part, PartKind, PartValue,
    },
    typed::{
        Access, BlockCall, BlockWork, Expression, ExpressionKind, FunctionCall, Observation, Root, Statement,
        StatementKind, Step,
    },
    types::{Type, TypeId, UnitId},
};

/// Deepest nesting of parts that is followed.
const DEPTH_MAX: u32 = 100;

/// A part without parts.
const NOTHING: PartKind = PartKind::Other { operands: Vec::new(), outputs: Vec::new() };

/// Operators whose rows are one part.
const ROWS: [&str; 5] = ["AND", "OR", "XOR", "ADD", "MUL"];

impl Lowering<'_> {
    /// Enters the unit with all its statements, unless it only takes arguments to another one.
    pub(super) fn model_unit(&mut self, body: &[Statement]) {
        let stub = self.is_stub();
        let Some(modeller) = &mut self.shared.modeller else { return };
        modeller.begin();
        if self.unit.object.forward.is_some() {
            return;
        }
        let mut statements = self.model_statements(body);
        if stub {
            statements.iter_mut().for_each(|statement| statement.span = self.closed(statement.span));
        }
        let name = self.context.names.spelling(self.unit.name).to_owned();
        let (kind, span) = (self.unit.kind, self.unit.span);
        if let Some(modeller) = &mut self.shared.modeller {
            modeller.logic.units.push(LogicUnit { name, kind, span, stub, statements, chart: None });
        }
    }

    /// The place of connections with the parenthesis that ends them.
    fn closed(&self, span: Span) -> Span {
        let text = &self.context.sources.file(span.file).text;
        let behind = text.get(span.end as usize..).unwrap_or_default();
        let blank = behind.len() - behind.trim_start().len();
        // Places are those of 32 bits.
        let end = if behind.trim_start().starts_with(')') { span.end + blank as u32 + 1 } else { span.end };
        Span { end, ..span }
    }

    /// Statements nest as deep as the grammar allows.
    fn model_statements(&mut self, statements: &[Statement]) -> Vec<LogicStatement> {
        statements.iter().filter_map(|statement| self.model_statement(statement)).collect()
    }

    fn model_statement(&mut self, statement: &Statement) -> Option<LogicStatement> {
        let modeller = self.shared.modeller.as_mut()?;
        if let StatementKind::Observe(observation) = statement.kind {
            match observation {
                Observation::Written(written) => modeller.written = written,
                Observation::Transition => modeller.transition = true,
                Observation::Statement | Observation::Labels => {}
            }
            return None;
        }
        let (number, written) = (modeller.number(), modeller.written);
        let transition = std::mem::take(&mut modeller.transition);
        modeller.name(statement, number);
        let kind = match &statement.kind {
            StatementKind::Assign { value, .. } if transition => {
                LogicKind::Transition(self.model_value(value))
            }
            StatementKind::Assign { target, value } => {
                LogicKind::Assign { value: self.model_value(value), target: self.model_access(target) }
            }
            StatementKind::CallBlock(call) => LogicKind::Call(Box::new(self.model_call(call))),
            StatementKind::Evaluate(value) => LogicKind::Evaluate(self.model_value(value)),
            StatementKind::If { branches, otherwise } => LogicKind::If {
                branches: branches
                    .iter()
                    .map(|(condition, body)| (self.model_value(condition), self.model_statements(body)))
                    .collect(),
                otherwise: self.model_statements(otherwise),
            },
            StatementKind::Case { selector, groups, otherwise } => LogicKind::Case {
                selector: self.model_value(selector),
                groups: groups
                    .iter()
                    .map(|(labels, body)| (labels.clone(), self.model_statements(body)))
                    .collect(),
                otherwise: self.model_statements(otherwise),
            },
            StatementKind::For { variable, from, to, by, body } => LogicKind::For {
                variable: self.model_access(variable),
                bounds: Box::new([from, to, by].map(|bound| self.model_value(bound))),
                body: self.model_statements(body),
            },
            StatementKind::While { condition, body } => {
                LogicKind::While { condition: self.model_value(condition), body: self.model_statements(body) }
            }
            StatementKind::Repeat { body, until } => {
                LogicKind::Repeat { body: self.model_statements(body), until: self.model_value(until) }
            }
            StatementKind::Jump { label, condition } => LogicKind::Jump {
                label: *label,
                condition: condition
                    .as_ref()
                    .map(|(condition, wanted)| (self.model_value(condition), *wanted)),
            },
            StatementKind::Label(label) => LogicKind::Label(*label),
            StatementKind::Exit => LogicKind::Exit,
            StatementKind::Continue => LogicKind::Continue,
            StatementKind::Return => LogicKind::Return,
            StatementKind::Event(_) | StatementKind::Observe(_) => return None,
        };
        let span = kind.parts().into_iter().fold(statement.span, |all, part| cover(all, part.reach()));
        Some(LogicStatement { number, span, written, kind })
    }

    fn model_call(&mut self, call: &BlockCall) -> LogicCall {
        let context = self.context;
        let types = &context.program.types;
        let (standard, unit) = match types.get(types.underlying(call.instance.ty)) {
            Type::StandardBlock(block) => (Some(types.standard_block(*block)), None),
            Type::Unit(unit) => (None, Some(*unit)),
            _ => (None, None),
        };
        let block = match (standard, unit.and_then(|unit| context.program.units.get(unit.0 as usize))) {
            (Some(standard), _) => standard.name.to_owned(),
            (None, Some(unit)) => context.names.spelling(unit.name).to_owned(),
            (None, None) => String::new(),
        };
        let enable = call.enable.as_deref().map(|enable| self.model_value(enable));
        let mut inputs = Vec::new();
        for (member, value) in &call.inputs {
            let value = self.model_value(value);
            let name = self.member_name(call.instance.ty, *member);
            inputs.push(LogicInput {
                name,
                offset: self.member_offset(Some(call.instance.ty), *member),
                value,
            });
        }
        let mut in_outs = Vec::new();
        for (member, access) in &call.in_outs {
            in_outs.push((self.member_name(call.instance.ty, *member), self.model_access(access)));
        }
        let mut outputs = Vec::new();
        for output in &call.outputs {
            outputs.push(LogicOutput {
                name: self.member_name(call.instance.ty, output.member),
                offset: self.member_offset(Some(call.instance.ty), output.member),
                negated: output.negated,
                target: self.model_access(&output.target),
            });
        }
        let enable_output = call.enable_output.as_deref().map(|target| self.model_access(target));
        LogicCall {
            instance: self.model_access(&call.instance),
            block,
            standard,
            runs: !matches!(call.work, BlockWork::Nothing),
            enable,
            inputs,
            in_outs,
            outputs,
            enable_output,
        }
    }

    /// The name of a member of an instance.
    fn member_name(&self, kind: TypeId, member: u32) -> String {
        let context = self.context;
        match self.underlying(kind) {
            Type::StandardBlock(block) => {
                let members = context.program.types.standard_block(*block).members;
                members.get(member as usize).map(|member| member.name.to_owned())
            }
            Type::Unit(unit) => self.variable_name(*unit, member),
            _ => None,
        }
        .unwrap_or_default()
    }

    fn variable_name(&self, unit: UnitId, variable: u32) -> Option<String> {
        let unit = self.context.program.units.get(unit.0 as usize)?;
        let name = unit.variables.get(variable as usize)?.name?;
        Some(self.context.names.spelling(name).to_owned())
    }

    fn model_access(&mut self, access: &Access) -> Part {
        self.access_part(access, DEPTH_MAX)
    }

    fn model_value(&mut self, value: &Expression) -> Part {
        self.value_part(value, DEPTH_MAX)
    }

    fn access_part(&mut self, access: &Access, depth: u32) -> Part {
        let number = self.new_number();
        if let Some(modeller) = &mut self.shared.modeller {
            modeller.name(access, number);
        }
        let mut subscripts = Vec::new();
        for step in &access.steps {
            let values: &[Expression] = match step {
                Step::Index(values) => values,
                Step::Character(value) => std::slice::from_ref(value),
                Step::Member(_) | Step::Dereference | Step::Partial { .. } => &[],
            };
            let computed = values.iter().filter(|value| !matches!(value.kind, ExpressionKind::Constant(_)));
            if let Some(deeper) = depth.checked_sub(1) {
                subscripts.extend(computed.map(|value| self.value_part(value, deeper)));
            }
        }
        let hidden = match &access.root {
            Root::Variable(id) => {
                self.unit.variables.get(id.0 as usize).is_some_and(|variable| variable.hidden)
            }
            _ => false,
        };
        Part {
            number,
            span: access.span,
            text: if hidden { String::new() } else { self.line(access.span) },
            value: self.part_value(access.ty),
            bytes: self.size(access.ty),
            kind: PartKind::Variable { hidden, subscripts },
        }
    }

    fn value_part(&mut self, value: &Expression, depth: u32) -> Part {
        let mut shown = value;
        // What stands between the text and the value does not show.
        while let ExpressionKind::Convert(inner)
        | ExpressionKind::CheckRange(inner)
        | ExpressionKind::Attempt { value: inner, .. } = &shown.kind
        {
            shown = inner;
        }
        let mut part = match &shown.kind {
            ExpressionKind::Access(access) => self.access_part(access, depth),
            _ => {
                let number = self.new_number();
                let kind = depth.checked_sub(1).map(|deeper| self.part_kind(shown, deeper));
                Part {
                    number,
                    span: shown.span,
                    text: self.wording(shown),
                    value: self.part_value(shown.ty),
                    bytes: self.size(shown.ty),
                    kind: kind.unwrap_or(NOTHING),
                }
            }
        };
        if part.text.is_empty() && !part.is_hidden() {
            part.text = self.wording(shown);
        }
        if let Some(modeller) = &mut self.shared.modeller {
            modeller.name(shown, part.number);
        }
        part
    }

    fn part_kind(&mut self, value: &Expression, depth: u32) -> PartKind {
        match &value.kind {
            ExpressionKind::Constant(_) => PartKind::Constant,
            ExpressionKind::Standard { function, arguments, .. } => {
                let name = function.name;
                let operands = row(name, arguments);
                let operands = operands.into_iter().map(|operand| self.value_part(operand, depth)).collect();
                PartKind::Operation { name, operands }
            }
            ExpressionKind::Function(call) => self.function_part(call, depth),
            ExpressionKind::Outputs(call) => {
                let operands = call.enable.as_deref().into_iter().chain(&call.arguments);
                let operands = operands.map(|value| self.value_part(value, depth)).collect();
                let targets =
                    call.outputs.iter().map(|output| &output.target).chain(call.enable_output.as_deref());
                let outputs = targets.map(|target| self.access_part(target, depth)).collect();
                PartKind::Other { operands, outputs }
            }
            ExpressionKind::Controlled(call) => {
                let arguments = call.arguments.iter().map(|(_, value)| value);
                let operands = call.enable.as_deref().into_iter().chain(arguments);
                let operands = operands.map(|value| self.value_part(value, depth)).collect();
                let target = call.enable_output.as_deref().into_iter();
                let outputs = target.map(|target| self.access_part(target, depth)).collect();
                PartKind::Other { operands, outputs }
            }
            ExpressionKind::Bound(bound) => PartKind::Other {
                operands: vec![self.value_part(&bound.dimension, depth)],
                outputs: Vec::new(),
            },
            // The first four do not come here.
            ExpressionKind::Convert(_)
            | ExpressionKind::CheckRange(_)
            | ExpressionKind::Attempt { .. }
            | ExpressionKind::Access(_)
            | ExpressionKind::Reference(_)
            | ExpressionKind::ScanTime => NOTHING,
        }
    }

    fn function_part(&mut self, call: &FunctionCall, depth: u32) -> PartKind {
        let unit = self.context.program.units.get(call.unit.0 as usize);
        let name = unit.map(|unit| match unit.kind {
            UnitKind::Method => self.context.names.spelling(unit.name).rsplit('.').next().unwrap_or_default(),
            _ => self.context.names.spelling(unit.name),
        });
        let name = name.unwrap_or_default().to_owned();
        let mut inputs = Vec::new();
        for (variable, value) in &call.inputs {
            let input = self.variable_name(call.unit, *variable).unwrap_or_default();
            inputs.push((input, self.value_part(value, depth)));
        }
        let mut outputs = Vec::new();
        let in_outs = call.in_outs.iter().map(|(variable, access)| (*variable, access));
        for (variable, access) in
            in_outs.chain(call.outputs.iter().map(|output| (output.member, &output.target)))
        {
            let output = self.variable_name(call.unit, variable).unwrap_or_default();
            outputs.push((output, self.access_part(access, depth)));
        }
        if let Some(access) = call.enable_output.as_deref() {
            outputs.push(("ENO".to_owned(), self.access_part(access, depth)));
        }
        PartKind::Function { name, inputs, outputs }
    }

    fn new_number(&mut self) -> u32 {
        self.shared.modeller.as_mut().map_or(0, super::note::Modeller::number)
    }

    fn part_value(&mut self, kind: TypeId) -> PartValue {
        let context = self.context;
        match self.underlying(kind) {
            Type::Enumeration(id) => {
                let id = *id;
                let Some(modeller) = &mut self.shared.modeller else { return PartValue::Other };
                let names = modeller.enumerations.entry(id).or_insert_with(|| {
                    let values = &context.program.types.enumeration(id).values;
                    let named = values.iter().map(|(name, value)| {
                        // The checker has limited them to DINT.
                        (context.names.spelling(*name).to_owned(), i64::try_from(*value).unwrap_or_default())
                    });
                    named.collect()
                });
                PartValue::Enumeration(Arc::clone(names))
            }
            _ if self.scalar_of(kind).is_some() => {
                self.elementary(kind).map_or(PartValue::Other, PartValue::Elementary)
            }
            _ => PartValue::Other,
        }
    }
}

/// The operands of an operator; of a row of the same operator all of them, from left to right.
fn row<'e>(name: &str, arguments: &'e [Expression]) -> Vec<&'e Expression> {
    let mut operands: Vec<&Expression> = Vec::new();
    let mut rest = arguments;
    while let (true, Some((first, others))) = (ROWS.contains(&name), rest.split_first()) {
        operands.extend(others.iter().rev());
        match &first.kind {
            ExpressionKind::Standard { function, arguments, .. } if function.name == name => rest = arguments,
            _ => {
                operands.push(first);
                operands.reverse();
                return operands;
            }
        }
    }
    arguments.iter().collect()
}

fn cover(all: Span, part: Span) -> Span {
    if all.file == part.file { all.to(part) } else { all }
}
