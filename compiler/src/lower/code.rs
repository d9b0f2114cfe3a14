//! Instructions before everything has its final place.
//!
//! The lowering works with [`Spot`]s, because the frames of units and the constants get their absolute places
//! only when all units are lowered. [`UnitCode::finish`] turns them into the machine's places.

use std::cell::Cell;

use latchwork_grammar::{Sources, Span};
use latchwork_vm::{
    Family, FinishedUnit, ImageBuilder, IndexRange, Operand, Place, Scalar, SourcePlace, UnitBuilder,
    UnitKind,
};

use crate::{
    layout::{Base, Spot},
    types::UnitId,
};

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

#[derive(Clone, Debug)]
enum Item {
    Bind(Label),
    /// Where an image that measures coverage may observe something: nothing jumps over it.
    Pause,
    Emit {
        family: Family,
        scalar: Scalar,
        arguments: [Option<Argument>; 4],
        span: Span,
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
    labels: u32,
    /// Temporaries of the unit in bytes. Until everything has its final place they are counted on from its variables.
    pub temporary_bytes: u32,
    /// Units it calls, each with a place where it does.
    pub calls: Vec<(UnitId, Span)>,
}

impl UnitCode {
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
        let mut all = [None; 4];
        for (slot, argument) in all.iter_mut().zip(arguments) {
            *slot = Some(*argument);
        }
        self.items.push(Item::Emit { family, scalar, arguments: all, span });
    }

    /// Gives back what the list has grown too much: the code of every unit waits for that of the last one.
    pub(crate) fn shrink(&mut self) {
        self.items.shrink_to_fit();
    }

    /// Number of instructions.
    pub(crate) fn len(&self) -> usize {
        self.items.iter().filter(|item| matches!(item, Item::Emit { .. })).count()
    }

    /// Whether control cannot reach the end of what has been emitted.
    pub(crate) fn ended(&self) -> bool {
        let last = self.items.iter().rev().find(|item| !matches!(item, Item::Pause));
        matches!(last, Some(Item::Emit { family: Family::Jump | Family::Return, .. }))
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
                Item::Emit {
                    family: Family::Jump, arguments: [Some(Argument::Label(label)), ..], ..
                } => {
                    next = Destination::Label(*label);
                }
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
        let labels: Vec<_> = (0..self.labels).map(|_| unit.label()).collect();
        let destinations = self.destinations();
        let destination = |label: &Label| destinations.get(label.0 as usize).copied();
        for item in &self.items {
            match item {
                Item::Pause => {}
                Item::Emit {
                    family: Family::Jump,
                    arguments: [Some(Argument::Label(label)), ..],
                    span,
                    ..
                } if destination(label) == Some(Destination::Return) => {
                    unit.at(resolver.place(*span));
                    unit.emit(Family::Return, Scalar::U8, &[]);
                }
                Item::Bind(label) => {
                    if let Some(label) = labels.get(label.0 as usize) {
                        unit.bind(*label);
                    }
                }
                Item::Emit { family, scalar, arguments, span } => {
                    unit.at(resolver.place(*span));
                    // No instruction has more operands.
                    let mut operands = [Operand::Immediate(0); 4];
                    let mut slots = operands.iter_mut();
                    for argument in arguments.iter().flatten() {
                        let operand = match argument {
                            Argument::Spot(spot) => Operand::Place(resolver.resolve(*spot)),
                            Argument::Label(label) => {
                                let further = match destination(label) {
                                    Some(Destination::Label(further)) => further,
                                    _ => *label,
                                };
                                match labels.get(further.0 as usize) {
                                    Some(label) => Operand::Label(*label),
                                    // Labels come from `label` alone.
                                    None => continue,
                                }
                            }
                            Argument::Unit(id) => Operand::Unit(id.0),
                            Argument::Native(name, bytes) => Operand::Native(image.native(name, *bytes)),
                            Argument::Range(range) => Operand::Range(image.range(*range)),
                            Argument::Dispatch(table) => match resolver.dispatch.get(*table as usize) {
                                Some(table) => Operand::Dispatch(*table),
                                // Every table of the typed program has been entered.
                                None => continue,
                            },
                            Argument::Immediate(number) => Operand::Immediate(*number),
                        };
                        if let Some(slot) = slots.next() {
                            *slot = operand;
                        }
                    }
                    let empty = slots.len();
                    let count = operands.len() - empty;
                    unit.emit(*family, *scalar, operands.get(..count).unwrap_or_default());
                }
            }
        }
        unit.finish()
    }
}

/// Knows the final place of everything.
pub(crate) struct Resolver<'a> {
    /// Address of the frame of each unit.
    pub frames: Vec<u32>,
    /// Bytes of the variables in the frame of each unit, and address of its temporaries, which are counted on from
    /// there.
    pub temporaries: Vec<(u32, u32)>,
    /// Address of the constants.
    pub constants: u32,
    /// Lines and columns.
    pub sources: &'a Sources,
    /// Index of each source file in the debug tables.
    pub files: Vec<u32>,
    /// Index in the image of each table of [`Argument::Dispatch`].
    pub dispatch: Vec<u32>,
    /// The span that was looked up last.
    pub last: Cell<Option<(Span, SourcePlace)>>,
}

impl Resolver<'_> {
    /// The machine's place of a spot.
    pub(crate) fn resolve(&self, spot: Spot) -> Place {
        match spot.base {
            Base::Instance => Place::relative(spot.offset),
            _ => Place::absolute(self.absolute(spot)),
        }
    }

    /// The absolute address of a spot that is not relative to an instance.
    pub(crate) fn absolute(&self, spot: Spot) -> u32 {
        let base = match spot.base {
            Base::Data | Base::Instance => 0,
            Base::Frame(unit) => {
                let unit = unit.0 as usize;
                if let Some((variables, start)) = self.temporaries.get(unit)
                    && let Some(offset) = spot.offset.checked_sub(*variables)
                {
                    return start.saturating_add(offset);
                }
                self.frames.get(unit).copied().unwrap_or(0)
            }
            Base::Constants => self.constants,
        };
        base.saturating_add(spot.offset)
    }

    fn place(&self, span: Span) -> SourcePlace {
        // A statement is several instructions.
        if let Some((last, place)) = self.last.get()
            && last == span
        {
            return place;
        }
        let ((line, column), (end_line, end_column)) = self.sources.range(span);
        let file = self.files.get(span.file.0 as usize).copied().unwrap_or(0);
        let place = SourcePlace { file, line, column, end_line, end_column };
        self.last.set(Some((span, place)));
        place
    }
}
