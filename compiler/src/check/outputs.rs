//! Calls of standard functions that have outputs and no result, such as SPLIT_DATE. They bind their arguments by the
//! rules of the functions written by the user, except that every input must be given.
//!
//! Source: IEC 61131-3:2013, 6.6.1.4 and table 36.

use latchwork_grammar::{Diagnostic, Span, tree::SectionKind};
use latchwork_stdlib::{FunctionDefinition, ResultType, TypeClass};
use latchwork_vm::ElementaryType as E;

use super::{
    Checker,
    arguments::{Given, Interface, Parameter},
    standard::Callee,
};
use crate::typed::{Expression, ExpressionKind, OutputsCall};

/// Whether a standard function has no result.
pub(super) fn has_no_result(definition: &FunctionDefinition) -> bool {
    definition.result == ResultType::Nothing
}

impl<'a> Checker<'a> {
    /// A call of a function without a result; like that of a user function without one it has the type BOOL, which
    /// nothing looks at.
    pub(super) fn outputs_call(&mut self, callee: &Callee, given: Vec<Given<'_>>, span: Span) -> Expression {
        let interface = self.outputs_interface(callee);
        let Some(bound) = self.bind(&interface, given, span) else { return self.unknown(span) };
        if bound.faulty {
            return self.unknown(span);
        }
        let mut inputs: Vec<Option<Expression>> = vec![None; callee.definition.parameters.len()];
        for (index, value) in bound.inputs {
            if let Some(slot) = inputs.get_mut(index as usize) {
                *slot = Some(value);
            }
        }
        if let Some(missing) = inputs.iter().position(Option::is_none) {
            self.report_missing_operand(callee, missing, span);
            return self.unknown(span);
        }
        if bound.outputs.is_empty() && bound.enable_output.is_none() {
            self.report(
                Diagnostic::warning(
                    "dropped-result",
                    span,
                    format!("no output of {} is taken", callee.shown),
                )
                .label("computed and thrown away")
                .note("take its outputs with `=>`"),
            );
        }
        let call = OutputsCall {
            function: callee.definition,
            arguments: inputs.into_iter().flatten().collect(),
            outputs: bound.outputs,
            enable: bound.enable,
            enable_output: bound.enable_output,
        };
        let ty = self.elementary(E::Bool);
        Expression { kind: ExpressionKind::Outputs(Box::new(call)), ty, span }
    }

    /// Inputs, then outputs, each kind numbered from 0.
    fn outputs_interface(&mut self, callee: &Callee) -> Interface {
        let definition = callee.definition;
        let inputs = definition.parameters.iter().zip(0..).filter_map(|(parameter, index)| {
            // A test of the library holds the table to it.
            let TypeClass::Exact(kind) = parameter.class else { return None };
            Some((index, parameter.name, SectionKind::Input, kind))
        });
        let outputs = definition.outputs.iter().zip(0..);
        let outputs = outputs.map(|(output, index)| (index, output.name, SectionKind::Output, output.ty));
        let parameters = inputs.chain(outputs).map(|(index, name, section, kind)| Parameter {
            index,
            name: name.into(),
            section,
            ty: self.elementary(kind),
            any_length: false,
            span: None,
            aliases: &[],
        });
        Interface {
            shown: callee.shown.to_string(),
            parameters: parameters.collect(),
            instances: [].into(),
            span: None,
            incomplete: false,
            all_inputs: true,
        }
    }

    /// An input that a call of a standard function does not give.
    pub(super) fn report_missing_operand(&mut self, callee: &Callee, missing: usize, span: Span) {
        let name =
            callee.definition.parameter(missing).map_or_else(String::new, |(name, _)| name.to_string());
        self.report(
            Diagnostic::error(
                "argument-count",
                span,
                format!("the call of {} does not give `{name}`", callee.shown),
            )
            .label("every input of a standard function must be given"),
        );
    }
}
