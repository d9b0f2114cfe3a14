//! Where everything lives: sizes, alignment and offsets of types, instances, frames, the areas of direct
//! addresses and the constants, and the content of all of it at a cold start.
//!
//! Knows types and variables, but no statements and no instructions. Implements IEC 61131-3:2013, 6.4 (data
//! types), 6.5 (variables; table 16 for direct addresses) with the storage choices of the language manual:
//! natural alignment, little endian, one byte for a BOOL, 64-bit nanoseconds for all times.

pub(crate) mod areas;
pub(crate) mod debug;
mod debug_configuration;
pub(crate) mod initial;
pub(crate) mod paths;
pub(crate) mod places;
pub(crate) mod pool;
pub(crate) mod references;
pub(crate) mod retain;
pub(crate) mod sizes;
pub(crate) mod storage;

use latchwork_vm::Scalar;

use crate::types::{Type, TypeId, Types, UnitId};

/// What a place is counted from. Frames and constants get their absolute places only when all units are
/// lowered, so the lowering works with these.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Base {
    /// The start of the data image.
    Data,
    /// The instance of the running unit.
    Instance,
    /// The static frame of a unit.
    Frame(UnitId),
    /// The constants.
    Constants,
}

/// A place before everything has its final position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Spot {
    /// What the offset is counted from.
    pub base: Base,
    /// Bytes from there.
    pub offset: u32,
}

impl Spot {
    /// A spot at an offset from a base.
    pub(crate) const fn new(base: Base, offset: u32) -> Self {
        Spot { base, offset }
    }

    /// The spot so many bytes further on. Offsets stay far below the limit of the data image, whose size is
    /// checked; saturating keeps an impossible one from wrapping into a valid place.
    #[must_use]
    pub(crate) const fn plus(self, bytes: u32) -> Self {
        Spot { base: self.base, offset: self.offset.saturating_add(bytes) }
    }
}

/// The scalar that stores a type; `None` for strings, arrays, structures and instances.
pub(crate) fn scalar_of(types: &Types, id: TypeId) -> Option<Scalar> {
    match types.get(types.underlying(id)) {
        Type::Enumeration(_) => Some(Scalar::I32),
        Type::Reference(_) | Type::Interface(_) | Type::Null => Some(Scalar::U32),
        _ => types.elementary_base(id).and_then(|kind| kind.scalar()),
    }
}

/// Rounds an offset up to a multiple of an alignment (a power of two); saturates.
pub(crate) const fn align_up(offset: u64, align: u32) -> u64 {
    let mask = align as u64 - 1;
    offset.saturating_add(mask) & !mask
}
