//! CASE: the selector is evaluated once and looked for among the labels, by halving where there are many.
//!
//! Implements IEC 61131-3:2013, 7.3.3.3.2. No label is in two groups, so the order of the tests does not matter.

use latchwork_vm::{Family, Scalar};

use super::{code::Label, unit::Lowering};
use crate::{
    coverage::ArmKind,
    layout::Spot,
    typed::{CaseGroup, Expression, Statement},
};

/// Up to so many single values are tested one after another.
const LINEAR_VALUES_MAX: usize = 3;

/// Values that lead to one place.
#[derive(Clone, Copy, Debug)]
struct Target {
    first: i128,
    last: i128,
    label: Label,
}

/// What is looked for, and where it is if it is nowhere.
#[derive(Clone, Copy, Debug)]
struct Search {
    selector: Spot,
    scalar: Scalar,
    /// Outcome of a test.
    hit: Spot,
    other: Label,
}

impl Lowering<'_> {
    /// `CASE … OF … ELSE … END_CASE`
    pub(super) fn case_statement(
        &mut self,
        selector: &Expression,
        groups: &[CaseGroup],
        otherwise: &[Statement],
    ) {
        let mark = self.top;
        self.span = selector.span;
        let scalar = self.scalar(selector.ty);
        let spot = self.operand(selector);
        let labels: Vec<Label> = groups.iter().map(|_| self.code.label()).collect();
        let other = self.code.label();
        let end = self.code.label();
        let (least, greatest) = limits(scalar);
        let targets = targets(groups, &labels, least, greatest);
        let hit = self.scalar_temporary(Scalar::U8);
        let search = Search { selector: spot, scalar, hit, other };
        self.search(search, &targets, least, greatest);
        // Bodies may use the selector's temporary again.
        self.top = mark;
        let mut arms = Vec::new();
        for ((_, body), label) in groups.iter().zip(labels) {
            self.code.bind(label);
            self.observe_arm(Self::labels_of(body).map(ArmKind::Group), &mut arms);
            self.statements(body);
            if !self.code.ended() {
                self.emit(Family::Jump, Scalar::U8, &[end.into()]);
            }
        }
        self.code.bind(other);
        self.observe_arm(Some(ArmKind::NoGroup), &mut arms);
        self.branch(selector.span, "CASE", arms);
        self.statements(otherwise);
        self.code.bind(end);
    }

    /// Jumps to where the selector leads, which is known to lie between `least` and `greatest`.
    fn search(&mut self, search: Search, targets: &[Target], least: i128, greatest: i128) {
        if let Some(label) = search.only(targets, least, greatest) {
            return self.emit(Family::Jump, Scalar::U8, &[label.into()]);
        }
        let singles = targets.iter().all(|target| target.first == target.last);
        match targets {
            _ if singles && targets.len() <= LINEAR_VALUES_MAX => {
                for target in targets {
                    let value = self.integer(target.first, search.scalar);
                    let operands = [search.hit.into(), search.selector.into(), value.into()];
                    self.emit(Family::Equal, search.scalar.bits(), &operands);
                    self.emit(Family::JumpIf, Scalar::U8, &[search.hit.into(), target.label.into()]);
                }
                self.emit(Family::Jump, Scalar::U8, &[search.other.into()]);
            }
            [Target { first, last, label }] => {
                if *first > least {
                    self.below(search, *first, search.other);
                }
                if *last < greatest {
                    self.below(search, *last + 1, *label);
                    self.emit(Family::Jump, Scalar::U8, &[search.other.into()]);
                } else {
                    self.emit(Family::Jump, Scalar::U8, &[(*label).into()]);
                }
            }
            _ => {
                let (lower, upper) = targets.split_at(targets.len() / 2);
                let Some(middle) = upper.first().map(|target| target.first) else { return };
                if let Some(label) = search.only(lower, least, middle - 1) {
                    self.below(search, middle, label);
                    self.search(search, upper, middle, greatest);
                } else {
                    let below = self.code.label();
                    self.below(search, middle, below);
                    self.search(search, upper, middle, greatest);
                    self.code.bind(below);
                    self.search(search, lower, least, middle - 1);
                }
            }
        }
    }

    /// Jumps to a label where the selector is less than a value.
    fn below(&mut self, search: Search, value: i128, label: Label) {
        let value = self.integer(value, search.scalar);
        let operands = [search.hit.into(), search.selector.into(), value.into()];
        self.emit(Family::Less, search.scalar, &operands);
        self.emit(Family::JumpIf, Scalar::U8, &[search.hit.into(), label.into()]);
    }
}

impl Search {
    /// The one place that all values from `least` to `greatest` lead to, if there is only one.
    fn only(self, targets: &[Target], least: i128, greatest: i128) -> Option<Label> {
        match targets {
            [] => Some(self.other),
            [Target { first, last, label }] if *first <= least && *last >= greatest => Some(*label),
            _ => None,
        }
    }
}

/// The labels of the groups in ascending order, neighbours that lead to one place together.
fn targets(groups: &[CaseGroup], labels: &[Label], least: i128, greatest: i128) -> Vec<Target> {
    let mut all: Vec<Target> = Vec::new();
    for ((ranges, _), label) in groups.iter().zip(labels) {
        for (first, last) in ranges {
            // What the type cannot hold never matches.
            let (first, last) = ((*first).max(least), (*last).min(greatest));
            if first <= last {
                all.push(Target { first, last, label: *label });
            }
        }
    }
    all.sort_by_key(|target| target.first);
    let mut joined: Vec<Target> = Vec::with_capacity(all.len());
    for target in all {
        match joined.last_mut() {
            Some(before) if before.label == target.label && before.last + 1 == target.first => {
                before.last = target.last;
            }
            _ => joined.push(target),
        }
    }
    joined
}

/// The least and the greatest value of an integer scalar.
fn limits(scalar: Scalar) -> (i128, i128) {
    let bits = scalar.size() * 8;
    if scalar.is_signed() {
        (-(1i128 << (bits - 1)), (1i128 << (bits - 1)) - 1)
    } else {
        (0, (1i128 << bits) - 1)
    }
}
