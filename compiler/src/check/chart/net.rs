//! The net of steps and transitions by itself: what can happen to it if any condition may be TRUE at any time.
//!
//! Knows numbers of steps and transitions alone, no names, no types, no conditions. IEC 61131-3:2013, 6.7.5
//! calls a network wrong that is unsafe (a step is activated while it is active) or unreachable (a step that can
//! never be active). How both are found is our choice: all sets of active steps are visited, the nearest first,
//! so that the sequence of transitions that leads to a mistake is a shortest one. Memory and work have limits;
//! beyond them nothing is claimed.

use std::{
    collections::{HashMap, VecDeque},
    rc::Rc,
};

/// Most sets of active steps visited.
const MARKINGS_MAX: usize = 100_000;

/// Most steps in all these sets together: some 16 megabytes.
const MEMORY_MAX: usize = 4_000_000;

/// Most comparisons; a second at worst.
const WORK_MAX: usize = 20_000_000;

/// A net; steps and transitions are numbered from 0.
#[derive(Clone, Debug, Default)]
pub(super) struct Net {
    pub(super) steps: usize,
    /// Active at the start.
    pub(super) initial: usize,
    pub(super) transitions: Vec<Arcs>,
    /// Sets of steps of which it matters whether two can be active together.
    pub(super) groups: Vec<Vec<Member>>,
}

/// What a transition leaves and enters, each in ascending order and no step twice.
#[derive(Clone, Debug, Default)]
pub(super) struct Arcs {
    pub(super) from: Vec<usize>,
    pub(super) to: Vec<usize>,
}

/// A step of a group; two steps with one key agree.
#[derive(Clone, Copy, Debug)]
pub(super) struct Member {
    pub(super) step: usize,
    pub(super) key: usize,
}

/// What was found about a net.
#[derive(Clone, Debug, Default)]
pub(super) struct Findings {
    /// All sets were visited, or the first unsafe one was met.
    pub(super) complete: bool,
    /// Transitions that clear one after the other until the last one activates a step that is active.
    pub(super) unsafe_by: Option<(Vec<usize>, usize)>,
    /// Steps that are never active, for a reason of their own.
    pub(super) dead_steps: Vec<usize>,
    /// Transitions whose steps all become active, but never together.
    pub(super) dead_transitions: Vec<usize>,
    /// Steps that nothing leaves.
    pub(super) dead_ends: Vec<usize>,
    /// The way to a set of steps in which each waits for others, and the set.
    pub(super) deadlock: Option<(Vec<usize>, Vec<usize>)>,
    /// For each group the first two steps found active together, and the first two with different keys.
    pub(super) together: Vec<Together>,
}

/// Steps of a group that can be active at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Together {
    pub(super) any: Option<(usize, usize)>,
    pub(super) different: Option<(usize, usize)>,
}

/// The active steps, in ascending order.
type Marking = Rc<[u32]>;

struct Search<'n> {
    net: &'n Net,
    /// Transitions by the least step they leave.
    leaving: Vec<Vec<usize>>,
    /// How each marking was reached: from which one, by which transition.
    reached: Vec<(u32, u32)>,
    known: HashMap<Marking, ()>,
    waiting: VecDeque<(Marking, u32)>,
    memory: usize,
    work: usize,
    active: Vec<bool>,
    cleared: Vec<bool>,
    findings: Findings,
}

/// Examines a net.
pub(super) fn examine(net: &Net) -> Findings {
    let mut search = Search {
        net,
        leaving: vec![Vec::new(); net.steps],
        reached: Vec::new(),
        known: HashMap::new(),
        waiting: VecDeque::new(),
        memory: 0,
        work: 0,
        active: vec![false; net.steps],
        cleared: vec![false; net.transitions.len()],
        findings: Findings { together: vec![Together::default(); net.groups.len()], ..Findings::default() },
    };
    search.dead_ends();
    search.run();
    let (active, cleared) = if search.findings.complete && search.findings.unsafe_by.is_none() {
        (std::mem::take(&mut search.active), std::mem::take(&mut search.cleared))
    } else {
        closure(net)
    };
    search.unreached(&active, &cleared);
    search.findings
}

/// Steps that could become active, and transitions that could clear, if active steps stayed active: what is not
/// among them never happens, however large the net is.
fn closure(net: &Net) -> (Vec<bool>, Vec<bool>) {
    let mut needed_by = vec![Vec::new(); net.steps];
    let mut missing: Vec<usize> = net.transitions.iter().map(|arcs| arcs.from.len()).collect();
    for (index, arcs) in net.transitions.iter().enumerate() {
        for step in &arcs.from {
            needed_by[*step].push(index);
        }
    }
    let mut active = vec![false; net.steps];
    let mut cleared = vec![false; net.transitions.len()];
    let mut new = vec![net.initial];
    if let Some(initial) = active.get_mut(net.initial) {
        *initial = true;
    }
    while let Some(step) = new.pop() {
        for transition in &needed_by[step] {
            missing[*transition] -= 1;
            if missing[*transition] == 0 {
                cleared[*transition] = true;
                for next in &net.transitions[*transition].to {
                    if !std::mem::replace(&mut active[*next], true) {
                        new.push(*next);
                    }
                }
            }
        }
    }
    (active, cleared)
}

