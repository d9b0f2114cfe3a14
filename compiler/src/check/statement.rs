//! Statements of Structured Text and the body of a unit.
//!
//! Source: IEC 61131-3:2013, 7.3.3, table 72. The methods that make typed statements take typed parts, so
//! that the checker of Instruction List uses them too.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, BinaryOperator, SectionKind, UnitKind},
};
use latchwork_vm::ElementaryType as E;

use super::{Checker, access::Mode, arguments::Given, callee::Called, conversion::Goal};
use crate::{
    typed::{
        Access, Expression, ExpressionKind, Observation, Statement, StatementKind, Variable, VariableId,
    },
    types::{Type, TypeId, UnitId},
};

impl<'a> Checker<'a> {
    /// A function whose result is assigned nowhere (7.3.3.2: an error of the standard).
    pub(super) fn check_result_assigned(&mut self, unit: UnitId) {
        let scope = &self.units[unit.0 as usize];
        let Some(result) = scope.result.filter(|_| !scope.object.is_abstract) else { return };
        let span = scope.tree.span;
        if scope.tree.damaged || scope.written.contains(result) || self.has_error_in(span) {
            return;
        }
        let scope = &self.units[unit.0 as usize];
        let name = self.spelling(scope.tree.name.name).to_owned();
        let place = scope.tree.name.span;
        let what = if scope.kind == UnitKind::Method { "method" } else { "function" };
        self.report(
            Diagnostic::error(
                "result-not-assigned",
                place,
                format!("the {what} `{name}` never gets its result"),
            )
            .label("no assignment to this name in the body")
            .note(format!("the result is what was last stored in the {what}'s name: `{name} := …;`")),
        );
    }

    /// A hidden variable of the current unit for values between instructions.
    pub(crate) fn temporary(&mut self, kind: TypeId, span: Span) -> VariableId {
        let section = match self.unit.map(|unit| self.units[unit.0 as usize].kind) {
            Some(UnitKind::Function | UnitKind::Method) | None => SectionKind::Var,
            Some(_) => SectionKind::Temp,
        };
        let variable = Variable { hidden: true, ..Variable::plain(None, kind, section, span) };
        let Some(unit) = self.unit else { return VariableId(0) };
        let scope = &mut self.units[unit.0 as usize];
        scope.variables.push(variable);
        VariableId(scope.variables.len() as u32 - 1)
    }

    /// A list of statements; those with errors are left out.
    pub(crate) fn statements(&mut self, statements: &[tree::Statement]) -> Vec<Statement> {
        let mut typed = Vec::with_capacity(statements.len());
        for statement in statements {
            if let Some(made) = self.statement(statement) {
                self.observe(Observation::Statement, statement.span, &mut typed);
                typed.push(made);
            }
        }
        typed
    }

    /// Notes something of the text in front of what follows, if the image is to observe itself.
    pub(crate) fn observe(&self, observation: Observation, span: Span, into: &mut Vec<Statement>) {
        if self.options.coverage || self.options.journal {
            into.push(Statement { kind: StatementKind::Observe(observation), span });
        }
    }

    fn statement(&mut self, statement: &tree::Statement) -> Option<Statement> {
        let span = statement.span;
        match &statement.kind {
            tree::StatementKind::Empty => None,
            tree::StatementKind::Assignment { target, attempt, operator, value } => {
                if *attempt {
                    return self.attempt(target, value, *operator, span);
                }
                self.assignment(target, value, span)
            }
            tree::StatementKind::Call(call) => self.call_statement(&call.callee, &call.arguments, call.span),
            tree::StatementKind::Expression(expression) => {
                self.report_statement_without_effect(expression);
                None
            }
            tree::StatementKind::Return => Some(Statement { kind: StatementKind::Return, span }),
            tree::StatementKind::If { branches, otherwise } => {
                let mut typed = Vec::with_capacity(branches.len());
                for (index, (condition, body)) in branches.iter().enumerate() {
                    let keyword = if index == 0 { "IF" } else { "ELSIF" };
                    let condition = self.condition(condition, keyword);
                    typed.push((condition, self.statements(body)));
                }
                let otherwise = otherwise.as_deref().map(|body| self.statements(body)).unwrap_or_default();
                Some(Statement { kind: StatementKind::If { branches: typed, otherwise }, span })
            }
            tree::StatementKind::Case { selector, groups, otherwise } => {
                self.case(selector, groups, otherwise.as_deref(), span)
            }
            tree::StatementKind::For { variable, from, to, by, body } => {
                self.for_loop(variable, from, to, by.as_deref(), body, span)
            }
            tree::StatementKind::While { condition, body } => self.while_loop(condition, body, span),
            tree::StatementKind::Repeat { body, until } => self.repeat_loop(body, until, span),
            tree::StatementKind::Exit => self.leave_loop(span, "EXIT", StatementKind::Exit),
            tree::StatementKind::Continue => self.leave_loop(span, "CONTINUE", StatementKind::Continue),
        }
    }

