//! Sheets as one JSON document.
//!
//! The document is an interface: fields may be added, none is renamed or removed without a new `schema_version`. Lines
//! count from 1. `conducts` and `reached` are null without a moment; `conducts` also where an element was not looked at.

use serde_json::{Value, json};

use super::{
    layout::Content,
    model::{Body, Element, Feed, Network, Operand, Output, OutputForm, OutputPin, Shape},
    page::{Page, Placed},
    state::{conducts, literal, operand_value, pin_value},
    words::sentence,
};

/// Version of the document's form.
const SCHEMA_VERSION: u32 = 1;

/// The document, with a line end.
#[must_use]
pub fn json(pages: &[Page<'_>]) -> String {
    let sheets: Vec<Value> = pages
        .iter()
        .map(|page| {
            let entries: Vec<Value> = page.entries.iter().map(|placed| entry(placed, page)).collect();
            json!({ "title": page.title, "subtitle": page.subtitle, "entries": entries })
        })
        .collect();
    format!("{:#}\n", json!({ "schema_version": SCHEMA_VERSION, "sheets": sheets }))
}

fn entry(placed: &Placed<'_>, page: &Page<'_>) -> Value {
    let mut value = json!({
        "lines": [placed.first_line, placed.last_line],
        "source": placed.source,
        "depth": placed.entry.depth,
        "ran": placed.flow.known.then_some(placed.flow.ran),
        "told": sentence(placed, page),
    });
    let (name, body) = match &placed.entry.body {
        Body::Rung(rung) => {
            let ends: Vec<Value> = rung.ends.iter().map(|end| output(end, placed)).collect();
            ("rung", json!({ "network": network(&rung.network, page), "ends": ends }))
        }
        Body::Call(call) => {
            let inputs: Vec<Value> = call
                .inputs
                .iter()
                .map(|pin| {
                    let feed = match &pin.feed {
                        Feed::Network(drawn) => json!({ "network": network(drawn, page) }),
                        Feed::Value(given) => operand(given, page),
                        Feed::InOut(text) => json!({ "text": text }),
                        Feed::Kept { offset, value } => {
                            let kept =
                                page.readings.and_then(|readings| readings.member(call.part, *offset, value));
                            json!({ "kept": kept.and_then(|bits| literal(bits, value)) })
                        }
                    };
                    json!({ "name": pin.name, "senses_edge": pin.edge.is_some(), "feed": feed })
                })
                .collect();
            let outputs: Vec<Value> =
                call.outputs.iter().map(|out| pin(out, call.part, placed, page)).collect();
            let (instance, block) = (&call.instance, &call.block);
            ("call", json!({ "instance": instance, "block": block, "inputs": inputs, "outputs": outputs }))
        }
        Body::Text(text) => {
            let values = text.values.iter().map(|(_, operand)| self::operand(operand, page));
            ("text", json!({ "values": values.collect::<Vec<_>>(), "reason": text.reason }))
        }
    };
    if let Some(members) = value.as_object_mut() {
        members.insert(name.to_owned(), body);
        for (name, text) in [("comment", &placed.comment), ("heading", &placed.entry.heading)] {
            if let Some(text) = text {
                members.insert(name.to_owned(), json!(text));
            }
        }
    }
    value
}

/// Networks nest no deeper than the parts of a statement.
fn network(drawn: &Network, page: &Page<'_>) -> Value {
    match drawn {
        Network::Element(one) => element(one, page),
        Network::Series(parts) => {
            json!({ "series": parts.iter().map(|part| network(part, page)).collect::<Vec<_>>() })
        }
        Network::Parallel(parts) => {
            json!({ "parallel": parts.iter().map(|part| network(part, page)).collect::<Vec<_>>() })
        }
    }
}

fn element(one: &Element, page: &Page<'_>) -> Value {
    let conducts = page.readings.and_then(|readings| conducts(one, readings));
    let negated = one.negated;
    match &one.shape {
        Shape::Contact { name, edge } => {
            let detector = edge.as_ref().map(|(_, detector)| detector);
            json!({ "contact": name, "negated": negated, "edge_detector": detector, "conducts": conducts })
        }
        Shape::Constant(value) => json!({ "constant": value, "negated": negated, "conducts": conducts }),
        Shape::Compare { operator, opposite, left, right } => json!({
            "compare": operator,
            "negated": opposite,
            "left": operand(left, page),
            "right": operand(right, page),
            "conducts": conducts,
        }),
        Shape::Function { name, inputs } => json!({
            "function": name,
            "negated": negated,
            "inputs": inputs.iter().map(|input| operand(input, page)).collect::<Vec<_>>(),
            "conducts": conducts,
        }),
    }
}

fn operand(operand: &Operand, page: &Page<'_>) -> Value {
    let value = page.readings.and_then(|readings| operand_value(operand, readings));
    json!({ "input": operand.input, "text": operand.text, "value": value })
}

fn output(output: &Output, placed: &Placed<'_>) -> Value {
    let form = match output.form {
        OutputForm::Coil => "coil",
        OutputForm::Negated => "negated coil",
        OutputForm::Set => "set coil",
        OutputForm::Reset => "reset coil",
        OutputForm::Jump => "jump",
        OutputForm::Return => "return",
        OutputForm::Transition => "transition",
    };
    let own = placed
        .layout
        .items
        .iter()
        .find(|item| matches!(item.content, Content::Output(other) if std::ptr::eq(other, output)));
    let reached = own.map(|item| placed.flow.at(item.from)).filter(|_| placed.flow.known);
    json!({ "form": form, "name": output.name, "reached": reached })
}

fn pin(pin: &OutputPin, instance: u32, placed: &Placed<'_>, page: &Page<'_>) -> Value {
    let bits =
        page.readings.filter(|_| placed.flow.ran).and_then(|readings| pin_value(pin, instance, readings));
    let ends: Vec<Value> = pin.ends.iter().map(|end| output(end, placed)).collect();
    json!({
        "name": pin.name,
        "value": bits.and_then(|bits| literal(bits, &pin.value)),
        "stored": pin.stored,
        "ends": ends,
    })
}
