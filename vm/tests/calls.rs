//! Units that call one another with instances that may overlap each other and the places of their callers, by known
//! calls, through addresses and through a dispatch table: all dispatchers give the same data, events and counts.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DispatchTarget, Family, Image, ImageBuilder, IndexRange, Operand, Scalar, UnitBuilder, UnitKind,
};
use proptest::prelude::*;
use support::{at, every, every_scan, load, plus};

/// Variables: bytes from here on.
const VARIABLES: u32 = 64;
const VARIABLE_BYTES: u32 = 64;
/// An address that only the access behind it uses.
const SLOT: u32 = 16;
/// Addresses that are there from the beginning.
const POINTERS: u32 = 32;
/// Bytes of an instance: its tag, then variables.
const INSTANCE_BYTES: u32 = 16;
/// Units that are called, the deepest last.
const UNITS: usize = 4;

/// A statement: what it does, and numbers that choose its operands.
type Statement = (u8, u8, u8, u8);

fn statements(most: usize) -> impl Strategy<Value = Vec<Statement>> {
    prop::collection::vec(any::<Statement>(), 0..most)
}

/// A place of four bytes: a variable, or one of the instance.
fn place(choice: u8, has_instance: bool) -> Operand {
    if has_instance && choice % 2 == 1 {
        plus(u32::from(choice / 2) % (INSTANCE_BYTES - 3))
    } else {
        at(VARIABLES + u32::from(choice / 2) % (VARIABLE_BYTES - 3))
    }
}

/// Where an instance may begin, so that it lies among the variables.
fn instance(choice: u8) -> u32 {
    VARIABLES + u32::from(choice) % (VARIABLE_BYTES - INSTANCE_BYTES + 1)
}

/// Writes statements of a unit that may call the units `callees` and, through the table, those among them that are methods.
fn write(
    unit: &mut UnitBuilder,
    body: &[Statement],
    callees: &[u32],
    table: Option<u32>,
    has_instance: bool,
) {
    // Where an address is, which may lead outside.
    let address = |unit: &mut UnitBuilder, choice: u8| {
        let (kind, choice) = (choice % 4, choice / 4);
        if kind == 0 {
            return at(POINTERS + 4 * u32::from(choice % 4));
        }
        if kind == 1 {
            unit.emit(Family::Address, Scalar::U8, &[at(SLOT), at(instance(choice))]);
        } else {
            // Few, so that the same one is used again.
            let index = at(VARIABLES + u32::from(choice % 3));
            unit.emit(Family::Index, Scalar::U8, &[at(SLOT), at(VARIABLES), index, Operand::Range(0)]);
        }
        at(SLOT)
    };
    let mut open = Vec::new();
    for (number, (kind, a, b, c)) in body.iter().copied().enumerate() {
        let [x, y, z] = [a, b, c].map(|choice| place(choice, has_instance));
        match (kind % 12, callees.get(usize::from(b) % callees.len().max(1))) {
            (0 | 1, Some(callee)) => {
                unit.emit(Family::CallBlock, Scalar::U8, &[Operand::Unit(*callee), at(instance(a))]);
            }
            (2, Some(callee)) => {
                let address = address(unit, a);
                unit.emit(Family::CallBlockAt, Scalar::U8, &[Operand::Unit(*callee), address]);
            }
            (3, Some(callee)) if has_instance => {
                unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(*callee)]);
            }
            (4 | 5, _) if table.is_some() => {
                let address = address(unit, a);
                unit.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table.unwrap()), address]);
            }
            (6, _) => {
                let address = address(unit, a);
                unit.emit(Family::Load, Scalar::U32, &[x, address, Operand::Immediate(u32::from(b % 8))]);
            }
            (7, _) => {
                let address = address(unit, a);
                unit.emit(Family::Store, Scalar::U32, &[address, Operand::Immediate(u32::from(b % 8)), z]);
            }
            (8, _) => {
                let label = unit.label();
                unit.emit(Family::JumpIf, Scalar::U8, &[x, Operand::Label(label)]);
                open.push((number + 1 + usize::from(b % 4), label));
            }
            (9, _) => unit.emit(Family::Move, Scalar::U32, &[x, y]),
            (10, _) => unit.emit(Family::Add, Scalar::U32, &[x, y, z]),
            _ => unit.emit(Family::Xor, Scalar::U16, &[x, y, z]),
        }
        open.retain(|(end, label)| {
            if *end <= number {
                unit.bind(*label);
            }
            *end > number
        });
    }
    for (_, label) in open {
        unit.bind(label);
    }
}

/// A program that calls units, each of which may call those behind it.
fn image(main: &[Statement], bodies: &[Vec<Statement>], content: &[u8], methods: bool) -> Image {
    let mut image = ImageBuilder::new();
    image.allocate(VARIABLES + VARIABLE_BYTES - 16, 0);
    image.write(VARIABLES, content);
    for (number, choice) in (0..4).zip(content) {
        image.write(POINTERS + 4 * number, &instance(*choice).to_le_bytes());
    }
    image.range(IndexRange { lower: 0, count: VARIABLE_BYTES - INSTANCE_BYTES + 1, stride: 1 });
    let program = image.reserve_unit();
    let units: Vec<u32> = bodies.iter().map(|_| image.reserve_unit()).collect();
    let rows = (1..).zip(units.iter().rev().take(3)).map(|(tag, unit)| DispatchTarget { tag, unit: *unit });
    let table = methods.then(|| image.dispatch_table("Table", rows.collect()));
    for (number, body) in bodies.iter().enumerate() {
        let mut unit = UnitBuilder::new(format!("U{number}"), UnitKind::Method, INSTANCE_BYTES);
        // Those that the table leads to do not call through it: they would have to be guarded.
        let table = table.filter(|_| number == 0);
        write(&mut unit, body, &units[number + 1..], table, true);
        image.define_unit(units[number], unit.finish().unwrap());
    }
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    write(&mut unit, main, &units, table, false);
    image.define_unit(program, unit.finish().unwrap());
    image.tasks.push(every_scan(program, 0));
    image.finish().unwrap()
}

proptest! {
    // Compiling takes longer than running.
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 1 } else { 400 }, ..ProptestConfig::default() })]

    #[test]
    fn called_units_work_on_the_data_of_their_callers(
        main in statements(24),
        bodies in prop::collection::vec(statements(12), UNITS),
        content in prop::collection::vec(prop_oneof![0u8..4, any::<u8>()], VARIABLE_BYTES as usize),
        methods in any::<bool>(),
    ) {
        let program = load(image(&main, &bodies, &content, methods));
        let [mut compiled, mut threaded, mut matched] = every(&program);
        for scan in 0..4 {
            let expected = matched.scan(scan);
            for machine in [&mut compiled, &mut threaded] {
                prop_assert_eq!(machine.scan(scan), expected.clone());
                prop_assert!(machine.data() == matched.data(), "data differ in scan {}", scan);
                prop_assert_eq!(machine.events(), matched.events());
            }
            if expected.is_err() {
                break;
            }
        }
    }
}
