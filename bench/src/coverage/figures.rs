//! Counts of what was covered of what there is.

use std::ops::AddAssign;

/// How many of how many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Figure {
    /// Covered.
    pub covered: usize,
    /// All.
    pub total: usize,
}

impl Figure {
    /// One thing, covered or not.
    pub(super) fn count(&mut self, covered: bool) {
        self.covered += usize::from(covered);
        self.total += 1;
    }

    /// Nothing is missing; also where there is nothing.
    pub const fn is_complete(self) -> bool {
        self.covered == self.total
    }

    /// Tenths of a percent, rounded down so that 100 % means all; `None` of nothing.
    pub fn permille(self) -> Option<usize> {
        (self.covered * 1000).checked_div(self.total)
    }
}

impl AddAssign for Figure {
    fn add_assign(&mut self, other: Self) {
        self.covered += other.covered;
        self.total += other.total;
    }
}

/// All figures of a unit or of a program.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Figures {
    /// Statements and instructions that were run.
    pub statements: Figure,
    /// Ways of branches that were gone.
    pub branches: Figure,
    /// Decisions that came out TRUE and FALSE.
    pub decisions: Figure,
    /// Conditions that were TRUE and FALSE.
    pub conditions: Figure,
    /// Conditions shown to decide by unique cause; by masking those that are coupled strongly, for which no unique cause
    /// is possible.
    pub unique_cause: Figure,
    /// Conditions shown to decide by masking.
    pub masking: Figure,
}

impl Figures {
    /// Whether nothing at all is missing.
    pub const fn is_complete(&self) -> bool {
        self.statements.is_complete()
            && self.branches.is_complete()
            && self.decisions.is_complete()
            && self.conditions.is_complete()
            && self.unique_cause.is_complete()
            && self.masking.is_complete()
    }
}

impl AddAssign for Figures {
    fn add_assign(&mut self, other: Self) {
        self.statements += other.statements;
        self.branches += other.branches;
        self.decisions += other.decisions;
        self.conditions += other.conditions;
        self.unique_cause += other.unique_cause;
        self.masking += other.masking;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hundred_percent_means_all() {
        let permille = |covered, total| Figure { covered, total }.permille();
        assert_eq!(permille(9999, 10_000), Some(999));
        assert_eq!(permille(1, 3), Some(333));
        assert_eq!(permille(7, 7), Some(1000));
        assert_eq!(permille(0, 0), None);
    }
}
