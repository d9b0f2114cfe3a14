//! What would have to differ for an expression to have the other value: the smallest sets of its parts.
//!
//! Parts that stand for one variable differ together. Up to [`EXACT_MAX`] different parts all sets of up to [`SIZE_MAX`]
//! of them are tried, so that none is missed; of more parts those sets are taken that follow from the operators, and
//! tried too: whatever is told does change the value.

use std::collections::BTreeSet;

use latchwork_compiler::logic::Part;

use super::decide::{Operator, Truth, truth};

/// Most different parts of which every small set is tried.
const EXACT_MAX: usize = 14;

/// Most parts of a set.
pub(crate) const SIZE_MAX: usize = 4;

/// Most sets that are kept on the way and told.
pub(crate) const SETS_MAX: usize = 64;

/// A set of parts, by the place of the first part that stands for the same.
type Set = BTreeSet<usize>;

/// The parts of an expression that are no Boolean operators.
pub(crate) struct Atoms<'p> {
    /// Each with the number of the first one that stands for the same.
    atoms: Vec<(&'p Part, usize)>,
}

impl<'p> Atoms<'p> {
    /// Takes them from an expression; `same` tells what a part stands for.
    pub(crate) fn of<K: PartialEq>(part: &'p Part, same: impl Fn(&Part) -> K) -> Self {
        let mut parts = Vec::new();
        atoms(part, &mut parts);
        let keys: Vec<K> = parts.iter().map(|part| same(part)).collect();
        let first = |key: &K| keys.iter().position(|other| other == key).unwrap_or_default();
        let atoms = parts.iter().zip(&keys).map(|(part, key)| (*part, first(key))).collect();
        Atoms { atoms }
    }

    /// The smallest sets whose change gives the other value, those with fewest parts first, and none that holds another.
    pub(crate) fn smallest(
        &self,
        whole: &Part,
        noted: Truth<'_>,
        fixed: &dyn Fn(&Part) -> bool,
    ) -> Vec<Vec<&'p Part>> {
        let Some(value) = truth(whole, noted) else { return Vec::new() };
        let distinct: Vec<usize> = self
            .atoms
            .iter()
            .enumerate()
            .filter(|(index, (part, first))| index == first && !fixed(part))
            .map(|(index, _)| index)
            .collect();
        let changes = |set: &Set| self.changed(whole, noted, set).is_some_and(|changed| changed != value);
        let mut found: Vec<Set> = if distinct.len() <= EXACT_MAX {
            subsets(&distinct, &changes)
        } else {
            let mut next = 0;
            let mut sets = self.following(whole, noted, &mut next);
            sets.retain(|set| set.iter().all(|atom| distinct.contains(atom)) && changes(set));
            sets
        };
        found.sort_by_key(|set| (set.len(), set.iter().copied().collect::<Vec<_>>()));
        let mut smallest: Vec<Set> = Vec::new();
        for set in found {
            if !smallest.iter().any(|smaller| smaller.is_subset(&set)) {
                smallest.push(set);
            }
        }
        smallest.truncate(SETS_MAX);
        let parts =
            |set: &Set| set.iter().filter_map(|atom| self.atoms.get(*atom)).map(|(part, _)| *part).collect();
        smallest.iter().map(parts).collect()
    }

    /// The value of the whole with the parts of a set the other way round.
    fn changed(&self, whole: &Part, noted: Truth<'_>, set: &Set) -> Option<bool> {
        self.value(whole, noted, set, &mut 0)
    }

    fn value(&self, part: &Part, noted: Truth<'_>, set: &Set, next: &mut usize) -> Option<bool> {
        if let Some((operator, operands)) = Operator::of(part) {
            // All of them, so that the atoms are counted.
            let values: Vec<_> =
                operands.iter().map(|operand| self.value(operand, noted, set, next)).collect();
            return operator.value(values.into_iter());
        }
        let first = self.atoms.get(*next).map(|(_, first)| *first);
        *next += 1;
        let value = truth(part, noted)?;
        Some(value ^ first.is_some_and(|first| set.contains(&first)))
    }

    /// The sets that follow from the operators: one of the operands that agree, or all of those that decide.
    fn following(&self, part: &Part, noted: Truth<'_>, next: &mut usize) -> Vec<Set> {
        let Some((operator, operands)) = Operator::of(part) else {
            let first = self.atoms.get(*next).map(|(_, first)| *first);
            *next += 1;
            return first.into_iter().map(|first| Set::from([first])).collect();
        };
        let value = truth(part, noted);
        let decisive = (operator == Operator::And && value == Some(false))
            || (operator == Operator::Or && value == Some(true));
        let mut all: Vec<Set> = if decisive { vec![Set::new()] } else { Vec::new() };
        for operand in operands {
            let of_operand = self.following(operand, noted, next);
            if !decisive {
                all.extend(of_operand);
            } else if truth(operand, noted) == value {
                all = all
                    .iter()
                    .flat_map(|set| of_operand.iter().map(move |other| set.union(other).copied().collect()))
                    .collect();
            }
            all.sort_by_key(BTreeSet::len);
            all.truncate(SETS_MAX);
        }
        all
    }
}

