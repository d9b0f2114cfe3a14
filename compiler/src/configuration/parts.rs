//! Variables declared with `AT %I*`: which instances have them.
//!
//! Their places are given by VAR_CONFIG, one for each instance (IEC 61131-3:2013, 6.5.5, table 16). Code reaches
//! such a variable through a cell in the instance that holds its address.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Span,
    tree::{DirectAddress, SectionKind},
};

use crate::{
    check::Checker,
    types::{Type, TypeId},
};

/// Most variables of this kind that are looked for.
const OPEN_MAX: usize = 1 << 16;

/// Whether an address is one that VAR_CONFIG has to complete.
pub(crate) fn is_open(address: &DirectAddress) -> bool {
    address.path.is_empty()
}

/// A variable that needs a place.
pub(super) struct OpenVariable {
    /// What the path to it leads through.
    pub(super) key: Vec<i64>,
    /// The path.
    pub(super) shown: String,
    /// The address in its declaration.
    pub(super) span: Span,
}

/// Where the search is.
struct Point {
    kind: TypeId,
    key: Vec<i64>,
    shown: String,
}

impl Checker<'_> {
    /// Every instance of a variable that needs a place, up to a limit.
    pub(super) fn open_variables(&self) -> Vec<OpenVariable> {
        let mut found = Vec::new();
        let mut known = BTreeMap::new();
        let mut waiting: Vec<Point> = Vec::new();
        for (index, variable) in self.globals.variables.iter().enumerate() {
            let Some(name) = variable.name.filter(|_| self.has_open(variable.kind, &mut known)) else {
                continue;
            };
            let owner = self.configuration.resources.iter().find(|resource| {
                let own = |instance: &super::InstanceScope<'_>| instance.global.0 as usize == index;
                resource.instances.iter().any(own)
                    || resource.globals.values().any(|global| global.0 as usize == index)
            });
            let owner = owner.and_then(|resource| resource.name);
            let shown = match owner {
                Some(owner) => format!("{}.{}", self.spelling(owner.name), self.spelling(name)),
                None => self.spelling(name).to_owned(),
            };
            waiting.push(Point { kind: variable.kind, key: vec![-1 - index as i64], shown });
        }
        waiting.reverse();
        while let Some(point) = waiting.pop() {
            let kind = self.types.underlying(point.kind);
            match self.types.get(kind) {
                Type::Unit(unit) => {
                    for (index, variable) in self.units[unit.0 as usize].variables.iter().enumerate() {
                        let Some(name) = variable.name else { continue };
                        let mut key = point.key.clone();
                        key.push(index as i64);
                        let shown = format!("{}.{}", point.shown, self.spelling(name));
                        match &variable.location {
                            Some(address) if is_open(address) => {
                                found.push(OpenVariable { key, shown, span: address.span });
                            }
                            Some(_) => {}
                            None if !matches!(
                                variable.section,
                                SectionKind::InOut | SectionKind::External | SectionKind::Temp
                            ) && self.has_open(variable.kind, &mut known) =>
                            {
                                waiting.push(Point { kind: variable.kind, key, shown });
                            }
                            None => {}
                        }
                    }
                }
                Type::Structure(derived) => {
                    for (index, member) in self.types.structure(*derived).members.iter().enumerate() {
                        if let Some(address) = self.types.open_members.get(&(*derived, index as u32)) {
                            let mut key = point.key.clone();
                            key.push(index as i64);
                            let shown = format!("{}.{}", point.shown, self.spelling(member.name));
                            found.push(OpenVariable { key, shown, span: address.span });
                        } else if self.has_open(member.kind, &mut known) {
                            let mut key = point.key.clone();
                            key.push(index as i64);
                            let shown = format!("{}.{}", point.shown, self.spelling(member.name));
                            waiting.push(Point { kind: member.kind, key, shown });
                        }
                    }
                }
                Type::Array { bounds, element } => {
                    let mut subscripts: Vec<i64> = bounds.iter().map(|(lower, _)| *lower).collect();
                    for _ in 0..OPEN_MAX {
                        let mut key = point.key.clone();
                        key.extend(&subscripts);
                        let shown: Vec<String> = subscripts.iter().map(i64::to_string).collect();
                        let shown = format!("{}[{}]", point.shown, shown.join(","));
                        waiting.push(Point { kind: *element, key, shown });
                        if !advance(&mut subscripts, bounds) {
                            break;
                        }
                    }
                }
                _ => {}
            }
            if found.len() + waiting.len() > 2 * OPEN_MAX {
                break;
            }
        }
        found
    }

    /// Whether a type is or holds a structure with members declared with `AT %I*`.
    pub(crate) fn has_open_members(&self, id: TypeId) -> bool {
        !self.types.open_members.is_empty() && self.has_open(id, &mut BTreeMap::new())
    }

    /// Whether a type holds a variable that needs a place.
    fn has_open(&self, id: TypeId, known: &mut BTreeMap<TypeId, bool>) -> bool {
        let id = self.types.underlying(id);
        if let Some(known) = known.get(&id) {
            return *known;
        }
        // Containment is without circles here, and each type is looked at once.
        known.insert(id, false);
        let found = match self.types.get(id) {
            Type::Unit(unit) => self.units[unit.0 as usize].variables.iter().any(|variable| {
                variable.location.as_ref().is_some_and(is_open)
                    || (!matches!(variable.section, SectionKind::InOut | SectionKind::External)
                        && self.has_open(variable.kind, known))
            }),
            Type::Structure(derived) => {
                let members = &self.types.structure(*derived).members;
                let own = self.types.open_members.range((*derived, 0)..=(*derived, u32::MAX));
                own.count() > 0 || members.iter().any(|member| self.has_open(member.kind, known))
            }
            Type::Array { element, .. } => self.has_open(*element, known),
            _ => false,
        };
        known.insert(id, found);
        found
    }
}

/// The subscripts of the next element, the last dimension first; `false` after the last one.
fn advance(subscripts: &mut [i64], bounds: &[(i64, i64)]) -> bool {
    for (subscript, (lower, upper)) in subscripts.iter_mut().zip(bounds).rev() {
        if *subscript < *upper {
            *subscript += 1;
            return true;
        }
        *subscript = *lower;
    }
    false
}
