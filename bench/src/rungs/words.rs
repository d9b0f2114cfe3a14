//! What a rung does in words, and statements in text with their values.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_stdlib::Edge;
use unicode_width::UnicodeWidthStr;

use super::{
    layout::Content,
    model::{Body, Element, Feed, Output, OutputForm, Shape, TextBody},
    page::{Page, Placed, from_line_start},
    state::{conducts, operand_value},
};
use crate::diagram::words::crop;

/// Most elements that are named in a sentence.
const NAMED_MAX: usize = 6;

/// Most lines of a statement in text.
const LINES_MAX: usize = 40;

/// Numbers of lines for the margin.
pub(super) fn place(first: u32, last: u32) -> String {
    match (first, last) {
        (0, _) => String::new(),
        (first, last) if first == last => first.to_string(),
        (first, last) => format!("{first}-{last}"),
    }
}

/// An element in words, as the condition under which it conducts.
pub(super) fn element_words(element: &Element) -> String {
    match &element.shape {
        Shape::Contact { edge: Some((Edge::Rising, detector)), name } => {
            format!("rise of {name} ({detector})")
        }
        Shape::Contact { edge: Some((Edge::Falling, detector)), name } => {
            format!("fall of {name} ({detector})")
        }
        Shape::Contact { name, edge: None } => not(element.negated, name),
        Shape::Constant(value) => {
            let word = if *value { "TRUE" } else { "FALSE" };
            if element.negated { format!("NOT {word}") } else { format!("the constant {word}") }
        }
        Shape::Compare { operator, opposite, left, right } => {
            let whole = format!("{} {operator} {}", left.text, right.text);
            if *opposite { format!("NOT ({whole})") } else { whole }
        }
        Shape::Function { name, inputs } => {
            let inputs: Vec<&str> = inputs.iter().map(|input| input.text.as_str()).collect();
            let whole =
                if inputs.is_empty() { name.clone() } else { format!("{name}({})", inputs.join(", ")) };
            not(element.negated, &whole)
        }
    }
}

/// An element in words that does not conduct.
fn open_words(element: &Element) -> String {
    match &element.shape {
        Shape::Contact { edge: None, name } if element.negated => format!("{name} (TRUE)"),
        Shape::Contact { edge: None, name } => name.clone(),
        _ => element_words(element),
    }
}

/// The same with whether it conducts, for who points at it.
pub(super) fn element_state(element: &Element, page: &Page<'_>) -> String {
    let words = element_words(element);
    match page.readings.map(|readings| conducts(element, readings)) {
        None => words,
        Some(Some(true)) => format!("{words}: conducts"),
        Some(Some(false)) => format!("{words}: does not conduct"),
        Some(None) => format!("{words}: not looked at"),
    }
}

fn not(negated: bool, name: &str) -> String {
    if negated { format!("NOT {name}") } else { name.to_owned() }
}

/// What a rung did in this scan and why, in one or more sentences; empty if nothing is known of it.
#[must_use]
pub fn sentence(placed: &Placed<'_>, page: &Page<'_>) -> String {
    if !placed.flow.known {
        return String::new();
    }
    if !placed.flow.ran {
        let transition = matches!(&placed.entry.body, Body::Rung(rung)
            if rung.ends.iter().any(|end| end.form == OutputForm::Transition));
        return match transition {
            true => "Not looked at in this scan: the steps in front of it were not active.".to_owned(),
            false => "Did not run in this scan.".to_owned(),
        };
    }
    let mut told = match &placed.entry.body {
        Body::Rung(rung) => {
            let node = placed.layout.items.iter().find_map(|item| match item.content {
                Content::Output(_) => Some(item.from),
                _ => None,
            });
            let reached = node.is_some_and(|node| placed.flow.at(node));
            let effects: Vec<String> = rung.ends.iter().map(|end| effect(end, reached, page)).collect();
            let begins_with_name = rung.ends.first().is_some_and(|end| end.form.is_coil());
            let effects = match effects.join(", ") {
                effects if begins_with_name => effects,
                effects => capitalized(&effects),
            };
            match reason(placed, page, node.unwrap_or(0)) {
                reason if reason.is_empty() => vec![effects],
                reason => vec![format!("{effects}: {reason}")],
            }
        }
        Body::Call(_) => {
            let inputs = placed.layout.block.iter().flat_map(|block| &block.inputs);
            let networks = inputs.filter(|input| matches!(input.pin.feed, Feed::Network(_)));
            let mut told: Vec<String> = networks
                .map(|input| {
                    let word = truth(placed.flow.at(input.node));
                    let reason = reason(placed, page, input.node);
                    format!("{} is {word}: {reason}", input.pin.name).trim_end_matches(": ").to_owned()
                })
                .collect();
            for output in placed.layout.block.iter().flat_map(|block| &block.outputs) {
                let reached = placed.flow.at(output.node);
                let effects = placed.layout.items.iter().filter_map(|item| match item.content {
                    Content::Output(end) if item.from == output.node => Some(effect(end, reached, page)),
                    _ => None,
                });
                let effects: Vec<String> = effects.collect();
                if !effects.is_empty() {
                    told.push(format!(
                        "{} is {}, so {}",
                        output.pin.name,
                        truth(reached),
                        effects.join(", ")
                    ));
                }
            }
            told
        }
        Body::Text(_) => Vec::new(),
    };
    let times = placed.entry.statements.first().zip(page.readings);
    let times = times.map_or(0, |(statement, readings)| readings.times(*statement));
    if times > 1 && placed.entry.body.is_drawn() {
        told.push(format!("Ran {times} times in this scan; this was the last"));
    }
    told.iter().map(|sentence| format!("{sentence}.")).collect::<Vec<_>>().join(" ")
}

