//! A function block instance that can be called, also through its input operators.

use latchwork_stdlib::{BlockDefinition, block, natives};
use latchwork_vm::{Family, ImageBuilder, Machine, Operand, Place, Scalar, UnitBuilder, UnitKind};

/// One instance of a standard function block on a machine of its own.
pub struct Rig {
    pub definition: &'static BlockDefinition,
    machine: Machine,
    base: usize,
    /// The routines that can run, each with a BOOL behind the instance that says whether it does.
    routines: Vec<&'static str>,
}

impl Rig {
    /// An instance as after a cold restart.
    pub fn new(name: &str) -> Self {
        let definition = block(name).unwrap_or_else(|| panic!("no block {name}"));
        let mut routines = vec![definition.native];
        for operator in definition.input_operators {
            if !operator.routine.is_empty() && !routines.contains(&operator.routine) {
                routines.push(operator.routine);
            }
        }
        let bytes = definition.bytes + routines.len() as u32;
        let mut builder = ImageBuilder::new();
        let mut unit = UnitBuilder::new("Rig", UnitKind::Program, bytes);
        for (place, routine) in (definition.bytes..).zip(&routines) {
            let native = natives()
                .iter()
                .find(|native| native.name == *routine)
                .unwrap_or_else(|| panic!("no native {routine}"));
            assert_eq!(native.frame_bytes, definition.bytes, "{name}: the native works on the instance");
            let index = builder.native(native.name, native.frame_bytes);
            let skip = unit.label();
            unit.emit(Family::JumpUnless, Scalar::U8, &[Place::relative(place).into(), skip.into()]);
            unit.emit(Family::Native, Scalar::U8, &[Operand::Native(index), Place::relative(0).into()]);
            unit.bind(skip);
        }
        let unit = unit.finish().expect("the unit is whole");
        let (machine, base) = super::machine(builder, unit, bytes);
        Self { definition, machine, base, routines }
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

    /// Runs one routine at a time, in nanoseconds.
    fn run(&mut self, routine: &str, now: i64) {
        let flags = self.base + self.definition.bytes as usize;
        for (index, name) in self.routines.iter().enumerate() {
            self.machine.data_mut()[flags + index] = u8::from(*name == routine);
        }
        self.machine.scan(now).expect("blocks raise no faults");
    }

    /// Calls the block at a time, in nanoseconds.
    pub fn call(&mut self, now: i64) {
        self.run(self.definition.native, now);
    }

    /// Applies an input operator of Instruction List.
    pub fn operator(&mut self, name: &str, value: i128, now: i64) {
        let operator = self.definition.input_operator(name).expect("the block has the operator");
        self.set(self.definition.members[operator.member].name, value);
        if operator.calls {
            assert_eq!(operator.routine, self.definition.native);
        }
        if !operator.routine.is_empty() {
            self.run(operator.routine, now);
        }
    }
}
