//! Dispatch tables ready for use, and what a call through one checks before it enters a unit.
//!
//! Frames are static, so a unit must not run twice at once. The verifier has proven that for calls of known units. A
//! call through a table leads to a unit and, from there by calls of known units, to a set of others. Where the image
//! could come back from one of them to the same call, the verifier leaves a [`Guard`] with that set, and the call
//! looks whether one of them is active: the frames of the call stack say which units are. A chain of guarded and
//! unguarded calls then never holds a unit twice:
//!
//! * a unit `U` active at a call through a table to `T`, and in the set of `T`, lies on a circle through `T` in the
//!   graph of all calls, so `T` has a guard and the guard finds `U`;
//! * the calls of known units that follow stay inside the set of `T`, and these calls have no circle.

use crate::image::Image;
use crate::limits;

/// For [`Target::guard`]: nothing to check.
pub(crate) const UNGUARDED: u32 = u32::MAX;

/// What a call through a table enters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Target {
    /// Tag of the instance; 0 in the holes of a dense table.
    pub(crate) tag: u32,
    /// Index of the unit.
    pub(crate) unit: u32,
    /// Size of its instance.
    pub(crate) instance_bytes: u32,
    /// Index of its [`Guard`], or [`UNGUARDED`].
    pub(crate) guard: u32,
}

/// A dispatch table: dense where the tags lie close to one another.
pub(crate) struct DispatchIndex {
    /// Where `dense`: the tag of the first target; slots follow one tag after the other.
    first: u32,
    dense: bool,
    targets: Box<[Target]>,
}

impl DispatchIndex {
    /// The tables of a verified image. `guards` has the guard of each unit.
    pub(crate) fn all(image: &Image, guards: &[u32]) -> Box<[Self]> {
        let target = |tag: u32, unit: u32| {
            // A table that is not called through may name units that do not exist; nothing enters them.
            let found = image.units.get(unit as usize);
            Target {
                tag,
                unit: found.map_or(0, |_| unit),
                instance_bytes: found.map_or(0, |unit| unit.instance_bytes),
                guard: guards.get(unit as usize).copied().unwrap_or(UNGUARDED),
            }
        };
        let tables = image.dispatch.iter().map(|table| {
            let rows = &table.targets;
            let (first, last) = (rows.first().map_or(0, |row| row.tag), rows.last().map_or(0, |row| row.tag));
            let span = last as usize - first as usize;
            let dense = span < 4 * rows.len() + 8 && span < limits::UNITS;
            let mut targets: Vec<Target> = Vec::with_capacity(if dense { span + 1 } else { rows.len() });
            for row in rows {
                if dense {
                    targets.resize((row.tag - first) as usize, target(0, u32::MAX));
                }
                targets.push(target(row.tag, row.unit));
            }
            Self { first, dense, targets: targets.into_boxed_slice() }
        });
        tables.collect()
    }

    /// All targets.
    #[cfg(compiled_form)]
    pub(crate) fn targets(&self) -> impl Iterator<Item = Target> {
        self.targets.iter().copied().filter(|target| target.tag != 0)
    }

    /// The target for a tag.
    #[inline(always)]
    pub(crate) fn find(&self, tag: u32) -> Option<Target> {
        let slot = if self.dense {
            tag.wrapping_sub(self.first) as usize
        } else {
            self.targets.binary_search_by_key(&tag, |target| target.tag).ok()?
        };
        // No tag of a table is 0, but an instance that is none may begin with 0.
        self.targets.get(slot).copied().filter(|target| target.tag == tag && tag != 0)
    }
}

/// What must hold before a unit is entered through a dispatch table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Guard {
    /// Units that must not be active, ascending: those that the unit leads to by calls of known units and that could
    /// come back to it, itself included.
    pub(crate) units: Box<[u32]>,
    /// Greatest number of calls of known units that are open at the same time below the unit.
    pub(crate) depth: usize,
}

/// Why a unit must not be entered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Refusal {
    /// This unit is active already.
    Active(u32),
    /// There is no room for the calls below the unit.
    Depth,
}

impl Guard {
    /// Checks a call from the instruction `caller` while calls are open that will go on at the instructions `open`.
    /// `capacity` is the number of calls that the stack has room for.
    pub(crate) fn check(
        &self,
        units: &Units,
        caller: u32,
        open: impl ExactSizeIterator<Item = u32>,
        capacity: usize,
    ) -> Result<(), Refusal> {
        let depth = open.len();
        // The instruction behind a call belongs to the calling unit, for a unit does not end with a call.
        for instruction in open.chain([caller]) {
            let unit = units.of(instruction);
            if self.units.binary_search(&unit).is_ok() {
                return Err(Refusal::Active(unit));
            }
        }
        // Only now: a stack for chains that hold each unit once may be full where one would run twice.
        if depth + 1 + self.depth > capacity { Err(Refusal::Depth) } else { Ok(()) }
    }
}

/// First instructions of the units, to find the unit of an instruction.
pub(crate) struct Units(Box<[u32]>);

impl Units {
    /// First instruction of a unit.
    pub(crate) fn first(&self, unit: u32) -> u32 {
        self.0.get(unit as usize).copied().unwrap_or(0)
    }

    /// First instructions of all units.
    #[cfg(any(threaded_dispatch, compiled_form))]
    pub(crate) fn all(&self) -> &[u32] {
        &self.0
    }

    pub(crate) fn of_image(image: &Image) -> Self {
        Self(image.units.iter().map(|unit| unit.first_instruction).collect())
    }

    /// Index of the unit that an instruction belongs to; units are not empty and begin at instruction 0.
    pub(crate) fn of(&self, instruction: u32) -> u32 {
        // At most `limits::UNITS` units.
        self.0.partition_point(|first| *first <= instruction).saturating_sub(1) as u32
    }
}
