//! How a program is run: inputs, times, budget and mode, all from a seed, on both dispatchers side by side.

use std::sync::Arc;

use latchwork_tests::generate::programs::{Kind, Random, inputs};
use latchwork_vm::{Dispatcher, Image, Machine, Program, Restart, Timing, TypeDescription};

/// Fewest and most scans of a program.
pub const SCANS_MIN: usize = 20;
const SCANS_MAX: usize = 50;

/// Instructions that a scan may take, where the budget is not the point.
const BUDGET: u64 = 4_000;

/// What was run.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Scans on each dispatcher.
    pub scans: usize,
    /// Scans that a fault ended.
    pub faults: usize,
    /// Values that came from outside.
    pub inputs: usize,
}

impl Tally {
    /// Adds another run.
    pub const fn add(&mut self, other: Self) {
        self.scans += other.scans;
        self.faults += other.faults;
        self.inputs += other.inputs;
    }
}

/// A difference between the dispatchers.
#[derive(Debug)]
pub enum Difference {
    /// There is no program: what the compiler says.
    Refused(String),
    /// Something other than data, as text.
    Told(String),
    /// The first byte of the data image that differs.
    Byte { scan: usize, address: usize, threaded: u8, matched: u8 },
}

/// A variable that may get values from outside.
#[derive(Clone, Copy, Debug)]
pub struct Input {
    /// Where it lies, if the program has it.
    address: Option<usize>,
    kind: Kind,
}

/// The variables of some program instances whose values come from outside. Those that an instance lacks are there too, so
/// that a program gets the same values when it is made smaller.
pub fn inputs_of(image: &Image, programs: &[String]) -> Vec<Input> {
    let wanted = inputs();
    let mut found = Vec::new();
    for root in &image.debug.roots {
        let name = root.name.rsplit('.').next().unwrap_or_default();
        if !programs.iter().any(|program| program.eq_ignore_ascii_case(name)) {
            continue;
        }
        let Some(TypeDescription::Structure { members, .. }) = image.debug.kind(root.kind) else { continue };
        for (name, kind) in &wanted {
            let member = members.iter().find(|member| member.name == *name);
            let address = member.map(|member| (root.address + member.offset) as usize);
            found.push(Input { address, kind: *kind });
        }
    }
    found
}

/// A value as inputs have it: mostly small, seldom at the limits of the type.
fn value(random: &mut Random, kind: Kind) -> [u8; 8] {
    const REALS: [f64; 12] =
        [0.0, -0.0, 1.0, 0.1, -2.5, 1e30, -1e38, 1e-40, 1e300, f64::INFINITY, f64::NEG_INFINITY, f64::NAN];
    let small = random.between(0, 40) as i64 - if kind.is_unsigned() { 0 } else { 8 };
    match kind {
        Kind::Bool => (random.below(2) as u64).to_le_bytes(),
        Kind::Time => (random.between(0, 60) as i64 * 1_000_000).to_le_bytes(),
        Kind::Real | Kind::Lreal => {
            let real = if random.chance(80) { small as f64 / 4.0 } else { *random.pick(&REALS) };
            if kind == Kind::Lreal {
                real.to_le_bytes()
            } else {
                u64::from((real as f32).to_bits()).to_le_bytes()
            }
        }
        Kind::Byte | Kind::Word | Kind::Dword | Kind::Lword => random.bits().to_le_bytes(),
        _ if random.chance(85) => small.to_le_bytes(),
        _ => match random.below(4) {
            0 => u64::MAX.to_le_bytes(),
            1 => i64::MIN.to_le_bytes(),
            // The limits of every width, signed and unsigned.
            _ => (u64::MAX >> random.below(64)).to_le_bytes(),
        },
    }
}

const fn width(kind: Kind) -> usize {
    match kind {
        Kind::Bool | Kind::Byte | Kind::Sint | Kind::Usint => 1,
        Kind::Int | Kind::Uint | Kind::Word => 2,
        Kind::Dint | Kind::Udint | Kind::Real | Kind::Dword => 4,
        _ => 8,
    }
}

/// The way of running that is held to the plain one: most programs by the threaded dispatcher, some compiled, for
/// compiling takes longer than the scans; all with `LATCHWORK_COMPILED` set.
fn fast(seed: u64) -> Dispatcher {
    let compiled = seed.is_multiple_of(COMPILED_EVERY) || std::env::var_os("LATCHWORK_COMPILED").is_some();
    if compiled { Dispatcher::Compiled } else { Dispatcher::Threaded }
}

