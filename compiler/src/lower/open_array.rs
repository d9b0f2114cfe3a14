//! Arrays of any bounds: passing them, reaching their elements, asking for their bounds.
//!
//! What stands for such a parameter is the address of the array with its bounds behind it, all in the frame or
//! instance of the called unit. Implements IEC 61131-3:2013, 6.5.3 and table 15.

use latchwork_vm::{EventKind, Family, Scalar};

use super::{
    access::Location,
    call::{Pending, PendingKind},
    code::Argument,
    unit::Lowering,
};
use crate::{
    layout::{
        Spot,
        sizes::{OPEN_BOUND, OPEN_BOUNDS},
    },
    typed::{Access, ArrayBound, BoundedArray, Constant, Expression, ExpressionKind, Root, VariableId},
    types::{Type, TypeId},
};

impl Lowering<'_> {
    /// The bounds of an array for a parameter that takes any: of a parameter of the running unit, or constants.
    pub(super) fn bounds_of(&mut self, kind: TypeId, root: Option<&Root>) -> Vec<Spot> {
        match (self.underlying(kind).clone(), root) {
            (Type::Array { bounds, .. }, _) => bounds
                .iter()
                .map(|(lower, upper)| {
                    // The checker has refused bounds that are no DINT.
                    let (lower, upper) = (*lower as i32 as u32, *upper as i32 as u32);
                    let both = u64::from(lower) << 32 | u64::from(upper);
                    self.integer(i128::from(both), Scalar::U64)
                })
                .collect(),
            (Type::OpenArray { dimensions, .. }, Some(Root::Variable(id))) => {
                let Some(own) = self.descriptor(*id) else { return Vec::new() };
                (0..u32::from(dimensions)).map(|index| own.plus(OPEN_BOUNDS + OPEN_BOUND * index)).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Where a parameter for arrays of any bounds has its address and bounds.
    pub(super) fn descriptor(&mut self, id: VariableId) -> Option<Spot> {
        self.places.variables.get(id.0 as usize).map(|storage| storage.spot)
    }

    /// Passes the bounds of an array.
    pub(super) fn give_bounds(
        &mut self,
        bounds: Vec<Spot>,
        target: Location,
        later: bool,
        pending: &mut Vec<Pending>,
    ) {
        for (bound, index) in bounds.into_iter().zip(0..) {
            let target = target.plus(OPEN_BOUNDS + OPEN_BOUND * index);
            match (target, later) {
                (Location::Spot(spot), false) => {
                    self.emit(Family::Move, Scalar::U64, &[spot.into(), bound.into()]);
                }
                _ => pending.push(Pending {
                    target,
                    kind: PendingKind::Scalar(Scalar::U64),
                    value: Location::Spot(bound),
                }),
            }
        }
    }

    /// The element of a parameter for arrays of any bounds.
    pub(super) fn open_element(
        &mut self,
        descriptor: Spot,
        element: TypeId,
        subscripts: &[Expression],
    ) -> Location {
        let operands = self.operands(&subscripts.iter().collect::<Vec<_>>());
        let mut position = self.integer(0, Scalar::U32);
        for ((operand, subscript), index) in operands.into_iter().zip(subscripts).zip(0..) {
            let next = self.scalar_temporary(Scalar::U32);
            let bounds = descriptor.plus(OPEN_BOUNDS + OPEN_BOUND * index);
            let scalar = self.scalar(subscript.ty);
            let arguments = [next.into(), position.into(), operand.into(), bounds.into()];
            self.emit(Family::IndexOpen, scalar, &arguments);
            position = next;
        }
        let size = self.size(element);
        let address = self.scalar_temporary(Scalar::U32);
        // Inside the array, so neither wraps.
        if size > 1 {
            let size = self.integer(i128::from(size), Scalar::U32);
            self.emit(Family::Multiply, Scalar::U32, &[address.into(), position.into(), size.into()]);
            position = address;
        }
        self.emit(Family::Add, Scalar::U32, &[address.into(), descriptor.into(), position.into()]);
        Location::At { address, offset: 0 }
    }

    /// `LOWER_BOUND`, `UPPER_BOUND`.
    pub(super) fn array_bound(&mut self, bound: &ArrayBound, target: Option<Spot>) -> Spot {
        let half = if bound.upper { 0 } else { 4 };
        let places: Vec<Spot> = match &bound.array {
            BoundedArray::Open(id, dimensions) => match self.descriptor(*id) {
                Some(own) => (0..u32::from(*dimensions))
                    .map(|index| own.plus(OPEN_BOUNDS + OPEN_BOUND * index + half))
                    .collect(),
                None => Vec::new(),
            },
            BoundedArray::Fixed(bounds) => bounds
                .iter()
                .map(|(lower, upper)| {
                    let value = if bound.upper { *upper } else { *lower };
                    self.integer(i128::from(value), Scalar::I32)
                })
                .collect(),
        };
        if let ExpressionKind::Constant(Constant::Integer(dimension)) = bound.dimension.kind
            && let Some(place) = usize::try_from(dimension - 1).ok().and_then(|index| places.get(index))
        {
            return self.deliver(*place, Scalar::I32, target);
        }
        let scalar = self.scalar(bound.dimension.ty);
        let dimension = self.operand(&bound.dimension);
        // Each way through writes the target once.
        let chosen = self.scalar_temporary(Scalar::I32);
        let hit = self.scalar_temporary(Scalar::U8);
        let done = self.code.label();
        for (place, number) in places.into_iter().zip(1..) {
            let next = self.code.label();
            let number = self.integer(number, scalar);
            self.emit(Family::Equal, scalar.bits(), &[hit.into(), dimension.into(), number.into()]);
            self.emit(Family::JumpUnless, Scalar::U8, &[hit.into(), next.into()]);
            self.emit(Family::Move, Scalar::U32, &[chosen.into(), place.into()]);
            self.emit(Family::Jump, Scalar::U8, &[done.into()]);
            self.code.bind(next);
        }
        let none = self.integer(0, Scalar::I32);
        self.emit(Family::Event, Scalar::U8, &[Argument::Immediate(EventKind::Dimension.code())]);
        self.emit(Family::Move, Scalar::U32, &[chosen.into(), none.into()]);
        self.code.bind(done);
        self.deliver(chosen, Scalar::I32, target)
    }

    /// The variable an expression is, if it is one.
    pub(super) fn root_of(value: &Expression) -> Option<&Root> {
        match &value.kind {
            ExpressionKind::Access(Access { root, .. }) => Some(root),
            _ => None,
        }
    }
}
