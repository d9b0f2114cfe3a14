//! Many calls on the same operands in one machine, scan by scan: for tests that go through all operands.

use latchwork_vm::{
    ElementaryType, EventKind, Family, ImageBuilder, Machine, Scalar, SourcePlace, UnitBuilder, UnitKind,
};

use super::{
    call::{BYTES, Emitter, GIVEN, ONE, RESULT, emit_named},
    value::Typed,
};

/// A place that stays 0, then the results.
const ZERO: u32 = BYTES;
const RESULTS: u32 = BYTES + 8;

/// What a call gave: the bits of its result, and its event if it made one.
pub type Given = (u64, Option<EventKind>);

/// Calls that are made together.
pub struct Bank {
    machine: Machine,
    base: usize,
    /// The type of each result.
    types: Vec<ElementaryType>,
    /// How many events of each kind each call has made.
    counts: Vec<Vec<u64>>,
    given: Vec<Given>,
}

impl Bank {
    /// Calls of these functions on operands of these types. Each call is on a source line of its own, so that its
    /// events are known.
    pub fn new(names: &[&str], operands: &[ElementaryType]) -> Self {
        let bytes = RESULTS + 8 * names.len() as u32;
        let mut emitter = Emitter {
            builder: ImageBuilder::new(),
            unit: UnitBuilder::new("Bank", UnitKind::Program, bytes),
        };
        let operands: Vec<Typed> = operands.iter().map(|ty| Typed::new(*ty, 0)).collect();
        let file = emitter.builder.file("bank");
        let mut types = Vec::new();
        for (index, name) in names.iter().enumerate() {
            let line = index as u32 + 1;
            emitter.unit.at(SourcePlace { file, line, column: 1, end_line: line, end_column: 2 });
            emitter.emit(Family::Move, Scalar::U64, &[RESULT, ZERO]);
            types.push(emit_named(&mut emitter, name, &operands));
            emitter.emit(Family::Move, Scalar::U64, &[RESULTS + 8 * index as u32, RESULT]);
        }
        let unit = emitter.unit.finish().expect("the unit is whole");
        let (mut machine, base) = super::machine(emitter.builder, unit, bytes);
        machine.data_mut()[base + ONE as usize] = 1;
        let counts = vec![vec![0; EventKind::ALL.len()]; names.len()];
        Self { machine, base, types, counts, given: Vec::new() }
    }

    /// Makes the calls on these operands.
    pub fn run(&mut self, operands: &[u64]) -> &[Given] {
        for (index, operand) in operands.iter().enumerate() {
            let at = self.base + GIVEN as usize + 8 * index;
            self.machine.data_mut()[at..at + 8].copy_from_slice(&operand.to_le_bytes());
        }
        self.machine.scan(0).unwrap_or_else(|fault| panic!("{operands:X?}: {}", fault.kind.name()));
        self.given.clear();
        for (index, ty) in self.types.iter().enumerate() {
            let at = self.base + RESULTS as usize + 8 * index;
            let bits = u64::from_le_bytes(self.machine.data()[at..at + 8].try_into().expect("eight bytes"));
            self.given.push((Typed::new(*ty, bits).bits, None));
        }
        for entry in self.machine.events().iter() {
            let line = entry.place.as_ref().expect("every call has a line").place.line;
            let call = line as usize - 1;
            let count = &mut self.counts[call][entry.kind.code() as usize];
            if entry.count > *count {
                assert_eq!(entry.count, *count + 1, "call {call} of {operands:X?}: one event at a time");
                assert_eq!(self.given[call].1, None, "call {call} of {operands:X?}: one kind at a time");
                *count = entry.count;
                self.given[call].1 = Some(entry.kind);
            }
        }
        &self.given
    }
}
