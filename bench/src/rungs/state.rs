//! What the elements of a sheet are in one scan: who conducts, and how far from the left rail there is continuity.
//!
//! The value of an element is the one that it had when its statement ran, not the one at the end of the scan. Continuity
//! goes from left to right: from the rail, if the statement ran, through whatever conducts.

use latchwork_compiler::logic::PartValue;
use latchwork_vm::Value;

use super::{
    layout::{Content, Layout},
    model::{Element, Operand, OutputPin, Shape},
};
use crate::{
    account::{self, Account},
    diagram::words::value_text,
};

/// Values of one instance of a unit in one scan.
pub trait Readings {
    /// How often a statement ran in the scan.
    fn times(&self, statement: u32) -> u64;
    /// Whether a statement ran in the scan.
    fn ran(&self, statement: u32) -> bool {
        self.times(statement) > 0
    }
    /// The value of a part when its statement ran last in the scan, as its bytes, the lowest first.
    fn value(&self, part: u32) -> Option<u64>;
    /// A variable that a part stands for which is written, at the end of the scan, if it was written before.
    fn written(&self, part: u32) -> Option<u64>;
    /// A member of the instance that a part stands for, so many bytes from its start, at the end of the scan.
    fn member(&self, instance: u32, offset: u32, value: &PartValue) -> Option<u64>;
}

/// The values of one instance in one scan of an account.
#[derive(Clone, Copy, Debug)]
pub struct ScanReadings<'a> {
    /// The account.
    pub account: &'a Account,
    /// The scan, counted from 0.
    pub scan: u32,
    /// The base address of the instance.
    pub base: u32,
}

impl Readings for ScanReadings<'_> {
    fn times(&self, statement: u32) -> u64 {
        let site = self.account.site(statement, self.base);
        site.map_or(0, |site| self.account.times(site, self.scan))
    }

    fn value(&self, part: u32) -> Option<u64> {
        let statement = self.account.statement_of(part)?;
        self.account.value(self.account.site(statement, self.base)?, part, self.scan)
    }

    fn written(&self, part: u32) -> Option<u64> {
        let site = self.account.site(self.account.statement_of(part)?, self.base)?;
        let last = self.account.last_run(site, account::Moment::end_of(self.scan))?;
        let address = self.account.place(site, part, last.scan)?;
        self.account.memory(address, self.account.part(part)?.bytes, Some(self.scan))
    }

    fn member(&self, instance: u32, offset: u32, value: &PartValue) -> Option<u64> {
        let statement = self.account.statement_of(instance)?;
        let site = self.account.site(statement, self.base)?;
        let address = self.account.place(site, instance, self.scan)?.checked_add(offset)?;
        let bytes = match value {
            PartValue::Elementary(kind) => kind.size()?,
            PartValue::Enumeration(_) => 4,
            PartValue::Other => return None,
        };
        self.account.memory(address, bytes, Some(self.scan))
    }
}

/// Whether an element conducts; `None` if that is not known, since it was not looked at.
#[must_use]
pub fn conducts(element: &Element, readings: &dyn Readings) -> Option<bool> {
    let value = match element.shape {
        Shape::Constant(value) => value,
        _ => readings.value(element.part)? & 1 == 1,
    };
    Some(value != element.negated)
}

/// A value as a literal of the standard, or the name of an enumeration's value.
#[must_use]
pub fn literal(bits: u64, value: &PartValue) -> Option<String> {
    match value {
        PartValue::Elementary(kind) => Value::from_bits(bits, *kind).map(|value| value_text(&value)),
        PartValue::Enumeration(names) => {
            // Stored as a DINT.
            let number = i64::from(bits as u32 as i32);
            let name = names.iter().find(|(_, value)| *value == number).map(|(name, _)| name.clone());
            Some(name.unwrap_or_else(|| number.to_string()))
        }
        PartValue::Other => None,
    }
}

/// The value of an operand, unless its text says it already.
#[must_use]
pub fn operand_value(operand: &Operand, readings: &dyn Readings) -> Option<String> {
    let shown = readings.value(operand.part).and_then(|bits| literal(bits, &operand.value))?;
    // `5` and `INT#5` say it.
    let literal = operand.text.strip_suffix(shown.as_str());
    let said = literal.is_some_and(|type_name| type_name.is_empty() || type_name.ends_with('#'));
    (!operand.constant || !said).then_some(shown)
}

/// The value of an output pin: where a statement reads it what it read, otherwise at the end of the scan.
#[must_use]
pub fn pin_value(pin: &OutputPin, instance: u32, readings: &dyn Readings) -> Option<u64> {
    let read = pin.read.and_then(|part| readings.value(part));
    read.or_else(|| readings.member(instance, pin.offset?, &pin.value))
}

/// How far there is continuity.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Flow {
    /// By node.
    reached: Vec<bool>,
    /// Whether there are values at all.
    pub known: bool,
    /// Whether the statement ran.
    pub ran: bool,
}

impl Flow {
    /// The continuity of an entry whose first statement is `statement`.
    #[must_use]
    pub fn new(layout: &Layout<'_>, statement: Option<u32>, readings: Option<&dyn Readings>) -> Self {
        let mut reached = vec![false; layout.nodes];
        let Some(readings) = readings else { return Flow { reached, known: false, ran: false } };
        let ran = statement.is_some_and(|statement| readings.ran(statement));
        if let Some(rail) = reached.first_mut() {
            *rail = ran;
        }
        let mut edges = Vec::new();
        for item in &layout.items {
            if let Content::Element(element) = item.content
                && conducts(element, readings) == Some(true)
            {
                edges.push((item.from, item.to));
            }
        }
        if let Some(block) = layout.block.as_ref().filter(|_| ran) {
            for place in &block.outputs {
                let value = pin_value(place.pin, block.call.part, readings);
                if place.pin.value.is_bool() && value.is_some_and(|value| value & 1 == 1) {
                    set(&mut reached, place.node);
                }
            }
        }
        // Each turn reaches at least one node more.
        loop {
            let before = edges.len();
            edges.retain(|(from, to)| {
                let from = reached.get(*from).copied().unwrap_or(false);
                if from {
                    set(&mut reached, *to);
                }
                !from
            });
            if edges.len() == before {
                break;
            }
        }
        Flow { reached, known: true, ran }
    }

    /// Whether there is continuity up to a node.
    #[must_use]
    pub fn at(&self, node: usize) -> bool {
        self.reached.get(node).copied().unwrap_or(false)
    }
}

fn set(reached: &mut [bool], node: usize) {
    if let Some(slot) = reached.get_mut(node) {
        *slot = true;
    }
}
