//! Expressions with a scalar value.
//!
//! A value ends up in the place the caller wants by its last instruction alone, so a variable may be both
//! operand and destination. Both operands are always evaluated, the left one first; where a later operand
//! calls a function, an earlier one that could change is kept in a temporary. Implements IEC 61131-3:2013,
//! 7.3.2 and the implicit conversions of 6.4.2.6.

use latchwork_stdlib::{ConversionRule, conversion};
use latchwork_vm::{ElementaryType, Family, Scalar};

use super::{access::Location, unit::Lowering};
use crate::{
    layout::Spot,
    typed::{Constant, Expression, ExpressionKind, accesses},
    types::{Type, TypeId},
};

impl Lowering<'_> {
    /// The place where the value of an expression is: the variable itself, a constant, or a temporary.
    pub(super) fn operand(&mut self, value: &Expression) -> Spot {
        self.evaluate(value, None)
    }

    /// The places of several operands, evaluated in order. Each keeps its value while the later ones are
    /// evaluated.
    pub(super) fn operands(&mut self, values: &[&Expression]) -> Vec<Spot> {
        self.operands_as(values, &[])
    }

    /// As [`Self::operands`], each brought to a type first where one is given.
    pub(super) fn operands_as(&mut self, values: &[&Expression], brought: &[ElementaryType]) -> Vec<Spot> {
        let last_call = values.iter().rposition(|value| accesses::calls(value)).unwrap_or(0);
        let mut spots = Vec::with_capacity(values.len());
        for (index, value) in values.iter().enumerate() {
            let (from, to) = (self.elementary(value.ty), brought.get(index));
            let spot = match (from, to) {
                (Some(from), Some(to)) => self.evaluate_as(value, from, *to, None),
                _ => self.operand(value),
            };
            let scalar = to.and_then(|to| to.scalar()).or_else(|| self.scalar_of(value.ty));
            spots.push(match scalar {
                Some(scalar) if index < last_call => self.stabilise(spot, scalar),
                _ => spot,
            });
        }
        spots
    }

    /// Evaluates an expression, into `target` if one is given, and tells where the value is. Only the last
    /// instruction writes the target.
    pub(super) fn evaluate(&mut self, value: &Expression, target: Option<Spot>) -> Spot {
        if self.shared.observer.is_none() && self.shared.modeller.is_none() {
            return self.evaluate_plain(value, target);
        }
        let spot = self.observed(value, target);
        self.note_value(value, spot);
        spot
    }

    /// The same without a look at what the image observes of itself.
    pub(super) fn evaluate_plain(&mut self, value: &Expression, target: Option<Spot>) -> Spot {
        match &value.kind {
            ExpressionKind::Constant(constant) => {
                let scalar = self.scalar(value.ty);
                let spot = self.constant(constant, scalar);
                self.deliver(spot, scalar, target)
            }
            ExpressionKind::Access(access) => self.read(access, target),
            ExpressionKind::Convert(inner) => self.convert(inner, value.ty, target),
            ExpressionKind::CheckRange(inner) => self.check_range(inner, value, target),
            ExpressionKind::Standard { function, on, arguments } => {
                let before = std::mem::replace(&mut self.span, value.span);
                let spot = self.standard(function, *on, arguments, value, target);
                self.span = before;
                spot
            }
            ExpressionKind::Function(call) => {
                let before = std::mem::replace(&mut self.span, value.span);
                let result = self.call_function(call);
                let scalar = self.scalar(value.ty);
                let spot = match result {
                    Some(result) => self.load(result, scalar, target),
                    None => {
                        self.internal("a function without a result has no value");
                        self.integer(0, scalar)
                    }
                };
                self.span = before;
                spot
            }
            ExpressionKind::Outputs(_) => {
                self.internal("a function without a result has no value");
                let scalar = self.scalar(value.ty);
                self.integer(0, scalar)
            }
            ExpressionKind::Bound(bound) => {
                let before = std::mem::replace(&mut self.span, value.span);
                let spot = self.array_bound(bound, target);
                self.span = before;
                spot
            }
            ExpressionKind::Controlled(call) => {
                let result = self.controlled(call);
                self.read(&result, target)
            }
            ExpressionKind::ScanTime => {
                let target = self.result(Scalar::I64, target);
                self.emit(Family::Now, Scalar::I64, &[target.into()]);
                target
            }
            ExpressionKind::Attempt { value, fits } => self.attempt(value, *fits, target),
            ExpressionKind::Reference(access) => {
                let location = self.whole(access);
                match target {
                    Some(target) => {
                        self.address_into(location, target);
                        target
                    }
                    None => self.address(location),
                }
            }
        }
    }

    /// A value where it is wanted: moved to the target, if there is one and it is not there already.
    pub(super) fn deliver(&mut self, value: Spot, scalar: Scalar, target: Option<Spot>) -> Spot {
        match target {
            Some(target) if target != value => {
                self.emit(Family::Move, scalar.bits(), &[target.into(), value.into()]);
                target
            }
            _ => value,
        }
    }

    /// A place for a result: the target, or a new temporary.
    pub(super) fn result(&mut self, scalar: Scalar, target: Option<Spot>) -> Spot {
        target.unwrap_or_else(|| self.scalar_temporary(scalar))
    }

    fn convert(&mut self, inner: &Expression, to: TypeId, target: Option<Spot>) -> Spot {
        let (Some(from), Some(to)) = (self.elementary(inner.ty), self.elementary(to)) else {
            // Derived names of enumerations and references: nothing changes.
            return self.evaluate(inner, target);
        };
        self.evaluate_as(inner, from, to, target)
    }

    /// Evaluates an expression of one elementary type as a value of another, by the numeric conversion or
    /// binary transfer that the library gives for the pair.
    pub(super) fn evaluate_as(
        &mut self,
        value: &Expression,
        from: ElementaryType,
        to: ElementaryType,
        target: Option<Spot>,
    ) -> Spot {
        if from.scalar() == to.scalar() {
            return self.evaluate(value, target);
        }
        if let (ExpressionKind::Constant(constant @ Constant::Integer(_)), Some(scalar)) =
            (&value.kind, to.scalar())
        {
            let spot = self.constant(constant, scalar);
            return self.deliver(spot, scalar, target);
        }
        let mark = self.top;
        let source = self.operand(value);
        self.top = mark;
        match (conversion(from, to, false), from.scalar(), to.scalar()) {
            (Some(rule), Some(from), Some(to)) => self.convert_value(rule, source, (from, to), target),
            _ => {
                self.internal("there is no conversion between these types");
                source
            }
        }
    }

    /// Applies a conversion to a value. Temporaries the value may be in have been given back: the result is
    /// written by one instruction that has read it.
    pub(super) fn convert_value(
        &mut self,
        rule: ConversionRule,
        source: Spot,
        (from, to): (Scalar, Scalar),
        target: Option<Spot>,
    ) -> Spot {
        match rule {
            // The rightmost bytes lie first, so a longer source is read at its own place.
            ConversionRule::Copy(scalar) => {
                let spot = self.deliver(source, scalar, target);
                // Nothing was written: where the value stays in its temporary, that is taken again.
                self.keep(spot, from);
                spot
            }
            ConversionRule::Instruction(family, scalar) => {
                let target = self.result(to, target);
                self.emit(family, scalar, &[target.into(), source.into()]);
                target
            }
            ConversionRule::LowestBit => {
                let one = self.integer(1, Scalar::U8);
                let target = self.result(to, target);
                self.emit(Family::And, Scalar::U8, &[target.into(), source.into(), one.into()]);
                target
            }
            ConversionRule::Native(name) => {
                let mark = self.top;
                // Behind the source, which may be in a temporary that has been given back.
                self.top = mark.saturating_add(8);
                let frame = self.temporary(16, 8);
                self.emit(Family::Move, from.bits(), &[frame.into(), source.into()]);
                self.native(name, frame);
                let spot = frame.plus(8);
                if target.is_some() {
                    self.top = mark;
                }
                self.deliver(spot, to, target)
            }
            // Where a text is made is told by [`Self::region`].
            ConversionRule::Text { .. } => {
                self.internal("a text is no scalar");
                source
            }
        }
    }

    fn check_range(&mut self, inner: &Expression, value: &Expression, target: Option<Spot>) -> Spot {
        let Type::Subrange { lower, upper, .. } = *self.underlying(value.ty) else {
            return self.evaluate(inner, target);
        };
        let scalar = self.scalar(value.ty);
        if let ExpressionKind::Constant(Constant::Integer(number)) = inner.kind
            && (lower..=upper).contains(&number)
        {
            return self.evaluate(inner, target);
        }
        let mark = self.top;
        let spot = self.operand(inner);
        let (lower, upper) = (self.integer(lower, scalar), self.integer(upper, scalar));
        let before = std::mem::replace(&mut self.span, value.span);
        self.emit(Family::CheckRange, scalar, &[spot.into(), lower.into(), upper.into()]);
        let spot = self.deliver(spot, scalar, target);
        self.span = before;
        if target.is_some() {
            self.top = mark;
        }
        spot
    }

    /// Runs a native routine on the frame at a place.
    pub(super) fn native(&mut self, name: &'static str, frame: Spot) {
        let native = self.native_argument(name);
        self.emit(Family::Native, Scalar::U8, &[native, frame.into()]);
    }

    /// The operand that names a native routine.
    pub(super) fn native_argument(&mut self, name: &'static str) -> super::code::Argument {
        let bytes = self.context.natives.get(name).copied().unwrap_or_else(|| {
            self.internal(&format!("there is no routine {name}"));
            0
        });
        super::code::Argument::Native(name, bytes)
    }

    /// Copies a value of any type to a location. `value` has the representation of the type `kind`; strings
    /// are cut at the capacity of the target.
    pub(super) fn copy_value(&mut self, kind: TypeId, target: Location, value: Location) {
        if let Some(scalar) = self.scalar_of(kind) {
            match (target, value) {
                (Location::Spot(spot), value) => {
                    self.load(value, scalar, Some(spot));
                }
                (Location::At { .. }, value) => {
                    let value = self.load(value, scalar, None);
                    self.store(target, value, scalar);
                }
            }
            return;
        }
        if let Type::String { wide, .. } = *self.underlying(kind) {
            let (target, value) = (self.address(target), self.address(value));
            let family = if wide { Family::CopyWideString } else { Family::CopyString };
            self.emit(family, Scalar::U8, &[target.into(), value.into()]);
            return;
        }
        let size = self.size(kind);
        self.copy_block(target, value, size);
    }

    /// Copies bytes; the two places may overlap.
    pub(super) fn copy_block(&mut self, target: Location, value: Location, size: u32) {
        let bytes = super::code::Argument::Immediate(size);
        match (target, value) {
            _ if size == 0 => {}
            (Location::Spot(target), Location::Spot(value)) if target == value => {}
            (Location::Spot(target), Location::Spot(value)) => {
                self.emit(Family::Copy, Scalar::U8, &[target.into(), value.into(), bytes]);
            }
            (Location::Spot(target), value) => {
                let value = self.address(value);
                self.emit(Family::CopyFrom, Scalar::U8, &[target.into(), value.into(), bytes]);
            }
            (target, Location::Spot(value)) => {
                let target = self.address(target);
                self.emit(Family::CopyTo, Scalar::U8, &[target.into(), value.into(), bytes]);
            }
            (target, value) => {
                let (target, value) = (self.address(target), self.address(value));
                self.emit(Family::CopyBetween, Scalar::U8, &[target.into(), value.into(), bytes]);
            }
        }
    }
}
