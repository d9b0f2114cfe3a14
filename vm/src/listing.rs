//! Listings of code in readable form, with the names of variables where the debug tables have them.
//!
//! ```text
//! add.i32  Main.Count @0014, Main.Step +0008, #12
//! ```

use crate::event::EventKind;
use crate::fault::SourcePlace;
use crate::image::{DispatchTable, Image, NO_STATUS, Task, TypeDescription, TypeIndex, Unit};
use crate::instruction::{Instruction, OperandKind, decode_instruction};
use crate::limits;
use crate::place::Place;
use crate::types::{ElementaryType, Scalar};
use crate::value::Value;
use std::collections::BTreeMap;

/// An instruction in readable form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedInstruction {
    /// Its index in the unit.
    pub index: u32,
    /// Mnemonic and operands.
    pub text: String,
    /// Where in the source it comes from.
    pub place: Option<SourcePlace>,
}

/// The listing of one unit, by its index in the image. Empty for a unit that does not exist; ends early where the
/// code of an unverified image is not well formed.
#[must_use]
pub fn unit_listing(image: &Image, unit: u32) -> Vec<ListedInstruction> {
    let Some(wanted) = image.units.get(unit as usize) else { return Vec::new() };
    let mut rest = image.code.as_slice();
    let mut index = 0u32;
    let names = Names::of(image, wanted);
    let mut listed = Vec::new();
    let end = wanted.first_instruction.saturating_add(wanted.instruction_count);
    while index < end {
        let Ok((instruction, used)) = decode_instruction(rest) else { break };
        rest = rest.get(used..).unwrap_or_default();
        if index >= wanted.first_instruction {
            listed.push(ListedInstruction {
                index: index - wanted.first_instruction,
                text: text(image, &names, &instruction),
                place: place(image, wanted, index),
            });
        }
        index += 1;
    }
    listed
}

/// A table of an image in readable form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedTable {
    /// What it is: `TABLE Valve.Open`, `TASK Fast`.
    pub heading: String,
    /// Its rows.
    pub rows: Vec<String>,
}

/// The dispatch tables of an image: for each tag the unit that runs.
#[must_use]
pub fn dispatch_listing(image: &Image) -> Vec<ListedTable> {
    let rows = |table: &DispatchTable| {
        let unit = |index: u32| {
            image.units.get(index as usize).map_or_else(|| format!("unit {index}"), |unit| unit.name.clone())
        };
        table.targets.iter().map(|target| format!("{}  {}", target.tag, unit(target.unit))).collect()
    };
    let listed =
        |table: &DispatchTable| ListedTable { heading: format!("TABLE {}", table.name), rows: rows(table) };
    image.dispatch.iter().map(listed).collect()
}

/// The tasks of an image: what releases them, their priority, and their programs with the addresses of the instances.
#[must_use]
pub fn task_listing(image: &Image) -> Vec<ListedTable> {
    let names = Names::of_roots(image);
    let named = |address: u32| {
        let place = Place::absolute(address);
        names.get(place).map_or_else(|| place.to_string(), |name| format!("{name} {place}"))
    };
    let listed = |task: &Task| {
        let mut heading = format!("TASK {}", task.name);
        if let Some(resource) = image.resources.get(task.resource as usize) {
            heading.push_str(&format!(" ON {resource}"));
        }
        let mut rows = Vec::new();
        if task.cyclic {
            rows.push("in every scan".to_owned());
        }
        if task.interval_ns != 0 {
            rows.push(format!("INTERVAL {}", Value::Duration(task.interval_ns, ElementaryType::Time)));
        }
        rows.extend(task.single.map(|single| format!("SINGLE {}", named(single))));
        rows.push(format!("PRIORITY {}", task.priority));
        if task.status != NO_STATUS {
            rows.push(format!("status {}", Place::absolute(task.status)));
        }
        rows.extend(task.programs.iter().map(|call| {
            let unit = image.units.get(call.unit as usize);
            let name = unit.map_or_else(|| format!("unit {}", call.unit), |unit| unit.name.clone());
            format!("{name} {}", Place::absolute(call.base))
        }));
        ListedTable { heading, rows }
    };
    image.tasks.iter().map(listed).collect()
}

fn place(image: &Image, unit: &Unit, instruction: u32) -> Option<SourcePlace> {
    let (_, entry) = image.debug.line_of(instruction)?;
    (entry.instruction >= unit.first_instruction).then_some(SourcePlace {
        file: entry.file,
        line: entry.line,
        column: entry.column,
        end_line: entry.end_line,
        end_column: entry.end_column,
    })
}

fn text(image: &Image, names: &Names, instruction: &Instruction) -> String {
    let opcode = instruction.opcode;
    let operands: Vec<String> = opcode
        .operands()
        .iter()
        .zip(instruction.operands)
        .map(|(kind, word)| operand(image, names, *kind, opcode.scalar(), word))
        .collect();
    if operands.is_empty() { opcode.name() } else { format!("{}  {}", opcode.name(), operands.join(", ")) }
}

