//! Expectations of a running procedure: each form, and the scans that it looks at.

use latchwork_grammar::Span;

use super::{
    bound::{BoundExpect, BoundStep, BoundTime, Check},
    outcome::FailureKind,
    rules::{ActiveWhile, Edges},
    run::{Ended, Run, Stop},
};

/// What is not as expected, if anything.
type Found = Result<Option<FailureKind>, Box<Stop>>;

/// How much time passes at least where what is expected comes.
fn wanted_ns(kind: &FailureKind, when: &BoundTime) -> i64 {
    match (kind, when) {
        (FailureKind::For { wanted_ns }, _) => *wanted_ns,
        (FailureKind::TooEarly { from_ns, .. }, _) => *from_ns,
        (FailureKind::Edges { .. }, BoundTime::Within(window_ns)) => *window_ns,
        _ => 0,
    }
}

impl Run<'_, '_> {
    pub(super) fn expect(&mut self, expect: &BoundExpect, step: Span) -> Ended {
        let mut since_ns = self.bench.now_ns;
        let found = match (&expect.when, expect.check) {
            (BoundTime::While(steps), _) => return self.expect_while(expect, steps, step),
            (BoundTime::Within(window_ns), Check::Edges { .. }) => {
                self.expect_edges(expect.check, since_ns.saturating_add(*window_ns))?
            }
            (BoundTime::Now, check) => {
                self.see()?;
                (!self.holds(check)?).then_some(FailureKind::Now)
            }
            (BoundTime::Within(allowed_ns), check) => self.expect_within(check, since_ns, *allowed_ns)?,
            (BoundTime::For(wanted_ns), check) => self.expect_for(check, since_ns, *wanted_ns)?,
            (BoundTime::WithinFor(allowed_ns, wanted_ns), check) => {
                match self.expect_within(check, since_ns, *allowed_ns)? {
                    Some(kind) => Some(kind),
                    None => {
                        since_ns = self.bench.now_ns;
                        self.expect_for(check, since_ns, *wanted_ns)?
                    }
                }
            }
            (BoundTime::Between(from_ns, until_ns), check) => {
                self.expect_between(check, since_ns, *from_ns, *until_ns)?
            }
        };
        let Some(kind) = found else { return Ok(()) };
        let wanted_ns = wanted_ns(&kind, &expect.when);
        let mut stop = self.stop(kind);
        stop.step = step;
        stop.condition = Some(expect.condition);
        stop.since_ns = since_ns;
        stop.check = Some((expect.check, true));
        stop.hint.clone_from(&expect.hint);
        self.fail(stop)?;
        // A run that carries on lets the time pass that the expectation takes when it is met, so that what comes next
        // comes at the same time.
        let until_ns = since_ns.saturating_add(wanted_ns);
        if until_ns > self.bench.now_ns {
            self.run_before(until_ns)?;
            self.bench.now_ns = until_ns;
        }
        Ok(())
    }

    fn expect_within(&mut self, check: Check, since_ns: i64, allowed_ns: i64) -> Found {
        let until_ns = since_ns.saturating_add(allowed_ns);
        self.see()?;
        loop {
            if self.holds(check)? {
                return Ok(None);
            }
            if self.bench.next_ns() > until_ns {
                self.bench.now_ns = self.bench.now_ns.max(until_ns);
                return Ok(Some(FailureKind::Within { allowed_ns }));
            }
            self.scan()?;
            self.bench.now_ns = self.bench.now_ns.max(self.bench.last_ns());
        }
    }

    fn expect_for(&mut self, check: Check, since_ns: i64, wanted_ns: i64) -> Found {
        let until_ns = since_ns.saturating_add(wanted_ns);
        self.see()?;
        loop {
            if !self.holds(check)? {
                return Ok(Some(FailureKind::For { wanted_ns }));
            }
            if self.bench.next_ns() >= until_ns {
                self.bench.now_ns = self.bench.now_ns.max(until_ns);
                return Ok(None);
            }
            self.scan()?;
        }
    }

    fn expect_between(&mut self, check: Check, since_ns: i64, from_ns: i64, until_ns: i64) -> Found {
        let (from, until) = (since_ns.saturating_add(from_ns), since_ns.saturating_add(until_ns));
        if self.bench.is_seen() && from_ns > 0 && self.holds(check)? {
            return Ok(Some(FailureKind::TooEarly { from_ns, until_ns }));
        }
        while self.bench.next_ns() < from {
            self.scan()?;
            if self.holds(check)? {
                return Ok(Some(FailureKind::TooEarly { from_ns, until_ns }));
            }
        }
        self.bench.now_ns = self.bench.now_ns.max(from);
        loop {
            if self.bench.next_ns() > until {
                self.bench.now_ns = self.bench.now_ns.max(until);
                return Ok(Some(FailureKind::TooLate { from_ns, until_ns }));
            }
            self.scan()?;
            self.bench.now_ns = self.bench.now_ns.max(self.bench.last_ns());
            if self.holds(check)? {
                return Ok(None);
            }
        }
    }

    fn expect_edges(&mut self, check: Check, until_ns: i64) -> Found {
        let Some(mut edges) = self.edges(check)? else { return Ok(None) };
        while self.bench.next_ns() <= until_ns {
            self.scan()?;
            let value = self.value(edges.of)?;
            edges.scan(value, self.bench.last_ns());
            if let Some(kind) = edges.failure(false) {
                self.bench.now_ns = self.bench.now_ns.max(self.bench.last_ns());
                return Ok(Some(kind));
            }
        }
        self.bench.now_ns = self.bench.now_ns.max(until_ns);
        Ok(edges.failure(true))
    }

    fn expect_while(&mut self, expect: &BoundExpect, steps: &[BoundStep], step: Span) -> Ended {
        let block = ActiveWhile {
            check: expect.check,
            edges: self.edges(expect.check)?,
            broken: false,
            step,
            condition: expect.condition,
            since_ns: self.bench.now_ns,
            hint: expect.hint.clone(),
        };
        self.blocks.push(block);
        self.steps(steps)?;
        // What was done last is part of the block.
        if self.bench.unseen {
            self.see()?;
        }
        match self.blocks.pop() {
            Some(mut block) => self.look_at_block(&mut block, true),
            None => Ok(()),
        }
    }

    fn edges(&mut self, check: Check) -> Result<Option<Edges>, Box<Stop>> {
        let Check::Edges { bound, count, edge, of } = check else { return Ok(None) };
        let first = self.value(of)?;
        Ok(Some(Edges::new(bound, count, edge, of, first)))
    }
}
