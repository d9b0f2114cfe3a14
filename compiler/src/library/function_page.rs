//! The page of a function.

use latchwork_stdlib::{
    Example, FunctionDefinition, Operator, Resolved, ResultType, TypeClass, conversion, operator,
};
use latchwork_vm::ElementaryType;

use super::{
    call::{Form, forms, literal_type, output_variable},
    declaration,
    names::{siblings, typed_names},
    overview::summary,
    page::{Page, Part},
    rule::rule,
};

/// The operators of Instruction List that are functions too.
pub(super) const LIST_OPERATORS: &[&str] =
    &["ADD", "SUB", "MUL", "DIV", "MOD", "AND", "OR", "XOR", "NOT", "GT", "GE", "EQ", "LE", "LT", "NE"];

const OPERATORS: &[(Operator, &str)] = &[
    (Operator::Not, "NOT"),
    (Operator::Power, "**"),
    (Operator::Multiply, "*"),
    (Operator::Divide, "/"),
    (Operator::Modulo, "MOD"),
    (Operator::Add, "+"),
    (Operator::Subtract, "-"),
    (Operator::Less, "<"),
    (Operator::Greater, ">"),
    (Operator::LessOrEqual, "<="),
    (Operator::GreaterOrEqual, ">="),
    (Operator::Equal, "="),
    (Operator::NotEqual, "<>"),
    (Operator::And, "AND"),
    (Operator::Xor, "XOR"),
    (Operator::Or, "OR"),
];

/// The operator of Structured Text that stands for a function.
pub(super) fn symbol(definition: &FunctionDefinition) -> Option<&'static str> {
    let found = OPERATORS.iter().find(|(kind, _)| operator(*kind).name == definition.name);
    found.map(|(_, symbol)| *symbol).or_else(|| time_symbol(definition))
}

/// The function that an operator of Structured Text stands for.
pub(super) fn of_symbol(symbol: &str) -> Option<&'static FunctionDefinition> {
    let symbol = if symbol == "&" { "AND" } else { symbol };
    OPERATORS.iter().find(|(_, known)| *known == symbol).map(|(kind, _)| operator(*kind))
}

/// The operator of a function on times, `ADD_TOD_TIME`.
fn time_symbol(definition: &FunctionDefinition) -> Option<&'static str> {
    let word = definition.name.split('_').next().filter(|_| definition.clause == "Table 35")?;
    let (_, symbol) = [("ADD", "+"), ("SUB", "-"), ("MUL", "*"), ("DIV", "/")]
        .into_iter()
        .find(|(name, _)| *name == word)?;
    Some(symbol)
}

/// The page of a function under one of its names.
pub(super) fn page(name: &str, resolved: &Resolved) -> Page {
    let definition = resolved.definition;
    let shown = name.replace("*_TO_*", "X_TO_Y").replace("*_TRUNC_*", "X_TRUNC_Y").replace('*', "Y");
    let mut page = Page {
        name: shown.clone(),
        kind: format!("function, {}", definition.clause),
        summary: match (resolved.from, resolved.to) {
            (Some(from), Some(to)) if definition.is_conversion() => {
                let fraction = if truncates(resolved) { ", without its fraction" } else { "" };
                format!("A value of {} as {}{fraction}.", from.name(), to.name())
            }
            (None, Some(to)) if definition.is_conversion() => {
                let fraction = if truncates(resolved) {
                    "A real without its fraction"
                } else {
                    "A value of any type that has a conversion"
                };
                format!("{fraction}, as {}.", to.name())
            }
            _ => summary(definition),
        },
        sections: Vec::new(),
    };
    let mut declared = vec![Part::Code("st", declaration::function(&shown, resolved))];
    declared.extend(types(resolved).map(Part::Words));
    page.section("Declaration", declared);
    page.section("Other forms", other_ways(name, resolved));
    page.section("What it does with the value", conversion_parts(resolved));
    page.section("Errors", vec![Part::Words(errors(resolved))]);
    page.section("Examples", examples(name, resolved));
    page
}

