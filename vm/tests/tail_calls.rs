//! The threaded dispatcher needs no stack: 10^8 instructions of every opcode run on a stack of 64 KiB.
//!
//! If one handler lost its tail call, each of its runs would leave a return address of 8 bytes at least: with some 360
//! opcodes in the loop each runs more than 250 000 times, 2 MB of stack.
#![cfg(not(debug_assertions))]
#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DispatchTarget, Dispatcher, Family, ImageBuilder, IndexRange, Machine, Opcode, Operand, OperandKind,
    Place, Program, ProgramCall, Scalar, Task, UnitBuilder, UnitKind,
};
use std::sync::Arc;
use support::{ADDER, COUNTER, NATIVES};

const ZERO: u32 = 64;
const ONE: u32 = 80;
const RESULT: u32 = 96;
const POINTER: u32 = 128;
const TEXT_POINTER: u32 = 132;
const OBJECT_POINTER: u32 = 136;
const TARGET: u32 = 192;
const TEXT: u32 = 320;
const FLAG: u32 = 400;
const OBJECT: u32 = 448;
const INSTANCE: u32 = 512;
const BLOCK: u32 = 256;
const TAG: u32 = 0x41;

/// A program with a loop over all opcodes; `rare` says whether events happen in it (which takes the checked step).
fn everything(relative: bool, rare: bool) -> Arc<Program> {
    let mut image = ImageBuilder::new();
    image.allocate(4096, 0);
    // Integer 1 of every width; as a float it is a subnormal number, which is as good as any.
    image.write(ONE, &1u64.to_le_bytes());
    image.write(FLAG, &[1]);
    for base in [0, INSTANCE, 2 * INSTANCE] {
        image.write(base + POINTER, &TARGET.to_le_bytes());
        image.write(base + TEXT_POINTER, &TEXT.to_le_bytes());
        image.write(base + OBJECT_POINTER, &OBJECT.to_le_bytes());
        image.write(base + ONE, &1u64.to_le_bytes());
        image.write(base + FLAG, &[1]);
    }
    image.write(OBJECT, &TAG.to_le_bytes());
    image.write(TEXT, &[8, 0, 3, 0, b'a', b'b', b'c']);
    image.native(ADDER.name, ADDER.frame_bytes);
    image.native(COUNTER.name, COUNTER.frame_bytes);
    let range = image.range(IndexRange { lower: 0, count: 4, stride: 8 });
    let body = image.reserve_unit();
    let callee = image.reserve_unit();
    let table = image.dispatch_table("Callee", vec![DispatchTarget { tag: TAG, unit: callee }]);

    let place = |offset: u32| {
        Operand::Place(if relative { Place::relative(offset) } else { Place::absolute(offset) })
    };
    let mut unit =
        UnitBuilder::new("Everything", UnitKind::FunctionBlock, if relative { INSTANCE } else { 0 });
    let start = unit.label();
    unit.bind(start);
    for opcode in Opcode::all() {
        let family = opcode.family();
        if matches!(family, Family::Return | Family::Event) && !(rare && family == Family::Event) {
            // Every call returns; events are for the other test.
            continue;
        }
        let next = unit.label();
        let kinds = opcode.operands();
        let mut source = 0;
        let operands: Vec<Operand> = kinds
            .iter()
            .map(|kind| match kind {
                OperandKind::Dest
                | OperandKind::Dest8
                | OperandKind::Dest16
                | OperandKind::Dest32
                | OperandKind::Dest64 => place(RESULT),
                OperandKind::Source => {
                    source += 1;
                    // The second of three operands is the lower bound.
                    place(if family == Family::CheckRange && source == 2 { ZERO } else { ONE })
                }
                OperandKind::Source8 => place(FLAG),
                OperandKind::Source32 | OperandKind::Source64 => place(ONE),
                OperandKind::Address
                    if matches!(
                        family,
                        Family::CompareString
                            | Family::CompareWideString
                            | Family::CopyString
                            | Family::CopyWideString
                            | Family::IndexCharacter
                            | Family::IndexWideCharacter
                    ) =>
                {
                    place(TEXT_POINTER)
                }
                OperandKind::Address if matches!(family, Family::CallMethod | Family::Fits) => {
                    place(OBJECT_POINTER)
                }
                OperandKind::Address => place(POINTER),
                OperandKind::Region => place(TARGET),
                OperandKind::Bistable
                | OperandKind::Trigger
                | OperandKind::Counter
                | OperandKind::UpDownCounter
                | OperandKind::Timer => place(BLOCK),
                OperandKind::Bytes => Operand::Immediate(24),
                OperandKind::Immediate => Operand::Immediate(4),
                OperandKind::Label => Operand::Label(next),
                OperandKind::Unit => Operand::Unit(callee),
                OperandKind::Native => Operand::Native(0),
                OperandKind::Range => Operand::Range(range),
                OperandKind::Dispatch => Operand::Dispatch(table),
                OperandKind::EventCode
                | OperandKind::Point
                | OperandKind::Points
                | OperandKind::Decision
                | OperandKind::Condition => Operand::Immediate(0),
            })
            .collect();
        unit.emit(family, opcode.scalar(), &operands);
        unit.bind(next);
        both_ways(&mut unit, opcode, place);
        if rare && family == Family::Modulo {
            unit.emit(family, opcode.scalar(), &[place(RESULT), place(ONE), place(ZERO)]);
        }
    }
    unit.emit(Family::Jump, Scalar::U8, &[start.into()]);
    image.define_unit(body, unit.finish().unwrap());

    let unit = UnitBuilder::new("Callee", UnitKind::FunctionBlock, 0);
    image.define_unit(callee, unit.finish().unwrap());

    // Two instances keep relative places relative.
    let mut programs = vec![ProgramCall { unit: body, base: INSTANCE }];
    if relative {
        programs.push(ProgramCall { unit: body, base: 2 * INSTANCE });
    }
    image.tasks.push(Task::cyclic("T", programs));
    Arc::new(Program::load(image.finish().unwrap(), &NATIVES).unwrap())
}

