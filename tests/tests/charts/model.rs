//! The rules of evolution and the figure of the action control as they are written, block by block.

use std::collections::BTreeMap;

use super::plan::{Plan, is_timed};

#[derive(Clone, Default)]
pub struct Step {
    pub active: bool,
    pub elapsed: i64,
    start: i64,
}

/// RS (table 43).
#[derive(Default)]
struct Bistable(bool);

impl Bistable {
    fn call(&mut self, set: bool, reset1: bool) -> bool {
        self.0 = !reset1 && (set || self.0);
        self.0
    }
}

/// TON (table 46).
#[derive(Default)]
struct OnDelay {
    since: Option<i64>,
    elapsed: bool,
}

impl OnDelay {
    fn call(&mut self, input: bool, time: i64, now: i64) -> bool {
        if !input {
            *self = OnDelay::default();
            return false;
        }
        let since = *self.since.get_or_insert(now);
        self.elapsed |= now - since >= time;
        self.elapsed
    }
}

/// R_TRIG (table 44), and a falling edge that begins with "was FALSE".
#[derive(Default)]
struct Edge(bool);

impl Edge {
    fn rising(&mut self, clock: bool) -> bool {
        let before = std::mem::replace(&mut self.0, clock);
        clock && !before
    }

    fn falling(&mut self, clock: bool) -> bool {
        let before = std::mem::replace(&mut self.0, clock);
        before && !clock
    }
}

#[derive(Default)]
pub struct Action {
    pub value: bool,
    pub runs: i64,
    ends: bool,
    s_ff: Bistable,
    l_tmr: OnDelay,
    d_tmr: OnDelay,
    p_trig: Edge,
    p1_trig: Edge,
    p0_trig: Edge,
    sd_ff: Bistable,
    sd_tmr: OnDelay,
    ds_tmr: OnDelay,
    ds_ff: Bistable,
    sl_ff: Bistable,
    sl_tmr: OnDelay,
    q_fall: Edge,
}

pub struct Model<'p> {
    plan: &'p Plan,
    final_scan: bool,
    started: bool,
    pub steps: Vec<Step>,
    pub actions: Vec<Action>,
    pub order: i64,
    /// Actions in the order of first association.
    sequence: Vec<usize>,
}

impl<'p> Model<'p> {
    pub fn new(plan: &'p Plan, final_scan: bool) -> Self {
        let mut sequence = Vec::new();
        for step in 0..plan.steps {
            for it in plan.associations.iter().filter(|it| it.step == step) {
                if !sequence.contains(&it.action) {
                    sequence.push(it.action);
                }
            }
        }
        Model {
            plan,
            final_scan,
            started: false,
            steps: vec![Step::default(); plan.steps],
            actions: plan.actions.iter().map(|_| Action::default()).collect(),
            order: 0,
            sequence,
        }
    }

    /// One scan; the number of transitions that cleared.
    pub fn scan(&mut self, now: i64, inputs: &[bool]) -> usize {
        let cleared = if std::mem::replace(&mut self.started, true) {
            self.evolve(now, inputs)
        } else {
            self.steps[self.plan.start] = Step { active: true, elapsed: 0, start: now };
            0
        };
        for action in self.sequence.clone() {
            self.control(action, now);
        }
        let bodies: Vec<usize> =
            self.sequence.iter().copied().filter(|action| !self.plan.actions[*action].boolean).collect();
        for action in bodies.iter().copied() {
            if self.actions[action].ends {
                self.run(action);
            }
        }
        for action in bodies {
            if self.actions[action].value {
                self.run(action);
            }
        }
        cleared
    }

    fn run(&mut self, action: usize) {
        self.actions[action].runs += 1;
        self.order = (self.order * 31 + action as i64 + 1) % 1_000_003;
    }

    fn evolve(&mut self, now: i64, inputs: &[bool]) -> usize {
        for step in self.steps.iter_mut().filter(|step| step.active) {
            step.elapsed = now - step.start;
        }
        let enabled = |index: &usize| {
            let from = &self.plan.transitions[*index].from;
            inputs[*index] && from.iter().all(|step| self.steps[*step].active)
        };
        let mut clearing: Vec<usize> = (0..inputs.len()).filter(enabled).collect();
        // With priorities the lowest goes first, those without behind them in the order of the text.
        clearing.sort_by_key(|index| {
            (self.plan.transitions[*index].priority.map_or(u64::MAX, u64::from), *index)
        });
        let mut taken: BTreeMap<usize, usize> = BTreeMap::new();
        let mut cleared = Vec::new();
        for index in clearing {
            let from = &self.plan.transitions[index].from;
            if from.iter().all(|step| !taken.contains_key(step)) {
                from.iter().for_each(|step| {
                    taken.insert(*step, index);
                });
                cleared.push(index);
            }
        }
        for step in taken.keys() {
            self.steps[*step].active = false;
        }
        for index in &cleared {
            for step in &self.plan.transitions[*index].to {
                assert!(!self.steps[*step].active, "the charts are safe");
                self.steps[*step] = Step { active: true, elapsed: 0, start: now };
            }
        }
        cleared.len()
    }

    fn control(&mut self, number: usize, now: i64) {
        let held: Vec<&str> = self
            .plan
            .associations
            .iter()
            .filter(|it| it.action == number && self.steps[it.step].active)
            .map(|it| it.qualifier)
            .collect();
        assert!(held.iter().filter(|qualifier| is_timed(qualifier)).count() <= 1, "one time at once");
        let on = |qualifier: &str| held.contains(&qualifier);
        let time = self.plan.actions[number].time;
        let boolean = self.plan.actions[number].boolean;
        let final_scan = self.final_scan;
        let it = &mut self.actions[number];
        let r = on("R");
        let s_q = it.s_ff.call(on("S"), r);
        let l_q = it.l_tmr.call(on("L"), time, now);
        let d_q = it.d_tmr.call(on("D"), time, now);
        let p_q = it.p_trig.rising(on("P"));
        let p1_q = it.p1_trig.rising(on("P1"));
        let p0_q = it.p0_trig.falling(on("P0"));
        let sd = it.sd_ff.call(on("SD"), r);
        let sd_q = it.sd_tmr.call(sd, time, now);
        let ds = it.ds_tmr.call(on("DS"), time, now);
        let ds_q = it.ds_ff.call(ds, r);
        let sl = it.sl_ff.call(on("SL"), r);
        let sl_q = it.sl_tmr.call(sl, time, now);
        let q = !r && (on("N") || s_q || on("L") && !l_q || d_q || p_q || sd_q || ds_q || sl && !sl_q);
        let fallen = it.q_fall.falling(q);
        it.value = q || p1_q || p0_q;
        it.ends = final_scan && fallen && !it.value && !boolean;
    }
}
