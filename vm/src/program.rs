//! A verified image, decoded and ready to run.
//!
//! [`Program::load`] is the only way to make one, so holding a `Program` is the proof that its image was verified.

use crate::coverage::CoverageSize;
use crate::fault::{FaultPlace, SourcePlace};
use crate::image::{AreaKind, Image, LineEntry, LocatedBit, Unit};
use crate::instruction::{Instruction, OperandKind};
use crate::machine::Dispatcher;
use crate::machine::process_image::BitRun;
use crate::native::NativeFunction;
use crate::place::Place;
use crate::resolve::Locations;
#[cfg(compiled_form)]
use crate::run::compiled::Compiled;
use crate::run::dispatch::{DispatchIndex, Units};
#[cfg(threaded_dispatch)]
use crate::run::threaded::Chain;
use crate::run::{Code, Record};
use crate::schedule::Schedule;
use crate::verify::{LoadError, Verified, verify};
#[cfg(compiled_form)]
use std::sync::atomic::Ordering;
use std::{collections::BTreeMap, fmt, sync::atomic::AtomicU64};

/// A program that was verified and can run in a [`crate::Machine`]. It does not change; many machines may share it.
pub struct Program {
    image: Image,
    code: Code,
    call_depth: usize,
    coverage: Option<CoverageSize>,
    schedule: Schedule,
    pub(crate) unpacked: Vec<BitRun>,
    pub(crate) packed: Vec<BitRun>,
    locations: Locations,
    /// The located bits by their places.
    mirrors: BTreeMap<u32, LocatedBit>,
    /// Instructions that machines have executed, as far as they have told.
    heat: AtomicU64,
}

/// How often on the average each instruction has run when compiling begins to be worth its time: compiling takes about
/// as long per instruction as running it so often.
#[cfg(compiled_form)]
const WORTH_COMPILING: u64 = 10_000;

impl Program {
    /// Verifies an image completely and decodes it. `natives` is the table of native functions that it may import.
    ///
    /// # Errors
    /// [`LoadError`] says what is wrong with the image.
    pub fn load(image: Image, natives: &[NativeFunction]) -> Result<Self, LoadError> {
        let verified = verify(&image, natives)?;
        let call_depth = verified.call_depth;
        let coverage = verified.coverage;
        let code = decode(&image, verified);
        let bits =
            |wanted: fn(AreaKind) -> bool| BitRun::all(image.bits.iter().filter(|bit| wanted(bit.area)));
        let unpacked = bits(|area| area == AreaKind::Input);
        let packed = bits(|area| area != AreaKind::Input);
        let schedule = Schedule::new(&image);
        let locations = Locations::new(&image.debug);
        let mirrors = image.bits.iter().rev().map(|bit| (bit.place, *bit)).collect();
        Ok(Self {
            image,
            code,
            call_depth,
            coverage,
            schedule,
            unpacked,
            packed,
            locations,
            mirrors,
            heat: AtomicU64::new(0),
        })
    }

    /// The image it was loaded from.
    #[must_use]
    pub const fn image(&self) -> &Image {
        &self.image
    }

    /// Greatest number of calls that are open at the same time.
    #[must_use]
    pub const fn call_depth(&self) -> usize {
        self.call_depth
    }

    /// How the image observes itself; `None` where it was not compiled for measuring coverage.
    #[must_use]
    pub const fn coverage(&self) -> Option<CoverageSize> {
        self.coverage
    }

    pub(crate) const fn locations(&self) -> &Locations {
        &self.locations
    }

    /// The bit that the variable at an address mirrors.
    pub(crate) fn mirror(&self, address: u32) -> Option<LocatedBit> {
        self.mirrors.get(&address).copied()
    }

    pub(crate) const fn code(&self) -> &Code {
        &self.code
    }

    /// The form that the threaded dispatcher runs, made at the first call.
    #[cfg(threaded_dispatch)]
    #[inline(always)]
    pub(crate) fn chain(&self) -> &Chain {
        self.code.chain.get_or_init(|| Chain::new(&self.image, &self.code))
    }

    /// The compiled form, made at the first call. `None` where the program is not compiled.
    #[cfg(compiled_form)]
    pub(crate) fn compiled(&self) -> Option<&Compiled> {
        self.code.compiled.get_or_init(|| Compiled::new(self)).as_ref()
    }

    /// The compiled form, if it was made.
    #[cfg(compiled_form)]
    #[inline(always)]
    pub(crate) fn compiled_already(&self) -> Option<&Compiled> {
        self.code.compiled.get()?.as_ref()
    }

