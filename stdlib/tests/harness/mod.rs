//! Runs blocks and functions of the library on a real machine, straight from their rows: a block as its
//! instruction on an instance, a function as the table says it is emitted. No compiler is involved.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]
#![allow(dead_code, reason = "each test uses its own part of the harness")]

pub mod bank;
pub mod block;
pub mod call;
pub mod outputs;
pub mod text;
pub mod text_function;
pub mod value;

use std::sync::Arc;

use latchwork_stdlib::natives;
use latchwork_vm::{FinishedUnit, ImageBuilder, Machine, Program, ProgramCall, Task};

/// A machine that runs one unit in every scan on an instance of `bytes` bytes; returns the address of the
/// instance.
pub fn machine(mut builder: ImageBuilder, unit: FinishedUnit, bytes: u32) -> (Machine, usize) {
    let base = builder.allocate(bytes, 8);
    let unit = builder.add_unit(unit);
    builder.tasks.push(Task::cyclic("main", vec![ProgramCall { unit, base }]));
    let image = builder.finish().expect("the image is whole");
    let program = Program::load(image, natives()).expect("the image is right");
    (Machine::new(Arc::new(program)), base as usize)
}
