//! Byte order: the bytes of scalars turned round, by themselves or in arrays, structures and wide texts.
//!
//! What is no scalar is copied and turned round in the copy by one routine, which follows a pattern in the constant
//! pool. Implements IEC 61131-3:2013, table 37.

use std::collections::BTreeMap;

use latchwork_stdlib::{SWAP_PATTERN, SwapPart, SwapPattern};
use latchwork_vm::{Family, Scalar};

use super::{access::Location, unit::Lowering};
use crate::{
    layout::{Spot, sizes::elements},
    typed::Expression,
    types::{Type, TypeId},
};

impl Lowering<'_> {
    /// A string, array or structure with the bytes of everything in it turned round.
    pub(super) fn swapped_region(&mut self, value: &Expression) -> Location {
        let location = self.region(value);
        let mut pattern = SwapPattern::default();
        let whole = self.swap_part(value.ty, &mut pattern, &mut BTreeMap::new());
        // Nothing in it has more than one byte.
        let Some(whole) = whole else { return location };
        let pattern = self.shared.pool.constant(&pattern.finish(whole), 4);
        let copy = self.copied_region(location, value.ty);
        let mark = self.top;
        let frame = self.temporary(self.context.natives.get(SWAP_PATTERN).copied().unwrap_or(24), 8);
        self.address_into(Location::Spot(copy), frame);
        self.address_into(Location::Spot(pattern), frame.plus(8));
        let size = self.integer(i128::from(self.size(value.ty)), Scalar::U32);
        self.emit(Family::Move, Scalar::U32, &[frame.plus(16).into(), size.into()]);
        self.native(SWAP_PATTERN, frame);
        self.top = mark;
        Location::Spot(copy)
    }

    /// What is to be turned round in a type; a type that is reached on many ways is looked at once.
    fn swap_part(
        &self,
        ty: TypeId,
        pattern: &mut SwapPattern,
        known: &mut BTreeMap<TypeId, Option<SwapPart>>,
    ) -> Option<SwapPart> {
        let ty = self.context.program.types.underlying(ty);
        if let Some(part) = known.get(&ty) {
            return *part;
        }
        let types = &self.context.program.types;
        let part = match types.get(ty) {
            Type::String { wide, .. } => wide.then(|| pattern.text()),
            Type::Array { bounds, element } => {
                let inner = self.swap_part(*element, pattern, known);
                // Sizes have been checked to fit the data image.
                let count = u32::try_from(elements(bounds)).unwrap_or(u32::MAX);
                inner.map(|inner| pattern.repeat(inner, count, self.size(*element)))
            }
            Type::Structure(id) => {
                let members = types.structure(*id).members.iter().zip(0..);
                let parts: Vec<SwapPart> = members
                    .filter_map(|(member, index)| {
                        let part = self.swap_part(member.kind, pattern, known)?;
                        Some(part.at(self.context.storage.sizes.member(*id, index)))
                    })
                    .collect();
                pattern.sequence(parts)
            }
            _ => self.scalar_of(ty).and_then(|scalar| pattern.scalar(scalar.size())),
        };
        known.insert(ty, part);
        part
    }

    /// A copy in a temporary.
    pub(super) fn copied_region(&mut self, location: Location, kind: TypeId) -> Spot {
        let size = self.size(kind);
        let copy = self.temporary(size, 8);
        if let Type::String { capacity, .. } = self.underlying(kind) {
            // The value may be of another capacity; only its characters count.
            let capacity = i128::from(*capacity);
            let head = self.integer(capacity, Scalar::U32);
            self.emit(Family::Move, Scalar::U32, &[copy.into(), head.into()]);
            self.copy_value(kind, Location::Spot(copy), location);
        } else {
            self.copy_block(Location::Spot(copy), location, size);
        }
        copy
    }
}
