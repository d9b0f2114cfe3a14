//! The verifier: everything that the machine relies on, checked once when an image is loaded.
//!
//! What it proves is listed as V1 to V7 in `run::threaded`. It takes time linear in the size of the image, and a
//! limited number of steps more for dispatch tables; it knows nothing of how instructions run, only of what their
//! operands mean.

mod calls;
mod code;
mod coverage;
mod dispatch;
mod tables;

use crate::coverage::CoverageSize;
use crate::image::Image;
use crate::instruction::Instruction;
use crate::native::NativeFunction;
use crate::run::dispatch::Guard;
use std::fmt;

/// Why an image cannot run. Images of the compiler always can; an image that cannot was damaged or made by hand, and
/// the remedy is to compile the source again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LoadError {
    /// Something exceeds its limit.
    Limit {
        /// What.
        what: &'static str,
        /// How many there are.
        found: u64,
        /// How many there may be.
        limit: u64,
    },
    /// The image needs a native function that the table does not have.
    MissingNative {
        /// Its name.
        name: String,
    },
    /// The image and the table disagree about the frame of a native function.
    NativeFrame {
        /// Its name.
        name: String,
        /// Bytes by the image.
        image: u32,
        /// Bytes by the table.
        table: u32,
    },
    /// Something outside the code is wrong.
    Table {
        /// What: `task Fast`, `located bit 3`.
        what: String,
        /// What is wrong with it.
        problem: String,
    },
    /// An instruction is wrong.
    Instruction {
        /// Name of its unit.
        unit: String,
        /// Its index in the unit.
        instruction: u32,
        /// What is wrong with it.
        problem: String,
    },
    /// A unit calls itself, directly or through others.
    Recursion {
        /// Name of one unit of the circle.
        unit: String,
    },
}

impl fmt::Display for LoadError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Limit { what, found, limit } => {
                write!(formatter, "the image has too many {what}: {found}, the limit is {limit}")
            }
            Self::MissingNative { name } => {
                write!(
                    formatter,
                    "the image needs the native function `{name}`, which this program does not have"
                )
            }
            Self::NativeFrame { name, image, table } => write!(
                formatter,
                "the native function `{name}` has a frame of {table} bytes, the image expects {image}; compile the source again"
            ),
            Self::Table { what, problem } => {
                write!(formatter, "the image is not valid: {what}: {problem}; compile the source again")
            }
            Self::Instruction { unit, instruction, problem } => write!(
                formatter,
                "the image is not valid: unit {unit}, instruction {instruction}: {problem}; compile the source again"
            ),
            Self::Recursion { unit } => write!(
                formatter,
                "the image is not valid: unit {unit} calls itself; the language has no recursion, compile the source again"
            ),
        }
    }
}

impl std::error::Error for LoadError {}

/// What verification found out, for the decoder.
pub(crate) struct Verified {
    /// All instructions, in order.
    pub(crate) instructions: Vec<Instruction>,
    /// Native functions in the order of the imports.
    pub(crate) natives: Vec<NativeFunction>,
    /// For each unit the instance base, when it is always the same.
    pub(crate) fixed_bases: Vec<Option<u32>>,
    /// Greatest number of calls that are open at the same time.
    pub(crate) call_depth: usize,
    /// What calls through dispatch tables check.
    pub(crate) guards: Vec<Guard>,
    /// How the image observes itself; `None` for an ordinary one.
    pub(crate) coverage: Option<CoverageSize>,
    /// For each unit its guard, or [`crate::run::dispatch::UNGUARDED`]; empty without guards.
    pub(crate) guard_of: Vec<u32>,
}

/// Verifies an image completely.
pub(crate) fn verify(image: &Image, natives: &[NativeFunction]) -> Result<Verified, LoadError> {
    tables::check_limits(image)?;
    let natives = tables::bind_natives(image, natives)?;
    let instructions = code::decode(image)?;
    tables::check_ranges(image)?;
    tables::check_layout(image)?;
    tables::check_bits(image)?;
    tables::check_tasks(image)?;
    tables::check_dispatch(image)?;
    code::check_instructions(image, &instructions)?;
    let coverage = coverage::check(image, &instructions)?;
    let graph = calls::check_calls(image, &instructions)?;
    let dispatched = dispatch::check(image, &instructions, &graph)?;
    tables::check_debug(image, instructions.len())?;
    Ok(Verified {
        instructions,
        natives,
        fixed_bases: graph.fixed_bases,
        call_depth: dispatched.call_depth,
        guards: dispatched.guards,
        coverage,
        guard_of: dispatched.guard_of,
    })
}
