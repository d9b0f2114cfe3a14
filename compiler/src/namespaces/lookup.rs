//! Where a name is looked for (6.9.4), and which enumeration values can be named without their type.

use std::collections::BTreeMap;

use latchwork_grammar::{
    FileId, Name, Span,
    tree::{Ident, QualifiedName},
};

use super::{
    Flattener,
    table::{GLOBAL, Kind, Member},
};
use crate::check::open_array::is_bound_function;

/// A namespace around a place, with what `USING` names in it.
pub(super) struct Level {
    pub space: usize,
    pub using: Vec<usize>,
}

/// Where a name was found.
pub(super) enum Hit {
    Found(Member),
    Nothing,
    /// In several namespaces of one list.
    Ambiguous(Vec<Member>),
}

/// The namespaces whose names are visible at a place.
#[derive(Default)]
pub(crate) struct Visibility {
    /// By the start of a unit: its end, and the full names of the namespaces.
    regions: BTreeMap<(FileId, u32), (u32, Vec<Name>)>,
}

impl Visibility {
    /// Whether a name in a namespace (none for the global one) can be written at a place without it.
    pub(crate) fn sees(&self, place: Span, space: Option<Name>) -> bool {
        let Some(space) = space else { return true };
        let before = self.regions.range(..=(place.file, place.start));
        let around = before.rev().find(|((file, _), (end, _))| *file == place.file && place.start < *end);
        around.is_some_and(|(_, (_, visible))| visible.contains(&space))
    }
}

