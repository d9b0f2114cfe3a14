//! What to try, so that a condition that was not shown to decide is shown.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_compiler::coverage::{BooleanTree, Coupling, Node};

use super::{
    independence::{Pair, is_true},
    path::{Demand, Path},
};

/// Up to so many conditions that can be set freely, all their values are tried.
const TRIED_MAX: usize = 12;

/// So many of the evaluations seen are looked at for one that is near.
const NEAR_MAX: usize = 32;

/// Parts of a decision that are looked at to set its values.
const STEPS_MAX: u32 = 20_000;

/// What would show a condition to decide, by masking.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hint {
    /// One more evaluation, beside one that was seen.
    One {
        /// The conditions that were seen.
        seen: u64,
        /// The conditions to try.
        tried: u64,
    },
    /// Two more evaluations.
    Two(Pair),
    /// No values of the conditions can show it: the condition never decides.
    Impossible,
    /// None was found. The decision has many conditions that depend on one another.
    Unknown,
}

impl Hint {
    /// Whether it says what to try.
    pub const fn is_possible(self) -> bool {
        matches!(self, Hint::One { .. } | Hint::Two(_))
    }
}

/// The conditions of a decision in groups that always have the same value.
struct Groups {
    /// For each condition the bits of its group.
    of: Vec<u64>,
    /// The groups.
    all: Vec<u64>,
}

impl Groups {
    fn new(conditions: usize, couplings: &[Coupling]) -> Self {
        let mut of: Vec<u64> = (0..conditions.min(64)).map(|condition| 1 << condition).collect();
        for coupling in couplings.iter().filter(|coupling| coupling.strong) {
            let bits = |of: &[u64], condition: u32| of.get(condition as usize).copied().unwrap_or_default();
            let both = bits(&of, coupling.first) | bits(&of, coupling.second);
            for (condition, group) in of.iter_mut().enumerate() {
                if both >> condition & 1 == 1 {
                    *group = both;
                }
            }
        }
        let all: BTreeSet<u64> = of.iter().copied().collect();
        Groups { of, all: all.into_iter().collect() }
    }

    fn of(&self, condition: u32) -> u64 {
        self.of.get(condition as usize).copied().unwrap_or_default()
    }

    /// The conditions where these groups are TRUE.
    fn vector(&self, chosen: u32) -> u64 {
        let groups = self.all.iter().enumerate().filter(|(index, _)| chosen >> index & 1 == 1);
        groups.fold(0, |vector, (_, group)| vector | group)
    }
}

/// What would show a condition of a decision. `seen` are its evaluations so far.
pub fn hint(
    tree: &BooleanTree,
    conditions: usize,
    couplings: &[Coupling],
    seen: &BTreeSet<u64>,
    condition: u32,
) -> Hint {
    let paths = Path::all(tree, conditions);
    let Some(path) = paths.get(condition as usize) else { return Hint::Unknown };
    let groups = Groups::new(conditions, couplings);
    let search = Search { tree, path, groups: &groups, seen, condition };
    if groups.all.len() <= TRIED_MAX { search.all() } else { search.forced() }
}

struct Search<'a> {
    tree: &'a BooleanTree,
    path: &'a Path,
    groups: &'a Groups,
    seen: &'a BTreeSet<u64>,
    condition: u32,
}

