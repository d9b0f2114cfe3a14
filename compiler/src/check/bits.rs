//! Members of structures that are single bits of a byte: no address leads to them.
//!
//! Source: IEC 61131-3:2013, table 11 (relative addresses) and 6.4.4.10, which has no reference to a part.

use latchwork_grammar::{Diagnostic, Span};

use super::Checker;
use crate::{
    typed::{Root, Step},
    types::{Type, TypeId},
};

impl Checker<'_> {
    /// Whether a way ends at a member that is one bit of a byte.
    pub(super) fn is_placed_bit(&self, steps: &[Step], root: &Root) -> bool {
        let Some((Step::Member(last), before)) = steps.split_last() else { return false };
        let start = match root {
            Root::Variable(id) => {
                let unit = self.unit.map(|unit| &self.units[unit.0 as usize]);
                unit.and_then(|unit| unit.variables.get(id.0 as usize)).map(|variable| variable.kind)
            }
            Root::Global(id) => self.globals.variables.get(id.0 as usize).map(|variable| variable.kind),
            Root::This => self.inside_type().and_then(|unit| self.types.find(&Type::Unit(unit))),
            Root::Direct(_) => None,
        };
        let holder = before.iter().try_fold(start, |kind, step| Some(self.type_behind(kind?, step)));
        let Some(Some(holder)) = holder else { return false };
        match self.types.get(self.types.underlying(holder)) {
            Type::Structure(id) => {
                let member = self.types.structure(*id).members.get(*last as usize);
                member.and_then(|member| member.place).is_some_and(|place| place.bit.is_some())
            }
            _ => false,
        }
    }

    /// The type that a step leads to.
    fn type_behind(&self, kind: TypeId, step: &Step) -> Option<TypeId> {
        match (step, self.types.get(self.types.underlying(kind))) {
            (Step::Member(index), Type::Structure(id)) => {
                self.types.structure(*id).members.get(*index as usize).map(|member| member.kind)
            }
            (Step::Member(index), Type::Unit(id)) => {
                self.units[id.0 as usize].variables.get(*index as usize).map(|variable| variable.kind)
            }
            (Step::Index(_), Type::Array { element, .. } | Type::OpenArray { element, .. }) => Some(*element),
            (Step::Dereference, Type::Reference(target)) => Some(*target),
            _ => None,
        }
    }

    /// A single bit as a VAR_IN_OUT.
    pub(super) fn report_bit_in_out(&mut self, span: Span) {
        self.report(
            Diagnostic::error(
                "in-out-argument",
                span,
                "a part of a byte or bit string cannot be passed as VAR_IN_OUT",
            )
            .label("only a part of a variable")
            .note("copy it into a BOOL variable, pass that, and copy it back"),
        );
    }
}
