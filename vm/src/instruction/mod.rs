//! Instruction families, operand kinds and everything that is known about an instruction before it runs.
//!
//! All of it derives from the table in [`table`]; this module knows nothing of images or of running.

pub(crate) mod table;

mod encoding;
mod reference;

pub use encoding::{CodeError, decode_instruction, encode_instruction};
pub use reference::instruction_reference;

use crate::block::{BistableLayout, CounterLayout, TimerLayout, TriggerLayout, UpDownLayout};
use crate::types::Scalar;
use serde::{Deserialize, Serialize};
use table::for_each_instruction;

/// What an operand word means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OperandKind {
    /// Place that is written, as wide as the instruction's scalar.
    Dest,
    /// Place that is written, 8 bits.
    Dest8,
    /// Place that is written, 16 bits.
    Dest16,
    /// Place that is written, 32 bits.
    Dest32,
    /// Place that is written, 64 bits.
    Dest64,
    /// Place that is read, as wide as the instruction's scalar.
    Source,
    /// Place that is read, 8 bits.
    Source8,
    /// Place that is read, 32 bits.
    Source32,
    /// Place that is read, 64 bits.
    Source64,
    /// Place of 32 bits that holds an absolute address.
    Address,
    /// Place where a region starts; its size follows from the other operands.
    Region,
    /// Place of an instance of SR or RS.
    Bistable,
    /// Place of an instance of R_TRIG or F_TRIG.
    Trigger,
    /// Place of an instance of CTU or CTD whose values are the instruction's scalar.
    Counter,
    /// Place of an instance of CTUD whose values are the instruction's scalar.
    UpDownCounter,
    /// Place of an instance of TP, TON or TOF.
    Timer,
    /// Number of bytes of the regions of this instruction.
    Bytes,
    /// Plain number.
    Immediate,
    /// Index of an instruction within the unit.
    Label,
    /// Index into [`crate::Image::units`].
    Unit,
    /// Index into [`crate::Image::natives`].
    Native,
    /// Index into [`crate::Image::ranges`].
    Range,
    /// Index into [`crate::Image::dispatch`].
    Dispatch,
    /// Code of an [`crate::EventKind`].
    EventCode,
    /// Number of a point of [`crate::CoverageLog`].
    Point,
    /// Number of the first of two points that follow one another.
    Points,
    /// Number of a decision of [`crate::CoverageLog`].
    Decision,
    /// Number of a condition of a decision.
    Condition,
}

impl OperandKind {
    /// Whether the operand word is a [`crate::Place`].
    #[must_use]
    pub const fn is_place(self) -> bool {
        self.width(Scalar::U8).is_some() || self.is_instance() || matches!(self, Self::Region)
    }

    /// Whether the operand word is the place of an instance of a standard function block.
    #[must_use]
    pub const fn is_instance(self) -> bool {
        self.instance_bytes(Scalar::U8).is_some()
    }

    /// Size in bytes of the instance at the place; `None` for operands that are no instances.
    #[must_use]
    pub const fn instance_bytes(self, scalar: Scalar) -> Option<u32> {
        match self {
            Self::Bistable => Some(BistableLayout::BYTES),
            Self::Trigger => Some(TriggerLayout::BYTES),
            Self::Counter => Some(CounterLayout::of_width(scalar.size()).bytes),
            Self::UpDownCounter => Some(UpDownLayout::of_width(scalar.size()).bytes),
            Self::Timer => Some(TimerLayout::BYTES),
            _ => None,
        }
    }

    /// Whether the instruction may write what lies at the place. Regions are not told apart: a copy writes one of two.
    #[must_use]
    pub const fn is_written(self) -> bool {
        self.is_instance()
            || matches!(self, Self::Dest | Self::Dest8 | Self::Dest16 | Self::Dest32 | Self::Dest64)
    }

