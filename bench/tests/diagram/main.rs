//! Pictures and exports of recordings: what is shown, that it is true, and that it keeps its bounds.

// A test that finds a malformed document has nothing better to do than to fail.
#![allow(clippy::expect_used)]

mod exports;
mod folds;
mod recordings;
mod svg;
mod terminal;
