//! Where a name is looked for (6.9.4), and which enumeration values can be named without their type.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    FileId, Name, Span,
    tree::{Ident, QualifiedName},
};

use super::{
    Flattener,
    table::{GLOBAL, Kind, Member},
};

/// A namespace around a place, with what `USING` names in it.
#[derive(Clone, Copy)]
pub(super) struct Level {
    pub space: usize,
    /// Place in [`Flattener::lists`].
    pub using: usize,
    /// Place in [`Visibility::scopes`].
    pub scope: usize,
}

/// Declarations in other namespaces that are looked at for a name that is not found.
const ELSEWHERE_MAX: usize = 64;

/// Bases that are looked at for a name: no class has more, and many long chains would take quadratic time.
const BASES_MAX: usize = 256;

/// The list of a `USING` that there is not.
pub(super) const NO_LIST: usize = 0;

/// Where a name was found.
#[derive(Clone)]
pub(super) enum Hit {
    Found(Member),
    Nothing,
    /// In several namespaces of one list.
    Ambiguous(Vec<Member>),
}

/// Which namespaces are visible where.
#[derive(Default)]
pub(crate) struct Visibility {
    scopes: Vec<Scope>,
    /// By the start of a unit or the like: its end, and its scope.
    regions: BTreeMap<(FileId, u32), (u32, usize)>,
}

/// A namespace, or a unit with a `USING` of its own.
struct Scope {
    outer: Option<usize>,
    /// The namespace it is.
    space: Option<Name>,
    using: BTreeSet<Name>,
}

impl Visibility {
    /// Whether a name in a namespace (none for the global one) can be written at a place without it.
    pub(crate) fn sees(&self, place: Span, space: Option<Name>) -> bool {
        let Some(space) = space else { return true };
        let before = self.regions.range((place.file, 0)..=(place.file, place.start)).rev();
        // The regions of methods lie in those of units; a few of them may have ended before the place.
        let mut around = before.filter(|(_, (end, _))| place.start < *end);
        let mut scope = around.next().map(|(_, (_, scope))| *scope);
        while let Some(current) = scope.and_then(|scope| self.scopes.get(scope)) {
            if current.space == Some(space) || current.using.contains(&space) {
                return true;
            }
            scope = current.outer;
        }
        false
    }
}

impl Flattener<'_> {
    /// The namespace the current place is in.
    pub(super) fn current(&self) -> usize {
        self.levels.last().map_or(GLOBAL, |level| level.space)
    }

    /// A new scope inside another.
    pub(super) fn scope(&mut self, outer: Option<usize>, space: Option<usize>, list: usize) -> usize {
        let name = |space: &usize| self.table.spaces.get(*space).and_then(|space| space.name);
        let space = space.as_ref().and_then(name);
        let using = self.lists.get(list).into_iter().flatten().filter_map(name).collect();
        self.visibility.scopes.push(Scope { outer, space, using });
        self.visibility.scopes.len() - 1
    }

    /// Notes what is visible in a unit, type section or the like.
    pub(super) fn note_region(&mut self, span: Span) {
        let mut scope = self.levels.last().map(|level| level.scope);
        for list in self.unit_using.clone() {
            if list != NO_LIST {
                scope = Some(self.scope(scope, None, list));
            }
        }
        if let Some(scope) = scope {
            self.visibility.regions.insert((span.file, span.start), (span.end, scope));
        }
    }

    /// Whether a name is a variable or method of the current unit or of what it extends.
    pub(super) fn is_local(&self, name: Name) -> bool {
        if self.locals.iter().any(|names| names.contains(&name)) {
            return true;
        }
        // A circle of bases is reported elsewhere.
        let mut left = BASES_MAX;
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
    pub(super) fn may_reach(&self, member: &Member) -> bool {
        !member.internal || self.table.is_inside(self.current(), member.holder)
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
            if let Some(hit) = self.in_list(*using, name) {
                return hit;
            }
        }
        for level in self.levels.iter().rev() {
            let hit = match level.space {
                // Searched first or last.
                GLOBAL => None,
                space => self.in_space(space, name),
            };
            if let Some(hit) = hit.or_else(|| self.in_list(level.using, name)) {
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
    fn in_list(&self, list: usize, name: Name) -> Option<Hit> {
        let spaces = self.lists.get(list).filter(|spaces| !spaces.is_empty())?;
        let key = (list, name, self.current());
        if let Some(known) = self.found.borrow().get(&key) {
            return known.clone();
        }
        // Whichever is shorter is gone through: the namespaces, or those that have the name.
        let elsewhere = self.table.elsewhere.get(&name)?;
        let mut found: Vec<Member> = if elsewhere.len() < spaces.len() {
            elsewhere.iter().filter(|member| spaces.contains(&member.holder)).copied().collect()
        } else {
            let members = spaces.iter().filter_map(|space| self.table.members.get(&(*space, name)));
            members.filter(|member| member.kind == Kind::Declaration).copied().collect()
        };
        if found.iter().any(|member| self.may_reach(member)) {
            found.retain(|member| self.may_reach(member));
        }
        let hit = match found.as_slice() {
            [] => None,
            [one] => Some(Hit::Found(*one)),
            _ => Some(Hit::Ambiguous(found)),
        };
        self.found.borrow_mut().insert(key, hit.clone());
        hit
    }

    fn is_standard(&self, name: Name) -> bool {
        let spelling = self.spelling(name);
        latchwork_stdlib::function(spelling).is_some() || latchwork_stdlib::block(spelling).is_some()
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
        self.check_reach(*first, &member);
        for ident in rest {
            match self.table.members.get(&(space, ident.name)).copied() {
                Some(member @ Member { kind: Kind::Space(inner), .. }) => {
                    self.check_reach(*ident, &member);
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

    /// Reports something internal that is reached from outside.
    fn check_reach(&mut self, ident: Ident, member: &Member) {
        if !self.may_reach(member) {
            self.report_internal(ident.span, member);
        }
    }

    /// The full name of a declaration written with its namespaces. Reports what is not there.
    pub(super) fn qualified(&mut self, name: &QualifiedName) -> Option<Name> {
        let space = self.space_of(&name.path)?;
        match self.table.members.get(&(space, name.name.name)).copied() {
            Some(member @ Member { kind: Kind::Declaration, .. }) => {
                self.check_reach(name.name, &member);
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
                self.check_reach(ident, &member);
                member.full
            }
            Hit::Ambiguous(found) => {
                self.report_ambiguous(ident, &found);
                found.first().map_or(ident.name, |member| member.full)
            }
            Hit::Nothing if self.is_standard(ident.name) => ident.name,
            Hit::Nothing => {
                let elsewhere = self.table.elsewhere.get(&ident.name).into_iter().flatten();
                let reachable: Vec<Member> =
                    elsewhere.take(ELSEWHERE_MAX).filter(|member| self.may_reach(member)).copied().collect();
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
}