    /// Width in bytes of the value at the place; `None` for regions and for operands that are no places.
    #[must_use]
    pub const fn width(self, scalar: Scalar) -> Option<u32> {
        match self {
            Self::Dest | Self::Source => Some(scalar.size()),
            Self::Dest8 | Self::Source8 => Some(1),
            Self::Dest16 => Some(2),
            Self::Dest32 | Self::Source32 | Self::Address => Some(4),
            Self::Dest64 | Self::Source64 => Some(8),
            Self::Region
            | Self::Bistable
            | Self::Trigger
            | Self::Counter
            | Self::UpDownCounter
            | Self::Timer
            | Self::Bytes
            | Self::Immediate
            | Self::Label
            | Self::Unit
            | Self::Native
            | Self::Range
            | Self::Dispatch
            | Self::EventCode
            | Self::Point
            | Self::Points
            | Self::Decision
            | Self::Condition => None,
        }
    }

    /// Short notation used in the instruction reference.
    #[must_use]
    pub const fn notation(self) -> &'static str {
        match self {
            Self::Dest => "D",
            Self::Dest8 => "D8",
            Self::Dest16 => "D16",
            Self::Dest32 => "D32",
            Self::Dest64 => "D64",
            Self::Source => "S",
            Self::Source8 => "S8",
            Self::Source32 => "S32",
            Self::Source64 => "S64",
            Self::Address => "A",
            Self::Region => "P",
            Self::Bistable => "bistable",
            Self::Trigger => "trigger",
            Self::Counter => "counter",
            Self::UpDownCounter => "up-down counter",
            Self::Timer => "timer",
            Self::Bytes => "bytes",
            Self::Immediate => "I",
            Self::Label => "L",
            Self::Unit => "U",
            Self::Native => "N",
            Self::Range => "R",
            Self::Dispatch => "T",
            Self::EventCode => "E",
            Self::Point => "point",
            Self::Points => "two points",
            Self::Decision => "decision",
            Self::Condition => "condition",
        }
    }
}

/// What an instruction may raise: the faults stop the run, the others are recorded as events.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Raises {
    /// Event: result outside the range of the type.
    Overflow,
    /// Fault for integers, event for floats.
    DivisionByZero,
    /// Event: MOD with 0.
    ModuloByZero,
    /// Event: an operand for which the operation is not defined.
    Domain,
    /// Event: value changed by a conversion.
    Conversion,
    /// Event: string cut at the capacity of the target.
    StringCut,
    /// Event: FOR with step 0.
    ForStepZero,
    /// Fault: index outside its range.
    Subscript,
    /// Fault: value outside its subrange.
    Subrange,
    /// Fault: NULL dereferenced.
    NullReference,
    /// Fault: address outside the data image.
    Address,
    /// Fault: a unit would run a second time before its end.
    Recursion,
    /// Fault: calls nested too deeply.
    CallDepth,
    /// Fault: instruction budget used up.
    Watchdog,
}

impl Raises {
    /// Name used in the instruction reference.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Overflow => "overflow",
            Self::DivisionByZero => "division-by-zero",
            Self::ModuloByZero => "modulo-by-zero",
            Self::Domain => "domain",
            Self::Conversion => "conversion",
            Self::StringCut => "string-cut",
            Self::ForStepZero => "for-step-zero",
            Self::Subscript => "subscript",
            Self::Subrange => "subrange",
            Self::NullReference => "null-reference",
            Self::Address => "address",
            Self::Recursion => "recursion",
            Self::CallDepth => "call-depth",
            Self::Watchdog => "watchdog",
        }
    }
}

/// Everything that is known about a family of instructions.
#[derive(Clone, Copy, Debug)]
pub struct FamilyDescription {
    /// Name in listings.
    pub mnemonic: &'static str,
    /// The scalars it exists for.
    pub scalars: &'static [Scalar],
    /// Kinds of its operands, at most four.
    pub operands: &'static [OperandKind],
    /// Instructions counted for one execution; block operations count one more for every 64 bytes.
    pub cost: u32,
    /// Faults and events it may raise.
    pub raises: &'static [Raises],
    /// One line for the reference.
    pub summary: &'static str,
}

