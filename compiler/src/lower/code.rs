//! Instructions before everything has its final place.
//!
//! The lowering works with [`Spot`]s, because the frames of units and the constants get their absolute places
//! only when all units are lowered. [`UnitCode::finish`] turns them into the machine's places.

use latchwork_grammar::Span;
use latchwork_vm::{Family, FinishedUnit, ImageBuilder, IndexRange, Operand, Scalar, UnitBuilder, UnitKind};

use super::{
    operands::{Forms, OPERANDS_MAX, Operands},
    resolver::Resolver,
};
use crate::{layout::Spot, types::UnitId};

/// A jump target within a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Label(pub u32);

/// An operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Argument {
    /// A place.
    Spot(Spot),
    /// A jump target.
    Label(Label),
    /// A unit.
    Unit(UnitId),
    /// A native routine and the size of its frame.
    Native(&'static str, u32),
    /// The range of a subscript.
    Range(IndexRange),
    /// A table for calls and attempts that depend on the instance: of calls first, then of attempts.
    Dispatch(u32),
    /// A number.
    Immediate(u32),
}

impl From<Spot> for Argument {
    fn from(spot: Spot) -> Self {
        Self::Spot(spot)
    }
}

impl From<Label> for Argument {
    fn from(label: Label) -> Self {
        Self::Label(label)
    }
}

/// What an instruction list consists of. The code of every unit waits for that of the last one, so it is kept small.
#[derive(Clone, Copy, Debug)]
enum Item {
    Bind(Label),
    /// Where an image that measures coverage may observe something: nothing jumps over it.
    Pause,
    /// [`Family::Jump`].
    Jump(Label),
    /// Any other instruction; its operands are the next words.
    Emit {
        family: Family,
        scalar: Scalar,
        forms: Forms,
    },
}

/// What a jump comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Destination {
    /// The instruction at its label.
    Here,
    /// Another label, to which a jump there leads.
    Label(Label),
    /// The end of the unit.
    Return,
}

/// So many jumps to jumps are followed; a loop of them has no end.
const JUMPS_FOLLOWED_MAX: usize = 8;

/// The code of one unit.
#[derive(Clone, Debug, Default)]
pub(crate) struct UnitCode {
    items: Vec<Item>,
    operands: Operands,
    /// The sources of the instructions: the number of the first one and the place, where it differs from the one before.
    sources: Vec<(u32, Span)>,
    /// Number of instructions.
    instructions: u32,
    labels: u32,
    /// Temporaries of the unit in bytes. Until everything has its final place they are counted on from its variables.
    pub temporary_bytes: u32,
    /// Units it calls, each with a place where it does.
    pub calls: Vec<(UnitId, Span)>,
}

impl UnitCode {
    /// No code of a unit yet; in lists that have been used before.
    pub(crate) fn of(unit: UnitId, mut used: UnitCode) -> Self {
        used.items.clear();
        used.operands.clear(unit);
        used.sources.clear();
        used.calls.clear();
        UnitCode { instructions: 0, labels: 0, temporary_bytes: 0, ..used }
    }

    /// A new label.
    pub(crate) fn label(&mut self) -> Label {
        let label = Label(self.labels);
        self.labels += 1;
        label
    }

    /// Binds a label to the next instruction.
    pub(crate) fn bind(&mut self, label: Label) {
        self.items.push(Item::Bind(label));
    }

    /// Notes that a statement or a branch begins here, which is observed where coverage is measured. Code must not depend
    /// on whether it is, so it is noted in any case.
    pub(crate) fn pause(&mut self) {
        if !matches!(self.items.last(), None | Some(Item::Pause)) {
            self.items.push(Item::Pause);
        }
    }

    /// Appends an instruction.
    pub(crate) fn emit(&mut self, family: Family, scalar: Scalar, arguments: &[Argument], span: Span) {
        self.items.push(match (family, arguments) {
            (Family::Jump, [Argument::Label(label)]) => Item::Jump(*label),
            _ => Item::Emit { family, scalar, forms: self.operands.push(arguments) },
        });
        if self.sources.last().is_none_or(|(_, last)| *last != span) {
            self.sources.push((self.instructions, span));
        }
        self.instructions += 1;
    }

    /// Number of instructions.
    pub(crate) fn len(&self) -> usize {
        self.instructions as usize
    }

