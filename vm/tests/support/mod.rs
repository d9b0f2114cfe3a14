//! Small programs for tests.

#![allow(dead_code)] // Each test file uses its own part.
#![allow(clippy::unwrap_used)] // A panic is how a test fails.

pub mod sample;
pub mod tasks;

use latchwork_vm::{
    Dispatcher, Family, Image, ImageBuilder, Machine, NativeFunction, Operand, Place, Program, ProgramCall,
    Scalar, Task, UnitBuilder, UnitKind,
};
use std::sync::Arc;

/// A native function that adds two numbers of its frame: i32 at 0 and 4, sum at 8.
pub const ADDER: NativeFunction = NativeFunction::new("test.adder", 12, |call| {
    let sum = call.i32(0).wrapping_add(call.i32(4));
    call.set_i32(8, sum);
    call.charge(3);
});

/// A native function that counts its calls in its instance and stores the time: u32 at 0, i64 at 8.
pub const COUNTER: NativeFunction = NativeFunction::new("test.counter", 16, |call| {
    let count = call.u32(0).wrapping_add(1);
    call.set_u32(0, count);
    let now = call.now();
    call.set_i64(8, now);
    if count % 8 == 0 {
        call.event(latchwork_vm::EventKind::Domain);
    }
});

pub const NATIVES: [NativeFunction; 2] = [ADDER, COUNTER];

/// Shorthand for operands.
pub fn at(offset: u32) -> Operand {
    Operand::Place(Place::absolute(offset))
}

/// Shorthand for relative operands.
pub fn plus(offset: u32) -> Operand {
    Operand::Place(Place::relative(offset))
}

/// A task that runs one program in every scan.
pub fn every_scan(unit: u32, base: u32) -> Task {
    Task::cyclic("Main", vec![ProgramCall { unit, base }])
}

/// An image with one program without instance, built by `body`, over `data_bytes` bytes of zeros (addresses from 16).
pub fn single(data_bytes: u32, body: impl FnOnce(&mut UnitBuilder)) -> Image {
    let mut image = ImageBuilder::new();
    image.allocate(data_bytes, 0);
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    body(&mut unit);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    image.finish().unwrap()
}

/// An image with one program that is a single instruction.
pub fn one(family: Family, scalar: Scalar, operands: &[Operand]) -> Image {
    single(256, |unit| unit.emit(family, scalar, operands))
}

pub fn load(image: Image) -> Arc<Program> {
    Arc::new(Program::load(image, &NATIVES).unwrap())
}

pub fn machine(image: Image) -> Machine {
    Machine::new(load(image))
}

/// Machines that run the same program in every way: compiled, threaded, matched.
pub fn every(program: &Arc<Program>) -> [Machine; 3] {
    [Dispatcher::Compiled, Dispatcher::Threaded, Dispatcher::Matched]
        .map(|dispatcher| Machine::with_dispatcher(Arc::clone(program), dispatcher))
}

/// Machines with both dispatchers over the same program.
pub fn both(program: &Arc<Program>) -> [Machine; 2] {
    [Dispatcher::Threaded, Dispatcher::Matched]
        .map(|dispatcher| Machine::with_dispatcher(Arc::clone(program), dispatcher))
}

pub fn put(machine: &mut Machine, offset: u32, bytes: &[u8]) {
    machine.data_mut()[offset as usize..offset as usize + bytes.len()].copy_from_slice(bytes);
}

pub fn take<const N: usize>(machine: &Machine, offset: u32) -> [u8; N] {
    machine.data()[offset as usize..offset as usize + N].try_into().unwrap()
}

/// Every scan adds 1 to the DINT at 16.
pub fn counting(unit: &mut UnitBuilder) {
    unit.emit(Family::Add, Scalar::I32, &[at(16), at(16), at(32)]);
}

pub fn counter() -> Image {
    let mut image = single(64, counting);
    image.data[32] = 1;
    image
}
