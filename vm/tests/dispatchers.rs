//! Both dispatchers give the same data, events, faults and counts, on random verified programs.
//!
//! In builds without the threaded dispatcher both machines use the matched one; the release run is the one that proves.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DispatchTarget, EventKind, Family, FaultKind, ImageBuilder, IndexRange, Instruction, Machine, Opcode,
    Operand, OperandKind, Place, Program, ProgramCall, Region, Scalar, Task, Timing, UnitBuilder, UnitKind,
    decode_instruction, encode_instruction,
};
use proptest::prelude::*;
use std::sync::Arc;
use support::{ADDER, COUNTER, NATIVES, both, every};

/// Data image: system, BOOLs, temporaries of each unit, then 256 bytes of variables, slots with addresses, strings. What
/// lies before the variables cannot be reached through an address.
const FLAGS: u32 = 16;
const FLAG_BYTES: u32 = 6;
const TEMPORARIES: u32 = FLAGS + FLAG_BYTES;
const TEMPORARY_BYTES: u32 = 20;
/// Bytes of a unit: its temporaries, its BOOLs, an address that only the access behind it uses.
const UNIT_BYTES: u32 = TEMPORARY_BYTES + FLAG_BYTES + 4;
const VARIABLES: u32 = TEMPORARIES + 3 * UNIT_BYTES;
const VARIABLE_BYTES: u32 = 256;
const ADDRESSES: u32 = VARIABLES + VARIABLE_BYTES;
const ADDRESS_COUNT: u32 = 16;
const STRINGS: u32 = ADDRESSES + 4 * ADDRESS_COUNT;
const STRING_BYTES: u32 = 64;
/// Instances whose tags the tables have.
const TAGGED: u32 = STRINGS + STRING_BYTES;
const DATA_END: u32 = TAGGED + INSTANCE_BYTES + 4;
const INSTANCE_BYTES: u32 = 64;

/// A random instruction before its labels and units are known: an opcode and four numbers to make operands from.
type Seed = (usize, [u32; 4]);

fn opcodes() -> Vec<Opcode> {
    Opcode::all().collect()
}

fn seeds(most: usize) -> impl Strategy<Value = Vec<Seed>> {
    prop::collection::vec((0..opcodes().len(), any::<[u32; 4]>()), 1..most)
}

fn place(number: u32, width: u32, relative: bool) -> Operand {
    let place = if relative && number & 1 == 1 {
        Place::relative((number >> 1) % (INSTANCE_BYTES - width + 1))
    } else {
        Place::absolute(VARIABLES + (number >> 1) % (VARIABLE_BYTES - width + 1))
    };
    Operand::Place(place)
}

fn operand(kind: OperandKind, opcode: Opcode, number: u32, unit: usize, units: usize) -> Operand {
    match kind {
        OperandKind::Address => Operand::Place(Place::absolute(ADDRESSES + 4 * (number % ADDRESS_COUNT))),
        OperandKind::Region => place(number, INSTANCE_BYTES, false),
        kind if kind.is_instance() => place(number, kind.instance_bytes(opcode.scalar()).unwrap(), true),
        OperandKind::Bytes => Operand::Immediate(number % (INSTANCE_BYTES + 1)),
        OperandKind::Immediate => Operand::Immediate(number % 80),
        OperandKind::Unit => Operand::Unit((unit + 1 + number as usize % (units - unit - 1)) as u32),
        OperandKind::Native => Operand::Native(number % 2),
        OperandKind::Range => Operand::Range(number % 3),
        // Tables lead to later units only, by the names of the units that call.
        OperandKind::Dispatch => Operand::Dispatch((unit as u32).min(1)),
        OperandKind::EventCode => Operand::Immediate(number % EventKind::ALL.len() as u32),
        OperandKind::Point | OperandKind::Points => Operand::Immediate(number % 4),
        OperandKind::Decision => Operand::Immediate(number % 2),
        OperandKind::Condition => Operand::Immediate(number % 64),
        OperandKind::Label => unreachable!("labels are made by the caller"),
        kind => place(number, kind.width(opcode.scalar()).unwrap(), true),
    }
}

