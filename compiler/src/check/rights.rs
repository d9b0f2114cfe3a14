//! Who may write what: constants, inputs, outputs of instances, control variables, inputs of the controller.
//!
//! Source: IEC 61131-3:2013, 6.5.2 and 6.5.4.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Area, Ident, SectionKind},
};

use super::{Checker, access::Mode};
use crate::{
    typed::{GlobalId, VariableId},
    types::UnitId,
};

/// Why an access may not be written.
#[derive(Clone, Copy)]
pub(crate) enum Barrier {
    Constant(Span),
    Input(Span),
    Control,
    PhysicalInput(Span),
    Output(Span),
    Step(Span),
}

impl<'a> Checker<'a> {
    pub(super) fn barrier_of(&self, id: VariableId) -> Option<Barrier> {
        if self.body.loops.contains(&Some(id)) {
            return Some(Barrier::Control);
        }
        self.barrier_in(self.unit?, id)
    }

    /// The same for a variable of a unit or of the owner of a method.
    pub(super) fn barrier_in(&self, unit: UnitId, id: VariableId) -> Option<Barrier> {
        let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
        if Some(variable.kind) == self.step_type {
            return Some(Barrier::Step(variable.span));
        }
        if variable.constant {
            return Some(Barrier::Constant(variable.span));
        }
        if variable.section == SectionKind::Input {
            return Some(Barrier::Input(variable.span));
        }
        let located = variable.global.map(|id| &self.globals.variables[id.0 as usize]).unwrap_or(variable);
        match &located.location {
            Some(address) if address.area == Area::Input => Some(Barrier::PhysicalInput(address.span)),
            _ => None,
        }
    }

    /// What keeps a global from being written.
    pub(crate) fn global_barrier(&self, id: GlobalId) -> Option<Barrier> {
        let variable = &self.globals.variables[id.0 as usize];
        match &variable.location {
            _ if variable.constant => Some(Barrier::Constant(variable.span)),
            Some(address) if address.area == Area::Input => Some(Barrier::PhysicalInput(address.span)),
            _ => None,
        }
    }

    pub(super) fn check_barrier(
        &mut self,
        barrier: Option<Barrier>,
        expression: &tree::Expression,
        mode: Mode,
    ) -> Option<()> {
        let Some(barrier) = barrier else { return Some(()) };
        let written = self.text(expression.span);
        let verb = if mode == Mode::InOut { "be passed as VAR_IN_OUT" } else { "be written" };
        let span = expression.span;
        let diagnostic = match barrier {
            Barrier::Constant(place) => {
                Diagnostic::error("write-to-constant", span, format!("`{written}` is CONSTANT and cannot {verb}"))
                    .label("never changes")
                    .also(place, "declared here")
                    .note("take CONSTANT away from the declaration if the value has to change")
            }
            Barrier::Input(place) => Diagnostic::error(
                "write-to-input",
                span,
                format!("`{written}` is a VAR_INPUT and cannot {verb} inside its unit"),
            )
            .label("set by the caller only")
            .also(place, "declared here")
            .note("copy it into a variable of the unit, or declare it as VAR_IN_OUT to change the caller's variable"),
            Barrier::Control => Diagnostic::error(
                "write-to-control-variable",
                span,
                format!("`{written}` counts a FOR loop and cannot {verb} inside it"),
            )
            .label("changed by FOR only")
            .note("use EXIT to leave the loop early, or a WHILE loop to count in another way"),
            Barrier::PhysicalInput(place) => {
                let mut diagnostic = Diagnostic::error(
                    "write-to-physical-input",
                    span,
                    format!("`{written}` is an input of the controller and cannot {verb}"),
                )
                .label("read from the terminal at the start of each scan");
                if place != span {
                    diagnostic = diagnostic.also(place, "%I: input");
                }
                diagnostic.note("an output has an address with %Q, an internal flag one with %M or none")
            }
            Barrier::Step(place) => {
                Diagnostic::error("step-read-only", span, format!("`{written}` belongs to a step and cannot {verb}"))
                    .label("changed by the chart only")
                    .also(place, "this step")
                    .note("a step is entered and left by its transitions; write a variable and test it in a condition")
            }
            Barrier::Output(place) => {
                let mut diagnostic = Diagnostic::error(
                    "write-to-output",
                    span,
                    format!("`{written}` is an output of a function block and cannot {verb} from outside"),
                )
                .label("written by its function block only");
                if place.file != span.file || place.start < span.start || place.end > span.end {
                    diagnostic = diagnostic.also(place, "declared here");
                }
                diagnostic.note("set its inputs and call it; the outputs follow")
            }
        };
        self.report(diagnostic);
        None
    }

    pub(super) fn report_point_for_hash(&mut self, type_span: Span, member: Ident) {
        let between = Span::new(type_span.file, type_span.end, member.span.start);
        let (type_name, value) = (self.text(type_span), self.text(member.span));
        self.report(
            Diagnostic::error(
                "type-as-value",
                type_span,
                format!("`{type_name}` is a type and has no members"),
            )
            .label("type, not a variable")
            .fix(format!("write `{type_name}#{value}`"), between, "#"),
        );
    }

    pub(super) fn report_not_a_variable(
        &mut self,
        expression: &tree::Expression,
        root: &tree::Expression,
        mode: Mode,
    ) {
        let what = match &root.kind {
            tree::ExpressionKind::Call(_) => "the result of a call",
            tree::ExpressionKind::Literal(_) | tree::ExpressionKind::TypedLiteral { .. } => "a literal",
            tree::ExpressionKind::QualifiedValue { .. } => "a value",
            _ => "an expression",
        };
        let message = match mode {
            Mode::Read => format!("a part can only be taken of a variable, not of {what}"),
            Mode::Write => format!("{what} cannot be written"),
            Mode::InOut => format!("{what} cannot be passed as VAR_IN_OUT"),
        };
        let mut diagnostic =
            Diagnostic::error("not-a-variable", expression.span, message).label("a variable is needed");
        if mode == Mode::Write {
            diagnostic = diagnostic.note("left of `:=` stands the variable that takes the value");
        }
        self.report(diagnostic);
    }
}
