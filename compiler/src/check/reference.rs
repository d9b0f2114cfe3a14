//! `REF(variable)`: what can be referred to, in bodies and in initial values.
//!
//! Source: IEC 61131-3:2013, 6.4.4.10 and table 12. Our choices: no reference to a VAR_INPUT or VAR_IN_OUT, and
//! REF of a variable that lasts counts as a constant, since its place never changes.

use latchwork_grammar::{
    Diagnostic,
    tree::{self, SectionKind, UnitKind},
};

use super::{Checker, access::Mode};
use crate::{
    configuration::is_open,
    typed::{Access, Expression, ExpressionKind, Root, Step, VariableId},
    types::Type,
};

impl<'a> Checker<'a> {
    /// `REF(variable)`.
    pub(super) fn reference(&mut self, call: &tree::Call) -> Expression {
        let [tree::Argument { kind: tree::ArgumentKind::Positional(target), .. }] = call.arguments.as_slice()
        else {
            self.report(
                Diagnostic::error("argument-count", call.span, "REF takes one variable")
                    .label("one variable needed"),
            );
            return self.unknown(call.span);
        };
        let constant_only = std::mem::replace(&mut self.constant_only, false);
        if constant_only {
            self.resolve_root(target);
        }
        let access = self.access(target, Mode::Write);
        self.constant_only = constant_only;
        let Some(access) = access else { return self.unknown(call.span) };
        let why = match self.no_reference(&access) {
            None if constant_only => moves(&access).or_else(|| self.differs(&access)),
            why => why,
        };
        if let Some(why) = why {
            self.report(
                Diagnostic::error("reference-target", target.span, "no reference to this variable is possible")
                    .label(why)
                    .note(if constant_only {
                        "an initial value refers to a variable that lasts, its members, and elements with constant subscripts"
                    } else {
                        "a reference may live longer than its target; only variables that last can be referred to"
                    }),
            );
            return self.unknown(call.span);
        }
        let ty = self.types.intern(Type::Reference(access.ty));
        Expression { kind: ExpressionKind::Reference(Box::new(access)), ty, span: call.span }
    }

    /// Among declarations the target of a reference may be declared further down.
    fn resolve_root(&mut self, mut target: &tree::Expression) {
        while let tree::ExpressionKind::Member { base, .. }
        | tree::ExpressionKind::Index { base, .. }
        | tree::ExpressionKind::Dereference(base)
        | tree::ExpressionKind::Partial { base, .. } = &target.kind
        {
            target = base;
        }
        let tree::ExpressionKind::Name(name) = target.kind else { return };
        if let (Some(unit), Some(id)) = (self.unit, self.find_variable(name)) {
            self.resolve_variable(unit, id);
        }
    }

    /// Why a variable lies elsewhere in every instance or program that it is seen from.
    fn differs(&self, access: &Access) -> Option<&'static str> {
        let (unit, id) = match (&access.root, access.steps.first()) {
            (Root::Variable(id), _) => (self.unit?, *id),
            (Root::This, Some(Step::Member(index))) => (self.inside_type()?, VariableId(*index)),
            _ => return None,
        };
        let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
        if variable.location.as_deref().is_some_and(is_open) || self.has_open_members(variable.kind) {
            return Some("VAR_CONFIG gives it a place of its own in every instance");
        }
        self.configuration.linked.contains(&(unit, id)).then_some("another variable in another program")
    }

    /// Why there can be no reference to a variable (6.4.4.10).
    fn no_reference(&self, access: &Access) -> Option<&'static str> {
        if access.steps.iter().any(|step| matches!(step, Step::Partial { .. } | Step::Character(_))) {
            return Some("only a part of a variable");
        }
        if self.is_placed_bit(&access.steps, &access.root) {
            return Some("only a bit of a byte");
        }
        let id = match access.root {
            Root::Variable(id) => id,
            Root::Global(_) | Root::This => return None,
            Root::Direct(_) => return Some("an address, not a variable"),
        };
        // What a reference points to lasts, whatever variable holds the reference.
        if access.steps.iter().any(|step| matches!(step, Step::Dereference)) {
            return None;
        }
        let unit = &self.units[self.unit?.0 as usize];
        let variable = &unit.variables[id.0 as usize];
        match variable.section {
            SectionKind::Temp => Some("VAR_TEMP ends with the call"),
            SectionKind::InOut => Some("VAR_IN_OUT stands for a variable during the call only"),
            SectionKind::External | SectionKind::Global => None,
            _ if matches!(unit.kind, UnitKind::Function | UnitKind::Method) => {
                Some("variables of a function or method end with the call")
            }
            _ => None,
        }
    }
}

/// Why the place of a variable that lasts is not known before the program runs.
fn moves(access: &Access) -> Option<&'static str> {
    if access.root == Root::This {
        return Some("THIS has no value before the program runs");
    }
    access.steps.iter().find_map(|step| match step {
        Step::Dereference => Some("behind a reference, which has no target yet"),
        Step::Index(subscripts)
            if subscripts.iter().any(|value| !matches!(value.kind, ExpressionKind::Constant(_))) =>
        {
            Some("a subscript that is not constant")
        }
        _ => None,
    })
}