impl Search<'_> {
    fn dead_ends(&mut self) {
        let mut left = vec![false; self.net.steps];
        for (index, arcs) in self.net.transitions.iter().enumerate() {
            for step in &arcs.from {
                left[*step] = true;
            }
            if let Some(least) = arcs.from.iter().min() {
                self.leaving[*least].push(index);
            }
        }
        self.findings.dead_ends = (0..self.net.steps).filter(|step| !left[*step]).collect();
    }

    fn run(&mut self) {
        if self.net.initial >= self.net.steps {
            return;
        }
        self.active[self.net.initial] = true;
        self.enter(Rc::from([self.net.initial as u32]), (u32::MAX, u32::MAX));
        while let Some((marking, number)) = self.waiting.pop_front() {
            if !self.visit(&marking, number) {
                return;
            }
        }
        self.findings.complete = true;
    }

    /// Adds a marking if it is new; `false` at a limit.
    fn enter(&mut self, marking: Marking, by: (u32, u32)) -> bool {
        if self.known.contains_key(&marking) {
            return true;
        }
        self.memory += marking.len();
        if self.reached.len() >= MARKINGS_MAX || self.memory > MEMORY_MAX {
            return false;
        }
        self.known.insert(Rc::clone(&marking), ());
        self.waiting.push_back((marking, self.reached.len() as u32));
        self.reached.push(by);
        true
    }

    /// Clears each transition that a marking enables; `false` when the search has to end.
    fn visit(&mut self, marking: &[u32], number: u32) -> bool {
        let net = self.net;
        self.groups(marking);
        let mut enabled = false;
        for step in marking {
            for position in 0..self.leaving[*step as usize].len() {
                let transition = self.leaving[*step as usize][position];
                let arcs = &net.transitions[transition];
                self.work += arcs.from.len() + arcs.to.len();
                if !arcs.from.iter().all(|step| marking.binary_search(&(*step as u32)).is_ok()) {
                    continue;
                }
                enabled = true;
                self.cleared[transition] = true;
                self.work += marking.len();
                if self.work > WORK_MAX {
                    return false;
                }
                let mut next: Vec<u32> = marking
                    .iter()
                    .copied()
                    .filter(|step| arcs.from.binary_search(&(*step as usize)).is_err())
                    .collect();
                for step in &arcs.to {
                    match next.binary_search(&(*step as u32)) {
                        Ok(_) => {
                            let mut sequence = self.way(number);
                            sequence.push(transition);
                            self.findings.unsafe_by = Some((sequence, *step));
                            self.findings.complete = true;
                            return false;
                        }
                        Err(place) => next.insert(place, *step as u32),
                    }
                    self.active[*step] = true;
                }
                if !self.enter(next.into(), (number, transition as u32)) {
                    return false;
                }
            }
        }
        let ends =
            marking.iter().any(|step| self.findings.dead_ends.binary_search(&(*step as usize)).is_ok());
        if !enabled && !ends && self.findings.deadlock.is_none() {
            let steps = marking.iter().map(|step| *step as usize).collect();
            self.findings.deadlock = Some((self.way(number), steps));
        }
        true
    }

    fn groups(&mut self, marking: &[u32]) {
        for (group, together) in self.net.groups.iter().zip(&mut self.findings.together) {
            self.work += group.len();
            if together.different.is_some() {
                continue;
            }
            let mut active =
                group.iter().filter(|member| marking.binary_search(&(member.step as u32)).is_ok());
            let Some(first) = active.next() else { continue };
            for other in active {
                together.any.get_or_insert((first.step, other.step));
                if other.key != first.key {
                    together.different = Some((first.step, other.step));
                    break;
                }
            }
        }
    }

    /// The transitions that lead to a marking.
    fn way(&self, number: u32) -> Vec<usize> {
        let mut way = Vec::new();
        let mut at = number;
        while let Some((before, transition)) = self.reached.get(at as usize).copied()
            && before != u32::MAX
        {
            way.push(transition as usize);
            at = before;
        }
        way.reverse();
        way
    }

    /// What never happens, and not only because of something before it that never happens either.
    fn unreached(&mut self, active: &[bool], cleared: &[bool]) {
        let net = self.net;
        let mut entered = vec![false; net.steps];
        let mut onwards = vec![Vec::new(); net.steps];
        for (index, arcs) in net.transitions.iter().enumerate() {
            arcs.to.iter().for_each(|step| entered[*step] = true);
            arcs.from.iter().for_each(|step| onwards[*step].push(index));
        }
        let mut explained = vec![false; net.steps];
        let mut waiting = Vec::new();
        for step in (0..net.steps).filter(|step| *step != net.initial && !entered[*step]) {
            self.findings.dead_steps.push(step);
            waiting.push(step);
        }
        for (index, arcs) in net.transitions.iter().enumerate() {
            if !cleared[index] && arcs.from.iter().all(|step| active[*step]) && !arcs.from.is_empty() {
                self.findings.dead_transitions.push(index);
                waiting.extend(arcs.to.iter().copied());
            }
        }
        let mut passed = vec![false; net.transitions.len()];
        let mut spread = |waiting: &mut Vec<usize>, explained: &mut Vec<bool>| {
            while let Some(step) = waiting.pop() {
                if std::mem::replace(&mut explained[step], true) {
                    continue;
                }
                for transition in &onwards[step] {
                    if !std::mem::replace(&mut passed[*transition], true) {
                        waiting.extend(&net.transitions[*transition].to);
                    }
                }
            }
        };
        spread(&mut waiting, &mut explained);
        for step in 0..net.steps {
            if !active[step] && !explained[step] {
                self.findings.dead_steps.push(step);
                waiting.push(step);
                spread(&mut waiting, &mut explained);
            }
        }
    }
}

#[cfg(test)]
mod tests;
