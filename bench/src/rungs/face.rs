//! What stands in one cell of the grid: the symbol, and lines of text above and below it.

use latchwork_stdlib::Edge;
use unicode_width::UnicodeWidthStr;

use super::{
    labels::Labels,
    layout::{Content, Item, Layout},
    model::{Element, Feed, InputPin, Operand, Output, OutputForm, OutputPin, Shape},
    page::{Page, Placed},
    state::{Flow, Readings, conducts, literal, operand_value, pin_value},
};
use crate::{
    diagram::words::{crop, harmless},
    render::terminal::text::to_ascii,
};

/// Widest text in a cell, in columns.
const TEXT_MAX: usize = 30;

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// Names and values.
    Strong,
    /// Addresses, devices, what is FALSE.
    Faint,
    /// What is TRUE.
    True,
}

/// The lines of a cell.
#[derive(Clone, Debug, Default)]
pub(super) struct Face {
    /// From the one on top to the one over the symbol.
    pub(super) above: Vec<(Tone, String)>,
    /// The symbol.
    pub(super) symbol: Symbol,
    /// From the one under the symbol on.
    pub(super) below: Vec<(Tone, String)>,
}

/// What is drawn on the line.
#[derive(Clone, Debug, Default)]
pub(super) enum Symbol {
    /// Nothing but the line.
    #[default]
    Line,
    /// Two bars with something between; `None` for an element of which nothing is known.
    Contact(String, Option<bool>),
    /// Two brackets with something between.
    Coil(&'static str),
    /// Words at the end of the line.
    Word(String),
    /// Words in front of a line to the right.
    Feed(String),
    /// A box with a title and lines.
    Box {
        /// In its upper edge.
        title: String,
        /// From the line on downwards.
        lines: Vec<String>,
        /// Whether it conducts.
        conducts: Option<bool>,
    },
}

impl Symbol {
    pub(super) fn width(&self) -> usize {
        match self {
            Symbol::Line => 1,
            Symbol::Contact(sign, _) => sign.width() + 2,
            Symbol::Coil(sign) => sign.width() + 2,
            Symbol::Word(text) => text.width(),
            // With a blank between it and the left rail.
            Symbol::Feed(text) => text.width() + 1,
            Symbol::Box { title, lines, .. } => {
                let widest = lines.iter().map(|line| line.width()).max().unwrap_or(0);
                (widest + 4).max(title.width() + 4)
            }
        }
    }
}

impl Face {
    pub(super) fn width(&self) -> usize {
        let texts = self.above.iter().chain(&self.below).map(|(_, text)| text.width());
        (texts.max().unwrap_or(0) + 2).max(self.symbol.width() + 2)
    }
}

/// What the faces of one entry are made of.
pub(super) struct Faces<'p> {
    pub(super) layout: &'p Layout<'p>,
    pub(super) flow: &'p Flow,
    readings: Option<&'p dyn Readings>,
    labels: &'p Labels,
    /// Only ASCII characters.
    ascii: bool,
}

impl<'p> Faces<'p> {
    pub(super) fn new(placed: &'p Placed<'_>, page: &'p Page<'_>, ascii: bool) -> Self {
        Faces {
            layout: &placed.layout,
            flow: &placed.flow,
            readings: page.readings,
            labels: page.labels,
            ascii,
        }
    }

    /// The faces of all items, in their order.
    pub(super) fn all(&self) -> Vec<Face> {
        let instance = self.layout.block.as_ref().map(|block| block.call.part);
        self.layout.items.iter().map(|item| self.face(item, instance)).collect()
    }

    /// The mark of a cropped text.
    pub(super) fn mark(&self) -> char {
        if self.ascii { '~' } else { '…' }
    }

    /// The face of an item. `instance` is the part of the instance whose pins the item belongs to.
    fn face(&self, item: &Item<'_>, instance: Option<u32>) -> Face {
        match item.content {
            Content::Element(element) => self.element(element),
            Content::Output(output) => self.output(output),
            Content::Feed(feed) => self.feed(feed, instance),
            Content::Value(pin) => self.value(pin, instance),
        }
    }

