//! What a call calls: a function, a method, an instance, or something that cannot be called. The arguments are not
//! looked at here.
//!
//! Source: IEC 61131-3:2013, 6.6.1.4, 6.6.2 and 6.6.3. Our choice: a local name hides a function of the same name, so a
//! call of it is a call of a variable.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, UnitKind},
};
use latchwork_stdlib::Lowering;

use super::{Checker, access::Mode, describe::quoted, method_call::MethodTarget, standard::Callee};
use crate::{
    typed::Access,
    types::{Type, UnitId},
};

/// What the callee of a call is.
pub(crate) enum Called {
    /// A function of the user.
    Function(UnitId),
    /// A function of the standard.
    Standard(Callee),
    /// The operator REF.
    Reference,
    /// LOWER_BOUND or UPPER_BOUND.
    Bound { upper: bool },
    /// A method with its instance.
    Method(MethodTarget),
    /// `SUPER` as a call.
    Super,
    /// A function block instance or something else that is a variable.
    Instance(Access),
    /// The same by its name alone.
    Variable,
    /// Reported already.
    Nothing,
}

impl<'a> Checker<'a> {
    /// Finds out what a call calls.
    pub(crate) fn called(&mut self, callee: &tree::Expression) -> Called {
        match &callee.kind {
            tree::ExpressionKind::Name(name) => {
                match self.called_by_name(tree::Ident { name: *name, span: callee.span }) {
                    Called::Variable => self.called_instance(callee),
                    called => called,
                }
            }
            tree::ExpressionKind::Member { base, member } => self.called_member(callee, base, *member),
            tree::ExpressionKind::This => self.called_this(callee.span),
            tree::ExpressionKind::Super => Called::Super,
            _ => self.called_instance(callee),
        }
    }

    fn called_instance(&mut self, callee: &tree::Expression) -> Called {
        self.access(callee, Mode::Read).map_or(Called::Nothing, Called::Instance)
    }

    /// The same for a name that stands alone, such as a function in Instruction List.
    pub(crate) fn called_by_name(&mut self, callee: tree::Ident) -> Called {
        let name = callee.name;
        let spelling = self.text(callee.span);
        let unit = self.find_unit(name);
        if let Some(id) = self.find_variable(name) {
            // The name of the function itself is its result, but a call of it is a call.
            let own_result = self.unit.is_some_and(|unit| self.units[unit.0 as usize].result == Some(id));
            // A variable of the type with the name of a method was reported.
            let body = self.unit.is_some() && self.unit == self.inside_type();
            let method = body && self.is_own_method(name);
            if !own_result && !method {
                return Called::Variable;
            }
        }
        if let Some(method) = self.own_method(callee) {
            return Called::Method(method);
        }
        if self.find_variable(name).is_none() && self.owner_variable(name).is_some() {
            return Called::Variable;
        }
        match unit {
            Some((unit, UnitKind::Function)) => return Called::Function(unit),
            Some((unit, kind)) => {
                let place = self.units[unit.0 as usize].tree.name.span;
                self.report_type_called(callee.span, kind, Some(place));
                return Called::Nothing;
            }
            None => {}
        }
        if spelling.eq_ignore_ascii_case("REF") {
            return Called::Reference;
        }
        if let Some(resolved) = latchwork_stdlib::function(spelling) {
            if let Lowering::Bound { upper } = resolved.definition.lowering {
                return Called::Bound { upper };
            }
            return Called::Standard(Callee::resolved(resolved, quoted(spelling), callee.span));
        }
        if latchwork_stdlib::block(spelling).is_some() {
            self.report_type_called(callee.span, UnitKind::FunctionBlock, None);
            return Called::Nothing;
        }
        if let Some(symbol) = self.type_symbols.get(&name) {
            let place = symbol.declaration.name.span;
            self.report(
                Diagnostic::error(
                    "not-callable",
                    callee.span,
                    format!("`{spelling}` is a type and cannot be called"),
                )
                .label("not a function")
                .also(place, "declared here"),
            );
            return Called::Nothing;
        }
        self.report_undeclared_function(callee.span);
        Called::Nothing
    }

    fn report_type_called(&mut self, span: Span, kind: UnitKind, place: Option<Span>) {
        let spelling = self.text(span);
        let mut diagnostic = match kind {
            UnitKind::FunctionBlock => Diagnostic::error(
                "block-type-called",
                span,
                format!("`{spelling}` is a function block type; an instance of it is called"),
            )
            .label("type, not an instance"),
            UnitKind::Class => Diagnostic::error(
                "not-callable",
                span,
                format!("`{spelling}` is a class and cannot be called"),
            )
            .label("a type without a body")
            .note(format!(
                "declare an instance, `VAR My{spelling} : {spelling}; END_VAR`, and call its methods"
            )),
            _ => Diagnostic::error(
                "not-callable",
                span,
                format!("`{spelling}` is a program and cannot be called"),
            )
            .label("runs by itself, whenever its task is due")
            .note("make it a FUNCTION_BLOCK to call it from another unit"),
        };
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, "declared here");
        }
        if kind == UnitKind::FunctionBlock {
            diagnostic = match self.only_instance(span) {
                Some((name, declared)) => diagnostic
                    .also(declared, "an instance of it")
                    .fix(format!("call `{name}`"), span, name),
                None => diagnostic.note(format!(
                    "declare an instance, which remembers its state from call to call: `VAR My{spelling} : {spelling}; END_VAR`"
                )),
            };
        }
        self.report(diagnostic);
    }

    /// The variable of the current unit that is an instance of the function block type named at a place, if
    /// there is exactly one.
    fn only_instance(&self, type_name: Span) -> Option<(String, Span)> {
        let wanted = self.text(type_name);
        let unit = &self.units[self.unit?.0 as usize];
        let mut instances = unit.variables.iter().filter(|variable| {
            match self.types.get(self.types.underlying(variable.kind)) {
                Type::StandardBlock(index) => {
                    self.types.standard_block(*index).name.eq_ignore_ascii_case(wanted)
                }
                Type::Unit(id) => self.spelling(self.units[id.0 as usize].name).eq_ignore_ascii_case(wanted),
                _ => false,
            }
        });
        let first = instances.next()?;
        let name = self.spelling(first.name?).to_owned();
        instances.next().is_none().then_some((name, first.span))
    }

    /// A call of a variable that is no instance.
    pub(super) fn report_not_callable(&mut self, access: &Access, name: &str) {
        let type_name = self.type_name(access.ty);
        let mut diagnostic = Diagnostic::error(
            "not-callable",
            access.span,
            format!("`{name}` is {type_name} and cannot be called"),
        )
        .label("not a function and not a function block instance");
        if matches!(self.types.get(self.types.underlying(access.ty)), Type::Array { .. }) {
            diagnostic = diagnostic.note("an element of an array stands in brackets: `[1]`");
        }
        self.report(diagnostic);
    }
}