    /// How to run the program after so many instructions more were executed.
    pub(crate) fn warmed(&self, executed: u64) -> Dispatcher {
        #[cfg(compiled_form)]
        {
            let before = self.heat.fetch_add(executed, Ordering::Relaxed);
            if before.saturating_add(executed) >= WORTH_COMPILING * self.code.opcodes.len() as u64 {
                return if self.compiled().is_some() { Dispatcher::Compiled } else { Dispatcher::Threaded };
            }
        }
        let _ = executed;
        Dispatcher::Adaptive
    }

    pub(crate) const fn schedule(&self) -> &Schedule {
        &self.schedule
    }

    /// The unit that an instruction belongs to.
    pub(crate) fn unit_of(&self, instruction: u32) -> Option<&Unit> {
        let after = self.image.units.partition_point(|unit| unit.first_instruction <= instruction);
        self.image.units.get(after.checked_sub(1)?)
    }

    pub(crate) fn unit_name(&self, instruction: u32) -> String {
        self.unit_of(instruction).map(|unit| unit.name.clone()).unwrap_or_default()
    }

    /// The line entry of an instruction; entries of the unit before do not count.
    pub(crate) fn line_of(&self, instruction: u32) -> Option<&LineEntry> {
        let (_, entry) = self.image.debug.line_of(instruction)?;
        let unit = self.unit_of(instruction)?;
        (entry.instruction >= unit.first_instruction).then_some(entry)
    }

    /// The place in the source of an instruction, counted over the image.
    #[must_use]
    pub fn place_of(&self, instruction: u32) -> Option<FaultPlace> {
        let entry = self.line_of(instruction)?;
        let file = self.image.debug.files.get(entry.file as usize)?.clone();
        let place = SourcePlace {
            file: entry.file,
            line: entry.line,
            column: entry.column,
            end_line: entry.end_line,
            end_column: entry.end_column,
        };
        Some(FaultPlace { file, place })
    }
}

impl fmt::Debug for Program {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("Program")
            .field("units", &self.image.units.len())
            .field("instructions", &self.code.opcodes.len())
            .field("data_bytes", &self.image.data.len())
            .finish_non_exhaustive()
    }
}

/// Turns verified instructions into records.
fn decode(image: &Image, verified: Verified) -> Code {
    let Verified { mut instructions, natives, fixed_bases, guards, guard_of, .. } = verified;
    // The verifier limits the sum to 31 bits.
    let mut total = 0u32;
    let mut records = Vec::with_capacity(instructions.len() + 1);
    let mut opcodes = Vec::with_capacity(instructions.len());
    for (unit, fixed_base) in image.units.iter().zip(fixed_bases) {
        let start = unit.first_instruction;
        let end = start + unit.instruction_count;
        for (index, instruction) in
            (start..end).zip(instructions.get_mut(start as usize..end as usize).unwrap_or_default())
        {
            if let Some(base) = fixed_base {
                make_absolute(instruction, base);
            }
            opcodes.push(instruction.opcode);
            records.push(record(image, start, index, instruction, total));
            total += instruction.cost();
        }
    }
    records.push(Record { operands: [0; 4], prefix: total });
    Code {
        records: records.into_boxed_slice(),
        opcodes: opcodes.into_boxed_slice(),
        ranges: image.ranges.clone().into_boxed_slice(),
        natives: natives.into_boxed_slice(),
        dispatch: DispatchIndex::all(image, &guard_of),
        guards: guards.into_boxed_slice(),
        units: Units::of_image(image),
        #[cfg(threaded_dispatch)]
        chain: std::sync::OnceLock::new(),
        #[cfg(compiled_form)]
        compiled: std::sync::OnceLock::new(),
    }
}

/// Rewrites the relative places of a unit that always runs with the same instance.
fn make_absolute(instruction: &mut Instruction, base: u32) {
    for (kind, word) in instruction.opcode.operands().iter().zip(&mut instruction.operands) {
        let place = Place::from_word(*word);
        if kind.is_place() && place.is_relative() {
            *word = Place::absolute(base + place.offset()).word();
        }
    }
}

fn record(image: &Image, unit_start: u32, index: u32, instruction: &Instruction, prefix: u32) -> Record {
    let mut operands = instruction.operands;
    let mut extent = None;
    for (kind, word) in instruction.opcode.operands().iter().zip(&mut operands) {
        match kind {
            OperandKind::Label => *word = (unit_start + *word).wrapping_sub(index),
            OperandKind::Unit => {
                if let Some(callee) = image.units.get(*word as usize) {
                    *word = callee.first_instruction.wrapping_sub(index);
                    extent = Some(callee.instance_bytes);
                }
            }
            OperandKind::Native => {
                extent = image.natives.get(*word as usize).map(|native| native.frame_bytes)
            }
            _ => {}
        }
    }
    // Units and natives have at most two operands; what they need of the callee goes behind them.
    if let Some(extent) = extent {
        operands[2] = extent;
    }
    Record { operands, prefix }
}
