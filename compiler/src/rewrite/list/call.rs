//! Calls: functions with the current result as their first argument or with a list, `CAL` of instances and methods.

use latchwork_grammar::{
    Span,
    tree::{Argument, ArgumentKind, Call, Expression, ExpressionKind, ProgramUnit, SectionKind},
};

use super::{Writer, expression::bare};
use crate::rewrite::refusal::Refusal;

/// Widest call that stands on one line.
const ONE_LINE_MAX: usize = 76;

/// Words that Instruction List takes for operators: a function of that name cannot be an instruction.
const OPERATORS: &[&str] = &[
    "LD", "LDN", "ST", "STN", "S", "R", "NOT", "ADD", "SUB", "MUL", "DIV", "MOD", "GT", "GE", "EQ", "NE",
    "LE", "LT", "AND", "ANDN", "OR", "ORN", "XOR", "XORN", "JMP", "JMPC", "JMPCN", "CAL", "CALC", "CALCN",
    "RET", "RETC", "RETCN",
];

/// One argument of a list.
enum Item<'a> {
    /// A line of its own: an output, or a value without a name.
    Plain(String, Span),
    /// `name := value`.
    Named(String, &'a Expression),
    /// `name => target`.
    Output(String, String, Span),
}

impl Writer<'_> {
    /// Leaves the value of a call as the current result.
    pub(super) fn call_value(&mut self, call: &Call, span: Span) -> Result<(), Refusal> {
        self.prefix = None;
        match &call.callee.kind {
            ExpressionKind::Name(_) => self.function(call, span),
            ExpressionKind::Member { .. } if !self.starts_at_variable(&call.callee) => {
                self.function(call, span)
            }
            _ if self.nesting > 0 => Err(Refusal::new(
                call.span,
                "a call of a method inside an expression",
                "Instruction List calls methods with `CAL`, which cannot stand between parentheses; assign the result \
                 to a variable first",
            )),
            _ => self.call("CAL", call),
        }
    }

    /// A function by its name.
    fn function(&mut self, call: &Call, span: Span) -> Result<(), Refusal> {
        let name = self.plain_text(call.callee.span);
        let unit = match call.callee.kind {
            ExpressionKind::Name(name) => self.facts.function(name),
            _ => None,
        };
        let positional: Option<Vec<&Expression>> = call
            .arguments
            .iter()
            .map(|argument| match &argument.kind {
                ArgumentKind::Positional(value) => Some(value),
                _ => None,
            })
            .collect();
        let is_operator = OPERATORS.iter().any(|word| word.eq_ignore_ascii_case(&name));
        let is_method = matches!(call.callee.kind, ExpressionKind::Name(name) if self.scope.is_method(name));
        if is_operator && is_method && self.nesting == 0 {
            return self.call("CAL", call);
        }
        if is_operator && unit.is_none() && !is_method {
            return self.operator_function(call, &name, positional, span);
        }
        if is_operator {
            return Err(Refusal::new(
                call.callee.span,
                "in Instruction List this word is an operator, not the name of a function or method",
                "give it another name",
            ));
        }
        let parameters = self.parameters(&name, unit, call.arguments.len());
        let first_is_in_out = unit.is_some_and(first_is_in_out);
        // `CU x` calls a counter, whatever else has that name.
        // An array with any bounds is no value to be loaded.
        let of_array = ["LOWER_BOUND", "UPPER_BOUND"].iter().any(|word| word.eq_ignore_ascii_case(&name));
        let ambiguous = of_array
            || call.arguments.len() == 2
                && latchwork_stdlib::blocks().any(|block| block.input_operator(&name).is_some());
        // What selects or limits is not what the function works on: its parameters are better named.
        let selects = unit.is_none()
            && call.arguments.len() > 1
            && parameters.first().is_some_and(|first| matches!(first.as_str(), "G" | "K" | "MN"));
        if let (Some(positional), true) = (&positional, selects)
            && positional.len() <= parameters.len()
        {
            let values = parameters.into_iter().zip(positional.iter().copied()).collect();
            return self.listed(&name, values, call.span);
        }
        if let Some([first, rest @ ..]) = positional.as_deref()
            && !first_is_in_out
            && !ambiguous
            && rest.iter().all(|value| self.is_operand(value))
        {
            self.load(first)?;
            let operands: Vec<String> = rest.iter().map(|value| self.operand(value)).collect();
            let end = rest.last().map_or(call.callee.span, |value| value.span);
            self.instruction(&name, &operands.join(", "), end);
            return Ok(());
        }
        self.argument_list(&name, "", &call.arguments, parameters, call.span)
    }

    /// `ADD(a, b)` and the like: operators in Instruction List.
    fn operator_function(
        &mut self,
        call: &Call,
        name: &str,
        positional: Option<Vec<&Expression>>,
        span: Span,
    ) -> Result<(), Refusal> {
        if let Some([left, right]) = positional.as_deref() {
            self.load(left)?;
            return self.combine(&name.to_ascii_uppercase(), right);
        }
        // With its type in the name it is no operator word, and may have a list.
        let values = call.arguments.iter().filter_map(|argument| match &argument.kind {
            ArgumentKind::Positional(value) => Some(value),
            ArgumentKind::Input { name, value } => {
                (!self.facts.text(name.span).eq_ignore_ascii_case("EN")).then_some(value)
            }
            _ => None,
        });
        let mut kinds =
            values.filter(|value| !is_literal(value)).map(|value| self.facts.elementary_at(bare(value).span));
        let kind = match kinds.next() {
            Some(Some(kind)) if kinds.all(|other| other == Some(kind)) => Some(kind),
            _ => None,
        };
        let typed = kind.map(|kind| format!("{}_{}", name.to_ascii_uppercase(), kind.name()));
        match typed.filter(|typed| latchwork_stdlib::function(typed).is_some()) {
            Some(typed) => {
                let parameters = self.parameters(name, None, call.arguments.len());
                self.argument_list(&typed, "", &call.arguments, parameters, span)
            }
            None => Err(Refusal::new(
                call.span,
                format!("`{name}` is an operator in Instruction List and has no list of arguments"),
                "write the operator between its operands, or use the function with its type in its name, such as \
                 `ADD_INT`",
            )),
        }
    }

    /// The names of the parameters for so many arguments, if they are known.
    fn parameters(&self, name: &str, unit: Option<&ProgramUnit>, count: usize) -> Vec<String> {
        if let Some(unit) = unit {
            return self.parameters_of(unit);
        }
        let Some(found) = latchwork_stdlib::function(name) else { return Vec::new() };
        let row = found.definition;
        let mut names: Vec<String> =
            row.parameters.iter().map(|parameter| parameter.name.to_owned()).collect();
        names.extend(row.outputs.iter().map(|output| output.name.to_owned()));
        if let Some(extension) = row.extension {
            // `MUX` has its selector before those that may be more.
            let fixed = row.parameters.len() as u32 - extension.minimum;
            while names.len() < count {
                let number = names.len() as u32 - fixed + extension.first;
                names.push(format!("{}{number}", extension.prefix));
            }
        }
        names
    }

    /// Inputs, in-outs and outputs of a unit, in the order in which they are declared.
    fn parameters_of(&self, unit: &ProgramUnit) -> Vec<String> {
        let sections = unit.sections.iter().filter(|section| {
            matches!(section.kind, SectionKind::Input | SectionKind::InOut | SectionKind::Output)
        });
        let names = sections.flat_map(|section| &section.variables).flat_map(|variable| &variable.names);
        names.map(|name| self.facts.text(name.span).to_owned()).collect()
    }

    /// `CAL`, `CALC`, `CALCN` of an instance or a method.
    pub(super) fn call(&mut self, operator: &str, call: &Call) -> Result<(), Refusal> {
        let callee = self.plain_text(call.callee.span);
        if call.arguments.is_empty() {
            self.instruction(operator, &callee, call.span);
            return Ok(());
        }
        let mut parameters = Vec::new();
        if let Some(block) = self.facts.standard_block_at(call.callee.span) {
            let edge = block.input_operators.len() == 1 && block.input_operator("CLK").is_some();
            if let [Argument { kind: ArgumentKind::Input { name, value }, .. }] = call.arguments.as_slice()
                && edge
                && operator == "CAL"
                && self.facts.text(name.span).eq_ignore_ascii_case("CLK")
            {
                self.load(value)?;
                self.instruction("CLK", &callee, call.span.after());
                return Ok(());
            }
            parameters = block.members.iter().filter(|m| !m.hidden).map(|m| m.name.to_owned()).collect();
        } else if let Some(unit) = self.facts.block_at(call.callee.span)
            && unit.extends.is_none()
        {
            parameters = self.parameters_of(unit);
        }
        self.argument_list(&callee, operator, &call.arguments, parameters, call.span)
    }

    /// `name( … )` with values by their names.
    pub(super) fn listed(
        &mut self,
        name: &str,
        values: Vec<(String, &Expression)>,
        span: Span,
    ) -> Result<(), Refusal> {
        let items = values.into_iter().map(|(name, value)| Item::Named(name, value)).collect();
        self.items(name, "", items, span)
    }

    /// `name( … )` or `CAL name( … )`.
    pub(super) fn argument_list(
        &mut self,
        name: &str,
        operator: &str,
        arguments: &[Argument],
        parameters: Vec<String>,
        span: Span,
    ) -> Result<(), Refusal> {
        // Where a value must be computed, its parameter is named, and then all are.
        let complex = arguments.iter().any(
            |argument| matches!(&argument.kind, ArgumentKind::Positional(value) if !self.is_operand(value)),
        );
        let mut items = Vec::with_capacity(arguments.len());
        for (at, argument) in arguments.iter().enumerate() {
            items.push(match &argument.kind {
                ArgumentKind::Positional(value) if complex => match parameters.get(at) {
                    Some(parameter) => Item::Named(parameter.clone(), value),
                    None => {
                        return Err(Refusal::new(
                            value.span,
                            "an argument that must be computed, for a parameter without a known name",
                            "assign the value to a variable first",
                        ));
                    }
                },
                ArgumentKind::Positional(value) => Item::Plain(self.operand(value), value.span),
                ArgumentKind::Input { name, value } => {
                    Item::Named(self.facts.text(name.span).to_owned(), value)
                }
                ArgumentKind::Output { name, negated, target } => {
                    let not = if *negated { "NOT " } else { "" };
                    let name = format!("{not}{}", self.facts.text(name.span));
                    Item::Output(name, self.operand(target), argument.span)
                }
                ArgumentKind::InputInstructions { .. } => {
                    Item::Plain(self.plain_text(argument.span), argument.span)
                }
            });
        }
        self.items(name, operator, items, span)
    }

    fn items(&mut self, name: &str, operator: &str, items: Vec<Item<'_>>, span: Span) -> Result<(), Refusal> {
        let simple = items.iter().all(|item| match item {
            Item::Plain(..) | Item::Output(..) => true,
            Item::Named(_, value) => self.is_operand(value),
        });
        let head = if operator.is_empty() { name.to_owned() } else { format!("{operator:<5} {name}") };
        if simple {
            let parts: Vec<String> = items
                .iter()
                .map(|item| match item {
                    Item::Plain(text, _) => text.clone(),
                    Item::Output(name, target, _) => format!("{name} => {target}"),
                    Item::Named(name, value) => format!("{name} := {}", self.operand(value)),
                })
                .collect();
            let line = format!("{head}({})", parts.join(", "));
            if line.len() + self.indent <= ONE_LINE_MAX {
                self.text_line(&line, span);
                return Ok(());
            }
        }
        let outer = self.indent;
        let shift = if operator.is_empty() { 0 } else { 6 };
        self.text_line(&format!("{head}("), Span::new(span.file, span.start, span.start));
        self.indent = outer + shift + 2;
        let width = items.iter().map(|item| match item {
            Item::Plain(..) => 0,
            Item::Named(name, _) | Item::Output(name, ..) => name.len(),
        });
        let width = width.max().unwrap_or(0);
        let count = items.len();
        for (at, item) in items.into_iter().enumerate() {
            let comma = if at + 1 < count { "," } else { "" };
            match item {
                Item::Plain(text, span) => self.text_line(&format!("{text}{comma}"), span),
                Item::Output(name, target, span) => {
                    self.text_line(&format!("{name:<width$} => {target}{comma}"), span);
                }
                Item::Named(name, value) if self.is_operand(value) => {
                    let text = format!("{name:<width$} := {}{comma}", self.operand(value));
                    self.text_line(&text, bare(value).span);
                }
                Item::Named(name, value) => {
                    let start = Span::new(span.file, value.span.start, value.span.start);
                    self.text_line(&format!("{name:<width$} := ("), start);
                    self.indent += 2;
                    self.nesting += 1;
                    let done = self.load(value);
                    self.nesting -= 1;
                    self.indent -= 2;
                    done?;
                    self.text_line(&format!("){comma}"), value.span.after());
                }
            }
        }
        self.indent = outer + shift;
        self.text_line(")", span.after());
        self.indent = outer;
        Ok(())
    }
}

/// Whether the first parameter of a function is an in-out, which the current result cannot be.
fn first_is_in_out(unit: &ProgramUnit) -> bool {
    let first = unit.sections.iter().find(|section| {
        matches!(section.kind, SectionKind::Input | SectionKind::InOut | SectionKind::Output)
            && !section.variables.is_empty()
    });
    first.is_some_and(|section| section.kind != SectionKind::Input)
}

/// Whether a value takes its type from what stands around it.
fn is_literal(value: &Expression) -> bool {
    match &bare(value).kind {
        ExpressionKind::Literal(_) => true,
        ExpressionKind::Unary { operand, .. } => is_literal(operand),
        _ => false,
    }
}
