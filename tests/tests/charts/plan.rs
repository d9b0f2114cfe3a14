//! A chart made at random: blocks of sequences, selections and simultaneous branches inside one another, with detours
//! and loops, so that it is safe by the way it is made.

use std::fmt::Write;

use latchwork_tests::generate::Numbers;

/// Qualifiers with and without a time.
pub const QUALIFIERS: [&str; 11] = ["N", "R", "S", "L", "D", "P", "SD", "DS", "SL", "P1", "P0"];

pub struct Transition {
    pub from: Vec<usize>,
    pub to: Vec<usize>,
    pub priority: Option<u32>,
}

pub struct Action {
    pub boolean: bool,
    /// In nanoseconds: one for all associations of the action.
    pub time: i64,
}

pub struct Association {
    pub step: usize,
    pub action: usize,
    pub qualifier: &'static str,
}

#[derive(Default)]
pub struct Plan {
    pub steps: usize,
    pub transitions: Vec<Transition>,
    pub actions: Vec<Action>,
    /// In the order of the text.
    pub associations: Vec<Association>,
    /// The initial step.
    pub start: usize,
    /// Whether a step can be active together with others: two timed associations there would contend.
    parallel: Vec<bool>,
}

pub fn is_timed(qualifier: &str) -> bool {
    matches!(qualifier, "L" | "D" | "SD" | "DS" | "SL")
}

impl Plan {
    pub fn new(numbers: &mut Numbers) -> Self {
        let mut plan = Plan::default();
        let (entry, exit) = plan.block(numbers, 3, false);
        plan.start = entry;
        plan.lead(&[exit], &[entry]);
        plan.mix(numbers);
        plan.number(numbers);
        plan.act(numbers);
        plan
    }

    fn step(&mut self, parallel: bool) -> usize {
        self.steps += 1;
        self.parallel.push(parallel);
        self.steps - 1
    }

    fn lead(&mut self, from: &[usize], to: &[usize]) {
        self.transitions.push(Transition { from: from.to_vec(), to: to.to_vec(), priority: None });
    }

    /// A block with the step it begins with and the one it ends with.
    fn block(&mut self, numbers: &mut Numbers, depth: usize, parallel: bool) -> (usize, usize) {
        let kind = if depth == 0 { 0 } else { numbers.below(5) };
        match kind {
            1 => {
                let (entry, middle) = self.block(numbers, depth - 1, parallel);
                let (next, exit) = self.block(numbers, depth - 1, parallel);
                self.lead(&[middle], &[next]);
                (entry, exit)
            }
            2 => {
                let (entry, exit) = (self.step(parallel), self.step(parallel));
                for _ in 0..2 + numbers.below(2) {
                    let (first, last) = self.block(numbers, depth - 1, parallel);
                    self.lead(&[entry], &[first]);
                    self.lead(&[last], &[exit]);
                }
                (entry, exit)
            }
            3 => {
                let (entry, exit) = (self.step(parallel), self.step(parallel));
                let branches: Vec<_> =
                    (0..2 + numbers.below(2)).map(|_| self.block(numbers, depth - 1, true)).collect();
                let firsts: Vec<usize> = branches.iter().map(|(first, _)| *first).collect();
                let lasts: Vec<usize> = branches.iter().map(|(_, last)| *last).collect();
                self.lead(&[entry], &firsts);
                self.lead(&lasts, &[exit]);
                (entry, exit)
            }
            4 => {
                // A loop inside: back to the start of the block.
                let (entry, exit) = self.block(numbers, depth - 1, parallel);
                self.lead(&[exit], &[entry]);
                (entry, exit)
            }
            _ => {
                let step = self.step(parallel);
                if numbers.below(3) == 0 {
                    // A detour, which competes with what else leaves the step.
                    let away = self.step(parallel);
                    self.lead(&[step], &[away]);
                    self.lead(&[away], &[step]);
                }
                (step, step)
            }
        }
    }

    /// Another order of the text.
    fn mix(&mut self, numbers: &mut Numbers) {
        for index in (1..self.transitions.len()).rev() {
            self.transitions.swap(index, numbers.below(index + 1));
        }
    }

    /// Priorities for some; no two equal, so that none are equal at a step.
    fn number(&mut self, numbers: &mut Numbers) {
        let count = self.transitions.len();
        for index in 0..count {
            if numbers.below(3) == 0 {
                let number = (numbers.below(50) * count + index) as u32;
                self.transitions[index].priority = Some(number);
            }
        }
    }

    fn act(&mut self, numbers: &mut Numbers) {
        for index in 0..3 + numbers.below(4) {
            let time = [0, 10, 20, 25, 60][numbers.below(5)] * 1_000_000;
            self.actions.push(Action { boolean: index % 3 == 2, time });
        }
        let mut timed_in_parallel = vec![false; self.actions.len()];
        for step in 0..self.steps {
            for (action, timed) in timed_in_parallel.iter_mut().enumerate() {
                if numbers.below(3) > 0 {
                    continue;
                }
                let qualifier = QUALIFIERS[numbers.below(QUALIFIERS.len())];
                if is_timed(qualifier) && self.parallel[step] {
                    // One in all branches: a second one could be active at the same time.
                    if std::mem::replace(timed, true) {
                        continue;
                    }
                }
                self.associations.push(Association { step, action, qualifier });
            }
        }
    }

    pub fn text(&self) -> String {
        let mut text = String::from("PROGRAM P\nVAR order : DINT;\n");
        for index in 0..self.transitions.len() {
            writeln!(text, "  c{index} : BOOL;").unwrap();
        }
        for (index, action) in self.actions.iter().enumerate() {
            let (name, kind) = if action.boolean { ("a", "BOOL") } else { ("n", "DINT") };
            writeln!(text, "  {name}{index} : {kind};").unwrap();
        }
        text.push_str("END_VAR\n");
        for step in 0..self.steps {
            write!(text, "{} s{step}:", if step == self.start { "INITIAL_STEP" } else { "STEP" }).unwrap();
            for it in self.associations.iter().filter(|it| it.step == step) {
                let time = self.actions[it.action].time / 1_000_000;
                let time = if is_timed(it.qualifier) { format!(", T#{time}ms") } else { String::new() };
                write!(text, " a{}({}{time});", it.action, it.qualifier).unwrap();
            }
            text.push_str(" END_STEP\n");
        }
        let list = |steps: &[usize]| {
            let names: Vec<String> = steps.iter().map(|step| format!("s{step}")).collect();
            if names.len() == 1 { names.concat() } else { format!("({})", names.join(", ")) }
        };
        for (index, transition) in self.transitions.iter().enumerate() {
            let priority =
                transition.priority.map_or(String::new(), |number| format!(" (PRIORITY := {number})"));
            let (from, to) = (list(&transition.from), list(&transition.to));
            writeln!(text, "TRANSITION{priority} FROM {from} TO {to} := c{index}; END_TRANSITION").unwrap();
        }
        for (index, _) in self.actions.iter().enumerate().filter(|(_, action)| !action.boolean) {
            writeln!(
                text,
                "ACTION a{index}: n{index} := n{index} + 1; order := (order * 31 + {index} + 1) MOD 1000003; END_ACTION"
            )
            .unwrap();
        }
        text.push_str("END_PROGRAM\n");
        text
    }
}
