//! A function with outputs and no result, called again and again on one machine.

use latchwork_stdlib::{FunctionDefinition, Lowering, function, natives};
use latchwork_vm::{Family, ImageBuilder, Machine, Operand, Place, Scalar, UnitBuilder, UnitKind};

use super::value::Typed;

/// Such a function with its frame.
pub struct Outputs {
    pub definition: &'static FunctionDefinition,
    machine: Machine,
    base: usize,
}

impl Outputs {
    /// The function with a name.
    pub fn new(name: &str) -> Self {
        let definition = function(name).unwrap_or_else(|| panic!("no function {name}")).definition;
        let Lowering::Native(routine) = definition.lowering else { panic!("{name} is no routine") };
        let native = natives()
            .iter()
            .find(|native| native.name == routine)
            .unwrap_or_else(|| panic!("no native {routine}"));
        let mut builder = ImageBuilder::new();
        let mut unit = UnitBuilder::new("Call", UnitKind::Program, native.frame_bytes);
        let index = builder.native(native.name, native.frame_bytes);
        unit.emit(Family::Native, Scalar::U8, &[Operand::Native(index), Place::relative(0).into()]);
        let unit = unit.finish().expect("the unit is whole");
        let (machine, base) = super::machine(builder, unit, native.frame_bytes);
        Self { definition, machine, base }
    }

    /// The outputs for operands.
    pub fn of(&mut self, operands: &[Typed]) -> Vec<Typed> {
        assert_eq!(operands.len(), self.definition.parameters.len());
        for (index, operand) in operands.iter().enumerate() {
            let at = self.base + 8 * index;
            self.machine.data_mut()[at..at + 8].copy_from_slice(&operand.bits.to_le_bytes());
        }
        self.machine.scan(0).expect("these functions raise no faults");
        assert_eq!(self.machine.events().total(), 0, "{}: no events", self.definition.name);
        let slots = operands.len()..;
        self.definition
            .outputs
            .iter()
            .zip(slots)
            .map(|(output, slot)| {
                let at = self.base + 8 * slot;
                let bits = self.machine.data()[at..at + 8].try_into().expect("eight bytes");
                Typed::new(output.ty, u64::from_le_bytes(bits))
            })
            .collect()
    }
}