/// Without instructions that observe: a program with one of them is not compiled.
fn compilable(mut seeds: Vec<Seed>) -> Vec<Seed> {
    let opcodes = opcodes();
    for (opcode, _) in &mut seeds {
        if opcodes[*opcode].family().observes() {
            *opcode = 0;
        }
    }
    seeds
}

/// Half of the instructions are such that groups are made of.
fn grouped(seeds: Vec<Seed>) -> Vec<Seed> {
    let opcodes = opcodes();
    let mut seeds = compilable(seeds);
    let common: Vec<usize> = GROUPED
        .iter()
        .flat_map(|family| {
            [Scalar::U8, Scalar::U16, Scalar::I16, Scalar::I32, Scalar::U32, Scalar::F32]
                .map(|scalar| (family, scalar))
        })
        .filter_map(|(family, scalar)| Opcode::new(*family, scalar))
        .filter_map(|opcode| opcodes.iter().position(|one| *one == opcode))
        .collect();
    for (opcode, [.., number]) in &mut seeds {
        if *number % 4 > 0 {
            *opcode = common[*number as usize / 4 % common.len()];
        }
    }
    seeds
}

const GROUPED: [Family; 22] = [
    Family::Add,
    Family::Subtract,
    Family::Multiply,
    Family::Divide,
    Family::Minimum,
    Family::Maximum,
    Family::ToF32,
    Family::ToI16,
    Family::TruncateI32,
    Family::BoolAnd,
    Family::BoolOr,
    Family::BoolXor,
    Family::AndNot,
    Family::Not,
    Family::Less,
    Family::Equal,
    Family::JumpIf,
    Family::JumpUnless,
    Family::Move,
    Family::Load,
    Family::Store,
    Family::ForNext,
];

/// Whether an instruction works on BOOLs that are FALSE or TRUE and nothing else.
fn has_flags(opcode: Opcode) -> bool {
    opcode.operands().contains(&OperandKind::Source8)
        || matches!(
            opcode.family(),
            Family::Equal | Family::NotEqual | Family::Less | Family::LessOrEqual | Family::Fits
        )
}

/// The temporaries of a unit while it is made: where they lie, and what the straight piece of code has written so far.
struct Temporaries {
    start: u32,
    written: Vec<(u32, u32)>,
}

impl Temporaries {
    /// As [`operand`], with temporaries, which lie over one another. BOOLs have places of their own.
    fn operand(&self, kind: OperandKind, opcode: Opcode, number: u32) -> Option<Operand> {
        let width = kind.width(opcode.scalar()).filter(|_| kind != OperandKind::Address)?;
        let flag =
            width == 1 && has_flags(opcode) && matches!(kind, OperandKind::Dest8 | OperandKind::Source8);
        let flags = self.start + TEMPORARY_BYTES;
        let offset = if number.is_multiple_of(4) || opcode.family() == Family::ForNext && kind.is_written() {
            return flag.then_some(Operand::Place(Place::absolute(FLAGS + number / 4 % FLAG_BYTES)));
        } else if kind.is_written() {
            let (start, bytes) = if flag { (flags, FLAG_BYTES) } else { (self.start, TEMPORARY_BYTES) };
            // Most values lie where others do, some of them in parts.
            let grain = if flag || (number / 4).is_multiple_of(8) { 1 } else { 4 };
            start + number / 32 % (bytes - width + 1) / grain * grain
        } else {
            // What was written last is what groups are made of.
            let found =
                self.written.iter().filter(|(start, bytes)| *bytes >= width && (*start >= flags) == flag);
            let Some((start, bytes)) = found.rev().nth(number as usize / 4 % 3) else {
                return flag.then_some(Operand::Place(Place::absolute(FLAGS + number / 4 % FLAG_BYTES)));
            };
            start + if (number / 16).is_multiple_of(4) { number / 64 % (bytes - width + 1) } else { 0 }
        };
        Some(Operand::Place(Place::absolute(offset)))
    }

    /// Notes what an instruction writes; behind one that jumps or calls another piece begins.
    fn note(&mut self, opcode: Opcode, operands: &[Operand]) {
        for (kind, operand) in opcode.operands().iter().zip(operands) {
            match (kind, operand) {
                (OperandKind::Label | OperandKind::Unit | OperandKind::Dispatch, _) => self.written.clear(),
                (kind, Operand::Place(place)) if kind.is_written() && !kind.is_instance() => {
                    let width = kind.width(opcode.scalar()).unwrap();
                    if (self.start..self.start + UNIT_BYTES).contains(&place.offset()) && !place.is_relative()
                    {
                        self.written.push((place.offset(), width));
                    }
                }
                _ => {}
            }
        }
    }
}

