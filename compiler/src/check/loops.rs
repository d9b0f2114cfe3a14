//! FOR, WHILE, REPEAT, EXIT and CONTINUE.
//!
//! Source: IEC 61131-3:2013, 7.3.3.4. Our choices: the control variable is a plain variable of an integer
//! type and is not written inside the loop; bounds and step may be converted implicitly into its type.

use latchwork_grammar::{Diagnostic, Span, tree};
use latchwork_stdlib::TypeClass;

use super::{Checker, access::Mode, conversion::Goal};
use crate::{
    typed::{Access, Constant, Expression, ExpressionKind, Root, Statement, StatementKind, VariableId},
    types::TypeId,
};

impl<'a> Checker<'a> {
    pub(super) fn for_loop(
        &mut self,
        variable: &tree::Expression,
        from: &tree::Expression,
        to: &tree::Expression,
        by: Option<&tree::Expression>,
        body: &[tree::Statement],
        span: Span,
    ) -> Option<Statement> {
        let control = self.control_variable(variable);
        let place = variable.span;
        let ty = match &control {
            Some((access, _)) => access.ty,
            None => self.unknown_type(),
        };
        let from = self.bound(from, ty, "initial value", place);
        let to = self.bound(to, ty, "final value", place);
        let by = match by {
            Some(by) => {
                let step = self.bound(by, ty, "step", place);
                if matches!(step.kind, ExpressionKind::Constant(Constant::Integer(0)))
                    && !self.is_unknown(step.ty)
                {
                    self.report(
                        Diagnostic::error(
                            "for-step-zero",
                            by.span,
                            "the step of this FOR is 0, it would never end",
                        )
                        .label("must not be 0"),
                    );
                }
                step
            }
            None => Expression { kind: ExpressionKind::Constant(Constant::Integer(1)), ty, span: place },
        };
        self.body.loops.push(control.as_ref().map(|(_, id)| *id));
        let body = self.statements(body);
        self.body.loops.pop();
        let (access, _) = control?;
        let [from, to, by] = [from, to, by].map(Box::new);
        Some(Statement { kind: StatementKind::For { variable: access, from, to, by, body }, span })
    }

    fn bound(
        &mut self,
        written: &tree::Expression,
        ty: TypeId,
        what: &'static str,
        place: Span,
    ) -> Expression {
        if self.is_unknown(ty) {
            return self.infer(written, None);
        }
        self.expression_for(written, ty, &Goal::Loop { what, place })
    }

    fn control_variable(&mut self, variable: &tree::Expression) -> Option<(Access, VariableId)> {
        let access = self.access(variable, Mode::Write)?;
        let Root::Variable(id) = access.root else {
            self.report_control(variable.span, "an address cannot count a FOR loop");
            return None;
        };
        if !access.steps.is_empty() {
            self.report_control(variable.span, "a part of a variable cannot count a FOR loop");
            return None;
        }
        let integer =
            self.types.elementary_base(access.ty).is_some_and(|kind| TypeClass::AnyInt.accepts(kind));
        if !integer {
            let type_name = self.type_name(access.ty);
            self.report_control(variable.span, &format!("{type_name} cannot count a FOR loop"));
            return None;
        }
        Some((access, id))
    }

    fn report_control(&mut self, span: Span, message: &str) {
        self.report(
            Diagnostic::error("for-variable", span, message)
                .label("control variable")
                .note("FOR needs a plain variable of an integer type; use WHILE to count in another way"),
        );
    }

    pub(super) fn while_loop(
        &mut self,
        condition: &tree::Expression,
        body: &[tree::Statement],
        span: Span,
    ) -> Option<Statement> {
        let condition = self.condition(condition, "WHILE");
        self.body.loops.push(None);
        let body = self.statements(body);
        self.body.loops.pop();
        Some(Statement { kind: StatementKind::While { condition, body }, span })
    }

    pub(super) fn repeat_loop(
        &mut self,
        body: &[tree::Statement],
        until: &tree::Expression,
        span: Span,
    ) -> Option<Statement> {
        self.body.loops.push(None);
        let body = self.statements(body);
        self.body.loops.pop();
        let until = self.condition(until, "UNTIL");
        Some(Statement { kind: StatementKind::Repeat { body, until }, span })
    }

    pub(super) fn leave_loop(&mut self, span: Span, keyword: &str, kind: StatementKind) -> Option<Statement> {
        if self.body.loops.is_empty() {
            self.report(
                Diagnostic::error("outside-loop", span, format!("{keyword} stands outside of every loop"))
                    .label("no FOR, WHILE or REPEAT around it")
                    .note("RETURN leaves the whole unit"),
            );
            return None;
        }
        Some(Statement { kind, span })
    }
}
