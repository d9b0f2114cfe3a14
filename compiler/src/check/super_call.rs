//! `THIS(…)` and `SUPER()`: bodies called from the code of their own type, and wrong uses of SUPER.
//!
//! Source: IEC 61131-3:2013, 6.6.5.7, 6.6.7.2, tables 48 and 53.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, UnitKind},
};

use super::{Checker, arguments::Given, callee::Called};
use crate::{
    scope::CallEdge,
    typed::{Access, BlockCall, Root, Statement, StatementKind},
    types::{Type, UnitId},
};

impl<'a> Checker<'a> {
    /// `SUPER` that is neither `SUPER.method(…)` nor `SUPER()`.
    pub(super) fn report_super_without_call(&mut self, span: Span, next: Option<&tree::Expression>) {
        if self.inside_type().is_none() {
            self.report_no_this(span, "SUPER");
            return;
        }
        let member = match next.map(|next| &next.kind) {
            Some(tree::ExpressionKind::Member { member, .. }) => Some(*member),
            _ => None,
        };
        let mut diagnostic = Diagnostic::error("super-without-call", span, "SUPER can only be called")
            .label("stands for the methods and the body of the base");
        diagnostic = match member {
            Some(member) if self.text(member.span).eq_ignore_ascii_case("SUPER") => {
                diagnostic.note("only the base itself can be reached, not what stands above it")
            }
            Some(member) => diagnostic.note(format!(
                "inherited variables belong to the instance itself: `{}` or `THIS.{0}`",
                self.text(member.span)
            )),
            None => diagnostic
                .note("write `SUPER.method(…)`, or `SUPER()` in the body of a derived function block"),
        };
        self.report(diagnostic);
    }

    /// The base of the type being checked, for `SUPER`.
    pub(super) fn base_for_super(&mut self, span: Span) -> Option<UnitId> {
        let Some(inside) = self.inside_type() else {
            self.report_no_this(span, "SUPER");
            return None;
        };
        let scope = &self.units[inside.0 as usize];
        if let Some(base) = scope.object.base {
            return Some(base);
        }
        // EXTENDS was reported already where it names nothing.
        if scope.tree.extends.is_none() {
            let place = scope.tree.name.span;
            let spelling = self.spelling(scope.name);
            self.report(
                Diagnostic::error(
                    "this-not-allowed",
                    span,
                    format!("`{spelling}` extends nothing, so there is no SUPER"),
                )
                .label("no base")
                .also(place, "without EXTENDS"),
            );
        }
        None
    }

    /// `THIS(…)`: the body of the function block, called from one of its methods.
    pub(super) fn called_this(&mut self, span: Span) -> Called {
        let Some(instance) = self.this_instance(span) else { return Called::Nothing };
        if self.unit == self.inside_type() {
            self.report(
                Diagnostic::error("recursion", span, "the body calls itself with `THIS()`")
                    .label("is still running")
                    .note(
                        "every variable has one fixed place, so a unit cannot run twice at once; use a loop",
                    ),
            );
            return Called::Nothing;
        }
        Called::Instance(instance)
    }

    /// `SUPER()`: the body of the base, in the body of a derived function block.
    pub(super) fn super_body(
        &mut self,
        given: Vec<Given<'_>>,
        super_span: Span,
        span: Span,
    ) -> Option<Statement> {
        let base = self.base_for_super(super_span);
        let problem = match base {
            None => {
                self.use_all(given);
                return None;
            }
            Some(_) if self.unit != self.inside_type() => Some((
                "this-not-allowed",
                "`SUPER()` runs the body of the base and stands in the body of a function block only"
                    .to_owned(),
                "in a method, call a method of the base: `SUPER.method(…)`",
            )),
            Some(base) if self.units[base.0 as usize].kind == UnitKind::Class => Some((
                "not-callable",
                format!(
                    "the base `{}` is a class and has no body",
                    self.spelling(self.units[base.0 as usize].name)
                ),
                "call one of its methods: `SUPER.method(…)`",
            )),
            Some(_) if !given.is_empty() => Some((
                "argument-count",
                "`SUPER()` takes no arguments".to_owned(),
                "the body of the base works on the same inputs, which have been set already",
            )),
            Some(_) => None,
        };
        let base = base?;
        if let Some((name, message, note)) = problem {
            self.report(Diagnostic::error(name, span, message).label("not possible here").note(note));
            self.use_all(given);
            return None;
        }
        if let Some(caller) = self.unit {
            self.calls.push(CallEdge { caller, callee: base, span });
        }
        let instance = Access::whole(Root::This, self.types.intern(Type::Unit(base)), super_span);
        let call = BlockCall::new(instance, Vec::new());
        Some(Statement { kind: StatementKind::CallBlock(Box::new(call)), span })
    }
}