/// Conditional jumps once more, so that each is both taken and passed.
fn both_ways(unit: &mut UnitBuilder, opcode: Opcode, place: impl Fn(u32) -> Operand) {
    let next = unit.label();
    match opcode.family() {
        family @ (Family::JumpIf | Family::JumpUnless) => {
            unit.emit(family, opcode.scalar(), &[place(ZERO), next.into()]);
        }
        family @ Family::ForEnter => {
            unit.emit(family, opcode.scalar(), &[place(ONE), place(ZERO), place(ONE), next.into()]);
        }
        family @ Family::ForNext => {
            for (from, limit) in [(ZERO, ONE), (ONE, ZERO)] {
                let next = unit.label();
                unit.emit(Family::Move, opcode.scalar().bits(), &[place(RESULT), place(from)]);
                unit.emit(family, opcode.scalar(), &[place(RESULT), place(limit), place(ONE), next.into()]);
                unit.bind(next);
            }
        }
        _ => {}
    }
    unit.bind(next);
}

fn on_a_small_stack(program: Arc<Program>, instructions: u64, events: bool) {
    assert_eq!(Dispatcher::best(), Dispatcher::Adaptive, "this test is for optimised builds");
    let run = move || {
        let mut machine = Machine::new(program);
        machine.set_budget(instructions);
        // The loop never ends by itself.
        let fault = machine.scan(0).unwrap_err();
        (fault.kind, machine.events().total())
    };
    let thread = std::thread::Builder::new().stack_size(64 * 1024).spawn(run).unwrap();
    let (kind, found) = thread.join().unwrap();
    assert_eq!(kind, latchwork_vm::FaultKind::Watchdog);
    // Without events everything ran in the threaded handlers themselves.
    assert_eq!(found > 0, events);
}

#[test]
fn a_hundred_million_instructions_with_absolute_places() {
    on_a_small_stack(everything(false, false), 100_000_000, false);
}

#[test]
fn a_hundred_million_instructions_with_relative_places() {
    on_a_small_stack(everything(true, false), 100_000_000, false);
}

#[test]
fn ten_million_instructions_with_events() {
    on_a_small_stack(everything(true, true), 10_000_000, true);
}
