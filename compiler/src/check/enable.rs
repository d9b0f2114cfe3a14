//! EN and ENO: their declaration, their arguments, and standard functions called with them.
//!
//! Source: IEC 61131-3:2013, 6.6.1.5, table 18. Every function, function block and method has both in calls
//! with names; a unit that declares them may read EN and write ENO. Our choices: EN is evaluated before every
//! other argument; a function called with EN gives the default of its type when it does not run.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Ident, SectionKind},
};
use latchwork_vm::ElementaryType as E;

use super::{
    Checker,
    access::Mode,
    arguments::{Given, GivenKind},
    conversion::Goal,
};
use crate::{
    typed::{
        Access, Constant, ControlledCall, Expression, ExpressionKind, InitialValue, Root, Variable, accesses,
    },
    types::TypeId,
};

/// EN and ENO as given in a call.
#[derive(Clone, Debug, Default)]
pub(crate) struct Enable {
    pub(crate) input: Option<Box<Expression>>,
    pub(crate) output: Option<Box<Access>>,
}

/// Whether a name is one of the two.
pub(crate) fn is_enable(name: &str) -> bool {
    name.eq_ignore_ascii_case("EN") || name.eq_ignore_ascii_case("ENO")
}

impl<'a> Checker<'a> {
    /// Takes EN and ENO out of the arguments of a call; `None` after a report.
    pub(crate) fn take_enable<'t>(&mut self, given: &mut Vec<Given<'t>>, shown: &str) -> Option<Enable> {
        let mut enable = Enable::default();
        let named = |given: &Given<'t>| match &given.kind {
            GivenKind::Input { name, .. } | GivenKind::Output { name, .. } => is_enable(self.text(name.span)),
            GivenKind::Positional(_) => false,
        };
        if !given.iter().any(named) {
            return Some(enable);
        }
        let (mut input_place, mut output_place) = (None, None);
        let mut sound = true;
        for argument in std::mem::take(given) {
            let ident = match &argument.kind {
                GivenKind::Input { name, .. } | GivenKind::Output { name, .. } => *name,
                GivenKind::Positional(_) => {
                    given.push(argument);
                    continue;
                }
            };
            let spelling = self.text(ident.span);
            if !is_enable(spelling) {
                given.push(argument);
                continue;
            }
            let place =
                if spelling.eq_ignore_ascii_case("EN") { &mut input_place } else { &mut output_place };
            if let Some(first) = place.replace(ident.span) {
                self.report_repeated(ident, first);
                self.use_all(vec![argument]);
                sound = false;
                continue;
            }
            sound &= self.bind_enable(&mut enable, ident, argument.kind, shown);
        }
        sound.then_some(enable)
    }

    fn bind_enable(&mut self, enable: &mut Enable, ident: Ident, kind: GivenKind<'_>, shown: &str) -> bool {
        let is_input = self.text(ident.span).eq_ignore_ascii_case("EN");
        let bool_type = self.elementary(E::Bool);
        match kind {
            GivenKind::Input { value, .. } if is_input => {
                let value = self.operand(value, Some(bool_type));
                let goal = Goal::Input { name: "EN", callee: shown, place: None };
                let value = self.convert(value, bool_type, &goal);
                let sound = !self.is_unknown(value.ty);
                enable.input = Some(Box::new(value));
                sound
            }
            GivenKind::Output { target, negated, .. } if !is_input => {
                let Some(access) = self.access(target, Mode::Write) else { return false };
                if self.types.elementary_base(access.ty) != Some(E::Bool) {
                    let type_name = self.type_name(access.ty);
                    self.report(
                        Diagnostic::error(
                            "type-mismatch",
                            target.span,
                            format!("ENO is BOOL and cannot go to {type_name}"),
                        )
                        .label(type_name),
                    );
                    return false;
                }
                if negated {
                    self.report(
                        Diagnostic::error(
                            "enable-parameter",
                            ident.span,
                            "ENO is passed on as it is, without NOT",
                        )
                        .label("written as `NOT ENO =>`")
                        .note("take it with `ENO => ok` and use `NOT ok` behind the call"),
                    );
                    return false;
                }
                enable.output = Some(Box::new(access));
                true
            }
            GivenKind::Input { value, .. } => {
                self.report_wrong_arrow(ident, value.span(), false, SectionKind::Output);
                self.operand(value, None);
                false
            }
            GivenKind::Output { target, .. } => {
                self.report_wrong_arrow(ident, target.span, true, SectionKind::Input);
                self.infer(target, None);
                false
            }
            GivenKind::Positional(_) => true,
        }
    }

    /// A standard function whose arguments go into hidden variables first: called with EN or ENO, or with names in
    /// another order than that of its inputs, where the order can make a difference.
    pub(super) fn controlled(&mut self, enable: Enable, mut value: Expression, span: Span) -> Expression {
        let plain = enable.input.is_none() && enable.output.is_none();
        let nowhere = self.constant_only || self.unit.is_none();
        if self.is_unknown(value.ty) || (plain && (nowhere || !order_matters(&value))) {
            return value;
        }
        if nowhere {
            self.report(
                Diagnostic::error(
                    "not-constant",
                    span,
                    "a call with EN or ENO has no value before the program runs",
                )
                .label("not a constant"),
            );
            return self.unknown(span);
        }
        let mut arguments = Vec::new();
        let mut operands: Vec<&mut Expression> = match &mut value.kind {
            ExpressionKind::Standard { arguments, .. } => arguments.iter_mut().collect(),
            ExpressionKind::Bound(bound) => vec![&mut bound.dimension],
            _ => Vec::new(),
        };
        // As written, not as the inputs are numbered.
        operands.sort_by_key(|operand| operand.span.start);
        {
            for operand in operands {
                if matches!(operand.kind, ExpressionKind::Constant(_)) {
                    continue;
                }
                let id = self.temporary(operand.ty, operand.span);
                let access = Access::whole(Root::Variable(id), operand.ty, operand.span);
                let kept =
                    Expression { kind: ExpressionKind::Access(access), ty: operand.ty, span: operand.span };
                arguments.push((id, std::mem::replace(operand, kept)));
            }
        }
        let ty = value.ty;
        let result = self.temporary(ty, span);
        let call =
            ControlledCall { enable: enable.input, enable_output: enable.output, arguments, value, result };
        Expression { kind: ExpressionKind::Controlled(Box::new(call)), ty, span }
    }

    /// The rules for a variable named EN or ENO.
    pub(crate) fn check_enable_declaration(&mut self, variable: &mut Variable) {
        let Some(name) = variable.name else { return };
        let spelling = self.spelling(name);
        if !is_enable(spelling) {
            return;
        }
        let is_input = spelling.eq_ignore_ascii_case("EN");
        let (section, keyword) =
            if is_input { (SectionKind::Input, "VAR_INPUT") } else { (SectionKind::Output, "VAR_OUTPUT") };
        let name = if is_input { "EN" } else { "ENO" };
        let place = variable.span;
        if variable.section != section {
            self.report(
                Diagnostic::error("enable-parameter", place, format!("`{name}` can only be declared in {keyword}"))
                    .label("has a meaning of its own")
                    .note(if is_input {
                        "EN decides whether a call runs; declare it as `EN : BOOL := TRUE;` or choose another name"
                    } else {
                        "ENO tells whether a call went well; declare it as `ENO : BOOL;` or choose another name"
                    }),
            );
            return;
        }
        if self.is_unknown(variable.kind) {
            return;
        }
        if self.types.elementary_base(variable.kind) != Some(E::Bool) || variable.edge.is_some() {
            let type_name = self.type_name(variable.kind);
            self.report(
                Diagnostic::error("enable-parameter", place, format!("`{name}` is BOOL in every unit"))
                    .label(if variable.edge.is_some() { "with an edge".to_owned() } else { type_name })
                    .note(format!("declare it as `{name} : BOOL;`, or choose another name")),
            );
            return;
        }
        match &variable.initial {
            Some(InitialValue::Constant(Constant::Bool(false))) => self.report(
                Diagnostic::error(
                    "enable-parameter",
                    place,
                    format!("`{name}` starts as TRUE at every call"),
                )
                .label("has another initial value")
                .note("a call that is reached has EN TRUE, and its ENO is TRUE until something goes wrong"),
            ),
            None if is_input => variable.initial = Some(InitialValue::Constant(Constant::Bool(true))),
            _ => {}
        }
    }

    /// EN and ENO as the name of something else than the parameters.
    pub(crate) fn check_reserved(&mut self, ident: Ident, what: &str) {
        let spelling = self.text(ident.span);
        if is_enable(spelling) {
            self.report(
                Diagnostic::error(
                    "enable-parameter",
                    ident.span,
                    format!("`{spelling}` cannot be the name of {what}"),
                )
                .label("has a meaning of its own in every call")
                .note("EN and ENO are parameters of every function, function block and method; choose another name"),
            );
        }
    }

    /// EN of an instance reached from outside.
    pub(super) fn refuse_enable_member(&mut self, member: Ident, whole: TypeId) -> bool {
        let spelling = self.text(member.span);
        if !spelling.eq_ignore_ascii_case("EN") {
            return false;
        }
        let type_name = self.type_name(whole);
        self.report(
            Diagnostic::error(
                "enable-parameter",
                member.span,
                format!("EN of {type_name} is given in the call only"),
            )
            .label("cannot be reached from outside")
            .note("write `EN := …` among the arguments of the call"),
        );
        true
    }
}

/// Whether the operands of a standard function are written in another order than that of its inputs, and one of them
/// runs code that the others could notice.
fn order_matters(value: &Expression) -> bool {
    let ExpressionKind::Standard { arguments, .. } = &value.kind else { return false };
    !arguments.is_sorted_by_key(|argument| argument.span.start) && arguments.iter().any(accesses::calls)
}