    /// Whether control cannot reach the end of what has been emitted.
    pub(crate) fn ended(&self) -> bool {
        let last = self.items.iter().rev().find(|item| !matches!(item, Item::Pause));
        matches!(last, Some(Item::Jump(_) | Item::Emit { family: Family::Jump | Family::Return, .. }))
    }

    /// Where a jump to each label leads in the end: over the jumps that stand there.
    fn destinations(&self) -> Vec<Destination> {
        let mut first = vec![Destination::Here; self.labels as usize];
        let mut next = Destination::Here;
        for item in self.items.iter().rev() {
            match item {
                Item::Bind(label) => {
                    if let Some(slot) = first.get_mut(label.0 as usize) {
                        *slot = next;
                    }
                }
                Item::Jump(label) => next = Destination::Label(*label),
                Item::Emit { family: Family::Return, .. } => next = Destination::Return,
                Item::Pause | Item::Emit { .. } => next = Destination::Here,
            }
        }
        let follow = |start: &Destination| {
            let mut at = *start;
            for _ in 0..JUMPS_FOLLOWED_MAX {
                let Destination::Label(label) = at else { break };
                match first.get(label.0 as usize) {
                    Some(Destination::Here) | None => break,
                    Some(further) => at = *further,
                }
            }
            at
        };
        first.iter().map(follow).collect()
    }

    /// The machine's unit.
    pub(crate) fn finish(
        &self,
        name: &str,
        kind: UnitKind,
        instance_bytes: u32,
        resolver: &Resolver<'_>,
        image: &mut ImageBuilder,
    ) -> Result<FinishedUnit, latchwork_vm::BuildError> {
        let mut unit = UnitBuilder::new(name, kind, instance_bytes);
        unit.reserve(self.len(), self.sources.len());
        let labels: Vec<_> = (0..self.labels).map(|_| unit.label()).collect();
        let destinations = self.destinations();
        let destination = |label: Label| destinations.get(label.0 as usize).copied();
        // Labels come from `label` alone, so all are there.
        let target = |label: Label| {
            let further = match destination(label) {
                Some(Destination::Label(further)) => further,
                _ => label,
            };
            labels.get(further.0 as usize).map(|label| Operand::Label(*label))
        };
        let mut words = self.operands.words.iter();
        let mut sources = self.sources.iter().peekable();
        let mut number = 0;
        for item in &self.items {
            if !matches!(item, Item::Bind(_) | Item::Pause) {
                if let Some((_, span)) = sources.next_if(|(first, _)| *first == number) {
                    unit.at(resolver.place(*span));
                }
                number += 1;
            }
            match item {
                Item::Pause => {}
                Item::Bind(label) => {
                    if let Some(label) = labels.get(label.0 as usize) {
                        unit.bind(*label);
                    }
                }
                Item::Jump(label) if destination(*label) == Some(Destination::Return) => {
                    unit.emit(Family::Return, Scalar::U8, &[]);
                }
                Item::Jump(label) => unit.emit(Family::Jump, Scalar::U8, target(*label).as_slice()),
                Item::Emit { family, scalar, forms } => {
                    let mut operands = [Operand::Immediate(0); OPERANDS_MAX];
                    let mut count = 0;
                    for argument in forms.iter().filter_map(|form| self.operands.read(form, &mut words)) {
                        let operand = match argument {
                            Argument::Spot(spot) => Some(Operand::Place(resolver.resolve(spot))),
                            Argument::Label(label) => target(label),
                            Argument::Unit(id) => Some(Operand::Unit(id.0)),
                            Argument::Native(name, bytes) => Some(Operand::Native(image.native(name, bytes))),
                            Argument::Range(range) => Some(Operand::Range(image.range(range))),
                            // Every table of the typed program has been entered.
                            Argument::Dispatch(table) => {
                                resolver.dispatch.get(table as usize).map(|table| Operand::Dispatch(*table))
                            }
                            Argument::Immediate(number) => Some(Operand::Immediate(number)),
                        };
                        if let (Some(operand), Some(slot)) = (operand, operands.get_mut(count)) {
                            *slot = operand;
                            count += 1;
                        }
                    }
                    unit.emit(*family, *scalar, operands.get(..count).unwrap_or_default());
                }
            }
        }
        unit.finish()
    }
}