/// Instructions of a straight piece of code where there are temporaries.
const PIECE: usize = 12;

fn program(bodies: &[Vec<Seed>], content: &[u8]) -> Arc<Program> {
    program_with(bodies, content, false)
}

fn program_with(bodies: &[Vec<Seed>], content: &[u8], temporaries: bool) -> Arc<Program> {
    let opcodes = opcodes();
    let mut image = ImageBuilder::new();
    image.allocate(DATA_END - FLAGS, 0);
    image.write(VARIABLES, content);
    image.write(TAGGED, &[1, 0, 0, 0, 0xff, 0xff, 0, 0]);
    for index in 0..ADDRESS_COUNT {
        let address = match index {
            6 | 7 => TAGGED + 4 * (index - 6),
            0 => 0,
            1 => DATA_END - 3,
            2..=5 => STRINGS + (index - 2) * 16,
            _ => VARIABLES + 13 * index % (VARIABLE_BYTES - INSTANCE_BYTES),
        };
        image.write(ADDRESSES + 4 * index, &address.to_le_bytes());
    }
    for index in 0..4 {
        // Capacities 12, 12, 6, 6; lengths up to 15 show that a length above the capacity is harmless.
        let capacity = if index < 2 { 12u8 } else { 6 };
        let length = content.get(index as usize).copied().unwrap_or(0) % 16;
        image.write(STRINGS + index * 16, &[capacity, 0, length, 0, b'a', b'b', 0, b'c']);
    }
    image.native(ADDER.name, ADDER.frame_bytes);
    image.native(COUNTER.name, COUNTER.frame_bytes);
    image.range(IndexRange { lower: 0, count: 256, stride: 0 });
    image.range(IndexRange { lower: -3, count: 7, stride: 8 });
    image.range(IndexRange { lower: 100, count: 2, stride: 30 });
    // The first bytes of some variables are tags. From the first unit the table leads to all later ones, from the
    // others to the last; the last has no calls.
    let row = |tag: u32, unit: usize| DispatchTarget { tag, unit: unit as u32 };
    let last = bodies.len() - 1;
    image.dispatch_table("near", vec![row(1, 1), row(2, last), row(0x0101_0101, 1), row(u32::MAX, last)]);
    image.dispatch_table("far", vec![row(1, last), row(0x01, last), row(0xffff, last)]);
    let units = bodies.len();
    for (unit, body) in bodies.iter().enumerate() {
        let mut builder = UnitBuilder::new(format!("U{unit}"), UnitKind::FunctionBlock, INSTANCE_BYTES);
        let labels: Vec<_> = (0..=body.len()).map(|_| builder.label()).collect();
        let mut own =
            Temporaries { start: TEMPORARIES + UNIT_BYTES * (unit as u32).min(2), written: Vec::new() };
        // Where there are temporaries only the beginnings of pieces are jumped to.
        let target = |index: usize| {
            let index = if temporaries { index.next_multiple_of(PIECE).min(body.len()) } else { index };
            Operand::Label(labels[index])
        };
        for (index, (opcode, numbers)) in body.iter().enumerate() {
            builder.bind(labels[index]);
            let mut opcode = opcodes[*opcode];
            if unit + 1 == units
                && (opcode.operands().contains(&OperandKind::Unit) || opcode.family() == Family::CallMethod)
            {
                opcode = Opcode::new(Family::Return, opcode.scalar()).unwrap();
            }
            if index % PIECE == 0 {
                own.written.clear();
            }
            let element = temporaries && matches!(opcode.family(), Family::Load | Family::Store);
            let address = Operand::Place(Place::absolute(own.start + UNIT_BYTES - 4));
            if element {
                let [_, array, subscript, range] = *numbers;
                let kind = Opcode::new(Family::Index, Scalar::I16).unwrap();
                let subscript = own
                    .operand(OperandKind::Source, kind, subscript)
                    .unwrap_or_else(|| place(subscript, 2, true));
                let array = place(array, INSTANCE_BYTES, false);
                builder.emit(
                    Family::Index,
                    Scalar::I16,
                    &[address, array, subscript, Operand::Range(range % 3)],
                );
            }
            let operands: Vec<_> = opcode
                .operands()
                .iter()
                .zip(numbers)
                .map(|(kind, number)| match kind {
                    // Mostly forwards, so that much of the program runs.
                    OperandKind::Label if number % 4 == 0 => target(*number as usize / 4 % labels.len()),
                    OperandKind::Label => target((index + 1 + *number as usize / 4 % 3).min(body.len())),
                    OperandKind::Address if element => address,
                    kind => own
                        .operand(*kind, opcode, *number)
                        .filter(|_| temporaries)
                        .unwrap_or_else(|| operand(*kind, opcode, *number, unit, units)),
                })
                .collect();
            own.note(opcode, &operands);
            builder.emit(opcode.family(), opcode.scalar(), &operands);
        }
        builder.bind(labels[body.len()]);
        image.add_unit(builder.finish().unwrap());
    }
    // Two instances of the first unit, so that its relative places cannot be fixed when loading.
    let programs = vec![
        ProgramCall { unit: 0, base: VARIABLES + 8 },
        ProgramCall { unit: 0, base: VARIABLES + VARIABLE_BYTES - INSTANCE_BYTES },
    ];
    image.tasks.push(Task::cyclic("T", programs));
    let mut image = image.finish().unwrap();
    if temporaries {
        image.layout.frames = Region { start: TEMPORARIES, size: VARIABLES - TEMPORARIES };
        image.layout.temporaries = image.layout.frames;
    }
    Arc::new(Program::load(image, &NATIVES).unwrap())
}

