//! Variables and parts of them: finding the place, reading and writing it.
//!
//! A path of members and constant subscripts collapses into one place. Other subscripts are checked by the
//! instruction that computes the address. Implements IEC 61131-3:2013, 6.4.4.5 (subscripts), 6.5.2.2 (in-out
//! variables), table 12 (references), table 17 (partial access).

use latchwork_grammar::tree::{AddressSize, SectionKind};
use latchwork_vm::{Family, IndexRange, Scalar};

use super::unit::Lowering;
use crate::{
    layout::{
        Base, Spot,
        areas::width,
        sizes::{elements, is_indirect},
    },
    typed::{Access, Constant, Expression, ExpressionKind, Root, Step, accesses},
    types::{DerivedId, Type, TypeId},
};

/// Where a variable is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Location {
    /// At a place known now.
    Spot(Spot),
    /// At the address that a 32-bit place holds, plus an offset.
    At {
        /// The place of the address.
        address: Spot,
        /// Bytes from there.
        offset: u32,
    },
}

impl Location {
    /// The location so many bytes further on.
    pub(super) fn plus(self, bytes: u32) -> Self {
        match self {
            Location::Spot(spot) => Location::Spot(spot.plus(bytes)),
            Location::At { address, offset } => {
                Location::At { address, offset: offset.saturating_add(bytes) }
            }
        }
    }
}

/// What an access leads to.
#[derive(Clone, Copy, Debug)]
pub(super) enum Reach {
    /// A variable, or a part of whole bytes.
    Whole(Location),
    /// One bit of a byte.
    Bit {
        /// The byte.
        byte: Location,
        /// The bit as a mask.
        mask: u8,
    },
}

/// The value of a subscript that is known now.
fn known_integer(mut value: &Expression) -> Option<i128> {
    loop {
        match &value.kind {
            ExpressionKind::Constant(Constant::Integer(number)) => return Some(*number),
            ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) => value = inner,
            _ => return None,
        }
    }
}

/// Whether constant subscripts lie within the bounds; otherwise the machine reports them at run time.
fn known_subscripts(subscripts: &[Expression], bounds: &[(i64, i64)]) -> bool {
    subscripts.iter().zip(bounds).all(|(subscript, (lower, upper))| {
        known_integer(subscript)
            .is_some_and(|value| value >= i128::from(*lower) && value <= i128::from(*upper))
    })
}

