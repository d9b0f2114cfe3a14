//! Cycles: types and function blocks that contain themselves, and units that call themselves. Both are
//! errors, because every variable has a fixed place (6.4.4, 6.6.3; recursion is left to the implementer, our
//! choice is to refuse it).

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{Diagnostic, Name, Span, tree::SectionKind};

use crate::{
    check::Checker,
    types::{DerivedId, Type, TypeId, UnitId},
};

/// What can contain others by value.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Container {
    Structure(DerivedId),
    Unit(UnitId),
}

/// A member that holds a container.
#[derive(Clone, Copy)]
struct Part {
    holder: Container,
    member: usize,
    name: Option<Name>,
    span: Span,
    held: Container,
}

impl Checker<'_> {
    fn held_by(&self, mut id: TypeId) -> Option<Container> {
        loop {
            match self.types.get(id) {
                Type::Derived { base, .. } => id = *base,
                Type::Array { element, .. } | Type::OpenArray { element, .. } => id = *element,
                Type::Structure(derived) => return Some(Container::Structure(*derived)),
                Type::Unit(unit) => return Some(Container::Unit(*unit)),
                _ => return None,
            }
        }
    }

    fn parts(&self, holder: Container) -> Vec<Part> {
        match holder {
            Container::Structure(derived) => {
                let members = self.types.structure(derived).members.iter().enumerate();
                members
                    .filter_map(|(member, entry)| {
                        let held = self.held_by(entry.kind)?;
                        Some(Part { holder, member, name: Some(entry.name), span: entry.span, held })
                    })
                    .collect()
            }
            Container::Unit(unit) => {
                let variables = self.units[unit.0 as usize].variables.iter().enumerate();
                variables
                    .filter(|(_, entry)| match entry.section {
                        SectionKind::InOut | SectionKind::External => false,
                        // Passed by its address.
                        SectionKind::Input => !self.is_instance(entry.kind),
                        _ => true,
                    })
                    .filter_map(|(member, entry)| {
                        let held = self.held_by(entry.kind)?;
                        Some(Part { holder, member, name: entry.name, span: entry.span, held })
                    })
                    .collect()
            }
        }
    }

    /// Reports every circle of containment and takes the type out of one member of it, so that what follows
    /// sees finite types only.
    pub(crate) fn break_containment_cycles(&mut self) {
        let mut roots: Vec<Container> =
            (0..self.units.len()).map(|unit| Container::Unit(UnitId(unit as u32))).collect();
        roots.extend(self.type_symbols.values().filter_map(|symbol| self.held_by(symbol.id?)));
        let mut finished: BTreeSet<Container> = BTreeSet::new();
        for root in roots {
            if finished.contains(&root) {
                continue;
            }
            // Depth first with a path of its own: nesting may be deep.
            let mut on_path: BTreeSet<Container> = BTreeSet::from([root]);
            let mut path: Vec<(Container, std::vec::IntoIter<Part>)> =
                vec![(root, self.parts(root).into_iter())];
            let mut way: Vec<Part> = Vec::new();
            while let Some((container, parts)) = path.last_mut() {
                let container = *container;
                match parts.next() {
                    None => {
                        finished.insert(container);
                        on_path.remove(&container);
                        path.pop();
                        way.pop();
                    }
                    Some(part) if on_path.contains(&part.held) => {
                        let start = way.iter().position(|step| step.holder == part.held).unwrap_or(way.len());
                        let mut circle: Vec<Part> = way.get(start..).unwrap_or_default().to_vec();
                        circle.push(part);
                        self.report_containment(&circle);
                        self.forget_type(part);
                    }
                    Some(part) if finished.contains(&part.held) => {}
                    Some(part) => {
                        on_path.insert(part.held);
                        way.push(part);
                        path.push((part.held, self.parts(part.held).into_iter()));
                    }
                }
            }
        }
    }

    fn report_containment(&mut self, circle: &[Part]) {
        // A circle has at least one part.
        let (Some(first), Some(last)) = (circle.first(), circle.last()) else { return };
        let whole = match first.holder {
            Container::Unit(unit) => self.spelling(self.units[unit.0 as usize].name).to_owned(),
            Container::Structure(derived) => self.spelling(self.types.structure(derived).name).to_owned(),
        };
        let name =
            if matches!(first.holder, Container::Unit(_)) { "block-contains-itself" } else { "type-cycle" };
        let mut diagnostic = Diagnostic::error(name, last.span, format!("`{whole}` contains itself"))
            .label(format!("holds a `{whole}` again"));
        for part in &circle[..circle.len() - 1] {
            let member = part.name.map_or("this", |name| self.spelling(name));
            diagnostic = diagnostic.also(part.span, format!("through `{member}`"));
        }
        diagnostic = diagnostic.note(
            "it would need endless memory; pass the inner one as VAR_IN_OUT, or refer to it with REF_TO",
        );
        self.report(diagnostic);
    }

    fn forget_type(&mut self, part: Part) {
        let unknown = self.unknown_type();
        match part.holder {
            Container::Structure(derived) => {
                if let Some(member) = self.types.structure_mut(derived).members.get_mut(part.member) {
                    member.kind = unknown;
                    member.initial = None;
                }
            }
            Container::Unit(unit) => {
                if let Some(variable) = self.units[unit.0 as usize].variables.get_mut(part.member) {
                    variable.kind = unknown;
                    variable.initial = None;
                }
            }
        }
    }

    /// Reports every circle of calls once, with the chain.
    pub(crate) fn report_recursion(&mut self) {
        let mut calls: BTreeMap<UnitId, BTreeMap<UnitId, Span>> = BTreeMap::new();
        for edge in &self.calls {
            calls.entry(edge.caller).or_default().entry(edge.callee).or_insert(edge.span);
        }
        let mut finished: BTreeSet<UnitId> = BTreeSet::new();
        let mut found: Vec<Vec<(UnitId, Span)>> = Vec::new();
        for root in calls.keys() {
            if finished.contains(root) {
                continue;
            }
            let next = |unit: UnitId| {
                let callees = calls.get(&unit).into_iter().flatten();
                callees.map(|(callee, span)| (*callee, *span)).collect::<Vec<_>>().into_iter()
            };
            let mut path = vec![(*root, next(*root))];
            let mut way: Vec<(UnitId, Span)> = Vec::new();
            while let Some((unit, callees)) = path.last_mut() {
                let unit = *unit;
                match callees.next() {
                    None => {
                        finished.insert(unit);
                        path.pop();
                        way.pop();
                    }
                    Some((callee, span)) => {
                        if let Some(start) = path.iter().position(|(on_path, _)| *on_path == callee) {
                            let mut circle: Vec<(UnitId, Span)> =
                                way.get(start..).unwrap_or_default().to_vec();
                            circle.push((unit, span));
                            found.push(circle);
                        } else if !finished.contains(&callee) {
                            way.push((unit, span));
                            path.push((callee, next(callee)));
                        }
                    }
                }
            }
        }
        for circle in found {
            let (Some((first, _)), Some((_, last_span))) = (circle.first(), circle.last()) else { continue };
            let name = self.spelling(self.units[first.0 as usize].name).to_owned();
            let message = if circle.len() == 1 {
                format!("`{name}` calls itself")
            } else {
                format!("`{name}` calls itself through others")
            };
            let mut diagnostic = Diagnostic::error("recursion", *last_span, message)
                .label(format!("calls `{name}`, which is still running"));
            for (index, (unit, span)) in circle.iter().enumerate().take(circle.len() - 1) {
                let caller = self.spelling(self.units[unit.0 as usize].name);
                let callee = circle
                    .get(index + 1)
                    .map_or("", |(next, _)| self.spelling(self.units[next.0 as usize].name));
                diagnostic = diagnostic.also(*span, format!("`{caller}` calls `{callee}`"));
            }
            self.report(
                diagnostic.note(
                    "every variable has one fixed place, so a unit cannot run twice at once; use a loop",
                ),
            );
        }
    }
}
