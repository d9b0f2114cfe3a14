//! An example of a function as it is written: in Structured Text and Instruction List, with the names of its
//! parameters and without, and with the operator that stands for it.
//!
//! The tests compile and run exactly what stands here.

use std::fmt::Write as _;

use latchwork_stdlib::{Example, FunctionDefinition, Lowering, ResultType};

use super::function_page::{LIST_OPERATORS, symbol};

/// A way to write a call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// Structured Text, parameters by name.
    TextFormal,
    /// Structured Text, operands in order.
    TextPlain,
    /// Structured Text, the operator.
    TextOperator,
    /// Instruction List, parameters by name.
    ListFormal,
    /// Instruction List, the first operand as current result.
    ListPlain,
}

impl Form {
    /// A word for documents.
    pub fn name(self) -> &'static str {
        match self {
            Form::TextFormal => "st-formal",
            Form::TextPlain => "st-plain",
            Form::TextOperator => "st-operator",
            Form::ListFormal => "il-formal",
            Form::ListPlain => "il-plain",
        }
    }
}

/// A call as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The way.
    pub form: Form,
    /// Its lines, each with its line feed.
    pub text: String,
}

/// The name that an example calls.
fn name<'e>(definition: &'e FunctionDefinition, example: &'e Example) -> &'e str {
    if example.name.is_empty() { definition.name } else { example.name }
}

/// Longer calls have a line for each argument.
const LINE_MAX: usize = 80;

/// All ways there are to write the call of an example. The result is stored in `Result`, an output in a variable of
/// its name in lower case with a capital first letter.
pub fn forms(definition: &FunctionDefinition, example: &Example) -> Vec<Written> {
    let name = name(definition, example);
    let mut written = Vec::new();
    // NOT is the operator in any case: a list of names is of its typed names only.
    if name != "NOT" {
        written.push(Written {
            form: Form::TextFormal,
            text: text_call(definition, example, name, &formal(definition, example)),
        });
    }
    written.push(Written {
        form: Form::TextPlain,
        text: text_call(definition, example, name, &plain(definition, example)),
    });
    if let Some(text) = operator_call(definition, example) {
        written.push(Written { form: Form::TextOperator, text });
    }
    // In Instruction List the operators open a parenthesis with `ADD(`: there the list of names is of the typed
    // function only.
    if !LIST_OPERATORS.contains(&name) {
        written.push(Written { form: Form::ListFormal, text: list_formal(definition, example, name) });
    }
    if let Some(text) = list_plain(definition, example, name) {
        written.push(Written { form: Form::ListPlain, text });
    }
    written
}

/// What an output is stored in.
pub(super) fn output_variable(name: &str) -> String {
    let mut characters = name.chars();
    characters.next().into_iter().chain(characters.flat_map(char::to_lowercase)).collect()
}

