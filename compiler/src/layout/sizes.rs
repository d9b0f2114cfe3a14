//! Size, alignment and offsets of types and of function block instances.
//!
//! Natural alignment; a structure is as aligned as its strictest member and padded to a multiple of that.
//! All sums are 64-bit and saturate, so an absurd array has an absurd size and nothing is allocated for it;
//! [`super::storage`] turns that into a diagnostic. Implements IEC 61131-3:2013, 6.4.2 to 6.4.4.

use std::{cell::RefCell, collections::BTreeMap, rc::Rc};

use latchwork_grammar::tree::{Edge, SectionKind};

use super::{align_up, scalar_of};
use crate::{
    configuration::is_open,
    typed::{TypedProgram, TypedUnit, Variable},
    types::{DerivedId, Type, TypeId, UnitId},
};

/// Deepest nesting of types: structures, arrays and instances inside one another.
pub(crate) const TYPE_NESTING_MAX: u32 = 100;

/// Types are nested deeper than [`TYPE_NESTING_MAX`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NestingTooDeep;

/// How much room something takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Extent {
    /// Bytes, a multiple of the alignment; saturates.
    pub size: u64,
    /// 1, 2, 4 or 8.
    pub align: u32,
    /// How many types are nested inside.
    pub height: u32,
}

impl Extent {
    const fn leaf(size: u64, align: u32) -> Self {
        Extent { size, align, height: 0 }
    }
}

/// The hidden trigger behind an input with R_EDGE or F_EDGE.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeMemory {
    /// Index of the input.
    pub variable: u32,
    /// Which edge.
    pub edge: Edge,
    /// Offset of the remembered state in the instance.
    pub memory: u32,
    /// Offset of the pulse that the name stands for inside the unit.
    pub pulse: u32,
}

/// The instance of a program or function block: inputs, outputs, addresses of in-out variables, variables,
/// hidden triggers.
#[derive(Clone, Debug)]
pub(crate) struct Instance {
    /// Offset of each variable of the unit; `None` for those that live elsewhere.
    pub offsets: Vec<Option<u32>>,
    /// Triggers of edge inputs.
    pub edges: Vec<EdgeMemory>,
    /// Room it takes.
    pub extent: Extent,
}

/// Bytes of what stands for an array of any bounds: its address, and at [`OPEN_BOUNDS`] its bounds.
pub(crate) const fn open_bytes(dimensions: u8) -> u32 {
    OPEN_BOUNDS + OPEN_BOUND * dimensions as u32
}

/// Offset of the bounds behind the address of an array of any bounds.
pub(crate) const OPEN_BOUNDS: u32 = 8;

/// Bytes for the bounds of one dimension: the upper one, then the lower one, both 32 bits.
pub(crate) const OPEN_BOUND: u32 = 8;

/// Whether a variable holds the address of what it stands for: in-out variables, arrays of any bounds, instances passed
/// as inputs, which are not copied, and variables whose place differs from instance to instance (`AT %I*`).
pub(crate) fn is_indirect(program: &TypedProgram, variable: &Variable) -> bool {
    if open_dimensions(program, variable).is_some() || variable.location.as_deref().is_some_and(is_open) {
        return true;
    }
    match variable.section {
        SectionKind::InOut => true,
        SectionKind::Input => matches!(
            program.types.get(program.types.underlying(variable.kind)),
            Type::Unit(_) | Type::StandardBlock(_)
        ),
        _ => false,
    }
}

/// The number of dimensions of a parameter for arrays of any bounds.
pub(crate) fn open_dimensions(program: &TypedProgram, variable: &Variable) -> Option<u8> {
    match program.types.get(program.types.underlying(variable.kind)) {
        Type::OpenArray { dimensions, .. } => Some(*dimensions),
        _ => None,
    }
}

/// Whether a variable is part of its unit's instance, if the unit has one.
pub(super) fn is_member(variable: &Variable) -> bool {
    (!variable.hidden || variable.section == SectionKind::Var)
        && variable.location.as_deref().is_none_or(is_open)
        && matches!(
            variable.section,
            SectionKind::Var
                | SectionKind::Input
                | SectionKind::Output
                | SectionKind::InOut
                | SectionKind::Global
        )
}

/// The sections of an instance or frame in the order in which they are laid out.
pub(crate) const SECTION_ORDER: [SectionKind; 5] =
    [SectionKind::Input, SectionKind::Output, SectionKind::InOut, SectionKind::Var, SectionKind::Global];

/// Computes extents and remembers them.
pub(crate) struct Sizes<'p> {
    program: &'p TypedProgram,
    /// By the number of the type.
    extents: RefCell<Vec<Option<Extent>>>,
    members: RefCell<BTreeMap<DerivedId, Rc<Vec<u32>>>>,
    /// By the number of the unit.
    instances: RefCell<Vec<Option<Rc<Instance>>>>,
}

