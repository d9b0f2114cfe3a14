//! Paths from the configuration to a variable: `Resource.Program.block.variable`, `Resource.%QX0.0`.
//!
//! A path reaches what no statement reaches: variables inside programs and function blocks. Source: IEC 61131-3:2013,
//! 6.8.1, table 62, annex A. Our choices: the resource may be left out where a name is clear without it; a path ends
//! at a variable, an element or a member, not at a part of a bit string or a character.

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, AccessPath, Area, DirectAddress, ExpressionKind as Form, Ident, SectionKind},
};

use super::parts::is_open;
use crate::{
    check::{Checker, access::Walk, describe::section_keyword},
    declare::size_type,
    typed::{Access, Constant, ExpressionKind, GlobalId, PathTarget, Root, Step, Variable},
    types::{Type, TypeId},
};

/// A variable or member on a path that was declared with `AT %I*`.
pub(super) struct OpenPart {
    /// What leads to it.
    pub(super) key: Vec<i64>,
    /// The number of steps up to it.
    pub(super) steps: usize,
    /// Its type.
    pub(super) kind: TypeId,
    /// The address as it was declared.
    pub(super) address: DirectAddress,
}

/// Where a path has led so far.
pub(super) struct Reached {
    pub(super) walk: Walk,
    /// Type where it starts.
    pub(super) start: TypeId,
    /// The last declared variable on the way; `None` for an address.
    pub(super) variable: Option<Variable>,
    /// The path ends at that variable, not at a part of it.
    pub(super) whole: bool,
    /// What the path leads through, for comparing.
    pub(super) key: Vec<i64>,
    /// The last variable on the way that was declared with `AT %I*`.
    pub(super) open: Option<OpenPart>,
    /// The full path.
    pub(super) shown: String,
}

impl Reached {
    /// The place reached.
    pub(super) fn target(&self, span: Span) -> PathTarget {
        let access = Access {
            root: self.walk.root.clone(),
            steps: self.walk.steps.as_slice().into(),
            ty: self.walk.ty,
            span,
        };
        PathTarget { access, start: self.start }
    }

    /// Whether the machine reads it from a terminal.
    pub(super) fn is_physical_input(&self) -> bool {
        let declared = self.variable.as_ref().and_then(|variable| variable.location.as_deref());
        let area = match (&self.walk.root, &self.open) {
            (_, Some(open)) => Some(open.address.area),
            (Root::Direct(address), None) => Some(address.area),
            _ => declared.map(|address| address.area),
        };
        area == Some(Area::Input)
    }
}

impl<'a> Checker<'a> {
    /// Follows a path of the configuration.
    pub(super) fn walk_path(&mut self, path: &'a AccessPath) -> Option<Reached> {
        // That nothing runs has been reported.
        if self.configuration.resources.is_empty() {
            return None;
        }
        if let Some(address) = &path.direct {
            if let Some(resource) = &path.path
                && !matches!(&resource.kind, Form::Name(name) if self.resource_named(*name).is_some())
            {
                self.report_path(resource.span, "only the name of a resource can stand before an address");
                return None;
            }
            return self.path_to_address(address);
        }
        // The parser gives one of the two.
        let written = path.path.as_ref()?;
        let (first, mut parts) = self.path_parts(written)?;
        let mut reached = self.path_start(first, &mut parts)?;
        self.walk_path_parts(&mut reached, parts)?;
        Some(reached)
    }

    /// Follows a path that starts inside a program instance.
    pub(super) fn walk_program_path(
        &mut self,
        path: &'a AccessPath,
        global: GlobalId,
        shown: String,
    ) -> Option<Reached> {
        if let Some(address) = &path.direct {
            return self.path_to_address(address);
        }
        let written = path.path.as_ref()?;
        let (first, parts) = self.path_parts(written)?;
        let mut reached = self.reached_global(global, shown);
        self.path_member(&mut reached, first)?;
        self.walk_path_parts(&mut reached, parts)?;
        Some(reached)
    }

    /// Follows the further parts of a path from a program instance on.
    pub(super) fn walk_instance_parts(
        &mut self,
        global: GlobalId,
        written: &'a tree::Expression,
    ) -> Option<Reached> {
        let (first, parts) = self.path_parts(written)?;
        let mut reached = self.reached_global(global, String::new());
        self.path_member(&mut reached, first)?;
        self.walk_path_parts(&mut reached, parts)?;
        Some(reached)
    }

