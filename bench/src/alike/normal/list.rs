//! Instruction List in the normal form, where it could not be rewritten into Structured Text: a program with an error, or a
//! body that the other language cannot say.
//!
//! The current result is followed from line to line as a value and becomes an assignment where it is stored, so that what
//! stands in no branch has the words that it has in Structured Text. Jumps and labels stay what they are.

use latchwork_grammar::{
    Span,
    tree::{Condition, Expression, ExpressionKind, Instruction, InstructionOperator, Operation},
};

use super::{Word, Writer, kinds::Kind, value::Value};
use crate::alike::WORDS_MAX;

/// Most words that the current result may have before it is written out and followed no further.
const RESULT_WORDS_MAX: usize = 1_000;

/// Deepest nesting of parentheses that is followed; the grammar allows no deeper one.
const DEPTH_MAX: u32 = 512;

impl Writer<'_> {
    /// A body of Instruction List.
    pub(super) fn instructions(&self, instructions: &[Instruction], words: &mut Vec<Word>) {
        self.follow(instructions, None, words, 0);
    }

    /// The last current result of some instructions.
    pub(super) fn result_of(&self, instructions: &[Instruction]) -> Vec<Word> {
        let mut words = Vec::new();
        let result = self.follow(instructions, None, &mut words, 0);
        words.extend(result.map(Value::words).unwrap_or_default());
        words
    }

    /// Follows instructions from a current result on, to the last one.
    fn follow(
        &self,
        instructions: &[Instruction],
        mut current: Option<Value>,
        words: &mut Vec<Word>,
        depth: u32,
    ) -> Option<Value> {
        for instruction in instructions {
            // A result that is stored again and again is written again and again.
            if words.len() > WORDS_MAX {
                break;
            }
            if instruction.label.is_some() {
                words.push(self.word("LABEL", instruction.span));
            }
            let span = instruction.span;
            if let Some(long) = current.take_if(|value| value.len() > RESULT_WORDS_MAX) {
                words.extend(long.words());
                current = Some(self.unknown(span));
            }
            match &instruction.operation {
                None => {}
                Some(Operation::Operator { operator, negated, operands, .. }) => {
                    current = self.operator(*operator, *negated, operands, current, span, words);
                }
                Some(Operation::Deferred { operator, negated, first, body, .. }) => {
                    let first = first.as_ref().map(|first| self.value(first));
                    let inner = match depth < DEPTH_MAX {
                        true => self.follow(body, first, words, depth + 1),
                        false => first,
                    };
                    let inner = negated_if(*negated, inner.unwrap_or_else(|| self.unknown(span)));
                    current = Some(self.combined(*operator, current, inner, span));
                }
                Some(Operation::Jump { condition, .. }) => {
                    let jump = vec![self.word("JMP", span)];
                    self.conditional(*condition, current.as_ref(), span, words, jump);
                }
                Some(Operation::Return { condition, .. }) => {
                    let leave = vec![self.word("RETURN", span)];
                    self.conditional(*condition, current.as_ref(), span, words, leave);
                }
                Some(Operation::Call { condition, call, .. }) => {
                    let call = self.call(call, None);
                    self.conditional(*condition, current.as_ref(), span, words, call);
                }
                Some(Operation::Function { name, listed, arguments }) => {
                    current = self.function(name, *listed, arguments, current, span, words);
                }
            }
        }
        current
    }

    fn unknown(&self, span: Span) -> Value {
        Value::atom(vec![self.word("result", span)])
    }

    fn operator(
        &self,
        operator: InstructionOperator,
        negated: bool,
        operands: &[Expression],
        current: Option<Value>,
        span: Span,
        words: &mut Vec<Word>,
    ) -> Option<Value> {
        use InstructionOperator as O;
        match operator {
            O::Load => operands.first().map(|operand| negated_if(negated, self.value(operand))),
            O::Store | O::StoreAttempt => {
                let value = current.unwrap_or_else(|| self.unknown(span));
                for target in operands {
                    self.access(target, words);
                    words.push(self.word(if operator == O::Store { ":=" } else { "?=" }, span));
                    words.extend(negated_if(negated, value.clone()).words());
                }
                Some(value)
            }
            O::Set | O::Reset => {
                for target in operands {
                    let name = if operator == O::Set { "S" } else { "R" };
                    if self.input(name, target, current.clone(), span, words) {
                        continue;
                    }
                    let mut store = Vec::new();
                    self.access(target, &mut store);
                    store.push(self.word(":=", span));
                    store.push(self.word(if operator == O::Set { "TRUE" } else { "FALSE" }, span));
                    self.conditional(Condition::IfTrue, current.as_ref(), span, words, store);
                }
                current
            }
            O::Not => current.map(Value::negated),
            _ => operands.iter().fold(current, |current, operand| {
                let operand = negated_if(negated, self.value(operand));
                Some(self.combined(operator, current, operand, span))
            }),
        }
    }

    fn combined(
        &self,
        operator: InstructionOperator,
        current: Option<Value>,
        right: Value,
        span: Span,
    ) -> Value {
        let left = current.unwrap_or_else(|| self.unknown(span));
        match operator.binary() {
            Some(operator) => Value::binary(operator, left, right),
            None => right,
        }
    }

    /// What happens only if the current result is TRUE or FALSE.
    fn conditional(
        &self,
        condition: Condition,
        current: Option<&Value>,
        span: Span,
        words: &mut Vec<Word>,
        then: Vec<Word>,
    ) {
        if condition == Condition::Always {
            words.extend(then);
            return;
        }
        let decision = current.cloned().unwrap_or_else(|| self.unknown(span));
        words.push(self.word("IF", span));
        words.extend(negated_if(condition == Condition::IfFalse, decision).words());
        self.close("THEN", words);
        words.extend(then);
        self.close("END_IF", words);
    }

    /// An input operator of a standard block, `CU counter`; whether it is one.
    fn input(
        &self,
        name: &str,
        instance: &Expression,
        current: Option<Value>,
        span: Span,
        words: &mut Vec<Word>,
    ) -> bool {
        let Kind::Standard(block) = self.scope.kind(instance, self.declared) else { return false };
        let Some(operator) = block.input_operator(name) else { return false };
        let Some(member) = block.members.get(operator.member) else { return false };
        let value = current.unwrap_or_else(|| self.unknown(span)).words();
        self.access(instance, words);
        if operator.calls {
            self.close("(", words);
            words.push(self.word(member.name, span));
            words.push(self.word(":=", span));
            words.extend(value);
            self.close(")", words);
        } else {
            words.push(self.word(format!(".{}", member.name), span));
            words.push(self.word(":=", span));
            words.extend(value);
        }
        true
    }

    fn function(
        &self,
        name: &latchwork_grammar::tree::QualifiedName,
        listed: bool,
        arguments: &[latchwork_grammar::tree::Argument],
        current: Option<Value>,
        span: Span,
        words: &mut Vec<Word>,
    ) -> Option<Value> {
        use latchwork_grammar::tree::{ArgumentKind, Call};
        let spelling = self.declared.names.spelling(name.name.name);
        if let ([argument], false) = (arguments, listed)
            && let ArgumentKind::Positional(instance) = &argument.kind
            && self.input(spelling, instance, current.clone(), span, words)
        {
            return current;
        }
        let callee = Expression { kind: ExpressionKind::Name(name.name.name), span: name.name.span };
        let first = current.filter(|_| !listed);
        let values: Option<Vec<Value>> = arguments
            .iter()
            .map(|argument| match &argument.kind {
                ArgumentKind::Positional(value) => Some(self.value(value)),
                _ => None,
            })
            .collect();
        let own = self.declared.unit(name.name.name).is_some();
        if let (Some(values), false, Some(_)) = (values, own, latchwork_stdlib::function(spelling)) {
            let mut word = Vec::new();
            self.access(&callee, &mut word);
            let all = first.into_iter().chain(values).collect();
            return Some(self.function_value(word, spelling, all));
        }
        let call = Call { callee, arguments: arguments.to_vec(), span };
        Some(Value::atom(self.call(&call, first)))
    }
}

fn negated_if(negated: bool, value: Value) -> Value {
    if negated { value.negated() } else { value }
}
