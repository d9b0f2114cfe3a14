//! Calls of methods.
//!
//! Source: IEC 61131-3:2013, 6.6.5.4 to 6.6.5.8, 6.6.6, tables 48, 50, 51 and 53. A method is called on the type
//! that its instance really has, unless `SUPER` stands before it. Our choices: the same holds where the method is
//! called by its name alone.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Ident, UnitKind},
};

use super::{
    Checker,
    access::{Mode, Walk},
    arguments::Given,
    callee::Called,
    dispatch::StaticType,
};
use crate::{
    nearest::nearest,
    object_scope::{
        Owner, Visibility, derives_from, is_incomplete, is_interface_incomplete, method_of, with_bases,
        with_extended,
    },
    scope::CallEdge,
    typed::{Access, Expression, Receiver},
    types::{Type, UnitId},
};

/// A method with the instance it is called for.
pub(crate) struct MethodTarget {
    instance: Access,
    of: StaticType,
    pub(crate) method: UnitId,
    /// Behind `SUPER`: this method and no other.
    fixed: bool,
    /// As written.
    shown: Span,
}

impl<'a> Checker<'a> {
    /// The class or function block that a method belongs to.
    pub(crate) fn owner_of(&self, method: UnitId) -> Option<UnitId> {
        match self.units[method.0 as usize].object.owner {
            Some(Owner::Unit(owner)) => Some(owner),
            _ => None,
        }
    }

    /// Whether a name is a method of the type being checked.
    pub(super) fn is_own_method(&self, name: latchwork_grammar::Name) -> bool {
        self.inside_type().is_some_and(|inside| method_of(&self.units, inside, name).is_some())
    }

    /// A method of the type being checked, called by its name alone.
    pub(super) fn own_method(&mut self, callee: Ident) -> Option<MethodTarget> {
        let inside = self.inside_type()?;
        let method = method_of(&self.units, inside, callee.name)?;
        let instance = self.this_instance(callee.span)?;
        let of = StaticType::Unit(inside);
        Some(MethodTarget { instance, of, method, fixed: false, shown: callee.span })
    }

    pub(super) fn this_instance(&mut self, span: Span) -> Option<Access> {
        let Walk { root, steps, ty, .. } = self.walk_from_this(span)?;
        Some(Access { root, steps: steps.into_boxed_slice(), ty, span })
    }

    /// What a callee with a point stands for: a method, or an instance that is a member.
    pub(super) fn called_member(
        &mut self,
        callee: &tree::Expression,
        base: &tree::Expression,
        member: Ident,
    ) -> Called {
        if matches!(base.kind, tree::ExpressionKind::Super) {
            return self.super_method(callee.span, base.span, member).map_or(Called::Nothing, Called::Method);
        }
        let Some(mut walk) = self.walk_to(base, Mode::Read) else { return Called::Nothing };
        let found = match self.types.get(self.types.underlying(walk.ty)).clone() {
            Type::Unit(unit) => {
                let variable = self.units[unit.0 as usize].by_name.contains_key(&member.name);
                let class = self.units[unit.0 as usize].kind == UnitKind::Class;
                match self.method_seen(unit, member) {
                    Some(method) if !variable => Some((StaticType::Unit(unit), method)),
                    _ if variable || !class => None,
                    _ => {
                        self.report_unknown_method(walk.ty, member);
                        return Called::Nothing;
                    }
                }
            }
            Type::Interface(interface) => {
                let all = with_extended(&self.interface_scopes, [interface]);
                let mut all = all.iter();
                let method = all.find_map(|from| {
                    self.interface_scopes[from.0 as usize].methods.get(&member.name).copied()
                });
                let Some(method) = method else {
                    self.report_unknown_method(walk.ty, member);
                    return Called::Nothing;
                };
                Some((StaticType::Interface(interface), method))
            }
            _ => None,
        };
        let Some((of, method)) = found else {
            let step = self.walk_step(&mut walk, callee, Mode::Read);
            let reached = step.and_then(|()| self.arrive(walk, callee, Mode::Read));
            return reached.map_or(Called::Nothing, Called::Instance);
        };
        let Some(instance) = self.arrive(walk, base, Mode::Read) else { return Called::Nothing };
        // What an interface variable holds may be called, wherever the variable came from.
        let whole = matches!(of, StaticType::Unit(_));
        if whole && !self.may_call_instance(&instance) || !self.check_method_access(method, member) {
            return Called::Nothing;
        }
        Called::Method(MethodTarget { instance, of, method, fixed: false, shown: callee.span })
    }

    /// The method of an instance under a name; code of a base sees its PRIVATE methods in derived instances too.
    fn method_seen(&self, unit: UnitId, member: Ident) -> Option<UnitId> {
        let inside = self.inside_type().filter(|inside| derives_from(&self.units, unit, *inside));
        let private = inside.and_then(|inside| {
            let method = self.units[inside.0 as usize].object.methods.get(&member.name).copied()?;
            (self.units[method.0 as usize].object.visibility == Visibility::Private).then_some(method)
        });
        let visible = || method_of(&self.units, unit, member.name);
        // A PRIVATE method of a base is named in the message.
        let any = || {
            with_bases(&self.units, unit)
                .find_map(|base| self.units[base.0 as usize].object.methods.get(&member.name).copied())
        };
        private.or_else(visible).or_else(any)
    }

