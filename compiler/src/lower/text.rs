//! Values that are no scalars: strings, arrays, structures. They stay where they are until they are copied.
//!
//! Selections among them choose an address, not a copy; other functions make a new text in a temporary, so that
//! `s := CONCAT(s, s)` reads `s` before it is written. Implements IEC 61131-3:2013, tables 32 to 34 for strings and
//! the assignment of whole variables (7.3.3.1).

use latchwork_stdlib::{ComparisonKind, ConversionRule, FunctionDefinition, Lowering as Form, conversion};
use latchwork_vm::{ElementaryType, EventKind, Family, Scalar};

use super::{access::Location, code::Argument, standard::operation_scalar, unit::Lowering};
use crate::{
    layout::{Spot, initial::string_bytes},
    typed::{Expression, ExpressionKind, accesses},
    types::{Type, TypeId},
};

impl Lowering<'_> {
    /// Where the value of an expression that is no scalar is.
    pub(super) fn region(&mut self, value: &Expression) -> Location {
        match &value.kind {
            ExpressionKind::Constant(constant) => match string_bytes(constant) {
                Some(bytes) => Location::Spot(self.shared.pool.constant(&bytes, 2)),
                None => self.no_region(),
            },
            ExpressionKind::Access(access) => self.whole(access),
            ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) => {
                match self.elementary(inner.ty).and_then(|kind| kind.scalar()) {
                    Some(scalar) => self.one_character(inner, scalar),
                    None => self.region(inner),
                }
            }
            ExpressionKind::Standard { function, on, arguments } => {
                let before = std::mem::replace(&mut self.span, value.span);
                let location = self.standard_region(function, *on, arguments, value);
                self.span = before;
                location
            }
            ExpressionKind::Function(call) => {
                let before = std::mem::replace(&mut self.span, value.span);
                let location = self.call_function(call);
                self.span = before;
                match location {
                    Some(location) => location,
                    None => self.no_region(),
                }
            }
            ExpressionKind::Reference(_)
            | ExpressionKind::Outputs(_)
            | ExpressionKind::Bound(_)
            | ExpressionKind::ScanTime
            | ExpressionKind::Attempt { .. } => self.no_region(),
            ExpressionKind::Controlled(call) => {
                let result = self.controlled(call);
                self.whole(&result)
            }
        }
    }

    fn no_region(&mut self) -> Location {
        self.internal("a value of this form has no place");
        Location::Spot(self.shared.pool.constant(&[0; 8], 8))
    }

    /// A character as a string of length 1.
    fn one_character(&mut self, character: &Expression, scalar: Scalar) -> Location {
        let value = self.operand(character);
        self.character_text(value, scalar)
    }

    /// A character at a place as a string of length 1, in temporaries of its own.
    pub(super) fn character_text(&mut self, value: Spot, scalar: Scalar) -> Location {
        let text = self.temporary(4 + scalar.size(), 4);
        let head = self.shared.pool.constant(&[1, 0, 1, 0], 4);
        self.emit(Family::Move, Scalar::U32, &[text.into(), head.into()]);
        self.emit(Family::Move, scalar.bits(), &[text.plus(4).into(), value.into()]);
        Location::Spot(text)
    }

    fn standard_region(
        &mut self,
        function: &'static FunctionDefinition,
        on: Option<ElementaryType>,
        arguments: &[Expression],
        whole: &Expression,
    ) -> Location {
        let (form, brought) = self.form(function, arguments);
        match (form, arguments) {
            (Form::Native(routine), _) => self.native_text(routine, arguments, brought, whole.ty),
            (Form::Append(routine), _) => self.appended(routine, arguments, whole.ty),
            (Form::Convert { truncate }, [operand]) => {
                let from = on.or_else(|| self.elementary(operand.ty));
                let rule = from.zip(self.elementary(whole.ty));
                match rule.and_then(|(from, to)| conversion(from, to, truncate)) {
                    Some(ConversionRule::Text { routine, .. }) => {
                        self.native_text(routine, arguments, &[], whole.ty)
                    }
                    _ => self.no_region(),
                }
            }
            (Form::Move, [operand]) => self.region(operand),
            (Form::ByteOrder { swap: false }, [operand]) => self.region(operand),
            (Form::ByteOrder { swap: true }, [operand]) => self.swapped_region(operand),
            (Form::Select, [condition, no, yes]) => {
                let condition_spot = self.operand(condition);
                let condition_spot = self.stabilise(condition_spot, Scalar::U8);
                let addresses = self.text_addresses(&[no, yes]);
                let chosen = self.scalar_temporary(Scalar::U32);
                let operands = [chosen, condition_spot].into_iter().chain(addresses);
                let operands: Vec<Argument> = operands.map(Argument::Spot).collect();
                self.emit(Family::Select, Scalar::U32, &operands);
                Location::At { address: chosen, offset: 0 }
            }
            (Form::Multiplexer, [selector, inputs @ ..]) => {
                let scalar = self.scalar(selector.ty);
                let spot = self.operand(selector);
                let spot = self.stabilise(spot, scalar);
                let addresses = self.text_addresses(&inputs.iter().collect::<Vec<_>>());
                let chosen = self.choose(spot, scalar, &addresses, Scalar::U32, None);
                Location::At { address: chosen, offset: 0 }
            }
            (Form::Family(family @ (Family::Maximum | Family::Minimum)), [first, ..]) => {
                let wide = self.elementary(first.ty) == Some(ElementaryType::Wstring);
                let addresses = self.text_addresses(&arguments.iter().collect::<Vec<_>>());
                let mut addresses = addresses.into_iter();
                let Some(mut chosen) = addresses.next() else { return self.no_region() };
                for other in addresses {
                    chosen = self.extreme(family, chosen, other, wide);
                }
                Location::At { address: chosen, offset: 0 }
            }
            (Form::Limit, [low, _, _]) => {
                let wide = self.elementary(low.ty) == Some(ElementaryType::Wstring);
                let addresses = self.text_addresses(&arguments.iter().collect::<Vec<_>>());
                let [low, value, high] = addresses.as_slice() else { return self.no_region() };
                let in_order = self.code.label();
                let order = self.compare_addresses(*high, *low, wide);
                let zero = self.integer(0, Scalar::I8);
                let crossed = self.scalar_temporary(Scalar::U8);
                self.emit(Family::Less, Scalar::I8, &[crossed.into(), order.into(), zero.into()]);
                self.emit(Family::JumpUnless, Scalar::U8, &[crossed.into(), in_order.into()]);
                self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(EventKind::CrossedLimits.code())]);
                self.code.bind(in_order);
                let least = self.extreme(Family::Maximum, *value, *low, wide);
                let chosen = self.extreme(Family::Minimum, least, *high, wide);
                Location::At { address: chosen, offset: 0 }
            }
            _ => self.no_region(),
        }
    }

    /// A native routine that makes a text, and where the text is.
    fn native_text(
        &mut self,
        routine: &'static str,
        arguments: &[Expression],
        brought: &[ElementaryType],
        kind: TypeId,
    ) -> Location {
        let text = self.empty_text(kind);
        let mark = self.top;
        self.run_native(routine, arguments, brought, Some(text));
        self.top = mark;
        Location::Spot(text)
    }

    /// A text of all operands one behind the other. Each is appended before the next is evaluated, so that its
    /// temporaries are free again and no later call changes it.
    fn appended(&mut self, routine: &'static str, arguments: &[Expression], kind: TypeId) -> Location {
        let text = self.empty_text(kind);
        let mark = self.top;
        let frame = self.temporary(16, 8);
        self.address_into(Location::Spot(text), frame.plus(8));
        for argument in arguments {
            let mark = self.top;
            let operand = self.region(argument);
            self.address_into(operand, frame);
            self.native(routine, frame);
            self.top = mark;
        }
        self.top = mark;
        Location::Spot(text)
    }

    /// A temporary for a text, empty, with the capacity that its type says.
    fn empty_text(&mut self, kind: TypeId) -> Spot {
        let Type::String { capacity, .. } = *self.underlying(kind) else {
            self.internal("the result of this function is no text");
            return self.temporary(8, 4);
        };
        let size = self.size(kind);
        let text = self.temporary(size, 4);
        let head = self.integer(i128::from(capacity), Scalar::U32);
        self.emit(Family::Move, Scalar::U32, &[text.into(), head.into()]);
        text
    }

    /// The address of the greater or lesser of two strings; of equal ones the first.
    fn extreme(&mut self, family: Family, first: Spot, second: Spot, wide: bool) -> Spot {
        let order = self.compare_addresses(first, second, wide);
        let zero = self.integer(0, Scalar::I8);
        let take_second = self.scalar_temporary(Scalar::U8);
        let (below, above) = if family == Family::Maximum { (order, zero) } else { (zero, order) };
        self.emit(Family::Less, Scalar::I8, &[take_second.into(), below.into(), above.into()]);
        let chosen = self.scalar_temporary(Scalar::U32);
        let operands = [chosen.into(), take_second.into(), first.into(), second.into()];
        self.emit(Family::Select, Scalar::U32, &operands);
        chosen
    }

    /// Compares strings, each with its neighbour.
    pub(super) fn compare_texts(
        &mut self,
        kind: ComparisonKind,
        arguments: &[Expression],
        target: Option<Spot>,
    ) -> Spot {
        let (family, swapped) = kind.instruction();
        let addresses = self.text_addresses(&arguments.iter().collect::<Vec<_>>());
        let wide =
            arguments.first().and_then(|first| self.elementary(first.ty)) == Some(ElementaryType::Wstring);
        let zero = self.integer(0, Scalar::I8);
        let scalar = operation_scalar(family, Scalar::I8);
        self.all_neighbours(&addresses, target, |this, one, left, right| {
            let order = this.compare_addresses(left, right, wide);
            let (first, second) = if swapped { (zero, order) } else { (order, zero) };
            this.emit(family, scalar, &[one.into(), first.into(), second.into()]);
        })
    }

    /// -1, 0 or 1: the order of two strings given by their addresses.
    pub(super) fn compare_addresses(&mut self, left: Spot, right: Spot, wide: bool) -> Spot {
        let order = self.scalar_temporary(Scalar::I8);
        let family = if wide { Family::CompareWideString } else { Family::CompareString };
        self.emit(family, Scalar::U8, &[order.into(), left.into(), right.into()]);
        order
    }

    /// Addresses of several strings, evaluated in order and kept while the later ones are evaluated.
    pub(super) fn text_addresses(&mut self, texts: &[&Expression]) -> Vec<Spot> {
        let last_call = texts.iter().rposition(|value| accesses::calls(value)).unwrap_or(0);
        let mut addresses = Vec::with_capacity(texts.len());
        for (index, text) in texts.iter().enumerate() {
            let mut location = self.region(text);
            if index < last_call {
                location = self.kept_region(location, text.ty);
            }
            addresses.push(self.address(location));
        }
        addresses
    }

    /// A copy of a string, array or structure that no call changes.
    pub(super) fn kept_region(&mut self, location: Location, kind: TypeId) -> Location {
        if let Location::Spot(spot) = location
            && self.is_stable(spot)
        {
            return location;
        }
        Location::Spot(self.copied_region(location, kind))
    }
}