    /// A BOOL condition behind a keyword.
    pub(crate) fn condition(&mut self, written: &tree::Expression, keyword: &'static str) -> Expression {
        let bool_type = self.elementary(E::Bool);
        self.expression_for(written, bool_type, &Goal::Condition { keyword })
    }

    fn assignment(
        &mut self,
        target: &tree::Expression,
        value: &tree::Expression,
        span: Span,
    ) -> Option<Statement> {
        let Some(access) = self.access(target, Mode::Write) else {
            self.infer(value, None);
            return None;
        };
        let typed = self.infer(value, Some(access.ty));
        self.warn_integer_division(value, typed.ty, access.ty);
        self.assign(access, typed, span)
    }

    /// `target := value`, with the implicit conversion; `None` after a report.
    pub(crate) fn assign(&mut self, target: Access, value: Expression, span: Span) -> Option<Statement> {
        if self.is_open_array(target.ty) {
            self.report_open_value(&target);
            return None;
        }
        if self.holds_instance(target.ty) {
            self.report(
                Diagnostic::error(
                    "instance-assignment",
                    target.span,
                    format!(
                        "`{}` is or holds a function block instance and cannot be assigned as a whole",
                        self.text(target.span)
                    ),
                )
                .label("function block instance")
                .note("set its inputs, call it and read its outputs"),
            );
            return None;
        }
        if self.has_open_members(target.ty) {
            let type_name = self.type_name(target.ty);
            self.report(
                Diagnostic::error(
                    "partial-address",
                    target.span,
                    format!(
                        "{type_name} has members with places of their own and cannot be assigned as a whole"
                    ),
                )
                .label("assign its members one by one"),
            );
            return None;
        }
        let goal = Goal::Assignment { place: target.span };
        let value = self.convert(value, target.ty, &goal);
        if self.is_unknown(value.ty) {
            return None;
        }
        Some(Statement { kind: StatementKind::Assign { target, value }, span })
    }

    /// A call as a statement: of an instance, or of a function for its effects.
    pub(crate) fn call_statement(
        &mut self,
        callee: &tree::Expression,
        arguments: &[tree::Argument],
        span: Span,
    ) -> Option<Statement> {
        let given = self.given(arguments);
        self.call_with(callee, given, span)
    }