/// What the generic type stands for, and types that a conversion takes.
fn types(resolved: &Resolved) -> Option<String> {
    let definition = resolved.definition;
    let list = |accepts: &dyn Fn(ElementaryType) -> bool| {
        let names = ElementaryType::ALL.iter().filter(|ty| accepts(**ty)).map(|ty| ty.name());
        names.collect::<Vec<_>>().join(", ")
    };
    if definition.is_conversion() {
        let truncate = truncates(resolved);
        return match (resolved.from, resolved.to) {
            (None, Some(to)) => Some(format!(
                "IN may be of these types: {}.",
                list(&|from| conversion(from, to, truncate).is_some())
            )),
            (None, None) if definition.name == "TRUNC" => {
                Some("The result has the type that its place wants, else DINT for REAL and LINT for LREAL.".to_owned())
            }
            (None, None) if !definition.name.starts_with('*') => Some(
                "Y stands for the name of a type: TO_INT, TRUNC_INT. It takes every type from which there is a conversion."
                    .to_owned(),
            ),
            (None, None) => Some(
                "X and Y stand for names of types: INT_TO_REAL. Not every pair exists: a name without a \
                 conversion is no function."
                    .to_owned(),
            ),
            _ => None,
        };
    }
    if let Some(ty) = resolved.typed {
        return Some(format!(
            "The typed form of {} for {}: its operands must be of this type, or become it without loss.",
            definition.name,
            ty.name()
        ));
    }
    let class = definition.generic_class()?;
    let members = match class {
        TypeClass::Any => "any type, arrays and structures included".to_owned(),
        TypeClass::AnyElementary => "any elementary type".to_owned(),
        _ => format!("one of {}", list(&|ty| class.accepts(ty))),
    };
    let several = definition.parameters.iter().filter(|parameter| parameter.generic).count() > 1;
    let same = if several { ", the same for every operand that has it" } else { "" };
    Some(format!("{} stands for {members}{same}.", class.name()))
}

fn truncates(resolved: &Resolved) -> bool {
    resolved.definition.name.contains("TRUNC")
}

/// Operators and typed names.
fn other_ways(name: &str, resolved: &Resolved) -> Vec<Part> {
    let definition = resolved.definition;
    let mut parts = Vec::new();
    if let Some(symbol) = symbol(definition).filter(|_| resolved.typed.is_none()) {
        let also = if symbol == "AND" { " (or &)" } else { "" };
        let operator =
            if definition.parameters.len() == 1 { "before its operand" } else { "between operands" };
        let list = if name == "NOT" {
            " In Instruction List NOT stands alone: `LD a`, `NOT`.".to_owned()
        } else if LIST_OPERATORS.contains(&name) {
            format!(" In Instruction List {name} is an operator: `LD a`, `{name} b`.")
        } else {
            String::new()
        };
        parts.push(Part::Words(format!("In Structured Text the operator {symbol}{also} {operator}.{list}")));
    }
    let siblings = siblings(definition);
    if !siblings.is_empty() {
        parts.push(Part::Words(format!("The same for other types: {}.", siblings.join(", "))));
    }
    if resolved.typed.is_none() && !definition.is_conversion() {
        let typed = typed_names(definition);
        if !typed.is_empty() {
            parts.push(Part::Words(format!("Typed names: {}.", typed.join(", "))));
        }
    }
    parts
}

fn conversion_parts(resolved: &Resolved) -> Vec<Part> {
    let truncate = truncates(resolved);
    if !resolved.definition.is_conversion() {
        return Vec::new();
    }
    let pairs: Vec<Vec<String>> = match (resolved.from, resolved.to) {
        (Some(from), Some(to)) => return rule(from, to, truncate).map(Part::Words).into_iter().collect(),
        (None, Some(to)) => ElementaryType::ALL
            .iter()
            .filter(|from| **from != to)
            .filter_map(|from| Some(vec![from.name().to_owned(), rule(*from, to, truncate)?]))
            .collect(),
        _ => return Vec::new(),
    };
    vec![Part::Table(vec!["IN", "Rule"], merged(pairs))]
}

/// The pairs with each rule told once.
fn merged(pairs: Vec<Vec<String>>) -> Vec<Vec<String>> {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for pair in pairs {
        match rows.iter_mut().find(|row| row.last() == pair.last()) {
            Some(row) => row[0] = format!("{}, {}", row[0], pair[0]),
            None => rows.push(pair),
        }
    }
    rows
}

/// Error conditions, and what EN and ENO make of them.
fn errors(resolved: &Resolved) -> String {
    let definition = resolved.definition;
    let told = definition.is_conversion() && !conversion_parts(resolved).is_empty();
    let conditions = match definition.errors {
        _ if told => "As the rule says.",
        "" => return "None. In a call with names EN FALSE keeps the function from running, and ENO is FALSE then.".to_owned(),
        errors => errors,
    };
    format!(
        "{conditions} In a call with names ENO is FALSE after an error condition, and with EN FALSE, which keeps the \
         function from running."
    )
}

