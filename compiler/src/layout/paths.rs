//! The place that a path of the configuration leads to: everything in it is known before the program runs.
//!
//! Knows types and places. Implements access paths and VAR_CONFIG of IEC 61131-3:2013, 6.8.1.

use super::{Spot, sizes::elements, storage::ProgramStorage};
use crate::{
    configuration::is_open,
    typed::{Access, Constant, ExpressionKind, Root, Step, TypedProgram},
    types::{Type, TypeId},
};

/// The place of an access whose subscripts are constants; `None` for any other. `start` is the type of its root.
pub(crate) fn place_of(
    program: &TypedProgram,
    storage: &ProgramStorage<'_>,
    access: &Access,
    start: TypeId,
) -> Option<Spot> {
    let types = &program.types;
    let mut spot = match &access.root {
        Root::Global(global) => *storage.globals.get(global.0 as usize)?,
        Root::Direct(address) => storage.areas.spot(address),
        Root::This | Root::Variable(_) => return None,
    };
    let mut kind = start;
    for step in &access.steps {
        match (step, types.get(types.underlying(kind))) {
            (Step::Member(index), Type::Structure(structure)) => {
                spot = spot.plus(storage.sizes.member(*structure, *index));
                kind = types.structure(*structure).members.get(*index as usize)?.kind;
            }
            (Step::Member(index), Type::Unit(unit)) => {
                let variable = program.units.get(unit.0 as usize)?.variables.get(*index as usize)?;
                spot = match &variable.location {
                    Some(address) if !is_open(address) => storage.areas.spot(address),
                    _ => {
                        let offsets = &storage.sizes.instance(*unit).offsets;
                        spot.plus(offsets.get(*index as usize).copied().flatten()?)
                    }
                };
                kind = variable.kind;
            }
            (Step::Member(index), Type::StandardBlock(block)) => {
                // A member of a standard block has no members.
                let member = types.standard_block(*block).members.get(*index as usize)?;
                return Some(spot.plus(member.offset));
            }
            (Step::Index(subscripts), Type::Array { bounds, element }) => {
                let mut number = 0u64;
                for (subscript, bound) in subscripts.iter().zip(bounds) {
                    let ExpressionKind::Constant(Constant::Integer(value)) = &subscript.kind else {
                        return None;
                    };
                    let distance = u64::try_from(value - i128::from(bound.0)).ok()?;
                    number = number.saturating_mul(elements(&[*bound])).saturating_add(distance);
                }
                let bytes = number.saturating_mul(u64::from(storage.sizes.size(*element)));
                spot = spot.plus(u32::try_from(bytes).ok()?);
                kind = *element;
            }
            _ => return None,
        }
    }
    Some(spot)
}
