//! IF, FOR, WHILE, REPEAT and jumps. CASE is in [`super::selection`].
//!
//! Conditions jump directly; loops are turned so that one pass costs one jump. Implements IEC 61131-3:2013,
//! 7.3.3.3 with the choices of the language manual: a FOR loop evaluates bounds and step once, ends when the
//! control variable would leave its type, and leaves the first value beyond the final one in it.

use latchwork_grammar::Span;
use latchwork_vm::{Family, Scalar};

use super::{
    access::Location,
    code::Label,
    observe_branch::Control,
    unit::{Loop, Lowering},
};
use crate::{
    layout::Spot,
    typed::{Access, Constant, Expression, ExpressionKind, Statement, StatementKind, accesses},
    types::Type,
};

/// The parts of a FOR statement.
#[derive(Clone, Copy, Debug)]
pub(super) struct ForLoop<'s> {
    /// Control variable.
    pub variable: &'s Access,
    /// Initial value.
    pub from: &'s Expression,
    /// Final value.
    pub to: &'s Expression,
    /// Step.
    pub by: &'s Expression,
    /// Body.
    pub body: &'s [Statement],
}

impl Lowering<'_> {
    /// Jumps to a label if the condition of a branch has the wanted value. `keyword` begins the branch, and `place` is
    /// where it stands if that is not the condition itself. Tells the decision, if it is observed.
    pub(super) fn jump_when(
        &mut self,
        condition: &Expression,
        wanted: bool,
        label: Label,
        (keyword, place): (&str, Option<Span>),
    ) -> Option<u32> {
        let control = self.open_control(condition, keyword, place);
        let decision = control.as_ref().map(Control::decision);
        self.jump_on(condition, wanted, label, control);
        decision
    }

    fn jump_on(&mut self, condition: &Expression, wanted: bool, label: Label, control: Option<Control>) {
        if let Some(value) = self.known_bool(condition) {
            if value == wanted {
                self.emit(Family::Jump, Scalar::U8, &[label.into()]);
            }
            return;
        }
        let (mut condition, mut wanted, mut inverted) = (condition, wanted, false);
        while let Some(operand) = self.negated(condition) {
            condition = operand;
            wanted = !wanted;
            inverted = !inverted;
        }
        let mark = self.top;
        self.span = condition.span;
        let spot = self.operand(condition);
        self.top = mark;
        let family = if wanted { Family::JumpIf } else { Family::JumpUnless };
        self.span = condition.span;
        self.close_control(control, spot, inverted);
        self.emit(family, Scalar::U8, &[spot.into(), label.into()]);
    }

    /// `IF … ELSIF … ELSE … END_IF`
    pub(super) fn if_statement(
        &mut self,
        branches: &[(Expression, Vec<Statement>)],
        otherwise: &[Statement],
        span: Span,
    ) {
        let word = self.branch_word(span);
        // An instruction is the branch; in Structured Text each condition is one.
        let place = (word != "IF").then_some(span);
        if let ([(condition, body)], []) = (branches, otherwise)
            && let Some(label) = self.only_jump(body)
        {
            // `IF c THEN EXIT; END_IF` is one conditional jump.
            let decision = self.jump_when(condition, true, label, (&word, place));
            return self.observe_only_jump(body, decision);
        }
        let end = self.code.label();
        for (position, (condition, body)) in branches.iter().enumerate() {
            let next = self.code.label();
            let word = if position == 0 { word.as_str() } else { "ELSIF" };
            self.jump_when(condition, false, next, (word, place));
            self.statements(body);
            let last = position + 1 == branches.len() && otherwise.is_empty();
            if !last && !self.code.ended() {
                self.emit(Family::Jump, Scalar::U8, &[end.into()]);
            }
            self.code.bind(next);
        }
        self.statements(otherwise);
        self.code.bind(end);
    }

    /// Where a body goes that does nothing but jump.
    fn only_jump(&self, body: &[Statement]) -> Option<Label> {
        let mut doing = body.iter().filter(|statement| !matches!(statement.kind, StatementKind::Observe(_)));
        let (Some(only), None) = (doing.next(), doing.next()) else { return None };
        match &only.kind {
            StatementKind::Exit => self.loops.last().map(|labels| labels.exit),
            StatementKind::Continue => self.loops.last().map(|labels| labels.next),
            StatementKind::Jump { label, condition: None } => self.labels.get(*label as usize).copied(),
            _ => None,
        }
    }

    /// `WHILE … DO … END_WHILE`: the condition stands behind the body.
    pub(super) fn while_loop(&mut self, condition: &Expression, body: &[Statement]) {
        let (again, test, exit) = (self.code.label(), self.code.label(), self.code.label());
        self.span = condition.span;
        self.emit(Family::Jump, Scalar::U8, &[test.into()]);
        self.code.bind(again);
        self.looped(body, Loop { next: test, exit });
        self.code.bind(test);
        self.span = condition.span;
        self.jump_when(condition, true, again, ("WHILE", None));
        self.code.bind(exit);
    }

    /// `REPEAT … UNTIL … END_REPEAT`
    pub(super) fn repeat_loop(&mut self, body: &[Statement], until: &Expression) {
        let (again, test, exit) = (self.code.label(), self.code.label(), self.code.label());
        self.code.bind(again);
        self.looped(body, Loop { next: test, exit });
        self.code.bind(test);
        self.span = until.span;
        self.jump_when(until, false, again, ("UNTIL", None));
        self.code.bind(exit);
    }

    fn looped(&mut self, body: &[Statement], labels: Loop) {
        self.loops.push(labels);
        self.statements(body);
        self.loops.pop();
    }

    /// `FOR … TO … BY … DO … END_FOR`
    pub(super) fn for_loop(&mut self, parts: ForLoop<'_>) {
        let mark = self.top;
        let header = self.span;
        let scalar = self.scalar(parts.variable.ty);
        let location = self.whole(parts.variable);
        let subrange = match *self.underlying(parts.variable.ty) {
            Type::Subrange { lower, upper, .. } => Some((lower, upper)),
            _ => None,
        };
        // The loop instructions work on the variable itself where it has a place of its own.
        let direct = match (location, subrange) {
            (Location::Spot(spot), None) => Some(spot),
            _ => None,
        };
        let is_constant = |value: &Expression| matches!(value.kind, ExpressionKind::Constant(_));
        let fixed_bounds = is_constant(parts.to) && is_constant(parts.by);
        let start = if fixed_bounds || is_constant(parts.from) {
            None
        } else {
            // The variable may occur in the other two, which are evaluated before it is written.
            let start = self.operand(parts.from);
            Some(self.stabilise(start, scalar))
        };
        let limit = self.operand(parts.to);
        let limit = self.stabilise(limit, scalar);
        let step = self.operand(parts.by);
        let step = self.stabilise(step, scalar);
        let control = match direct {
            Some(spot) => spot,
            None => self.scalar_temporary(scalar),
        };
        match start {
            Some(start) => {
                self.deliver(start, scalar, Some(control));
            }
            None => {
                self.evaluate(parts.from, Some(control));
            }
        }
        if direct.is_none() {
            self.store(location, control, scalar);
        }
        self.span = header;
        let (again, next, exit) = (self.code.label(), self.code.label(), self.code.label());
        self.observe_loop(scalar, [control, limit, step], header);
        if !always_entered(&parts) {
            self.emit(Family::ForEnter, scalar, &[control.into(), limit.into(), step.into(), exit.into()]);
        }
        self.code.bind(again);
        self.looped(parts.body, Loop { next, exit });
        self.code.bind(next);
        self.span = header;
        if direct.is_some() {
            self.emit(Family::ForNext, scalar, &[control.into(), limit.into(), step.into(), again.into()]);
        } else {
            self.indirect_step(location, scalar, control, (limit, step), subrange, (again, exit));
        }
        self.code.bind(exit);
        self.top = mark;
    }

    /// The step of a FOR loop on a copy of the control variable: of an in-out variable, or of a subrange, which
    /// the variable must not leave.
    fn indirect_step(
        &mut self,
        location: Location,
        scalar: Scalar,
        control: Spot,
        (limit, step): (Spot, Spot),
        subrange: Option<(i128, i128)>,
        (again, exit): (Label, Label),
    ) {
        self.load(location, scalar, Some(control));
        let within = self.code.label();
        self.emit(Family::ForNext, scalar, &[control.into(), limit.into(), step.into(), within.into()]);
        self.unless_inside(control, scalar, subrange, exit);
        self.store(location, control, scalar);
        self.emit(Family::Jump, Scalar::U8, &[exit.into()]);
        self.code.bind(within);
        self.unless_inside(control, scalar, subrange, exit);
        self.store(location, control, scalar);
        self.emit(Family::Jump, Scalar::U8, &[again.into()]);
    }

    /// Jumps if a value is outside a subrange.
    fn unless_inside(&mut self, value: Spot, scalar: Scalar, range: Option<(i128, i128)>, label: Label) {
        let Some((lower, upper)) = range else { return };
        let (lower, upper) = (self.integer(lower, scalar), self.integer(upper, scalar));
        let mark = self.top;
        let outside = self.scalar_temporary(Scalar::U8);
        for (small, great) in [(value, lower), (upper, value)] {
            self.emit(Family::Less, scalar, &[outside.into(), small.into(), great.into()]);
            self.emit(Family::JumpIf, Scalar::U8, &[outside.into(), label.into()]);
        }
        self.top = mark;
    }

    /// `JMP`, `JMPC`, `JMPCN`
    pub(super) fn jump(&mut self, label: u32, condition: Option<&(Expression, bool)>, span: Span) {
        let Some(label) = self.labels.get(label as usize).copied() else {
            self.internal("a jump has no label");
            return;
        };
        match condition {
            None => self.emit(Family::Jump, Scalar::U8, &[label.into()]),
            Some((condition, wanted)) => {
                let word = self.branch_word(span);
                self.jump_when(condition, *wanted, label, (&word, Some(span)));
            }
        }
    }

    /// `target := value`
    pub(super) fn assign(&mut self, target: &Access, value: &Expression) {
        let mark = self.top;
        match self.scalar_of(target.ty) {
            Some(scalar) => match self.static_spot(target) {
                Some(spot) => {
                    self.evaluate(value, Some(spot));
                    self.scatter_bits(&target.root);
                }
                None => {
                    let mut spot = self.operand(value);
                    if accesses::access_calls(target) {
                        spot = self.stabilise(spot, scalar);
                    }
                    self.write(target, spot);
                }
            },
            None => {
                let mut source = self.region(value);
                if accesses::access_calls(target) {
                    source = self.kept_region(source, value.ty);
                }
                let location = self.whole(target);
                self.copy_value(target.ty, location, source);
                self.scatter_bits(&target.root);
            }
        }
        self.top = mark;
    }
}

/// Whether constants say that the body of a loop runs at least once.
fn always_entered(parts: &ForLoop<'_>) -> bool {
    let known = |value: &Expression| match value.kind {
        ExpressionKind::Constant(Constant::Integer(number)) => Some(number),
        _ => None,
    };
    match (known(parts.from), known(parts.to), known(parts.by)) {
        (Some(from), Some(to), Some(by)) => by > 0 && from <= to || by < 0 && from >= to,
        _ => false,
    }
}