    /// The name a path starts with, and its parts in order.
    fn path_parts(&mut self, written: &'a tree::Expression) -> Option<(Ident, Vec<&'a tree::Expression>)> {
        let mut parts = Vec::new();
        let mut current = written;
        loop {
            current = match &current.kind {
                Form::Name(name) => {
                    parts.reverse();
                    return Some((Ident { name: *name, span: current.span }, parts));
                }
                Form::Member { base, .. } | Form::Index { base, .. } => {
                    parts.push(current);
                    base
                }
                Form::Partial { access, .. } => {
                    self.report_path(*access, "a path cannot end at a part of a bit string");
                    return None;
                }
                _ => {
                    self.report_path(current.span, "this is not a path to a variable");
                    return None;
                }
            };
        }
    }

    fn path_start(&mut self, first: Ident, parts: &mut Vec<&'a tree::Expression>) -> Option<Reached> {
        if let Some(index) = self.resource_named(first.name)
            && let Some(Form::Member { member, .. }) = parts.first().map(|part| &part.kind)
        {
            let member = *member;
            parts.remove(0);
            let resource = &self.configuration.resources[index];
            let instance = resource.instances.iter().find(|instance| instance.name.name == member.name);
            let found = instance.map(|instance| instance.global);
            let found = found.or_else(|| resource.globals.get(&member.name).copied());
            // A single resource without a name is called as the configuration, whose globals are called so too.
            let found = found.or_else(|| {
                let named = resource.tree.is_some_and(|tree| tree.heading.is_some());
                if named { None } else { self.globals.by_name.get(&member.name).copied() }
            });
            let shown = format!("{}.{}", self.spelling(first.name), self.spelling(member.name));
            let Some(global) = found else {
                self.report_no_such(member, first);
                return None;
            };
            return Some(self.reached_global(global, shown));
        }
        let mut found: Vec<(GlobalId, String)> = Vec::new();
        let spelling = self.spelling(first.name).to_owned();
        // Without a resource in front the globals of the configuration come first.
        if let Some(global) = self.globals.by_name.get(&first.name).copied() {
            return Some(self.reached_global(global, spelling));
        }
        for resource in &self.configuration.resources {
            let instance = resource.instances.iter().find(|instance| instance.name.name == first.name);
            let global = instance.map(|instance| instance.global);
            let global = global.or_else(|| resource.globals.get(&first.name).copied());
            if let (Some(global), Some(name)) = (global, resource.name) {
                found.push((global, format!("{}.{spelling}", self.spelling(name.name))));
            }
        }
        match found.as_slice() {
            [(global, shown)] => Some(self.reached_global(*global, shown.clone())),
            [] => {
                self.report_no_start(first);
                None
            }
            [(_, one), (_, other), ..] => {
                let message = format!("`{spelling}` may be `{one}` or `{other}`");
                self.report_path(first.span, &message);
                None
            }
        }
    }

    pub(super) fn resource_named(&self, name: Name) -> Option<usize> {
        let named = |resource: &super::ResourceScope<'_>| resource.name.is_some_and(|own| own.name == name);
        self.configuration.resources.iter().position(named)
    }

    fn reached_global(&mut self, global: GlobalId, shown: String) -> Reached {
        self.resolve_global(global);
        let variable = self.globals.variables[global.0 as usize].clone();
        let ty = variable.kind;
        let walk = Walk { root: Root::Global(global), steps: Vec::new(), ty, barrier: None };
        let key = vec![-1 - i64::from(global.0)];
        Reached { walk, start: ty, variable: Some(variable), whole: true, key, open: None, shown }
    }

    fn path_to_address(&mut self, address: &DirectAddress) -> Option<Reached> {
        if !self.check_address(address) {
            return None;
        }
        let ty = self.elementary(size_type(address.size));
        let walk =
            Walk { root: Root::Direct(Box::new(address.clone())), steps: Vec::new(), ty, barrier: None };
        let shown = self.text(address.span).to_owned();
        Some(Reached { walk, start: ty, variable: None, whole: true, key: Vec::new(), open: None, shown })
    }