impl Flattener<'_> {
    /// The namespace the current place is in.
    pub(super) fn current(&self) -> usize {
        self.levels.last().map_or(GLOBAL, |level| level.space)
    }

    /// Notes what is visible in a unit, type section or the like.
    pub(super) fn note_region(&mut self, span: Span) {
        let using = self.unit_using.iter().flatten().chain(self.levels.iter().flat_map(|level| &level.using));
        let spaces = self.levels.iter().map(|level| &level.space).chain(using);
        let names = spaces.filter_map(|space| self.table.spaces.get(*space)?.name).collect();
        self.visibility.regions.insert((span.file, span.start), (span.end, names));
    }

    /// Whether a name is a variable or method of the current unit or of what it extends.
    pub(super) fn is_local(&self, name: Name) -> bool {
        if self.locals.iter().any(|names| names.contains(&name)) {
            return true;
        }
        // A circle of bases is reported elsewhere.
        let mut left = self.owners.len();
        let mut base = self.base;
        while let Some(owner) = base.and_then(|base| self.owners.get(&base)) {
            if owner.names.contains(&name) {
                return true;
            }
            if left == 0 {
                return false;
            }
            left -= 1;
            base = owner.base;
        }
        false
    }

    /// Whether a name that belongs to a namespace may be used in the current one.
    pub(super) fn may_reach(&self, holder: usize, member: &Member) -> bool {
        !member.internal || self.table.is_inside(self.current(), holder)
    }

    /// Looks for a declaration by its name alone; variables and methods are no matter here.
    pub(super) fn look_up(&self, name: Name) -> Hit {
        let own = self.current();
        if let Some(hit) = self.in_space(own, name) {
            return hit;
        }
        if own == GLOBAL && self.is_standard(name) {
            return Hit::Nothing;
        }
        for using in self.unit_using.iter().rev() {
            if let Some(hit) = self.in_list(using, name) {
                return hit;
            }
        }
        for level in self.levels.iter().rev() {
            let hit = match level.space {
                // Searched first or last.
                GLOBAL => None,
                space => self.in_space(space, name),
            };
            if let Some(hit) = hit.or_else(|| self.in_list(&level.using, name)) {
                return hit;
            }
        }
        self.in_space(GLOBAL, name).unwrap_or(Hit::Nothing)
    }

    fn in_space(&self, space: usize, name: Name) -> Option<Hit> {
        let member = self.table.members.get(&(space, name))?;
        (member.kind == Kind::Declaration).then_some(Hit::Found(*member))
    }

    /// In the namespaces of a `USING`: what cannot be reached counts only where nothing else is found.
    fn in_list(&self, using: &[usize], name: Name) -> Option<Hit> {
        let mut found: Vec<(usize, Member)> = Vec::new();
        for space in using {
            if let Some(Hit::Found(member)) = self.in_space(*space, name)
                && found.iter().all(|(_, other)| other.full != member.full)
            {
                found.push((*space, member));
            }
        }
        if found.iter().any(|(space, member)| self.may_reach(*space, member)) {
            found.retain(|(space, member)| self.may_reach(*space, member));
        }
        let found: Vec<Member> = found.into_iter().map(|(_, member)| member).collect();
        match found.as_slice() {
            [] => None,
            [one] => Some(Hit::Found(*one)),
            _ => Some(Hit::Ambiguous(found)),
        }
    }

    fn is_standard(&self, name: Name) -> bool {
        let spelling = self.spelling(name);
        latchwork_stdlib::function(spelling).is_some()
            || latchwork_stdlib::block(spelling).is_some()
            || is_bound_function(spelling)
    }

    /// The namespace a name at the start of a path stands for, from the inside outwards.
    pub(super) fn first_space(&self, name: Name) -> Option<(usize, Member)> {
        let outwards = self.levels.iter().rev().map(|level| level.space);
        outwards.chain([GLOBAL]).find_map(|space| match self.table.members.get(&(space, name))? {
            member @ Member { kind: Kind::Space(inner), .. } => Some((*inner, *member)),
            _ => None,
        })
    }

    /// The namespace a path stands for. Reports what is not there.
    pub(super) fn space_of(&mut self, path: &[Ident]) -> Option<usize> {
        let (first, rest) = path.split_first()?;
        let Some((mut space, member)) = self.first_space(first.name) else {
            self.report_unknown_namespace(*first, None);
            return None;
        };
        self.check_reach(*first, space, &member);
        for ident in rest {
            match self.table.members.get(&(space, ident.name)).copied() {
                Some(member @ Member { kind: Kind::Space(inner), .. }) => {
                    self.check_reach(*ident, inner, &member);
                    space = inner;
                }
                _ => {
                    self.report_unknown_namespace(*ident, Some(space));
                    return None;
                }
            }
        }
        Some(space)
    }

    /// Reports an internal namespace that is reached from outside.
    fn check_reach(&mut self, ident: Ident, space: usize, member: &Member) {
        let holder = self.table.spaces.get(space).and_then(|space| space.parent).unwrap_or(GLOBAL);
        if !self.may_reach(holder, member) {
            self.report_internal(ident.span, holder, member);
        }
    }

    /// The full name of a declaration written with its namespaces. Reports what is not there.
    pub(super) fn qualified(&mut self, name: &QualifiedName) -> Option<Name> {
        let space = self.space_of(&name.path)?;
        match self.table.members.get(&(space, name.name.name)).copied() {
            Some(member @ Member { kind: Kind::Declaration, .. }) => {
                if !self.may_reach(space, &member) {
                    self.report_internal(name.name.span, space, &member);
                }
                Some(member.full)
            }
            other => {
                self.report_not_in_namespace(name.name, space, other.is_some());
                None
            }
        }
    }

    /// The full name of a declaration where only a declaration can be meant. Reports what is ambiguous, and what
    /// is declared in a namespace that is not searched; the name itself where there is nothing to say.
    pub(super) fn declared(&mut self, ident: Ident) -> Name {
        match self.look_up(ident.name) {
            Hit::Found(member) => {
                let holder = self.holder(&member, ident.name);
                if !self.may_reach(holder, &member) {
                    self.report_internal(ident.span, holder, &member);
                }
                member.full
            }
            Hit::Ambiguous(found) => {
                self.report_ambiguous(ident, &found);
                found.first().map_or(ident.name, |member| member.full)
            }
            Hit::Nothing if self.is_standard(ident.name) => ident.name,
            Hit::Nothing => {
                let current = self.current();
                let elsewhere = self.table.elsewhere.get(&ident.name).into_iter().flatten();
                let reachable = elsewhere
                    .filter(|(space, member)| !member.internal || self.table.is_inside(current, *space))
                    .map(|(_, member)| *member);
                let reachable: Vec<Member> = reachable.collect();
                match reachable.first() {
                    Some(member) => {
                        self.report_namespace_needed(ident, &reachable);
                        member.full
                    }
                    None => ident.name,
                }
            }
        }
    }

    /// The namespace that holds a declaration.
    fn holder(&self, member: &Member, name: Name) -> usize {
        let elsewhere = self.table.elsewhere.get(&name).into_iter().flatten();
        let mut holders = elsewhere.filter(|(_, other)| other.full == member.full);
        holders.next().map_or(GLOBAL, |(space, _)| *space)
    }
}