impl<'p> Sizes<'p> {
    /// Nothing computed yet.
    pub(crate) fn new(program: &'p TypedProgram) -> Self {
        Sizes {
            program,
            extents: RefCell::default(),
            members: RefCell::default(),
            instances: RefCell::default(),
        }
    }

    /// The room a value of a type takes.
    pub(crate) fn extent(&self, id: TypeId) -> Result<Extent, NestingTooDeep> {
        self.extent_at(id, 0)
    }

    /// Bytes of a type; for types whose extent has been checked before (see [`super::storage`]).
    pub(crate) fn size(&self, id: TypeId) -> u32 {
        self.extent(id).ok().and_then(|extent| u32::try_from(extent.size).ok()).unwrap_or(0)
    }

    /// Offset of a member of a structure whose extent has been checked before.
    pub(crate) fn member(&self, id: DerivedId, index: u32) -> u32 {
        let known = self.members.borrow().get(&id).and_then(|offsets| offsets.get(index as usize).copied());
        known.or_else(|| self.structure(id, 0).ok()?.1.get(index as usize).copied()).unwrap_or(0)
    }

    /// The instance of a unit whose extent has been checked before.
    pub(crate) fn instance(&self, id: UnitId) -> Rc<Instance> {
        self.instance_at(id, 0).unwrap_or_else(|NestingTooDeep| {
            Rc::new(Instance { offsets: Vec::new(), edges: Vec::new(), extent: Extent::leaf(0, 1) })
        })
    }

    /// The instance of a unit, or that its types are nested too deep.
    pub(crate) fn checked_instance(&self, id: UnitId) -> Result<Rc<Instance>, NestingTooDeep> {
        self.instance_at(id, 0)
    }

    fn extent_at(&self, id: TypeId, depth: u32) -> Result<Extent, NestingTooDeep> {
        if let Some(Some(known)) = self.extents.borrow().get(id.0 as usize) {
            return Ok(*known);
        }
        if depth > TYPE_NESTING_MAX {
            return Err(NestingTooDeep);
        }
        let types = &self.program.types;
        let extent = match types.get(id) {
            Type::Derived { base, .. } => self.extent_at(*base, depth + 1)?,
            Type::String { wide, capacity } => {
                let bytes = u64::from(*capacity) * if *wide { 2 } else { 1 };
                Extent::leaf(align_up(4 + bytes, 2), 2)
            }
            Type::Array { bounds, element } => {
                let element = self.extent_at(*element, depth + 1)?;
                let size = elements(bounds).saturating_mul(element.size);
                nested(size, element.align, element.height)?
            }
            Type::Structure(structure) => self.structure(*structure, depth)?.0,
            Type::Unit(unit) => {
                // An instance without variables takes a byte: without one, arrays and blocks of them would have no
                // limit, and two of them no places of their own.
                let extent = self.instance_at(*unit, depth)?.extent;
                Extent { size: extent.size.max(1), ..extent }
            }
            Type::StandardBlock(index) => {
                Extent::leaf(align_up(u64::from(types.standard_block(*index).bytes), 8), 8)
            }
            _ => match scalar_of(types, id) {
                Some(scalar) => Extent::leaf(u64::from(scalar.size()), scalar.size()),
                // Types that no variable of a checked program has.
                None => Extent::leaf(0, 1),
            },
        };
        put(&mut self.extents.borrow_mut(), id.0 as usize, extent);
        Ok(extent)
    }

    fn structure(&self, id: DerivedId, depth: u32) -> Result<(Extent, Rc<Vec<u32>>), NestingTooDeep> {
        if depth > TYPE_NESTING_MAX {
            return Err(NestingTooDeep);
        }
        let mut packer = Packer::default();
        let mut offsets = Vec::new();
        for (member, index) in self.program.types.structure(id).members.iter().zip(0..) {
            let open = self.program.types.open_members.contains_key(&(id, index));
            let extent = if open { Extent::leaf(4, 4) } else { self.extent_at(member.kind, depth + 1)? };
            offsets.push(match member.place {
                Some(place) => packer.place_at(extent, place.byte),
                None => packer.place(extent),
            });
        }
        let extent = packer.extent()?;
        let offsets = Rc::new(offsets);
        self.members.borrow_mut().insert(id, Rc::clone(&offsets));
        Ok((extent, offsets))
    }