    /// A text in the characters allowed, not too long.
    pub(super) fn name(&self, text: &str) -> String {
        let text = harmless(text);
        let text = if self.ascii { to_ascii(&text) } else { text };
        crop(&text, TEXT_MAX, self.mark())
    }

    fn element(&self, element: &Element) -> Face {
        let state = self.readings.map(|readings| conducts(element, readings).filter(|_| self.flow.ran));
        let closed = state.flatten();
        match &element.shape {
            Shape::Contact { name, edge } => {
                let sign = match edge {
                    Some((Edge::Rising, _)) => "P",
                    Some((Edge::Falling, _)) => "N",
                    None if element.negated => "/",
                    None => " ",
                };
                let mut below = Vec::new();
                let mut word = self.word(closed.map(|closed| closed != element.negated));
                if let Some((_, detector)) = edge {
                    // The value is that of the edge, not of the variable.
                    let tone = if closed == Some(true) { Tone::True } else { Tone::Faint };
                    below.push((tone, self.name(format!("{detector} {word}").trim())));
                    word = "";
                }
                self.notes(name, word, &mut below);
                Face {
                    above: vec![(Tone::Strong, self.name(name))],
                    symbol: Symbol::Contact(sign.to_owned(), closed),
                    below,
                }
            }
            Shape::Constant(value) => {
                let sign = if element.negated { "/" } else { " " };
                Face {
                    above: vec![(Tone::Strong, if *value { "TRUE" } else { "FALSE" }.to_owned())],
                    symbol: Symbol::Contact(sign.to_owned(), closed),
                    below: Vec::new(),
                }
            }
            Shape::Compare { operator, opposite, left, right } => {
                let sign = if *opposite { format!("/{operator}") } else { (*operator).to_owned() };
                Face {
                    above: vec![(Tone::Strong, self.operand(left))],
                    symbol: Symbol::Contact(sign, closed),
                    below: vec![(Tone::Strong, self.operand(right))],
                }
            }
            Shape::Function { name, inputs } => {
                let title = self.name(name);
                let title = if element.negated { format!("NOT {title}") } else { title };
                let mut lines: Vec<String> = inputs.iter().map(|input| self.operand(input)).collect();
                if lines.is_empty() {
                    lines.push(String::new());
                }
                Face {
                    symbol: Symbol::Box { title, lines, conducts: closed },
                    above: vec![(Tone::Faint, String::new())],
                    // The other lines and the lower edge.
                    below: vec![(Tone::Faint, String::new()); inputs.len().max(1)],
                }
            }
        }
    }

    /// An operand with its value.
    fn operand(&self, operand: &Operand) -> String {
        let value = self.readings.filter(|_| self.flow.ran);
        let value = value.and_then(|readings| operand_value(operand, readings));
        let input = if operand.input.is_empty() { String::new() } else { format!("{}: ", operand.input) };
        let text = format!("{input}{}", operand.text);
        let Some(value) = value.map(|value| self.name(&format!(" [{value}]"))) else {
            return self.name(&text);
        };
        // Where there is no room for both, the value stays whole.
        let room = TEXT_MAX.saturating_sub(value.width()).max(TEXT_MAX / 3);
        format!("{}{value}", crop(&self.name(&text), room, self.mark()))
    }

    fn output(&self, output: &Output) -> Face {
        let name = self.name(&output.name);
        let arrow = if self.ascii { "->" } else { "→" };
        match output.form {
            OutputForm::Jump => Face { symbol: Symbol::Word(format!(">>{name}")), ..Face::default() },
            OutputForm::Return => Face { symbol: Symbol::Word("<RETURN>".to_owned()), ..Face::default() },
            OutputForm::Transition => {
                Face { symbol: Symbol::Word(format!("{arrow} {name}")), ..Face::default() }
            }
            OutputForm::Coil | OutputForm::Negated | OutputForm::Set | OutputForm::Reset => {
                let sign = match output.form {
                    OutputForm::Negated => "/",
                    OutputForm::Set => "S",
                    OutputForm::Reset => "R",
                    _ => " ",
                };
                let mut below = Vec::new();
                let word = match self.written(output) {
                    Some(written) => self.word(Some(written)).to_owned(),
                    None => self.kept(output),
                };
                self.notes(&output.name, &word, &mut below);
                Face { above: vec![(Tone::Strong, name)], symbol: Symbol::Coil(sign), below }
            }
        }
    }

