//! Labels, jumps and returns.
//!
//! Source: IEC 61131-3:2013, 7.2.4 and 7.2.6. A label belongs to its body. At a label the current result is
//! what all ways to it have in common.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Condition, Ident, Operation},
};

use super::{Body, Current, Flow, Undefined};
use crate::{
    check::Checker,
    nearest::nearest,
    typed::{Access, Expression, ExpressionKind, Statement, StatementKind},
};

/// A label of a body.
pub(super) struct LabelState {
    /// Its number in the typed tree.
    number: u32,
    /// Where it stands.
    span: Span,
    /// Which instruction it stands at.
    index: usize,
    /// A jump to it was seen.
    used: bool,
    /// The label itself was passed.
    passed: bool,
    /// Where the ways to the label leave their result, once the first one came with one.
    result: Option<Access>,
    /// A way came without a result or with one of another type.
    differs: Option<Span>,
}

impl<'a> Checker<'a> {
    /// Enters the labels of a body.
    pub(super) fn collect_labels(&mut self, body: &mut Body<'_>) {
        for (index, instruction) in body.instructions.iter().enumerate() {
            let Some(label) = instruction.label else { continue };
            if let Some(first) = body.labels.get(&label.name) {
                let first = first.span;
                let spelling = self.text(label.span);
                self.report(
                    Diagnostic::error(
                        "duplicate-label",
                        label.span,
                        format!("the label `{spelling}` stands twice"),
                    )
                    .label("again")
                    .also(first, "stands here first")
                    .note("a jump needs one target; give one of them another name"),
                );
                continue;
            }
            let number = self.new_label();
            body.labels.insert(
                label.name,
                LabelState {
                    number,
                    span: label.span,
                    index,
                    used: false,
                    passed: false,
                    result: None,
                    differs: None,
                },
            );
        }
    }

    fn new_label(&mut self) -> u32 {
        let Some(unit) = self.unit else { return 0 };
        let labels = &mut self.units[unit.0 as usize].labels;
        *labels += 1;
        *labels - 1
    }

