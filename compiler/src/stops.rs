//! How a program asks its inputs whether to stop: what the bench needs to tell a button that is wired the other way
//! round.
//!
//! A stop is found where the program text alone shows which level of the input ends something that keeps itself:
//!
//! - a seal-in, `Pump := (Start OR Pump) AND Stop`: what stands beside the branch that holds breaks it;
//! - the reset input of a bistable or counter, alone or in a row of OR;
//! - an IF in every scan that makes a flag FALSE which another IF makes TRUE.
//!
//! Nothing is concluded from anything else: an input beside other conditions may have a meaning of its own. Knows
//! nothing of wiring.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Names, Span,
    tree::{Area, DirectAddress, SectionKind, UnitKind},
};
use latchwork_vm::ElementaryType;

use crate::{
    layout::areas::text as address_text,
    typed::{
        Access, BlockCall, Constant, Expression, ExpressionKind, Root, Statement, StatementKind,
        TypedProgram, TypedUnit, Variable, VariableId, walk,
    },
    types::Type,
};

/// One place where an input stops something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stop {
    /// The input as the debug tables of the image name it: its address, or program and name of a `VAR_INPUT`.
    pub input: String,
    /// The level of the input that stops.
    pub level: bool,
    /// What is stopped, as it is written.
    pub target: String,
    /// How.
    pub form: StopForm,
    /// The input in the text.
    pub place: Span,
}

/// The forms of a stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StopForm {
    /// It breaks a seal-in.
    SealIn,
    /// It resets.
    Reset,
}

/// The stops of a checked program, in the order of its text. `text` gives what is written at a place.
pub(crate) fn stops<'s>(program: &TypedProgram, names: &Names, text: impl Fn(Span) -> &'s str) -> Vec<Stop> {
    let mut found = Vec::new();
    let is_input = |variable: &Variable| variable.location.as_deref().and_then(input_address).is_some();
    let global = program.globals.iter().any(is_input);
    // Most function blocks know nothing of inputs of the controller.
    let asks = |unit: &&TypedUnit| {
        global
            || unit.kind == UnitKind::Program
            || unit.variables.iter().any(|variable| variable.location.is_some())
    };
    for unit in program.units.iter().filter(asks) {
        let context = Unit { program, unit, names };
        let mut stops = Vec::new();
        context.seal_ins(&mut stops);
        context.resets(&mut stops);
        context.conditions(&mut stops);
        for stop in stops {
            let target = text(stop.target).to_owned();
            let Asked { input, level, place, form, .. } = stop;
            found.push(Stop { input, level, target, form, place });
        }
    }
    found.sort_by_key(|stop| stop.place);
    found
}

struct Asked {
    input: String,
    level: bool,
    place: Span,
    target: Span,
    form: StopForm,
}

struct Unit<'p> {
    program: &'p TypedProgram,
    unit: &'p TypedUnit,
    names: &'p Names,
}

impl<'p> Unit<'p> {
    fn seal_ins(&self, stops: &mut Vec<Asked>) {
        walk::statements(&self.unit.body, &mut |statement| {
            let StatementKind::Assign { target, value } = &statement.kind else { return };
            if target.steps.is_empty() && self.is_bool(value) {
                self.seal_in(target, value, stops);
            }
        });
    }

    /// In `a OR c AND s`, as in `(a OR c) AND s`, what stands in a row of AND beside a holding branch breaks it.
    fn seal_in(&self, target: &Access, value: &'p Expression, stops: &mut Vec<Asked>) {
        let mut pending = vec![value];
        while let Some(value) = pending.pop() {
            let row = row(value, "AND");
            if row.len() == 1 {
                let either = self::row(value, "OR");
                if either.len() > 1 {
                    pending.extend(either);
                }
                continue;
            }
            let holding: Vec<bool> = row.iter().map(|part| holds(part, target)).collect();
            if !holding.contains(&true) {
                continue;
            }
            for (part, _) in row.iter().zip(&holding).filter(|(_, holding)| !**holding) {
                // `NOT (a OR b)`: each of them breaks it.
                let breaking = match operand_of_not(part) {
                    Some(inner) => self::row(inner, "OR").into_iter().map(|inner| (inner, true)).collect(),
                    None => vec![(*part, false)],
                };
                for (value, level) in breaking {
                    self.ask(value, level, target.span, StopForm::SealIn, stops);
                }
            }
        }
    }

