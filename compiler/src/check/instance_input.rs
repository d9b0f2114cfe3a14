//! Function block instances passed as inputs: the called unit reads their outputs and does no more.
//!
//! Source: IEC 61131-3:2013, 6.6.3. Our choice: such an instance is passed by its address, not copied. A function
//! needs it at every call; a function block keeps the one it was given last.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Ident, SectionKind},
};

use super::{
    Checker,
    access::Mode,
    arguments::{Bound, Interface, Parameter},
    operands::Operand,
};
use crate::{
    object_scope::derives_from,
    typed::{Access, Expression, ExpressionKind, Root, Step},
    types::Type,
};

impl<'a> Checker<'a> {
    /// An instance given for an input of an instance's type.
    pub(super) fn bind_instance(
        &mut self,
        interface: &Interface,
        parameter: &Parameter,
        value: Operand<'_>,
        bound: &mut Bound,
    ) -> bool {
        let span = value.span();
        let access = match value {
            Operand::Written(written) => match self.access(written, Mode::Read) {
                Some(access) => access,
                None => return false,
            },
            Operand::Checked(Expression { kind: ExpressionKind::Access(access), .. }) => access,
            Operand::Checked(value) => {
                if !self.is_unknown(value.ty) {
                    self.report_no_instance(interface, parameter, &value);
                }
                return false;
            }
        };
        let (actual, formal) = (self.types.underlying(access.ty), self.types.underlying(parameter.ty));
        let ty = access.ty;
        let value = Expression { kind: ExpressionKind::Access(access), ty, span };
        let derived = match (self.types.get(actual), self.types.get(formal)) {
            (Type::Unit(actual), Type::Unit(formal)) => derives_from(&self.units, *actual, *formal),
            _ => false,
        };
        if actual != formal && !derived {
            self.report_no_instance(interface, parameter, &value);
            return false;
        }
        bound.inputs.push((parameter.index, value));
        true
    }

    fn report_no_instance(&mut self, interface: &Interface, parameter: &Parameter, value: &Expression) {
        let (actual, formal) = (self.type_name(value.ty), self.type_name(parameter.ty));
        let mut diagnostic = Diagnostic::error(
            "type-mismatch",
            value.span,
            format!(
                "input `{}` of {} takes an instance of {formal}, this is {actual}",
                parameter.name, interface.shown
            ),
        )
        .label(actual);
        if let Some(place) = parameter.span {
            diagnostic = diagnostic.also(place, formal);
        }
        self.report(diagnostic);
    }

    /// Inputs for instances that a call leaves out.
    pub(super) fn check_instances_given(
        &mut self,
        interface: &Interface,
        bound: &Bound,
        keeps: bool,
        span: Span,
    ) -> bool {
        let missing: Vec<&Parameter> = interface
            .instances
            .iter()
            .filter_map(|at| interface.parameters.get(*at))
            .filter(|parameter| !bound.inputs.iter().any(|(index, _)| *index == parameter.index))
            .collect();
        if missing.is_empty() || bound.faulty {
            return true;
        }
        let names: Vec<String> = missing.iter().map(|parameter| parameter.name.to_string()).collect();
        let what = format!(
            "the call of {} passes no instance for {}",
            interface.shown,
            crate::declare::listed(&names)
        );
        let diagnostic = if keeps {
            Diagnostic::warning("instance-left-out", span, what)
                .label("the instance of the last call is used, and the run stops if there was none")
                .note("pass the instance at every call")
        } else {
            Diagnostic::error("instance-input", span, what)
                .label("a function keeps none from an earlier call")
                .note("pass the instance at every call")
        };
        self.report(diagnostic);
        keeps
    }

    /// Refuses to call an instance that is an input.
    pub(crate) fn may_call_instance(&mut self, instance: &Access) -> bool {
        let Some(place) = self.input_instance(instance) else { return true };
        let name = self.text(instance.span);
        self.report(
            Diagnostic::error(
                "instance-input",
                instance.span,
                format!("`{name}` is a VAR_INPUT and cannot be called"),
            )
            .label("only its outputs can be read here")
            .also(place, "declared here")
            .note("declare it as VAR_IN_OUT, so that the unit may call the instance of its caller"),
        );
        false
    }

    /// The declaration of the input that an instance comes from.
    fn input_instance(&self, instance: &Access) -> Option<Span> {
        let Root::Variable(id) = instance.root else { return None };
        if instance.steps.iter().any(|step| matches!(step, Step::Dereference)) {
            return None;
        }
        let variable = &self.units[self.unit?.0 as usize].variables[id.0 as usize];
        (variable.section == SectionKind::Input).then_some(variable.span)
    }

    /// An input of an instance that is read from outside, which shows what was passed last.
    pub(super) fn warn_input_read(&mut self, member: Ident, mode: Mode) {
        if mode != Mode::Read {
            return;
        }
        let name = self.text(member.span);
        self.report(
            Diagnostic::warning(
                "input-read",
                member.span,
                format!("`{name}` is an input and is read from outside its function block"),
            )
            .label("the value passed last")
            .note("read the variable that is passed to it instead"),
        );
    }
}
