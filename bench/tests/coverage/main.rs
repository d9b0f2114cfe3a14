//! Coverage: what is measured against published examples and brute force, and how it is shown.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

mod brute_force;
mod hints;
mod procedures;
mod program;
mod programs;
mod published;
mod renderings;
mod reports;
mod trees;
