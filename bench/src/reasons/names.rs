//! What is known of addresses: names, values as text, devices.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::logic::PartValue;
use latchwork_vm::{ElementaryType, Program, Resolved, ResolvedKind, TypeDescription, Value};

use crate::{
    panel::Panel,
    recording::{Recording, Role},
    station::Station,
    terminals::place_key,
};

/// A variable at an address.
#[derive(Clone, Debug)]
pub(super) struct Named {
    pub(super) variable: Resolved,
    /// The device that is wired to it, by its place in the station.
    pub(super) device: Option<usize>,
}

/// The variables of a program by their addresses.
#[derive(Clone, Debug, Default)]
pub(super) struct Names {
    by_address: BTreeMap<u32, Vec<Named>>,
    /// For each device of the station its row in the recording.
    pub(super) rows: Vec<Option<usize>>,
}

impl Names {
    pub(super) fn new(program: &Program, station: Option<&Station>, recording: Option<&Recording>) -> Self {
        let panel = Panel::new(program, station);
        let mut devices = BTreeMap::new();
        for (index, wired) in panel.devices().iter().enumerate() {
            if let Some(variable) = &wired.variable {
                devices.insert(place_key(variable), index);
            }
        }
        let named_like = |name: &str| {
            recording?.rows.iter().position(|row| {
                matches!(row.role, Role::Device { .. }) && row.signal.name.eq_ignore_ascii_case(name)
            })
        };
        let rows = panel.devices().iter().map(|wired| named_like(&wired.device.name.value)).collect();
        let mut by_address: BTreeMap<u32, Vec<Named>> = BTreeMap::new();
        for variable in program.variables() {
            let device = devices.get(&place_key(&variable)).copied();
            by_address.entry(variable.address).or_default().push(Named { variable, device });
        }
        Names { by_address, rows }
    }

    /// All variables from an address on.
    pub(super) fn beyond(&self, address: u32) -> impl Iterator<Item = &Named> {
        self.by_address.range(address..).flat_map(|(_, named)| named)
    }

    /// The variable of so many bytes at an address.
    pub(super) fn at(&self, address: u32, bytes: u32) -> Option<&Named> {
        let here = self.by_address.get(&address)?;
        here.iter().find(|named| size(&named.variable) == Some(bytes)).or_else(|| here.first())
    }

    /// The device that is wired to a variable.
    pub(super) fn device(&self, address: u32) -> Option<usize> {
        self.by_address.get(&address)?.iter().find_map(|named| named.device)
    }
}

/// The name without that of the program, where that names the same variable.
pub(super) fn short(program: &Program, variable: &Resolved) -> String {
    // What stands behind the point of an address is no name.
    if variable.name.starts_with('%') {
        return variable.name.clone();
    }
    if let Some((_, rest)) = variable.name.split_once('.')
        && program
            .resolve(rest)
            .is_ok_and(|found| found.address == variable.address && found.name == variable.name)
    {
        return rest.to_owned();
    }
    variable.name.clone()
}

/// The bytes of a variable, where it has eight at most.
pub(super) fn size(variable: &Resolved) -> Option<u32> {
    match variable.kind {
        ResolvedKind::Elementary(kind) => kind.size(),
        ResolvedKind::Enumeration(_) | ResolvedKind::Reference => Some(4),
        ResolvedKind::Bit(_) => Some(1),
        ResolvedKind::String { .. } => None,
    }
}

/// The kind of value of a variable.
pub(super) fn kind(program: &Program, variable: &Resolved) -> PartValue {
    match variable.kind {
        ResolvedKind::Elementary(kind) => PartValue::Elementary(kind),
        ResolvedKind::Bit(_) => PartValue::Elementary(ElementaryType::Bool),
        ResolvedKind::Enumeration(index) => match program.image().debug.kind(index) {
            Some(TypeDescription::Enumeration { values, .. }) => {
                let values = values.iter().map(|(name, value)| (name.clone(), i64::from(*value)));
                PartValue::Enumeration(Arc::from_iter(values))
            }
            _ => PartValue::Other,
        },
        ResolvedKind::String { .. } | ResolvedKind::Reference => PartValue::Other,
    }
}

/// A value as a literal.
pub(super) fn shown(kind: &PartValue, bits: u64) -> Option<String> {
    match kind {
        PartValue::Elementary(kind) => Value::from_bits(bits, *kind).map(|value| value.to_string()),
        PartValue::Enumeration(names) => {
            // A DINT in the low bits.
            let number = i64::from(bits as i32);
            let name = names.iter().find(|(_, value)| *value == number).map(|(name, _)| name.clone());
            Some(name.unwrap_or_else(|| number.to_string()))
        }
        PartValue::Other => None,
    }
}