fn truth(value: bool) -> &'static str {
    if value { "TRUE" } else { "FALSE" }
}

/// Words that begin a sentence.
fn capitalized(words: &str) -> String {
    let mut characters = words.chars();
    let first = characters.next().map(|first| first.to_ascii_uppercase());
    first.into_iter().chain(characters).collect()
}

/// What an output did.
fn effect(output: &Output, reached: bool, page: &Page<'_>) -> String {
    let name = &output.name;
    let kept = |act: &str| {
        let written = page.readings.zip(output.part).map(|(readings, part)| readings.written(part));
        match written {
            Some(None) => format!("{name} is left as it is (not {act} here yet)"),
            _ => format!("{name} is left as it is"),
        }
    };
    match (output.form, reached) {
        (OutputForm::Coil, true) | (OutputForm::Negated, false) => format!("{name} is TRUE"),
        (OutputForm::Coil, false) | (OutputForm::Negated, true) => format!("{name} is FALSE"),
        (OutputForm::Set, true) => format!("{name} is set to TRUE"),
        (OutputForm::Reset, true) => format!("{name} is reset to FALSE"),
        (OutputForm::Set, false) => kept("set"),
        (OutputForm::Reset, false) => kept("reset"),
        (OutputForm::Jump, true) => format!("jumps to {name}"),
        (OutputForm::Jump, false) => format!("no jump to {name}"),
        (OutputForm::Return, true) => "returns".to_owned(),
        (OutputForm::Return, false) => "goes on".to_owned(),
        (OutputForm::Transition, true) => format!("the transition to {name} clears"),
        (OutputForm::Transition, false) => format!("the transition to {name} does not clear"),
    }
}

/// Why there is continuity up to a node, or where it ends.
fn reason(placed: &Placed<'_>, page: &Page<'_>, node: usize) -> String {
    let Some(readings) = page.readings else { return String::new() };
    let mut elements = Vec::new();
    for item in &placed.layout.items {
        if let Content::Element(element) = item.content {
            elements.push((item.from, item.to, element, conducts(element, readings) == Some(true)));
        }
    }
    if placed.flow.at(node) {
        // Backwards along what conducts, always the first of several ways.
        let mut into: BTreeMap<usize, (usize, &Element)> = BTreeMap::new();
        for (from, to, element, conducts) in &elements {
            if *conducts && placed.flow.at(*from) {
                into.entry(*to).or_insert((*from, element));
            }
        }
        let mut path = Vec::new();
        let mut at = node;
        while let Some((from, element)) = into.remove(&at) {
            path.push(element_words(element));
            at = from;
        }
        path.reverse();
        return if path.is_empty() { String::new() } else { format!("through {}", list(&path)) };
    }
    // What leads to the node, and what has continuity up to it and does not conduct.
    let mut before = vec![node];
    let mut index = 0;
    while let Some(at) = before.get(index).copied() {
        for (from, to, ..) in &elements {
            if *to == at && !before.contains(from) {
                before.push(*from);
            }
        }
        index += 1;
    }
    let mut open: Vec<String> = elements
        .iter()
        .filter(|(from, to, _, conducts)| {
            // Another branch may lead past it.
            !conducts && placed.flow.at(*from) && !placed.flow.at(*to) && before.contains(to)
        })
        .map(|(_, _, element, _)| open_words(element))
        .collect();
    let mut named = BTreeSet::new();
    open.retain(|words| named.insert(words.clone()));
    if open.is_empty() { "no continuity".to_owned() } else { format!("open at {}", list(&open)) }
}

