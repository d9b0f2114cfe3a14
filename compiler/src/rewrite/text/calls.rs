//! Calls in Instruction List: `CAL`, functions with the current result or a list, input operators.

use latchwork_grammar::tree::{
    self, ArgumentKind, Call, Condition, Expression, ExpressionKind, QualifiedName,
};

use latchwork_stdlib::BlockDefinition;

use super::{
    fold::{Current, Folder},
    item::ItemKind,
    value::{self, Argument, CallValue, Place, Value},
    wording,
};
use crate::rewrite::refusal::Refusal;

impl Folder<'_> {
    /// `CAL`, `CALC`, `CALCN`.
    pub(super) fn call_instruction(&mut self, condition: Condition, call: &Call) -> Result<(), Refusal> {
        let decision = self.decision(condition, false)?;
        let arguments = self.arguments(&call.arguments)?;
        let callee = self.text(call.callee.span);
        let has_result = condition == Condition::Always && self.is_method_with_result(call);
        if has_result {
            let value = Value::Call(CallValue { callee, arguments, acts: true });
            self.current = Current::Value(value, call.span);
            return Ok(());
        }
        let block = self.facts.standard_block_at(call.callee.span);
        let (first, arguments) = self.take_stored_inputs(&callee, arguments, decision.is_none(), block);
        self.emit_from(first, ItemKind::Call { callee, arguments, decision });
        Ok(())
    }

    /// Whether a call leaves a result: that of a method.
    fn is_method_with_result(&self, call: &Call) -> bool {
        match &call.callee.kind {
            ExpressionKind::Name(name) if self.scope.is_declared(*name) => false,
            ExpressionKind::Name(name) => self.facts.method_has_result(*name),
            ExpressionKind::Member { member, .. } => self.facts.method_has_result(member.name),
            _ => false,
        }
    }

    /// A function by its name, or an input operator of a standard function block.
    pub(super) fn function_instruction(
        &mut self,
        name: &QualifiedName,
        listed: bool,
        arguments: &[tree::Argument],
        live: bool,
    ) -> Result<(), Refusal> {
        let callee = self.text(name.span);
        if !listed
            && let [tree::Argument { kind: ArgumentKind::Positional(target), .. }] = arguments
            && latchwork_stdlib::function(&callee).is_none()
            && self
                .facts
                .standard_block_at(target.span)
                .is_some_and(|block| block.input_operator(&callee).is_some())
        {
            return self.input_operator(&callee, target, live);
        }
        let mut all = Vec::with_capacity(arguments.len() + 1);
        if listed {
            self.drop_current();
        } else {
            all.push(Argument::Positional(self.take()?.0));
        }
        let whole = self.at;
        all.extend(self.arguments(arguments)?);
        self.at = whole;
        let controlled = all.iter().any(|argument| match argument {
            Argument::Output(_) => true,
            Argument::Input(name, _) => name.eq_ignore_ascii_case("EN"),
            Argument::Positional(_) => false,
        });
        let standard = latchwork_stdlib::function(&callee).filter(|_| {
            name.path.is_empty() && self.facts.function(name.name.name).is_none() && !self.scope.has_methods()
        });
        let acts = standard.is_none() || controlled;
        let has_result = match standard {
            Some(found) => found.definition.outputs.is_empty(),
            None => self.facts.function(name.name.name).is_none_or(|unit| unit.result.is_some()),
        };
        if !has_result {
            self.emit(ItemKind::Call { callee, arguments: all, decision: None });
            self.current = Current::Nothing;
            return Ok(());
        }
        self.result(Value::Call(CallValue { callee, arguments: all, acts }), whole)
    }

    /// The arguments of a call.
    fn arguments(&mut self, arguments: &[tree::Argument]) -> Result<Vec<Argument>, Refusal> {
        let whole = self.at;
        let mut all = Vec::with_capacity(arguments.len());
        for argument in arguments {
            all.push(match &argument.kind {
                ArgumentKind::Positional(value) => Argument::Positional(self.operand(value)),
                ArgumentKind::Input { name, value } => {
                    Argument::Input(self.text(name.span), self.operand(value))
                }
                ArgumentKind::Output { name, negated, target } => {
                    let not = if *negated { "NOT " } else { "" };
                    Argument::Output(format!("{not}{} => {}", self.text(name.span), self.text(target.span)))
                }
                ArgumentKind::InputInstructions { name, instructions } => {
                    let outer = std::mem::replace(&mut self.current, Current::Nothing);
                    let (value, _) = self.inner(instructions)?;
                    self.current = outer;
                    Argument::Input(self.text(name.span), value)
                }
            });
        }
        self.at = whole;
        Ok(all)
    }

    /// `CU counter`: the current result becomes an input, and the operator may call the instance.
    pub(super) fn input_operator(
        &mut self,
        operator: &str,
        target: &Expression,
        live: bool,
    ) -> Result<(), Refusal> {
        let row = self.facts.standard_block_at(target.span).and_then(|block| {
            let row = block.input_operator(operator)?;
            Some((row, block.members.get(row.member)?.name))
        });
        let Some((row, input)) = row else {
            return Err(Refusal::new(
                target.span,
                "an input operator on something that is no instance",
                "set the input and call the instance",
            ));
        };
        if row.operation.is_some() && !row.calls {
            return Err(Refusal::new(
                self.at,
                format!(
                    "`{operator}` of this block loads its value at once, and Structured Text can only call the block"
                ),
                "set the input by a store, `ST` to the member, and call the block with `CAL`",
            ));
        }
        let place = match value::written(target, self.scope) {
            // The block may be reached from elsewhere, but it writes itself only.
            Place::Outside => Place::Anything,
            place => place,
        };
        if live
            && let Current::Value(value, _) = &self.current
            && (!value.is_short() || value.acts() || value.depends_on(&place))
        {
            self.keep()?;
        }
        let (value, span) = self.take()?;
        let callee = self.text(target.span);
        let kept = live.then(|| Current::Value(value.clone(), span));
        if row.calls {
            let arguments = vec![Argument::Input(input.to_owned(), value)];
            let (first, arguments) =
                self.take_stored_inputs(&callee, arguments, true, self.facts.standard_block_at(target.span));
            self.emit_from(first, ItemKind::Call { callee, arguments, decision: None });
        } else {
            self.emit(ItemKind::Assign {
                target: format!("{callee}.{input}"),
                value,
                attempt: false,
                kind: None,
            });
        }
        self.current = kept.unwrap_or(Current::Nothing);
        Ok(())
    }

    /// Inputs of an instance that were stored right before its call become arguments of the call.
    fn take_stored_inputs(
        &mut self,
        callee: &str,
        arguments: Vec<Argument>,
        always: bool,
        block: Option<&BlockDefinition>,
    ) -> (Option<u32>, Vec<Argument>) {
        let named = arguments.iter().all(|argument| match argument {
            Argument::Positional(_) => false,
            Argument::Input(name, _) => !name.eq_ignore_ascii_case("EN"),
            Argument::Output(_) => true,
        });
        // A subscript would be looked at earlier than it was.
        if !always || !named || callee.contains(['[', '^', '.']) {
            return (None, arguments);
        }
        let mut taken: Vec<Argument> = Vec::new();
        let mut first = None;
        while let Some(item) = self.items.last() {
            let ItemKind::Assign { target, value, attempt: false, .. } = &item.kind else { break };
            let Some(input) = target
                .strip_prefix(callee)
                .and_then(|rest| rest.strip_prefix('.'))
                .filter(|input| input.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'))
            else {
                break;
            };
            let given = |argument: &Argument| match argument {
                Argument::Input(name, _) => name.eq_ignore_ascii_case(input),
                _ => false,
            };
            let whole = format!("{callee}.").to_ascii_lowercase();
            // What comes later must not look at what is stored here.
            let looks = |argument: &Argument| match argument {
                Argument::Input(_, value) => {
                    wording::text(value).to_ascii_lowercase().contains(&whole) || value.acts()
                }
                _ => false,
            };
            let later = taken.iter().chain(&arguments);
            if later.clone().any(given) || later.clone().any(looks) || value.acts() {
                break;
            }
            taken.insert(0, Argument::Input(input.to_owned(), value.clone()));
            first = Some(item.from);
            self.items.pop();
        }
        let reorders = !taken.is_empty() && !arguments.iter().any(acts);
        taken.extend(arguments);
        if let (true, Some(block)) = (reorders, block) {
            // In the order in which the block declares them.
            taken.sort_by_key(|argument| match argument {
                Argument::Input(name, _) => block.member_index(name).unwrap_or(usize::MAX),
                _ => usize::MAX,
            });
        }
        (first, taken)
    }

    fn emit_from(&mut self, first: Option<u32>, kind: ItemKind) {
        self.emit(kind);
        if let (Some(first), Some(item)) = (first, self.items.last_mut()) {
            item.from = first;
        }
    }
}

/// Whether evaluating an argument does more than compute.
fn acts(argument: &Argument) -> bool {
    match argument {
        Argument::Positional(value) | Argument::Input(_, value) => value.acts(),
        Argument::Output(_) => false,
    }
}
