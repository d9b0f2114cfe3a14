//! Building images: units instruction by instruction, then the image around them.
//!
//! The builder checks operand counts and kinds at once and reports the first mistake when the unit is finished; the
//! verifier checks everything else when the image is loaded.

use crate::fault::SourcePlace;
use crate::image::{
    DataLayout, DebugTables, DispatchTable, DispatchTarget, Image, IndexRange, LineEntry, LocatedBit,
    NativeImport, Task, TypeDescription, TypeIndex, Unit, UnitKind, Variable,
};
use crate::instruction::{Family, Instruction, Opcode, OperandKind, encode_instruction};
use crate::limits;
use crate::place::{Place, SYSTEM_BYTES};
use crate::types::Scalar;
use std::collections::BTreeMap;
use std::fmt;

/// A jump target of a unit under construction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label(u32);

/// An operand of an instruction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operand {
    /// A place.
    Place(Place),
    /// A jump target.
    Label(Label),
    /// A unit, by its index in the image.
    Unit(u32),
    /// A native function, by the index that [`ImageBuilder::native`] gave.
    Native(u32),
    /// An index range, by the index that [`ImageBuilder::range`] gave.
    Range(u32),
    /// A dispatch table, by the index that [`ImageBuilder::dispatch_table`] gave.
    Dispatch(u32),
    /// A number: bytes, offset, or the code of an event kind.
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

/// Why a unit or an image could not be built. A mistake of the caller, never of the user's program, except for
/// [`BuildError::TooLarge`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BuildError {
    /// The family does not exist for this scalar.
    UnknownInstruction {
        /// Unit being built.
        unit: String,
        /// Family asked for.
        family: Family,
        /// Scalar asked for.
        scalar: Scalar,
    },
    /// Wrong number or kind of operands.
    WrongOperands {
        /// Unit being built.
        unit: String,
        /// Instruction by name.
        instruction: String,
        /// Operands given.
        given: Vec<Operand>,
    },
    /// A label was used but never bound, or bound twice.
    Label {
        /// Unit being built.
        unit: String,
        /// The label.
        label: Label,
    },
    /// A unit was reserved but never defined, or defined twice.
    Unit {
        /// Index of the unit.
        index: u32,
    },
    /// Something exceeds its limit.
    TooLarge {
        /// What.
        what: &'static str,
        /// Its limit.
        limit: usize,
    },
}

impl fmt::Display for BuildError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownInstruction { unit, family, scalar } => {
                write!(formatter, "unit {unit}: {family:?} does not exist for {scalar:?}")
            }
            Self::WrongOperands { unit, instruction, given } => {
                write!(formatter, "unit {unit}: wrong operands for `{instruction}`: {given:?}")
            }
            Self::Label { unit, label } => {
                write!(formatter, "unit {unit}: label {} is not bound exactly once", label.0)
            }
            Self::Unit { index } => write!(formatter, "unit {index} is not defined exactly once"),
            Self::TooLarge { what, limit } => {
                write!(formatter, "the program is too large: {what} exceed the limit of {limit}")
            }
        }
    }
}

impl std::error::Error for BuildError {}

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
                    OperandKind::Bytes | OperandKind::Immediate | OperandKind::EventCode,
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

/// A unit whose labels are resolved, ready for [`ImageBuilder::add_unit`].
#[derive(Clone, Debug)]
pub struct FinishedUnit {
    name: String,
    kind: UnitKind,
    instance_bytes: u32,
    instructions: Vec<Instruction>,
    lines: Vec<(u32, SourcePlace)>,
}

impl FinishedUnit {
    /// Its instructions; label operands are indices within the unit.
    #[must_use]
    pub fn instructions(&self) -> &[Instruction] {
        &self.instructions
    }
}

