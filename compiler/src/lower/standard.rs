//! Standard functions and operators: which instructions a row of the library's table becomes.
//!
//! Implements IEC 61131-3:2013, tables 28 to 34 and 71 as far as instructions go; what a function computes is
//! the machine's and the library's business. Long chains of operators lean to the left and are followed in a
//! loop, so their length needs no deep stack.

use latchwork_stdlib::{
    ComparisonKind, ConversionRule, FunctionDefinition, Lowering as Form, conversion, swap_routine,
};
use latchwork_vm::{ElementaryType, EventKind, Family, Opcode, Scalar};

use super::{
    boolean::{BoolOperand, boolean_form, with_negation},
    code::Argument,
    unit::Lowering,
};
use crate::{
    layout::Spot,
    typed::{Constant, Expression, ExpressionKind, accesses},
};

/// An operator with two scalar operands, by its instruction.
#[derive(Clone, Copy, Debug)]
struct Binary {
    family: Family,
    scalar: Scalar,
    swapped: bool,
    boolean: bool,
}

impl Lowering<'_> {
    /// How a call is emitted, and the types its operands are brought to (none: they stay).
    pub(super) fn form(
        &self,
        function: &'static FunctionDefinition,
        arguments: &[Expression],
    ) -> (Form, &'static [ElementaryType]) {
        if function.overloads.is_empty() {
            return (function.lowering, &[]);
        }
        let kinds: Option<Vec<ElementaryType>> =
            arguments.iter().map(|argument| self.elementary(argument.ty)).collect();
        match kinds.and_then(|kinds| function.overload(&kinds)) {
            Some(overload) => (overload.lowering, overload.operands),
            None => (function.lowering, &[]),
        }
    }

    /// Whether all operands are BOOL.
    pub(super) fn boolean(&self, operands: &[Expression]) -> bool {
        operands.iter().all(|operand| self.elementary(operand.ty) == Some(ElementaryType::Bool))
    }

    /// The instruction of an expression that is one operator on two scalars.
    fn binary(&self, value: &Expression) -> Option<Binary> {
        let ExpressionKind::Standard { function, arguments, .. } = &value.kind else { return None };
        let [left, right] = arguments.as_slice() else { return None };
        let (form, brought) = self.form(function, arguments);
        let scalar = self.scalar_of(left.ty)?;
        if !brought.is_empty()
            && brought
                .iter()
                .zip([left, right])
                .any(|(kind, operand)| kind.scalar() != self.scalar_of(operand.ty))
        {
            return None;
        }
        let (family, swapped) = match form {
            Form::Family(family) => (family, false),
            Form::Comparison(kind) => kind.instruction(),
            _ => return None,
        };
        if self.boolean(arguments)
            && let Some((family, swapped)) = boolean_form(family, swapped)
        {
            return Some(Binary { family, scalar: Scalar::U8, swapped, boolean: true });
        }
        let scalar = operation_scalar(family, scalar);
        Opcode::new(family, scalar)?;
        Some(Binary { family, scalar, swapped, boolean: false })
    }

    /// Evaluates a call of a standard function with a scalar result.
    pub(super) fn standard(
        &mut self,
        function: &'static FunctionDefinition,
        on: Option<ElementaryType>,
        arguments: &[Expression],
        whole: &Expression,
        target: Option<Spot>,
    ) -> Spot {
        if self.binary(whole).is_some() {
            return self.chain(whole, target);
        }
        let mark = self.top;
        let (form, brought) = self.form(function, arguments);
        let spot = match (form, arguments) {
            (Form::Move, [operand]) => return self.evaluate(operand, target),
            (Form::ByteOrder { swap }, [operand]) => {
                let routine = swap_routine(self.scalar(whole.ty).size()).filter(|_| swap);
                match routine {
                    Some(name) => self.call_native(name, arguments, brought, whole, target),
                    None => return self.evaluate(operand, target),
                }
            }
            (Form::Not, [operand]) if self.boolean(arguments) => return self.not(operand, target),
            (Form::Not, [operand]) => return self.unary(Family::Complement, operand, target),
            (Form::Family(family), [operand]) => return self.unary(family, operand, target),
            (Form::Family(family), [_, _, ..]) => self.fold(family, arguments, brought, target),
            (Form::Shift(family), [value, count]) => {
                let scalar = self.scalar(value.ty).bits();
                let spot = self.operand(value);
                let spot = if accesses::calls(count) { self.stabilise(spot, scalar) } else { spot };
                let from = self.elementary(count.ty).unwrap_or(ElementaryType::Lint);
                let count = self.evaluate_as(count, from, ElementaryType::Lint, None);
                self.top = mark;
                let target = self.result(scalar, target);
                self.emit(family, scalar, &[target.into(), spot.into(), count.into()]);
                return target;
            }
            (Form::Comparison(kind), [first, ..]) if self.scalar_of(first.ty).is_none() => {
                self.compare_texts(kind, arguments, target)
            }
            (Form::Comparison(kind), _) => self.comparison_chain(kind, arguments, target),
            (Form::Select, [condition, no, yes]) => {
                let scalar = self.scalar(whole.ty).bits();
                let spots = self.operands(&[condition, no, yes]);
                self.top = mark;
                let target = self.result(scalar, target);
                // One place for each of the three operands.
                let arguments: Vec<Argument> =
                    [target].into_iter().chain(spots).map(Argument::Spot).collect();
                self.emit(Family::Select, scalar, &arguments);
                return target;
            }
            (Form::Limit, [_, _, _]) => self.limit(arguments, target),
            (Form::Multiplexer, [selector, inputs @ ..]) => self.multiplexer(selector, inputs, target),
            (Form::Convert { truncate }, [operand]) => {
                let from = on.or_else(|| self.elementary(operand.ty));
                let (Some(from), Some(to)) = (from, self.elementary(whole.ty)) else {
                    self.internal("there is no conversion between these types");
                    return self.integer(0, Scalar::U64);
                };
                let Some(rule) = conversion(from, to, truncate) else {
                    self.internal("there is no conversion between these types");
                    return self.integer(0, Scalar::U64);
                };
                if let (ConversionRule::Native(name), None) = (rule, self.scalar_of(operand.ty)) {
                    // The routine reads a text where it is.
                    return self.call_native(name, arguments, &[], whole, target);
                }
                let source = self.operand(operand);
                self.top = mark;
                let scalar = self.scalar(whole.ty);
                let own = self.scalar(operand.ty);
                return self.convert_value(rule, source, (own, scalar), target);
            }
            (Form::Native(name), _) => self.call_native(name, arguments, brought, whole, target),
            _ => {
                self.internal(&format!("{} with these operands", function.name));
                self.integer(0, Scalar::U64)
            }
        };
        if target.is_some() {
            self.top = mark;
        }
        spot
    }

    pub(super) fn unary(&mut self, family: Family, operand: &Expression, target: Option<Spot>) -> Spot {
        let scalar = operation_scalar(family, self.scalar(operand.ty));
        if Opcode::new(family, scalar).is_none() {
            // ABS of an unsigned number is the number.
            return self.evaluate(operand, target);
        }
        let mark = self.top;
        let spot = self.operand(operand);
        self.top = mark;
        let target = self.result(scalar, target);
        self.emit(family, scalar, &[target.into(), spot.into()]);
        target
    }

    /// A chain of operators that leans to the left, from its innermost operand outwards.
    fn chain(&mut self, whole: &Expression, target: Option<Spot>) -> Spot {
        let mark = self.top;
        let mut nodes = Vec::new();
        let mut innermost = whole;
        while let (Some(binary), ExpressionKind::Standard { arguments, .. }) =
            (self.binary(innermost), &innermost.kind)
            && let [left, right] = arguments.as_slice()
        {
            nodes.push((binary, right, innermost));
            innermost = left;
        }
        // `NOT a AND b` is one instruction with its operands swapped.
        let mut negated_left = None;
        if let (Some((binary, right, _)), Some(operand)) = (nodes.last(), self.negated(innermost))
            && binary.boolean
            && with_negation(binary.family).is_some()
            && self.negated(right).is_none()
        {
            negated_left = Some(operand);
        }
        let innermost = negated_left.unwrap_or(innermost);
        let boolean = nodes.last().is_some_and(|(binary, ..)| binary.boolean);
        let mut left =
            if boolean { self.bool_operand(innermost) } else { BoolOperand::At(self.operand(innermost)) };
        let mut result = None;
        for (position, (binary, right, node)) in nodes.into_iter().enumerate().rev() {
            let span = node.span;
            self.span = span;
            if let BoolOperand::At(spot) = left
                && accesses::calls(right)
            {
                left = BoolOperand::At(self.stabilise(spot, binary.scalar));
            }
            let target = if position == 0 { target } else { None };
            let spot = if binary.boolean {
                let negation = with_negation(binary.family);
                let (family, first, second) = match (negation, self.negated(right), negated_left.take()) {
                    (Some(family), _, Some(_)) => (family, self.bool_operand(right), left),
                    (Some(family), Some(operand), None) => (family, left, self.bool_operand(operand)),
                    _ => {
                        let right = self.bool_operand(right);
                        let (first, second) = if binary.swapped { (right, left) } else { (left, right) };
                        (binary.family, first, second)
                    }
                };
                self.span = span;
                self.top = mark;
                self.combine(family, first, second, target)
            } else {
                let BoolOperand::At(left) = left else { break };
                let right = self.operand(right);
                let (first, second) = if binary.swapped { (right, left) } else { (left, right) };
                self.span = span;
                self.top = mark;
                let width = if gives_boolean(binary.family) { Scalar::U8 } else { binary.scalar };
                let target = self.result(width, target);
                self.emit(binary.family, binary.scalar, &[target.into(), first.into(), second.into()]);
                target
            };
            if position > 0 {
                // The whole is noted by whoever evaluates it.
                self.note_value(node, spot);
            }
            left = BoolOperand::At(spot);
            result = Some(spot);
        }
        // A chain has at least one operator.
        result.unwrap_or_else(|| self.integer(0, Scalar::U64))
    }

    /// An extensible function with more than two operands: all are evaluated, then folded from the left.
    fn fold(
        &mut self,
        family: Family,
        arguments: &[Expression],
        brought: &[ElementaryType],
        target: Option<Spot>,
    ) -> Spot {
        let own = arguments.first().and_then(|first| self.scalar_of(first.ty));
        let Some(scalar) = brought.first().and_then(|kind| kind.scalar()).or(own) else {
            self.internal("this function needs scalar operands");
            return self.integer(0, Scalar::U64);
        };
        let family =
            boolean_form(family, false).filter(|_| self.boolean(arguments)).map_or(family, |form| form.0);
        let scalar = operation_scalar(family, scalar);
        let spots = self.operands_as(&arguments.iter().collect::<Vec<_>>(), brought);
        let mut spots = spots.into_iter();
        let Some(mut left) = spots.next() else { return self.integer(0, scalar) };
        let last = spots.len();
        for (right, position) in spots.zip(1..) {
            let result = self.result(scalar, if position == last { target } else { None });
            self.emit(family, scalar, &[result.into(), left.into(), right.into()]);
            left = result;
        }
        left
    }

    /// `GT(a, b, c)`: each operand with its neighbour, all of them TRUE.
    fn comparison_chain(
        &mut self,
        kind: ComparisonKind,
        arguments: &[Expression],
        target: Option<Spot>,
    ) -> Spot {
        let (family, swapped) = kind.instruction();
        let Some(scalar) = arguments.first().and_then(|first| self.scalar_of(first.ty)) else {
            self.internal("this comparison needs scalar operands");
            return self.integer(0, Scalar::U8);
        };
        let form = boolean_form(family, swapped).filter(|_| self.boolean(arguments));
        let (family, swapped) = form.unwrap_or((family, swapped));
        let scalar = operation_scalar(family, scalar);
        let spots = self.operands(&arguments.iter().collect::<Vec<_>>());
        self.all_neighbours(&spots, target, |this, one, left, right| {
            let (left, right) = if swapped { (right, left) } else { (left, right) };
            this.emit(family, scalar, &[one.into(), left.into(), right.into()]);
        })
    }

    /// Whether something holds between each value and its neighbour. `holds` emits the test of a pair: where its
    /// outcome goes, then the two.
    pub(super) fn all_neighbours(
        &mut self,
        values: &[Spot],
        target: Option<Spot>,
        mut holds: impl FnMut(&mut Self, Spot, Spot, Spot),
    ) -> Spot {
        let pairs = values.len().saturating_sub(1);
        let mut all: Option<Spot> = None;
        for ((left, right), position) in values.iter().zip(values.iter().skip(1)).zip(1..) {
            let one = self.result(Scalar::U8, if pairs == 1 { target } else { None });
            holds(self, one, *left, *right);
            all = Some(match all {
                None => one,
                Some(before) => {
                    let result = self.result(Scalar::U8, if position == pairs { target } else { None });
                    self.emit(Family::BoolAnd, Scalar::U8, &[result.into(), before.into(), one.into()]);
                    result
                }
            });
        }
        all.unwrap_or_else(|| self.integer(1, Scalar::U8))
    }

    /// `LIMIT(MN, IN, MX)` is `MIN(MAX(IN, MN), MX)`, with an event when the limits are crossed.
    fn limit(&mut self, arguments: &[Expression], target: Option<Spot>) -> Spot {
        let spots = self.operands(&arguments.iter().collect::<Vec<_>>());
        let ([low, value, high], [low_spot, value_spot, high_spot]) = (arguments, spots.as_slice()) else {
            self.internal("LIMIT has three operands");
            return self.integer(0, Scalar::U64);
        };
        let scalar = self.scalar(value.ty);
        let known_order = match (&low.kind, &high.kind) {
            (ExpressionKind::Constant(low), ExpressionKind::Constant(high)) => ordered(low, high),
            _ => false,
        };
        if !known_order {
            let in_order = self.code.label();
            let crossed = self.scalar_temporary(Scalar::U8);
            self.emit(Family::Less, scalar, &[crossed.into(), (*high_spot).into(), (*low_spot).into()]);
            self.emit(Family::JumpUnless, Scalar::U8, &[crossed.into(), in_order.into()]);
            self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(EventKind::CrossedLimits.code())]);
            self.code.bind(in_order);
        }
        let least = self.scalar_temporary(scalar);
        self.emit(Family::Maximum, scalar, &[least.into(), (*value_spot).into(), (*low_spot).into()]);
        let target = self.result(scalar, target);
        self.emit(Family::Minimum, scalar, &[target.into(), least.into(), (*high_spot).into()]);
        target
    }

    /// `MUX(K, IN0, IN1…)`: all inputs are evaluated; K outside gives IN0 and an event.
    fn multiplexer(&mut self, selector: &Expression, inputs: &[Expression], target: Option<Spot>) -> Spot {
        let all: Vec<&Expression> = std::iter::once(selector).chain(inputs).collect();
        let spots = self.operands(&all);
        let Some((selector_spot, inputs_spots)) = spots.split_first() else {
            return self.integer(0, Scalar::U64);
        };
        let Some(scalar) = inputs.first().map(|input| self.scalar(input.ty).bits()) else {
            return self.integer(0, Scalar::U64);
        };
        let selector_scalar = self.scalar(selector.ty);
        self.choose(*selector_spot, selector_scalar, inputs_spots, scalar, target)
    }

    /// The place among several that a selector names.
    pub(super) fn choose(
        &mut self,
        selector: Spot,
        selector_scalar: Scalar,
        inputs: &[Spot],
        scalar: Scalar,
        target: Option<Spot>,
    ) -> Spot {
        let Some((first, others)) = inputs.split_first() else { return self.integer(0, scalar) };
        // Each way through writes the target once, after everything on that way has been read.
        let chosen = self.result(scalar, target);
        let hit = self.scalar_temporary(Scalar::U8);
        let done = self.code.label();
        let numbered = std::iter::once(first).chain(others).zip(0..);
        for (input, number) in numbered {
            let number = self.integer(number, selector_scalar);
            let next = self.code.label();
            let arguments = [hit.into(), selector.into(), number.into()];
            self.emit(Family::Equal, selector_scalar.bits(), &arguments);
            self.emit(Family::JumpUnless, Scalar::U8, &[hit.into(), next.into()]);
            self.emit(Family::Move, scalar, &[chosen.into(), (*input).into()]);
            self.emit(Family::Jump, Scalar::U8, &[done.into()]);
            self.code.bind(next);
        }
        self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(EventKind::Selector.code())]);
        self.emit(Family::Move, scalar, &[chosen.into(), (*first).into()]);
        self.code.bind(done);
        chosen
    }
}

/// The scalar an instruction works on: bit operations and tests for equality take plain widths.
pub(super) fn operation_scalar(family: Family, scalar: Scalar) -> Scalar {
    let plain = matches!(family, Family::And | Family::Or | Family::Xor | Family::Complement | Family::Not)
        || (matches!(family, Family::Equal | Family::NotEqual) && !scalar.is_float());
    if plain { scalar.bits() } else { scalar }
}

fn gives_boolean(family: Family) -> bool {
    matches!(family, Family::Equal | Family::NotEqual | Family::Less | Family::LessOrEqual)
}

/// Whether two constants are known to be in order.
fn ordered(low: &Constant, high: &Constant) -> bool {
    match (low, high) {
        (Constant::Integer(low), Constant::Integer(high)) => low <= high,
        (Constant::Time(low), Constant::Time(high)) => low <= high,
        (Constant::Real(low), Constant::Real(high)) => low <= high,
        (Constant::Lreal(low), Constant::Lreal(high)) => low <= high,
        _ => false,
    }
}
