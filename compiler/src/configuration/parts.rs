//! Variables declared with `AT %I*`: which instances have them.
//!
//! Their places are given by VAR_CONFIG, one for each instance (IEC 61131-3:2013, 6.5.5, table 16). Code reaches
//! such a variable through a cell in the instance that holds its address.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Name, Span,
    tree::{DirectAddress, SectionKind},
};

use crate::{
    check::Checker,
    typed::GlobalId,
    types::{DerivedId, Type, TypeId},
};

/// Most variables of this kind that are looked for.
const OPEN_MAX: usize = 1 << 16;

/// Most types and parts looked at on the way.
const VISITS_MAX: usize = 1 << 18;

/// Longest path that is followed.
const PATH_MAX: usize = 500;

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
    /// The resource of each global and program instance that belongs to one.
    fn global_owners(&self) -> BTreeMap<GlobalId, Name> {
        let mut owners = BTreeMap::new();
        for resource in &self.configuration.resources {
            let Some(name) = resource.name else { continue };
            let instances = resource.instances.iter().map(|instance| instance.global);
            owners.extend(resource.globals.values().copied().chain(instances).map(|id| (id, name.name)));
        }
        owners
    }

    /// Every instance of a variable that needs a place, up to a limit.
    pub(super) fn open_variables(&self) -> Vec<OpenVariable> {
        let mut found = Vec::new();
        let holders = self.open_holders();
        if holders.is_empty() {
            return found;
        }
        let holds = |id: TypeId| holders.contains(&self.types.underlying(id));
        let owners = self.global_owners();
        let mut waiting: Vec<Point> = Vec::new();
        for (index, variable) in self.globals.variables.iter().enumerate() {
            let Some(name) = variable.name.filter(|_| holds(variable.kind)) else { continue };
            let owner = owners.get(&GlobalId(index as u32));
            let shown = match owner {
                Some(owner) => format!("{}.{}", self.spelling(*owner), self.spelling(name)),
                None => self.spelling(name).to_owned(),
            };
            waiting.push(Point { kind: variable.kind, key: vec![-1 - index as i64], shown });
        }
        waiting.reverse();
        let mut visits = 0;
        while let Some(point) = waiting.pop() {
            visits += 1;
            if visits > VISITS_MAX || found.len() > OPEN_MAX {
                break;
            }
            // Types that nest deeper than a program may have are refused later.
            if point.key.len() > PATH_MAX {
                continue;
            }
            let mut inside = Vec::new();
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
                            ) && holds(variable.kind) =>
                            {
                                inside.push(Point { kind: variable.kind, key, shown });
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
                        } else if holds(member.kind) {
                            let mut key = point.key.clone();
                            key.push(index as i64);
                            let shown = format!("{}.{}", point.shown, self.spelling(member.name));
                            inside.push(Point { kind: member.kind, key, shown });
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
                        inside.push(Point { kind: *element, key, shown });
                        if !advance(&mut subscripts, bounds) {
                            break;
                        }
                    }
                }
                _ => {}
            }
            waiting.extend(inside.into_iter().rev());
        }
        found
    }

    /// Whether a type is or holds a structure with members declared with `AT %I*`.
    pub(crate) fn has_open_members(&self, id: TypeId) -> bool {
        if self.types.open_members.is_empty() {
            return false;
        }
        // Each type is looked at once, without recursion: types may nest deep.
        let mut seen = BTreeSet::new();
        let mut waiting = vec![id];
        while let Some(id) = waiting.pop() {
            let id = self.types.underlying(id);
            if !seen.insert(id) {
                continue;
            }
            match self.types.get(id) {
                Type::Structure(derived) if self.has_own_open_members(*derived) => return true,
                _ => waiting.extend(self.held_types(id)),
            }
        }
        false
    }

    fn has_own_open_members(&self, derived: DerivedId) -> bool {
        self.types.open_members.range((derived, 0)..=(derived, u32::MAX)).next().is_some()
    }

    /// The types that a type holds by value.
    fn held_types(&self, id: TypeId) -> Vec<TypeId> {
        match self.types.get(id) {
            Type::Unit(unit) => {
                let variables = self.units[unit.0 as usize].variables.iter();
                let own = variables.filter(|variable| {
                    !matches!(variable.section, SectionKind::InOut | SectionKind::External)
                });
                own.map(|variable| variable.kind).collect()
            }
            Type::Structure(derived) => {
                self.types.structure(*derived).members.iter().map(|member| member.kind).collect()
            }
            Type::Array { element, .. } => vec![*element],
            _ => Vec::new(),
        }
    }

    /// All types that hold a variable which needs a place.
    fn open_holders(&self) -> BTreeSet<TypeId> {
        let mut holders: BTreeMap<TypeId, Vec<TypeId>> = BTreeMap::new();
        let mut found = BTreeSet::new();
        for id in self.types.all() {
            for held in self.held_types(id) {
                holders.entry(self.types.underlying(held)).or_default().push(id);
            }
            let open = match self.types.get(id) {
                Type::Unit(unit) => {
                    let variables = &self.units[unit.0 as usize].variables;
                    variables.iter().any(|variable| variable.location.as_deref().is_some_and(is_open))
                }
                Type::Structure(derived) => self.has_own_open_members(*derived),
                _ => false,
            };
            if open {
                found.insert(id);
            }
        }
        let mut waiting: Vec<TypeId> = found.iter().copied().collect();
        while let Some(id) = waiting.pop() {
            for holder in holders.get(&id).into_iter().flatten() {
                if found.insert(*holder) {
                    waiting.push(*holder);
                }
            }
        }
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