/// Collects everything that an image consists of.
///
/// The fields that need no bookkeeping are public: fill `data` (which starts with the machine's own
/// [`SYSTEM_BYTES`]), `layout`, `bits`, `tasks`, `resources`, `base_interval_ns` directly.
#[derive(Clone, Debug)]
pub struct ImageBuilder {
    /// Cold-start content of the data image. Grow it with [`ImageBuilder::allocate`] or directly.
    pub data: Vec<u8>,
    /// Where the areas lie.
    pub layout: DataLayout,
    /// Located BOOL variables.
    pub bits: Vec<LocatedBit>,
    /// Tasks.
    pub tasks: Vec<Task>,
    /// Names of the resources; may stay empty where there is one only.
    pub resources: Vec<String>,
    /// Time between two scans that suits the tasks, or 0.
    pub base_interval_ns: i64,
    units: Vec<Option<FinishedUnit>>,
    ranges: Vec<IndexRange>,
    range_index: BTreeMap<IndexRange, u32>,
    natives: Vec<NativeImport>,
    native_index: BTreeMap<String, u32>,
    dispatch: Vec<DispatchTable>,
    dispatch_index: BTreeMap<Vec<DispatchTarget>, u32>,
    debug: DebugTables,
    type_index: BTreeMap<TypeDescription, TypeIndex>,
    error: Option<BuildError>,
}

impl Default for ImageBuilder {
    fn default() -> Self {
        Self::new()
    }
}

impl ImageBuilder {
    /// An empty image: no code, and a data image of [`SYSTEM_BYTES`] zero bytes.
    #[must_use]
    pub fn new() -> Self {
        Self {
            data: vec![0; SYSTEM_BYTES as usize],
            layout: DataLayout::default(),
            bits: Vec::new(),
            tasks: Vec::new(),
            resources: Vec::new(),
            base_interval_ns: 0,
            units: Vec::new(),
            ranges: Vec::new(),
            range_index: BTreeMap::new(),
            natives: Vec::new(),
            native_index: BTreeMap::new(),
            dispatch: Vec::new(),
            dispatch_index: BTreeMap::new(),
            debug: DebugTables::default(),
            type_index: BTreeMap::new(),
            error: None,
        }
    }

    /// Appends zero bytes to the data image at a multiple of `alignment` (a power of two, or 0 for none) and returns
    /// their address. Beyond [`limits::DATA_BYTES`] nothing is appended and [`ImageBuilder::finish`] reports it.
    pub fn allocate(&mut self, bytes: u32, alignment: u32) -> u32 {
        let step = (alignment as usize).max(1);
        let start = self.data.len().next_multiple_of(step);
        let end = start.saturating_add(bytes as usize);
        if end > limits::DATA_BYTES {
            self.fail(BuildError::TooLarge { what: "variables, in bytes,", limit: limits::DATA_BYTES });
            return SYSTEM_BYTES;
        }
        self.data.resize(end, 0);
        // At most DATA_BYTES, checked above.
        start as u32
    }

    /// Writes bytes of the cold-start content; what lies outside the data image is not written.
    pub fn write(&mut self, address: u32, bytes: &[u8]) {
        let start = address as usize;
        if let Some(target) = self.data.get_mut(start..start.saturating_add(bytes.len())) {
            target.copy_from_slice(bytes);
        }
    }

    /// Adds a finished unit and returns its index.
    pub fn add_unit(&mut self, unit: FinishedUnit) -> u32 {
        let index = self.reserve_unit();
        self.define_unit(index, unit);
        index
    }

    /// Takes the index of a unit that is defined later.
    pub fn reserve_unit(&mut self) -> u32 {
        self.units.push(None);
        (self.units.len() - 1) as u32
    }

    /// Defines a reserved unit.
    pub fn define_unit(&mut self, index: u32, unit: FinishedUnit) {
        match self.units.get_mut(index as usize) {
            Some(slot @ None) => *slot = Some(unit),
            _ => self.fail(BuildError::Unit { index }),
        }
    }

    /// The index of an index range; equal ranges share one.
    pub fn range(&mut self, range: IndexRange) -> u32 {
        let next = self.ranges.len() as u32;
        let index = *self.range_index.entry(range).or_insert(next);
        if index == next {
            self.ranges.push(range);
        }
        index
    }