fn list(words: &[String]) -> String {
    let more = words.len().saturating_sub(NAMED_MAX);
    let shown = words.get(..words.len() - more).unwrap_or_default();
    match (more, shown.split_last()) {
        (0, Some((last, []))) => last.clone(),
        (0, Some((last, first))) => format!("{} and {last}", first.join(", ")),
        (more, _) => format!("{} and {more} more", shown.join(", ")),
    }
}

/// A row of pieces in as many rows as it needs, none wider than `room` columns, each piece made fit to be shown by
/// `clean`. A value stays with what it is the value of.
pub(super) fn folded(
    row: &[(bool, String)],
    room: usize,
    mark: char,
    clean: impl Fn(&str) -> String,
) -> Vec<Vec<(bool, String)>> {
    let mut words: Vec<Vec<(bool, String)>> = vec![Vec::new()];
    for (is_value, piece) in row {
        let parts: Vec<&str> =
            if *is_value { vec![piece.as_str()] } else { piece.split_inclusive(' ').collect() };
        for part in parts {
            if let Some(word) = words.last_mut() {
                word.push((*is_value, clean(part)));
            }
            if !is_value && part.ends_with(' ') {
                words.push(Vec::new());
            }
        }
    }
    let mut rows: Vec<Vec<(bool, String)>> = vec![Vec::new()];
    let mut used = 0;
    for word in words {
        let width: usize = word.iter().map(|(_, piece)| piece.width()).sum();
        let blank = word.last().map_or(0, |(_, piece)| piece.width() - piece.trim_end().width());
        if used > 0 && used + width - blank > room {
            rows.push(Vec::new());
            used = 0;
        }
        for (is_value, piece) in word {
            let piece = if used + piece.trim_end().width() > room {
                crop(&piece, room.saturating_sub(used), mark)
            } else {
                piece
            };
            used += piece.width();
            if let Some(row) = rows.last_mut() {
                row.push((is_value, piece));
            }
        }
    }
    for row in &mut rows {
        if let Some((_, last)) = row.last_mut() {
            last.truncate(last.trim_end().len());
        }
    }
    rows
}

/// A statement in text, a line of the source a line, in pieces: whether each is a value.
pub(super) fn pieces(text: &TextBody, page: &Page<'_>, ran: bool) -> Vec<Vec<(bool, String)>> {
    let mut rows: Vec<Vec<(bool, String)>> = vec![vec![(false, text.before.clone())]];
    let whole = text.before.is_empty() && text.behind.is_empty();
    let span = text.source.map(|span| if whole { from_line_start(span, page.sources) } else { span });
    if let Some(span) = span {
        let mut at = span.start;
        let source = &page.sources.file(span.file).text;
        let mut push = |rows: &mut Vec<Vec<(bool, String)>>, until: u32| {
            let piece = source.get(at as usize..until as usize).unwrap_or_default();
            for (index, line) in piece.split('\n').enumerate() {
                if index > 0 {
                    rows.push(Vec::new());
                }
                let line = if index > 0 { line.trim_start() } else { line };
                if let Some(row) = rows.last_mut() {
                    row.push((false, line.trim_end_matches('\r').to_owned()));
                }
            }
            at = until;
        };
        for (place, operand) in &text.values {
            let value = page.readings.filter(|_| ran).and_then(|readings| operand_value(operand, readings));
            let Some(value) = value.filter(|_| place.start >= span.start) else { continue };
            push(&mut rows, place.end);
            if let Some(row) = rows.last_mut() {
                row.push((true, format!(" [{value}]")));
            }
        }
        push(&mut rows, span.end);
    }
    for (index, line) in text.behind.split('\n').enumerate() {
        if index > 0 {
            rows.push(Vec::new());
        }
        if let Some(row) = rows.last_mut() {
            row.push((false, line.to_owned()));
        }
    }
    rows.retain(|row| row.iter().any(|(_, piece)| !piece.trim().is_empty()));
    if rows.len() > LINES_MAX {
        rows.truncate(LINES_MAX);
        rows.push(vec![(false, "…".to_owned())]);
    }
    rows
}
