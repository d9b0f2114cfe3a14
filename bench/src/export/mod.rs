//! A recording in forms that other programs read: VCD (IEEE 1364) and CSV.
//!
//! Made from the recording itself, not from the diagram, so that nothing is left out or rounded. The same
//! recording gives the same bytes.

mod csv;
mod vcd;

pub use self::csv::csv;
pub(crate) use self::csv::push_cell;
pub use self::vcd::vcd;
