//! Names in expressions: finding variables, and the messages for names that are not declared or stand for
//! something else than a value.
//!
//! Source: IEC 61131-3:2013, 6.1.2 and 6.5.2 (scope).

use std::rc::Rc;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Ident, UnitKind},
};

use super::{Checker, describe::count};
use crate::{
    library,
    nearest::nearest,
    object_scope::{is_incomplete, method_of},
    scope::Undeclared,
    typed::{GlobalId, VariableId},
    types::UnitId,
};

impl<'a> Checker<'a> {
    /// Notes what the names of a unit stand for, whose body is checked next: every name in it is looked up several times.
    pub(super) fn note_names(&mut self, unit: UnitId) {
        for (name, id) in &self.units[unit.0 as usize].by_name {
            let index = name.0 as usize;
            if index >= self.names_here.len() {
                self.names_here.resize(index + 1, (UnitId(u32::MAX), VariableId(0)));
            }
            if let Some(entry) = self.names_here.get_mut(index) {
                *entry = (unit, *id);
            }
        }
    }

    /// The spelling of a name, shared by all who ask for it.
    pub(super) fn shared_spelling(&self, name: Name) -> Rc<str> {
        let mut spellings = self.spellings.borrow_mut();
        let index = name.0 as usize;
        if index >= spellings.len() {
            spellings.resize(index + 1, None);
        }
        match spellings.get_mut(index) {
            Some(entry) => Rc::clone(entry.get_or_insert_with(|| self.spelling(name).into())),
            None => self.spelling(name).into(),
        }
    }

    /// Whether a name is one of the standard library's. The same few names are declared in very many units.
    pub(crate) fn is_standard(&self, name: Name) -> bool {
        let index = name.0 as usize;
        if self.ordinary.borrow().get(index) == Some(&true) {
            return false;
        }
        let spelling = self.spelling(name);
        let standard =
            latchwork_stdlib::function(spelling).is_some() || latchwork_stdlib::block(spelling).is_some();
        if !standard {
            let mut ordinary = self.ordinary.borrow_mut();
            if index >= ordinary.len() {
                ordinary.resize(index + 1, false);
            }
            if let Some(entry) = ordinary.get_mut(index) {
                *entry = true;
            }
        }
        standard
    }

    /// A variable of the current unit.
    pub(crate) fn find_variable(&self, name: Name) -> Option<VariableId> {
        let unit = self.unit?;
        match self.names_here.get(name.0 as usize) {
            Some((here, id)) if *here == unit => Some(*id),
            _ => self.units[unit.0 as usize].by_name.get(&name).copied(),
        }
    }

    /// A global, where globals can be named without VAR_EXTERNAL: in declarations of globals and in configurations.
    pub(super) fn find_global(&self, name: Name) -> Option<GlobalId> {
        if self.unit.is_some() {
            return None;
        }
        self.visible_global(name)
    }

    /// A function by its name.
    pub(super) fn find_unit(&self, name: Name) -> Option<(UnitId, UnitKind)> {
        let unit = self.unit_names.get(name)?;
        Some((*unit, self.units[unit.0 as usize].kind))
    }

