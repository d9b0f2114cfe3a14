//! What an image notes of its branches, and of the current results of Instruction List that decide them.

use latchwork_grammar::Span;
use latchwork_vm::{Family, Scalar};

use super::{
    code::Argument,
    observe::{KeptResult, Open, Part},
    unit::Lowering,
};
use crate::{
    coverage::{Arm, ArmKind, Branch, Seen},
    layout::Spot,
    typed::{Access, Expression, ExpressionKind, Observation, Root, Statement, StatementKind},
};

/// What decides where the program goes on.
#[derive(Debug)]
pub(super) enum Control {
    /// A decision of its own.
    Open(Open),
    /// The outcome of a decision that was evaluated just before.
    Known(u32),
}

impl Control {
    pub(super) const fn decision(&self) -> u32 {
        match self {
            Control::Open(open) => open.number,
            Control::Known(number) => *number,
        }
    }
}

impl Lowering<'_> {
    /// Notes whether the body of a FOR is entered, and adds the branch.
    pub(super) fn observe_loop(&mut self, scalar: Scalar, [control, limit, step]: [Spot; 3], span: Span) {
        if self.observer().is_none() {
            return;
        }
        let mut seen = [Seen::Never; 2];
        if !self.code.ended()
            && let Some(point) = self.points(2)
        {
            seen = [Seen::Point(point), Seen::Point(point + 1)];
            let places = [control, limit, step].map(Argument::Spot);
            let [control, limit, step] = places;
            self.emit(Family::ObserveLoop, scalar, &[control, limit, step, Argument::Immediate(point)]);
        }
        let [not_entered, entered] = seen;
        let arms = vec![
            Arm { kind: ArmKind::Entered, seen: entered },
            Arm { kind: ArmKind::NotEntered, seen: not_entered },
        ];
        self.branch(span, "FOR", arms);
    }

    /// Notes that a way of a branch is gone, which begins here.
    pub(super) fn observe_arm(&mut self, kind: Option<ArmKind>, arms: &mut Vec<Arm>) {
        self.code.pause();
        if let Some(kind) = kind
            && let Some(seen) = self.observe_point()
        {
            arms.push(Arm { kind, seen });
        }
    }

    /// Adds a branch.
    pub(super) fn branch(&mut self, span: Span, keyword: &str, arms: Vec<Arm>) {
        if let Some(observer) = self.observer() {
            observer.unit.branches.push(Branch { span, keyword: keyword.to_owned(), arms });
        }
    }

    /// Begins to evaluate the condition of a branch, and adds the branch. `place` is that of the branch if it is not
    /// the condition itself. `None` if it is not observed, or known when compiling.
    pub(super) fn open_control(
        &mut self,
        condition: &Expression,
        keyword: &str,
        place: Option<Span>,
    ) -> Option<Control> {
        let control = match self.known_outcome(condition) {
            Some(number) => {
                self.name_decision(number, keyword);
                Control::Known(number)
            }
            None => Control::Open(self.open(condition, Some(keyword))?),
        };
        let arm = |outcome| Arm {
            kind: ArmKind::Outcome(outcome),
            seen: Seen::Outcome { decision: control.decision(), outcome },
        };
        let arms = vec![arm(true), arm(false)];
        self.branch(place.unwrap_or(condition.span), keyword, arms);
        Some(control)
    }

    /// A decision that was evaluated before turns out to decide a branch.
    fn name_decision(&mut self, number: u32, keyword: &str) {
        let Some(observer) = self.observer() else { return };
        // Not long ago.
        let decision = observer.unit.decisions.iter_mut().rev().find(|decision| decision.number == number);
        if let Some(decision) = decision {
            decision.keyword.get_or_insert_with(|| keyword.to_owned());
        }
    }

    /// The decision whose outcome is the current result that is asked for.
    fn known_outcome(&mut self, condition: &Expression) -> Option<u32> {
        let ExpressionKind::Access(Access { root: Root::Variable(id), steps, .. }) = &condition.kind else {
            return None;
        };
        if !steps.is_empty() {
            return None;
        }
        self.observer()?.result_in(*id)?.decision
    }

    /// The condition of a branch has been evaluated.
    pub(super) fn close_control(&mut self, control: Option<Control>, outcome: Spot, inverted: bool) {
        if let Some(Control::Open(open)) = control {
            self.close(open, outcome, inverted);
        }
    }

    /// `target := value`, where this is the condition of a transition or a current result that is kept.
    pub(super) fn observed_assignment(&mut self, target: &Access, value: &Expression) {
        let Some(observer) = self.observer() else { return self.assign(target, value) };
        let control = if std::mem::take(&mut observer.transition) {
            self.open_control(value, "TRANSITION", None)
        } else {
            None
        };
        let transition = control.is_some();
        self.assign(target, value);
        if let Some(spot) = self.static_spot(target).filter(|_| transition) {
            self.close_control(control, spot, false);
        }
        self.keep_result(target, value);
    }

    /// Remembers what a hidden variable holds.
    fn keep_result(&mut self, target: &Access, value: &Expression) {
        let (Root::Variable(id), true) = (&target.root, target.steps.is_empty()) else { return };
        if !self.unit.variables.get(id.0 as usize).is_some_and(|variable| variable.hidden) {
            return;
        }
        let text = self.wording(value);
        let compound = self.is_decision(value);
        if let Some(observer) = self.observer() {
            let decision = observer.finished.filter(|(part, _)| *part == Part::of(value));
            let decision = decision.map(|(_, number)| number);
            let text = if compound { format!("({text})") } else { text };
            observer.results.insert(*id, KeptResult { decision, text });
        }
    }

    /// Several ways meet here: what hidden variables hold depends on the way.
    pub(super) fn forget_results(&mut self) {
        if let Some(observer) = &mut self.shared.observer {
            observer.results.clear();
        }
    }

    /// The statements of a branch that consist of a jump, which is the branch itself.
    pub(super) fn observe_only_jump(&mut self, body: &[Statement], control: Option<u32>) {
        let Some(observer) = self.observer() else { return };
        let seen = match control {
            Some(decision) => Seen::Outcome { decision, outcome: true },
            // Under a constant it runs whenever the IF does.
            None => observer.unit.statements.last().map_or(Seen::Never, |last| last.seen),
        };
        for statement in body {
            if let StatementKind::Observe(Observation::Statement) = statement.kind {
                self.observed_statement(statement.span, seen);
            }
        }
    }

    /// The word that a statement or an instruction begins with, in capital letters; empty where nothing is observed.
    pub(super) fn branch_word(&self, span: Span) -> String {
        if self.shared.observer.is_none() {
            return String::new();
        }
        let text = self.context.sources.text(span);
        text.chars().take_while(|letter| letter.is_ascii_alphanumeric()).collect::<String>().to_uppercase()
    }

    /// The place of the labels of a group of CASE.
    pub(super) fn labels_of(body: &[Statement]) -> Option<Span> {
        let first = body.first()?;
        matches!(first.kind, StatementKind::Observe(Observation::Labels)).then_some(first.span)
    }
}
