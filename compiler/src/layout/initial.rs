//! The cold-start content of variables: their own initial values, the defaults of their types, and zero.
//!
//! Implements IEC 61131-3:2013, 6.4.4.5, 6.5.1.3 and table 14: a variable has its own initial value, else the
//! default of its type; what a list leaves out has the default of its type. Knows no places, only bytes.

use latchwork_grammar::tree::SectionKind;
use latchwork_vm::Scalar;

use super::{
    scalar_of,
    sizes::{Sizes, elements, is_indirect},
};
use crate::{
    typed::{Constant, InitialValue, TypedProgram, Variable},
    types::{DerivedId, Type, TypeId, UnitId},
};

/// Writes initial values.
#[derive(Clone, Copy)]
pub(crate) struct InitialData<'a> {
    /// The program.
    pub program: &'a TypedProgram,
    /// Sizes and offsets.
    pub sizes: &'a Sizes<'a>,
}

impl InitialData<'_> {
    /// The content of a variable of its own size.
    pub(crate) fn variable(&self, variable: &Variable, out: &mut [u8]) {
        if is_indirect(self.program, variable) {
            return;
        }
        self.default(variable.kind, out);
        if let Some(initial) = &variable.initial {
            self.value(variable.kind, initial, out);
        }
    }

    /// The default of a type. `out` is zero and as large as the type.
    pub(crate) fn default(&self, id: TypeId, out: &mut [u8]) {
        let types = &self.program.types;
        match types.get(id) {
            Type::Derived { base, .. } => self.default(*base, out),
            Type::String { capacity, .. } => put(out, 0, &capacity.to_le_bytes()),
            Type::Subrange { lower, .. } => self.constant(id, &Constant::Integer(*lower), out),
            Type::Enumeration(values) | Type::NamedValues { id: values, .. } => {
                if let Some((_, first)) = types.enumeration(*values).values.first() {
                    self.constant(id, &Constant::Integer(*first), out);
                }
            }
            Type::Array { element, .. } => {
                let size = self.sizes.size(*element) as usize;
                if let Some(first) = out.get_mut(..size) {
                    self.default(*element, first);
                    repeat_first(out, size);
                }
            }
            Type::Structure(structure) => self.structure(*structure, out),
            Type::Unit(unit) => self.instance(*unit, out),
            _ => {}
        }
        if let Some(default) = types.defaults.get(&id) {
            self.value(id, default, out);
        }
    }

    /// Lays a written value over the default of its type.
    pub(crate) fn value(&self, id: TypeId, value: &InitialValue, out: &mut [u8]) {
        let types = &self.program.types;
        let kind = types.get(types.underlying(id));
        match (value, kind) {
            (InitialValue::Constant(constant), _) => self.constant(id, constant, out),
            (InitialValue::Array(values), Type::Array { element, bounds }) => {
                let size = self.sizes.size(*element) as usize;
                // More values than elements: the excess is ignored.
                let count = usize::try_from(elements(bounds)).unwrap_or(usize::MAX);
                if size > 0 {
                    for (value, out) in values.iter().take(count).zip(out.chunks_exact_mut(size)) {
                        if let Some(value) = value {
                            self.value(*element, value, out);
                        }
                    }
                }
            }
            (InitialValue::Members(members), _) => {
                for (index, value) in members {
                    if let Type::Structure(id) = kind
                        && let Some(member) = types.structure(*id).members.get(*index as usize)
                        && let Some((byte, bit)) =
                            member.place.and_then(|place| Some((place.byte, place.bit?)))
                    {
                        self.bit(byte, bit, Some(value), out);
                        continue;
                    }
                    if let Some((offset, member)) = self.member(kind, *index) {
                        self.value_at(member, offset, value, out);
                    }
                }
            }
            // References are put over the bytes when all places are known.
            (InitialValue::Array(_) | InitialValue::Reference(_), _) => {}
        }
    }

    /// Offset and type of a member of a structure, instance or standard block.
    fn member(&self, kind: &Type, index: u32) -> Option<(u32, MemberType)> {
        match kind {
            Type::Structure(id) => {
                let member = self.program.types.structure(*id).members.get(index as usize)?;
                Some((self.sizes.member(*id, index), MemberType::Id(member.kind)))
            }
            Type::Unit(id) => {
                let variable = self.program.units.get(id.0 as usize)?.variables.get(index as usize)?;
                let offset = self.sizes.instance(*id).offsets.get(index as usize).copied().flatten()?;
                Some((offset, MemberType::Id(variable.kind)))
            }
            Type::StandardBlock(block) => {
                let member = self.program.types.standard_block(*block).members.get(index as usize)?;
                Some((member.offset, MemberType::Scalar(member.ty.scalar()?)))
            }
            _ => None,
        }
    }

    fn value_at(&self, member: MemberType, offset: u32, value: &InitialValue, out: &mut [u8]) {
        let size = match member {
            MemberType::Id(id) => self.sizes.size(id),
            MemberType::Scalar(scalar) => scalar.size(),
        };
        let (offset, size) = (offset as usize, size as usize);
        let Some(out) = out.get_mut(offset..offset.saturating_add(size)) else { return };
        match (member, value) {
            (MemberType::Id(id), value) => self.value(id, value, out),
            (MemberType::Scalar(scalar), InitialValue::Constant(constant)) => {
                put(out, 0, &scalar_bytes(constant, scalar));
            }
            (MemberType::Scalar(_), _) => {}
        }
    }

    fn structure(&self, id: DerivedId, out: &mut [u8]) {
        let structure = self.program.types.structure(id);
        if structure.overlap {
            // All bits are 0.
            return;
        }
        for (member, index) in structure.members.iter().zip(0..) {
            if self.program.types.open_members.contains_key(&(id, index)) {
                continue;
            }
            if let Some((byte, bit)) = member.place.and_then(|place| Some((place.byte, place.bit?))) {
                let value = member.initial.clone().or_else(|| default_bit(self.program, member.kind));
                self.bit(byte, bit, value.as_ref(), out);
                continue;
            }
            let start = self.sizes.member(id, index) as usize;
            let end = start.saturating_add(self.sizes.size(member.kind) as usize);
            if let Some(out) = out.get_mut(start..end) {
                self.default(member.kind, out);
                if let Some(initial) = &member.initial {
                    self.value(member.kind, initial, out);
                }
            }
        }
    }

    /// Writes a member that is one bit of a byte.
    fn bit(&self, byte: u32, bit: u8, value: Option<&InitialValue>, out: &mut [u8]) {
        let set = matches!(value, Some(InitialValue::Constant(Constant::Bool(true))));
        if let Some(out) = out.get_mut(byte as usize) {
            *out = *out & !(1 << bit) | (u8::from(set) << bit);
        }
    }

    /// The content of an instance of a program or function block.
    pub(crate) fn instance(&self, id: UnitId, out: &mut [u8]) {
        let Some(unit) = self.program.units.get(id.0 as usize) else { return };
        let instance = self.sizes.instance(id);
        if let Some(base) = unit.object.base {
            let size = self.sizes.instance(base).extent.size as usize;
            if let Some(out) = out.get_mut(..size) {
                self.instance(base, out);
            }
        }
        if unit.object.tagged {
            put(out, 0, &tag(id).to_le_bytes());
        }
        let own = unit.variables.iter().zip(&instance.offsets).skip(unit.object.inherited as usize);
        for (variable, offset) in own {
            let (Some(offset), false) = (offset, variable.section == SectionKind::InOut) else { continue };
            let start = *offset as usize;
            let end = start.saturating_add(self.sizes.size(variable.kind) as usize);
            if let Some(out) = out.get_mut(start..end) {
                self.variable(variable, out);
            }
        }
    }

    fn constant(&self, id: TypeId, constant: &Constant, out: &mut [u8]) {
        match constant {
            Constant::String(text) => {
                let room = out.len().saturating_sub(4);
                let text = text.get(..room).unwrap_or(text);
                put(out, 2, &(text.len() as u16).to_le_bytes());
                put(out, 4, text);
            }
            Constant::WideString(text) => {
                let room = out.len().saturating_sub(4) / 2;
                let text = text.get(..room).unwrap_or(text);
                put(out, 2, &(text.len() as u16).to_le_bytes());
                for (unit, at) in text.iter().zip((4..).step_by(2)) {
                    put(out, at, &unit.to_le_bytes());
                }
            }
            _ => {
                if let Some(scalar) = scalar_of(&self.program.types, id) {
                    put(out, 0, &scalar_bytes(constant, scalar));
                }
            }
        }
    }
}