    /// The index of an imported native function; the same name is imported once.
    pub fn native(&mut self, name: &str, frame_bytes: u32) -> u32 {
        if let Some(index) = self.native_index.get(name) {
            return *index;
        }
        let index = self.natives.len() as u32;
        self.natives.push(NativeImport { name: name.to_owned(), frame_bytes });
        self.native_index.insert(name.to_owned(), index);
        index
    }

    /// The index of a dispatch table for [`Family::CallMethod`] and [`Family::Fits`]; equal tables share one, with the
    /// name that came first. Rows may come in any order, units may be defined later. The verifier refuses a tag that
    /// is 0 or has two different units.
    pub fn dispatch_table(&mut self, name: &str, mut targets: Vec<DispatchTarget>) -> u32 {
        targets.sort_unstable();
        targets.dedup();
        let next = self.dispatch.len() as u32;
        let index = *self.dispatch_index.entry(targets.clone()).or_insert(next);
        if index == next {
            self.dispatch.push(DispatchTable { name: name.to_owned(), targets });
        }
        index
    }

    /// The index of a source file name; the same name is kept once.
    pub fn file(&mut self, name: &str) -> u32 {
        if let Some(index) = self.debug.files.iter().position(|file| file == name) {
            return index as u32;
        }
        self.debug.files.push(name.to_owned());
        (self.debug.files.len() - 1) as u32
    }

    /// The index of a type description; equal descriptions share one. Descriptions refer to earlier ones only.
    pub fn kind(&mut self, description: TypeDescription) -> TypeIndex {
        let next = TypeIndex(self.debug.types.len() as u32);
        let index = *self.type_index.entry(description.clone()).or_insert(next);
        if index == next {
            self.debug.types.push(description);
        }
        index
    }

    /// Adds a root variable of the debug tables.
    pub fn root(&mut self, variable: Variable) {
        self.debug.roots.push(variable);
    }

    /// The image.
    ///
    /// # Errors
    /// The first mistake made while building, or a limit that is exceeded.
    pub fn finish(mut self) -> Result<Image, BuildError> {
        if let Some(error) = self.error {
            return Err(error);
        }
        let mut units = Vec::with_capacity(self.units.len());
        let mut code = Vec::new();
        let mut first = 0usize;
        for (index, unit) in self.units.into_iter().enumerate() {
            let unit = unit.ok_or(BuildError::Unit { index: index as u32 })?;
            for instruction in &unit.instructions {
                encode_instruction(instruction, &mut code);
            }
            for (instruction, place) in &unit.lines {
                self.debug.lines.push(LineEntry {
                    instruction: first as u32 + instruction,
                    file: place.file,
                    line: place.line,
                    column: place.column,
                    end_line: place.end_line,
                    end_column: place.end_column,
                });
            }
            units.push(Unit {
                name: unit.name,
                kind: unit.kind,
                instance_bytes: unit.instance_bytes,
                first_instruction: first as u32,
                instruction_count: unit.instructions.len() as u32,
            });
            first += unit.instructions.len();
            if first > limits::INSTRUCTIONS {
                return Err(BuildError::TooLarge { what: "instructions", limit: limits::INSTRUCTIONS });
            }
            if code.len() > limits::CODE_BYTES {
                return Err(BuildError::TooLarge { what: "code bytes", limit: limits::CODE_BYTES });
            }
        }
        Ok(Image {
            data: self.data,
            layout: self.layout,
            bits: self.bits,
            units,
            code,
            ranges: self.ranges,
            natives: self.natives,
            tasks: self.tasks,
            debug: self.debug,
            dispatch: self.dispatch,
            resources: self.resources,
            base_interval_ns: self.base_interval_ns,
        })
    }

    fn fail(&mut self, error: BuildError) {
        if self.error.is_none() {
            self.error = Some(error);
        }
    }
}
