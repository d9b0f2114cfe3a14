//! Which global each VAR_EXTERNAL means to each program.
//!
//! A name is searched in the program, then in its resource, then in the configuration. Units are compiled once. Where
//! a name may mean only one global, units reach it directly; where it may mean several, they reach it through a
//! link: a hidden variable that holds the address of what the name means to the program that is running. Source:
//! IEC 61131-3:2013, 6.5.2.2.

use std::{
    collections::{BTreeMap, BTreeSet},
    rc::Rc,
};

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Ident, SectionKind},
};

use super::{Bindings, InstanceScope, Level};
use crate::{
    check::Checker,
    scope::ExternalTarget,
    typed::{
        Access, Expression, ExpressionKind, GlobalId, Root, Statement, StatementKind, Variable, VariableId,
    },
    types::{Type, TypeId, UnitId},
};

impl<'a> Checker<'a> {
    /// Checks every VAR_EXTERNAL that a program instance can reach from a unit, and gives the statements that set
    /// the links among them.
    pub(super) fn set_links(
        &mut self,
        instance: InstanceScope<'a>,
        start: UnitId,
        level: Level,
    ) -> Vec<Statement> {
        let span = self.instance_span(instance);
        let bindings = self.bindings(instance, start, level);
        let set = |(link, target): &(GlobalId, ExternalTarget)| {
            let ty = self.global_type(*link);
            let place = Access::whole(Root::Global(*link), ty, span);
            let reference = ExpressionKind::Reference(Box::new(self.way_to(instance, *target, span)));
            let value = Expression { kind: reference, ty, span };
            Statement { kind: StatementKind::Assign { target: place, value }, span }
        };
        bindings.iter().map(set).collect()
    }

    /// What each link means to a program instance; the same for all instances of one program in one resource.
    fn bindings(&mut self, instance: InstanceScope<'a>, start: UnitId, level: Level) -> Bindings {
        let key = (start, instance.unit, level);
        if let Some(known) = self.configuration.bindings.get(&key) {
            return Rc::clone(known);
        }
        let mut links: BTreeMap<GlobalId, ExternalTarget> = BTreeMap::new();
        for (unit, id) in self.externals_from(start).iter().copied() {
            let external = self.units[unit.0 as usize].variables[id.0 as usize].clone();
            let Some(name) = external.name else { continue };
            let Some(target) = self.meaning(instance, level, name) else {
                self.report_not_in_reach(&external, instance);
                continue;
            };
            let declared = self.declared(target).clone();
            self.compare_external(&external, &declared);
            if self.configuration.linked.contains(&(unit, id)) && !self.is_unknown(external.kind) {
                let link = self.link(name, external.kind, external.span);
                self.configuration.typed.linked.insert((unit, id), link);
                links.insert(link, target);
            }
        }
        let bindings: Bindings = links.into_iter().collect();
        self.configuration.bindings.insert(key, Rc::clone(&bindings));
        bindings
    }

    /// The VAR_EXTERNAL variables of everything that may run when a unit runs; found once for each unit. Names without
    /// any global are left out: they were reported where they were declared.
    fn externals_from(&mut self, start: UnitId) -> Rc<[(UnitId, VariableId)]> {
        if let Some(known) = self.configuration.externals.get(&start) {
            return Rc::clone(known);
        }
        let mut found = Vec::new();
        for unit in self.reached_from(start) {
            for (variable, index) in self.units[unit.0 as usize].variables.iter().zip(0..) {
                let known = variable.name.is_some_and(|name| self.configuration.targets.contains_key(&name));
                if variable.section == SectionKind::External && known {
                    found.push((unit, VariableId(index)));
                }
            }
        }
        let found: Rc<[(UnitId, VariableId)]> = found.into();
        self.configuration.externals.insert(start, Rc::clone(&found));
        found
    }