    fn instance_at(&self, id: UnitId, depth: u32) -> Result<Rc<Instance>, NestingTooDeep> {
        if let Some(Some(known)) = self.instances.borrow().get(id.0 as usize) {
            return Ok(Rc::clone(known));
        }
        if depth > TYPE_NESTING_MAX {
            return Err(NestingTooDeep);
        }
        let Some(unit) = self.program.units.get(id.0 as usize) else { return Err(NestingTooDeep) };
        let instance = Rc::new(self.lay_out_instance(unit, depth)?);
        put(&mut self.instances.borrow_mut(), id.0 as usize, Rc::clone(&instance));
        Ok(instance)
    }

    fn lay_out_instance(&self, unit: &TypedUnit, depth: u32) -> Result<Instance, NestingTooDeep> {
        let mut packer = Packer::default();
        let mut offsets = vec![None; unit.variables.len()];
        let inherited = unit.object.inherited as usize;
        if let Some(base) = unit.object.base {
            // The whole base stands first, so that its code works on instances of derived types too.
            let base = self.instance_at(base, depth + 1)?;
            packer.place(base.extent);
            for (offset, known) in offsets.iter_mut().zip(&base.offsets).take(inherited) {
                *offset = *known;
            }
        } else if unit.object.tagged {
            packer.place(Extent::leaf(4, 4));
        }
        for section in SECTION_ORDER {
            for (variable, offset) in unit.variables.iter().zip(&mut offsets).skip(inherited) {
                if variable.section == section && is_member(variable) {
                    *offset = Some(packer.place(self.variable_extent(variable, depth + 1)?));
                }
            }
        }
        // Also for inherited inputs: the body of the base, run by SUPER(), finds the edge with memory of its own.
        let mut edges = Vec::new();
        for (variable, index) in unit.variables.iter().zip(0..) {
            if let (Some(edge), true) = (variable.edge, is_member(variable)) {
                let memory = packer.place(Extent::leaf(1, 1));
                let pulse = packer.place(Extent::leaf(1, 1));
                edges.push(EdgeMemory { variable: index, edge, memory, pulse });
            }
        }
        Ok(Instance { offsets, edges, extent: packer.extent()? })
    }

    /// The room a variable takes in its instance or frame.
    pub(crate) fn variable_extent(&self, variable: &Variable, depth: u32) -> Result<Extent, NestingTooDeep> {
        if let Some(dimensions) = open_dimensions(self.program, variable) {
            return Ok(Extent::leaf(u64::from(open_bytes(dimensions)), 8));
        }
        if is_indirect(self.program, variable) {
            return Ok(Extent::leaf(4, 4));
        }
        self.extent_at(variable.kind, depth)
    }
}

/// Remembers something by its number.
fn put<T: Clone>(list: &mut Vec<Option<T>>, index: usize, value: T) {
    if index >= list.len() {
        list.resize(index + 1, None);
    }
    if let Some(slot) = list.get_mut(index) {
        *slot = Some(value);
    }
}

/// Number of elements of an array; saturates.
pub(crate) fn elements(bounds: &[(i64, i64)]) -> u64 {
    bounds.iter().fold(1, |count, (lower, upper)| {
        let length = upper.saturating_sub(*lower).saturating_add(1);
        count.saturating_mul(u64::try_from(length).unwrap_or(0))
    })
}

fn nested(size: u64, align: u32, height: u32) -> Result<Extent, NestingTooDeep> {
    if height >= TYPE_NESTING_MAX {
        return Err(NestingTooDeep);
    }
    Ok(Extent { size, align, height: height + 1 })
}

/// Places things one after another with natural alignment.
#[derive(Debug)]
pub(crate) struct Packer {
    /// First free byte.
    pub size: u64,
    align: u32,
    height: u32,
}

impl Default for Packer {
    fn default() -> Self {
        Packer { size: 0, align: 1, height: 0 }
    }
}

impl Packer {
    /// The offset of the next thing. Beyond 32 bits it saturates; the size then exceeds every limit and the
    /// offset is never used.
    pub(crate) fn place(&mut self, extent: Extent) -> u32 {
        let offset = align_up(self.size, extent.align);
        self.size = offset.saturating_add(extent.size);
        self.align = self.align.max(extent.align);
        self.height = self.height.max(extent.height);
        u32::try_from(offset).unwrap_or(u32::MAX)
    }

    /// Puts something where it is wanted, whatever lies there. The machine needs no alignment.
    pub(crate) fn place_at(&mut self, extent: Extent, offset: u32) -> u32 {
        self.size = self.size.max(u64::from(offset).saturating_add(extent.size));
        self.height = self.height.max(extent.height);
        offset
    }

    fn extent(&self) -> Result<Extent, NestingTooDeep> {
        nested(align_up(self.size, self.align), self.align, self.height)
    }
}
