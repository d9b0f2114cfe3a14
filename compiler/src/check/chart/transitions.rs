//! Transitions: the steps they leave and enter, and their priorities.
//!
//! Source: IEC 61131-3:2013, 6.7.3 and table 55; 6.7.5 and table 61 for priorities.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Ident},
};

use super::{Condition, Crossing, Network};
use crate::{check::Checker, nearest::nearest};

impl<'a> Checker<'a> {
    /// Finds the steps of all transitions.
    pub(super) fn find_transitions(&mut self, network: &mut Network<'_>) {
        let mut labels: BTreeMap<_, Span> = BTreeMap::new();
        for tree in &network.tree.transitions {
            let from = self.listed_steps(network, &tree.from, "FROM");
            let to = self.listed_steps(network, &tree.to, "TO");
            if let Some(name) = tree.name
                && let Some(first) = labels.insert(name.name, name.span)
            {
                self.report_duplicate(name, first, "transitions");
            }
            network.transitions.push(Crossing { tree, from, to, condition: Condition::default() });
        }
        self.check_priorities(network);
    }

    fn listed_steps<'t>(&mut self, network: &mut Network<'t>, list: &'t [Ident], word: &str) -> Vec<usize> {
        let mut found = Vec::with_capacity(list.len());
        let mut places: BTreeMap<usize, Span> = BTreeMap::new();
        for ident in list {
            let Some(step) = self.find_step(network, *ident) else {
                network.sound = false;
                continue;
            };
            if let Some(first) = places.get(&step) {
                let (first, name) = (*first, self.text(ident.span));
                network.sound = false;
                self.report(
                    Diagnostic::error(
                        "duplicate-step",
                        ident.span,
                        format!("the step `{name}` stands twice behind {word}"),
                    )
                    .label("again")
                    .also(first, "stands here first"),
                );
                continue;
            }
            places.insert(step, ident.span);
            found.push(step);
        }
        network.sound &= !found.is_empty();
        found
    }

    /// The number of a step; `None` after a report.
    fn find_step(&mut self, network: &Network<'_>, ident: Ident) -> Option<usize> {
        let scope = &self.units[self.unit?.0 as usize];
        let names = scope.chart.as_ref()?;
        if let Some(step) = names.step_names.get(&ident.name) {
            return Some(*step);
        }
        let damaged = scope.tree.damaged;
        let other =
            scope.by_name.get(&ident.name).map(|id| (scope.variables[id.0 as usize].span, "a variable"));
        let spelling = self.text(ident.span);
        let action = names.actions.get(&ident.name).and_then(|index| match &scope.tree.body {
            tree::Body::SequentialFunctionChart(chart) => {
                Some((chart.actions.get(*index)?.name.span, "an action"))
            }
            _ => None,
        });
        if damaged || network.taken.contains(&ident.name) {
            // The step may be the piece that could not be read.
            return None;
        }
        let mut diagnostic = Diagnostic::error(
            "unknown-step",
            ident.span,
            format!("there is no step `{spelling}` in this chart"),
        )
        .label("not a step");
        match other.or(action) {
            Some((place, what)) => diagnostic = diagnostic.also(place, format!("{what} of this name")),
            None => {
                let count = names.step_names.len();
                let search = self.may_search(count);
                let scope = &self.units[self.unit?.0 as usize];
                let known = scope.chart.iter().flat_map(|names| names.step_names.keys());
                let known = known.map(|name| self.spelling(*name));
                diagnostic = match search.then(|| nearest(spelling, known)).flatten() {
                    Some(near) => {
                        let near = near.to_owned();
                        diagnostic.fix(format!("write `{near}`"), ident.span, &near)
                    }
                    None => diagnostic.note(format!("declare it: `STEP {spelling}: … END_STEP`")),
                };
            }
        }
        self.report(diagnostic);
        None
    }

    /// Of the transitions that leave a step either all have a priority or none, and no two the same.
    fn check_priorities<'t>(&mut self, network: &Network<'t>) {
        let mut leaving: Vec<Vec<&'t tree::Transition>> = vec![Vec::new(); network.steps.len()];
        for crossing in &network.transitions {
            for step in &crossing.from {
                leaving[*step].push(crossing.tree);
            }
        }
        for (step, transitions) in leaving.into_iter().enumerate() {
            let mut numbers: BTreeMap<u32, Span> = BTreeMap::new();
            let mut without = None;
            for transition in transitions {
                let Some((number, span)) = transition.priority else {
                    without = without.or(Some(transition.heading));
                    continue;
                };
                let Some(first) = numbers.insert(number, span) else { continue };
                let name = self.text(network.step_name(step).span);
                self.report(
                    Diagnostic::error(
                        "transition-priority",
                        span,
                        format!("two transitions from `{name}` have the priority {number}"),
                    )
                    .label("again")
                    .also(first, "here first")
                    .note(
                        "where both are TRUE nothing would say which one clears; the lower number goes first",
                    ),
                );
            }
            if let (Some(heading), Some((_, with))) = (without, numbers.first_key_value()) {
                let name = self.text(network.step_name(step).span);
                self.report(
                    Diagnostic::warning(
                        "priority-mixed",
                        heading,
                        format!("this transition from `{name}` has no priority, another one has"),
                    )
                    .label("comes behind all transitions with a number")
                    .also(*with, "a priority here")
                    .note("give a number to each transition that leaves the step, or to none"),
                );
            }
        }
    }

    /// How a transition is called in messages: by its name, or by its steps.
    pub(super) fn transition_label(&self, network: &Network<'_>, index: usize) -> String {
        let Some(crossing) = network.transitions.get(index) else { return String::new() };
        match crossing.tree.name {
            Some(name) => format!("`{}`", self.text(name.span)),
            None => format!(
                "`{}` to `{}`",
                self.step_list(network, &crossing.from),
                self.step_list(network, &crossing.to)
            ),
        }
    }

    /// Names of steps, the first few of many.
    pub(super) fn step_list(&self, network: &Network<'_>, steps: &[usize]) -> String {
        /// Most names shown.
        const SHOWN_MAX: usize = 6;
        let shown: Vec<&str> =
            steps.iter().take(SHOWN_MAX).map(|step| self.text(network.step_name(*step).span)).collect();
        let more = if steps.len() > SHOWN_MAX { ", …" } else { "" };
        format!("{}{more}", shown.join(", "))
    }
}
