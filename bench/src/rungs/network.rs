//! From a Boolean expression to a network of contacts.
//!
//! AND is a series, OR stands in parallel, NOT goes down to the contacts (De Morgan). XOR of few operands becomes its
//! paths, of many a block; comparisons are compare contacts; everything else with a Boolean result is a block.

use std::collections::BTreeMap;

use latchwork_compiler::logic::{Part, PartKind, PartValue};
use latchwork_grammar::Span;
use latchwork_stdlib::Edge;
use latchwork_vm::ElementaryType;

use super::model::{Element, Network, Operand, Shape};

/// Most elements of one rung.
pub const ELEMENTS_MAX: usize = 2_000;

/// Most elements that an XOR is drawn with.
const XOR_ELEMENTS_MAX: usize = 24;

/// Deepest nesting of networks that is followed: as deep as the parts of a statement nest.
const DEPTH_MAX: u32 = 110;

/// What is known of the statements above.
#[derive(Clone, Debug, Default)]
pub(super) struct Known<'l> {
    /// Current results of Instruction List that are kept between two instructions, by the place of the expression.
    results: BTreeMap<Span, Kept<'l>>,
    /// Outputs of edge detectors, by name in small letters, with the variable whose edges they find.
    edges: BTreeMap<String, (Edge, String)>,
}

#[derive(Clone, Debug)]
struct Kept<'l> {
    value: &'l Part,
    /// A variable that has the same value.
    stored: Option<String>,
}

impl<'l> Known<'l> {
    /// A result is kept.
    pub(super) fn keep(&mut self, result: &Part, value: &'l Part) {
        let stored = match &value.kind {
            PartKind::Variable { hidden: false, .. } => Some(value.text.clone()),
            _ => None,
        };
        self.results.insert(result.span, Kept { value, stored });
    }

    /// A variable has got the value of a result that is kept.
    pub(super) fn store(&mut self, result: &Part, name: &str) {
        if let Some(kept) = self.results.get_mut(&result.span).filter(|_| result.is_hidden()) {
            kept.stored = Some(name.to_owned());
        }
    }

    /// A variable is written: it tells of no older result any more, and of no edge.
    pub(super) fn write(&mut self, name: &str) {
        for kept in self.results.values_mut() {
            if kept.stored.as_ref().is_some_and(|stored| stored.eq_ignore_ascii_case(name)) {
                kept.stored = None;
            }
        }
        self.edges.retain(|_, (_, sensed)| !sensed.eq_ignore_ascii_case(name));
    }

    /// An edge detector was called with a variable.
    pub(super) fn detect(&mut self, output: &str, edge: Edge, name: &str) {
        self.edges.insert(output.to_ascii_lowercase(), (edge, name.to_owned()));
    }

    /// The name of a result that is kept, or the expression that it has.
    fn result(&self, part: &Part) -> Option<Result<&str, &'l Part>> {
        let kept = self.results.get(&part.span).filter(|_| part.is_hidden())?;
        Some(kept.stored.as_deref().ok_or(kept.value))
    }

    /// The text of a part for people.
    pub(super) fn text(&self, part: &Part) -> String {
        match self.result(part) {
            Some(Ok(name)) => name.to_owned(),
            Some(Err(value)) if !value.text.is_empty() => value.text.clone(),
            _ if part.text.is_empty() => "current result".to_owned(),
            _ => part.text.clone(),
        }
    }

    /// A part with its value beside an element.
    pub(super) fn operand(&self, input: &str, part: &Part) -> Operand {
        Operand {
            input: input.to_owned(),
            text: self.text(part),
            part: part.number,
            value: part.value.clone(),
            constant: matches!(part.kind, PartKind::Constant),
        }
    }

    /// The network of an expression, or of its opposite; `None` if it has too many elements.
    pub(super) fn network(&self, part: &Part, negated: bool) -> Option<Network> {
        let mut left = ELEMENTS_MAX;
        self.build(part, negated, DEPTH_MAX, &mut left)
    }

    fn build(&self, part: &Part, negated: bool, depth: u32, left: &mut usize) -> Option<Network> {
        let Some(deeper) = depth.checked_sub(1) else { return self.one(part, negated, left) };
        match (&part.kind, self.result(part)) {
            (_, Some(Err(value))) => self.build(value, negated, deeper, left),
            (PartKind::Operation { name, operands }, _)
                if operands.iter().all(|part| part.value.is_bool()) =>
            {
                let pieces: Vec<&Part> = operands.iter().collect();
                match *name {
                    "NOT" if pieces.len() == 1 => self.build(pieces.first()?, !negated, deeper, left),
                    "AND" | "OR" => {
                        let parts = pieces.iter().map(|piece| self.build(piece, negated, deeper, left));
                        let parts = parts.collect::<Option<Vec<_>>>()?;
                        Some(join(parts, (*name == "AND") != negated))
                    }
                    "XOR" if xor_size(&pieces) <= XOR_ELEMENTS_MAX => {
                        self.xor(&pieces, negated, deeper, left)
                    }
                    "NE" if pieces.len() == 2 && xor_size(&pieces) <= XOR_ELEMENTS_MAX => {
                        self.xor(&pieces, negated, deeper, left)
                    }
                    "EQ" if pieces.len() == 2 && xor_size(&pieces) <= XOR_ELEMENTS_MAX => {
                        self.xor(&pieces, !negated, deeper, left)
                    }
                    _ => self.one(part, negated, left),
                }
            }
            _ => self.one(part, negated, left),
        }
    }

    /// One of two, of which the last is one operand: the other way round if `negated`.
    fn xor(&self, parts: &[&Part], negated: bool, depth: u32, left: &mut usize) -> Option<Network> {
        let (last, rest) = parts.split_last()?;
        if rest.is_empty() {
            return self.build(last, negated, depth, left);
        }
        let mut path = |rest_negated: bool, last_negated: bool| {
            let before = self.xor(rest, rest_negated, depth, left)?;
            let behind = self.build(last, last_negated, depth, left)?;
            Some(join(vec![before, behind], true))
        };
        let paths = vec![path(false, !negated)?, path(true, negated)?];
        Some(join(paths, false))
    }

    /// One element.
    fn one(&self, part: &Part, negated: bool, left: &mut usize) -> Option<Network> {
        *left = left.checked_sub(1)?;
        let shape = match &part.kind {
            PartKind::Constant => match constant(&part.text) {
                Some(value) => Shape::Constant(value),
                None => Shape::Contact { name: part.text.clone(), edge: None },
            },
            PartKind::Variable { .. } => {
                let name = self.text(part);
                let edge = self.edges.get(&name.to_ascii_lowercase()).filter(|_| !negated);
                match edge {
                    Some((edge, sensed)) => {
                        Shape::Contact { name: sensed.clone(), edge: Some((*edge, name)) }
                    }
                    None => Shape::Contact { name, edge: None },
                }
            }
            PartKind::Operation { name, operands } => match (sign(name), operands.as_slice()) {
                (Some((sign, opposite)), [first, second]) => {
                    let real = is_real(&first.value) || is_real(&second.value);
                    Shape::Compare {
                        operator: if negated && !real { opposite } else { sign },
                        opposite: negated && real,
                        left: self.operand("", first),
                        right: self.operand("", second),
                    }
                }
                _ => Shape::Function {
                    name: (*name).to_owned(),
                    inputs: operands.iter().map(|operand| self.operand("", operand)).collect(),
                },
            },
            PartKind::Function { name, inputs, .. } => Shape::Function {
                name: name.clone(),
                inputs: inputs.iter().map(|(input, value)| self.operand(input, value)).collect(),
            },
            PartKind::Other { .. } => Shape::Function { name: self.text(part), inputs: Vec::new() },
        };
        Some(Network::Element(Element { shape, part: part.number, negated }))
    }
}