    /// Reports a name that is no variable and no value: what it is instead, or that it is not declared.
    pub(super) fn report_no_variable(&mut self, name: Name, span: Span) {
        let spelling = self.text(span);
        if let Some((unit, kind)) = self.find_unit(name) {
            let place = self.units[unit.0 as usize].tree.name.span;
            let diagnostic = match kind {
                UnitKind::Function if self.unit == Some(unit) => Diagnostic::error(
                    "no-result",
                    span,
                    format!("`{spelling}` is declared without a result and has no value"),
                )
                .label("no variable of this name here")
                .note("declare a result behind the name: `FUNCTION … : INT`, or take a VAR_OUTPUT"),
                UnitKind::Function => Diagnostic::error(
                    "missing-parentheses",
                    span,
                    format!("`{spelling}` is a function; a call needs parentheses"),
                )
                .label("call without parentheses")
                .note("write them even if there is nothing to pass: `()`"),
                UnitKind::Class => Diagnostic::error(
                    "type-as-value",
                    span,
                    format!("`{spelling}` is a class and has no value"),
                )
                .label("type, not a variable")
                .note(format!("declare an instance, `VAR … : {spelling}; END_VAR`, and call its methods")),
                UnitKind::FunctionBlock | UnitKind::Method => Diagnostic::error(
                    "type-as-value",
                    span,
                    format!("`{spelling}` is a function block type and has no value"),
                )
                .label("type, not a variable")
                .note(format!("declare an instance, `VAR … : {spelling}; END_VAR`, and use its outputs")),
                UnitKind::Program => Diagnostic::error(
                    "type-as-value",
                    span,
                    format!("`{spelling}` is a program and has no value"),
                )
                .label("program, not a variable"),
            };
            self.report(diagnostic.also(place, "declared here"));
            return;
        }
        let method = self.inside_type().and_then(|inside| method_of(&self.units, inside, name));
        if let Some(method) = method {
            self.report_method_without_call(span, method);
            return;
        }
        if let Some(inside) = self.inside_type()
            && (self.report_private_of_base(inside, Ident { name, span })
                || is_incomplete(&self.units, inside))
        {
            return;
        }
        if let Some(interface) = self.interface_names.get(&name) {
            let place = self.interface_scopes[interface.0 as usize].tree.name.span;
            self.report(
                Diagnostic::error(
                    "type-as-value",
                    span,
                    format!("`{spelling}` is an interface and has no value"),
                )
                .label("type, not a variable")
                .also(place, "declared here")
                .note(format!("declare an interface variable: `VAR … : {spelling}; END_VAR`")),
            );
            return;
        }
        if let Some(symbol) = self.type_symbols.get(&name) {
            let place = symbol.declaration.name.span;
            self.report(
                Diagnostic::error("type-as-value", span, format!("`{spelling}` is a type and has no value"))
                    .label("type, not a variable")
                    .also(place, "declared here")
                    .note(format!("a value of an enumeration is written `{spelling}#Value`")),
            );
            return;
        }
        if let Some(variable) = self.any_global(name)
            && self.unit.is_some()
        {
            let (place, constant) = (variable.span, variable.constant);
            let type_name = self.type_name(variable.kind);
            let constant = if constant { " CONSTANT" } else { "" };
            self.report(
                Diagnostic::error(
                    "missing-external",
                    span,
                    format!("the global variable `{spelling}` is not known inside this unit"),
                )
                .label("global variable without VAR_EXTERNAL")
                .also(place, "declared here")
                .note(format!(
                    "name it in the unit that uses it: `VAR_EXTERNAL{constant} {spelling} : {type_name}; END_VAR`"
                )),
            );
            return;
        }
        if latchwork_stdlib::block(spelling).is_some() {
            self.report(
                Diagnostic::error(
                    "type-as-value",
                    span,
                    format!("`{spelling}` is a function block type and has no value"),
                )
                .label("type, not a variable")
                .note(format!("declare an instance, `VAR … : {spelling}; END_VAR`, and use its outputs")),
            );
            return;
        }
        if latchwork_stdlib::function(spelling).is_some() {
            self.report(
                Diagnostic::error(
                    "missing-parentheses",
                    span,
                    format!("`{spelling}` is a standard function; a call needs parentheses"),
                )
                .label("call without parentheses"),
            );
            return;
        }
        // A reserved word, or a word with foreign letters, has been reported where it was read.
        let reserved = |(word, _): &(&str, _)| word.eq_ignore_ascii_case(spelling);
        if !spelling.is_ascii() || latchwork_grammar::keywords().iter().any(reserved) {
            return;
        }
        if self.visibility.is_some() && self.report_value_elsewhere(name, span) {
            return;
        }
        self.undeclared
            .entry((self.unit, name))
            .and_modify(|uses| {
                if uses.first != span {
                    uses.further.push(span);
                }
            })
            .or_insert(Undeclared { first: span, further: Vec::new() });
    }

