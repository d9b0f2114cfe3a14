//! Calls with a value: functions of the user and of the standard. What is called, tells [`super::callee`].
//!
//! Source: IEC 61131-3:2013, 6.6.1 and 6.6.2, tables 19 to 21.

use std::rc::Rc;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, SectionKind},
};

use super::{
    Checker,
    arguments::{Given, GivenKind, Interface, Parameter},
    callee::Called,
    describe::{count, quoted},
    enable::is_enable,
    operands::Operand,
    outputs::has_no_result,
    standard::Callee,
};
use crate::{
    object_scope::is_incomplete,
    scope::{CallEdge, UnitScope},
    typed::{Access, Expression, ExpressionKind, FunctionCall, Receiver},
    types::{Type, TypeId, UnitId},
};

impl<'a> Checker<'a> {
    /// A call where a value is needed.
    pub(super) fn call_value(&mut self, call: &tree::Call, hint: Option<TypeId>) -> Expression {
        match self.called(&call.callee) {
            Called::Function(unit) => {
                let given = self.given(&call.arguments);
                let value = self.function_call(unit, given, call.span);
                self.with_result(value, unit, call)
            }
            Called::Method(target) => {
                let given = self.given(&call.arguments);
                let unit = target.method;
                let value = self.method_call(target, given, call.span);
                self.with_result(value, unit, call)
            }
            Called::Standard(callee) => {
                let given = self.given(&call.arguments);
                let value = self.standard_function(&callee, given, call.span, hint);
                if has_no_result(callee.definition) {
                    self.report_no_result(call, None);
                    return self.unknown(call.span);
                }
                value
            }
            Called::Reference => self.reference(call),
            Called::Bound { upper } => {
                let given = self.given(&call.arguments);
                self.bound_call(upper, given, call.span)
            }
            Called::Instance(instance) => {
                self.report_instance_as_value(&instance, call);
                let given = self.given(&call.arguments);
                self.use_all(given);
                self.unknown(call.span)
            }
            Called::Super => {
                self.report(
                    Diagnostic::error(
                        "block-as-value",
                        call.span,
                        "the call of the body of the base has no value",
                    )
                    .label("a value is needed here")
                    .note("write `SUPER();` as a statement, then read the outputs"),
                );
                let given = self.given(&call.arguments);
                self.use_all(given);
                self.unknown(call.span)
            }
            Called::Variable | Called::Nothing => {
                let given = self.given(&call.arguments);
                self.use_all(given);
                self.unknown(call.span)
            }
        }
    }

    /// The value of a call, reported if what was called has none.
    fn with_result(&mut self, value: Expression, unit: UnitId, call: &tree::Call) -> Expression {
        if self.units[unit.0 as usize].tree.result.is_some() {
            return value;
        }
        let place = self.units[unit.0 as usize].tree.name.span;
        self.report_no_result(call, Some(place));
        self.unknown(call.span)
    }

    /// A call of a function without a result where a value is needed.
    fn report_no_result(&mut self, call: &tree::Call, declared: Option<Span>) {
        let name = self.text(call.callee.span);
        let mut diagnostic = Diagnostic::error("no-result", call.span, format!("`{name}` gives no result"))
            .label("a value is needed here");
        if let Some(place) = declared {
            diagnostic = diagnostic.also(place, "declared without a result type");
        }
        self.report(diagnostic.note("call it as a statement of its own and take its outputs with `=>`"));
    }

    fn report_instance_as_value(&mut self, access: &Access, call: &tree::Call) {
        if self.is_class_instance(access) {
            self.report_class_called(access);
            return;
        }
        let name = self.text(call.callee.span);
        let output = match self.types.get(self.types.underlying(access.ty)) {
            Type::Unit(unit) => {
                let scope = &self.units[unit.0 as usize];
                let output = scope.variables.iter().find(|variable| variable.section == SectionKind::Output);
                output.and_then(|output| output.name).map(|name| self.spelling(name).to_owned())
            }
            Type::StandardBlock(index) => {
                let block = self.types.standard_block(*index);
                let output =
                    block.members.iter().find(|member| member.section == latchwork_vm::Section::Output);
                output.map(|output| output.name.to_owned())
            }
            _ => {
                self.report_not_callable(access, name);
                return;
            }
        };
        let mut diagnostic = Diagnostic::error(
            "block-as-value",
            call.span,
            format!("the call of the function block instance `{name}` has no value"),
        )
        .label("a value is needed here");
        if let Some(output) = output {
            diagnostic = diagnostic.note(format!(
                "call it as a statement first, then read an output: `{name}(…); … {name}.{output}`"
            ));
        }
        self.report(diagnostic);
    }

