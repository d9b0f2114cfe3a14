//! The page of a function block.

use latchwork_stdlib::{BlockDefinition, st_body};

use super::{
    Picture, calls, declaration,
    names::relatives,
    page::{Page, Part},
};

/// The page.
pub(super) fn page(block: &'static BlockDefinition, picture: Picture<'_>) -> Page {
    let mut page = Page {
        name: block.name.to_owned(),
        kind: format!("function block, {}", block.clause),
        summary: block.summary.to_owned(),
        sections: Vec::new(),
    };
    let mut declared = vec![Part::Code("st", declaration::block(block))];
    let relatives = relatives(block);
    if !relatives.is_empty() {
        declared.push(Part::Words(format!("The same with values of other types: {}.", relatives.join(", "))));
    }
    page.section("Interface", declared);
    page.section(
        "Edges, first call, restart",
        vec![Part::Words(format!(
            "{} An instance keeps what it remembers from call to call; two instances know nothing of each other. After \
             a cold restart it begins as at the first call; after a warm restart too, unless it was declared RETAIN.",
            block.edge_behaviour
        ))],
    );
    page.section("Calls", call_parts(block));
    page.section("An example, as it ran", shown(block, picture));
    page.section(
        "Body",
        vec![
            Part::Words("What the block does, as a function block in Structured Text. The tests run both side by side.".to_owned()),
            Part::Code("st", st_body(block).to_owned()),
        ],
    );
    page
}

fn call_parts(block: &BlockDefinition) -> Vec<Part> {
    let example = &block.example;
    let mut arguments: Vec<String> =
        example.levels.iter().map(|(input, _)| format!("{input} := {}", variable(input))).collect();
    let (name, value) = example.preset;
    if !name.is_empty() {
        arguments.push(format!("{name} := {value}"));
    }
    let output = block
        .members
        .iter()
        .find(|member| !member.hidden && member.section == latchwork_vm::Section::Output)
        .map_or("", |member| member.name);
    let text = format!("Step({});\nLamp := Step.{output};\n", arguments.join(", "));
    let mut list = format!("CAL Step(\n    {}\n)\nLD Step.{output}\nST Lamp\n", arguments.join(",\n    "));
    if let Some(operator) = block.input_operators.iter().find(|operator| operator.calls) {
        let name = operator.operator;
        list.push_str(&format!("\nLD {}\n{name} Step\n", variable(name)));
    }
    let rows = block.input_operators.iter().map(|operator| {
        let member = block.members.get(operator.member).map_or("", |member| member.name);
        let does = if operator.calls {
            format!("stores the current result in {member} and calls the block")
        } else if operator.operation.is_none() {
            format!("stores the current result in {member}")
        } else {
            format!("stores the current result in {member} and brings CV and the outputs up to date")
        };
        vec![format!("{} Step", operator.operator), does]
    });
    vec![
        Part::Words(format!(
            "With `Step : {};` declared, in Structured Text and in Instruction List:",
            block.name
        )),
        Part::Code("st", text),
        Part::Code("il", list),
        Part::Words("The input operators of Instruction List:".to_owned()),
        Part::Table(vec!["Operator", "What it does"], rows.collect()),
    ]
}

/// A variable that may stand at an input.
fn variable(input: &str) -> &'static str {
    match input {
        "IN" => "Run",
        "CLK" => "Signal",
        "CU" => "Filled",
        "CD" => "Emptied",
        "LD" => "Load",
        "S" | "S1" => "Start",
        "R1" => "Stop",
        _ => "Clear",
    }
}

fn shown(block: &'static BlockDefinition, picture: Picture<'_>) -> Vec<Part> {
    // The tests run the example of every block; one that cannot run is left out.
    let Ok(calls) = calls(block) else { return Vec::new() };
    vec![Part::Picture(picture(&calls))]
}
