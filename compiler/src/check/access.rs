//! Variables and their parts, read or written: members, subscripts, references, parts of bit strings.
//!
//! Source: IEC 61131-3:2013, 6.5 (variables, who may write what), 6.4.4 (arrays, structures, references),
//! tables 16 and 17.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Area, DirectAddress, Ident, SectionKind, UnitKind},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::Section;

use super::{
    Checker,
    describe::{a_unit, count},
    rights::Barrier,
};
use crate::{
    constant,
    declare::{size_bits, size_letter, size_type},
    typed::{Access, Constant, Expression, ExpressionKind, InitialValue, Root, Step, VariableId},
    types::{Type, TypeId},
};

/// What an access is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mode {
    /// Its value is used, or it is an instance that is called.
    Read,
    /// It is written.
    Write,
    /// It is passed as VAR_IN_OUT: read and written by the called unit.
    InOut,
}

/// What is known while the way of an access is walked.
pub(crate) struct Walk {
    pub(crate) root: Root,
    pub(crate) steps: Vec<Step>,
    pub(crate) ty: TypeId,
    pub(crate) barrier: Option<Barrier>,
}

impl<'a> Checker<'a> {
    /// The variable or part of a variable an expression names; `None` after a report.
    pub(crate) fn access(&mut self, expression: &tree::Expression, mode: Mode) -> Option<Access> {
        let walk = self.walk_to(expression, mode)?;
        self.arrive(walk, expression, mode)
    }

    /// Walks the way of an access; `None` after a report.
    pub(super) fn walk_to(&mut self, expression: &tree::Expression, mode: Mode) -> Option<Walk> {
        let mut way = Vec::new();
        let mut root = expression;
        loop {
            root = match &root.kind {
                tree::ExpressionKind::Member { base, .. }
                | tree::ExpressionKind::Index { base, .. }
                | tree::ExpressionKind::Dereference(base)
                | tree::ExpressionKind::Partial { base, .. } => {
                    way.push(root);
                    base
                }
                _ => break,
            };
        }
        let mut walk = match &root.kind {
            tree::ExpressionKind::Name(name) => match self.walk_from_resource(*name, &mut way) {
                Some(walk) => walk,
                None => self.walk_from_name(*name, root.span, way.last().copied(), mode)?,
            },
            tree::ExpressionKind::Direct(address) => self.walk_from_address(address)?,
            tree::ExpressionKind::This => self.walk_from_this(root.span)?,
            tree::ExpressionKind::Super => {
                self.report_super_without_call(root.span, way.last().copied());
                return None;
            }
            _ => {
                self.report_not_a_variable(expression, root, mode);
                return None;
            }
        };
        for part in way.into_iter().rev() {
            self.walk_step(&mut walk, part, mode)?;
        }
        Some(walk)
    }

    /// The access at the end of a walk, if it may be used so.
    pub(super) fn arrive(&mut self, walk: Walk, expression: &tree::Expression, mode: Mode) -> Option<Access> {
        if mode != Mode::Read {
            self.check_barrier(walk.barrier, expression, mode)?;
        }
        if mode == Mode::InOut && self.is_placed_bit(&walk.steps, &walk.root) {
            self.report_bit_in_out(expression.span);
            return None;
        }
        self.note_use(&walk, mode);
        if self.is_unknown(walk.ty) {
            return None;
        }
        Some(Access {
            root: walk.root,
            steps: walk.steps.into_boxed_slice(),
            ty: walk.ty,
            span: expression.span,
        })
    }

    /// The value of a variable; a constant's value where it is known.
    pub(super) fn read(&mut self, expression: &tree::Expression, hint: Option<TypeId>) -> Expression {
        if let tree::ExpressionKind::Name(name) = expression.kind
            && self.find_variable(name).is_none()
            && self.owner_variable(name).is_none()
            && self.find_global(name).is_none()
            && !self.value_candidates(name).is_empty()
        {
            return self.plain_value(name, expression.span, hint);
        }
        match self.access(expression, Mode::Read) {
            Some(access) if self.is_open_array(access.ty) => {
                self.report_open_value(&access);
                self.unknown(expression.span)
            }
            Some(access) => {
                let (ty, span) = (access.ty, access.span);
                let kind = match self.known_value(&access) {
                    Some(value) => ExpressionKind::Constant(value),
                    None => ExpressionKind::Access(access),
                };
                Expression { kind, ty, span }
            }
            None => self.unknown(expression.span),
        }
    }

