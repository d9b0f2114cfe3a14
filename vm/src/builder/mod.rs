//! Building images: units instruction by instruction, then the image around them.
//!
//! The builder checks operand counts and kinds at once and reports the first mistake when the unit is finished; the
//! verifier checks everything else when the image is loaded.

mod unit;

pub use unit::{FinishedUnit, Label, Operand, UnitBuilder};

use crate::image::{
    DataLayout, DebugTables, DispatchTable, DispatchTarget, Image, IndexRange, LineEntry, LocatedBit,
    NativeImport, Task, TypeDescription, TypeIndex, Unit, Variable,
};
use crate::instruction::{Family, encode_instruction};
use crate::limits;
use crate::place::SYSTEM_BYTES;
use crate::types::Scalar;
use std::collections::{BTreeMap, HashMap};
use std::fmt;
use std::hash::{DefaultHasher, Hash, Hasher};

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
    /// The units that are in their places, and the code of them all.
    units: Vec<Unit>,
    code: Vec<u8>,
    instructions: usize,
    /// How many units have an index.
    reserved: u32,
    /// Units that wait for others before them.
    waiting: BTreeMap<u32, FinishedUnit>,
    ranges: Vec<IndexRange>,
    range_index: BTreeMap<IndexRange, u32>,
    natives: Vec<NativeImport>,
    native_index: BTreeMap<String, u32>,
    dispatch: Vec<DispatchTable>,
    dispatch_index: BTreeMap<Vec<DispatchTarget>, u32>,
    debug: DebugTables,
    /// The types by the hashes of their descriptions, which are kept once.
    type_index: HashMap<u64, Vec<TypeIndex>>,
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
            code: Vec::new(),
            instructions: 0,
            reserved: 0,
            waiting: BTreeMap::new(),
            ranges: Vec::new(),
            range_index: BTreeMap::new(),
            natives: Vec::new(),
            native_index: BTreeMap::new(),
            dispatch: Vec::new(),
            dispatch_index: BTreeMap::new(),
            debug: DebugTables::default(),
            type_index: HashMap::new(),
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
        let index = self.reserved;
        self.reserved += 1;
        index
    }

    /// Defines a reserved unit. In the order of their indices units take the least memory: each is encoded as soon as
    /// those before it are.
    pub fn define_unit(&mut self, index: u32, unit: FinishedUnit) {
        let defined = (index as usize) < self.units.len() || self.waiting.contains_key(&index);
        if defined || index >= self.reserved {
            self.fail(BuildError::Unit { index });
            return;
        }
        self.waiting.insert(index, unit);
        while let Some(unit) = self.waiting.remove(&(self.units.len() as u32)) {
            self.append(unit);
        }
    }

    /// Puts a unit behind the others.
    fn append(&mut self, unit: FinishedUnit) {
        let first = self.instructions as u32;
        for instruction in &unit.instructions {
            encode_instruction(instruction, &mut self.code);
        }
        self.debug.lines.extend(unit.lines.iter().map(|(instruction, place)| LineEntry {
            instruction: first + instruction,
            file: place.file,
            line: place.line,
            column: place.column,
            end_line: place.end_line,
            end_column: place.end_column,
        }));
        self.instructions += unit.instructions.len();
        if self.instructions > limits::INSTRUCTIONS {
            self.fail(BuildError::TooLarge { what: "instructions", limit: limits::INSTRUCTIONS });
        }
        if self.code.len() > limits::CODE_BYTES {
            self.fail(BuildError::TooLarge { what: "code bytes", limit: limits::CODE_BYTES });
        }
        self.units.push(Unit {
            name: unit.name,
            kind: unit.kind,
            instance_bytes: unit.instance_bytes,
            first_instruction: first,
            instruction_count: unit.instructions.len() as u32,
        });
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
        let mut hasher = DefaultHasher::new();
        description.hash(&mut hasher);
        let same = self.type_index.entry(hasher.finish()).or_default();
        let types = &self.debug.types;
        if let Some(index) = same.iter().find(|index| types.get(index.0 as usize) == Some(&description)) {
            return *index;
        }
        let next = TypeIndex(types.len() as u32);
        same.push(next);
        self.debug.types.push(description);
        next
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
        if self.units.len() < self.reserved as usize {
            return Err(BuildError::Unit { index: self.units.len() as u32 });
        }
        // It is kept as long as the image.
        self.debug.lines.shrink_to_fit();
        self.code.shrink_to_fit();
        Ok(Image {
            data: self.data,
            layout: self.layout,
            bits: self.bits,
            units: self.units,
            code: self.code,
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