    /// What a coil makes of its variable in this scan; nothing where it leaves it as it is.
    fn written(&self, output: &Output) -> Option<bool> {
        let item = self
            .layout
            .items
            .iter()
            .find(|item| matches!(item.content, Content::Output(other) if std::ptr::eq(other, output)))?;
        if !self.flow.known || !self.flow.ran {
            return None;
        }
        let reached = self.flow.at(item.from);
        match output.form {
            OutputForm::Coil => Some(reached),
            OutputForm::Negated => Some(!reached),
            OutputForm::Set => reached.then_some(true),
            OutputForm::Reset => reached.then_some(false),
            _ => None,
        }
    }

    /// What the variable is of a coil that leaves it as it is.
    fn kept(&self, output: &Output) -> String {
        let keeps = matches!(output.form, OutputForm::Set | OutputForm::Reset);
        let (Some(readings), Some(part)) = (self.readings.filter(|_| keeps), output.part) else {
            return String::new();
        };
        match readings.written(part) {
            Some(bits) => format!("({})", self.word(Some(bits & 1 == 1))),
            None => "(not yet)".to_owned(),
        }
    }

    /// TRUE and FALSE in words, where there are values.
    fn word(&self, value: Option<bool>) -> &'static str {
        match value {
            Some(true) => "TRUE",
            Some(false) => "FALSE",
            None => "",
        }
    }

    /// The state and where the variable is connected.
    fn notes(&self, name: &str, word: &str, below: &mut Vec<(Tone, String)>) {
        let label = self.labels.of(name);
        let address = label.and_then(|label| label.address.clone()).unwrap_or_default();
        let line = format!("{word} {address}");
        if !line.trim().is_empty() {
            let style = if word == "TRUE" { Tone::True } else { Tone::Faint };
            below.push((style, line.trim().to_owned()));
        }
        for device in label.iter().flat_map(|label| &label.devices) {
            below.push((Tone::Faint, self.name(&device.short())));
        }
    }

    fn feed(&self, feed: &Feed, instance: Option<u32>) -> Face {
        let symbol = match feed {
            Feed::Value(operand) => self.operand(operand),
            Feed::InOut(text) => self.name(text),
            Feed::Kept { offset, value } => {
                let readings = self.readings.filter(|_| self.flow.ran);
                let kept = readings.and_then(|readings| readings.member(instance?, *offset, value));
                let kept = kept.and_then(|bits| literal(bits, value));
                kept.map(|kept| self.name(&format!("({kept})"))).unwrap_or_default()
            }
            Feed::Network(_) => String::new(),
        };
        Face { symbol: Symbol::Feed(symbol), ..Face::default() }
    }

    fn value(&self, pin: &OutputPin, instance: Option<u32>) -> Face {
        let readings = self.readings.filter(|_| self.flow.ran);
        let bits = readings.and_then(|readings| pin_value(pin, instance?, readings));
        let value = bits.and_then(|bits| literal(bits, &pin.value)).unwrap_or_default();
        let arrow = if self.ascii { "->" } else { "→" };
        let text = match &pin.stored {
            Some(stored) if value.is_empty() => format!("{arrow} {stored}"),
            Some(stored) => format!("{value} {arrow} {stored}"),
            None => value,
        };
        Face { symbol: Symbol::Word(self.name(&text)), ..Face::default() }
    }
}

/// The name of an input with the mark of what it senses.
pub(super) fn pin_name(pin: &InputPin) -> String {
    match pin.edge {
        Some(Edge::Rising) => format!(">{}", pin.name),
        Some(Edge::Falling) => format!("<{}", pin.name),
        None => pin.name.clone(),
    }
}
