//! Conditions of procedures in words.

use latchwork_grammar::{
    steps::tree::{Bound, EdgeWord},
    tree::{BinaryOperator, Expression, ExpressionKind, UnaryOperator},
};

use super::{
    demands::{Meaning, name},
    text::Text,
    words,
};
use crate::{
    diagram::words::harmless,
    panel::{Place, WiredLoad},
    station::{Device, DeviceForm, Load, LoadForm},
    terminals::{Direction, direction, place_key},
};

/// How deep in parentheses and operators a condition is put into words; what is deeper is shown as it is written.
const DEPTH_MAX: usize = 8;

/// What a path is for a person.
pub(super) enum Subject<'a> {
    Device(&'a Device),
    Load(&'a Load),
    /// An input terminal, as it is written.
    Terminal(&'a str),
    /// Something that nobody sees from outside.
    Hidden(&'a str),
}

impl<'a> Meaning<'a> {
    /// A condition: "P1 is on and StopPB is not pressed".
    pub(super) fn condition(&self, expression: &Expression) -> Text {
        let words = self.worded(expression, true, DEPTH_MAX);
        words.unwrap_or_else(|| Text::default().code(self.source(expression)).words(" is TRUE"))
    }

    /// A condition, or its opposite, in words; `None` if there are none for it.
    fn worded(&self, expression: &Expression, holds: bool, depth: usize) -> Option<Text> {
        let depth = depth.checked_sub(1)?;
        match &expression.kind {
            ExpressionKind::Parenthesized(inner) => self.worded(inner, holds, depth),
            ExpressionKind::Unary { operator: UnaryOperator::Not, operand, .. } => {
                self.worded(operand, !holds, depth)
            }
            ExpressionKind::Binary { operator: BinaryOperator::And, left, right, .. } if holds => {
                let sides = [self.worded(left, true, depth)?, self.worded(right, true, depth)?];
                // What is read after "and" must not belong to an "or" in front of it.
                let has_or = |side: &Expression| {
                    matches!(bare(side).kind, ExpressionKind::Binary { operator: BinaryOperator::Or, .. })
                };
                if has_or(left) || has_or(right) {
                    return None;
                }
                Some(Text::list(sides.into(), " and "))
            }
            ExpressionKind::Binary { operator: BinaryOperator::Or, left, right, .. } if holds => {
                let sides = [self.worded(left, true, depth)?, self.worded(right, true, depth)?];
                Some(Text::list(sides.into(), ", or "))
            }
            ExpressionKind::Binary { operator, left, right, .. } => {
                self.comparison(*operator, left, right, holds)
            }
            _ => {
                let text = self.source(expression);
                match self.subject(text)? {
                    Subject::Device(device) => match device.form {
                        DeviceForm::TwoState { .. } => {
                            Some(name(device).words(&format!(" is {}", words::state(device, holds))))
                        }
                        DeviceForm::Analog { .. } => None,
                    },
                    Subject::Load(load) => {
                        let on = if holds { " is on" } else { " is off" };
                        Some(Text::default().name(&load.name.value).words(on))
                    }
                    Subject::Terminal(path) => {
                        Some(Text::default().code(path).words(&format!(" reads {}", u8::from(holds))))
                    }
                    Subject::Hidden(path) => {
                        let value = if holds { " is TRUE" } else { " is FALSE" };
                        Some(Text::default().code(path).words(value).words(" in the program"))
                    }
                }
            }
        }
    }

    fn comparison(
        &self,
        operator: BinaryOperator,
        left: &Expression,
        right: &Expression,
        holds: bool,
    ) -> Option<Text> {
        let words = match (operator, holds) {
            (BinaryOperator::Less, true) | (BinaryOperator::GreaterOrEqual, false) => "is below",
            (BinaryOperator::Greater, true) | (BinaryOperator::LessOrEqual, false) => "is above",
            (BinaryOperator::LessOrEqual, true) | (BinaryOperator::Greater, false) => "is at most",
            (BinaryOperator::GreaterOrEqual, true) | (BinaryOperator::Less, false) => "is at least",
            (BinaryOperator::Equal, true) | (BinaryOperator::NotEqual, false) => "is",
            (BinaryOperator::NotEqual, true) | (BinaryOperator::Equal, false) => "is not",
            _ => return None,
        };
        let what = self.measured(left)?;
        if !matches!(bare(right).kind, ExpressionKind::Literal(_) | ExpressionKind::TypedLiteral { .. }) {
            return None;
        }
        Some(what.words(&format!(" {words} {}", harmless(self.source(right)))).words(&self.unit(left)))
    }

    pub(super) fn near(&self, value: &Expression, target: &Expression, tolerance: &Expression) -> Text {
        let unit = self.unit(value);
        let (target, tolerance) = (harmless(self.source(target)), harmless(self.source(tolerance)));
        let what = self.measured(value).unwrap_or_else(|| Text::default().code(self.source(value)));
        what.words(&format!(" is {target}{unit}, give or take {tolerance}{unit}"))
    }

    pub(super) fn edges(&self, bound: Bound, count: u64, edge: EdgeWord, of: &Expression) -> Text {
        let bound = match bound {
            Bound::Exactly => "exactly",
            Bound::AtLeast => "at least",
            Bound::AtMost => "at most",
        };
        let times = if count == 1 { "once".to_owned() } else { format!("{count} times") };
        let load = match self.subject(self.source(of)) {
            Some(Subject::Load(load)) => Some(load),
            _ => None,
        };
        let what = match load {
            Some(load) => Text::default().name(&load.name.value),
            None => Text::default().code(self.source(of)),
        };
        let does = match (edge, load.is_some_and(|load| matches!(load.form, LoadForm::TwoState))) {
            (EdgeWord::Rising, true) => "comes on",
            (EdgeWord::Falling, true) => "goes off",
            (EdgeWord::Rising, false) => "becomes TRUE",
            (EdgeWord::Falling, false) => "becomes FALSE",
            (EdgeWord::Change, _) => "changes",
        };
        what.words(&format!(" {does} {bound} {times}"))
    }

    /// Something with a value: an analog device or load.
    fn measured(&self, expression: &Expression) -> Option<Text> {
        let expression = bare(expression);
        match self.subject(self.source(expression))? {
            Subject::Device(device) => Some(name(device)),
            Subject::Load(load) => Some(Text::default().name(&load.name.value)),
            Subject::Terminal(path) => Some(Text::default().code(path)),
            Subject::Hidden(path) => Some(Text::default().code(path).words(" in the program")),
        }
    }

    /// The unit of a value, with a blank in front.
    pub(super) fn unit(&self, expression: &Expression) -> String {
        let unit = match self.subject(self.source(bare(expression))) {
            Some(Subject::Device(Device { form: DeviceForm::Analog { unit, .. }, .. })) => unit.as_deref(),
            Some(Subject::Load(Load { form: LoadForm::Analog { unit, .. }, .. })) => unit.as_deref(),
            _ => None,
        };
        unit.map_or(String::new(), |unit| format!(" {}", harmless(unit)))
    }

    pub(super) fn subject(&self, path: &'a str) -> Option<Subject<'a>> {
        Some(match self.panel.find(self.program, path).ok()? {
            Place::Device(index) => Subject::Device(self.station.devices.get(index)?),
            Place::Load(index) => Subject::Load(self.station.loads.get(index)?),
            Place::Terminal(_) => Subject::Terminal(path),
            Place::Plant(_) => Subject::Hidden(path),
            Place::Variable(variable) => {
                let key = place_key(&variable);
                let at = |wired: &&WiredLoad<'_>| {
                    wired.variable.as_ref().is_some_and(|other| place_key(other) == key)
                };
                let mut loads = self.panel.loads().iter().filter(at);
                match (loads.next(), loads.next(), direction(self.program, &variable)) {
                    (Some(only), None, _) if matches!(only.load.form, LoadForm::TwoState) => {
                        Subject::Load(only.load)
                    }
                    (_, _, Direction::Input) => Subject::Terminal(path),
                    _ => Subject::Hidden(path),
                }
            }
        })
    }
}

/// An expression without the parentheses around it.
pub(super) fn bare(expression: &Expression) -> &Expression {
    let mut bare = expression;
    while let ExpressionKind::Parenthesized(inner) = &bare.kind {
        bare = inner;
    }
    bare
}