fn outputs<'e>(
    definition: &'e FunctionDefinition,
    example: &'e Example,
) -> impl Iterator<Item = (&'static str, String)> + 'e {
    definition
        .outputs
        .iter()
        .zip(example.outputs)
        .map(|(output, _)| (output.name, output_variable(output.name)))
}

fn formal(definition: &FunctionDefinition, example: &Example) -> Vec<String> {
    let inputs = example.operands.iter().enumerate().map(|(index, operand)| {
        // A row without a parameter for the operand fails in the tests, where the name is missed.
        let name = definition.parameter(index).map(|(name, _)| name.into_owned()).unwrap_or_default();
        format!("{name} := {operand}")
    });
    inputs
        .chain(outputs(definition, example).map(|(name, variable)| format!("{name} => {variable}")))
        .collect()
}

fn plain(definition: &FunctionDefinition, example: &Example) -> Vec<String> {
    let inputs = example.operands.iter().map(|operand| (*operand).to_owned());
    inputs.chain(outputs(definition, example).map(|(_, variable)| variable)).collect()
}

fn text_call(definition: &FunctionDefinition, example: &Example, name: &str, arguments: &[String]) -> String {
    let target =
        if definition.result == ResultType::Nothing || example.gives.is_empty() { "" } else { "Result := " };
    let line = format!("{target}{name}({});\n", arguments.join(", "));
    if line.chars().count() <= LINE_MAX {
        return line;
    }
    format!("{target}{name}(\n    {}\n);\n", arguments.join(",\n    "))
}

fn operator_call(definition: &FunctionDefinition, example: &Example) -> Option<String> {
    // A typed name demands its types, the operator takes those of its operands: the same call only without it.
    if !example.name.is_empty() {
        return None;
    }
    let symbol = symbol(definition)?;
    let call = match example.operands {
        [operand] => format!("{symbol} {operand}"),
        // A comparison of more than two operands is no chain of operators.
        [_, _, _, ..] if matches!(definition.lowering, Lowering::Comparison(_)) => return None,
        operands => operands.join(&format!(" {symbol} ")),
    };
    Some(format!("Result := {call};\n"))
}

fn list_formal(definition: &FunctionDefinition, example: &Example, name: &str) -> String {
    let call = if example.gives.is_empty() { "CAL " } else { "" };
    let mut text = format!("{call}{name}(\n    {}\n)\n", formal(definition, example).join(",\n    "));
    store(&mut text, example);
    text
}

fn list_plain(definition: &FunctionDefinition, example: &Example, name: &str) -> Option<String> {
    let arguments = plain(definition, example);
    let (first, rest) = arguments.split_first()?;
    let mut text = format!("LD {first}\n{name}");
    if !rest.is_empty() {
        // Writing to a string cannot fail.
        let _ = write!(text, " {}", rest.join(", "));
    }
    text.push('\n');
    store(&mut text, example);
    Some(text)
}

fn store(text: &mut String, example: &Example) {
    if !example.gives.is_empty() {
        text.push_str("ST Result\n");
    }
}

/// The type that a literal tells: `INT` of `INT#5`, `TIME` of `T#2s`, `BOOL` of `TRUE`. A real without a literal
/// (`NaN`, `infinity`) has the type of the operands.
pub fn literal_type(literal: &str, example: &Example) -> String {
    let literal = literal.trim();
    match literal.chars().next() {
        Some('\'') => return "STRING".to_owned(),
        Some('"') => return "WSTRING".to_owned(),
        _ => {}
    }
    let Some((prefix, _)) = literal.split_once('#') else {
        let long = example.operands.iter().any(|operand| operand.starts_with("LREAL"))
            || example.declarations.contains("LREAL");
        return match literal {
            "TRUE" | "FALSE" => "BOOL",
            _ if long => "LREAL",
            _ => "REAL",
        }
        .to_owned();
    };
    let short = match prefix.to_ascii_uppercase().as_str() {
        "T" => "TIME",
        "LT" => "LTIME",
        "D" => "DATE",
        "LD" => "LDATE",
        _ => return prefix.to_owned(),
    };
    short.to_owned()
}

/// A whole program around a call: its variables, the call, and nothing else.
pub fn program(definition: &FunctionDefinition, example: &Example, written: &Written) -> String {
    let mut text = String::from("PROGRAM Example\nVAR\n");
    if !example.declarations.is_empty() {
        // Writing to a string cannot fail, here and below.
        let _ = writeln!(text, "    {}", example.declarations);
    }
    if !example.gives.is_empty() {
        let _ = writeln!(text, "    Result : {};", literal_type(example.gives, example));
    }
    for ((_, variable), literal) in outputs(definition, example).zip(example.outputs) {
        let _ = writeln!(text, "    {variable} : {};", literal_type(literal, example));
    }
    text.push_str("END_VAR\n");
    for line in written.text.lines() {
        let _ = writeln!(text, "    {line}");
    }
    text.push_str("END_PROGRAM\n");
    text
}