/// The machines do what the last one does.
fn agreed(machines: &mut [Machine], strict: bool) {
    for machine in machines.iter_mut() {
        machine.set_budget(3_000);
        machine.set_strict(strict);
    }
    let Some((matched, others)) = machines.split_last_mut() else { return };
    for scan in 0..3 {
        let expected = matched.scan(scan * 1_000_000);
        for other in others.iter_mut() {
            assert_eq!(other.scan(scan * 1_000_000), expected);
            assert!(other.state() == matched.state(), "data differ after scan {scan}");
            assert_eq!(other.events(), matched.events());
            assert_eq!(other.coverage(), matched.coverage());
        }
        if let Err(fault) = expected {
            // The verifier has proven what these kinds would deny, except for addresses that the program calculates.
            assert_ne!(fault.kind, FaultKind::CallDepth);
            matched.restart(latchwork_vm::Restart::Warm);
            for other in others.iter_mut() {
                other.restart(latchwork_vm::Restart::Warm);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 3 } else { 3000 }, ..ProptestConfig::default() })]

    #[test]
    fn both_agree_on_random_programs(
        first in seeds(60), second in seeds(20), third in seeds(10),
        content in prop::collection::vec(prop_oneof![Just(0u8), Just(1), Just(0xff), any::<u8>()], 256),
        strict in prop::bool::weighted(0.1),
    ) {
        agreed(&mut both(&program(&[first, second, third], &content)), strict);
    }
}