/// One program in so many is compiled.
const COMPILED_EVERY: u64 = 16;

/// Runs a program both ways.
pub fn run(program: &Arc<Program>, inputs: &[Input], seed: u64) -> Result<Tally, Difference> {
    let mut random = Random::new(seed);
    let mut machines = [fast(seed), Dispatcher::Matched]
        .map(|dispatcher| Machine::with_dispatcher(Arc::clone(program), dispatcher));
    // Some scans may take no more instructions than the one before, or fewer: they end at any instruction.
    let short = random.chance(20);
    let strict = random.chance(10);
    let timing = random.chance(4).then(|| Timing {
        instruction_ns: random.between(1, 200_000) as u32,
        preemptive: random.chance(50),
        cycle_ns: 10_000_000,
    });
    for machine in &mut machines {
        machine.set_budget(BUDGET);
        machine.set_strict(strict);
        if let Some(timing) = timing {
            machine.set_timing(timing);
        }
    }
    let busy = random.between(0, 60);
    let regular = random.chance(60);
    let mut tally = Tally { scans: random.between(SCANS_MIN, SCANS_MAX), ..Tally::default() };
    let mut now_ns = 0;
    for scan in 0..tally.scans {
        for input in inputs {
            let chance = if input.kind == Kind::Bool { busy + 15 } else { busy / 2 + 3 };
            if scan == 0 || random.chance(chance) {
                let bytes = value(&mut random, input.kind);
                let Some(address) = input.address else { continue };
                let width = width(input.kind);
                tally.inputs += 1;
                for machine in &mut machines {
                    machine.data_mut()[address..address + width].copy_from_slice(&bytes[..width]);
                }
            }
        }
        if short && scan > 0 && random.chance(60) {
            let last = machines[0].last_instructions() as usize;
            let budget = random.between(0, last + 2) as u64;
            for machine in &mut machines {
                machine.set_budget(budget);
            }
        }
        for machine in &mut machines {
            spoil(machine, &mut random);
        }
        let terminals = random.bits() as u8;
        let region = program.image().layout.inputs;
        for machine in &mut machines {
            if region.size > 0 {
                machine.data_mut()[region.start as usize] = terminals;
            }
        }
        let [threaded, matched] = &mut machines;
        let results = [threaded.scan(now_ns), matched.scan(now_ns)];
        compare(scan, [threaded, matched], &results)?;
        if results[0].is_err() {
            tally.faults += 1;
            let restart = if random.chance(70) { Restart::Warm } else { Restart::Cold };
            threaded.restart(restart);
            matched.restart(restart);
            now_ns = 0;
        }
        now_ns += if regular { 10_000_000 } else { random.between(1, 40) as i64 * 1_000_000 };
    }
    Ok(tally)
}

/// Writes anything into the temporaries, whose content means nothing between two scans.
fn spoil(machine: &mut Machine, random: &mut Random) {
    let [start, end] = machine.program().image().state_ranges();
    for bytes in machine.data_mut()[start.end..end.start].chunks_mut(8) {
        let length = bytes.len();
        bytes.copy_from_slice(&random.bits().to_le_bytes()[..length]);
    }
}

fn compare(
    scan: usize,
    [threaded, matched]: [&Machine; 2],
    results: &[Result<latchwork_vm::ScanSummary, Box<latchwork_vm::Fault>>; 2],
) -> Result<(), Difference> {
    let told = |what: &str, threaded: String, matched: String| {
        Err(Difference::Told(format!("scan {scan}: {what}\nthreaded: {threaded}\nplain:    {matched}")))
    };
    if threaded.state() != matched.state() {
        for range in threaded.program().image().state_ranges() {
            for address in range {
                let [one, other] = [threaded, matched].map(|machine| machine.data()[address]);
                if one != other {
                    return Err(Difference::Byte { scan, address, threaded: one, matched: other });
                }
            }
        }
    }
    let [left, right] = results;
    if left != right {
        return told("result", format!("{left:?}"), format!("{right:?}"));
    }
    if threaded.events() != matched.events() {
        return told("events", format!("{:?}", threaded.events()), format!("{:?}", matched.events()));
    }
    if threaded.coverage() != matched.coverage() {
        return told("coverage", format!("{:?}", threaded.coverage()), format!("{:?}", matched.coverage()));
    }
    if threaded.task_runs() != matched.task_runs() {
        return told("tasks", format!("{:?}", threaded.task_runs()), format!("{:?}", matched.task_runs()));
    }
    Ok(())
}