fn operand(image: &Image, names: &Names, kind: OperandKind, scalar: Scalar, word: u32) -> String {
    let entry = word as usize;
    match kind {
        OperandKind::Label => format!("->{word}"),
        OperandKind::Unit => {
            image.units.get(entry).map_or_else(|| format!("unit {word}"), |unit| unit.name.clone())
        }
        OperandKind::Native => {
            image.natives.get(entry).map_or_else(|| format!("native {word}"), |native| native.name.clone())
        }
        OperandKind::Range => image.ranges.get(entry).map_or_else(
            || format!("range {word}"),
            |range| {
                let upper = range.lower.saturating_add(i64::from(range.count) - 1);
                format!("[{}..{}]*{}", range.lower, upper, range.stride)
            },
        ),
        OperandKind::Dispatch => {
            image.dispatch.get(entry).map_or_else(|| format!("table {word}"), |table| table.name.clone())
        }
        OperandKind::EventCode => {
            EventKind::from_code(word).map_or_else(|| word.to_string(), |kind| kind.to_string())
        }
        OperandKind::Bytes | OperandKind::Immediate => word.to_string(),
        OperandKind::Point => format!("point {word}"),
        OperandKind::Points => format!("points {word} {}", word.saturating_add(1)),
        OperandKind::Decision => format!("decision {word}"),
        OperandKind::Condition => format!("condition {word}"),
        _ => {
            let place = Place::from_word(word);
            let width = kind.width(scalar);
            if let Some(constant) = width.and_then(|width| constant(image, place, kind, scalar, width)) {
                return format!("#{constant}");
            }
            match if kind.is_instance() { names.instance(place) } else { names.get(place) } {
                Some(name) => format!("{name} {place}"),
                None => place.to_string(),
            }
        }
    }
}

/// The value at a place among the constants.
fn constant(image: &Image, place: Place, kind: OperandKind, scalar: Scalar, width: u32) -> Option<Value> {
    let constants = image.layout.constants;
    let offset = place.offset().checked_sub(constants.start)?;
    if place.is_relative() || offset >= constants.size {
        return None;
    }
    let start = place.offset() as usize;
    let bytes = image.data.get(start..start.checked_add(width as usize)?)?;
    let bits = bytes.iter().rev().fold(0u64, |bits, byte| bits << 8 | u64::from(*byte));
    let elementary = match (kind, scalar) {
        (OperandKind::Source, Scalar::I8) => ElementaryType::Sint,
        (OperandKind::Source, Scalar::I16) => ElementaryType::Int,
        (OperandKind::Source, Scalar::I32) => ElementaryType::Dint,
        (OperandKind::Source, Scalar::I64) | (OperandKind::Source64, _) => ElementaryType::Lint,
        (OperandKind::Source, Scalar::F32) => ElementaryType::Real,
        (OperandKind::Source, Scalar::F64) => ElementaryType::Lreal,
        _ => ElementaryType::Ulint,
    };
    Value::from_bits(bits, elementary)
}

/// Names of scalar variables by their places, and of the innermost structures and instances that begin at a place.
#[derive(Default)]
struct Names {
    absolute: BTreeMap<u32, String>,
    relative: BTreeMap<u32, String>,
    absolute_instances: BTreeMap<u32, String>,
    relative_instances: BTreeMap<u32, String>,
    visits: usize,
}

impl Names {
    fn of(image: &Image, unit: &Unit) -> Self {
        let mut names = Self::of_roots(image);
        // The instance of a unit has the structure type of the same name.
        let own = image.debug.types.iter().position(|description| {
            matches!(description, TypeDescription::Structure { name, .. } if name.eq_ignore_ascii_case(&unit.name))
        });
        if let (Some(own), true) = (own, unit.instance_bytes > 0) {
            names.visit(image, true, 0, TypeIndex(own as u32), "", 0);
        }
        names
    }

    fn of_roots(image: &Image) -> Self {
        let mut names = Self::default();
        for root in &image.debug.roots {
            names.visit(image, false, root.address, root.kind, &root.name, 0);
        }
        names
    }

    fn get(&self, place: Place) -> Option<&str> {
        let names = if place.is_relative() { &self.relative } else { &self.absolute };
        names.get(&place.offset()).map(String::as_str)
    }

    fn instance(&self, place: Place) -> Option<&str> {
        let names = if place.is_relative() { &self.relative_instances } else { &self.absolute_instances };
        names.get(&place.offset()).map(String::as_str)
    }

    /// Limited in depth and in the number of visits, for a listing may be asked for before an image is verified.
    fn visit(
        &mut self,
        image: &Image,
        relative: bool,
        address: u32,
        kind: TypeIndex,
        name: &str,
        depth: usize,
    ) {
        self.visits += 1;
        if self.visits > limits::VARIABLE_LEAVES || depth > limits::TYPE_DEPTH {
            return;
        }
        match image.debug.kind(kind) {
            Some(TypeDescription::Structure { members, .. }) => {
                let names =
                    if relative { &mut self.relative_instances } else { &mut self.absolute_instances };
                if !name.is_empty() {
                    names.insert(address, name.to_owned());
                }
                for member in members {
                    let full =
                        if name.is_empty() { member.name.clone() } else { format!("{name}.{}", member.name) };
                    let address = address.saturating_add(member.offset);
                    self.visit(image, relative, address, member.kind, &full, depth + 1);
                }
            }
            Some(_) => {
                let names = if relative { &mut self.relative } else { &mut self.absolute };
                names.entry(address).or_insert_with(|| name.to_owned());
            }
            None => {}
        }
    }
}
