//! Calls a standard function as its row says: choose the form for the operand types, convert the operands,
//! emit, run once, read the result and the events.

use latchwork_stdlib::{
    ConversionRule, FunctionDefinition, Lowering, ResultType, common_type, conversion, function, natives,
    swap_routine,
};
use latchwork_vm::{
    ElementaryType, EventKind, Family, ImageBuilder, Operand, Place, Scalar, UnitBuilder, UnitKind,
};

use super::value::Typed;

/// What a call gave: the result with the events by name, or the fault that stopped the run.
pub type Outcome = Result<(Typed, Vec<&'static str>), String>;

/// Room for every operand in 16 steps of 8 bytes: as given, as converted, intermediate results.
pub(super) const GIVEN: u32 = 0;
const FRAME: u32 = 128;
pub(super) const RESULT: u32 = 256;
const SCRATCH: u32 = 264;
pub(super) const ONE: u32 = 272;
pub(super) const BYTES: u32 = 280;

pub(super) struct Emitter {
    pub(super) builder: ImageBuilder,
    pub(super) unit: UnitBuilder,
}

impl Emitter {
    pub(super) fn emit(&mut self, family: Family, scalar: Scalar, places: &[u32]) {
        let operands: Vec<Operand> = places.iter().map(|place| Place::relative(*place).into()).collect();
        self.unit.emit(family, scalar, &operands);
    }

    fn native(&mut self, name: &str, frame: u32) {
        let native =
            natives().iter().find(|row| row.name == name).unwrap_or_else(|| panic!("no native {name}"));
        let index = self.builder.native(native.name, native.frame_bytes);
        self.unit.emit(Family::Native, Scalar::U8, &[Operand::Native(index), Place::relative(frame).into()]);
    }

    fn convert(
        &mut self,
        from: ElementaryType,
        to: ElementaryType,
        truncate: bool,
        source: u32,
        target: u32,
    ) {
        let rule = conversion(from, to, truncate)
            .unwrap_or_else(|| panic!("no conversion {} to {}", from.name(), to.name()));
        match rule {
            ConversionRule::Copy(scalar) => self.emit(Family::Move, scalar, &[target, source]),
            ConversionRule::Instruction(family, scalar) => self.emit(family, scalar, &[target, source]),
            ConversionRule::LowestBit => self.emit(Family::And, Scalar::U8, &[target, source, ONE]),
            ConversionRule::Native(name) => {
                self.emit(Family::Move, Scalar::U64, &[FRAME, source]);
                self.native(name, FRAME);
                self.emit(Family::Move, Scalar::U64, &[target, FRAME + 8]);
            }
            ConversionRule::Text { routine, .. } => panic!("{routine}: the frame has room for scalars only"),
        }
    }
}

fn slot(index: usize) -> u32 {
    FRAME + 8 * index as u32
}

/// Emits a call of a function by name on the operands at `GIVEN` and returns the type of its result at `RESULT`.
pub(super) fn emit_named(emitter: &mut Emitter, name: &str, operands: &[Typed]) -> ElementaryType {
    let resolved = function(name).unwrap_or_else(|| panic!("no function {name}"));
    let definition = resolved.definition;
    if let Lowering::Convert { truncate } = definition.lowering {
        let to = resolved.to.expect("the tests name the target type");
        emitter.convert(operands[0].ty, to, truncate, GIVEN, RESULT);
        return to;
    }
    emit_call(emitter, definition, operands)
}

/// Calls a function by name.
pub fn call(name: &str, operands: &[Typed]) -> Outcome {
    let mut emitter =
        Emitter { builder: ImageBuilder::new(), unit: UnitBuilder::new("Call", UnitKind::Program, BYTES) };
    let result = emit_named(&mut emitter, name, operands);
    let unit = emitter.unit.finish().unwrap_or_else(|error| panic!("{name}: {error}"));
    let (mut machine, base) = super::machine(emitter.builder, unit, BYTES);
    for (index, operand) in operands.iter().enumerate() {
        let at = base + GIVEN as usize + 8 * index;
        machine.data_mut()[at..at + 8].copy_from_slice(&operand.bits.to_le_bytes());
    }
    machine.data_mut()[base + ONE as usize] = 1;
    machine.scan(0).map_err(|fault| fault.kind.name().to_owned())?;
    let at = base + RESULT as usize;
    let bits = u64::from_le_bytes(machine.data()[at..at + 8].try_into().expect("eight bytes"));
    let events = EventKind::ALL.iter().filter(|kind| machine.events().count(**kind) > 0);
    Ok((Typed::new(result, bits), events.map(|kind| kind.name()).collect()))
}

/// Emits a call and returns the type of its result.
fn emit_call(emitter: &mut Emitter, definition: &FunctionDefinition, operands: &[Typed]) -> ElementaryType {
    let count = operands.len();
    assert!((definition.minimum_operands()..=definition.maximum_operands()).contains(&count));
    // Generic operands share their common type; the others keep theirs.
    let generic: Option<ElementaryType> = operands
        .iter()
        .enumerate()
        .filter(|(index, _)| definition.parameter(*index).is_some_and(|(_, row)| row.generic))
        .map(|(_, operand)| operand.ty)
        .reduce(|left, right| common_type(left, right).expect("a common type"));
    let mut types: Vec<ElementaryType> = Vec::new();
    for (index, operand) in operands.iter().enumerate() {
        let (parameter_name, parameter) = definition.parameter(index).expect("enough parameters");
        assert_eq!(definition.parameter_index(&parameter_name), Some(index));
        let ty = if parameter.generic { generic.expect("there is one") } else { operand.ty };
        types.push(ty);
    }
    let overload = definition.overload(&types);
    let lowering = overload.map_or(definition.lowering, |overload| overload.lowering);
    let result = overload.map_or(definition.result, |overload| overload.result);
    if let Some(overload) = overload.filter(|overload| !overload.operands.is_empty()) {
        types = overload.operands.to_vec();
    }
    if let Lowering::Shift(_) = lowering {
        types[1] = ElementaryType::Lint;
    }
    for (index, operand) in operands.iter().enumerate() {
        emitter.convert(operand.ty, types[index], false, GIVEN + 8 * index as u32, slot(index));
    }
    let scalar = types[0].scalar().expect("scalars only");
    match lowering {
        Lowering::Family(family) if count == 1 => emitter.emit(family, scalar, &[RESULT, slot(0)]),
        Lowering::Family(family) => {
            emitter.emit(family, scalar, &[RESULT, slot(0), slot(1)]);
            for index in 2..count {
                emitter.emit(family, scalar, &[RESULT, RESULT, slot(index)]);
            }
        }
        Lowering::Shift(family) => emitter.emit(family, scalar, &[RESULT, slot(0), slot(1)]),
        Lowering::Comparison(kind) => {
            let (family, swapped) = kind.instruction();
            // Equality has no signed form: equal bits are equal integers.
            let equality = matches!(family, Family::Equal | Family::NotEqual) && !scalar.is_float();
            let scalar = if equality { scalar.bits() } else { scalar };
            for index in 1..count {
                let (left, right) = (slot(index - 1), slot(index));
                let (left, right) = if swapped { (right, left) } else { (left, right) };
                let target = if index == 1 { RESULT } else { SCRATCH };
                emitter.emit(family, scalar, &[target, left, right]);
                if index > 1 {
                    emitter.emit(Family::And, Scalar::U8, &[RESULT, RESULT, SCRATCH]);
                }
            }
        }
        Lowering::Move => emitter.emit(Family::Move, scalar.bits(), &[RESULT, slot(0)]),
        Lowering::Select => {
            let scalar = types[1].scalar().expect("scalars only").bits();
            emitter.emit(Family::Select, scalar, &[RESULT, slot(0), slot(1), slot(2)]);
        }
        Lowering::Limit => {
            emitter.emit(Family::Maximum, scalar, &[RESULT, slot(1), slot(0)]);
            emitter.emit(Family::Minimum, scalar, &[RESULT, RESULT, slot(2)]);
        }
        Lowering::Not if types[0] == ElementaryType::Bool => {
            emitter.emit(Family::Not, Scalar::U8, &[RESULT, slot(0)]);
        }
        Lowering::Not => emitter.emit(Family::Complement, scalar, &[RESULT, slot(0)]),
        Lowering::Native(name) => {
            emitter.native(name, FRAME);
            emitter.emit(Family::Move, Scalar::U64, &[RESULT, slot(definition.parameters.len())]);
        }
        Lowering::ByteOrder { swap } => {
            let routine = types[0].size().filter(|_| swap).and_then(swap_routine);
            match routine {
                Some(routine) => emitter.native(routine, FRAME),
                None => emitter.emit(Family::Move, scalar.bits(), &[slot(1), slot(0)]),
            }
            emitter.emit(Family::Move, Scalar::U64, &[RESULT, slot(1)]);
        }
        Lowering::Append(_)
        | Lowering::Multiplexer
        | Lowering::Convert { .. }
        | Lowering::Overloaded
        | Lowering::Bound { .. } => {
            panic!("{}: not emitted here", definition.name)
        }
    }
    match result {
        ResultType::Generic => generic.expect("there is one"),
        ResultType::Exact(ty) => ty,
        ResultType::Parameter(index) => types[index],
        ResultType::Named => panic!("conversions are emitted elsewhere"),
        ResultType::Text | ResultType::Nothing => panic!("the frame has room for scalars only"),
    }
}