impl Lowering<'_> {
    /// The place of an access that needs no instruction to be found, nor a part of a byte.
    pub(super) fn static_spot(&mut self, access: &Access) -> Option<Spot> {
        let indirect = match &access.root {
            Root::Variable(id) => {
                self.places.variables.get(id.0 as usize).is_none_or(|storage| storage.indirect)
            }
            Root::This | Root::Global(_) | Root::Direct(_) => false,
        };
        let mut kind = self.root_type(&access.root);
        for step in &access.steps {
            let fixed = match (step, kind.map(|kind| self.underlying(kind))) {
                (Step::Member(index), Some(Type::Structure(id)))
                    if self.member_bit(*id, *index).is_some() =>
                {
                    false
                }
                (Step::Member(index), Some(kind)) => !self.is_cell(kind, *index),
                (Step::Member(_), None) => true,
                (Step::Index(subscripts), Some(Type::Array { bounds, .. })) => {
                    known_subscripts(subscripts, bounds)
                }
                (Step::Partial { size, .. }, _) => *size != AddressSize::Bit,
                _ => false,
            };
            if !fixed {
                return None;
            }
            kind = kind.and_then(|kind| self.step_type(kind, step));
        }
        if indirect {
            return None;
        }
        match self.reach(access) {
            Reach::Whole(Location::Spot(spot)) => Some(spot),
            _ => None,
        }
    }

    /// The type of a root; `None` for a direct address, which has no steps but partial ones.
    fn root_type(&self, root: &Root) -> Option<TypeId> {
        match root {
            Root::Variable(id) => self.unit.variables.get(id.0 as usize).map(|variable| variable.kind),
            Root::Global(id) => self.context.program.globals.get(id.0 as usize).map(|variable| variable.kind),
            Root::This => self.this_type(),
            Root::Direct(_) => None,
        }
    }

    /// The type a step leads to.
    pub(super) fn step_type(&self, kind: TypeId, step: &Step) -> Option<TypeId> {
        let program = self.context.program;
        match (step, self.underlying(kind)) {
            (Step::Member(index), Type::Structure(id)) => {
                program.types.structure(*id).members.get(*index as usize).map(|member| member.kind)
            }
            (Step::Member(index), Type::Unit(id)) => {
                let unit = program.units.get(id.0 as usize)?;
                unit.variables.get(*index as usize).map(|variable| variable.kind)
            }
            (Step::Index(_), Type::Array { element, .. } | Type::OpenArray { element, .. }) => Some(*element),
            (Step::Dereference, Type::Reference(target)) => Some(*target),
            _ => None,
        }
    }

    fn root_location(&mut self, root: &Root) -> Location {
        match root {
            Root::Variable(id) => {
                if let Some(pulse) = self.pulses.get(&id.0) {
                    return Location::Spot(*pulse);
                }
                match self.places.variables.get(id.0 as usize) {
                    Some(storage) if storage.indirect => Location::At { address: storage.spot, offset: 0 },
                    Some(storage) => Location::Spot(storage.spot),
                    None => self.nowhere(),
                }
            }
            Root::Global(id) => match self.context.storage.globals.get(id.0 as usize) {
                Some(spot) => Location::Spot(*spot),
                None => self.nowhere(),
            },
            Root::This => Location::Spot(Spot::new(Base::Instance, 0)),
            Root::Direct(address) => Location::Spot(self.context.storage.areas.spot(address)),
        }
    }

    /// A variable of the owner of a method. An external is elsewhere, and the name of an input with an edge stands
    /// for the pulse.
    fn own_member(&mut self, this: Location, kind: Option<TypeId>, index: u32) -> Location {
        let (owner, context) = (self.this_unit(), self.context);
        let variables = context.program.units.get(owner.0 as usize).map(|unit| &unit.variables);
        let variable = variables.and_then(|variables| variables.get(index as usize));
        if variable.is_some_and(|variable| variable.section == SectionKind::External) {
            let places = context.storage.units.get(owner.0 as usize).map(|places| &places.variables);
            return match places.and_then(|places| places.get(index as usize)) {
                Some(storage) if storage.indirect => Location::At { address: storage.spot, offset: 0 },
                Some(storage) => Location::Spot(storage.spot),
                None => self.nowhere(),
            };
        }
        let instance = context.storage.sizes.instance(owner);
        match instance.edges.iter().find(|edge| edge.variable == index) {
            Some(edge) => this.plus(edge.pulse),
            None => this.plus(self.member_offset(kind, index)),
        }
    }

    fn nowhere(&mut self) -> Location {
        self.internal("a variable has no place");
        Location::Spot(self.shared.pool.constant(&[0; 8], 8))
    }

    /// Follows an access, emitting what its subscripts and references need.
    pub(super) fn reach(&mut self, access: &Access) -> Reach {
        let before = std::mem::replace(&mut self.span, access.span);
        self.gather_bits(&access.root);
        let mut location = self.root_location(&access.root);
        let mut kind = self.root_type(&access.root);
        let mut result = None;
        for (position, step) in access.steps.iter().enumerate() {
            match step {
                Step::Member(index) => {
                    location = if position == 0 && access.root == Root::This {
                        self.own_member(location, kind, *index)
                    } else {
                        location.plus(self.member_offset(kind, *index))
                    };
                    if kind.is_some_and(|kind| self.is_cell(self.underlying(kind), *index)) {
                        let address = self.load(location, Scalar::U32, None);
                        location = Location::At { address, offset: 0 };
                    }
                    if let Some(Type::Structure(id)) = kind.map(|kind| self.underlying(kind))
                        && let Some(bit) = self.member_bit(*id, *index)
                    {
                        result = Some(Reach::Bit { byte: location, mask: 1 << bit });
                    }
                }
                Step::Index(subscripts) => {
                    let open = kind.map(|kind| self.underlying(kind).clone());
                    location = match (open, &access.root) {
                        // Such an array is a parameter, so this is its first step.
                        (Some(Type::OpenArray { element, .. }), Root::Variable(id)) => {
                            match self.descriptor(*id) {
                                Some(descriptor) => self.open_element(descriptor, element, subscripts),
                                None => self.nowhere(),
                            }
                        }
                        _ => self.element(location, kind, subscripts),
                    };
                }
                Step::Character(position) => location = self.character(location, kind, position),
                Step::Dereference => {
                    let address = self.load(location, Scalar::U32, None);
                    location = Location::At { address, offset: 0 };
                }
                Step::Partial { size: AddressSize::Bit, index } => {
                    result = Some(Reach::Bit { byte: location.plus(index / 8), mask: 1 << (index % 8) });
                }
                Step::Partial { size, index } => location = location.plus(index.saturating_mul(width(*size))),
            }
            kind = kind.and_then(|kind| self.step_type(kind, step));
        }
        let reach = result.unwrap_or(Reach::Whole(location));
        self.note_place(access, reach);
        self.span = before;
        reach
    }

    /// Whether a member holds the address of its value: one declared with `AT %I*`, an instance that is an input.
    fn is_cell(&self, kind: &Type, index: u32) -> bool {
        let program = self.context.program;
        match kind {
            Type::Structure(id) => program.types.open_members.contains_key(&(*id, index)),
            Type::Unit(id) => {
                let unit = program.units.get(id.0 as usize);
                let variable = unit.and_then(|unit| unit.variables.get(index as usize));
                variable.is_some_and(|variable| is_indirect(program, variable))
            }
            _ => false,
        }
    }

    /// Follows an access to a whole variable: an instance, an in-out argument.
    pub(super) fn whole(&mut self, access: &Access) -> Location {
        match self.reach(access) {
            Reach::Whole(location) => location,
            Reach::Bit { byte, .. } => {
                self.internal("a single bit cannot be used here");
                byte
            }
        }
    }

    /// The bit that a member of a structure is, if it is not bytes of its own.
    fn member_bit(&self, id: DerivedId, index: u32) -> Option<u8> {
        self.context.program.types.structure(id).members.get(index as usize)?.place?.bit
    }

    /// Offset of a member of a structure, instance or standard block.
    pub(super) fn member_offset(&mut self, kind: Option<TypeId>, index: u32) -> u32 {
        let offset = kind.and_then(|kind| match self.underlying(kind) {
            Type::Structure(id) => Some(self.context.storage.sizes.member(*id, index)),
            Type::Unit(id) => {
                let instance = self.context.storage.sizes.instance(*id);
                instance.offsets.get(index as usize).copied().flatten()
            }
            Type::StandardBlock(block) => {
                let members = self.context.program.types.standard_block(*block).members;
                members.get(index as usize).map(|member| member.offset)
            }
            _ => None,
        });
        offset.unwrap_or_else(|| {
            self.internal("a member has no place");
            0
        })
    }

    /// The element of an array: constant subscripts move the place, others compute an address.
    fn element(&mut self, array: Location, kind: Option<TypeId>, subscripts: &[Expression]) -> Location {
        let context = self.context;
        let types = &context.program.types;
        let Some(Type::Array { bounds, element }) = kind.map(|kind| types.get(types.underlying(kind))) else {
            self.internal("only arrays have subscripts");
            return array;
        };
        let size = self.size(*element);
        let inside = |subscript: &Expression, (lower, upper): (i64, i64)| {
            let value = known_integer(subscript)?;
            let inside = value >= i128::from(lower) && value <= i128::from(upper);
            inside.then(|| (value - i128::from(lower)) as u32)
        };
        let computed: Vec<&Expression> = subscripts
            .iter()
            .zip(bounds)
            .filter(|(subscript, bound)| inside(subscript, **bound).is_none())
            .map(|(subscript, _)| subscript)
            .collect();
        let mut operands = self.operands(&computed).into_iter();
        let mut location = array;
        let mut stride = size;
        let mut strides = Vec::new();
        for bound in bounds.iter().rev() {
            strides.push(stride);
            let count = u32::try_from(elements(&[*bound])).unwrap_or(u32::MAX);
            stride = stride.saturating_mul(count);
        }
        strides.reverse();
        for ((subscript, bound), stride) in subscripts.iter().zip(bounds).zip(strides) {
            location = match (inside(subscript, *bound), bound) {
                (Some(distance), _) => location.plus(distance.saturating_mul(stride)),
                (None, (lower, _)) => {
                    // One operand for each subscript that is not known.
                    let Some(operand) = operands.next() else { return location };
                    let count = u32::try_from(elements(&[*bound])).unwrap_or(u32::MAX);
                    let range = IndexRange { lower: *lower, count, stride };
                    let scalar = self.scalar(subscript.ty);
                    self.index(location, operand, scalar, range)
                }
            };
        }
        location
    }

    /// Emits the address of an element.
    fn index(&mut self, array: Location, subscript: Spot, scalar: Scalar, range: IndexRange) -> Location {
        use super::code::Argument::Range;
        let address = self.scalar_temporary(Scalar::U32);
        match array {
            Location::Spot(spot) => {
                let arguments = [address.into(), spot.into(), subscript.into(), Range(range)];
                self.emit(Family::Index, scalar, &arguments);
                Location::At { address, offset: 0 }
            }
            Location::At { address: start, offset } => {
                let arguments = [address.into(), start.into(), subscript.into(), Range(range)];
                self.emit(Family::IndexAddress, scalar, &arguments);
                Location::At { address, offset }
            }
        }
    }

    /// The character of a string at a position from 1 to its length.
    fn character(&mut self, string: Location, kind: Option<TypeId>, position: &Expression) -> Location {
        let Some(Type::String { wide, .. }) = kind.map(|kind| self.underlying(kind)) else {
            self.internal("only strings have characters");
            return string;
        };
        let family = if *wide { Family::IndexWideCharacter } else { Family::IndexCharacter };
        let operand = self.operand(position);
        let scalar = self.scalar(position.ty);
        let text = self.address(string);
        let address = self.scalar_temporary(Scalar::U32);
        self.emit(family, scalar, &[address.into(), text.into(), operand.into()]);
        Location::At { address, offset: 0 }
    }

    /// The value at a location, in `target` if one is given.
    pub(super) fn load(&mut self, location: Location, scalar: Scalar, target: Option<Spot>) -> Spot {
        match location {
            Location::Spot(spot) => self.deliver(spot, scalar, target),
            Location::At { address, offset } => {
                let target = target.unwrap_or_else(|| self.scalar_temporary(scalar));
                let offset = super::code::Argument::Immediate(offset);
                self.emit(Family::Load, scalar.bits(), &[target.into(), address.into(), offset]);
                target
            }
        }
    }

    /// Stores a value at a location.
    pub(super) fn store(&mut self, location: Location, value: Spot, scalar: Scalar) {
        match location {
            Location::Spot(spot) => {
                self.deliver(value, scalar, Some(spot));
            }
            Location::At { address, offset } => {
                let offset = super::code::Argument::Immediate(offset);
                self.emit(Family::Store, scalar.bits(), &[address.into(), offset, value.into()]);
            }
        }
    }

    /// The value of an access to a scalar.
    pub(super) fn read(&mut self, access: &Access, target: Option<Spot>) -> Spot {
        let mark = self.top;
        let reach = self.reach(access);
        match reach {
            Reach::Whole(location) => {
                let scalar = self.scalar(access.ty);
                if let (Location::At { .. }, None) = (location, target) {
                    // The address is read before the value is written over it.
                    self.top = mark;
                }
                self.load(location, scalar, target)
            }
            Reach::Bit { byte, mask } => {
                let byte = self.load(byte, Scalar::U8, None);
                let mask = self.integer(i128::from(mask), Scalar::U8);
                let zero = self.integer(0, Scalar::U8);
                self.top = mark;
                let part = self.scalar_temporary(Scalar::U8);
                self.emit(Family::And, Scalar::U8, &[part.into(), byte.into(), mask.into()]);
                self.top = mark;
                let target = target.unwrap_or_else(|| self.scalar_temporary(Scalar::U8));
                self.emit(Family::NotEqual, Scalar::U8, &[target.into(), part.into(), zero.into()]);
                target
            }
        }
    }

    /// Writes a scalar that has been evaluated. A value that calls in the subscripts could change must have
    /// been made stable before.
    pub(super) fn write(&mut self, access: &Access, value: Spot) {
        match self.reach(access) {
            Reach::Whole(location) => {
                let scalar = self.scalar(access.ty);
                self.store(location, value, scalar);
            }
            Reach::Bit { byte, mask } => {
                let old = self.load(byte, Scalar::U8, None);
                let mask_spot = self.integer(i128::from(mask), Scalar::U8);
                let rest = self.integer(i128::from(!mask), Scalar::U8);
                let zero = self.integer(0, Scalar::U8);
                let cleared = self.scalar_temporary(Scalar::U8);
                let part = self.scalar_temporary(Scalar::U8);
                self.emit(Family::And, Scalar::U8, &[cleared.into(), old.into(), rest.into()]);
                self.emit(
                    Family::Select,
                    Scalar::U8,
                    &[part.into(), value.into(), zero.into(), mask_spot.into()],
                );
                match byte {
                    Location::Spot(spot) => {
                        self.emit(Family::Or, Scalar::U8, &[spot.into(), cleared.into(), part.into()]);
                    }
                    Location::At { .. } => {
                        self.emit(Family::Or, Scalar::U8, &[part.into(), cleared.into(), part.into()]);
                        self.store(byte, part, Scalar::U8);
                    }
                }
            }
        }
        self.scatter_bits(&access.root);
    }

    /// A 32-bit place that holds the address of a location.
    pub(super) fn address(&mut self, location: Location) -> Spot {
        match location {
            Location::Spot(spot) if spot.base != Base::Instance => self.shared.pool.address_of(spot),
            // Without a configuration a program has one instance, whose place is known.
            Location::Spot(spot) if self.context.storage.programs.contains_key(&self.id) => {
                let base = self.context.storage.programs.get(&self.id).copied().unwrap_or(0);
                self.shared.pool.address_of(Spot::new(Base::Data, base.saturating_add(spot.offset)))
            }
            Location::At { address, offset: 0 } => address,
            _ => {
                let target = self.scalar_temporary(Scalar::U32);
                self.address_into(location, target);
                target
            }
        }
    }

    /// Stores the address of a location at a place.
    pub(super) fn address_into(&mut self, location: Location, target: Spot) {
        match location {
            Location::Spot(spot) => self.emit(Family::Address, Scalar::U32, &[target.into(), spot.into()]),
            Location::At { address, offset: 0 } => {
                self.deliver(address, Scalar::U32, Some(target));
            }
            Location::At { address, offset } => {
                let offset = super::code::Argument::Immediate(offset);
                self.emit(Family::OffsetAddress, Scalar::U32, &[target.into(), address.into(), offset]);
            }
        }
    }

    /// Writes a scalar result of a call to a target; subscripts of the target are evaluated now.
    pub(super) fn write_result(&mut self, access: &Access, value: Spot, scalar: Scalar) {
        let value = if accesses::access_calls(access) { self.stabilise(value, scalar) } else { value };
        self.write(access, value);
    }
}
