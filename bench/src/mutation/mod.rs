//! Mutation: whether the procedures of an exercise are sharp. Faults are seeded into the reference, one at a time, and
//! the procedures must notice them.
//!
//! ```text
//! Sources of the reference --seed--> Mutants: one edit of the text each
//! Mutant --compile--> nothing (does not compile) | the same program | a program
//! program + procedures --prove--> noticed by a procedure | survived
//! survivor + reference + station --search--> a procedure that tells the two apart, verified on both
//! Examined, of every mutant --report--> MutationReport --> text | JSON
//! ```
//!
//! A fault that survives is one that a student can hand in without losing a point. Either the procedures do not look at
//! what it changes, and the procedure that was found shows what to look at; or nobody can see a difference, as far as the
//! search saw.
//!
//! A front end makes an [`Examination`], calls [`Examination::examine`] with each number below
//! [`Examination::count`], on as many threads as it likes, and gives the results to [`Examination::report`]. Nothing in a
//! result depends on the order.
//!
//! Knows nothing of files, clocks or threads.

mod examination;
mod kind;
mod mutant;
mod prove;
pub mod report;
mod search;
mod seed;

pub use examination::{Examination, ExaminationOptions, Examined, Fate, Reference, Refusal};
pub use kind::MutantKind;
pub use mutant::{MUTANTS_MAX, Mutant, Mutants};
pub use report::MutationReport;
pub use search::{Found, SEARCH_SCANS_DEFAULT, SEARCH_SCANS_MAX, Sight};

use latchwork_grammar::Sources;

/// The faults that can be seeded into a program; `scan_ns` is the time between two scans, by which a duration changes at
/// least.
#[must_use]
pub fn mutants(sources: &Sources, scan_ns: i64) -> Mutants {
    seed::mutants(sources, scan_ns, MUTANTS_MAX)
}
