//! Walking the debug tables: down a path, and over all leaves.

use super::path::{DirectAddress, Segment, direct_address};
use super::{ResolveError, Resolved, ResolvedKind};
use crate::image::{DebugTables, Section, TypeDescription, TypeIndex, Variable};
use crate::limits;
use crate::program::Program;

/// A point of the walk: a variable or a part of one.
#[derive(Clone)]
struct Point<'a> {
    address: u32,
    kind: TypeIndex,
    name: String,
    section: Section,
    location: Option<&'a str>,
    constant: bool,
}

impl<'a> Point<'a> {
    fn root(variable: &'a Variable) -> Self {
        Self {
            address: variable.address,
            kind: variable.kind,
            name: variable.name.clone(),
            section: variable.section,
            location: variable.location.as_deref(),
            constant: variable.constant,
        }
    }

    fn resolved(&self, program: &Program) -> Option<Resolved> {
        let kind = match program.image().debug.kind(self.kind)? {
            TypeDescription::Elementary(kind) => ResolvedKind::Elementary(*kind),
            TypeDescription::String { wide, capacity } => {
                ResolvedKind::String { wide: *wide, capacity: *capacity }
            }
            TypeDescription::Enumeration { .. } => ResolvedKind::Enumeration(self.kind),
            TypeDescription::Reference => ResolvedKind::Reference,
            TypeDescription::Bit(bit) => ResolvedKind::Bit(*bit),
            TypeDescription::Array { .. } | TypeDescription::Structure { .. } => return None,
        };
        Some(Resolved {
            address: self.address,
            kind,
            name: self.name.clone(),
            section: self.section,
            location: self.location.map(str::to_owned),
            constant: self.constant,
            mirror: program.mirror(self.address),
        })
    }

    fn members(&self, program: &'a Program) -> Vec<Self> {
        let Some(TypeDescription::Structure { members, .. }) = program.image().debug.kind(self.kind) else {
            return Vec::new();
        };
        members
            .iter()
            .map(|member| Self {
                address: self.address.saturating_add(member.offset),
                kind: member.kind,
                name: format!("{}.{}", self.name, member.name),
                // A part of what VAR_ACCESS names is reached through it.
                section: if self.section == Section::Access { Section::Access } else { member.section },
                location: member.location.as_deref(),
                constant: self.constant || member.constant,
            })
            .collect()
    }

    /// The element with these indices.
    fn element(&self, program: &'a Program, path: &str, indices: &[i64]) -> Result<Self, ResolveError> {
        let wrong = |problem: String| ResolveError::Subscript { path: path.to_owned(), problem };
        let Some(TypeDescription::Array { bounds, element, stride }) = program.image().debug.kind(self.kind)
        else {
            return Err(wrong(format!("`{}` is not an array", self.name)));
        };
        if bounds.len() != indices.len() {
            return Err(wrong(format!(
                "`{}` has {} dimension(s), {} index(es) are given",
                self.name,
                bounds.len(),
                indices.len()
            )));
        }
        let mut number = 0i64;
        for ((lower, upper), index) in bounds.iter().zip(indices) {
            if index < lower || index > upper {
                return Err(wrong(format!("index {index} is outside {lower}..{upper}")));
            }
            // Array sizes are limited by the verifier, so that nothing here can leave 64 bits.
            number = number
                .saturating_mul(upper.saturating_sub(*lower).saturating_add(1))
                .saturating_add(index - lower);
        }
        let offset = u64::try_from(number).unwrap_or(0).saturating_mul(u64::from(*stride));
        let text: Vec<String> = indices.iter().map(i64::to_string).collect();
        Ok(Self {
            address: self.address.saturating_add(u32::try_from(offset).unwrap_or(u32::MAX)),
            kind: *element,
            name: format!("{}[{}]", self.name, text.join(",")),
            location: None,
            ..self.clone()
        })
    }
}

/// The last name of a dotted one.
fn last_name(name: &str) -> &str {
    name.rsplit('.').next().unwrap_or(name)
}

