//! Input operators of the standard function blocks: `CU c10`, `IN t1`.
//!
//! Source: IEC 61131-3:2013, table 70. The operator stores the current result in the input; that the edge or
//! level inputs then call the block and the value inputs only prepare it is our choice, since the standard
//! does not say which operator calls.

use latchwork_grammar::{Diagnostic, Span, tree};

use super::{Current, Flow, jump::consumed};
use crate::{
    check::{Checker, access::Mode, conversion::Goal},
    typed::{Access, BlockCall, BlockWork, Statement, StatementKind},
    types::Type,
};

impl<'a> Checker<'a> {
    /// The operand of an input operator, if it is an instance of a standard function block. Says nothing if it
    /// is not.
    pub(super) fn instance_operand(&mut self, target: &tree::Expression) -> Option<Access> {
        if !self.is_standard_instance(target) {
            return None;
        }
        self.access(target, Mode::Read)
    }

    /// Whether the way to a variable ends at a standard function block, found without any report.
    pub(super) fn is_standard_instance(&self, target: &tree::Expression) -> bool {
        self.quiet_type(target)
            .is_some_and(|ty| matches!(self.types.get(self.types.underlying(ty)), Type::StandardBlock(_)))
    }

    fn quiet_type(&self, target: &tree::Expression) -> Option<crate::types::TypeId> {
        match &target.kind {
            tree::ExpressionKind::Name(name) => {
                let id = self.find_variable(*name)?;
                Some(self.units[self.unit?.0 as usize].variables[id.0 as usize].kind)
            }
            tree::ExpressionKind::Index { base, .. } => {
                let array = self.quiet_type(base)?;
                match self.types.get(self.types.underlying(array)) {
                    Type::Array { element, .. } | Type::OpenArray { element, .. } => Some(*element),
                    _ => None,
                }
            }
            tree::ExpressionKind::Member { base, member } => {
                let base = self.quiet_type(base)?;
                match self.types.get(self.types.underlying(base)) {
                    Type::Structure(id) => {
                        let members = &self.types.structure(*id).members;
                        members.iter().find(|entry| entry.name == member.name).map(|entry| entry.kind)
                    }
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// Stores the current result in an input and, if the operator acts, runs the block.
    pub(super) fn input_operator(
        &mut self,
        flow: &mut Flow<'_>,
        spelling: &str,
        instance: Access,
        operator_span: Span,
        span: Span,
        live: bool,
    ) {
        let Type::StandardBlock(index) = *self.types.get(self.types.underlying(instance.ty)) else { return };
        if !self.may_call_instance(&instance) {
            return;
        }
        let block = self.types.standard_block(index);
        let Some(row) = block.input_operator(spelling) else {
            let all: Vec<String> = block.input_operators.iter().map(|row| row.operator.to_owned()).collect();
            self.report(
                Diagnostic::error(
                    "input-operator",
                    operator_span,
                    format!("{} has no input operator `{spelling}`", block.name),
                )
                .label(format!("`{}` is {}", self.text(instance.span), block.name))
                .note(format!("it has {}", crate::declare::listed(&all))),
            );
            if !live {
                consumed(flow);
            }
            return;
        };
        // The table names inputs of the block.
        let member = &block.members[row.member];
        let ty = self.elementary(member.ty);
        let Some(operand) = self.take_current(flow, operator_span) else { return };
        let callee = format!("`{}`", self.text(instance.span));
        let goal = Goal::Input { name: member.name, callee: &callee, place: None };
        let value = match operand {
            crate::check::operands::Operand::Written(written) => {
                flow.current = Current::Written(written);
                self.expression_for(written, ty, &goal)
            }
            crate::check::operands::Operand::Checked(value) => {
                flow.current = Current::Value(value);
                if live {
                    self.materialise(flow);
                }
                match flow.current.clone() {
                    Current::Value(value) => self.convert(value, ty, &goal),
                    _ => self.unknown(span),
                }
            }
        };
        flow.chain = 0;
        if !live {
            consumed(flow);
        }
        if self.is_unknown(value.ty) {
            return;
        }
        let mut call = BlockCall::new(instance, vec![(row.member as u32, value)]);
        call.work = match row.operation {
            _ if row.calls => BlockWork::Body,
            Some(operation) => BlockWork::Operation(operation),
            None => BlockWork::Nothing,
        };
        flow.statements.push(Statement { kind: StatementKind::CallBlock(Box::new(call)), span });
    }

    /// An input operator on something that is no instance of a standard function block.
    pub(super) fn report_operator_without_instance(
        &mut self,
        target: &tree::Expression,
        operator_span: Span,
    ) {
        let spelling = self.text(operator_span);
        let Some(access) = self.access(target, Mode::Read) else { return };
        let type_name = self.type_name(access.ty);
        let name = self.text(target.span);
        let mut diagnostic = Diagnostic::error(
            "input-operator",
            target.span,
            format!(
                "`{spelling}` works on an instance of a standard function block, `{name}` is {type_name}"
            ),
        )
        .label(type_name);
        if matches!(self.types.get(self.types.underlying(access.ty)), Type::Unit(_)) {
            diagnostic = diagnostic.note(format!(
                "store the input and call the instance: `ST {name}.{spelling}`, then `CAL {name}`"
            ));
        }
        self.report(diagnostic);
    }
}
