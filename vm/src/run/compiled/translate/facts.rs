//! What is known at a point of the code, carried over jumps that lead forward.
//!
//! A straight piece of code that several jumps lead to begins with what all of them know alike. Values that all know were
//! calculated before their ways parted, so the piece may use them. A piece that a loop comes back to begins with nothing.

use super::places::{Known, Spot};
use super::unit::Translation;
use crate::types::Scalar;
use cranelift_codegen::ir::Value;

/// Most places, and most indices, that are carried over a jump: the latest of them.
const CARRIED: usize = 64;

/// An index that has been found to lie in a range: its value and type, its lower bound, and the number of elements.
pub(super) type Within = (Value, Scalar, i64, u32);

/// What is known.
#[derive(Clone, Default)]
pub(super) struct Facts {
    /// Values at places.
    pub(super) known: Vec<Known>,
    /// Indices that need no further check.
    pub(super) within: Vec<Within>,
}

impl Facts {
    /// What is known of a place.
    pub(super) fn find(&self, spot: Spot, bytes: u32) -> Option<&Known> {
        self.known.iter().find(|known| known.spot == spot && known.bytes == bytes)
    }

    /// What can be carried over a jump.
    fn carried(&self) -> Self {
        // A temporary that is not written is not read behind its piece.
        let mut known: Vec<Known> =
            self.known.iter().filter(|known| known.unwritten.is_none()).copied().collect();
        known.drain(..known.len().saturating_sub(CARRIED));
        let mut within = self.within.clone();
        within.drain(..within.len().saturating_sub(CARRIED));
        Self { known, within }
    }

    /// Keeps what is also known elsewhere.
    fn meet(&mut self, other: &Self) {
        self.known.retain_mut(|known| {
            let Some(same) = other.find(known.spot, known.bytes).filter(|same| same.value == known.value)
            else {
                return false;
            };
            known.address = match (known.address, same.address) {
                (Some(mut one), Some(another)) if one.pointer == another.pointer => {
                    one.highest = one.highest.max(another.highest);
                    one.inside = one.inside.filter(|_| one.inside == another.inside);
                    Some(one)
                }
                _ => None,
            };
            true
        });
        self.within.retain(|within| other.within.contains(within));
    }

    /// Notes one more way to a point.
    pub(super) fn arrive(&self, arrival: &mut Option<Self>) {
        match arrival {
            Some(arrival) => arrival.meet(self),
            None => *arrival = Some(self.carried()),
        }
    }
}

impl Translation<'_> {
    /// Notes that the code goes on at an instruction that begins a straight piece.
    pub(super) fn arrive(&mut self, index: u32) {
        let Some(at) = index.checked_sub(self.body.first) else { return };
        if let Some(arrival) = self.body.arrivals.get_mut(at as usize) {
            self.facts.arrive(arrival);
        }
    }

    /// Begins a straight piece, with what all ways to it know.
    pub(super) fn begin_piece(&mut self, index: u32) {
        let at = index.wrapping_sub(self.body.first) as usize;
        let arrival = self.body.arrivals.get_mut(at).and_then(Option::take);
        let repeated = self.shared.repeated.get(index as usize).copied().unwrap_or(true);
        self.facts = arrival.filter(|_| !repeated).unwrap_or_default();
    }
}
