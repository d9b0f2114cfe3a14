//! Instructions into statements: the current result is followed from line to line as an expression, and each store
//! takes it.
//!
//! Where a result is used again after a statement that may change what it reads, it is read back from the variable it was
//! just stored in, or kept in a new variable. Labels and jumps stay; they become IF and loops afterwards.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Name, Span,
    tree::{Condition, Expression, ExpressionKind, Instruction, InstructionOperator, Operation},
};
use latchwork_stdlib::TypeClass;

use super::{
    item::{Item, ItemKind},
    value::{self, Argument, CallValue, Value},
};
use crate::{
    check::instructions::liveness::Liveness,
    rewrite::{
        comments::Comment,
        facts::{Facts, FreshNames, NewVariable},
        list::plain_text,
        names::Scope,
        refusal::Refusal,
    },
    types::TypeId,
};

/// Deepest nesting of parentheses.
const DEPTH_MAX: u32 = 200;

/// Most operators gathered in one expression before it is kept in a variable: longer ones nobody can read.
const CHAIN_MAX: u32 = 40;

/// Most operators between parentheses, where nothing can be kept.
const INNER_CHAIN_MAX: u32 = 200;

/// The current result.
#[derive(Clone, Debug)]
pub(super) enum Current {
    /// There is none.
    Nothing,
    /// A value, and the place that tells its type.
    Value(Value, Span),
}

/// Follows one body.
pub(super) struct Folder<'a> {
    pub(super) facts: &'a Facts<'a>,
    pub(super) scope: &'a Scope<'a>,
    pub(super) comments: &'a [Comment],
    pub(super) fresh: &'a mut FreshNames<'a>,
    pub(super) variables: Vec<NewVariable>,
    pub(super) items: Vec<Item>,
    pub(super) current: Current,
    /// Where the instructions began that have not become a statement yet.
    pub(super) from: Option<u32>,
    /// The instruction that is being worked on.
    pub(super) at: Span,
    /// Where the ways to a label leave their result.
    pub(super) results: BTreeMap<Name, (String, TypeId)>,
    depth: u32,
    /// Operators gathered in the current result.
    pub(super) chain: u32,
}

impl<'a> Folder<'a> {
    /// Nothing yet.
    pub(super) fn new(
        facts: &'a Facts<'a>,
        scope: &'a Scope<'a>,
        comments: &'a [Comment],
        fresh: &'a mut FreshNames<'a>,
    ) -> Self {
        Folder {
            facts,
            scope,
            comments,
            fresh,
            variables: Vec::new(),
            items: Vec::new(),
            current: Current::Nothing,
            from: None,
            at: Span::default(),
            results: BTreeMap::new(),
            depth: 0,
            chain: 0,
        }
    }

    /// Works a body off.
    pub(super) fn body(&mut self, instructions: &[Instruction]) -> Result<(), Refusal> {
        let liveness = Liveness::of(instructions);
        let mut needed = BTreeMap::new();
        for (index, instruction) in instructions.iter().enumerate() {
            if let Some(label) = instruction.label {
                needed.entry(label.name).or_insert(liveness.at(index));
            }
        }
        let mut reached = true;
        let mut done = 0;
        for (index, instruction) in instructions.iter().enumerate() {
            if index < done {
                continue;
            }
            self.begin(instruction.span);
            if let Some(label) = instruction.label {
                self.enter_label(label.name, reached, liveness.at(index))?;
                reached = true;
            }
            let Some(operation) = &instruction.operation else { continue };
            let live = liveness.at(index + 1);
            match operation {
                Operation::Jump { condition, label, .. } => {
                    let needed = needed.get(&label.name).copied().unwrap_or(false);
                    self.jump(*condition, label.name, live, needed)?;
                    reached = *condition != Condition::Always;
                }
                Operation::Return { condition, .. } => {
                    let decision = self.decision(*condition, live)?;
                    self.emit(ItemKind::Return { decision });
                    reached = *condition != Condition::Always;
                }
                _ => match self.set_run(instructions.get(index..).unwrap_or(&[])) {
                    0 => self.operation(operation, live)?,
                    count => {
                        done = index + count;
                        let run = instructions.get(index..done).unwrap_or(&[]);
                        self.set(run, liveness.at(done))?;
                    }
                },
            }
        }
        self.drop_current();
        Ok(())
    }

