//! An evaluator over the drawing model, and a search over the places on the grid.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_bench::{
    account::Account,
    rungs::{
        Body, Content, Element, Entry, Feed, Flow, Layout, Network, Output, OutputForm, Readings,
        ScanReadings, Shape, layout, pin_value,
    },
};
use latchwork_compiler::logic::{LogicKind, Part};

/// How much was compared.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    /// Values of inputs of blocks.
    pub values: usize,
    /// Coils, jumps, returns.
    pub ends: usize,
    /// Points of the grid.
    pub points: usize,
}

impl Counts {
    pub fn add(&mut self, other: Counts) {
        self.values += other.values;
        self.ends += other.ends;
        self.points += other.points;
    }
}

/// What a network lets through; `None` where an element that decides was not looked at.
pub fn network(network: &Network, element: &dyn Fn(&Element) -> Option<bool>) -> Option<bool> {
    match network {
        Network::Element(one) => element(one),
        Network::Series(parts) => decided(parts, false, element),
        Network::Parallel(branches) => decided(branches, true, element),
    }
}

/// One that decides settles it; else all must have been looked at.
fn decided(parts: &[Network], decides: bool, element: &dyn Fn(&Element) -> Option<bool>) -> Option<bool> {
    let mut all = Some(!decides);
    for part in parts {
        match network(part, element) {
            Some(value) if value == decides => return Some(decides),
            None => all = None,
            Some(_) => {}
        }
    }
    all
}

fn element(readings: &ScanReadings<'_>, element: &Element) -> Option<bool> {
    let value = match &element.shape {
        Shape::Constant(value) => *value,
        _ => readings.value(element.part)? & 1 == 1,
    };
    Some(value ^ element.negated)
}

/// What is drawn says what the program did in a scan.
pub fn agree(
    entry: &Entry,
    account: &Account,
    base: u32,
    scan: u32,
    counts: &mut Counts,
) -> Result<(), String> {
    let readings = ScanReadings { account, scan, base };
    if !readings.ran(entry.statements[0]) {
        return Ok(());
    }
    let through = |drawn: &Network| {
        network(drawn, &|one| element(&readings, one)).ok_or_else(|| "an element has no value".to_owned())
    };
    match &entry.body {
        Body::Rung(rung) => {
            let reached = through(&rung.network)?;
            for end in &rung.ends {
                counts.ends += 1;
                end_agrees(end, reached, &readings)?;
            }
        }
        Body::Call(call) => {
            let (_, statement) = account.statement(entry.statements[0]).unwrap();
            let LogicKind::Call(given) = &statement.kind else { return Err("no call".to_owned()) };
            for pin in &call.inputs {
                let Feed::Network(drawn) = &pin.feed else { continue };
                let input = given.inputs.iter().find(|input| input.name.eq_ignore_ascii_case(&pin.name));
                let part = input.map(|input| &input.value).or(given.enable.as_ref());
                let Some(part) = part else { return Err(format!("no input {}", pin.name)) };
                counts.values += 1;
                same(through(drawn)?, truth(part, &readings), &pin.name)?;
            }
            for pin in call.outputs.iter().filter(|pin| pin.value.is_bool()) {
                let Some(value) = pin_value(pin, call.part, &readings) else { continue };
                for end in &pin.ends {
                    counts.ends += 1;
                    end_agrees(end, value & 1 == 1, &readings)?;
                }
            }
        }
        Body::Text(_) => {}
    }
    Ok(())
}

fn same(drawn: bool, computed: Option<bool>, name: &str) -> Result<(), String> {
    match computed {
        Some(computed) if computed != drawn => Err(format!("{name} is drawn {drawn}, computed {computed}")),
        Some(_) => Ok(()),
        None => Err(format!("{name} has no value")),
    }
}

/// The value of an expression, computed from its operands where the machine has not.
fn truth(part: &Part, readings: &ScanReadings<'_>) -> Option<bool> {
    if let Some(value) = readings.value(part.number) {
        return Some(value & 1 == 1);
    }
    match part.text.as_str() {
        "TRUE" => return Some(true),
        "FALSE" => return Some(false),
        _ => {}
    }
    let [operand] = part.operands()[..] else { return None };
    truth(operand, readings).map(|value| !value)
}

