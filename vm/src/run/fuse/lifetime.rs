//! How long temporaries live: which ones nothing reads any more behind a group.
//!
//! A temporary belongs to one unit, is written before it is read in every run of the unit, and has no meaning after it
//! ([`crate::DataLayout::temporaries`]). So its value can be forgotten where the rest of the straight piece of code does
//! not read it and no other piece reads it before writing it.

use super::super::Code;
use crate::image::{Image, Region};
use crate::instruction::{Family, Opcode, OperandKind};
use crate::place::Place;

/// The end of the life of a value that is no temporary, or that other pieces of code or other instructions reach.
const NEVER: u32 = u32::MAX;

/// Largest region of temporaries that is looked at, in bytes.
const LARGEST: u32 = 1 << 22;

/// For each instruction the last one that reads the temporary it writes.
pub(crate) struct Lifetimes(Vec<u32>);

impl Lifetimes {
    pub(crate) fn new(image: &Image, code: &Code, leaders: &[bool]) -> Self {
        let mut survey = Survey::new(image, code.opcodes.len());
        for (number, unit) in (1..).zip(&image.units) {
            let first = unit.first_instruction as usize;
            let lines = first..first + unit.instruction_count as usize;
            survey.claim(image, code, lines.clone(), number);
            survey.follow(code, lines, leaders);
        }
        survey.finish(code)
    }

    /// Whether nothing reads what an instruction writes behind the straight piece of code that it stands in.
    pub(crate) fn ends_in_piece(&self, instruction: usize) -> bool {
        self.0.get(instruction).is_some_and(|last| *last != NEVER)
    }

    /// The last instruction that reads the temporary that an instruction writes; `None` where others may.
    pub(crate) fn last_read(&self, instruction: usize) -> Option<u32> {
        self.0.get(instruction).copied().filter(|last| *last != NEVER)
    }

    /// Whether nothing reads what an instruction writes after the instruction `end`.
    pub(crate) fn ends_by(&self, instruction: usize, end: usize) -> bool {
        self.0.get(instruction).is_some_and(|last| *last != NEVER && *last as usize <= end)
    }
}

/// What is known of one byte of the temporaries.
#[derive(Clone, Copy, Default)]
struct Byte {
    /// Number of the unit that uses it, from 1; 0 for none.
    unit: u32,
    /// The instruction that wrote it last, plus 1; 0 for none.
    writer: u32,
    /// Something else than a scalar operand reaches it, or a piece of code reads it without having written it.
    open: bool,
}

struct Survey {
    region: Region,
    bytes: Vec<Byte>,
    last_reads: Vec<u32>,
    /// Spans that something else than scalar operands reaches: place word and size.
    reached: Vec<(u32, u32)>,
}

impl Survey {
    fn new(image: &Image, instructions: usize) -> Self {
        let mut region = image.layout.temporaries;
        // Rare, and not worth the memory: then every temporary is written.
        if region.size > LARGEST {
            region.size = 0;
        }
        Self {
            region,
            bytes: vec![Byte::default(); region.size as usize],
            last_reads: vec![NEVER; instructions],
            reached: Vec::new(),
        }
    }

    /// The bytes of a place that are temporaries.
    fn bytes(&mut self, word: u32, size: u32) -> &mut [Byte] {
        let place = Place::from_word(word);
        let start = place.offset().wrapping_sub(self.region.start);
        if place.is_relative() || start >= self.region.size {
            return &mut [];
        }
        let end = start.saturating_add(size).min(self.region.size);
        self.bytes.get_mut(start as usize..end as usize).unwrap_or_default()
    }

    /// Notes whose the temporaries are, and opens those that are reached otherwise than as scalar operands.
    fn claim(&mut self, image: &Image, code: &Code, lines: std::ops::Range<usize>, unit: u32) {
        let mut end = 0;
        for (opcode, operands) in instructions(code, lines.clone()) {
            for (kind, word) in opcode.operands().iter().zip(operands) {
                let Some(size) = kind.width(opcode.scalar()) else { continue };
                for byte in self.bytes(*word, size) {
                    byte.open |= byte.unit != 0 && byte.unit != unit;
                    byte.unit = unit;
                    end = end.max(word.saturating_add(size));
                }
            }
        }
        for (opcode, operands) in instructions(code, lines) {
            for (kind, word) in opcode.operands().iter().zip(operands) {
                if !kind.is_place() || kind.width(opcode.scalar()).is_some() {
                    continue;
                }
                // How far a place reaches whose address is taken is not told: no further than what the unit uses.
                let size = match kind.instance_bytes(opcode.scalar()) {
                    Some(bytes) => bytes,
                    None => region_bytes(image, opcode, operands).unwrap_or(end.saturating_sub(*word)),
                };
                if !self.bytes(*word, size).is_empty() {
                    self.reached.push((*word, size));
                }
            }
        }
    }