fn atoms<'p>(part: &'p Part, found: &mut Vec<&'p Part>) {
    match Operator::of(part) {
        Some((_, operands)) => operands.iter().for_each(|operand| atoms(operand, found)),
        None => found.push(part),
    }
}

/// All sets of few elements that pass, without those that hold another.
fn subsets(elements: &[usize], passes: &dyn Fn(&Set) -> bool) -> Vec<Set> {
    let mut found: Vec<Set> = Vec::new();
    let mut tried = vec![Set::new()];
    for _ in 0..SIZE_MAX {
        let mut longer = Vec::new();
        for set in &tried {
            let last = set.last().copied();
            for element in elements.iter().filter(|element| last.is_none_or(|last| **element > last)) {
                let mut set = set.clone();
                set.insert(*element);
                if found.iter().any(|smaller| smaller.is_subset(&set)) {
                    continue;
                }
                if passes(&set) {
                    found.push(set);
                } else {
                    longer.push(set);
                }
            }
        }
        tried = longer;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{super::decide::deciding, Atoms, SETS_MAX, truth};
    use latchwork_compiler::logic::{Part, PartKind, PartValue};
    use latchwork_grammar::Span;
    use latchwork_vm::ElementaryType;
    use proptest::prelude::*;

    /// A random expression over a few variables; the number of a variable is its name.
    fn expression() -> impl Strategy<Value = Part> {
        let leaf = (0..5_u32).prop_map(|variable| {
            part(variable, PartKind::Variable { hidden: false, subscripts: Vec::new() })
        });
        leaf.prop_recursive(4, 24, 4, |inner| {
            let row = prop::collection::vec(inner.clone(), 2..4);
            let operator = (prop::sample::select(vec!["AND", "OR", "XOR"]), row);
            prop_oneof![
                3 => operator.prop_map(|(name, operands)| part(0, PartKind::Operation { name, operands })),
                1 => inner.prop_map(|operand| part(0, PartKind::Operation { name: "NOT", operands: vec![operand] })),
            ]
        })
    }

    fn part(number: u32, kind: PartKind) -> Part {
        Part {
            number,
            span: Span::default(),
            text: String::new(),
            value: PartValue::Elementary(ElementaryType::Bool),
            bytes: 1,
            kind,
        }
    }

    fn value(part: &Part, values: u32) -> bool {
        let noted = |part: &Part| match part.kind {
            PartKind::Variable { .. } => Some(values >> part.number & 1 == 1),
            _ => None,
        };
        truth(part, &noted).unwrap()
    }

    proptest! {
        /// As long as the parts that are told as deciding keep their values, the others may be anything.
        #[test]
        fn what_decides_decides(whole in expression(), values in 0..32_u32) {
            let noted = |part: &Part| match part.kind {
                PartKind::Variable { .. } => Some(values >> part.number & 1 == 1),
                _ => None,
            };
            let kept = deciding(&whole, &noted).iter().fold(0, |mask, part| mask | 1 << part.number);
            for others in 0..32_u32 {
                let changed = (values & kept) | (others & !kept);
                prop_assert_eq!(value(&whole, changed), value(&whole, values), "{:b} {:b}", values, changed);
            }
        }

        /// Each set that is told changes the value, none of its parts could be left out, and no smaller set is missing.
        #[test]
        fn smallest_changes_are_smallest_and_complete(whole in expression(), values in 0..32_u32) {
            let noted = |part: &Part| match part.kind {
                PartKind::Variable { .. } => Some(values >> part.number & 1 == 1),
                _ => None,
            };
            let before = value(&whole, values);
            let sets = Atoms::of(&whole, |part| part.number).smallest(&whole, &noted, &|_| false);
            let masks: Vec<u32> =
                sets.iter().map(|set| set.iter().fold(0, |mask, part| mask | 1 << part.number)).collect();
            prop_assert!(masks.len() <= SETS_MAX);
            for mask in &masks {
                prop_assert_ne!(value(&whole, values ^ mask), before, "{:b}", mask);
            }
            for mask in (1..32_u32).filter(|mask| mask.count_ones() as usize <= super::SIZE_MAX) {
                let smaller = |other: &u32| other & mask == *other;
                let changes = value(&whole, values ^ mask) != before;
                prop_assert!(!changes || masks.iter().any(smaller), "{:b} is missing", mask);
                if masks.contains(&mask) {
                    prop_assert_eq!(masks.iter().filter(|other| smaller(other)).count(), 1);
                }
            }
        }
    }
}