    /// Reset inputs of standard function blocks (tables 43 and 45).
    fn resets(&self, stops: &mut Vec<Asked>) {
        walk::statements(&self.unit.body, &mut |statement| {
            let StatementKind::CallBlock(call) = &statement.kind else { return };
            let Some(reset) = self.reset_input(call) else { return };
            for (_, value) in call.inputs.iter().filter(|(member, _)| *member == reset) {
                for part in row(value, "OR") {
                    self.ask(part, true, call.instance.span, StopForm::Reset, stops);
                }
            }
        });
    }

    fn reset_input(&self, call: &BlockCall) -> Option<u32> {
        let types = &self.program.types;
        let Type::StandardBlock(index) = types.get(types.underlying(call.instance.ty)) else { return None };
        let block = types.standard_block(*index);
        let reset = match block.name {
            "RS" => "R1",
            "SR" => "R",
            name if name.starts_with("CTU") => "R",
            _ => return None,
        };
        block.member_index(reset).map(|index| index as u32)
    }

    /// `IF Stop THEN Run := FALSE; END_IF` at the top of the body, where other conditions make `Run` TRUE and
    /// nothing else writes it.
    fn conditions(&self, stops: &mut Vec<Asked>) {
        let mut flags = Flags::default();
        flags.list(&self.unit.body, &mut Vec::new());
        for statement in &self.unit.body {
            let StatementKind::If { branches, .. } = &statement.kind else { continue };
            for (condition, body) in branches {
                for target in body.iter().filter_map(reset_flag) {
                    let Root::Variable(id) = target.root else { continue };
                    let Some(conditions) = flags.set.get(&id).filter(|_| !flags.other.contains(&id)) else {
                        continue;
                    };
                    for part in row(condition, "OR") {
                        // What the input also sets follows it and keeps nothing.
                        let asked = level(part).map(|(access, _)| &access.root);
                        if asked.is_some_and(|root| !conditions.iter().any(|c| mentions(c, root))) {
                            self.ask(part, true, target.span, StopForm::Reset, stops);
                        }
                    }
                }
            }
        }
    }

    /// Notes an input that stops when `value` has the value `when`.
    fn ask(&self, value: &Expression, when: bool, target: Span, form: StopForm, stops: &mut Vec<Asked>) {
        let Some((access, straight)) = level(value) else { return };
        let Some(input) = self.input(access) else { return };
        stops.push(Asked { input, level: straight == when, place: access.span, target, form });
    }

    /// The input of the controller that an access is.
    fn input(&self, access: &Access) -> Option<String> {
        if !access.steps.is_empty() {
            return None;
        }
        let global = |id: crate::typed::GlobalId| self.program.globals.get(id.0 as usize);
        let address = |variable: &Variable| variable.location.as_deref().and_then(input_address);
        match &access.root {
            Root::This => None,
            Root::Direct(direct) => input_address(direct),
            Root::Global(id) => global(*id).and_then(address),
            Root::Variable(id) => {
                let variable = self.unit.variables.get(id.0 as usize)?;
                if let Some(text) = address(variable) {
                    return Some(text);
                }
                if let Some(id) = variable.global {
                    return global(id).and_then(address);
                }
                let plain = self.unit.kind == UnitKind::Program
                    && variable.section == SectionKind::Input
                    && variable.edge.is_none();
                let name = variable.name.filter(|_| plain)?;
                Some(format!("{}.{}", self.names.spelling(self.unit.name), self.names.spelling(name)))
            }
        }
    }

    fn is_bool(&self, value: &Expression) -> bool {
        self.program.types.elementary_base(value.ty) == Some(ElementaryType::Bool)
    }
}

/// `%IX0.0`; none of another area or of several parts.
fn input_address(address: &DirectAddress) -> Option<String> {
    (address.area == Area::Input && !address.path.is_empty()).then(|| address_text(address))
}