impl Search<'_> {
    /// What must be the same in both evaluations, if the condition decides in one.
    fn signature(&self, vector: u64) -> Option<u64> {
        self.path.unmasked(&self.tree.values(vector))
    }

    /// The evaluations seen in which the condition decides, by its value and what must be the same.
    fn deciding(&self) -> BTreeMap<(u64, bool), Vec<u64>> {
        let mut found: BTreeMap<(u64, bool), Vec<u64>> = BTreeMap::new();
        for vector in self.seen {
            if let Some(signature) = self.signature(*vector) {
                let list = found.entry((signature, is_true(*vector, self.condition))).or_default();
                if list.len() < NEAR_MAX {
                    list.push(*vector);
                }
            }
        }
        found
    }

    /// Tries all values.
    fn all(&self) -> Hint {
        let deciding = self.deciding();
        let mut best: Option<(u32, u64, u64)> = None;
        let mut pairs: BTreeMap<u64, [Option<(u32, u64)>; 2]> = BTreeMap::new();
        for chosen in 0..1u32 << self.groups.all.len() {
            let tried = self.groups.vector(chosen);
            let Some(signature) = self.signature(tried) else { continue };
            let value = is_true(tried, self.condition);
            for seen in deciding.get(&(signature, !value)).into_iter().flatten() {
                let found = ((tried ^ seen).count_ones(), tried, *seen);
                best = Some(best.map_or(found, |best| best.min(found)));
            }
            let [no, yes] = pairs.entry(signature).or_default();
            let slot = if value { yes } else { no };
            let found = (self.distance(tried), tried);
            *slot = Some(slot.map_or(found, |best| best.min(found)));
        }
        if let Some((_, tried, seen)) = best {
            return Hint::One { seen, tried };
        }
        let pairs = pairs.values().filter_map(|found| match *found {
            [Some((from_no, when_false)), Some((from_yes, when_true))] => {
                Some((from_no + from_yes, Pair { when_false, when_true }))
            }
            _ => None,
        });
        pairs.min().map_or(Hint::Impossible, |(_, pair)| Hint::Two(pair))
    }

    /// How many conditions a vector changes of one that was seen.
    fn distance(&self, vector: u64) -> u32 {
        let near = self.seen.iter().take(NEAR_MAX);
        near.map(|seen| (vector ^ seen).count_ones()).min().unwrap_or_else(|| vector.count_ones())
    }

    /// Makes the condition decide by setting what stands beside it.
    fn forced(&self) -> Hint {
        let deciding = self.deciding();
        for ((signature, value), list) in &deciding {
            for seen in list {
                let tried = seen ^ self.groups.of(self.condition);
                if self.signature(tried) == Some(*signature) && is_true(tried, self.condition) != *value {
                    return Hint::One { seen: *seen, tried };
                }
            }
        }
        let bases = self.seen.iter().copied().take(NEAR_MAX).chain([0]);
        for base in bases {
            let mut forced =
                Forced { vector: base, fixed: self.groups.of(self.condition), steps_left: STEPS_MAX };
            let whole = self.path.beside.iter().all(|beside| match beside.demand {
                Demand::Value(value) => forced.force(self.tree, self.groups, beside.node, value),
                Demand::Same => true,
            });
            let own = self.groups.of(self.condition);
            let (when_false, when_true) = (forced.vector & !own, forced.vector | own);
            if whole
                && let Some(signature) = self.signature(when_false)
                && self.signature(when_true) == Some(signature)
            {
                let seen = |value| deciding.get(&(signature, value)).and_then(|list| list.first()).copied();
                return match (seen(false), seen(true)) {
                    (Some(seen), _) => Hint::One { seen, tried: when_true },
                    (None, Some(seen)) => Hint::One { seen, tried: when_false },
                    (None, None) => Hint::Two(Pair { when_false, when_true }),
                };
            }
        }
        Hint::Unknown
    }
}

/// Values that are being set, with as few changes as are easily found.
#[derive(Clone, Copy)]
struct Forced {
    vector: u64,
    /// Conditions that may not be changed any more.
    fixed: u64,
    steps_left: u32,
}

impl Forced {
    /// Gives a part a value; `false` if that was not found to be possible.
    fn force(&mut self, tree: &BooleanTree, groups: &Groups, node: u32, value: bool) -> bool {
        let Some(part) = tree.nodes().get(node as usize) else { return false };
        match self.steps_left.checked_sub(1) {
            Some(left) => self.steps_left = left,
            None => return false,
        }
        match *part {
            Node::Constant(constant) => constant == value,
            Node::Condition(number) => {
                let group = groups.of(number);
                if is_true(self.vector, number) != value {
                    if self.fixed & group != 0 {
                        return false;
                    }
                    self.vector ^= group;
                }
                self.fixed |= group;
                true
            }
            Node::Not(operand) => self.force(tree, groups, operand, !value),
            Node::And(left, right) if value => self.both(tree, groups, [(left, true), (right, true)]),
            Node::Or(left, right) if !value => self.both(tree, groups, [(left, false), (right, false)]),
            Node::And(left, right) | Node::Or(left, right) => {
                // One operand will do; the one that has the value already, if there is one.
                let values = tree.values(self.vector);
                let has = |operand: u32| values.get(operand as usize) == Some(&value);
                let order = if !has(left) && has(right) { [right, left] } else { [left, right] };
                order.into_iter().any(|operand| self.tried(|copy| copy.force(tree, groups, operand, value)))
            }
            Node::Xor(left, right) | Node::Equal(left, right) => {
                let equal = matches!(part, Node::Equal(..)) == value;
                let values = tree.values(self.vector);
                let now = values.get(left as usize).copied().unwrap_or_default();
                [now, !now].into_iter().any(|of_left| {
                    let of_right = if equal { of_left } else { !of_left };
                    self.tried(|copy| copy.both(tree, groups, [(left, of_left), (right, of_right)]))
                })
            }
        }
    }

    fn both(&mut self, tree: &BooleanTree, groups: &Groups, parts: [(u32, bool); 2]) -> bool {
        parts.into_iter().all(|(node, value)| self.force(tree, groups, node, value))
    }

    /// Keeps what was set only if it did.
    fn tried(&mut self, set: impl FnOnce(&mut Self) -> bool) -> bool {
        let mut copy = *self;
        let done = set(&mut copy);
        self.steps_left = copy.steps_left;
        if done {
            *self = copy;
        }
        done
    }
}
