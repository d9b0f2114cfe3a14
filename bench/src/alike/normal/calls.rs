//! Calls in the normal form.

use latchwork_grammar::tree::{Argument, ArgumentKind, BinaryOperator, Call, Expression, ExpressionKind};
use latchwork_stdlib::{BlockDefinition, FunctionDefinition};
use latchwork_vm::Section;

use super::{
    Word, Writer,
    expression::operator_of,
    kinds::Kind,
    value::{Value, order},
};

/// Most words of an instance that are repeated for each of its outputs.
const CALLEE_WORDS_MAX: usize = 100;

/// Where an argument belongs.
enum Place {
    /// The name of an input of a standard block.
    Named(&'static str),
    /// The place of a parameter of a standard function, from 0.
    Numbered(usize),
    /// A parameter of something of the author, whose names and order are the author's too.
    Anywhere,
}

impl Writer<'_> {
    /// A call that is a value.
    pub(super) fn call_value(&self, call: &Call) -> Value {
        let mut given = Vec::new();
        if let Some(function) = self.standard_function(&call.callee)
            && call.arguments.iter().all(|argument| matches!(argument.kind, ArgumentKind::Positional(_)))
        {
            given.extend(call.arguments.iter().filter_map(|argument| match &argument.kind {
                ArgumentKind::Positional(value) => Some(self.value(value)),
                _ => None,
            }));
            match as_operator(function, given) {
                Ok(value) => return value,
                Err(_) => return Value::atom(self.call(call, None)),
            }
        }
        Value::atom(self.call(call, None))
    }

    /// A function applied to values, the first of which may be the current result.
    pub(super) fn function_value(&self, callee: Vec<Word>, name: &str, values: Vec<Value>) -> Value {
        let known = latchwork_stdlib::function(name).map(|found| found.definition);
        let values = match known.map(|function| as_operator(function, values)) {
            Some(Ok(value)) => return value,
            Some(Err(values)) => values,
            None => return Value::atom(callee),
        };
        let arguments = values.into_iter().map(Value::words).collect();
        Value::atom(self.joined(callee, arguments))
    }