    /// Opens what is reached; once for all instructions, since each of them may reach all temporaries.
    fn open_reached(&mut self) {
        let mut reached = std::mem::take(&mut self.reached);
        reached.sort_unstable();
        let mut next = 0;
        for (word, size) in reached {
            let (start, end) = (word.max(next), word.saturating_add(size));
            if start < end {
                for byte in self.bytes(start, end - start) {
                    byte.open = true;
                }
                next = end;
            }
        }
    }

    /// Follows values through the straight pieces of a unit.
    fn follow(&mut self, code: &Code, lines: std::ops::Range<usize>, leaders: &[bool]) {
        let mut piece = lines.start;
        for (index, (opcode, operands)) in lines.clone().zip(instructions(code, lines)) {
            if leaders.get(index).copied().unwrap_or(true) {
                piece = index;
            }
            let scalar = opcode.scalar();
            for (kind, word) in opcode.operands().iter().zip(operands) {
                // The control variable of a loop is read and written.
                let reads = !kind.is_written() || opcode.family() == Family::ForNext;
                if reads && let Some(size) = kind.width(scalar) {
                    // Each byte may have another writer, where a value is read in parts.
                    for offset in 0..size {
                        let Some(byte) = self.bytes(word.saturating_add(offset), 1).first_mut() else {
                            continue;
                        };
                        let writer = byte.writer as usize;
                        if writer > piece {
                            if let Some(last) = self.last_reads.get_mut(writer - 1) {
                                *last = index as u32;
                            }
                        } else {
                            byte.open = true;
                        }
                    }
                }
            }
            for (kind, word) in opcode.operands().iter().zip(operands) {
                if kind.is_written()
                    && let Some(size) = kind.width(scalar)
                {
                    let mut temporary = false;
                    for byte in self.bytes(*word, size) {
                        byte.writer = index as u32 + 1;
                        temporary = true;
                    }
                    if temporary && let Some(last) = self.last_reads.get_mut(index) {
                        *last = index as u32;
                    }
                }
            }
        }
    }

    /// Only now is it known which temporaries are open.
    fn finish(mut self, code: &Code) -> Lifetimes {
        self.open_reached();
        let mut last_reads = std::mem::take(&mut self.last_reads);
        for (last, (opcode, operands)) in last_reads.iter_mut().zip(instructions(code, 0..code.opcodes.len()))
        {
            let open = opcode.operands().iter().zip(operands).any(|(kind, word)| {
                let size = kind.width(opcode.scalar()).filter(|_| kind.is_written());
                size.is_some_and(|size| {
                    let bytes = self.bytes(*word, size);
                    (bytes.len() as u32) < size || bytes.iter().any(|byte| byte.open)
                })
            });
            if open {
                *last = NEVER;
            }
        }
        Lifetimes(last_reads)
    }
}

fn instructions(code: &Code, lines: std::ops::Range<usize>) -> impl Iterator<Item = (Opcode, &[u32; 4])> {
    let opcodes = code.opcodes.get(lines.clone()).unwrap_or_default();
    let records = code.records.get(lines).unwrap_or_default();
    opcodes.iter().copied().zip(records.iter().map(|record| &record.operands))
}

/// Size of the regions of an instruction; `None` where it only takes their address.
fn region_bytes(image: &Image, opcode: Opcode, operands: &[u32; 4]) -> Option<u32> {
    opcode.operands().iter().zip(operands).find_map(|(kind, word)| match kind {
        OperandKind::Bytes => Some(*word),
        OperandKind::Native => image.natives.get(*word as usize).map(|native| native.frame_bytes),
        _ => None,
    })
}