    fn begin(&mut self, span: Span) {
        self.at = span;
        self.from.get_or_insert(span.start);
    }

    /// Adds what happens.
    pub(super) fn emit(&mut self, kind: ItemKind) {
        let from = self.from.take().unwrap_or(self.at.start);
        self.items.push(Item { kind, from, to: self.at.end });
    }

    /// The text of a place, on one line and without comments.
    pub(super) fn text(&self, span: Span) -> String {
        plain_text(self.facts.text(span), span.start, self.comments)
    }

    /// An operand as a value.
    pub(super) fn operand(&self, operand: &Expression) -> Value {
        let text = self.text(operand.span);
        let contextual = match &operand.kind {
            ExpressionKind::Literal(_)
            | ExpressionKind::TypedLiteral { .. }
            | ExpressionKind::QualifiedValue { .. }
            | ExpressionKind::Unary { .. }
            | ExpressionKind::Null => true,
            // The value of an enumeration is a constant without a variable of its name.
            ExpressionKind::Name(name) => {
                !self.scope.is_variable(*name) && self.facts.integer_at(operand.span).is_some()
            }
            _ => false,
        };
        if contextual {
            return Value::Literal(text);
        }
        let mut reads = Vec::new();
        value::places(operand, self.scope, &mut reads);
        let may_fail = text.contains(['[', '^', '(']);
        Value::Access { text, reads, may_fail }
    }

    /// Takes the current result, with the place of its type.
    pub(super) fn take(&mut self) -> Result<(Value, Span), Refusal> {
        match std::mem::replace(&mut self.current, Current::Nothing) {
            Current::Value(value, span) => Ok((value, span)),
            // The checker has refused it.
            Current::Nothing => {
                Err(Refusal::new(self.at, "there is no current result here", "load a value first"))
            }
        }
    }

    /// One operation; `live` tells whether the current result is used after it.
    fn operation(&mut self, operation: &Operation, live: bool) -> Result<(), Refusal> {
        match operation {
            Operation::Operator { operator, negated, operands, .. } => {
                self.operator(*operator, *negated, operands, live)
            }
            Operation::Deferred { operator, negated, first, body, .. } => {
                self.deferred(*operator, *negated, first.as_ref(), body)
            }
            Operation::Call { condition, call, .. } => self.call_instruction(*condition, call),
            Operation::Function { name, listed, arguments } => {
                self.function_instruction(name, *listed, arguments, live)
            }
            // Handled by the body; they cannot stand between parentheses.
            Operation::Jump { .. } | Operation::Return { .. } => Ok(()),
        }
    }

    fn operator(
        &mut self,
        operator: InstructionOperator,
        negated: bool,
        operands: &[Expression],
        live: bool,
    ) -> Result<(), Refusal> {
        use InstructionOperator as O;
        match (operator, operands) {
            (O::Load, [operand]) => {
                self.drop_current();
                self.from = Some(self.at.start);
                let value = self.operand(operand);
                let value = if negated { Value::Not(Box::new(value)) } else { value };
                self.current = Current::Value(value, operand.span);
                self.chain = 0;
                Ok(())
            }
            (O::Store | O::StoreAttempt, [target]) => {
                self.store(target, negated, operator == O::StoreAttempt, live)
            }
            (O::Set | O::Reset, [target]) => {
                let name = if operator == O::Set { "S" } else { "R" };
                self.input_operator(name, target, live)
            }
            (O::Not, _) => {
                let (value, _) = self.take()?;
                self.result(Value::Not(Box::new(value)), self.at)
            }
            _ => {
                let (mut value, span) = self.take()?;
                if operands.len() > 1
                    && let Some(name) = comparison_name(operator)
                {
                    // A comparison of several holds between neighbours.
                    let mut all = vec![Argument::Positional(value)];
                    all.extend(operands.iter().map(|operand| Argument::Positional(self.operand(operand))));
                    value = Value::Call(CallValue { callee: name.into(), arguments: all, acts: false });
                    return self.result(value, self.at);
                }
                self.chain += operands.len() as u32;
                for operand in operands.iter().take(INNER_CHAIN_MAX as usize) {
                    let right = self.operand(operand);
                    let right = if negated { Value::Not(Box::new(right)) } else { right };
                    value = self.binary(operator, value, right, [span, operand.span])?;
                }
                self.result(value, self.at)
            }
        }
    }