macro_rules! define_families {
    ($($family:ident $mnemonic:literal [$($scalar:ident)*] [$($operand:ident)*] $cost:literal [$($raises:ident)*]
        $handler:ident $summary:literal;)*) => {
        /// A family of instructions: one operation for all the scalars it exists for.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[repr(u8)]
        pub enum Family {
            $(#[doc = $summary] $family,)*
        }

        impl Family {
            /// All families in the order of their codes.
            pub const ALL: &'static [Self] = &[$(Self::$family,)*];

            /// What is known about the family.
            #[must_use]
            pub const fn description(self) -> &'static FamilyDescription {
                match self {
                    $(Self::$family => &FamilyDescription {
                        mnemonic: $mnemonic,
                        scalars: &[$(Scalar::$scalar,)*],
                        operands: &[$(OperandKind::$operand,)*],
                        cost: $cost,
                        raises: &[$(Raises::$raises,)*],
                        summary: $summary,
                    },)*
                }
            }
        }
    };
}

for_each_instruction!(define_families);

impl Family {
    /// The family with this code, if there is one.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.get(usize::from(code)).copied()
    }

    /// Whether the instructions only note what they see: for measuring coverage, or for telling reasons.
    #[must_use]
    pub const fn observes(self) -> bool {
        self.covers() || self.journals()
    }

    /// Whether the instructions note what a [`crate::Journal`] holds.
    #[must_use]
    pub const fn journals(self) -> bool {
        matches!(self, Self::NoteStatement | Self::NoteValue | Self::NotePlace | Self::NoteAddress)
    }

    /// Whether the instructions note what a [`crate::CoverageLog`] holds.
    #[must_use]
    pub const fn covers(self) -> bool {
        matches!(
            self,
            Self::ObservePoint
                | Self::ObserveValue
                | Self::ObserveLoop
                | Self::ObserveCondition
                | Self::ObserveOutcome
        )
    }

    /// The code of the family in an encoded image.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }
}

/// An operation on one scalar. Only combinations that the table lists can be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Opcode {
    family: Family,
    scalar: Scalar,
}

impl Opcode {
    /// The opcode for a family and a scalar; `None` where the family does not exist for that scalar. For a family
    /// with a single scalar the given one does not matter.
    #[must_use]
    pub fn new(family: Family, scalar: Scalar) -> Option<Self> {
        match family.description().scalars {
            [only] => Some(Self { family, scalar: *only }),
            scalars if scalars.contains(&scalar) => Some(Self { family, scalar }),
            _ => None,
        }
    }

    /// Its family.
    #[must_use]
    pub const fn family(self) -> Family {
        self.family
    }

    /// Its scalar.
    #[must_use]
    pub const fn scalar(self) -> Scalar {
        self.scalar
    }

    /// Kinds of its operands.
    #[must_use]
    pub const fn operands(self) -> &'static [OperandKind] {
        self.family.description().operands
    }

    /// Name in listings: `add.i32`, `jump`.
    #[must_use]
    pub fn name(self) -> String {
        let description = self.family.description();
        if description.scalars.len() == 1 {
            description.mnemonic.to_owned()
        } else {
            format!("{}.{}", description.mnemonic, self.scalar.suffix())
        }
    }

    /// All opcodes of the table, in order.
    pub fn all() -> impl Iterator<Item = Self> {
        Family::ALL.iter().flat_map(|family| {
            family.description().scalars.iter().map(|scalar| Self { family: *family, scalar: *scalar })
        })
    }
}

/// One instruction: an opcode and its operand words. Words beyond the opcode's operands are 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Instruction {
    /// What it does.
    pub opcode: Opcode,
    /// Operand words, as the opcode's [`OperandKind`]s say.
    pub operands: [u32; 4],
}

impl Instruction {
    /// Instructions counted for one execution, without what a native function or a string operation adds.
    #[must_use]
    pub fn cost(&self) -> u32 {
        let description = self.opcode.family.description();
        let bytes = self
            .opcode
            .operands()
            .iter()
            .zip(self.operands)
            .find(|(kind, _)| matches!(kind, OperandKind::Bytes))
            .map_or(0, |(_, bytes)| bytes);
        description.cost + bytes / BYTES_PER_COUNT
    }
}

/// Bytes of a block operation that count as one more instruction.
pub const BYTES_PER_COUNT: u32 = 64;