/// The type of a member: one of the program, or an elementary one of a standard block.
#[derive(Clone, Copy)]
enum MemberType {
    Id(TypeId),
    Scalar(Scalar),
}

/// The bytes of a constant stored as a scalar, little endian.
pub(crate) fn scalar_bytes(constant: &Constant, scalar: Scalar) -> ScalarBytes {
    let integer = |value: i128| match scalar {
        Scalar::F32 => ScalarBytes::of(&(value as f32).to_le_bytes()),
        Scalar::F64 => ScalarBytes::of(&(value as f64).to_le_bytes()),
        _ => ScalarBytes::of(value.to_le_bytes().get(..scalar.size() as usize).unwrap_or_default()),
    };
    match constant {
        Constant::Bool(value) => integer(i128::from(*value)),
        Constant::Integer(value) => integer(*value),
        Constant::Time(value) => integer(i128::from(*value)),
        // A value of the other real type does not occur in a checked program; converting keeps it right.
        Constant::Real(value) if scalar == Scalar::F64 => ScalarBytes::of(&f64::from(*value).to_le_bytes()),
        Constant::Real(value) => ScalarBytes::of(&value.to_le_bytes()),
        Constant::Lreal(value) if scalar == Scalar::F32 => ScalarBytes::of(&(*value as f32).to_le_bytes()),
        Constant::Lreal(value) => ScalarBytes::of(&value.to_le_bytes()),
        Constant::Null | Constant::String(_) | Constant::WideString(_) => zero(scalar),
    }
}