    /// Two values and the operator between them.
    fn binary(
        &mut self,
        operator: InstructionOperator,
        left: Value,
        right: Value,
        typed: [Span; 2],
    ) -> Result<Value, Refusal> {
        use latchwork_grammar::tree::BinaryOperator as B;
        let Some(operator) = operator.binary() else {
            return Err(Refusal::new(self.at, "this operator combines nothing", "write it without operands"));
        };
        if operator == B::Multiply
            && matches!(&right, Value::Literal(text) if text == "-1" || text == "-1.0")
            && !left.is_literal()
        {
            return Ok(Value::Negate(Box::new(left)));
        }
        let real = |kind| TypeClass::AnyReal.accepts(kind);
        let mut kinds = typed.iter().filter_map(|span| self.facts.elementary_at(*span)).peekable();
        let ordered = kinds.peek().is_some() && !kinds.any(real);
        Ok(Value::Binary(operator, Box::new(left), Box::new(right), ordered))
    }

    /// `AND( … )` and the like.
    fn deferred(
        &mut self,
        operator: InstructionOperator,
        negated: bool,
        first: Option<&Expression>,
        body: &[Instruction],
    ) -> Result<(), Refusal> {
        let whole = self.at;
        if stores(body) {
            self.keep()?;
        }
        let outer = std::mem::replace(&mut self.current, Current::Nothing);
        if let Some(first) = first {
            self.current = Current::Value(self.operand(first), first.span);
        }
        let (right, right_span) = self.inner(body)?;
        self.current = outer;
        self.at = whole;
        let right = if negated { Value::Not(Box::new(right)) } else { right };
        let (left, left_span) = self.take()?;
        let value = self.binary(operator, left, right, [left_span, right_span])?;
        self.result(value, whole)
    }

    /// Makes a value the current result; a long one is kept in a variable.
    pub(super) fn result(&mut self, value: Value, span: Span) -> Result<(), Refusal> {
        self.current = Current::Value(value, span);
        self.chain += 1;
        if self.depth == 0 && self.chain > CHAIN_MAX && self.chain <= INNER_CHAIN_MAX {
            return self.keep();
        }
        if self.chain > INNER_CHAIN_MAX {
            return Err(Refusal::new(
                span,
                "an expression of very many operators",
                "store a part of the result in a variable first",
            ));
        }
        Ok(())
    }

    /// The value of instructions between parentheses; what was loaded before must have been put aside.
    pub(super) fn inner(&mut self, body: &[Instruction]) -> Result<(Value, Span), Refusal> {
        self.depth += 1;
        if self.depth > DEPTH_MAX {
            return Err(Refusal::new(
                self.at,
                "nested too deeply",
                "store a part of the result in a variable first",
            ));
        }
        let liveness = Liveness::of(body);
        let from = self.from;
        let chain = std::mem::take(&mut self.chain);
        for (index, instruction) in body.iter().enumerate() {
            self.begin(instruction.span);
            let Some(operation) = &instruction.operation else { continue };
            let live = index + 1 == body.len() || liveness.at(index + 1);
            match self.set_run(std::slice::from_ref(instruction)) {
                0 => self.operation(operation, live)?,
                _ => self.set(std::slice::from_ref(instruction), live)?,
            }
            // A load inside does not begin a new statement.
            self.from = from.or(self.from);
        }
        self.depth -= 1;
        self.chain += chain;
        self.take()
    }
}

/// The function that compares several values.
fn comparison_name(operator: InstructionOperator) -> Option<&'static str> {
    Some(match operator {
        InstructionOperator::Greater => "GT",
        InstructionOperator::GreaterOrEqual => "GE",
        InstructionOperator::Equal => "EQ",
        InstructionOperator::NotEqual => "NE",
        InstructionOperator::LessOrEqual => "LE",
        InstructionOperator::Less => "LT",
        _ => return None,
    })
}

/// Whether instructions do more than compute, so that what was loaded before must be kept safe.
fn stores(instructions: &[Instruction]) -> bool {
    instructions.iter().any(|instruction| match &instruction.operation {
        Some(Operation::Operator { operator, .. }) => matches!(
            operator,
            InstructionOperator::Store
                | InstructionOperator::StoreAttempt
                | InstructionOperator::Set
                | InstructionOperator::Reset
        ),
        Some(Operation::Deferred { body, .. }) => stores(body),
        _ => false,
    })
}