    /// A call of a user function with its arguments; also its use as a statement.
    pub(crate) fn function_call(&mut self, unit: UnitId, given: Vec<Given<'_>>, span: Span) -> Expression {
        if let Some(caller) = self.unit {
            self.calls.push(CallEdge { caller, callee: unit, span });
        }
        self.unit_call(unit, None, None, given, span)
    }

    /// A call of a function, or of a method with its receiver, under the name shown in messages.
    pub(super) fn unit_call(
        &mut self,
        unit: UnitId,
        receiver: Option<Receiver>,
        shown: Option<&str>,
        given: Vec<Given<'_>>,
        span: Span,
    ) -> Expression {
        let interface = self.unit_interface(unit, shown);
        let Some(bound) = self.bind(&interface, given, span) else { return self.unknown(span) };
        if !self.check_instances_given(&interface, &bound, false, span) {
            return self.unknown(span);
        }
        let scope = &self.units[unit.0 as usize];
        let ty = match scope.result {
            Some(result) => scope.variables[result.0 as usize].kind,
            None => self.elementary(latchwork_vm::ElementaryType::Bool),
        };
        let call = FunctionCall {
            unit,
            receiver,
            inputs: bound.inputs,
            in_outs: bound.in_outs,
            outputs: bound.outputs,
            enable: bound.enable,
            enable_output: bound.enable_output,
        };
        Expression { kind: ExpressionKind::Function(Box::new(call)), ty, span }
    }

    /// The parameters of a user unit in the order of their declaration.
    pub(crate) fn unit_interface(&mut self, unit: UnitId, shown: Option<&str>) -> Interface {
        let (parameters, instances) = self.unit_parameters(unit);
        let scope = &self.units[unit.0 as usize];
        Interface {
            shown: quoted(shown.unwrap_or_else(|| self.spelling(scope.name))),
            parameters,
            instances,
            span: Some(scope.tree.name.span),
            incomplete: is_incomplete(&self.units, unit),
            all_inputs: false,
        }
    }

    /// The parameters of a unit, made once: a unit with many of them may be called many times.
    fn unit_parameters(&mut self, unit: UnitId) -> (Rc<[Parameter]>, Rc<[usize]>) {
        let scope = &self.units[unit.0 as usize];
        let declared = scope.variables.len();
        if let Some((known, parameters, instances)) = self.interfaces.get(&unit)
            && *known == declared
        {
            return (Rc::clone(parameters), Rc::clone(instances));
        }
        let parameters = scope.variables.iter().enumerate().filter_map(|(index, variable)| {
            let section = variable.section;
            let outside = matches!(section, SectionKind::Input | SectionKind::Output | SectionKind::InOut);
            // EN and ENO are in every call and in no order.
            let name = variable.name.filter(|name| outside && !is_enable(self.spelling(*name)))?;
            Some(Parameter {
                index: index as u32,
                name: self.shared_spelling(name),
                section,
                ty: variable.kind,
                span: Some(variable.span),
                any_length: has_no_length(scope, index),
                aliases: &[],
            })
        });
        let parameters: Rc<[Parameter]> = parameters.collect();
        let is_instance =
            |parameter: &Parameter| parameter.section == SectionKind::Input && self.is_instance(parameter.ty);
        let instances: Rc<[usize]> =
            parameters.iter().enumerate().filter(|(_, each)| is_instance(each)).map(|(at, _)| at).collect();
        self.interfaces.insert(unit, (declared, Rc::clone(&parameters), Rc::clone(&instances)));
        (parameters, instances)
    }

    /// A call of a standard function with its arguments in either form.
    pub(crate) fn standard_function(
        &mut self,
        callee: &Callee,
        mut given: Vec<Given<'_>>,
        span: Span,
        hint: Option<TypeId>,
    ) -> Expression {
        if has_no_result(callee.definition) {
            return self.outputs_call(callee, given, span);
        }
        let Some(formal) = self.is_formal(&given) else {
            self.use_all(given);
            return self.unknown(span);
        };
        let Some(enable) = self.take_enable(&mut given, &callee.shown) else {
            self.use_all(given);
            return self.unknown(span);
        };
        let operands = if formal { self.formal_operands(callee, given, span) } else { positional(given) };
        let Some(operands) = operands else { return self.unknown(span) };
        let (least, most) = (callee.definition.minimum_operands(), callee.definition.maximum_operands());
        if operands.len() < least || operands.len() > most {
            self.report_operand_count(callee, operands.len(), span);
            for operand in operands {
                self.operand(operand, None);
            }
            return self.unknown(span);
        }
        let value = self.standard_call(callee, operands, span, hint);
        self.controlled(enable, value, span)
    }

