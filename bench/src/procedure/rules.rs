//! What is looked at after every scan: invariants, responses, and expectations with a block of steps.

use latchwork_grammar::{
    Span,
    steps::tree::{Bound, EdgeWord},
};
use latchwork_vm::Value;

use super::{
    bound::{BoundResponse, BoundRule, Check, ProbeId},
    outcome::FailureKind,
};

/// A rule at work.
pub(super) struct ActiveRule {
    pub(super) rule: BoundRule,
    pub(super) step: Span,
    pub(super) condition: Span,
    pub(super) since_ns: i64,
    pub(super) hint: Option<String>,
    pub(super) response: Response,
    /// Said once; a run that carries on does not repeat it.
    pub(super) broken: bool,
}

/// How far a response rule is.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Response {
    /// The trigger was TRUE after the last scan.
    before: bool,
    /// Triggered at, and due or to be held until.
    open: Option<(i64, i64)>,
}

/// What a response rule makes of a scan.
pub(super) struct Missing {
    pub(super) triggered_ns: i64,
    pub(super) allowed_ns: i64,
    pub(super) stay_ns: Option<i64>,
}

impl Response {
    /// Whether a response is still to come or to be held.
    pub(super) fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Takes a scan into account. `answered` is only asked when it matters.
    pub(super) fn scan<E>(
        &mut self,
        when: BoundResponse,
        triggered: bool,
        answered: impl FnOnce() -> Result<bool, E>,
        now_ns: i64,
        scan_ns: i64,
    ) -> Result<Option<Missing>, E> {
        let rising = triggered && !self.before;
        self.before = triggered;
        match when {
            BoundResponse::AtOnce => {
                if triggered && !answered()? {
                    return Ok(Some(Missing { triggered_ns: now_ns, allowed_ns: 0, stay_ns: None }));
                }
            }
            BoundResponse::Within(allowed_ns) => {
                if rising && self.open.is_none() {
                    self.open = Some((now_ns, now_ns.saturating_add(allowed_ns)));
                }
                if let Some((triggered_ns, due_ns)) = self.open {
                    if answered()? {
                        self.open = None;
                    } else if now_ns.saturating_add(scan_ns) > due_ns {
                        self.open = None;
                        return Ok(Some(Missing { triggered_ns, allowed_ns, stay_ns: None }));
                    }
                }
            }
            BoundResponse::For(stay_ns) => {
                if rising {
                    self.open = Some((now_ns, now_ns.saturating_add(stay_ns)));
                }
                if let Some((triggered_ns, until_ns)) = self.open {
                    if now_ns > triggered_ns && now_ns >= until_ns {
                        self.open = None;
                    } else if !answered()? {
                        self.open = None;
                        return Ok(Some(Missing { triggered_ns, allowed_ns: 0, stay_ns: Some(stay_ns) }));
                    }
                }
            }
        }
        Ok(None)
    }
}

/// An expectation whose block is being run.
pub(super) struct ActiveWhile {
    pub(super) check: Check,
    pub(super) edges: Option<Edges>,
    /// The first failure of its condition was told.
    pub(super) broken: bool,
    pub(super) step: Span,
    pub(super) condition: Span,
    pub(super) since_ns: i64,
    pub(super) hint: Option<String>,
}

/// Most starts of scans kept of counted edges.
const EDGES_KEPT: usize = 32;

/// A count of edges.
pub(super) struct Edges {
    bound: Bound,
    wanted: u64,
    edge: EdgeWord,
    pub(super) of: ProbeId,
    last: Value,
    counted: u64,
    at_ns: Vec<i64>,
}

impl Edges {
    /// From the value before the first scan.
    pub(super) fn new(bound: Bound, wanted: u64, edge: EdgeWord, of: ProbeId, first: Value) -> Self {
        Edges { bound, wanted, edge, of, last: first, counted: 0, at_ns: Vec::new() }
    }

    /// Takes a scan into account.
    pub(super) fn scan(&mut self, value: Value, now_ns: i64) {
        let counts = match self.edge {
            EdgeWord::Rising => value == Value::Bool(true) && self.last != value,
            EdgeWord::Falling => value == Value::Bool(false) && self.last != value,
            EdgeWord::Change => self.last != value,
        };
        self.last = value;
        if counts {
            self.counted += 1;
            if self.at_ns.len() < EDGES_KEPT {
                self.at_ns.push(now_ns);
            }
        }
    }

    /// What is wrong with the count: before the end only that it is too high.
    pub(super) fn failure(&self, ended: bool) -> Option<FailureKind> {
        let wrong = match self.bound {
            Bound::Exactly => self.counted > self.wanted || (ended && self.counted < self.wanted),
            Bound::AtMost => self.counted > self.wanted,
            Bound::AtLeast => ended && self.counted < self.wanted,
        };
        wrong.then(|| FailureKind::Edges { counted: self.counted, at_ns: self.at_ns.clone() })
    }
}
