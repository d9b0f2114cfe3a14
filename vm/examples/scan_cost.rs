//! What a scan costs: 200 Boolean rungs and a seal-in, with both dispatchers; and a condition that is called alone.
//!
//! `cargo run --release -p latchwork-vm --example scan_cost [threaded|matched] [rungs|seal-in|condition] [scans]`. With all three
//! arguments it runs that one only, which is what an instruction counter wants to see.

#![allow(clippy::print_stdout)] // A measurement to be read by a person; not part of the library.

use latchwork_vm::{
    AreaKind, Dispatcher, Family, Image, ImageBuilder, LocatedBit, Machine, Operand, Place, Program,
    ProgramCall, Region, Scalar, Task, UnitBuilder, UnitKind,
};
use std::error::Error;
use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

fn finish(mut image: ImageBuilder, unit: UnitBuilder, base: u32) -> Result<Arc<Program>, Box<dyn Error>> {
    let unit = image.add_unit(unit.finish()?);
    let programs = vec![ProgramCall { unit, base }];
    image.tasks.push(Task::cyclic("Main", programs));
    let image: Image = image.finish()?;
    Ok(Arc::new(Program::load(image, &[])?))
}

/// 200 rungs of three or four instructions each: `q := (a OR q) AND NOT b`, some with one more contact.
fn rungs() -> Result<Arc<Program>, Box<dyn Error>> {
    let mut image = ImageBuilder::new();
    let instance = image.allocate(512, 8);
    let mut unit = UnitBuilder::new("Rungs", UnitKind::Program, 512);
    let place = |number: u32| Operand::Place(Place::relative(number % 480));
    let temporary = Operand::Place(Place::absolute(image.allocate(1, 0)));
    let mut bits = 0x9e37_79b9u32;
    let mut random = move || {
        bits ^= bits << 13;
        bits ^= bits >> 17;
        bits ^= bits << 5;
        bits
    };
    for rung in 0..200 {
        let coil = place(rung);
        unit.emit(Family::Or, Scalar::U8, &[temporary, place(random()), coil]);
        unit.emit(Family::And, Scalar::U8, &[temporary, temporary, place(random())]);
        if rung % 3 == 0 {
            unit.emit(Family::Not, Scalar::U8, &[Operand::Place(Place::relative(500)), place(random())]);
            unit.emit(Family::Or, Scalar::U8, &[coil, temporary, Operand::Place(Place::relative(500))]);
        } else {
            unit.emit(Family::AndNot, Scalar::U8, &[coil, temporary, place(random())]);
        }
    }
    finish(image, unit, instance)
}

/// `Motor := (Start OR Motor) AND Stop` with located contacts and coil.
fn seal_in() -> Result<Arc<Program>, Box<dyn Error>> {
    let mut image = ImageBuilder::new();
    let inputs = image.allocate(1, 0);
    let outputs = image.allocate(1, 0);
    let slots = image.allocate(4, 0);
    image.layout.inputs = Region { start: inputs, size: 1 };
    image.layout.outputs = Region { start: outputs, size: 1 };
    for (slot, byte, area) in
        [(0, inputs, AreaKind::Input), (1, inputs, AreaKind::Input), (2, outputs, AreaKind::Output)]
    {
        image.bits.push(LocatedBit { place: slots + slot, byte, bit: slot as u8, area });
    }
    let mut unit = UnitBuilder::new("SealIn", UnitKind::Program, 0);
    let place = |slot| Operand::Place(Place::absolute(slots + slot));
    unit.emit(Family::Or, Scalar::U8, &[place(3), place(0), place(2)]);
    unit.emit(Family::And, Scalar::U8, &[place(2), place(3), place(1)]);
    finish(image, unit, 0)
}

/// `Elapsed > T#2s AND NOT Pump`, with the time and the pump copied from elsewhere before each call.
fn condition() -> Result<Arc<Program>, Box<dyn Error>> {
    let mut image = ImageBuilder::new();
    let pump = image.allocate(8, 0);
    let elapsed = image.allocate(8, 8);
    let limit = image.allocate(8, 8);
    image.write(limit, &2_000_000_000i64.to_le_bytes());
    let result = image.allocate(2, 0);
    let place = |address| Operand::Place(Place::absolute(address));
    let mut unit = UnitBuilder::new("Condition", UnitKind::Program, 0);
    unit.emit(Family::Less, Scalar::I64, &[place(result), place(limit), place(elapsed)]);
    unit.emit(Family::AndNot, Scalar::U8, &[place(result + 1), place(result), place(pump)]);
    finish(image, unit, 0)
}

/// One workload: its name, its program, and whether that is called alone instead of in scans.
struct Workload {
    name: &'static str,
    program: Arc<Program>,
    alone: bool,
}

fn workload(name: &str) -> Result<Workload, Box<dyn Error>> {
    Ok(match name {
        "rungs" => Workload { name: "200 rungs", program: rungs()?, alone: false },
        "condition" => Workload { name: "condition", program: condition()?, alone: true },
        _ => Workload { name: "seal-in", program: seal_in()?, alone: false },
    })
}

fn run(workload: &Workload, dispatcher: Dispatcher, scans: i64) -> Result<(f64, u64), Box<dyn Error>> {
    let mut machine = Machine::with_dispatcher(Arc::clone(&workload.program), dispatcher);
    let begin = Instant::now();
    let mut instructions = 0;
    for scan in 0..scans {
        if let Some(byte) = machine.data_mut().get_mut(16) {
            *byte = black_box(scan as u8 & 1);
        }
        let now = scan * 1_000_000;
        instructions +=
            if workload.alone { machine.run_program(0, now)? } else { machine.scan(now)?.instructions };
    }
    let nanoseconds = begin.elapsed().as_nanos() as f64 / scans as f64;
    Ok((nanoseconds, instructions / scans as u64))
}

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [dispatcher, name, scans] = arguments.as_slice() {
        let dispatcher = if dispatcher == "matched" { Dispatcher::Matched } else { Dispatcher::Threaded };
        let (nanoseconds, instructions) = run(&workload(name)?, dispatcher, scans.parse()?)?;
        println!("{name} {dispatcher:?}: {nanoseconds:.1} ns a scan, {instructions} instructions");
        return Ok(());
    }
    println!("fastest dispatcher of this build: {:?}", Dispatcher::best());
    for (name, scans) in [("rungs", 200_000), ("seal-in", 5_000_000), ("condition", 5_000_000)] {
        let workload = workload(name)?;
        for dispatcher in [Dispatcher::Threaded, Dispatcher::Matched] {
            let mut times = Vec::new();
            let mut instructions = 0;
            for _ in 0..5 {
                let (time, count) = run(&workload, dispatcher, scans)?;
                times.push(time);
                instructions = count;
            }
            times.sort_by(f64::total_cmp);
            let median = times.get(times.len() / 2).copied().unwrap_or_default();
            println!(
                "{:10} {dispatcher:?}: {median:.1} ns a scan, {instructions} instructions",
                workload.name
            );
        }
    }
    Ok(())
}