/// Networks one behind the other or beside one another, without nesting of one kind.
pub(super) fn join(parts: Vec<Network>, series: bool) -> Network {
    let mut joined = Vec::new();
    for part in parts {
        match part {
            Network::Series(inner) if series => joined.extend(inner),
            Network::Parallel(inner) if !series => joined.extend(inner),
            other => joined.push(other),
        }
    }
    match joined.pop() {
        Some(only) if joined.is_empty() => only,
        last => {
            joined.extend(last);
            if series { Network::Series(joined) } else { Network::Parallel(joined) }
        }
    }
}

/// The elements that the paths of an XOR have.
fn xor_size(parts: &[&Part]) -> usize {
    let mut size = 0_usize;
    for (index, part) in parts.iter().enumerate() {
        size = size.saturating_add(leaves(part));
        if index > 0 {
            size = size.saturating_mul(2);
        }
    }
    size
}

/// Roughly the elements of an expression.
fn leaves(part: &Part) -> usize {
    match &part.kind {
        PartKind::Operation { name: "AND" | "OR" | "NOT", operands } => operands.iter().map(leaves).sum(),
        PartKind::Operation { name: "XOR", operands } => xor_size(&operands.iter().collect::<Vec<_>>()),
        _ => 1,
    }
}

/// The sign of a comparison, and that of its opposite.
fn sign(name: &str) -> Option<(&'static str, &'static str)> {
    Some(match name {
        "GT" => (">", "<="),
        "GE" => (">=", "<"),
        "EQ" => ("=", "<>"),
        "NE" => ("<>", "="),
        "LE" => ("<=", ">"),
        "LT" => ("<", ">="),
        _ => return None,
    })
}

/// The value of a constant as it is written.
fn constant(text: &str) -> Option<bool> {
    let text = text.trim();
    let value = match text.split_once('#') {
        Some((kind, value)) if kind.eq_ignore_ascii_case("BOOL") => value,
        _ => text,
    };
    match value {
        "1" => Some(true),
        "0" => Some(false),
        _ if value.eq_ignore_ascii_case("TRUE") => Some(true),
        _ if value.eq_ignore_ascii_case("FALSE") => Some(false),
        _ => None,
    }
}

/// The value of a constant that is stored: as it is written, or by the operator of Instruction List that stores it.
pub(super) fn stored(value: &Part) -> Option<bool> {
    constant(&value.text).or_else(|| match value.text.split_whitespace().next()? {
        operator if operator.eq_ignore_ascii_case("S") => Some(true),
        operator if operator.eq_ignore_ascii_case("R") => Some(false),
        _ => None,
    })
}

/// Whether a value of this kind may be no number: then neither a comparison nor its opposite is TRUE.
const fn is_real(value: &PartValue) -> bool {
    matches!(value, PartValue::Elementary(ElementaryType::Real | ElementaryType::Lreal))
}
