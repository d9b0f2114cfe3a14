//! Procedures: a timeline of steps and expectations, run against a program on the virtual bench.
//!
//! ```text
//! StepsFile + Program + Station --bind--> Script --run--> Outcome
//! ```
//!
//! Time. Scans start at 0, one scan time, two scan times…; "now" is a time, and a step applies before the scan that
//! starts at or after it. An expectation looks at the state after the first scan that saw all steps before it. A
//! procedure ends at its first failure.
//!
//! Knows nothing of files, threads or pictures.

pub mod outcome;

pub use outcome::{Action, Failure, FailureKind, Outcome, Part, Verdict};