    /// Everything that may run when a unit runs: what it calls, and the types of the instances in it.
    fn reached_from(&mut self, start: UnitId) -> BTreeSet<UnitId> {
        if self.configuration.edges.is_empty() {
            for edge in &self.calls {
                self.configuration.edges.entry(edge.caller).or_default().insert(edge.callee);
            }
            for (caller, callee) in self.object_edges() {
                self.configuration.edges.entry(caller).or_default().insert(callee);
            }
            for index in 0..self.units.len() {
                let unit = UnitId(index as u32);
                let kinds: Vec<TypeId> =
                    self.units[index].variables.iter().map(|variable| variable.kind).collect();
                for kind in kinds {
                    let held = self.units_within(kind);
                    self.configuration.edges.entry(unit).or_default().extend(held);
                }
            }
        }
        let mut found = BTreeSet::from([start]);
        let mut waiting = vec![start];
        while let Some(unit) = waiting.pop() {
            for next in self.configuration.edges.get(&unit).into_iter().flatten() {
                if found.insert(*next) {
                    waiting.push(*next);
                }
            }
        }
        found
    }

    /// The units whose instances a type holds.
    fn units_within(&self, id: TypeId) -> BTreeSet<UnitId> {
        let mut found = BTreeSet::new();
        let _: Option<()> = self.find_inside(id, |kind| {
            if let Type::Unit(unit) = kind {
                found.insert(*unit);
            }
            None
        });
        found
    }

    fn declared(&self, target: ExternalTarget) -> &Variable {
        match target {
            ExternalTarget::Global(global) => &self.globals.variables[global.0 as usize],
            ExternalTarget::Program(unit, id) => &self.units[unit.0 as usize].variables[id.0 as usize],
        }
    }

    /// What a name means to a program instance.
    fn meaning(&self, instance: InstanceScope<'a>, level: Level, name: Name) -> Option<ExternalTarget> {
        let program = &self.units[instance.unit.0 as usize];
        if let Some(id) = program.by_name.get(&name)
            && program.variables[id.0 as usize].section == SectionKind::Global
        {
            return Some(ExternalTarget::Program(instance.unit, *id));
        }
        let Level::Resource(index) = level else { return None };
        let of_resource = self.configuration.resources[index].globals.get(&name);
        let global = of_resource.or_else(|| self.globals.by_name.get(&name))?;
        Some(ExternalTarget::Global(*global))
    }

    /// The way to what a name means to a program instance.
    fn way_to(&self, instance: InstanceScope<'a>, target: ExternalTarget, span: Span) -> Access {
        let declared = self.declared(target);
        let ty = declared.kind;
        match (target, &declared.location) {
            (ExternalTarget::Global(global), _) => Access::whole(Root::Global(global), ty, span),
            (ExternalTarget::Program(..), Some(address)) => {
                Access::whole(Root::Direct(address.clone()), ty, span)
            }
            (ExternalTarget::Program(_, id), None) => {
                Access::member(Root::Global(instance.global), id.0, ty, span)
            }
        }
    }

    /// Gives a link to the variables that no program instance reaches, for their units are compiled too. Nothing sets
    /// it, and nothing runs them.
    pub(super) fn link_unreached(&mut self) {
        for (unit, id) in self.configuration.linked.clone() {
            let external = &self.units[unit.0 as usize].variables[id.0 as usize];
            let (kind, span) = (external.kind, external.span);
            if let Some(name) = external.name
                && !self.is_unknown(kind)
                && !self.configuration.typed.linked.contains_key(&(unit, id))
            {
                let link = self.link(name, kind, span);
                self.configuration.typed.linked.insert((unit, id), link);
            }
        }
    }

    fn link(&mut self, name: Name, kind: TypeId, span: Span) -> GlobalId {
        if let Some(link) = self.configuration.link_of.get(&name) {
            return *link;
        }
        let link = self.hidden_global(Ident { name, span }, Type::Reference(kind), false);
        self.configuration.link_of.insert(name, link);
        self.configuration.typed.links.push(link);
        link
    }

    fn report_not_in_reach(&mut self, external: &Variable, instance: InstanceScope<'a>) {
        let Some(name) = external.name else { return };
        let spelling = self.text(external.span);
        let program = self.text(instance.name.span);
        let mut diagnostic = Diagnostic::error(
            "missing-global",
            external.span,
            format!("the program instance `{program}` has no global variable `{spelling}`"),
        )
        .label("VAR_EXTERNAL refers to a VAR_GLOBAL of the same name")
        .also(instance.name.span, "this instance uses it");
        let elsewhere = self.configuration.targets.get(&name).and_then(|targets| targets.first()).copied();
        let place = elsewhere.map(|target| self.declared(target).span);
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, "this one belongs to another resource or program");
        }
        self.report(diagnostic.note(
            "a global variable is searched in the program, then in its resource, then in the configuration",
        ));
    }
}
