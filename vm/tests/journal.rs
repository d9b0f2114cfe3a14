//! Noting instructions: what the journal holds, that they cost nothing, and when nothing is noted.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{Family, Machine, NoteKind, Operand, Restart, Scalar, UnitBuilder, journal::NOTES_MAX};
use support::{at, every, load, put, single};

const A: u32 = 16;
const B: u32 = 18;
const ADDRESS: u32 = 24;

fn number(value: u32) -> Operand {
    Operand::Immediate(value)
}

/// `B := A`, noted as statement 7 with the value 8 at a place and the target 9 at an address.
fn copy(unit: &mut UnitBuilder) {
    unit.emit(Family::NoteStatement, Scalar::U8, &[number(7)]);
    unit.emit(Family::NotePlace, Scalar::U8, &[at(A), number(8)]);
    unit.emit(Family::NoteValue, Scalar::U16, &[at(A), number(8)]);
    unit.emit(Family::Address, Scalar::U32, &[at(ADDRESS), at(A)]);
    unit.emit(Family::NoteAddress, Scalar::U8, &[at(ADDRESS), number(B - A), number(9)]);
    unit.emit(Family::Move, Scalar::U16, &[at(B), at(A)]);
}

fn noted(machine: &mut Machine) -> Vec<(u32, NoteKind, u64)> {
    let journal = machine.journal().unwrap();
    let notes = journal.notes().iter().map(|note| (note.number, note.kind, note.word)).collect();
    journal.clear();
    notes
}

#[test]
fn statements_places_and_values_are_noted_in_order() {
    let image = single(64, copy);
    for mut machine in every(&load(image)) {
        assert!(machine.journal().is_none());
        machine.scan(0).unwrap();
        assert!(machine.journal().is_none(), "nobody has asked for a journal");
        machine.keep_journal();
        put(&mut machine, A, &[0x34, 0x82]);
        // Address, move and the return.
        assert_eq!(machine.scan(1).unwrap().instructions, 3);
        let statement = noted(&mut machine);
        assert_eq!(
            statement,
            [
                (7, NoteKind::Statement, statement.first().unwrap().2),
                (8, NoteKind::Place, A.into()),
                (8, NoteKind::Value, 0x8234),
                (9, NoteKind::Place, B.into()),
            ]
        );
        machine.restart(Restart::Cold);
        machine.scan(2).unwrap();
        assert_eq!(noted(&mut machine).len(), 4, "a journal is kept across restarts");
    }
}

#[test]
fn notes_are_kept_up_to_a_limit_and_the_others_counted() {
    let image = single(64, |unit| {
        let again = unit.label();
        unit.bind(again);
        unit.emit(Family::NoteStatement, Scalar::U8, &[number(0)]);
        unit.emit(Family::Jump, Scalar::U8, &[Operand::Label(again)]);
    });
    for mut machine in every(&load(image)) {
        machine.keep_journal();
        machine.set_budget(NOTES_MAX as u64 + 100);
        assert!(machine.scan(0).is_err(), "the loop has no end");
        let journal = machine.journal().unwrap();
        assert_eq!(journal.notes().len(), NOTES_MAX);
        assert!((100..=102).contains(&journal.left_out()), "{}", journal.left_out());
    }
}
