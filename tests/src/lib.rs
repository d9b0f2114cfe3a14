//! What the checks of the whole and the benchmarks share: paths of the samples, compiling and replaying in one
//! call, and generators of large programs.

pub mod generate;
pub mod workbench;
