//! The exercise judged by its results: how hard its items are, whether they tell those who can from those who cannot, and
//! whether they measure one thing (classical item analysis).
//!
//! **Who counts.** Two groups are analysed. [`Statistics::ran`] are the students whose program ran: only they answered the
//! items one by one, and it is their figures that are shown first. [`Statistics::handed_in`] are all whose mark stands for
//! something handed in, so also those whose program does not compile, with no points on every item. Such rows of zeros
//! make every item look harder and all items look alike, so that discrimination and alpha come out higher than the items
//! deserve; that is why both are given. Students who handed in nothing are in neither, and neither are those where a
//! defect of this program showed ([`crate::marking::State::InternalFault`]): their mark says nothing.
//!
//! **Scores.** A student's score on an item are the points earned with it, and the total is their sum before anything is
//! deducted, since a deduction belongs to no item. Items worth nothing have no score and are left out of totals and alpha.
//!
//! **Arithmetic.** Points are whole hundredths, so every sum is exact and in no order; each figure comes from one division
//! (and a square root) of exact numbers. The order of students therefore changes not one bit. What is not defined is
//! `None`: it is told in words and never as a number.

mod bands;
mod distribution;
mod groups;
mod items;
mod reliability;
mod sums;

use std::collections::BTreeMap;

pub use self::{
    bands::{Agreement, Band, two_places},
    distribution::{BINS, Distribution},
    groups::{GROUP_MIN, group_size},
    items::{Analysis, ItemAnalysis},
};
use super::{Member, STEADY_STUDENTS};
use crate::marking::{MarkingScheme, State};

/// The exercise judged by its results.
#[derive(Clone, Debug, PartialEq)]
pub struct Statistics {
    /// How many students are in each state; states that nobody is in are left out.
    pub states: BTreeMap<State, usize>,
    /// Items by the students whose program ran.
    pub ran: Analysis,
    /// Items by all students who handed something in.
    pub handed_in: Analysis,
    /// Marks of all students who handed something in.
    pub totals: Distribution,
}

impl Statistics {
    /// Of a class.
    pub fn of(scheme: &MarkingScheme, members: &[Member]) -> Self {
        let mut states = BTreeMap::new();
        for member in members {
            *states.entry(member.state).or_insert(0) += 1;
        }
        let handed_in: Vec<&Member> = members.iter().filter(|member| is_handed_in(member.state)).collect();
        let ran: Vec<&Member> = members.iter().filter(|member| member.state == State::Ran).collect();
        Statistics {
            states,
            ran: Analysis::of(&scheme.items, &ran),
            handed_in: Analysis::of(&scheme.items, &handed_in),
            totals: Distribution::of(scheme.out_of, handed_in.iter().map(|member| member.total)),
        }
    }

    /// How many students are in a state.
    pub fn count(&self, state: State) -> usize {
        self.states.get(&state).copied().unwrap_or(0)
    }

    /// What must be said beside the figures because there are few students; `None` if there are enough.
    pub fn caution(&self) -> Option<String> {
        match self.ran.students {
            0 => Some("No program ran, so nothing can be said about the items.".to_owned()),
            1 => Some("Only one program ran, so nothing can be said about the items.".to_owned()),
            students if students < STEADY_STUDENTS => Some(format!(
                "Only {students} programs ran. With fewer than {STEADY_STUDENTS} these figures are unsteady: one student \
                 more or less moves them, and the next class may give others. Take them as a hint where to look, not as \
                 a judgement."
            )),
            _ => None,
        }
    }
}

/// Whether the mark of a student in this state stands for something handed in.
pub const fn is_handed_in(state: State) -> bool {
    match state {
        State::Ran | State::NotCompiled | State::Empty | State::OverBudget | State::Unreadable => true,
        State::NothingHandedIn | State::InternalFault => false,
    }
}
