//! The standard functions and function blocks of IEC 61131-3:2013: one table of signatures, and one
//! native routine for each function that is more than a single instruction.
//!
//! ```text
//! name in the source --resolve--> row of the table --> how to emit it (instruction, conversion, native)
//! ```
//!
//! * [`function`] finds a function by the name a program uses (`ADD`, `ADD_INT`, `INT_TO_REAL`, `TRUNC`);
//!   [`FunctionDefinition`] says what it takes, gives, and how it is emitted.
//! * [`block`] finds a function block; [`BlockDefinition`] says where each member lies in the instance, and which
//!   instruction of the machine is its body.
//! * [`natives`] lists every routine an image may import; hand it to the machine when loading an image.
//! * [`time_arithmetic`] gives the forms of `+ - * /` on durations, dates and times of day (Table 35).
//! * [`conversion`] says how a value of one elementary type becomes one of another (Tables 22 to 27);
//!   [`value_of_text`] reads a text as a literal.
//!
//! The crate stands on `vm` alone and knows nothing of source text, scopes, or trees. It keeps no state:
//! what a function block remembers lies in its instance, which is a part of the data image.
//!
//! Clause numbers are those of IEC 61131-3:2013, written from memory of the text. Where the standard leaves
//! a choice to the implementer the row says which one was made.

mod blocks;
mod definition;
mod elementary;
mod functions;
mod resolve;
mod types;

pub use blocks::{
    BlockDefinition, BlockExample, BlockFamily, BlockMember, BlockOperation, Edge, InputOperator, block,
    block_families, blocks, st_body,
};
pub use definition::{
    ComparisonKind, Example, Extension, FunctionDefinition, Lowering, Output, Overload, Parameter, ResultType,
};
pub use functions::conversion::{ConversionRule, conversion};
pub use functions::endianness::{SWAP_PATTERN, SwapPart, SwapPattern, swap_routine};
pub use functions::operators::{NEGATION, Operator, operator};
pub use functions::text_conversion::text_length;
pub use functions::time_arithmetic::{TimeOperation, TimeOverload, time_arithmetic};
pub use functions::value_of_text::value_of_text;
pub use functions::{FunctionFamily, families, functions, natives};
pub use resolve::{Resolved, function};
pub use types::{TypeClass, common_type, implicitly_converts};