    fn report_operand_count(&mut self, callee: &Callee, number: usize, span: Span) {
        let definition = callee.definition;
        let (least, most) = (definition.minimum_operands(), definition.maximum_operands());
        let wanted = if least == most {
            count(least, "argument", "arguments")
        } else {
            format!("{least} to {most} arguments")
        };
        let names: Vec<String> =
            definition.parameters.iter().map(|parameter| parameter.name.to_owned()).collect();
        self.report(
            Diagnostic::error(
                "argument-count",
                span,
                format!("{} takes {wanted}, here is {number}", callee.shown),
            )
            .label(if number < least { "too few" } else { "too many" })
            .note(format!("in this order: {}", crate::declare::listed(&names))),
        );
    }

    fn formal_operands<'t>(
        &mut self,
        callee: &Callee,
        given: Vec<Given<'t>>,
        span: Span,
    ) -> Option<Vec<Operand<'t>>> {
        let definition = callee.definition;
        let mut slots: Vec<Option<(Operand<'t>, Span)>> = Vec::new();
        let mut sound = true;
        for given in given {
            let (ident, value) = match given.kind {
                GivenKind::Input { name, value } => (name, value),
                GivenKind::Output { name, target, .. } => {
                    let spelling = self.text(name.span);
                    if definition.parameter_index(spelling).is_some() {
                        self.report_wrong_arrow(name, target.span, true, SectionKind::Input);
                    } else {
                        self.report_unknown_operand(callee, name, "output");
                    }
                    self.infer(target, None);
                    sound = false;
                    continue;
                }
                GivenKind::Positional(_) => continue,
            };
            let spelling = self.text(ident.span);
            let Some(index) = definition.parameter_index(spelling) else {
                self.report_unknown_operand(callee, ident, "input");
                self.operand(value, None);
                sound = false;
                continue;
            };
            if slots.len() <= index {
                slots.resize(index + 1, None);
            }
            if let Some((_, first)) = &slots[index] {
                let first = *first;
                self.report_repeated(ident, first);
                sound = false;
                continue;
            }
            slots[index] = Some((value, ident.span));
        }
        let wanted = slots.len().max(definition.minimum_operands());
        let missing = (0..wanted).find(|index| slots.get(*index).is_none_or(Option::is_none));
        if let (Some(missing), true) = (missing, sound) {
            self.report_missing_operand(callee, missing, span);
            sound = false;
        }
        let operands: Vec<Operand<'t>> = slots.into_iter().flatten().map(|(value, _)| value).collect();
        if !sound {
            for operand in operands {
                self.operand(operand, None);
            }
            return None;
        }
        Some(operands)
    }

    fn report_unknown_operand(&mut self, callee: &Callee, ident: tree::Ident, what: &str) {
        let spelling = self.text(ident.span);
        let definition = callee.definition;
        let names: Vec<String> =
            definition.parameters.iter().map(|parameter| parameter.name.to_owned()).collect();
        let last = definition.parameter(definition.maximum_operands().saturating_sub(1));
        let note = match last {
            _ if what == "output" => {
                format!("it has a result and the inputs {}", crate::declare::listed(&names))
            }
            Some((last, _)) if definition.extension.is_some() => {
                format!("it has {} and further ones up to `{last}`", crate::declare::listed(&names))
            }
            _ => format!("it has {}", crate::declare::listed(&names)),
        };
        self.report(
            Diagnostic::error(
                "unknown-parameter",
                ident.span,
                format!("{} has no {what} `{spelling}`", callee.shown),
            )
            .label("no such parameter")
            .note(note),
        );
    }
}

/// Whether a variable is declared as `STRING` or `WSTRING` without a length.
fn has_no_length(scope: &UnitScope<'_>, index: usize) -> bool {
    scope.declared.get(index).is_some_and(|declared| {
        matches!(
            declared.declaration.specification.kind,
            tree::TypeSpecificationKind::String { length: None, .. }
        )
    })
}

fn positional(given: Vec<Given<'_>>) -> Option<Vec<Operand<'_>>> {
    given
        .into_iter()
        .map(|given| match given.kind {
            GivenKind::Positional(value) => Some(value),
            _ => None,
        })
        .collect()
}