/// The examples of the row that were made under this name, or all of them.
fn examples(name: &str, resolved: &Resolved) -> Vec<Part> {
    let definition = resolved.definition;
    let all = definition.examples;
    let called = |example: &&Example| {
        if example.name.is_empty() { definition.name == name } else { example.name == name }
    };
    let mut chosen: Vec<&Example> = all.iter().filter(called).collect();
    let own = !chosen.is_empty();
    if name == definition.name || !own {
        chosen = all.iter().collect();
    }
    if let Some(ty) = resolved.typed.filter(|_| !own) {
        let of_type = |example: &&Example| {
            let literals = example.operands.iter().chain([&example.gives]);
            literals
                .into_iter()
                .any(|literal| literal.contains('#') && literal_type(literal, example) == ty.name())
        };
        let fitting: Vec<&Example> = chosen.iter().copied().filter(of_type).collect();
        if !fitting.is_empty() {
            chosen = fitting;
        }
    }
    // Under a typed name or the name of a conversion without an example of its own those of others would mislead.
    if !own && resolved.to.is_some() && definition.is_conversion() {
        chosen.retain(|example| {
            let text = |ty: Option<ElementaryType>| ty.is_some_and(ElementaryType::is_string);
            latchwork_stdlib::function(example.name).is_some_and(|other| {
                other.to == resolved.to
                    && (resolved.from.is_none() || text(other.from) == text(resolved.from))
            })
        });
    }
    let Some(first) = chosen.first() else { return Vec::new() };
    let mut parts = vec![Part::Table(
        vec!["Call", "Result"],
        chosen.iter().map(|example| vec![call(definition, example), result(definition, example)]).collect(),
    )];
    parts.push(Part::Words("The first of them in full, in Structured Text:".to_owned()));
    let written = forms(definition, first);
    let of = |wanted: &[Form]| -> String {
        let texts = written.iter().filter(|call| wanted.contains(&call.form)).map(|call| call.text.as_str());
        texts.collect()
    };
    parts.push(Part::Code("st", of(&[Form::TextFormal, Form::TextPlain, Form::TextOperator])));
    parts.push(Part::Words("In Instruction List, with names and without:".to_owned()));
    let lists: Vec<&str> = written
        .iter()
        .filter(|call| matches!(call.form, Form::ListFormal | Form::ListPlain))
        .map(|call| call.text.as_str())
        .collect();
    parts.push(Part::Code("il", lists.join("\n")));
    if name == "NOT" {
        parts.push(Part::Words(
            "NOT is an operator in both languages, so that a call with names is written with a typed name: NOT_BOOL(IN \
             := a)."
                .to_owned(),
        ));
    } else if LIST_OPERATORS.contains(&name) {
        parts.push(Part::Words(format!(
            "{name}( opens a parenthesis in Instruction List, so that there a list with names is for the typed names \
             only."
        )));
    }
    parts
}

/// `REAL_TO_INT(REAL#2.5)`
fn call(definition: &FunctionDefinition, example: &Example) -> String {
    let name = if example.name.is_empty() { definition.name } else { example.name };
    let outputs: Vec<String> = definition
        .outputs
        .iter()
        .map(|output| format!("{} => {}", output.name, output_variable(output.name)))
        .collect();
    let mut arguments: Vec<String> = if outputs.is_empty() {
        example.operands.iter().map(|operand| (*operand).to_owned()).collect()
    } else {
        // Outputs have names, so the inputs have theirs too.
        let inputs = example.operands.iter().enumerate();
        inputs
            .map(|(index, operand)| {
                let name = definition.parameter(index).map(|(name, _)| name.into_owned()).unwrap_or_default();
                format!("{name} := {operand}")
            })
            .collect()
    };
    arguments.extend(outputs);
    let with = if example.declarations.is_empty() {
        String::new()
    } else {
        format!(" where {}", example.declarations.trim_end_matches(';'))
    };
    format!("{name}({}){with}", arguments.join(", "))
}

/// `INT#2`, `INT#-32768, event overflow`
fn result(definition: &FunctionDefinition, example: &Example) -> String {
    let mut parts = Vec::new();
    if definition.result != ResultType::Nothing && !example.gives.is_empty() {
        parts.push(example.gives.to_owned());
    }
    for (output, literal) in definition.outputs.iter().zip(example.outputs) {
        parts.push(format!("{} = {literal}", output_variable(output.name)));
    }
    if let Some(kind) = example.event {
        parts.push(format!("event {}", kind.name()));
    }
    parts.join(", ")
}
