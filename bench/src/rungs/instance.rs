//! The instances of a unit: which of them ran, and how they are called.

use std::collections::BTreeSet;

use latchwork_compiler::logic::{LogicStatement, LogicUnit};
use latchwork_grammar::tree::UnitKind;
use latchwork_vm::Program;

use super::model::{Body, Feed, OutputForm, Shape, Sheet};
use crate::account::Account;

/// The base addresses of the instances that statements of a unit ran for, in their order.
#[must_use]
pub fn bases(account: &Account, unit: &LogicUnit) -> Vec<u32> {
    let mut found = BTreeSet::new();
    collect(account, &unit.statements, &mut found);
    found.into_iter().collect()
}

/// Statements nest as deep as the grammar allows.
fn collect(account: &Account, list: &[LogicStatement], found: &mut BTreeSet<u32>) {
    for statement in list {
        let sites = account.sites_of(statement.number).filter_map(|site| account.identity(site));
        found.extend(sites.map(|(_, base)| base));
        statement.inner().into_iter().for_each(|inner| collect(account, inner, found));
    }
}

/// The path of an instance; `None` for a function, which has none.
#[must_use]
pub fn instance_name(program: &Program, unit: &LogicUnit, base: u32) -> Option<String> {
    if !matches!(unit.kind, UnitKind::Program | UnitKind::FunctionBlock) {
        return None;
    }
    let image = program.image();
    let size = image.units.iter().find(|known| known.name == unit.name)?.instance_bytes;
    // What lies in it is named by the instance and a member; members of members have longer names.
    let range = base..base.saturating_add(size);
    let members = program.variables().filter(|variable| range.contains(&variable.address));
    let paths = members.filter_map(|variable| Some(variable.name.rsplit_once('.')?.0.to_owned()));
    let common = paths.reduce(|common, path| {
        let both = common.split('.').zip(path.split('.')).take_while(|(one, other)| one == other);
        both.map(|(one, _)| one).collect::<Vec<_>>().join(".")
    });
    let of_program =
        |path: &String| unit.kind == UnitKind::Program && path.split('.').next() == Some(unit.name.as_str());
    // A program with nothing but one block in it.
    common.filter(|path| !path.is_empty() && !of_program(path)).or_else(|| Some(unit.name.clone()))
}

/// The names of all variables on a sheet.
#[must_use]
pub fn names(sheet: &Sheet) -> BTreeSet<&str> {
    let mut found = BTreeSet::new();
    for entry in &sheet.entries {
        for element in entry.body.networks().into_iter().flat_map(|network| network.elements()) {
            match &element.shape {
                Shape::Contact { name, .. } => {
                    found.insert(name.as_str());
                }
                Shape::Compare { left, right, .. } => {
                    found.extend(
                        [left, right].iter().filter(|side| !side.constant).map(|side| side.text.as_str()),
                    );
                }
                Shape::Constant(_) | Shape::Function { .. } => {}
            }
        }
        let ends: Vec<_> = match &entry.body {
            Body::Rung(rung) => rung.ends.iter().collect(),
            Body::Call(call) => call.outputs.iter().flat_map(|pin| &pin.ends).collect(),
            Body::Text(text) => {
                found.extend(text.values.iter().map(|(_, operand)| operand.text.as_str()));
                Vec::new()
            }
        };
        if let Body::Call(call) = &entry.body {
            found.extend(call.inputs.iter().filter_map(|pin| match &pin.feed {
                Feed::Value(operand) if !operand.constant => Some(operand.text.as_str()),
                _ => None,
            }));
        }
        let coils = ends.into_iter().filter(|end| {
            !matches!(end.form, OutputForm::Jump | OutputForm::Return | OutputForm::Transition)
        });
        found.extend(coils.map(|coil| coil.name.as_str()));
    }
    found
}
