//! A function block instance that can be called, also through its input operators.

use latchwork_stdlib::{BlockDefinition, BlockOperation, block};
use latchwork_vm::{Family, ImageBuilder, Machine, Place, Scalar, UnitBuilder, UnitKind};

/// One instance of a standard function block on a machine of its own.
pub struct Rig {
    pub definition: &'static BlockDefinition,
    machine: Machine,
    base: usize,
    /// What can run, each with a BOOL behind the instance that says whether it does.
    operations: Vec<BlockOperation>,
}

impl Rig {
    /// An instance as after a cold restart.
    pub fn new(name: &str) -> Self {
        let definition = block(name).unwrap_or_else(|| panic!("no block {name}"));
        let mut operations = vec![definition.operation];
        for operation in definition.input_operators.iter().filter_map(|operator| operator.operation) {
            if !operations.contains(&operation) {
                operations.push(operation);
            }
        }
        let bytes = definition.bytes + operations.len() as u32;
        let builder = ImageBuilder::new();
        let mut unit = UnitBuilder::new("Rig", UnitKind::Program, bytes);
        for (place, operation) in (definition.bytes..).zip(&operations) {
            let skip = unit.label();
            unit.emit(Family::JumpUnless, Scalar::U8, &[Place::relative(place).into(), skip.into()]);
            unit.emit(operation.at_place, operation.scalar, &[Place::relative(0).into()]);
            unit.bind(skip);
        }
        let unit = unit.finish().expect("the unit is whole");
        let (machine, base) = super::machine(builder, unit, bytes);
        Self { definition, machine, base, operations }
    }

    fn place(&self, member: &str) -> (usize, usize, bool) {
        let member = self
            .definition
            .members
            .iter()
            .find(|row| row.name == member || row.aliases.contains(&member))
            .unwrap_or_else(|| panic!("{}: no member {member}", self.definition.name));
        let scalar = member.ty.scalar().expect("members of blocks are scalars");
        (self.base + member.offset as usize, scalar.size() as usize, scalar.is_signed())
    }

    /// Stores a member; a BOOL is 0 or 1.
    pub fn set(&mut self, member: &str, value: i128) {
        let (at, size, _) = self.place(member);
        self.machine.data_mut()[at..at + size].copy_from_slice(&value.to_le_bytes()[..size]);
    }

    /// Reads a member.
    pub fn get(&self, member: &str) -> i128 {
        let (at, size, signed) = self.place(member);
        let bytes = &self.machine.data()[at..at + size];
        let negative = signed && bytes[size - 1] >= 0x80;
        let mut wide = if negative { [0xFF; 16] } else { [0; 16] };
        wide[..size].copy_from_slice(bytes);
        i128::from_le_bytes(wide)
    }

    /// The whole instance.
    pub fn state(&self) -> Vec<u8> {
        self.machine.data()[self.base..self.base + self.definition.bytes as usize].to_vec()
    }

    /// Replaces the whole instance.
    pub fn restore(&mut self, state: &[u8]) {
        self.machine.data_mut()[self.base..self.base + self.definition.bytes as usize].copy_from_slice(state);
    }

    /// Runs one operation at a time, in nanoseconds.
    fn run(&mut self, operation: BlockOperation, now: i64) {
        let flags = self.base + self.definition.bytes as usize;
        for (index, known) in self.operations.iter().enumerate() {
            self.machine.data_mut()[flags + index] = u8::from(*known == operation);
        }
        self.machine.scan(now).expect("blocks raise no faults");
    }

    /// Calls the block at a time, in nanoseconds.
    pub fn call(&mut self, now: i64) {
        self.run(self.definition.operation, now);
    }

    /// Applies an input operator of Instruction List.
    pub fn operator(&mut self, name: &str, value: i128, now: i64) {
        let operator = self.definition.input_operator(name).expect("the block has the operator");
        self.set(self.definition.members[operator.member].name, value);
        if operator.calls {
            assert_eq!(operator.operation, Some(self.definition.operation));
        }
        if let Some(operation) = operator.operation {
            self.run(operation, now);
        }
    }
}