    /// The value of a scalar constant, or of a scalar element or member of one.
    fn known_value(&self, access: &Access) -> Option<Constant> {
        let variable = match access.root {
            Root::Variable(id) => {
                let variable = &self.units[self.unit?.0 as usize].variables[id.0 as usize];
                match variable.global {
                    Some(global) => &self.globals.variables[global.0 as usize],
                    // What it means differs from program to program.
                    None if variable.section == SectionKind::External => return None,
                    None => variable,
                }
            }
            Root::Global(id) => &self.globals.variables[id.0 as usize],
            Root::This => return self.known_member(access),
            Root::Direct(_) => return None,
        };
        if !variable.constant || !access.steps.is_empty() {
            return None;
        }
        match &variable.initial {
            Some(InitialValue::Constant(value)) => Some(value.clone()),
            Some(_) => None,
            None => constant::default_constant(&self.types, variable.kind),
        }
    }

    /// The value of a scalar constant of the owner of the method being checked.
    fn known_member(&self, access: &Access) -> Option<Constant> {
        let [Step::Member(index)] = &*access.steps else { return None };
        let owner = self.inside_type()?;
        let variable = self.units[owner.0 as usize].variables.get(*index as usize)?;
        match &variable.initial {
            // What an external means may differ from program to program.
            _ if !variable.constant || variable.section == SectionKind::External => None,
            Some(InitialValue::Constant(value)) => Some(value.clone()),
            Some(_) => None,
            None => constant::default_constant(&self.types, variable.kind),
        }
    }

    fn note_use(&mut self, walk: &Walk, mode: Mode) {
        if let (Root::This, Some(Step::Member(index)), Some(owner)) =
            (&walk.root, walk.steps.first(), self.inside_type())
        {
            self.note_member_use(owner, VariableId(*index), mode != Mode::Read);
        }
        let (Root::Variable(id), Some(unit)) = (&walk.root, self.unit) else { return };
        let declared_in = crate::object_scope::declaring_unit(&self.units, unit, *id);
        if declared_in != unit {
            self.note_member_use(unit, *id, mode != Mode::Read);
        }
        let scope = &mut self.units[unit.0 as usize];
        scope.used.insert(*id);
        if mode != Mode::Read {
            scope.written.insert(*id);
        }
    }

    fn walk_from_name(
        &mut self,
        name: latchwork_grammar::Name,
        span: Span,
        next: Option<&tree::Expression>,
        mode: Mode,
    ) -> Option<Walk> {
        if let Some(global) = self.find_global(name) {
            let known = self.resolve_global(global);
            let variable = &self.globals.variables[global.0 as usize];
            let (ty, constant, place) = (variable.kind, variable.constant, variable.span);
            self.check_constant_use(constant, known, span, place)?;
            let barrier = self.global_barrier(global);
            return Some(Walk { root: Root::Global(global), steps: Vec::new(), ty, barrier });
        }
        if self.find_variable(name).is_none() && self.owner_variable(name).is_some() {
            return self.walk_from_owner(name, span);
        }
        let Some(id) = self.find_variable(name) else {
            let value = !self.value_candidates(name).is_empty();
            match next.map(|part| &part.kind) {
                Some(tree::ExpressionKind::Member { member, .. })
                    if self.type_symbols.contains_key(&name) =>
                {
                    self.report_point_for_hash(span, *member);
                }
                _ if value && mode != Mode::Read => {
                    self.report(
                        Diagnostic::error(
                            "not-a-variable",
                            span,
                            format!(
                                "`{}` is a value of an enumeration and cannot be written",
                                self.text(span)
                            ),
                        )
                        .label("not a variable"),
                    );
                }
                _ if value => {
                    self.report(
                        Diagnostic::error(
                            "no-members",
                            span,
                            format!("`{}` is a value of an enumeration and has no parts", self.text(span)),
                        )
                        .label("not a structure, array or instance"),
                    );
                }
                _ => self.report_no_variable(name, span),
            }
            return None;
        };
        // A variable was found in the current unit, so that there is one.
        let unit = self.unit?;
        let known = !self.constant_only || self.resolve_variable(unit, id);
        let variable = &self.units[unit.0 as usize].variables[id.0 as usize];
        let (ty, constant, place) = (variable.kind, variable.constant, variable.span);
        let barrier = self.barrier_of(id);
        self.check_constant_use(constant, known, span, place)?;
        Some(Walk { root: Root::Variable(id), steps: Vec::new(), ty, barrier })
    }

