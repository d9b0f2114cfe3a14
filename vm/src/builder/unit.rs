//! Building one unit, instruction by instruction. Knows nothing of the image that it will be part of.

use super::BuildError;
use crate::fault::SourcePlace;
use crate::image::UnitKind;
use crate::instruction::{Family, Instruction, Opcode, OperandKind};
use crate::limits;
use crate::place::Place;
use crate::types::Scalar;

/// A jump target of a unit under construction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label(pub(super) u32);

/// An operand of an instruction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operand {
    /// A place.
    Place(Place),
    /// A jump target.
    Label(Label),
    /// A unit, by its index in the image.
    Unit(u32),
    /// A native function, by the index that [`super::ImageBuilder::native`] gave.
    Native(u32),
    /// An index range, by the index that [`super::ImageBuilder::range`] gave.
    Range(u32),
    /// A dispatch table, by the index that [`super::ImageBuilder::dispatch_table`] gave.
    Dispatch(u32),
    /// A number: bytes, offset, the code of an event kind, or what an observing instruction notes.
    Immediate(u32),
}

impl From<Place> for Operand {
    fn from(place: Place) -> Self {
        Self::Place(place)
    }
}

impl From<Label> for Operand {
    fn from(label: Label) -> Self {
        Self::Label(label)
    }
}

/// Builds one unit.
#[derive(Clone, Debug)]
pub struct UnitBuilder {
    name: String,
    kind: UnitKind,
    instance_bytes: u32,
    instructions: Vec<Instruction>,
    labels: Vec<Option<u32>>,
    lines: Vec<(u32, SourcePlace)>,
    error: Option<BuildError>,
}

impl UnitBuilder {
    /// Starts a unit. `instance_bytes` is the size of the instance that its relative places lie in.
    #[must_use]
    pub fn new(name: impl Into<String>, kind: UnitKind, instance_bytes: u32) -> Self {
        Self {
            name: name.into(),
            kind,
            instance_bytes,
            instructions: Vec::new(),
            labels: Vec::new(),
            lines: Vec::new(),
            error: None,
        }
    }

    /// Makes room for so many instructions, which come from so many source places. A hint only.
    pub fn reserve(&mut self, instructions: usize, places: usize) {
        self.instructions.reserve_exact(instructions);
        self.lines.reserve_exact(places);
    }

    /// A new label, to be bound later.
    pub fn label(&mut self) -> Label {
        // The number of labels stays far below 2^32: each takes memory.
        let label = Label(self.labels.len() as u32);
        self.labels.push(None);
        label
    }

    /// Binds a label to the next instruction.
    pub fn bind(&mut self, label: Label) {
        let here = self.next_instruction();
        match self.labels.get_mut(label.0 as usize) {
            Some(slot @ None) => *slot = Some(here),
            _ => self.fail(|unit| BuildError::Label { unit, label }),
        }
    }

    /// The source place of the instructions that follow.
    pub fn at(&mut self, place: SourcePlace) {
        let here = self.next_instruction();
        match self.lines.last_mut() {
            Some((instruction, last)) if *instruction == here => *last = place,
            Some((_, last)) if *last == place => {}
            _ => self.lines.push((here, place)),
        }
    }

    /// Appends an instruction. For a family with a single scalar the given one does not matter.
    pub fn emit(&mut self, family: Family, scalar: Scalar, operands: &[Operand]) {
        let Some(opcode) = Opcode::new(family, scalar) else {
            self.fail(|unit| BuildError::UnknownInstruction { unit, family, scalar });
            return;
        };
        let kinds = opcode.operands();
        let mut words = [0u32; 4];
        let mut right = kinds.len() == operands.len();
        for ((kind, operand), word) in kinds.iter().zip(operands).zip(&mut words) {
            match (operand, kind) {
                (Operand::Place(place), kind) if kind.is_place() => *word = place.word(),
                (Operand::Label(label), OperandKind::Label) => *word = label.0,
                (Operand::Unit(index), OperandKind::Unit)
                | (Operand::Native(index), OperandKind::Native)
                | (Operand::Range(index), OperandKind::Range)
                | (Operand::Dispatch(index), OperandKind::Dispatch)
                | (
                    Operand::Immediate(index),
                    OperandKind::Bytes
                    | OperandKind::Immediate
                    | OperandKind::EventCode
                    | OperandKind::Point
                    | OperandKind::Points
                    | OperandKind::Decision
                    | OperandKind::Condition,
                ) => *word = *index,
                _ => right = false,
            }
        }
        if !right {
            let given = operands.to_vec();
            self.fail(|unit| BuildError::WrongOperands { unit, instruction: opcode.name(), given });
            return;
        }
        self.instructions.push(Instruction { opcode, operands: words });
    }

    /// Number of instructions so far.
    #[must_use]
    pub fn next_instruction(&self) -> u32 {
        // More instructions than the limit are refused by `finish`; each takes memory, so the cast cannot lose bits.
        self.instructions.len() as u32
    }

    /// Ends the unit. A [`Family::Return`] is appended when the last instruction could be passed, or a label is
    /// bound behind it.
    ///
    /// # Errors
    /// The first mistake made while building.
    pub fn finish(mut self) -> Result<FinishedUnit, BuildError> {
        let end = self.next_instruction();
        let ends = self
            .instructions
            .last()
            .is_some_and(|last| matches!(last.opcode.family(), Family::Return | Family::Jump));
        if !ends || self.labels.contains(&Some(end)) {
            self.emit(Family::Return, Scalar::U8, &[]);
        }
        if let Some(error) = self.error {
            return Err(error);
        }
        if self.instructions.len() > limits::INSTRUCTIONS {
            return Err(BuildError::TooLarge { what: "instructions", limit: limits::INSTRUCTIONS });
        }
        for instruction in &mut self.instructions {
            for (kind, word) in instruction.opcode.operands().iter().zip(&mut instruction.operands) {
                if matches!(kind, OperandKind::Label) {
                    let target = self.labels.get(*word as usize).copied().flatten();
                    *word = target
                        .ok_or_else(|| BuildError::Label { unit: self.name.clone(), label: Label(*word) })?;
                }
            }
        }
        Ok(FinishedUnit {
            name: self.name,
            kind: self.kind,
            instance_bytes: self.instance_bytes,
            instructions: self.instructions,
            lines: self.lines,
        })
    }

    fn fail(&mut self, error: impl FnOnce(String) -> BuildError) {
        if self.error.is_none() {
            self.error = Some(error(self.name.clone()));
        }
    }
}

/// A unit whose labels are resolved, ready for [`super::ImageBuilder::add_unit`].
#[derive(Clone, Debug)]
pub struct FinishedUnit {
    pub(super) name: String,
    pub(super) kind: UnitKind,
    pub(super) instance_bytes: u32,
    pub(super) instructions: Vec<Instruction>,
    pub(super) lines: Vec<(u32, SourcePlace)>,
}

impl FinishedUnit {
    /// Its instructions; label operands are indices within the unit.
    #[must_use]
    pub fn instructions(&self) -> &[Instruction] {
        &self.instructions
    }
}
