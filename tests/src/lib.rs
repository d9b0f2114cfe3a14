//! What the checks of the whole and the benchmarks share: paths of the samples, compiling and replaying in one
//! call, generators of large programs, the control workloads, and whether measuring coverage changes an image.

pub mod class;
pub mod control;
pub mod generate;
pub mod memory;
pub mod observation;
pub mod recorded_run;
pub mod rewriting;
pub mod rung_recording;
pub mod twins;
pub mod workbench;
