//! The other way round: from what was seen on a real board to the single faults that would explain it.
//!
//! ```text
//! # what the checkout of the board showed
//! S1,     S2,     wait,  H1,  H2
//! 0,      0,      ,      off, on
//! turned, ,       ,      off, on
//! 0,      turned, T#2s,  off, off
//! ```
//!
//! - Each row is one step: what is done to the devices, then time passes (the column `wait`, one second without it),
//!   then the loads are looked at. The steps follow one another; nothing starts anew.
//! - A cell of a device holds what a stimulus may hold: its words, 1, 0, TRUE, FALSE, or a number for an analog device.
//!   Empty means unchanged.
//! - A cell of a load holds `on`, `off`, 1, 0, TRUE or FALSE; for an analog load also a number of engineering units, which
//!   agrees within 2 % of the range. Empty means that nobody looked.
//! - The form of the text is that of a stimulus: commas, semicolons or tabulators, comment lines beginning with `#`.
//!
//! Every single fault, and no fault, is tried on the same steps. An explanation is the better the fewer observations it
//! contradicts; among those with as many, no fault comes before a fault, then open wires, stuck contacts and outputs, and
//! bridges, in the order of the station: what breaks often before what breaks seldom (common practice, no source).

mod next;
mod rank;
mod read;
mod report;
mod simulate;

use latchwork_grammar::{FileId, Span};
use latchwork_vm::Value;

pub use self::{
    next::{NextStep, next_step},
    rank::{Contradiction, Explanation, explain},
    read::read,
    report::{explanation_words, seen_words, text},
    simulate::Board,
};

/// Time that passes in a step that does not say, in nanoseconds.
pub const WAIT_DEFAULT_NS: i64 = 1_000_000_000;

/// Largest table accepted, in bytes.
pub const OBSERVED_BYTES_MAX: usize = 1024 * 1024;

/// Most steps.
pub const OBSERVED_STEPS_MAX: usize = 1_000;

/// A checkout of a board: what was done, and what was seen.
#[derive(Clone, Debug)]
pub struct Checkout {
    /// The file it was read from.
    pub file: FileId,
    /// The steps in their order.
    pub steps: Vec<CheckoutStep>,
}

/// A step.
#[derive(Clone, Debug)]
pub struct CheckoutStep {
    /// What is done: devices by their place in the station, BOOL (actuated or not) or LREAL (engineering units).
    pub acts: Vec<(usize, Value)>,
    /// Time that passes then, in nanoseconds, above 0.
    pub wait_ns: i64,
    /// What was seen: loads by their place in the station.
    pub seen: Vec<(usize, Seen)>,
    /// Its line, from 1.
    pub line: usize,
    /// Its place.
    pub span: Span,
}

/// What was seen of a load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// It works, or it does not.
    Works(bool),
    /// Its value in engineering units.
    Near(f64),
}

impl Checkout {
    /// Number of cells in which something was seen.
    pub fn observations(&self) -> usize {
        self.steps.iter().map(|step| step.seen.len()).sum()
    }
}