    fn walk_path_parts(&mut self, reached: &mut Reached, parts: Vec<&'a tree::Expression>) -> Option<()> {
        for part in parts {
            match &part.kind {
                Form::Member { member, .. }
                    if matches!(self.types.get(self.types.underlying(reached.walk.ty)), Type::Unit(_)) =>
                {
                    self.path_member(reached, *member)?;
                }
                Form::Member { member, .. } => {
                    let holder = self.types.underlying(reached.walk.ty);
                    self.walk_path_step(reached, part)?;
                    if let (Type::Structure(id), Some(Step::Member(index))) =
                        (self.types.get(holder), reached.walk.steps.last())
                        && let Some(address) = self.types.open_members.get(&(*id, *index))
                    {
                        reached.open = Some(OpenPart {
                            key: reached.key.clone(),
                            steps: reached.walk.steps.len(),
                            kind: reached.walk.ty,
                            address: address.clone(),
                        });
                        reached.whole = true;
                    }
                    reached.shown = format!("{}.{}", reached.shown, self.spelling(member.name));
                }
                _ => {
                    self.walk_path_step(reached, part)?;
                    let Some(Step::Index(subscripts)) = reached.walk.steps.last() else {
                        self.report_path(part.span, "a path cannot end at a character of a string");
                        return None;
                    };
                    let numbers = subscripts.iter().map(|subscript| match &subscript.kind {
                        ExpressionKind::Constant(Constant::Integer(number)) => {
                            i64::try_from(*number).unwrap_or_default()
                        }
                        _ => 0,
                    });
                    let numbers: Vec<i64> = numbers.collect();
                    let shown: Vec<String> = numbers.iter().map(i64::to_string).collect();
                    reached.shown = format!("{}[{}]", reached.shown, shown.join(","));
                    reached.key.extend(numbers);
                }
            }
        }
        Some(())
    }

    /// A step that any access may have; its subscripts are constants.
    fn walk_path_step(&mut self, reached: &mut Reached, part: &'a tree::Expression) -> Option<()> {
        let outer = std::mem::replace(&mut self.constant_only, true);
        let done = self.walk_step(&mut reached.walk, part, crate::check::access::Mode::Read);
        self.constant_only = outer;
        done?;
        if let Some(Step::Member(index)) = reached.walk.steps.last() {
            reached.key.push(i64::from(*index));
        }
        reached.whole = false;
        Some(())
    }

    /// A variable of an instance, whatever its section shows to others.
    fn path_member(&mut self, reached: &mut Reached, member: Ident) -> Option<()> {
        let Type::Unit(unit) = *self.types.get(self.types.underlying(reached.walk.ty)) else {
            self.report_path(member.span, "only programs and function block instances have variables inside");
            return None;
        };
        let Some(id) = self.units[unit.0 as usize].by_name.get(&member.name).copied() else {
            self.report_no_variable_inside(member, unit);
            return None;
        };
        let variable = self.units[unit.0 as usize].variables[id.0 as usize].clone();
        let by_reference = variable.section == SectionKind::Input && self.holds_instance(variable.kind);
        let fleeting =
            matches!(variable.section, SectionKind::Temp | SectionKind::External | SectionKind::InOut);
        if fleeting || by_reference {
            let why = match variable.section {
                SectionKind::Temp => "VAR_TEMP lives during a call only",
                SectionKind::External => "the path to a VAR_GLOBAL starts where that is declared",
                _ => "it stands for another variable, and only during a call",
            };
            let spelling = self.text(member.span);
            self.report(
                Diagnostic::error("access-path", member.span, format!("a path cannot lead to `{spelling}`"))
                    .label(section_keyword(variable.section))
                    .also(variable.span, "declared here")
                    .note(why),
            );
            return None;
        }
        reached.shown = format!("{}.{}", reached.shown, self.spelling(member.name));
        reached.key.push(i64::from(id.0));
        reached.whole = true;
        reached.walk.ty = variable.kind;
        match &variable.location {
            Some(address) if !is_open(address) => {
                reached.walk.root = Root::Direct(address.clone());
                reached.walk.steps.clear();
                reached.start = variable.kind;
            }
            location => {
                reached.walk.steps.push(Step::Member(id.0));
                reached.open = location.as_deref().map(|address| OpenPart {
                    key: reached.key.clone(),
                    steps: reached.walk.steps.len(),
                    kind: variable.kind,
                    address: address.clone(),
                });
            }
        }
        let unknown = self.is_unknown(variable.kind);
        reached.variable = Some(variable);
        (!unknown).then_some(())
    }
}
