//! Variables of classes and function blocks: of the instance a method or body runs for (`THIS`), and of other
//! instances; who may use them.
//!
//! Source: IEC 61131-3:2013, 6.6.3, 6.6.5.7 to 6.6.5.9, tables 42, 48 and 53. Our choices: methods cannot use the
//! VAR_IN_OUT of their function block, which stand for something only while its body runs; VAR_TEMP belong to the
//! body.

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Ident, SectionKind, UnitKind},
};

use super::{
    Checker,
    access::{Mode, Walk},
    describe::a_unit,
    rights::Barrier,
};
use crate::{
    object_scope::{Owner, Visibility, declaring_unit, derives_from, with_bases},
    typed::{Root, Step, VariableId},
    types::{Type, UnitId},
};

impl Checker<'_> {
    /// The class or function block whose code is being checked: the owner of a method, or the unit itself.
    pub(crate) fn inside_type(&self) -> Option<UnitId> {
        let unit = self.unit?;
        let scope = &self.units[unit.0 as usize];
        match (scope.kind, scope.object.owner) {
            (_, Some(Owner::Unit(owner))) => Some(owner),
            (UnitKind::FunctionBlock | UnitKind::Class, _) => Some(unit),
            _ => None,
        }
    }

    /// In a method, the variable of the owner that a name stands for.
    pub(crate) fn owner_variable(&self, name: Name) -> Option<(UnitId, VariableId)> {
        let unit = self.unit?;
        let Some(Owner::Unit(owner)) = self.units[unit.0 as usize].object.owner else { return None };
        let id = self.units[owner.0 as usize].by_name.get(&name)?;
        Some((owner, *id))
    }

    /// Starts at a variable of the owner of the method being checked.
    pub(super) fn walk_from_owner(&mut self, name: Name, span: Span) -> Option<Walk> {
        let (owner, id) = self.owner_variable(name)?;
        let known = !self.constant_only || self.resolve_variable(owner, id);
        let variable = &self.units[owner.0 as usize].variables[id.0 as usize];
        let (constant, place) = (variable.constant, variable.span);
        self.check_constant_use(constant, known, span, place)?;
        let mut walk = self.walk_from_this_unchecked(owner);
        self.step_into_own(&mut walk, owner, id, span)?;
        Some(walk)
    }

    /// Starts at `THIS`.
    pub(super) fn walk_from_this(&mut self, span: Span) -> Option<Walk> {
        let Some(inside) = self.inside_type() else {
            self.report_no_this(span, "THIS");
            return None;
        };
        if self.constant_only {
            self.report(
                Diagnostic::error("not-constant", span, "THIS has no value before the program runs")
                    .label("not a constant"),
            );
            return None;
        }
        Some(self.walk_from_this_unchecked(inside))
    }

    fn walk_from_this_unchecked(&mut self, inside: UnitId) -> Walk {
        let ty = self.types.intern(Type::Unit(inside));
        Walk { root: Root::This, steps: Vec::new(), ty, barrier: None }
    }

    /// `THIS` or `SUPER` where there is no instance.
    pub(super) fn report_no_this(&mut self, span: Span, word: &str) {
        let place = match self.unit.map(|unit| self.units[unit.0 as usize].kind) {
            Some(UnitKind::Method) => "a method prototype".to_owned(),
            Some(kind) => a_unit(kind).to_owned(),
            None => "a declaration outside of all units".to_owned(),
        };
        self.report(
            Diagnostic::error("this-not-allowed", span, format!("{place} has no {word}"))
                .label("no instance to speak of")
                .note(format!(
                    "{word} is the instance a method was called for; it exists in methods and in the bodies of function blocks"
                )),
        );
    }

    /// A member of the instance that the code being checked runs for.
    fn step_into_own(&mut self, walk: &mut Walk, inside: UnitId, id: VariableId, span: Span) -> Option<()> {
        let variable = &self.units[inside.0 as usize].variables[id.0 as usize];
        let (ty, section, place, global) = (variable.kind, variable.section, variable.span, variable.global);
        let body = self.unit == Some(inside);
        let refused = match section {
            SectionKind::InOut if !body => Some((
                "VAR_IN_OUT",
                "it stands for a variable only while the body runs; give the method a VAR_IN_OUT of its own",
            )),
            SectionKind::Temp if !body => {
                Some(("VAR_TEMP", "it is new at every call of the body; declare it in the method, or as VAR"))
            }
            _ => None,
        };
        if let Some((keyword, note)) = refused {
            let spelling = self.text(span);
            self.report(
                Diagnostic::error(
                    "private-variable",
                    span,
                    format!("`{spelling}` is a {keyword} of the function block and not known in its methods"),
                )
                .label("belongs to the body")
                .also(place, "declared here")
                .note(note),
            );
            return None;
        }
        walk.ty = ty;
        if body {
            walk.root = Root::Variable(id);
            walk.barrier = self.barrier_of(id);
            return Some(());
        }
        self.note_member_use(inside, id, false);
        walk.barrier = self.barrier_in(inside, id);
        match global {
            Some(global) => walk.root = Root::Global(global),
            None => walk.steps.push(Step::Member(id.0)),
        }
        Some(())
    }

    /// Marks a variable as used, in the type that declares it.
    pub(super) fn note_member_use(&mut self, unit: UnitId, id: VariableId, written: bool) {
        let declared_in = declaring_unit(&self.units, unit, id);
        let scope = &mut self.units[declared_in.0 as usize];
        scope.used.insert(id);
        if written {
            scope.written.insert(id);
        }
    }

    /// `instance.member`, from inside or outside of its type.
    pub(super) fn walk_unit_member(
        &mut self,
        walk: &mut Walk,
        unit: UnitId,
        member: Ident,
        mode: Mode,
    ) -> Option<()> {
        let inside = self.inside_type();
        let own = walk.root == Root::This && walk.steps.is_empty();
        let mut found = self.units[unit.0 as usize].by_name.get(&member.name).copied();
        // Code of a base sees its PRIVATE variables in derived instances too.
        if let Some(inside) = inside.filter(|inside| derives_from(&self.units, unit, *inside)) {
            found = self.units[inside.0 as usize].by_name.get(&member.name).copied().or(found);
        }
        let Some(id) = found else {
            self.report_no_member(walk, unit, member);
            return None;
        };
        if own {
            return self.step_into_own(walk, unit, id, member.span);
        }
        let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
        let (ty, section, place) = (variable.kind, variable.section, variable.span);
        let constant = variable.constant;
        match section {
            SectionKind::Input if self.is_instance(ty) => {
                self.report_unknown_member(member, walk.ty);
                return None;
            }
            SectionKind::Input => self.warn_input_read(member, mode),
            SectionKind::Output => walk.barrier = walk.barrier.or(Some(Barrier::Output(place))),
            SectionKind::InOut => {
                self.report(
                    Diagnostic::error(
                        "private-variable",
                        member.span,
                        format!(
                            "`{}` is a VAR_IN_OUT and stands for a variable during a call only",
                            self.text(member.span)
                        ),
                    )
                    .label("cannot be reached from outside")
                    .also(place, "declared here")
                    .note("use the variable that is passed to it"),
                );
                return None;
            }
            SectionKind::Var => {
                let declared_in = declaring_unit(&self.units, unit, id);
                let visibility = self.visibility_of(unit, id);
                if !self.may_use(visibility, declared_in, inside) {
                    self.report_variable_access(member, visibility, declared_in, place);
                    return None;
                }
                self.note_member_use(unit, id, false);
                if constant {
                    walk.barrier = Some(Barrier::Constant(place));
                }
            }
            _ => {
                self.report_inner_variable(member, section, place);
                return None;
            }
        }
        walk.ty = ty;
        walk.steps.push(Step::Member(id.0));
        Some(())
    }

    fn visibility_of(&self, unit: UnitId, id: VariableId) -> Visibility {
        let all = &self.units[unit.0 as usize].object.variable_visibility;
        all.get(id.0 as usize).copied().unwrap_or_default()
    }

    fn report_variable_access(
        &mut self,
        member: Ident,
        visibility: Visibility,
        declared_in: UnitId,
        place: Span,
    ) {
        let spelling = self.text(member.span);
        let owner = self.spelling(self.units[declared_in.0 as usize].name);
        let who = self.who_may(visibility, declared_in);
        let diagnostic = Diagnostic::error(
            "private-variable",
            member.span,
            format!("`{spelling}` belongs to the inside of {owner}"),
        )
        .label(format!("{} in `{owner}`: {who}", visibility.keyword()))
        .also(place, "declared here");
        let class = self.units[declared_in.0 as usize].kind == UnitKind::Class;
        self.report(diagnostic.note(if class {
            "call a method of it, or write `VAR PUBLIC` for what everybody may change"
        } else {
            "a VAR_INPUT can be set and a VAR_OUTPUT read from outside; make it a VAR_OUTPUT to show it"
        }));
    }

    /// Words for those who may use something.
    pub(super) fn who_may(&self, visibility: Visibility, declared_in: UnitId) -> String {
        let owner = self.spelling(self.units[declared_in.0 as usize].name);
        match visibility {
            Visibility::Public => "everybody may use it".to_owned(),
            Visibility::Internal => "only units of the same namespace may use it".to_owned(),
            Visibility::Protected => {
                format!("only `{owner}` and types that extend it may use it")
            }
            Visibility::Private => format!("only `{owner}` itself may use it"),
        }
    }

    fn report_inner_variable(&mut self, member: Ident, section: SectionKind, place: Span) {
        let spelling = self.text(member.span);
        let keyword = super::describe::section_keyword(section);
        self.report(
            Diagnostic::error(
                "private-variable",
                member.span,
                format!("`{spelling}` is a {keyword} and not known here"),
            )
            .label("belongs to the body of its function block")
            .also(place, "declared here"),
        );
    }

    /// The name of a method where a value is needed.
    pub(super) fn report_method_without_call(&mut self, span: Span, method: UnitId) {
        let spelling = self.text(span);
        let place = self.units[method.0 as usize].tree.name.span;
        self.report(
            Diagnostic::error(
                "missing-parentheses",
                span,
                format!("`{spelling}` is a method; a call needs parentheses"),
            )
            .label("call without parentheses")
            .also(place, "declared here")
            .note("write them even if there is nothing to pass: `()`"),
        );
    }

    /// A name that a base has for itself: a PRIVATE variable or a VAR_TEMP. Whether it is one.
    pub(super) fn report_private_of_base(&mut self, unit: UnitId, member: Ident) -> bool {
        let private = with_bases(&self.units, unit).skip(1).find_map(|base| {
            let id = self.units[base.0 as usize].by_name.get(&member.name).copied()?;
            Some((declaring_unit(&self.units, base, id), id))
        });
        let Some((declared_in, id)) = private else { return false };
        let variable = &self.units[declared_in.0 as usize].variables[id.0 as usize];
        let (section, place) = (variable.section, variable.span);
        if section == SectionKind::Var {
            self.report_variable_access(member, Visibility::Private, declared_in, place);
        } else {
            self.report_inner_variable(member, section, place);
        }
        true
    }

    /// A name that is no variable of an instance: a method without a call, a PRIVATE variable of a base, or nothing.
    fn report_no_member(&mut self, walk: &Walk, unit: UnitId, member: Ident) {
        if let Some(method) = crate::object_scope::method_of(&self.units, unit, member.name) {
            self.report_method_without_call(member.span, method);
            return;
        }
        if !self.report_private_of_base(unit, member) {
            self.report_unknown_member(member, walk.ty);
        }
    }
}