    /// Passes a label: the way from above joins the jumps to it.
    pub(super) fn enter_label<'t>(
        &mut self,
        body: &mut Body<'t>,
        flow: &mut Flow<'t>,
        label: Ident,
        index: usize,
    ) {
        let live = body.liveness.at(index);
        // A label that stands twice is passed at its first place only.
        let stands_here = |state: &LabelState| state.index == index;
        if !body.labels.get(&label.name).is_some_and(stands_here) {
            return;
        }
        let Some(mut state) = body.labels.remove(&label.name) else { return };
        state.passed = true;
        let (number, span) = (state.number, state.span);
        let from_above = !matches!(flow.current, Current::Undefined(Undefined::Jump(_)));
        if live {
            if from_above {
                let above = index.checked_sub(1).and_then(|above| body.instructions.get(above));
                self.bring_result(flow, &mut state, above.map_or(span, |above| above.span));
            }
            flow.current = match (&state.result, state.differs) {
                (_, Some(other)) => Current::Undefined(Undefined::Label { label: span, other }),
                (Some(access), None) => {
                    let kind = ExpressionKind::Access(access.clone());
                    Current::Value(Expression { kind, ty: access.ty, span })
                }
                (None, None) => std::mem::replace(&mut flow.current, Current::Unknown),
            };
            flow.chain = 0;
        } else {
            self.drop_current(flow, None);
            flow.current = Current::Undefined(Undefined::Label { label: span, other: span });
        }
        body.labels.insert(label.name, state);
        flow.statements.push(Statement { kind: StatementKind::Label(number), span });
    }

    /// Leaves the current result where the label finds it.
    fn bring_result(&mut self, flow: &mut Flow<'_>, state: &mut LabelState, way: Span) {
        let current = std::mem::replace(&mut flow.current, Current::Unknown);
        let value = match current {
            Current::Undefined(_) => {
                state.differs = state.differs.or(Some(way));
                flow.current = current;
                return;
            }
            Current::Unknown => return,
            Current::Written(written) => self.infer(written, None),
            Current::Value(value) => value,
        };
        if self.is_unknown(value.ty) {
            return;
        }
        let target = match &state.result {
            Some(access) if access.ty != value.ty => {
                state.differs = state.differs.or(Some(way));
                flow.current = Current::Value(value);
                return;
            }
            Some(access) => access.clone(),
            None => {
                let access = self.hidden_access(value.ty, state.span);
                state.result = Some(access.clone());
                access
            }
        };
        let read =
            Expression { kind: ExpressionKind::Access(target.clone()), ty: value.ty, span: value.span };
        flow.statements.push(Statement { kind: StatementKind::Assign { target, value }, span: way });
        flow.chain = 0;
        flow.current = Current::Value(read);
    }

    /// `JMP`, `JMPC`, `JMPCN`.
    pub(super) fn jump<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        body: &mut Body<'t>,
        condition: Condition,
        label: Ident,
        span: Span,
        live: bool,
    ) {
        let Some(mut state) = body.labels.remove(&label.name) else {
            self.report_unknown_label(body, label);
            if condition == Condition::Always {
                flow.current = Current::Undefined(Undefined::Jump(span));
            }
            return;
        };
        state.used = true;
        let needed = body.liveness.at(state.index);
        let decides = condition != Condition::Always;
        let mut decision = None;
        if decides {
            let Some(value) =
                self.decision(flow, if condition == Condition::IfTrue { "JMPC" } else { "JMPCN" }, span)
            else {
                body.labels.insert(label.name, state);
                return;
            };
            flow.current = Current::Value(value);
            if live || needed {
                self.materialise(flow);
            }
        }
        if needed {
            self.bring_to_label(flow, &mut state, span);
        }
        if decides && let Current::Value(value) = &flow.current {
            decision = Some((value.clone(), condition == Condition::IfTrue));
        }
        let kind = StatementKind::Jump { label: state.number, condition: decision };
        if !decides {
            self.drop_current(flow, None);
            flow.current = Current::Undefined(Undefined::Jump(span));
        } else if !live {
            consumed(flow);
        }
        flow.statements.push(Statement { kind, span });
        body.labels.insert(label.name, state);
    }

    /// A jump back to a label that was passed with a result needs one of the same type.
    fn bring_to_label(&mut self, flow: &mut Flow<'_>, state: &mut LabelState, span: Span) {
        let before = state.differs;
        self.bring_result(flow, state, span);
        if state.passed && before.is_none() && state.differs.is_some() {
            self.report(
                Diagnostic::error(
                    "current-result-undefined",
                    span,
                    "the instruction at the label works on a current result that this jump does not bring",
                )
                .label("brings no result of the type needed")
                .also(state.span, "the current result is used from here on")
                .note("load a value of that type before the jump, or begin with `LD` at the label"),
            );
        }
    }

    fn report_unknown_label(&mut self, body: &Body<'_>, label: Ident) {
        let spelling = self.text(label.span);
        let search = self.may_search(body.labels.len());
        let known = body.labels.keys().map(|name| self.spelling(*name));
        let near = if search { nearest(spelling, known).map(str::to_owned) } else { None };
        let mut diagnostic = Diagnostic::error(
            "unknown-label",
            label.span,
            format!("there is no label `{spelling}` in this body"),
        )
        .label("jumps nowhere");
        diagnostic = match near {
            Some(near) => diagnostic.note(format!("the nearest label is `{near}`")),
            None => {
                diagnostic.note("a label stands at the start of a line and ends in a colon: `Again: LD x`")
            }
        };
        self.report(diagnostic);
    }

    /// `RET`, `RETC`, `RETCN`.
    pub(super) fn leave(&mut self, flow: &mut Flow<'_>, condition: Condition, span: Span, live: bool) {
        let leave = Statement { kind: StatementKind::Return, span };
        if condition == Condition::Always {
            self.drop_current(flow, None);
            flow.current = Current::Undefined(Undefined::Jump(span));
            flow.statements.push(leave);
            return;
        }
        let name = if condition == Condition::IfTrue { "RETC" } else { "RETCN" };
        let Some(value) = self.decision(flow, name, span) else { return };
        flow.current = Current::Value(value);
        if live {
            self.materialise(flow);
        }
        let Current::Value(value) = &flow.current else { return };
        let (value, wanted) = (value.clone(), condition == Condition::IfTrue);
        if !live {
            consumed(flow);
        }
        let kind = self.when(value, wanted, vec![leave], span);
        flow.statements.push(kind);
    }

    /// Statements that run if a BOOL has the wanted value.
    pub(super) fn when(
        &mut self,
        condition: Expression,
        wanted: bool,
        statements: Vec<Statement>,
        span: Span,
    ) -> Statement {
        let kind = if wanted {
            StatementKind::If { branches: vec![(condition, statements)], otherwise: Vec::new() }
        } else {
            StatementKind::If { branches: vec![(condition, Vec::new())], otherwise: statements }
        };
        Statement { kind, span }
    }

    /// Whether nothing runs behind an operation unless a label stands there.
    pub(super) fn leaves(&self, operation: &Operation) -> bool {
        matches!(
            operation,
            Operation::Jump { condition: Condition::Always, .. }
                | Operation::Return { condition: Condition::Always, .. }
        )
    }

    /// Warns of labels that nothing jumps to.
    pub(super) fn report_unused_labels(&mut self, body: &Body<'_>) {
        let damaged = self.unit.is_some_and(|unit| self.units[unit.0 as usize].tree.damaged);
        if damaged {
            return;
        }
        for state in body.labels.values().filter(|state| !state.used) {
            let spelling = self.text(state.span);
            self.report(
                Diagnostic::warning(
                    "unused-label",
                    state.span,
                    format!("nothing jumps to the label `{spelling}`"),
                )
                .label("never used"),
            );
        }
    }
}

/// The current result has been used for the last time: it must neither run again nor be reported as dropped.
pub(super) fn consumed(flow: &mut Flow<'_>) {
    flow.current = Current::Unknown;
    flow.chain = 0;
}