    /// The standard function that is called.
    fn standard_function(&self, callee: &Expression) -> Option<&'static FunctionDefinition> {
        let ExpressionKind::Name(name) = &callee.kind else { return None };
        if self.declared.unit(*name).is_some() {
            return None;
        }
        latchwork_stdlib::function(self.declared.names.spelling(*name)).map(|found| found.definition)
    }

    /// The words of a call, and behind it those of the assignments that its outputs are where it is of an instance. `first`
    /// is the current result where that is an argument.
    pub(super) fn call(&self, call: &Call, first: Option<Value>) -> Vec<Word> {
        let kind = self.scope.kind(&call.callee, self.declared);
        let instance = matches!(kind, Kind::Standard(_) | Kind::Unit(_));
        let function = self.standard_function(&call.callee).filter(|_| !instance);
        let mut callee = Vec::new();
        match &call.callee.kind {
            // A variable may have the name of a function; what is called is the function.
            ExpressionKind::Name(name) if function.is_some() => {
                let spelling = self.declared.names.spelling(*name).to_ascii_uppercase();
                callee.push(self.word(spelling, call.callee.span));
            }
            _ => self.access(&call.callee, &mut callee),
        }
        let mut arguments: Vec<(Place, Vec<Word>)> = Vec::new();
        let mut outputs = Vec::new();
        let mut count = 0;
        if let Some(first) = first {
            arguments.push((self.place(kind, function, None, count), first.words()));
            count += 1;
        }
        for argument in &call.arguments {
            let (place, value) = match &argument.kind {
                ArgumentKind::Positional(value) => {
                    count += 1;
                    (self.place(kind, function, None, count - 1), self.words(value))
                }
                ArgumentKind::Input { name, value } => {
                    let name = self.declared.names.spelling(name.name);
                    (self.place(kind, function, Some(name), count), self.words(value))
                }
                ArgumentKind::InputInstructions { name, instructions } => {
                    let name = self.declared.names.spelling(name.name);
                    (self.place(kind, function, Some(name), count), self.result_of(instructions))
                }
                ArgumentKind::Output { .. } => {
                    outputs.extend(self.output(argument, &callee, kind));
                    continue;
                }
            };
            arguments.push((place, value));
        }
        arguments.sort_by(|(one, its), (other, others)| match (one, other) {
            (Place::Numbered(one), Place::Numbered(other)) => one.cmp(other),
            (Place::Named(one), Place::Named(other)) => one.cmp(other),
            _ => order(its, others),
        });
        let arguments = arguments.into_iter().map(|(place, mut words)| {
            if let (Place::Named(name), Some(first)) = (place, words.first()) {
                let lines = first.lines;
                let word = |text: &'static str| Word { text: text.into(), variable: None, lines };
                words.splice(0..0, [word(name), word(":=")]);
            }
            words
        });
        let mut words = self.joined(callee, arguments.collect());
        words.extend(outputs);
        words
    }

    fn joined(&self, callee: Vec<Word>, arguments: Vec<Vec<Word>>) -> Vec<Word> {
        let mut words = callee;
        let Some(last) = words.last().map(|last| last.lines) else { return words };
        let mark = |text: &'static str, lines| Word { text: text.into(), variable: None, lines };
        words.push(mark("(", last));
        for (place, argument) in arguments.into_iter().enumerate() {
            if place > 0 {
                words.push(mark(",", argument.first().map_or(last, |first| first.lines)));
            }
            words.extend(argument);
        }
        let last = words.last().map_or(last, |last| last.lines);
        words.push(mark(")", last));
        words
    }

    fn place(
        &self,
        kind: Kind<'_>,
        function: Option<&'static FunctionDefinition>,
        name: Option<&str>,
        count: usize,
    ) -> Place {
        let found = match (kind, function) {
            (Kind::Standard(block), _) => input(block, name, count).map(Place::Named),
            (_, Some(function)) => parameter(function, name, count).map(Place::Numbered),
            _ => None,
        };
        found.unwrap_or(Place::Anywhere)
    }

    /// An output as what it is: of an instance an assignment, otherwise a part of the call.
    fn output(&self, argument: &Argument, callee: &[Word], kind: Kind<'_>) -> Vec<Word> {
        let ArgumentKind::Output { name, negated, target } = &argument.kind else { return Vec::new() };
        let mut words = self.words(target);
        words.push(self.word(":=", argument.span));
        let spelling = self.declared.names.spelling(name.name);
        let text = match kind {
            Kind::Standard(block) => {
                let member = block.member_index(spelling).and_then(|index| block.members.get(index));
                format!(".{}", member.map_or("name", |member| member.name))
            }
            kind => {
                let member = super::scope::member_of(kind, name.name, self.declared);
                format!(".{}", member.word(self.declared))
            }
        };
        let lines = (self.lines)(argument.span);
        let mut value: Vec<Word> =
            callee.iter().take(CALLEE_WORDS_MAX).map(|word| Word { lines, ..word.clone() }).collect();
        value.push(self.word(text, name.span));
        let value = Value::atom(value);
        words.extend(if *negated { value.negated() } else { value }.words());
        words
    }
}

/// A function as the operator that it is, or the values back.
fn as_operator(function: &FunctionDefinition, mut values: Vec<Value>) -> Result<Value, Vec<Value>> {
    use BinaryOperator as B;
    match (function.name, values.len()) {
        ("NOT", 1) => return values.pop().map(Value::negated).ok_or(values),
        ("MOVE", 1) => return values.pop().ok_or(values),
        _ => {}
    }
    let Some(operator) = operator_of(function.name) else { return Err(values) };
    let many = matches!(operator, B::And | B::Or | B::Xor | B::Add | B::Multiply);
    if values.len() != 2 && !(many && values.len() > 2) {
        return Err(values);
    }
    let mut values = values.into_iter();
    let first = values.next().ok_or_else(Vec::new)?;
    Ok(values.fold(first, |all, value| Value::binary(operator, all, value)))
}

/// The input of a standard block, by its name or its place.
fn input(block: &BlockDefinition, name: Option<&str>, count: usize) -> Option<&'static str> {
    match name {
        Some(name) => block.members.get(block.member_index(name)?).map(|member| member.name),
        None => {
            let mut inputs = block.members.iter().filter(|member| member.section == Section::Input);
            inputs.nth(count).map(|member| member.name)
        }
    }
}

/// The place of a parameter of a standard function, by its name or the number of the argument.
fn parameter(function: &FunctionDefinition, name: Option<&str>, count: usize) -> Option<usize> {
    let Some(name) = name else { return Some(count) };
    let known = function.parameters.iter().position(|own| own.name.eq_ignore_ascii_case(name));
    known.or_else(|| {
        // Further operands of an extensible function go on with the numbering.
        let extension = function.extension?;
        let (prefix, number) = name.split_at_checked(extension.prefix.len())?;
        let number: usize = number.parse().ok().filter(|_| prefix.eq_ignore_ascii_case(extension.prefix))?;
        let fixed = function.parameters.len().checked_sub(extension.minimum as usize)?;
        Some(fixed + number.checked_sub(extension.first as usize)?)
    })
}
