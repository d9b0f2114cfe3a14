//! Functions and function blocks declared as the standard would declare them.

use std::fmt::Write as _;

use latchwork_stdlib::{BlockDefinition, Edge, FunctionDefinition, Parameter, Resolved, ResultType};
use latchwork_vm::Section;

/// The type of a parameter, as the name of the function leaves it.
pub(super) fn parameter_type(resolved: &Resolved, parameter: &Parameter) -> &'static str {
    match (resolved.typed, resolved.from) {
        (Some(ty), _) if parameter.generic => ty.name(),
        (_, Some(ty)) => ty.name(),
        _ => parameter.class.name(),
    }
}

/// The type of the result; empty for a function without one.
pub(super) fn result_type(resolved: &Resolved) -> &'static str {
    let definition = resolved.definition;
    match definition.result {
        ResultType::Generic => match resolved.typed {
            Some(ty) => ty.name(),
            None => definition.generic_class().map_or("", |class| class.name()),
        },
        ResultType::Exact(ty) => ty.name(),
        ResultType::Parameter(index) => {
            definition.parameters.get(index).map_or("", |parameter| parameter_type(resolved, parameter))
        }
        ResultType::Named => match resolved.to {
            Some(ty) => ty.name(),
            None if definition.name == "TRUNC" => "ANY_INT",
            None => "ANY_ELEMENTARY",
        },
        ResultType::Text => {
            definition.parameters.first().map_or("ANY_STRING", |parameter| match resolved.typed {
                Some(ty) if parameter.generic => ty.name(),
                _ => "ANY_STRING",
            })
        }
        ResultType::Nothing => "",
    }
}

/// The heading of a function.
pub(super) fn function(name: &str, resolved: &Resolved) -> String {
    let definition = resolved.definition;
    let result = result_type(resolved);
    let mut out = format!("FUNCTION {name}");
    if !result.is_empty() {
        // Writing to a string cannot fail, here and below.
        let _ = write!(out, " : {result}");
    }
    out.push_str("\n  VAR_INPUT\n");
    let width = definition.parameters.iter().map(|parameter| parameter.name.len()).max().unwrap_or(0);
    for parameter in definition.parameters {
        let _ = writeln!(out, "    {:width$} : {};", parameter.name, parameter_type(resolved, parameter));
    }
    if let Some(next) = definition.parameter(definition.parameters.len()) {
        let last = definition.parameter(definition.maximum_operands() - 1);
        let last = last.map(|(name, _)| name.into_owned()).unwrap_or_default();
        let _ = writeln!(out, "    {:width$}   // as many more as needed: {} to {last}", "...", next.0);
    }
    out.push_str("  END_VAR\n");
    if !definition.outputs.is_empty() {
        out.push_str("  VAR_OUTPUT\n");
        let width = definition.outputs.iter().map(|output| output.name.len()).max().unwrap_or(0);
        for output in definition.outputs {
            let _ = writeln!(out, "    {:width$} : {};", output.name, output.ty.name());
        }
        out.push_str("  END_VAR\n");
    }
    out.push_str("END_FUNCTION\n");
    out
}

/// A function in few words: `LIMIT(MN, IN, MX)`.
pub(super) fn short(name: &str, definition: &FunctionDefinition) -> String {
    let mut names: Vec<String> =
        definition.parameters.iter().map(|parameter| parameter.name.to_owned()).collect();
    if definition.extension.is_some() {
        names.push("...".to_owned());
    }
    let outputs: Vec<&str> = definition.outputs.iter().map(|output| output.name).collect();
    if outputs.is_empty() {
        format!("{name}({})", names.join(", "))
    } else {
        format!("{name}({} => {})", names.join(", "), outputs.join(", "))
    }
}

/// A function block in few words: `CTU(CU, R, PV => Q, CV)`.
pub(super) fn short_block(name: &str, block: &BlockDefinition) -> String {
    format!(
        "{name}({} => {})",
        members(block, Section::Input).join(", "),
        members(block, Section::Output).join(", ")
    )
}

/// The names of the members of a section.
pub(super) fn members(block: &BlockDefinition, section: Section) -> Vec<&'static str> {
    let members = block.members.iter().filter(|member| member.section == section && !member.hidden);
    members.map(|member| member.name).collect()
}

/// The interface of a function block.
pub(super) fn block(block: &BlockDefinition) -> String {
    let mut out = format!("FUNCTION_BLOCK {}\n", block.name);
    let shown = || block.members.iter().filter(|member| !member.hidden);
    let width = shown().map(|member| member.name.len()).max().unwrap_or(0);
    for (section, word) in [(Section::Input, "VAR_INPUT"), (Section::Output, "VAR_OUTPUT")] {
        // Writing to a string cannot fail, here and below.
        let _ = writeln!(out, "  {word}");
        for member in shown().filter(|member| member.section == section) {
            let edge = match member.edge {
                Some(Edge::Rising) => " R_EDGE",
                Some(Edge::Falling) => " F_EDGE",
                None => "",
            };
            let _ = write!(out, "    {:width$} : {}{edge};", member.name, member.ty.name());
            if !member.aliases.is_empty() {
                let _ = write!(out, "   // also {}", member.aliases.join(", "));
            }
            out.push('\n');
        }
        out.push_str("  END_VAR\n");
    }
    out.push_str("END_FUNCTION_BLOCK\n");
    out
}