proptest! {
    // Compiling takes longer than running.
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 1 } else { 150 }, ..ProptestConfig::default() })]

    #[test]
    fn compiled_programs_agree_as_well(
        first in seeds(60), second in seeds(20), third in seeds(10),
        content in prop::collection::vec(prop_oneof![Just(0u8), Just(1), Just(0xff), any::<u8>()], 256),
        strict in prop::bool::weighted(0.1),
    ) {
        let bodies = [first, second, third].map(compilable);
        agreed(&mut every(&program(&bodies, &content)), strict);
    }

    /// Groups and compiled code leave temporaries unwritten, but never one that is read again.
    #[test]
    fn programs_with_temporaries_agree(
        first in seeds(60), second in seeds(40), third in seeds(40),
        content in prop::collection::vec(prop_oneof![Just(0u8), Just(1), Just(0xff), any::<u8>()], 256),
        strict in prop::bool::weighted(0.1),
    ) {
        let bodies = [first, second, third].map(grouped);
        agreed(&mut every(&program_with(&bodies, &content, true)), strict);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 3 } else { 2000 }, ..ProptestConfig::default() })]

    /// A release that is interrupted again and again comes to the same end as one that is not.
    #[test]
    fn interruptions_change_nothing(
        first in seeds(40), second in seeds(20), third in seeds(10), cycle_ns in 1..40i64,
        content in prop::collection::vec(prop_oneof![Just(0u8), Just(1), Just(0xff), any::<u8>()], 256),
    ) {
        let program = program(&[first, second, third], &content);
        let [mut whole, mut pieces] = both(&program);
        whole.set_budget(3_000);
        pieces.set_budget(6_000);
        pieces.set_timing(Timing { instruction_ns: 1, preemptive: true, cycle_ns });
        let expected = whole.scan(5);
        let mut instructions = 0;
        let mut time_ns = 5;
        let found = loop {
            match pieces.scan(time_ns) {
                Ok(summary) => instructions += summary.instructions,
                Err(fault) => break Some(fault.kind),
            }
            if pieces.task_runs().iter().any(|run| run.ended) {
                break None;
            }
            time_ns += cycle_ns;
        };
        match expected {
            Err(fault) if fault.kind == FaultKind::Watchdog => return Ok(()),
            Err(fault) => prop_assert_eq!(found, Some(fault.kind)),
            Ok(summary) => {
                prop_assert_eq!(found, None);
                prop_assert_eq!(instructions, summary.instructions);
            }
        }
        let [[whole_start, whole_end], [start, end]] = [whole.state(), pieces.state()];
        prop_assert!(whole_start[16..] == start[16..] && whole_end == end);
        prop_assert_eq!(whole.coverage(), pieces.coverage());
        for kind in EventKind::ALL.iter().filter(|kind| **kind != EventKind::TaskOverrun) {
            prop_assert_eq!(whole.events().count(*kind), pieces.events().count(*kind), "{}", kind);
        }
    }
}

proptest! {
    // Each case loads and runs a program for every opcode.
    #![proptest_config(ProptestConfig {
        cases: if cfg!(miri) { 1 } else if cfg!(debug_assertions) { 64 } else { 2000 },
        ..ProptestConfig::default()
    })]

    #[test]
    fn every_opcode_agrees_on_its_own(numbers: [u32; 4], content in prop::collection::vec(any::<u8>(), 256)) {
        for opcode in 0..opcodes().len() {
            let body = vec![(opcode, numbers)];
            let program = program(&[body.clone(), body, vec![(0, numbers)]], &content);
            agreed(&mut both(&program), false);
        }
    }
}

proptest! {
    // As above, and compiles it.
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 1 } else { 2 }, ..ProptestConfig::default() })]

    #[test]
    fn every_opcode_agrees_when_compiled(
        numbers: [u32; 4],
        content in prop::collection::vec(prop_oneof![Just(0u8), Just(1), Just(0xff), any::<u8>()], 256),
    ) {
        for opcode in 0..opcodes().len() {
            let body = vec![(opcode, numbers); 3];
            let program = program(&[body.clone(), body, vec![(0, numbers)]], &content);
            agreed(&mut every(&program), false);
        }
    }
}

proptest! {
    #[test]
    fn instructions_survive_encoding(opcode in 0..opcodes().len(), words: [u32; 4], shift in 0..32u32, tail: [u8; 3]) {
        let opcode = opcodes()[opcode];
        let mut operands = [0; 4];
        for (operand, word) in operands.iter_mut().zip(words).take(opcode.operands().len()) {
            *operand = word >> shift;
        }
        let instruction = Instruction { opcode, operands };
        let mut code = Vec::new();
        encode_instruction(&instruction, &mut code);
        let length = code.len();
        code.extend(tail);
        prop_assert_eq!(decode_instruction(&code), Ok((instruction, length)));
        for cut in 0..length {
            prop_assert_eq!(decode_instruction(&code[..cut]), Err(latchwork_vm::CodeError::Truncated));
        }
    }

    #[test]
    fn bytes_decode_in_one_way_only(code in prop::collection::vec(any::<u8>(), 0..24)) {
        if let Ok((instruction, used)) = decode_instruction(&code) {
            let mut again = Vec::new();
            encode_instruction(&instruction, &mut again);
            prop_assert_eq!(&again, &code[..used]);
        }
    }
}
