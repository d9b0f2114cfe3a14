//! Who extends what and implements which interfaces, and circles among them.
//!
//! Source: IEC 61131-3:2013, 6.6.5.5, 6.6.6.3, 6.6.7.2, tables 48, 51 and 53. Our choices: at most
//! [`INHERITANCE_MAX`] types derive from one another, and the standard function blocks cannot be extended.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{Ident, QualifiedName, UnitKind},
};

use crate::{
    check::{Checker, describe::a_unit},
    object_scope::{INHERITANCE_MAX, INTERFACES_MAX, implemented, with_bases, with_extended},
    types::{InterfaceId, UnitId},
};

impl Checker<'_> {
    /// Resolves EXTENDS and IMPLEMENTS of all types and interfaces.
    pub(crate) fn link_types(&mut self) {
        for index in 0..self.interface_scopes.len() {
            let tree = self.interface_scopes[index].tree;
            let extends = self.interface_list(&tree.extends, "EXTENDS");
            self.interface_scopes[index].extends = extends;
        }
        self.break_interface_cycles();
        self.limit_interfaces();
        for index in 0..self.units.len() {
            let tree = self.units[index].tree;
            if !matches!(tree.kind, UnitKind::Class | UnitKind::FunctionBlock) {
                continue;
            }
            let base = tree.extends.as_ref().and_then(|name| self.base_type(name, tree.kind));
            let interfaces = self.interface_list(&tree.implements, "IMPLEMENTS");
            let object = &mut self.units[index].object;
            object.base = base;
            object.interfaces = interfaces;
        }
        self.break_inheritance_cycles();
        self.limit_implemented();
        for index in 0..self.units.len() {
            if let Some(base) = self.units[index].object.base {
                self.units[base.0 as usize].object.derived.push(UnitId(index as u32));
            }
        }
    }

    /// The class or function block that a type extends; `None` after a report.
    fn base_type(&mut self, name: &QualifiedName, kind: UnitKind) -> Option<UnitId> {
        let ident = name.name;
        let spelling = self.text(ident.span);
        let Some(base) = self.unit_names.get(ident.name).copied() else {
            let (message, note) = if self.interface_names.contains_key(&ident.name) {
                (
                    format!("`{spelling}` is an interface and cannot be extended by {}", a_unit(kind)),
                    "write `IMPLEMENTS` instead of `EXTENDS`",
                )
            } else if self.type_symbols.contains_key(&ident.name) {
                (
                    format!("`{spelling}` is no class and no function block"),
                    "only classes and function blocks have variables and methods to inherit",
                )
            } else if latchwork_stdlib::block(spelling).is_some() {
                (
                    format!("the standard function block `{spelling}` cannot be extended"),
                    "declare an instance of it in the new function block and call that",
                )
            } else {
                self.report_undeclared_type(ident);
                return None;
            };
            self.report_cannot_extend(ident.span, message, None, note);
            return None;
        };
        let scope = &self.units[base.0 as usize];
        let (place, is_final) = (scope.tree.name.span, scope.object.is_final);
        match (kind, scope.kind) {
            (UnitKind::Class, UnitKind::FunctionBlock) => {
                let message = format!("a class cannot extend the function block `{spelling}`");
                let note = "a class has no parameters and no body, which it would inherit; a function block can extend a class";
                self.report_cannot_extend(ident.span, message, Some(place), note);
                None
            }
            (_, UnitKind::Class | UnitKind::FunctionBlock) if is_final => {
                let message = format!("`{spelling}` is FINAL and cannot be extended");
                let note =
                    "take FINAL away from it, or declare an instance of it in the new type and use that";
                self.report_cannot_extend(ident.span, message, Some(place), note);
                None
            }
            (_, UnitKind::Class | UnitKind::FunctionBlock) => Some(base),
            (_, other) => {
                let message = format!("`{spelling}` is {} and cannot be extended", a_unit(other));
                let note = "only classes and function blocks have variables and methods to inherit";
                self.report_cannot_extend(ident.span, message, Some(place), note);
                None
            }
        }
    }

    /// A type whose base has more variables than may be inherited in all; it keeps none of them.
    pub(super) fn report_too_much_inherited(&mut self, unit: UnitId) {
        let tree = self.units[unit.0 as usize].tree;
        let span = tree.extends.as_ref().map_or(tree.name.span, |name| name.span);
        let message = "the types of this program inherit too many variables in all".to_owned();
        let note = "put the variables of the base into a structure or an array, which is inherited as one";
        self.report_cannot_extend(span, message, None, note);
        self.units[unit.0 as usize].object.base = None;
    }

    fn report_cannot_extend(&mut self, span: Span, message: String, place: Option<Span>, note: &str) {
        let mut diagnostic =
            Diagnostic::error("cannot-extend", span, message).label("not possible behind EXTENDS");
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, "declared here");
        }
        self.report(diagnostic.note(note));
    }

    /// The interfaces of a list; those that are none are reported and left out.
    fn interface_list(&mut self, names: &[QualifiedName], word: &str) -> Vec<InterfaceId> {
        let mut found: BTreeMap<InterfaceId, Span> = BTreeMap::new();
        let mut list = Vec::new();
        for name in names {
            let ident = name.name;
            let Some(interface) = self.interface_names.get(&ident.name).copied() else {
                self.report_no_interface(ident, word);
                continue;
            };
            if let Some(first) = found.insert(interface, ident.span) {
                let spelling = self.text(ident.span);
                self.report(
                    Diagnostic::error(
                        "duplicate-declaration",
                        ident.span,
                        format!("`{spelling}` is written twice"),
                    )
                    .label("again")
                    .also(first, "written here")
                    .note(format!("{word} names each interface once")),
                );
                continue;
            }
            list.push(interface);
        }
        list
    }

    fn report_no_interface(&mut self, ident: Ident, word: &str) {
        let spelling = self.text(ident.span);
        let declared = self.unit_names.get(ident.name).map(|unit| &self.units[unit.0 as usize]);
        let what = match declared {
            Some(unit) => Some((a_unit(unit.kind), unit.tree.name.span)),
            None => {
                self.type_symbols.get(&ident.name).map(|symbol| ("a data type", symbol.declaration.name.span))
            }
        };
        let Some((what, place)) = what else {
            self.report_undeclared_type(ident);
            return;
        };
        let mut diagnostic = Diagnostic::error(
            "not-an-interface",
            ident.span,
            format!("`{spelling}` is {what}, not an interface"),
        )
        .label(format!("{word} names interfaces here"))
        .also(place, "declared here");
        if word == "IMPLEMENTS" && matches!(what, "a class" | "a function block") {
            diagnostic = diagnostic.note("a class or function block is extended: `EXTENDS`");
        }
        self.report(diagnostic);
    }

    /// Takes EXTENDS away from one type of every circle, and from what derives from too many others.
    fn break_inheritance_cycles(&mut self) {
        // How many types each finished one derives from.
        let mut levels: BTreeMap<UnitId, usize> = BTreeMap::new();
        for index in 0..self.units.len() {
            let mut way: Vec<UnitId> = Vec::new();
            let mut on_way: BTreeSet<UnitId> = BTreeSet::new();
            let mut current = Some(UnitId(index as u32));
            while let Some(unit) = current.filter(|unit| !levels.contains_key(unit)) {
                if !on_way.insert(unit) {
                    let start = way.iter().position(|on_way| *on_way == unit).unwrap_or(0);
                    self.report_inheritance_cycle(&way[start..]);
                    // The last one on the way led back.
                    if let Some(last) = way.last() {
                        self.units[last.0 as usize].object.base = None;
                    }
                    break;
                }
                way.push(unit);
                current = self.units[unit.0 as usize].object.base;
            }
            for unit in way.into_iter().rev() {
                let base = self.units[unit.0 as usize].object.base;
                let mut level = base.map_or(0, |base| levels.get(&base).map_or(0, |level| level + 1));
                if level > INHERITANCE_MAX {
                    let tree = self.units[unit.0 as usize].tree;
                    let span = tree.extends.as_ref().map_or(tree.name.span, |name| name.span);
                    let message = format!("more than {INHERITANCE_MAX} types derive from one another here");
                    let note =
                        "declare an instance of the base in the new type, instead of extending it once more";
                    self.report_cannot_extend(span, message, None, note);
                    self.units[unit.0 as usize].object.base = None;
                    level = 0;
                }
                levels.insert(unit, level);
            }
        }
    }

    fn report_inheritance_cycle(&mut self, circle: &[UnitId]) {
        let (Some(first), Some(last)) = (circle.first(), circle.last()) else { return };
        let name = self.spelling(self.units[first.0 as usize].name).to_owned();
        let extends = |unit: &UnitId| {
            let tree = self.units[unit.0 as usize].tree;
            tree.extends.as_ref().map_or(tree.name.span, |base| base.span)
        };
        let mut diagnostic =
            Diagnostic::error("inheritance-cycle", extends(last), format!("`{name}` extends itself"))
                .label("leads back to where it began");
        for unit in &circle[..circle.len() - 1] {
            let spelling = self.spelling(self.units[unit.0 as usize].name);
            diagnostic = diagnostic.also(extends(unit), format!("`{spelling}` extends this"));
        }
        self.report(diagnostic.note("a base has to be complete before something can be derived from it"));
    }

    /// The same for interfaces, which extend several others.
    fn break_interface_cycles(&mut self) {
        let mut finished: BTreeSet<InterfaceId> = BTreeSet::new();
        for root in 0..self.interface_scopes.len() {
            let root = InterfaceId(root as u32);
            if finished.contains(&root) {
                continue;
            }
            // Depth first with a path of its own: the chain may be long.
            let mut path: Vec<(InterfaceId, usize)> = vec![(root, 0)];
            let mut on_path = BTreeSet::from([root]);
            while let Some((interface, position)) = path.last_mut() {
                let current = *interface;
                let next = self.interface_scopes[current.0 as usize].extends.get(*position).copied();
                match next {
                    None => {
                        finished.insert(current);
                        on_path.remove(&current);
                        path.pop();
                    }
                    Some(next) if on_path.contains(&next) => {
                        self.report_interface_cycle(current, next);
                        // The next one moves to the same position.
                        let at = *position;
                        self.interface_scopes[current.0 as usize].extends.remove(at);
                    }
                    Some(next) => {
                        *position += 1;
                        if !finished.contains(&next) {
                            on_path.insert(next);
                            path.push((next, 0));
                        }
                    }
                }
            }
        }
    }

    /// Takes EXTENDS away from interfaces that extend too many others, directly and through those.
    fn limit_interfaces(&mut self) {
        for index in 0..self.interface_scopes.len() {
            let interface = InterfaceId(index as u32);
            if with_extended(&self.interface_scopes, [interface]).len() <= INTERFACES_MAX {
                continue;
            }
            let tree = self.interface_scopes[index].tree;
            let span = tree.extends.first().map_or(tree.name.span, |name| name.span);
            let message = format!("this interface extends more than {INTERFACES_MAX} others");
            let note = "extend fewer interfaces; a type can implement several that do not extend one another";
            self.report_cannot_extend(span, message, None, note);
            self.interface_scopes[index].extends.clear();
        }
    }

    /// The same for the interfaces of types.
    fn limit_implemented(&mut self) {
        let mut done: BTreeSet<UnitId> = BTreeSet::new();
        for index in 0..self.units.len() {
            let way = with_bases(&self.units, UnitId(index as u32));
            let way: Vec<UnitId> = way.take_while(|unit| !done.contains(unit)).collect();
            // Bases first, so that the type with the list is blamed.
            for unit in way.into_iter().rev() {
                done.insert(unit);
                if implemented(&self.units, &self.interface_scopes, unit).len() <= INTERFACES_MAX {
                    continue;
                }
                let tree = self.units[unit.0 as usize].tree;
                let span = tree.implements.first().map_or(tree.name.span, |name| name.span);
                self.report(
                    Diagnostic::error(
                        "not-an-interface",
                        span,
                        format!("more than {INTERFACES_MAX} interfaces are implemented here"),
                    )
                    .label("too many, those of the bases counted")
                    .note("let several types share the work"),
                );
                self.units[unit.0 as usize].object.interfaces.clear();
            }
        }
    }

    fn report_interface_cycle(&mut self, last: InterfaceId, first: InterfaceId) {
        let name = self.interface_scopes[first.0 as usize].tree.name;
        let tree = self.interface_scopes[last.0 as usize].tree;
        let written = tree.extends.iter().find(|written| written.name.name == name.name);
        let span = written.map_or(tree.name.span, |written| written.span);
        let mut diagnostic = Diagnostic::error(
            "inheritance-cycle",
            span,
            format!("the interface `{}` extends itself", self.spelling(name.name)),
        )
        .label("leads back to where it began");
        if last != first {
            diagnostic = diagnostic.also(name.span, "declared here");
        }
        self.report(
            diagnostic.note("an interface has to be complete before another one can be derived from it"),
        );
    }
}
