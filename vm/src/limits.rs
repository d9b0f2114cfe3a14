//! A named ceiling for everything that an image may ask for.
//!
//! The builder, the reader and the verifier check against these; none of them allocates more than a small
//! multiple of what the image really contains.

/// Largest data image, in bytes.
pub const DATA_BYTES: usize = 64 << 20;
/// Largest encoded code, in bytes.
pub const CODE_BYTES: usize = 64 << 20;
/// Largest number of instructions in an image.
pub const INSTRUCTIONS: usize = 4 << 20;
/// Largest number of program organisation units.
pub const UNITS: usize = 1 << 16;
/// Largest number of index ranges.
pub const RANGES: usize = 1 << 20;
/// Largest number of imported native functions.
pub const NATIVES: usize = 1 << 12;
/// Largest number of dispatch tables.
pub const DISPATCH_TABLES: usize = 1 << 16;
/// Largest number of rows in all dispatch tables together.
pub const DISPATCH_TARGETS: usize = 1 << 20;
/// Most steps that the verifier takes along calls below the targets of dispatch tables. Only units that could come
/// to call themselves through a table count.
pub const DISPATCH_STEPS: usize = 1 << 25;
/// Largest number of resources.
pub const RESOURCES: usize = 64;
/// Largest number of tasks.
pub const TASKS: usize = 256;
/// Largest number of program instances over all tasks.
pub const PROGRAM_CALLS: usize = 1 << 14;
/// Largest number of located Boolean variables.
pub const LOCATED_BITS: usize = 1 << 20;
/// Largest number of retained regions.
pub const RETAINED_REGIONS: usize = 1 << 20;
/// Largest number of type descriptions in the debug tables.
pub const TYPES: usize = 1 << 18;
/// Most pieces of work on tasks in one scan; more are stopped like a loop without end.
pub const TASK_RUNS: usize = 1 << 16;
/// Deepest nesting of structures and arrays.
pub const TYPE_DEPTH: usize = 128;
/// Largest number of root variables in the debug tables.
pub const ROOTS: usize = 1 << 18;
/// Largest number of source files named in the debug tables.
pub const FILES: usize = 1 << 16;
/// Deepest chain of calls, counted in units that are active at the same time.
pub const CALL_DEPTH: usize = 256;
/// Largest number of dimensions of an array.
pub const ARRAY_DIMENSIONS: usize = 32;
/// Largest number of bytes that one native function may use as its frame.
pub const FRAME_BYTES: u32 = 1 << 20;
/// Largest magnitude of the lower bound of an index range. Keeps `index - lower` inside 65 bits, so that one
/// wrapping subtraction decides whether an index fits.
pub const INDEX_LOWER: i64 = 1 << 62;
/// Longest image file, in bytes.
pub const IMAGE_BYTES: usize = 512 << 20;
/// Longest name in the debug tables, in bytes.
pub const NAME_BYTES: usize = 4096;
/// Most leaves that one walk over all variables visits.
pub const VARIABLE_LEAVES: usize = 100_000;
/// Elements of one array that a walk over all variables visits.
pub const ARRAY_LEAVES: u64 = 256;
/// Default instruction budget of a scan.
pub const DEFAULT_BUDGET: u64 = 10_000_000;
/// Largest instruction budget of a scan: leaves room for the count above it.
pub const BUDGET: u64 = 1 << 60;