    /// The same with arguments bound to values already.
    pub(crate) fn call_with<'t>(
        &mut self,
        callee: &'t tree::Expression,
        given: Vec<Given<'t>>,
        span: Span,
    ) -> Option<Statement> {
        let value = match self.called(callee) {
            Called::Function(unit) => self.function_call(unit, given, span),
            Called::Standard(called) => self.standard_function(&called, given, span, None),
            Called::Bound { upper } => self.bound_call(upper, given, span),
            Called::Reference => {
                self.use_all(given);
                self.report(
                    Diagnostic::error(
                        "statement-without-effect",
                        span,
                        "a reference that goes nowhere has no effect",
                    )
                    .label("assign it to a variable"),
                );
                return None;
            }
            Called::Method(target) => self.method_call(target, given, span),
            Called::Super => return self.super_body(given, callee.span, span),
            Called::Instance(instance) => return self.block_call(instance, given, span),
            Called::Variable | Called::Nothing => {
                self.use_all(given);
                return None;
            }
        };
        if self.is_unknown(value.ty) {
            return None;
        }
        self.warn_dropped_result(&value, callee.span);
        Some(Statement { kind: StatementKind::Evaluate(value), span })
    }

    fn warn_dropped_result(&mut self, value: &Expression, callee: Span) {
        let useless = match &value.kind {
            // A method works on its instance.
            ExpressionKind::Function(call) if call.receiver.is_some() => false,
            // Said with the call.
            ExpressionKind::Outputs(_) => false,
            ExpressionKind::Function(call) => {
                let scope = &self.units[call.unit.0 as usize];
                let effects = scope.variables.iter().any(|variable| {
                    matches!(
                        variable.section,
                        SectionKind::Output | SectionKind::InOut | SectionKind::External
                    )
                });
                scope.result.is_some() && !effects
            }
            _ => true,
        };
        if useless {
            let name = self.text(callee);
            self.report(
                Diagnostic::warning(
                    "dropped-result",
                    value.span,
                    format!("the result of `{name}` is not used"),
                )
                .label("computed and thrown away")
                .note("assign it to a variable"),
            );
        }
    }

    /// An expression where a statement is expected; says what was probably meant.
    fn report_statement_without_effect(&mut self, expression: &tree::Expression) {
        let span = expression.span;
        if let Some(operator_span) = self.equal_for_assignment(expression) {
            self.report(
                Diagnostic::error(
                    "assignment-operator",
                    operator_span,
                    "this compares, and the result goes nowhere",
                )
                .label("`=` asks whether two values are equal; `:=` stores a value")
                .fix("write `:=` here", operator_span, ":="),
            );
            return;
        }
        let instance = match &expression.kind {
            tree::ExpressionKind::Name(_)
            | tree::ExpressionKind::Member { .. }
            | tree::ExpressionKind::Index { .. } => self.is_callable(expression),
            _ => {
                self.infer(expression, None);
                false
            }
        };
        if self.has_error_in(span) {
            return;
        }
        let written = self.text(span);
        let mut diagnostic =
            Diagnostic::error("statement-without-effect", span, "this is a value, not a statement")
                .label("nothing is done with it");
        if instance {
            diagnostic = Diagnostic::error(
                "statement-without-effect",
                span,
                format!("`{written}` alone is not a call"),
            )
            .label("a call needs parentheses")
            .fix("add the parentheses of the call", span.after(), "()");
        } else {
            diagnostic = diagnostic
                .note("a statement stores a value with `:=`, calls something, or decides what runs next");
        }
        self.report(diagnostic);
    }

    /// The `=` of `a = b;` or `a = b AND c;`, the first operator behind a variable. What stands around it is
    /// checked too, because a second mistake in the same statement is a mistake of its own.
    fn equal_for_assignment(&mut self, expression: &tree::Expression) -> Option<Span> {
        let mut rest = Vec::new();
        let mut current = expression;
        let (target, span) = loop {
            let tree::ExpressionKind::Binary { operator, operator_span, left, right } = &current.kind else {
                return None;
            };
            rest.push(&**right);
            if *operator == BinaryOperator::Equal && is_variable(left) {
                break (&**left, *operator_span);
            }
            current = left;
        };
        let access = self.access(target, Mode::Write);
        match (access, rest.as_slice()) {
            (Some(access), [value]) => {
                let value = self.infer(value, Some(access.ty));
                self.convert(value, access.ty, &Goal::Assignment { place: access.span });
            }
            _ => {
                for operand in rest.into_iter().rev() {
                    self.infer(operand, None);
                }
            }
        }
        Some(span)
    }

    /// Whether an expression names an instance or a function that could be called.
    fn is_callable(&mut self, expression: &tree::Expression) -> bool {
        if let tree::ExpressionKind::Name(name) = expression.kind
            && self.find_variable(name).is_none()
            && self.value_candidates(name).is_empty()
        {
            let spelling = self.text(expression.span);
            let function = self.is_own_method(name)
                || latchwork_stdlib::function(spelling).is_some()
                || matches!(self.find_unit(name), Some((_, UnitKind::Function)));
            if function {
                return true;
            }
        }
        let value = self.infer(expression, None);
        matches!(self.types.get(self.types.underlying(value.ty)), Type::Unit(_) | Type::StandardBlock(_))
    }
}

/// Whether an expression has the form of a variable.
pub(super) fn is_variable(expression: &tree::Expression) -> bool {
    matches!(
        expression.kind,
        tree::ExpressionKind::Name(_)
            | tree::ExpressionKind::Direct(_)
            | tree::ExpressionKind::Member { .. }
            | tree::ExpressionKind::Index { .. }
            | tree::ExpressionKind::Dereference(_)
            | tree::ExpressionKind::Partial { .. }
    )
}