    /// In a constant expression: only constants, and none that needs itself.
    pub(super) fn check_constant_use(
        &mut self,
        constant: bool,
        known: bool,
        span: Span,
        place: Span,
    ) -> Option<()> {
        if !self.constant_only {
            return Some(());
        }
        let spelling = self.text(span);
        if !constant {
            self.report(
                Diagnostic::error(
                    "not-constant",
                    span,
                    format!(
                        "`{spelling}` is a variable; a value known before the program runs is needed here"
                    ),
                )
                .label("not a constant")
                .also(place, "declared here")
                .note("move the declaration to `VAR CONSTANT … END_VAR` if its value never changes"),
            );
            return None;
        }
        if !known {
            self.report(
                Diagnostic::error(
                    "constant-cycle",
                    span,
                    format!("the constant `{spelling}` depends on itself"),
                )
                .label("its value is not known yet")
                .also(place, "declared here"),
            );
            return None;
        }
        Some(())
    }

    fn walk_from_address(&mut self, address: &DirectAddress) -> Option<Walk> {
        let inside = self.unit.map(|unit| self.units[unit.0 as usize].kind);
        if self.constant_only {
            self.report(
                Diagnostic::error(
                    "not-constant",
                    address.span,
                    "an address has no value before the program runs",
                )
                .label("not a constant"),
            );
            return None;
        }
        let in_resource = self.unit.is_none() && self.configuration.place.is_some();
        if inside != Some(UnitKind::Program) && !in_resource {
            let place = inside.map_or("this place", a_unit);
            self.report(
                Diagnostic::error(
                    "address-not-allowed",
                    address.span,
                    format!("{place} cannot use an address"),
                )
                .label("only programs can")
                .note("pass the value as VAR_INPUT or VAR_OUTPUT, so that the unit works with any wiring"),
            );
            return None;
        }
        if !self.check_address(address) {
            return None;
        }
        let barrier = (address.area == Area::Input).then_some(Barrier::PhysicalInput(address.span));
        let ty = self.elementary(size_type(address.size));
        let same = |location: &Option<Box<DirectAddress>>| {
            location.as_ref().is_some_and(|other| {
                (other.area, other.size, &other.path) == (address.area, address.size, &address.path)
            })
        };
        // A declared variable without a name is named by its address, whatever its type; one with a name
        // is the same storage.
        let unit = self.unit.map(|unit| &self.units[unit.0 as usize]);
        let own = unit.and_then(|unit| {
            let at = unit.variables.iter().position(|variable| {
                same(&variable.location) && (variable.name.is_none() || variable.kind == ty)
            });
            Some((at?, unit))
        });
        if let Some((index, unit)) = own {
            let ty = unit.variables[index].kind;
            return Some(Walk {
                root: Root::Variable(VariableId(index as u32)),
                steps: Vec::new(),
                ty,
                barrier,
            });
        }
        let global = self.globals.variables.iter().position(|variable| {
            same(&variable.location) && (variable.name.is_none() || variable.kind == ty)
        });
        if let Some(index) = global {
            let ty = self.globals.variables[index].kind;
            let root = Root::Global(crate::typed::GlobalId(index as u32));
            return Some(Walk { root, steps: Vec::new(), ty, barrier });
        }
        if let Some(unit) = self.unit {
            self.units[unit.0 as usize].uses_addresses = true;
        }
        Some(Walk { root: Root::Direct(Box::new(address.clone())), steps: Vec::new(), ty, barrier })
    }

    pub(crate) fn walk_step(&mut self, walk: &mut Walk, part: &tree::Expression, mode: Mode) -> Option<()> {
        if self.is_unknown(walk.ty) {
            // Subscripts may hold mistakes of their own.
            if let tree::ExpressionKind::Index { subscripts, .. } = &part.kind {
                for subscript in subscripts {
                    self.infer(subscript, None);
                }
            }
            return None;
        }
        match &part.kind {
            tree::ExpressionKind::Member { member, .. } => self.walk_member(walk, *member, part.span, mode),
            tree::ExpressionKind::Index { subscripts, .. } => self.walk_index(walk, subscripts, part.span),
            tree::ExpressionKind::Dereference(_) => {
                let Type::Reference(target) = *self.types.get(self.types.underlying(walk.ty)) else {
                    let type_name = self.type_name(walk.ty);
                    self.report(
                        Diagnostic::error(
                            "not-a-reference",
                            part.span,
                            format!("`^` follows a reference, this is {type_name}"),
                        )
                        .label("not a reference"),
                    );
                    return None;
                };
                walk.steps.push(Step::Dereference);
                walk.ty = target;
                walk.barrier = None;
                Some(())
            }
            tree::ExpressionKind::Partial { size, index, access, .. } => {
                self.walk_partial(walk, *size, *index, *access, mode)
            }
            _ => None,
        }
    }

