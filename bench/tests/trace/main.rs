//! Recorded traces as expectations: reading them, holding recordings against them, writing approved ones.

// A test that finds something malformed has nothing better to do than to fail.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../board/mod.rs"]
mod board;
mod files;
mod pictures;
mod recorded;
#[path = "../diagram/recordings.rs"]
#[allow(dead_code, reason = "every test uses a part of them")]
mod recordings;
#[path = "../shown/mod.rs"]
mod shown;
mod whole_runs;
mod written;
