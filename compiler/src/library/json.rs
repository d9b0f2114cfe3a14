//! The library as one JSON document.

use latchwork_stdlib::{blocks, families, st_body};
use latchwork_vm::Section;
use serde_json::{Value, json as value};

use super::{
    Entry,
    call::forms,
    calls, declaration,
    names::{relatives, typed_names},
    overview::Group,
};

/// Version of the form of the document.
const SCHEMA_VERSION: u32 = 1;

/// Everything about the entries of the groups.
pub fn json(groups: &[Group]) -> String {
    let names: Vec<&str> =
        groups.iter().flat_map(|group| &group.entries).flat_map(|entry| entry.names.clone()).collect();
    let functions: Vec<Value> = families()
        .iter()
        .flat_map(|family| family.rows.iter().map(move |row| (family.title, row)))
        .filter(|(_, row)| names.contains(&row.name))
        .map(|(family, row)| {
            let resolved = latchwork_stdlib::Resolved { definition: row, typed: None, from: None, to: None };
            let parameters: Vec<Value> = row
                .parameters
                .iter()
                .map(|parameter| value!({"name": parameter.name, "type": parameter.class.name(), "generic": parameter.generic}))
                .collect();
            let outputs: Vec<Value> =
                row.outputs.iter().map(|output| value!({"name": output.name, "type": output.ty.name()})).collect();
            let examples: Vec<Value> = row
                .examples
                .iter()
                .map(|example| {
                    let calls: Vec<Value> = forms(row, example)
                        .iter()
                        .map(|written| value!({"form": written.form.name(), "text": written.text}))
                        .collect();
                    value!({
                        "name": if example.name.is_empty() { row.name } else { example.name },
                        "declarations": example.declarations,
                        "operands": example.operands,
                        "gives": example.gives,
                        "outputs": example.outputs,
                        "event": example.event.map(|kind| kind.name()),
                        "calls": calls,
                    })
                })
                .collect();
            value!({
                "name": row.name,
                "family": family,
                "clause": row.clause,
                "summary": row.summary,
                "declaration": declaration::function(row.name, &resolved),
                "parameters": parameters,
                "extensible": row.extension.is_some(),
                "result": declaration::result_type(&resolved),
                "outputs": outputs,
                "operator": super::function_page::symbol(row),
                "typed_names": typed_names(row),
                "errors": row.errors,
                "examples": examples,
            })
        })
        .collect();
    let blocks: Vec<Value> = blocks()
        .filter(|block| names.contains(&block.name))
        .map(|block| {
            let members: Vec<Value> = block
                .members
                .iter()
                .filter(|member| !member.hidden)
                .map(|member| {
                    value!({
                        "name": member.name,
                        "aliases": member.aliases,
                        "section": if member.section == Section::Input { "input" } else { "output" },
                        "type": member.ty.name(),
                        "edge": member.edge.is_some(),
                    })
                })
                .collect();
            let operators: Vec<&str> =
                block.input_operators.iter().map(|operator| operator.operator).collect();
            let run = calls(block).map(
                |calls| value!({"headings": calls.headings(), "preset": calls.preset, "rows": calls.rows()}),
            );
            value!({
                "name": block.name,
                "clause": block.clause,
                "summary": block.summary,
                "declaration": declaration::block(block),
                "members": members,
                "input_operators": operators,
                "behaviour": block.edge_behaviour,
                "same_with_other_types": relatives(block),
                "body": st_body(block),
                "example": run.ok(),
            })
        })
        .collect();
    let document = value!({"schema_version": SCHEMA_VERSION, "functions": functions, "blocks": blocks});
    // Text and numbers only: nothing that has no JSON.
    serde_json::to_string_pretty(&document).unwrap_or_default() + "\n"
}

/// The group that holds an entry alone.
pub fn alone(entry: &Entry) -> Vec<Group> {
    let name = match entry {
        Entry::Function(_, resolved) => resolved.definition.name,
        Entry::Block(block) => block.name,
    };
    let mut groups = super::groups();
    for group in &mut groups {
        group.entries.retain(|entry| entry.names.contains(&name));
        for entry in &mut group.entries {
            entry.names = vec![name];
        }
    }
    groups.retain(|group| !group.entries.is_empty());
    groups
}