    fn check_method_access(&mut self, method: UnitId, member: Ident) -> bool {
        let Some(declared_in) = self.owner_of(method) else { return true };
        let scope = &self.units[method.0 as usize];
        let (visibility, place) = (scope.object.visibility, scope.tree.name.span);
        if self.may_use(visibility, declared_in, self.inside_type()) {
            return true;
        }
        let spelling = self.text(member.span);
        let word = visibility.keyword();
        let owner = self.spelling(self.units[declared_in.0 as usize].name);
        let mut diagnostic = Diagnostic::error(
            "access-refused",
            member.span,
            format!("the method `{spelling}` of `{owner}` is {word} and cannot be called here"),
        )
        .label(self.who_may(visibility, declared_in))
        .also(place, "declared here");
        if visibility == Visibility::Protected && self.units[method.0 as usize].tree.access.is_none() {
            diagnostic = diagnostic.note("a method without an access specifier is PROTECTED; write `METHOD PUBLIC` to offer it to everybody");
        }
        self.report(diagnostic);
        false
    }

    fn report_unknown_method(&mut self, ty: crate::types::TypeId, member: Ident) {
        let incomplete = match self.types.get(self.types.underlying(ty)) {
            Type::Unit(unit) => is_incomplete(&self.units, *unit),
            Type::Interface(interface) => is_interface_incomplete(&self.interface_scopes, *interface),
            _ => false,
        };
        if incomplete {
            return;
        }
        let spelling = self.text(member.span);
        let type_name = self.type_name(ty);
        let (mut names, place) = match self.types.get(self.types.underlying(ty)) {
            Type::Unit(unit) => {
                let names: Vec<latchwork_grammar::Name> = with_bases(&self.units, *unit)
                    .flat_map(|unit| self.units[unit.0 as usize].object.methods.keys().copied())
                    .collect();
                (names, self.units[unit.0 as usize].tree.name.span)
            }
            Type::Interface(interface) => {
                let all = with_extended(&self.interface_scopes, [*interface]);
                let names = all
                    .iter()
                    .flat_map(|from| self.interface_scopes[from.0 as usize].methods.keys().copied())
                    .collect();
                (names, self.interface_scopes[interface.0 as usize].tree.name.span)
            }
            _ => return,
        };
        names.sort_unstable();
        names.dedup();
        let search = self.may_search(names.len());
        let names: Vec<String> = names.into_iter().map(|name| self.spelling(name).to_owned()).collect();
        let near = if search { nearest(spelling, names.iter().map(String::as_str)) } else { None };
        let mut diagnostic = Diagnostic::error(
            "unknown-method",
            member.span,
            format!("{type_name} has no method `{spelling}`"),
        )
        .label("no such method")
        .also(place, format!("{type_name} is declared here"));
        diagnostic = match near {
            Some(near) => diagnostic.note(format!("its nearest method is `{near}`")),
            None if names.is_empty() => diagnostic.note("it has no methods"),
            None => diagnostic.note(format!("it has {}", crate::declare::listed(&names))),
        };
        self.report(diagnostic);
    }

    /// `i.v` where `i` is an interface variable: only its methods can be reached.
    pub(super) fn report_interface_member(&mut self, ty: crate::types::TypeId, member: Ident) {
        let spelling = self.text(member.span);
        let type_name = self.type_name(ty);
        self.report(
            Diagnostic::error(
                "no-members",
                member.span,
                format!("`{spelling}` cannot be reached through the interface {type_name}"),
            )
            .label("an interface shows methods only")
            .note("call a method of the interface; a method is called with parentheses"),
        );
    }

    fn super_method(&mut self, shown: Span, span: Span, member: Ident) -> Option<MethodTarget> {
        let base = self.base_for_super(span)?;
        let ty = self.types.intern(Type::Unit(base));
        let Some(method) = method_of(&self.units, base, member.name) else {
            self.report_unknown_method(ty, member);
            return None;
        };
        if !self.check_method_access(method, member) {
            return None;
        }
        let scope = &self.units[method.0 as usize];
        if scope.object.is_abstract {
            let place = scope.tree.name.span;
            let spelling = self.text(member.span);
            self.report(
                Diagnostic::error(
                    "abstract-method",
                    member.span,
                    format!("the method `{spelling}` of the base is ABSTRACT and has no body to run"),
                )
                .label("nothing to call")
                .also(place, "declared here")
                .note("leave this call out; the base leaves all of the work to the types derived from it"),
            );
            return None;
        }
        let instance = self.this_instance(shown)?;
        Some(MethodTarget { instance, of: StaticType::Unit(base), method, fixed: true, shown })
    }

    /// A call of a method with its arguments; also its use as a statement.
    pub(crate) fn method_call(
        &mut self,
        target: MethodTarget,
        given: Vec<Given<'_>>,
        span: Span,
    ) -> Expression {
        let MethodTarget { instance, of, method, fixed, shown } = target;
        let open = !fixed && (matches!(of, StaticType::Interface(_)) || self.is_polymorphic(&instance));
        let dispatched = if open { self.dispatched_method(of, method) } else { None };
        // What takes the arguments, and what the search for recursion follows.
        let unit = dispatched.map_or(method, |(_, prototype)| prototype);
        if let (Some(caller), None) = (self.unit, dispatched) {
            self.calls.push(CallEdge { caller, callee: method, span });
        }
        let shown = self.text(shown);
        let receiver = Receiver { instance, dispatch: dispatched.map(|(table, _)| table) };
        self.unit_call(unit, Some(receiver), Some(shown), given, span)
    }
}