pub(super) fn resolve(program: &Program, text: &str, path: &[Segment]) -> Result<Resolved, ResolveError> {
    let (mut points, mut rest) = start(program, path);
    if points.len() > 1 {
        return Err(ResolveError::Ambiguous {
            path: text.to_owned(),
            candidates: points.into_iter().map(|point| point.name).collect(),
        });
    }
    let Some(mut point) = points.pop() else {
        let part = match path.first() {
            Some(Segment::Name(name)) => name.clone(),
            _ => text.to_owned(),
        };
        let names = roots(program).flat_map(|root| {
            let members = root.members(program);
            [root.name].into_iter().chain(members.into_iter().map(|member| member.name))
        });
        let whole = if rest.len() > 1 { part.clone() } else { text.to_owned() };
        return Err(ResolveError::Unknown {
            path: text.to_owned(),
            part: whole,
            nearest: nearest(&part, names),
        });
    };
    while let Some((segment, tail)) = rest.split_first() {
        point = match segment {
            Segment::Index(indices) => point.element(program, text, indices)?,
            Segment::Name(name) => {
                let members = point.members(program);
                match members.iter().find(|member| last_name(&member.name).eq_ignore_ascii_case(name)) {
                    Some(member) => member.clone(),
                    None => {
                        let nearest = nearest(name, members.into_iter().map(|member| member.name));
                        return Err(ResolveError::Unknown {
                            path: text.to_owned(),
                            part: name.clone(),
                            nearest,
                        });
                    }
                }
            }
        };
        rest = tail;
    }
    point.resolved(program).ok_or_else(|| {
        let mut leaves = Leaves { program, found: Vec::new(), visits: 0, wanted: 1 };
        leaves.visit(&point);
        ResolveError::NotElementary {
            path: text.to_owned(),
            example: leaves.found.pop().map(|leaf| leaf.name),
        }
    })
}

/// Where a path can start, and what of it is left: the root with the longest matching name, then roots whose name ends
/// in at least two names of the path (`Program.Block.Place` of `Resource.Program.Block.Place`), else everything whose
/// last name is the first of the path.
fn start<'a, 'p>(program: &'a Program, path: &'p [Segment]) -> (Vec<Point<'a>>, &'p [Segment]) {
    let names: Vec<&str> = path
        .iter()
        .map_while(|segment| match segment {
            Segment::Name(name) => Some(name.as_str()),
            Segment::Index(_) => None,
        })
        .collect();
    for count in (1..=names.len()).rev() {
        let name = names.get(..count).unwrap_or_default().join(".");
        let found: Vec<Point<'a>> =
            roots(program).filter(|root| root.name.eq_ignore_ascii_case(&name)).take(1).collect();
        if !found.is_empty() {
            return (found, path.get(count..).unwrap_or_default());
        }
    }
    for count in (2..=names.len()).rev() {
        let name = names.get(..count).unwrap_or_default().join(".");
        let found: Vec<Point<'a>> = roots(program).filter(|root| ends_in(&root.name, &name)).collect();
        if !found.is_empty() {
            return (found, path.get(count..).unwrap_or_default());
        }
    }
    let Some(first) = names.first() else { return (Vec::new(), path) };
    let found = roots(program)
        .flat_map(|root| [root.clone()].into_iter().chain(root.members(program)))
        .filter(|point| last_name(&point.name).eq_ignore_ascii_case(first))
        .collect();
    (found, path.get(1..).unwrap_or_default())
}

/// Whether the last names of a dotted name are these.
fn ends_in(name: &str, last: &str) -> bool {
    let Some(start) = name.len().checked_sub(last.len()) else { return false };
    // Names are ASCII; a cut inside a character is no match.
    let point = start.checked_sub(1).and_then(|point| name.as_bytes().get(point));
    point == Some(&b'.') && name.get(start..).is_some_and(|end| end.eq_ignore_ascii_case(last))
}

fn roots(program: &Program) -> impl Iterator<Item = Point<'_>> {
    program.image().debug.roots.iter().map(Point::root)
}

/// Where the variables with a direct address are declared, read once when a program is loaded: a panel asks for
/// each of its terminals.
#[derive(Clone, Debug, Default)]
pub(crate) struct Locations {
    found: Vec<(DirectAddress, Declared)>,
}