    fn walk_member(&mut self, walk: &mut Walk, member: Ident, span: Span, mode: Mode) -> Option<()> {
        match self.types.get(self.types.underlying(walk.ty)).clone() {
            Type::Structure(derived) => {
                let structure = self.types.structure(derived);
                let Some(index) = structure.members.iter().position(|entry| entry.name == member.name) else {
                    self.report_unknown_member(member, walk.ty);
                    return None;
                };
                walk.ty = structure.members[index].kind;
                walk.steps.push(Step::Member(index as u32));
                Some(())
            }
            Type::Unit(unit) => {
                if self.refuse_enable_member(member, walk.ty) {
                    return None;
                }
                self.walk_unit_member(walk, unit, member, mode)
            }
            Type::Interface(_) => {
                self.report_interface_member(walk.ty, member);
                None
            }
            Type::StandardBlock(index) => {
                let block = self.types.standard_block(index);
                let Some(found) = block.member_index(self.text(member.span)) else {
                    self.report_unknown_member(member, walk.ty);
                    return None;
                };
                // `member_index` gives places inside `members`.
                let entry = &block.members[found];
                let ty = entry.ty;
                if entry.section == Section::Input {
                    self.warn_input_read(member, mode);
                } else if entry.section == Section::Output {
                    walk.barrier = walk.barrier.or(Some(Barrier::Output(member.span)));
                }
                walk.ty = self.elementary(ty);
                walk.steps.push(Step::Member(found as u32));
                Some(())
            }
            _ => {
                let type_name = self.type_name(walk.ty);
                let base = Span::new(span.file, span.start, member.span.start.saturating_sub(1));
                self.report(
                    Diagnostic::error(
                        "no-members",
                        member.span,
                        format!("`{}` is {type_name} and has no members", self.text(base).trim_end()),
                    )
                    .label("only structures and function block instances have members"),
                );
                None
            }
        }
    }

    fn walk_partial(
        &mut self,
        walk: &mut Walk,
        size: tree::AddressSize,
        index: u32,
        span: Span,
        mode: Mode,
    ) -> Option<()> {
        if matches!(walk.steps.last(), Some(Step::Partial { .. })) {
            self.report(
                Diagnostic::error("partial-access", span, "a part of a bit string has no parts itself")
                    .label("one part an access")
                    .note(
                        "count the part from the whole variable, such as `%B3` for the upper byte of `%W1`",
                    ),
            );
            return None;
        }
        let part_bits = size_bits(size);
        let type_name = self.type_name(walk.ty);
        let width = self.types.elementary_base(walk.ty).and_then(constant::bit_width);
        let Some(width) = width.filter(|width| *width > part_bits) else {
            let mut diagnostic = Diagnostic::error(
                "partial-access",
                span,
                format!("{type_name} has no parts of {}", count(part_bits as usize, "bit", "bits")),
            )
            .label("only a longer bit string can be taken apart");
            if self.types.elementary_base(walk.ty).is_some_and(|kind| TypeClass::AnyInt.accepts(kind)) {
                diagnostic = diagnostic.note(
                    "an integer is a number, not a row of bits; declare it as BYTE, WORD, DWORD or LWORD",
                );
            }
            self.report(diagnostic);
            return None;
        };
        let parts = width / part_bits;
        if index >= parts {
            self.report(
                Diagnostic::error(
                    "partial-access",
                    span,
                    format!("{type_name} has no part `%{}{index}`", size_letter(size)),
                )
                .label(format!("must be from 0 to {}", parts - 1)),
            );
            return None;
        }
        if mode == Mode::InOut {
            self.report_bit_in_out(span);
            return None;
        }
        walk.ty = self.elementary(size_type(size));
        walk.steps.push(Step::Partial { size, index });
        Some(())
    }
}
