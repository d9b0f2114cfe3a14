//! The control workloads of `tests/speed`, run on the machine: the same stimulus and the same checksum as their forms in C
//! and Lua (`tests/speed/runner.c`, `tests/speed/runner.lua`).

use std::{
    fmt::Write as _,
    fs,
    ops::Range,
    path::{Path, PathBuf},
};

use latchwork_vm::{Dispatcher, Machine};

use crate::workbench;

/// The workloads by their names, which are those of their folders, with the number of 32-bit words that their outputs
/// take: the process image has room for more.
const OUTPUT_WORDS: [(&str, usize); 10] = [
    ("latch", 1),
    ("rungs", 2),
    ("timers", 4),
    ("loops", 33),
    ("signals", 5),
    ("arrays", 4),
    ("strings", 4),
    ("sequences", 7),
    ("calls", 3),
    ("tasks", 3),
];

/// The names of the workloads, which are those of their folders.
pub fn workloads() -> impl Iterator<Item = &'static str> {
    OUTPUT_WORDS.iter().map(|(name, _)| *name)
}

/// Simulated time from scan to scan, in nanoseconds.
pub const SCAN_NS: i64 = 10_000_000;

/// Scans after which the outputs go into the checksum.
pub const FOLDED: u64 = 64;

/// Scans after which the stimulus begins anew.
pub const STEPS: usize = 4096;

/// The folder of the workloads.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("speed")
}

/// The text of a workload in Structured Text.
///
/// # Errors
/// If there is no such workload.
pub fn source(workload: &str) -> Result<String, String> {
    let path = folder().join(workload).join(format!("{workload}.st"));
    fs::read_to_string(&path).map_err(|error| format!("{}: {error}", path.display()))
}

/// Which input bit changes in which scan, by Park and Miller's generator (1988) with the multiplier 48271.
fn toggles() -> [u8; STEPS] {
    let mut seed: u64 = 20_261;
    std::array::from_fn(|_| {
        seed = seed * 48_271 % 2_147_483_647;
        (seed % INPUTS as u64) as u8
    })
}

/// The stimulus of the first [`STEPS`] scans as a file for the virtual bench, for workloads with 32 input bits.
pub fn stimulus() -> String {
    let addresses = (0..INPUTS).map(|bit| format!(",%IX{}.{}", bit / 8, bit % 8));
    let mut text = format!("time{}\n", addresses.collect::<String>());
    let mut word = 0_u32;
    for (scan, bit) in toggles().into_iter().enumerate() {
        word ^= 1 << bit;
        let time_ms = scan as i64 * SCAN_NS / 1_000_000;
        let _ = writeln!(text, "{time_ms}{}{}", ",".repeat(usize::from(bit) + 1), word >> bit & 1);
    }
    text
}

/// Number of input bits.
const INPUTS: usize = 32;

/// Where an input bit lies in the data image; without a mask where the workload does not have it.
#[derive(Clone, Copy, Debug)]
struct InputBit {
    address: u32,
    mask: u8,
}

/// A workload on a machine, between two of its scans.
#[derive(Debug)]
pub struct Run {
    machine: Machine,
    toggles: Box<[u8; STEPS]>,
    inputs: [InputBit; INPUTS],
    outputs: Range<usize>,
    scans: u64,
    sum: u32,
}

impl Run {
    /// A workload before its first scan.
    ///
    /// # Errors
    /// If there is no such workload, or the diagnostics of its program.
    pub fn new(workload: &str, dispatcher: Dispatcher) -> Result<Self, String> {
        let words = OUTPUT_WORDS.iter().find(|(name, _)| *name == workload).map(|(_, words)| *words);
        let words = words.ok_or_else(|| format!("there is no workload {workload}"))?;
        let machine = Machine::with_dispatcher(workbench::program(&source(workload)?)?, dispatcher);
        let layout = &machine.program().image().layout;
        let area = layout.inputs;
        let inputs = std::array::from_fn(|bit| {
            let byte = bit as u32 / 8;
            let mask = if byte < area.size { 1 << (bit % 8) } else { 0 };
            InputBit { address: area.start + byte, mask }
        });
        let outputs = layout.outputs.start as usize..layout.outputs.start as usize + 4 * words;
        Ok(Run { machine, toggles: Box::new(toggles()), inputs, outputs, scans: 0, sum: 1 })
    }

    /// The next scan. The result is the number of bytecode instructions.
    ///
    /// # Errors
    /// The fault that stopped the program, as text.
    #[inline]
    pub fn scan(&mut self) -> Result<u64, String> {
        let bit = self.inputs[usize::from(self.toggles[self.scans as usize % STEPS]) % INPUTS];
        if let Some(byte) = self.machine.data_mut().get_mut(bit.address as usize) {
            *byte ^= bit.mask;
        }
        let summary = self.machine.scan(self.scans as i64 * SCAN_NS).map_err(|fault| fault.to_string())?;
        self.scans += 1;
        if self.scans.is_multiple_of(FOLDED) {
            self.fold();
        }
        Ok(summary.instructions)
    }

    /// Many scans. The result is the number of bytecode instructions of all of them.
    ///
    /// # Errors
    /// The fault that stopped the program, as text.
    pub fn scan_times(&mut self, scans: u64) -> Result<u64, String> {
        let mut instructions = 0;
        for _ in 0..scans {
            instructions += self.scan()?;
        }
        Ok(instructions)
    }

    /// The outputs of every 64th scan so far, folded.
    pub fn checksum(&self) -> u32 {
        self.sum
    }

    /// The bytes of the process image of outputs.
    pub fn outputs(&self) -> &[u8] {
        self.machine.data().get(self.outputs.clone()).unwrap_or_default()
    }

    /// The outputs as words of 32 bits, the first byte lowest, in the order of their addresses.
    fn fold(&mut self) {
        let mut sum = self.sum;
        for chunk in self.outputs().chunks(4) {
            let mut bytes = [0; 4];
            bytes[..chunk.len()].copy_from_slice(chunk);
            sum = sum.wrapping_mul(69_069).wrapping_add(u32::from_le_bytes(bytes));
        }
        self.sum = sum;
    }
}