/// The operands of a row of AND or OR, however it is grouped; the value itself if it is none.
fn row<'e>(value: &'e Expression, operator: &str) -> Vec<&'e Expression> {
    let mut found = Vec::new();
    let mut pending = vec![value];
    while let Some(value) = pending.pop() {
        match &value.kind {
            ExpressionKind::Standard { function, arguments, .. } if function.name == operator => {
                pending.extend(arguments.iter().rev());
            }
            _ => found.push(value),
        }
    }
    found
}

fn operand_of_not(value: &Expression) -> Option<&Expression> {
    match &value.kind {
        ExpressionKind::Standard { function, arguments, .. } if function.name == "NOT" => arguments.first(),
        _ => None,
    }
}

/// A variable or its complement, and whether it is the variable itself.
fn level(value: &Expression) -> Option<(&Access, bool)> {
    match (&value.kind, operand_of_not(value).map(|inner| &inner.kind)) {
        (ExpressionKind::Access(access), _) => Some((access, true)),
        (_, Some(ExpressionKind::Access(access))) => Some((access, false)),
        _ => None,
    }
}

/// Whether a part of a row is the target itself, or a choice with the target in it.
fn holds(value: &Expression, target: &Access) -> bool {
    row(value, "OR").into_iter().any(|part| {
        row(part, "AND").into_iter().any(|inner| match &inner.kind {
            ExpressionKind::Access(access) => walk::same_place(access, target),
            _ => false,
        })
    })
}

fn mentions(value: &Expression, root: &Root) -> bool {
    let mut found = false;
    walk::expression(value, &mut |inner| {
        found |= matches!(&inner.kind, ExpressionKind::Access(access) if access.root == *root);
    });
    found
}

/// The target of `flag := FALSE`.
fn reset_flag(statement: &Statement) -> Option<&Access> {
    match &statement.kind {
        StatementKind::Assign { target, value }
            if target.steps.is_empty()
                && matches!(value.kind, ExpressionKind::Constant(Constant::Bool(false))) =>
        {
            Some(target)
        }
        _ => None,
    }
}

/// The flags of a unit: the conditions under which each becomes TRUE, and those that are written otherwise.
#[derive(Default)]
struct Flags<'e> {
    set: BTreeMap<VariableId, Vec<&'e Expression>>,
    other: BTreeSet<VariableId>,
}

/// Most conditions around one statement that are looked at; beyond, its flag counts as written otherwise.
const CONDITIONS_MAX: usize = 32;

impl<'e> Flags<'e> {
    fn list(&mut self, statements: &'e [Statement], conditions: &mut Vec<&'e Expression>) {
        for statement in statements {
            if let StatementKind::Assign { target, value } = &statement.kind
                && let (Root::Variable(id), []) = (&target.root, &*target.steps)
            {
                match value.kind {
                    ExpressionKind::Constant(Constant::Bool(false)) => {}
                    ExpressionKind::Constant(Constant::Bool(true))
                        if (1..=CONDITIONS_MAX).contains(&conditions.len()) =>
                    {
                        let all = self.set.entry(*id).or_default();
                        all.extend_from_slice(conditions);
                        if all.len() > CONDITIONS_MAX {
                            all.clear();
                            self.other.insert(*id);
                        }
                    }
                    _ => {
                        self.other.insert(*id);
                    }
                }
                continue;
            }
            walk::own_writes(statement, &mut |write| {
                if let Root::Variable(id) = write.root {
                    self.other.insert(id);
                }
            });
            let before = conditions.len();
            if let StatementKind::If { branches, otherwise } = &statement.kind {
                for (condition, body) in branches {
                    conditions.push(condition);
                    self.list(body, conditions);
                    conditions.pop();
                }
                if !otherwise.is_empty() {
                    conditions
                        .extend(branches.iter().map(|(condition, _)| condition).take(CONDITIONS_MAX + 1));
                    self.list(otherwise, conditions);
                }
            } else {
                walk::inner_lists(statement).into_iter().for_each(|list| self.list(list, conditions));
            }
            conditions.truncate(before);
        }
    }
}
