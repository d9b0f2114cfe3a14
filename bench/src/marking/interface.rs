//! Whether a program has what an exercise requires, with help where only a name or an address differs.
//!
//! Letter case is of no account in names (IEC 61131-3:2013, 6.1.2), so a name in other letters is the same name.

use latchwork_vm::{ElementaryType, Program, ResolveError, Resolved, ResolvedKind, UnitKind};

use super::model::{Finding, FindingKind, Gravity};
use crate::{
    exercise::{Exercise, RequiredVariable},
    nearest::{alternatives, nearest},
};

/// What of the interface a program lacks.
pub(super) fn check(exercise: &Exercise, program: &Program) -> Vec<Finding> {
    let units = program.image().units.iter();
    let programs: Vec<&str> =
        units.filter(|unit| unit.kind == UnitKind::Program).map(|unit| unit.name.as_str()).collect();
    let mut findings: Vec<Finding> =
        exercise.programs.iter().filter_map(|name| missing_program(name, &programs)).collect();
    findings.extend(exercise.variables.iter().filter_map(|required| variable(required, program)));
    findings
}

fn finding(name: &str, message: String) -> Finding {
    Finding::without_place(FindingKind::Interface, name, Gravity::Error, message)
}

fn missing_program(name: &str, programs: &[&str]) -> Option<Finding> {
    if programs.iter().any(|known| known.eq_ignore_ascii_case(name)) {
        return None;
    }
    let help = match (nearest(name, programs.iter().copied()).as_slice(), programs) {
        ([], [only]) => format!("; there is `{only}`: call it `{name}`"),
        ([], _) => format!("; write PROGRAM {name} … END_PROGRAM"),
        (near, _) => format!("; there is {}: call it `{name}`", alternatives(near)),
    };
    Some(finding("interface-program", format!("the exercise asks for a program `{name}`{help}")))
}

/// What is wrong with a required variable, if anything.
fn variable(required: &RequiredVariable, program: &Program) -> Option<Finding> {
    let name = &required.name;
    match program.resolve(name) {
        Ok(found) => misplaced(required, &found).or_else(|| wrong_type(required, &found)),
        Err(ResolveError::Ambiguous { .. }) => Some(finding(
            "interface-variable",
            format!("the exercise asks for one variable `{name}`, and there are several of this name"),
        )),
        Err(error) => {
            let asked = match &required.address {
                Some(address) => format!("the exercise asks for a variable `{name}` at {address}"),
                None => format!("the exercise asks for a variable `{name}`"),
            };
            let there = required.address.as_ref().and_then(|address| at(program, address));
            let help = match (there, error) {
                (Some(other), _) => {
                    format!("; at this address there is `{}`: call it `{name}`", last(&other.name))
                }
                (None, ResolveError::Unknown { nearest, .. }) if !nearest.is_empty() => {
                    let near: Vec<&str> = nearest.iter().map(|name| last(name)).collect();
                    format!("; there is {}", alternatives(&near))
                }
                _ => match (&required.kind, &required.address) {
                    (Some(kind), Some(address)) => format!("; declare `{name} AT {address} : {kind};`"),
                    (Some(kind), None) => format!("; declare `{name} : {kind};`"),
                    _ => String::new(),
                },
            };
            Some(finding("interface-variable", format!("{asked}{help}")))
        }
    }
}

/// The name behind the last dot.
fn last(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or(path)
}

/// The first named variable at an address.
fn at(program: &Program, address: &str) -> Option<Resolved> {
    let same = |location: &String| location.eq_ignore_ascii_case(address);
    program
        .variables()
        .find(|variable| variable.location.as_ref().is_some_and(same) && !variable.name.starts_with('%'))
}

fn misplaced(required: &RequiredVariable, found: &Resolved) -> Option<Finding> {
    let address = required.address.as_ref()?;
    let name = &required.name;
    let message = match &found.location {
        Some(location) if location.eq_ignore_ascii_case(address) => return None,
        Some(location) => {
            format!("`{name}` lies at {location}; the exercise asks for `{name} AT {address}`")
        }
        None => format!("`{name}` has no address; the exercise asks for `{name} AT {address}`"),
    };
    Some(finding("interface-address", message))
}

fn wrong_type(required: &RequiredVariable, found: &Resolved) -> Option<Finding> {
    let kind = required.kind.as_ref()?;
    let is = match found.kind {
        ResolvedKind::Elementary(kind) => kind.name().to_owned(),
        ResolvedKind::Bit(_) => ElementaryType::Bool.name().to_owned(),
        ResolvedKind::String { wide: false, .. } => "STRING".to_owned(),
        ResolvedKind::String { wide: true, .. } => "WSTRING".to_owned(),
        ResolvedKind::Enumeration(_) => "an enumeration".to_owned(),
        ResolvedKind::Reference => "a reference".to_owned(),
    };
    (!is.eq_ignore_ascii_case(kind)).then(|| {
        let name = &required.name;
        finding("interface-type", format!("`{name}` is {is}; the exercise asks for {kind}"))
    })
}
