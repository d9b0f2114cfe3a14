//! A recording in forms that other programs read: VCD (IEEE 1364) and CSV.
//!
//! Made from the recording itself, not from the diagram, so that nothing is left out or rounded. The same recording gives
//! the same bytes, whether it is written as a whole or part by part while the program still runs.

mod csv;
mod merge;
mod vcd;

pub use self::csv::{CsvWriter, csv};
pub use self::vcd::{VcdWriter, vcd};
pub(crate) use self::{csv::push_cell, merge::Merge};