    /// Reports every undeclared name once a unit.
    pub(super) fn report_undeclared(&mut self) {
        for ((unit, name), uses) in std::mem::take(&mut self.undeclared) {
            let spelling = self.text(uses.first);
            let known = unit.map_or(0, |unit| self.units[unit.0 as usize].by_name.len());
            let search = self.may_search(known + self.values.len());
            let variables = unit.map(|unit| &self.units[unit.0 as usize].by_name);
            let values = self.values.keys().map(|name| self.spelling(*name));
            let own = variables.into_iter().flat_map(|variables| variables.keys());
            let candidates = own.map(|name| self.spelling(*name)).chain(values);
            let near = if search { nearest(spelling, candidates) } else { None };
            let near = near.map(str::to_owned);
            let place = near.as_deref().and_then(|near| {
                let near = self.names.find(near)?;
                let id = *variables?.get(&near)?;
                Some(self.units[unit?.0 as usize].variables[id.0 as usize].span)
            });
            let mut diagnostic = Diagnostic::error(
                "undeclared-name",
                uses.first,
                format!("`{}` is not declared", self.spelling(name)),
            );
            diagnostic = match (near, place) {
                (Some(near), Some(place)) => diagnostic
                    .label("unknown name")
                    .also(place, format!("is this the one? `{near}` is declared here"))
                    .fix_all(format!("write `{near}`"), uses.all(), &near),
                (Some(near), None) => diagnostic
                    .label("unknown name")
                    .note(format!("the nearest known name is `{near}`"))
                    .fix_all(format!("write `{near}`"), uses.all(), &near),
                (None, _) => diagnostic.label("unknown name").note(
                    "every variable is declared with its type in a VAR section of the unit that uses it",
                ),
            };
            if !uses.further.is_empty() {
                diagnostic = diagnostic.note(format!(
                    "used in {} in this unit",
                    count(uses.further.len(), "more place", "more places")
                ));
            }
            self.report(diagnostic);
        }
    }

    /// A call of something that is not declared.
    pub(super) fn report_undeclared_function(&mut self, span: Span) {
        if self.inside_type().is_some_and(|inside| is_incomplete(&self.units, inside)) {
            return;
        }
        let spelling = self.text(span);
        if self.report_no_conversion(span) {
            return;
        }
        let known = self.unit.map_or(0, |unit| self.units[unit.0 as usize].by_name.len());
        let search = self.may_search(self.unit_names.len() + known);
        let own =
            self.unit_names.iter().filter(|(_, unit)| self.units[unit.0 as usize].kind == UnitKind::Function);
        let own = own.map(|(name, _)| self.spelling(name));
        let variables = self.unit.into_iter().flat_map(|unit| self.units[unit.0 as usize].by_name.keys());
        let variables = variables.map(|name| self.spelling(*name));
        let standard = latchwork_stdlib::functions().map(|row| row.name);
        // They are many, so only for what looks like one.
        let looks = ["TO_", "_TO"].iter().any(|word| spelling.to_ascii_uppercase().contains(word));
        let conversions = if looks { library::conversions() } else { &[] };
        let all = own.chain(variables).chain(standard).chain(conversions.iter().map(String::as_str));
        let near = search.then(move || nearest(spelling, all)).flatten();
        let mut diagnostic =
            Diagnostic::error("undeclared-function", span, format!("there is no function `{spelling}`"))
                .label("not in the standard library and not in any file");
        diagnostic = match near {
            Some(near) => diagnostic.note(format!("the nearest known name is `{near}`")),
            None => diagnostic
                .note("`latchwork library` lists the standard functions and function blocks")
                .note("a function block is called through an instance: declare one in VAR and write its name here"),
        };
        self.report(diagnostic);
    }
}
