//! Calls of function block instances.
//!
//! Source: IEC 61131-3:2013, 6.6.3, table 42. A call is a statement; inputs left out keep their last value.

use std::rc::Rc;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{SectionKind, UnitKind},
};
use latchwork_vm::Section;

use super::{
    Checker,
    arguments::{Given, Interface, Parameter},
    describe::quoted,
};
use crate::{
    scope::CallEdge,
    typed::{Access, BlockCall, BlockWork, Statement, StatementKind},
    types::Type,
};

impl<'a> Checker<'a> {
    /// The call of an instance; `None` after a report.
    pub(crate) fn block_call(
        &mut self,
        instance: Access,
        given: Vec<Given<'_>>,
        span: Span,
    ) -> Option<Statement> {
        if self.is_class_instance(&instance) {
            self.report_class_called(&instance);
            self.use_all(given);
            return None;
        }
        let Some(interface) = self.instance_interface(&instance) else {
            let name = self.text(instance.span);
            self.report_not_callable(&instance, name);
            self.use_all(given);
            return None;
        };
        let mut dispatch = None;
        if let (Type::Unit(unit), Some(caller)) =
            (self.types.get(self.types.underlying(instance.ty)), self.unit)
        {
            let unit = *unit;
            if self.is_polymorphic(&instance) {
                dispatch = self.dispatched_body(unit);
            }
            if dispatch.is_none() {
                self.calls.push(CallEdge { caller, callee: unit, span });
            }
        }
        if !self.may_call_instance(&instance) {
            self.use_all(given);
            return None;
        }
        let bound = self.bind(&interface, given, span)?;
        self.check_instances_given(&interface, &bound, true, span);
        let call = BlockCall {
            instance,
            dispatch,
            inputs: bound.inputs,
            in_outs: bound.in_outs,
            outputs: bound.outputs,
            work: BlockWork::Body,
            enable: bound.enable,
            enable_output: bound.enable_output,
        };
        Some(Statement { kind: StatementKind::CallBlock(Box::new(call)), span })
    }

    /// Whether an access reaches an instance of a class, which has no body.
    pub(super) fn is_class_instance(&self, access: &Access) -> bool {
        match self.types.get(self.types.underlying(access.ty)) {
            Type::Unit(unit) => self.units[unit.0 as usize].kind == UnitKind::Class,
            _ => false,
        }
    }

    pub(super) fn report_class_called(&mut self, access: &Access) {
        let (name, type_name) = (self.text(access.span), self.type_name(access.ty));
        self.report(
            Diagnostic::error(
                "not-callable",
                access.span,
                format!("`{name}` is an instance of the class {type_name}, which has no body to call"),
            )
            .label("a class instance")
            .note(format!("call one of its methods: `{name}.method(…)`")),
        );
    }

    /// The parameters of the type of an instance; `None` if the access is no instance.
    pub(crate) fn instance_interface(&mut self, instance: &Access) -> Option<Interface> {
        let shown = self.text(instance.span);
        match self.types.get(self.types.underlying(instance.ty)) {
            Type::Unit(unit) => {
                let unit = *unit;
                Some(self.unit_interface(unit, Some(shown)))
            }
            Type::StandardBlock(index) => {
                let index = *index;
                let parameters = self.standard_parameters(index);
                Some(Interface {
                    shown: quoted(shown),
                    parameters,
                    instances: [].into(),
                    span: None,
                    incomplete: false,
                    all_inputs: false,
                })
            }
            _ => None,
        }
    }

    /// The parameters of a standard block, made once.
    fn standard_parameters(&mut self, index: u16) -> Rc<[Parameter]> {
        if let Some(known) = self.standard_interfaces.get(&index) {
            return Rc::clone(known);
        }
        let block = self.types.standard_block(index);
        let mut parameters = Vec::new();
        for (index, member) in block.members.iter().enumerate().filter(|(_, member)| !member.hidden) {
            let section = match member.section {
                Section::Input => SectionKind::Input,
                Section::Output => SectionKind::Output,
                _ => continue,
            };
            let ty = self.elementary(member.ty);
            parameters.push(Parameter {
                index: index as u32,
                name: member.name.into(),
                section,
                ty,
                any_length: false,
                span: None,
                aliases: member.aliases,
            });
        }
        let parameters: Rc<[Parameter]> = parameters.into();
        self.standard_interfaces.insert(index, Rc::clone(&parameters));
        parameters
    }
}
