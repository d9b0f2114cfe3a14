//! What an image notes in a journal: noting instructions among the others.
//!
//! As with coverage, nothing else of the code depends on whether something is noted, and what is never reached is not.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_vm::{Family, Scalar};

use super::{
    access::{Location, Reach},
    code::Argument,
    unit::Lowering,
};
use crate::{
    layout::Spot,
    logic::Logic,
    typed::{Access, Expression, Statement},
    types::DerivedId,
};

/// What is known while the units of an image are lowered.
#[derive(Debug, Default)]
pub(crate) struct Modeller {
    pub(super) logic: Logic,
    /// The numbers of the statements, accesses and expressions of the unit that is being lowered.
    numbers: BTreeMap<Piece, u32>,
    /// The names of enumerations that have been met.
    pub(super) enumerations: BTreeMap<DerivedId, Arc<[(String, i64)]>>,
    /// Whether the statements being looked at were written by the user.
    pub(super) written: bool,
    /// The next statement stores the condition of a transition.
    pub(super) transition: bool,
}

/// A piece of the typed tree by its place in memory, where the tree stays. What a piece begins with lies at the same
/// place, so it matters what it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Piece {
    Statement(usize),
    Access(usize),
    Expression(usize),
}

impl From<&Statement> for Piece {
    fn from(statement: &Statement) -> Self {
        Piece::Statement(std::ptr::from_ref(statement).addr())
    }
}

impl From<&Access> for Piece {
    fn from(access: &Access) -> Self {
        Piece::Access(std::ptr::from_ref(access).addr())
    }
}

impl From<&Expression> for Piece {
    fn from(value: &Expression) -> Self {
        Piece::Expression(std::ptr::from_ref(value).addr())
    }
}

impl Modeller {
    /// What the image notes, once all units are lowered.
    pub(crate) fn finish(self) -> Logic {
        self.logic
    }

    /// Begins with another unit.
    pub(super) fn begin(&mut self) {
        self.numbers.clear();
        self.written = true;
        self.transition = false;
    }

    /// A new number.
    pub(super) fn number(&mut self) -> u32 {
        let number = self.logic.numbers;
        self.logic.numbers += 1;
        number
    }

    /// Gives a number to a piece of the typed tree.
    pub(super) fn name(&mut self, piece: impl Into<Piece>, number: u32) {
        self.numbers.insert(piece.into(), number);
    }
}

impl Lowering<'_> {
    /// The number of a piece of the typed tree that can be reached here.
    fn noted(&self, piece: impl Into<Piece>) -> Option<Argument> {
        let modeller = self.shared.modeller.as_ref()?;
        let number = modeller.numbers.get(&piece.into())?;
        (!self.code.ended()).then_some(Argument::Immediate(*number))
    }

    /// Notes that a statement begins.
    pub(super) fn note_statement(&mut self, statement: &Statement) {
        if let Some(number) = self.noted(statement) {
            self.emit(Family::NoteStatement, Scalar::U8, &[number]);
        }
    }

    /// Notes the value of an expression that has been computed.
    pub(super) fn note_value(&mut self, value: &Expression, spot: Spot) {
        if let (Some(number), Some(scalar)) = (self.noted(value), self.scalar_of(value.ty)) {
            self.emit(Family::NoteValue, scalar.bits(), &[spot.into(), number]);
        }
    }

    /// Notes where a variable is that is about to be read or written.
    pub(super) fn note_place(&mut self, access: &Access, reach: Reach) {
        let Some(number) = self.noted(access) else { return };
        match reach {
            Reach::Whole(Location::Spot(spot)) | Reach::Bit { byte: Location::Spot(spot), .. } => {
                self.emit(Family::NotePlace, Scalar::U8, &[spot.into(), number]);
            }
            Reach::Whole(Location::At { address, offset })
            | Reach::Bit { byte: Location::At { address, offset }, .. } => {
                let further = Argument::Immediate(offset);
                self.emit(Family::NoteAddress, Scalar::U8, &[address.into(), further, number]);
            }
        }
    }
}