/// A root, or a member of one.
#[derive(Clone, Copy, Debug)]
struct Declared {
    root: usize,
    member: Option<usize>,
}

impl Locations {
    pub(crate) fn new(debug: &DebugTables) -> Self {
        let mut found = Vec::new();
        let mut note = |location: Option<&str>, declared| {
            found.extend(location.and_then(direct_address).map(|address| (address, declared)));
        };
        for (root, variable) in debug.roots.iter().enumerate() {
            note(variable.location.as_deref(), Declared { root, member: None });
            if let Some(TypeDescription::Structure { members, .. }) = debug.kind(variable.kind) {
                for (member, description) in members.iter().enumerate() {
                    note(description.location.as_deref(), Declared { root, member: Some(member) });
                }
            }
        }
        Self { found }
    }
}

/// The variable declared at a direct address.
pub(super) fn located(program: &Program, wanted: &DirectAddress) -> Option<Resolved> {
    let same = |found: &DirectAddress| {
        found.text == wanted.text
            || (found.area == wanted.area && found.place.is_some() && found.place == wanted.place)
    };
    program.locations().found.iter().filter(|(address, _)| same(address)).find_map(|(_, declared)| {
        let root = Point::root(program.image().debug.roots.get(declared.root)?);
        let point = match declared.member {
            Some(member) => root.members(program).into_iter().nth(member)?,
            None => root,
        };
        point.resolved(program)
    })
}

/// All leaves, in the order of declaration.
pub(super) fn leaves(program: &Program) -> Vec<Resolved> {
    let mut leaves = Leaves { program, found: Vec::new(), visits: 0, wanted: usize::MAX };
    for root in roots(program) {
        leaves.visit(&root);
    }
    leaves.found
}

struct Leaves<'a> {
    program: &'a Program,
    found: Vec<Resolved>,
    /// Counts everything visited, for a type may be built so that it has many parts and no leaves.
    visits: usize,
    wanted: usize,
}

impl<'a> Leaves<'a> {
    /// The verifier limits how deep types nest, so this recursion does too.
    fn visit(&mut self, point: &Point<'a>) {
        self.visits += 1;
        if self.visits > limits::VARIABLE_LEAVES || self.found.len() >= self.wanted {
            return;
        }
        match self.program.image().debug.kind(point.kind) {
            Some(TypeDescription::Structure { .. }) => {
                for member in point.members(self.program) {
                    self.visit(&member);
                }
            }
            Some(TypeDescription::Array { bounds, .. }) => {
                let mut indices: Vec<i64> = bounds.iter().map(|(lower, _)| *lower).collect();
                for _ in 0..limits::ARRAY_LEAVES {
                    if let Ok(element) = point.element(self.program, &point.name, &indices) {
                        self.visit(&element);
                    }
                    if !advance(&mut indices, bounds) {
                        break;
                    }
                }
            }
            _ => self.found.extend(point.resolved(self.program)),
        }
    }
}

/// The indices of the next element, the last dimension first; `false` after the last element.
fn advance(indices: &mut [i64], bounds: &[(i64, i64)]) -> bool {
    for (index, (lower, upper)) in indices.iter_mut().zip(bounds).rev() {
        if *index < *upper {
            *index += 1;
            return true;
        }
        *index = *lower;
    }
    false
}

/// Up to three names that are near a misspelt one, the nearest first.
pub(super) fn nearest(wanted: &str, names: impl Iterator<Item = String>) -> Vec<String> {
    let wanted = wanted.to_ascii_lowercase();
    let allowed = wanted.len().div_ceil(3).clamp(1, 3);
    let mut near: Vec<(usize, String)> = names
        .take(limits::VARIABLE_LEAVES)
        .filter_map(|name| {
            let last = last_name(&name).to_ascii_lowercase();
            let comparable = last.len().abs_diff(wanted.len()) <= allowed;
            let distance = comparable.then(|| strsim::osa_distance(&wanted, &last))?;
            (distance <= allowed).then_some((distance, name))
        })
        .collect();
    near.sort();
    near.dedup();
    near.into_iter().take(3).map(|(_, name)| name).collect()
}