fn end_agrees(end: &Output, reached: bool, readings: &ScanReadings<'_>) -> Result<(), String> {
    let (_, statement) = readings.account.statement(end.statement).unwrap();
    let ran = readings.ran(end.statement);
    let written = match &statement.kind {
        LogicKind::Assign { value, .. } => truth(value, readings),
        LogicKind::Transition(condition) => truth(condition, readings),
        LogicKind::Jump { condition, .. } => match condition {
            Some((condition, wanted)) => truth(condition, readings).map(|value| value == *wanted),
            None => Some(true),
        },
        LogicKind::Call(call) => {
            let output = call.outputs.iter().find(|output| Some(output.target.number) == end.part);
            let input = call.inputs.iter().find(|input| Some(input.value.number) == end.part);
            match (output, input) {
                // What an output gives is looked at as it is stored.
                (Some(_), _) => return Ok(()),
                (_, Some(input)) => truth(&input.value, readings),
                _ => None,
            }
        }
        LogicKind::Return => Some(ran),
        _ => None,
    };
    match end.form {
        OutputForm::Set | OutputForm::Reset => {
            same(reached, Some(ran), &end.name)?;
            if ran { same(end.form == OutputForm::Set, written, &end.name) } else { Ok(()) }
        }
        // The value behind a negated coil is that of the assignment.
        OutputForm::Negated => same(!reached, written, &end.name),
        _ => same(reached, written, &end.name),
    }
}

/// A point of the grid: boundary and row.
type Point = (usize, usize);

/// Continuity is told for exactly what a search over lines and symbols comes to.
pub fn connected(
    entry: &Entry,
    account: &Account,
    base: u32,
    scan: u32,
    counts: &mut Counts,
) -> Result<(), String> {
    let readings = ScanReadings { account, scan, base };
    let Some(layout) = layout(&entry.body) else { return Ok(()) };
    let flow = Flow::new(&layout, entry.statements.first().copied(), Some(&readings));
    let ran = readings.ran(entry.statements[0]);
    let found = search(&layout, ran, &|one| element(&readings, one) == Some(true), &|pin| {
        ran && pin_value(pin, layout.block.as_ref().unwrap().call.part, &readings)
            .is_some_and(|value| value & 1 == 1)
    });
    for (point, node) in points(&layout) {
        counts.points += 1;
        if flow.at(node) != found.contains(&point) {
            return Err(format!("continuity at {point:?}: told {}", flow.at(node)));
        }
    }
    Ok(())
}

/// The points at which something ends, with the node that is told to be there.
fn points(layout: &Layout<'_>) -> Vec<(Point, usize)> {
    let mut points = Vec::new();
    for item in &layout.items {
        match item.content {
            Content::Element(_) => {
                points.push(((item.column, item.row), item.from));
                points.push(((item.column + 1, item.row), item.to));
            }
            Content::Output(_) => points.push(((item.column, item.row), item.from)),
            // Values are no lines with continuity.
            Content::Feed(_) | Content::Value(_) => {}
        }
    }
    for wire in &layout.wires {
        points.push(((wire.from, wire.row), wire.node));
        points.push(((wire.to, wire.row), wire.node));
    }
    for drop in &layout.drops {
        points.push(((drop.boundary, drop.top), drop.node));
        points.push(((drop.boundary, drop.bottom), drop.node));
    }
    for pin in layout.block.iter().flat_map(|block| &block.inputs) {
        if let Feed::Network(_) = pin.pin.feed {
            points.push(((layout.block.as_ref().unwrap().column, pin.row), pin.node));
        }
    }
    points
}

/// All points that are reached from the left rail: along lines both ways, through symbols to the right only.
fn search(
    layout: &Layout<'_>,
    ran: bool,
    conducts: &dyn Fn(&Element) -> bool,
    gives: &dyn Fn(&latchwork_bench::rungs::OutputPin) -> bool,
) -> BTreeSet<Point> {
    let mut ways: BTreeMap<Point, Vec<Point>> = BTreeMap::new();
    let mut way = |from: Point, to: Point| ways.entry(from).or_default().push(to);
    for wire in &layout.wires {
        for column in wire.from..wire.to {
            way((column, wire.row), (column + 1, wire.row));
            way((column + 1, wire.row), (column, wire.row));
        }
    }
    for drop in &layout.drops {
        for row in drop.top..drop.bottom {
            way((drop.boundary, row), (drop.boundary, row + 1));
            way((drop.boundary, row + 1), (drop.boundary, row));
        }
    }
    let mut waiting: Vec<Point> = Vec::new();
    for item in &layout.items {
        let left = (item.column, item.row);
        match item.content {
            Content::Element(element) => {
                if conducts(element) {
                    way(left, (item.column + 1, item.row));
                }
                waiting.extend((item.column == 0 && ran).then_some(left));
            }
            Content::Output(_) => waiting.extend((item.column == 0 && ran).then_some(left)),
            _ => {}
        }
    }
    for wire in layout.wires.iter().filter(|wire| wire.from == 0 && ran) {
        waiting.push((0, wire.row));
    }
    if let Some(block) = &layout.block {
        for pin in block.outputs.iter().filter(|pin| pin.pin.value.is_bool() && gives(pin.pin)) {
            waiting.push((block.column + 1, pin.row));
        }
    }
    let mut found = BTreeSet::new();
    while let Some(point) = waiting.pop() {
        if found.insert(point) {
            waiting.extend(ways.get(&point).into_iter().flatten());
        }
    }
    found
}