/// The bytes of a scalar that is zero.
fn zero(scalar: Scalar) -> ScalarBytes {
    ScalarBytes { bytes: [0; 8], size: scalar.size() as u8 }
}

/// The bytes of a scalar, eight at most.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ScalarBytes {
    bytes: [u8; 8],
    size: u8,
}

impl ScalarBytes {
    fn of(content: &[u8]) -> Self {
        let mut bytes = [0; 8];
        let size = bytes.iter_mut().zip(content).map(|(to, from)| *to = *from).count();
        ScalarBytes { bytes, size: size as u8 }
    }
}

impl std::ops::Deref for ScalarBytes {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.size)).unwrap_or_default()
    }
}

/// The bytes of a string constant: its capacity is its length.
pub(crate) fn string_bytes(constant: &Constant) -> Option<Vec<u8>> {
    let (length, characters): (usize, Vec<u8>) = match constant {
        Constant::String(text) => (text.len(), text.clone()),
        Constant::WideString(text) => (text.len(), text.iter().flat_map(|unit| unit.to_le_bytes()).collect()),
        _ => return None,
    };
    let length = u16::try_from(length).ok()?.to_le_bytes();
    Some([length.as_slice(), length.as_slice(), characters.as_slice()].concat())
}

/// The number that instances of a type begin with, where something asks for their type at run time; never 0.
pub(crate) const fn tag(id: UnitId) -> u32 {
    id.0 + 1
}

fn put(out: &mut [u8], at: usize, bytes: &[u8]) {
    if let Some(target) = out.get_mut(at..at.saturating_add(bytes.len())) {
        target.copy_from_slice(bytes);
    }
}

/// Copies the first `size` bytes over all of `out`, doubling the copied part each time.
fn repeat_first(out: &mut [u8], size: usize) {
    let mut done = size;
    while done > 0 && done < out.len() {
        let next = done.min(out.len() - done);
        out.copy_within(..next, done);
        done += next;
    }
}

/// The default of a type that is stored in one bit.
fn default_bit(program: &TypedProgram, kind: TypeId) -> Option<InitialValue> {
    crate::constant::default_constant(&program.types, kind).map(InitialValue::Constant)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_element_fills_an_array() {
        let mut out = [1, 2, 3, 0, 0, 0, 0, 0, 0];
        repeat_first(&mut out, 3);
        assert_eq!(out, [1, 2, 3, 1, 2, 3, 1, 2, 3]);
    }

    #[test]
    fn constants_are_little_endian() {
        assert_eq!(*scalar_bytes(&Constant::Integer(-2), Scalar::I16), [0xFE, 0xFF]);
        assert_eq!(*scalar_bytes(&Constant::Bool(true), Scalar::U8), [1]);
        assert_eq!(*scalar_bytes(&Constant::Real(1.5), Scalar::F32), 1.5f32.to_le_bytes());
        assert_eq!(string_bytes(&Constant::String(b"ab".to_vec())), Some(vec![2, 0, 2, 0, b'a', b'b']));
    }
}
