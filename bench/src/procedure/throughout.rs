//! What a running procedure looks at after every scan: its rules, and expectations whose block is being run.

use latchwork_grammar::Span;

use super::{
    bound::{BoundRule, Check},
    outcome::FailureKind,
    rules::{ActiveRule, ActiveWhile, Response},
    run::{Ended, Run},
};

impl Run<'_, '_> {
    pub(super) fn look_at_rules(&mut self) -> Ended {
        let mut rules = std::mem::take(&mut self.rules);
        let looked = rules.iter_mut().try_for_each(|rule| self.look_at_rule(rule));
        self.rules = rules;
        looked
    }

    fn look_at_rule(&mut self, active: &mut ActiveRule) -> Ended {
        if active.broken {
            return Ok(());
        }
        let now_ns = self.bench.last_ns();
        let found = match active.rule {
            BoundRule::Always(probe) => (!self.is_true(probe, active.step)?).then_some((
                FailureKind::Always,
                Check::Condition(probe),
                true,
            )),
            BoundRule::Never(probe) => self.is_true(probe, active.step)?.then_some((
                FailureKind::Never,
                Check::Condition(probe),
                false,
            )),
            BoundRule::Whenever { trigger, response, when } => {
                let triggered = self.is_true(trigger, active.step)?;
                let (step, scan_ns) = (active.step, self.bench.scan_ns);
                let answered = || self.is_true(response, step);
                let missing = active.response.scan(when, triggered, answered, now_ns, scan_ns)?;
                missing.map(|missing| {
                    let kind = FailureKind::Response {
                        triggered_ns: missing.triggered_ns,
                        allowed_ns: missing.allowed_ns,
                        stay_ns: missing.stay_ns,
                    };
                    (kind, Check::Condition(response), true)
                })
            }
        };
        let Some((kind, check, right)) = found else { return Ok(()) };
        active.broken = true;
        let mut stop = self.stop(kind);
        stop.step = active.step;
        stop.condition = Some(active.condition);
        stop.since_ns = active.since_ns;
        stop.check = Some((check, right));
        stop.hint.clone_from(&active.hint);
        self.fail(stop)
    }

    pub(super) fn look_at_blocks(&mut self) -> Ended {
        let mut blocks = std::mem::take(&mut self.blocks);
        let looked = blocks.iter_mut().try_for_each(|block| self.look_at_block(block, false));
        self.blocks = blocks;
        looked
    }

    pub(super) fn look_at_block(&mut self, block: &mut ActiveWhile, ended: bool) -> Ended {
        if block.broken {
            return Ok(());
        }
        let kind = match &mut block.edges {
            Some(edges) => {
                if !ended {
                    let value = self.value(edges.of)?;
                    edges.scan(value, self.bench.last_ns());
                }
                edges.failure(ended)
            }
            None if ended || self.holds(block.check)? => None,
            None => Some(FailureKind::While),
        };
        let Some(kind) = kind else { return Ok(()) };
        block.broken = true;
        let mut stop = self.stop(kind);
        stop.step = block.step;
        stop.condition = Some(block.condition);
        stop.since_ns = block.since_ns;
        stop.check = Some((block.check, true));
        stop.hint.clone_from(&block.hint);
        self.fail(stop)
    }

    pub(super) fn begin_rule(
        &mut self,
        rule: BoundRule,
        condition: Span,
        hint: Option<String>,
        step: Span,
    ) -> Ended {
        // In a repeated block it holds already.
        if self.rules.iter().any(|active| active.step == step) {
            return Ok(());
        }
        let since_ns = self.bench.now_ns;
        let mut active = ActiveRule {
            rule,
            step,
            condition,
            since_ns,
            hint,
            response: Response::default(),
            broken: false,
        };
        if self.bench.is_seen() {
            self.look_at_rule(&mut active)?;
        }
        self.rules.push(active);
        Ok(())
    }
}
