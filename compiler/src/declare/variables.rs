//! Variables: sections, qualifiers, types and initial values of globals and of units.
//!
//! Source: IEC 61131-3:2013, 6.5, tables 13 and 14; 6.6 for what may stand in which unit. A variable is
//! resolved when it is first needed, so that array bounds may use constants declared later.

use super::sections::Qualifiers;
use crate::{
    check::{Checker, describe::a_unit},
    configuration::Level,
    nearest::nearest,
    scope::{Declared, ExternalTarget, Progress},
    typed::{GlobalId, Variable, VariableId},
    types::UnitId,
};
use latchwork_grammar::{
    Diagnostic,
    tree::{Ident, ProgramUnit, SectionKind, UnitKind, VariableDeclaration, VariableSection},
};

impl<'a> Checker<'a> {
    /// Enters the names of a `VAR_GLOBAL` section of the configuration, of a resource, or at file level.
    pub(crate) fn enter_globals(&mut self, section: &'a VariableSection, level: Level) {
        let qualifiers = self.qualifiers(section, None);
        for (declaration, ident) in names_of(section) {
            let id = GlobalId(self.globals.variables.len() as u32);
            if let Some(ident) = ident {
                self.check_reserved(ident, "a global variable");
                if let Some(first) = self.global_of_level(ident.name, level) {
                    let first = self.globals.variables[first.0 as usize].span;
                    self.report_duplicate(ident, first, "global variables");
                    continue;
                }
                self.enter_global_name(ident, id, level);
            }
            self.configuration.levels.push(level);
            let variable = self.placeholder(section.kind, declaration, ident, qualifiers);
            self.globals.variables.push(variable);
            let declared = Declared::next(&self.globals.declared, declaration);
            self.globals.declared.push(declared);
        }
    }

    /// Resolves the types and initial values of all globals.
    pub(crate) fn declare_globals(&mut self) {
        for index in 0..self.globals.declared.len() {
            self.resolve_global(GlobalId(index as u32));
        }
    }

    /// Enters the names of the variables of all units.
    pub(crate) fn enter_units(&mut self) {
        for index in 0..self.units.len() {
            self.enter_variables(UnitId(index as u32));
        }
    }

    /// Resolves the variables of all units.
    pub(crate) fn declare_units(&mut self) {
        for index in 0..self.units.len() {
            let unit = UnitId(index as u32);
            for variable in 0..self.units[index].declared.len() {
                self.resolve_variable(unit, VariableId(variable as u32));
            }
            self.declare_result(unit);
            self.declare_chart(unit);
        }
    }

    pub(super) fn enter_variables(&mut self, unit: UnitId) {
        let index = unit.0 as usize;
        if std::mem::replace(&mut self.units[index].object.entered, true) {
            return;
        }
        self.inherit_variables(unit);
        let tree: &'a ProgramUnit = self.units[index].tree;
        let declared = tree.sections.iter().flat_map(names_of).count();
        let result = usize::from(tree.result.is_some());
        let scope = &mut self.units[index];
        let inherited = scope.variables.len();
        scope.variables.reserve_exact(declared + result);
        scope.declared.reserve_exact(declared);
        for section in &tree.sections {
            self.check_section(section, tree.kind);
            let qualifiers = self.qualifiers(section, Some(tree.kind));
            for (declaration, ident) in names_of(section) {
                if let Some(ident) = ident {
                    let scope = &self.units[index];
                    let own = scope.by_name.get(&ident.name).filter(|id| id.0 as usize >= inherited);
                    let first = match own {
                        Some(id) => Some(scope.variables[id.0 as usize].span),
                        None => (ident.name == tree.name.name).then_some(tree.name.span),
                    };
                    if let Some(first) = first {
                        self.report_duplicate(ident, first, "a unit and its variables");
                        continue;
                    }
                    match self.taken_name(unit, ident.name) {
                        Some((place, true)) => {
                            self.report_inherited_name(ident, place);
                            // The name stands for the inherited variable, where it is one.
                            if self.units[index].by_name.contains_key(&ident.name) {
                                continue;
                            }
                        }
                        Some((place, false)) => {
                            self.report_duplicate(ident, place, "variables and methods of a type");
                        }
                        None => {}
                    }
                }
                let variable = self.placeholder(section.kind, declaration, ident, qualifiers);
                let scope = &mut self.units[index];
                scope.object.variable_visibility.push(qualifiers.visibility);
                let id = VariableId(scope.variables.len() as u32);
                if let Some(ident) = ident {
                    scope.by_name.insert(ident.name, id);
                }
                scope.variables.push(variable);
                scope.declared.push(Declared::next(&scope.declared, declaration));
                if let (SectionKind::Global, UnitKind::Program, Some(ident)) =
                    (section.kind, tree.kind, ident)
                {
                    self.enter_program_global(unit, id, ident);
                }
            }
        }
    }

    fn placeholder(
        &mut self,
        section: SectionKind,
        declaration: &'a VariableDeclaration,
        ident: Option<Ident>,
        qualifiers: Qualifiers,
    ) -> Variable {
        let span = ident.map(|ident| ident.span);
        let span = span.or_else(|| declaration.location.as_deref().map(|location| location.span));
        let (name, span) = (ident.map(|ident| ident.name), span.unwrap_or(declaration.span));
        Variable {
            constant: qualifiers.constant,
            retain: qualifiers.retain,
            edge: declaration.edge.map(|(edge, _)| edge),
            location: declaration.location.clone(),
            ..Variable::plain(name, self.unknown_type(), section, span)
        }
    }

    /// Resolves a global if that has not been done; `false` if it is needed by itself.
    pub(crate) fn resolve_global(&mut self, id: GlobalId) -> bool {
        let index = id.0 as usize;
        // Globals made for program instances have no declaration: they are complete.
        let Some(declared) = self.globals.declared.get(index) else { return true };
        match declared.progress {
            Progress::Done => return true,
            Progress::Running => return false,
            Progress::Pending => {}
        }
        if !self.enter_declaration(self.globals.variables[index].span) {
            self.globals.declared[index].progress = Progress::Done;
            return true;
        }
        let outer = self.unit.take();
        let declaring = self.declaring.replace(self.globals.variables[index].span);
        let level = self.configuration.levels.get(index).copied();
        let place = std::mem::replace(&mut self.configuration.place, level);
        self.globals.declared[index].progress = Progress::Running;
        let Declared { declaration, first, .. } = self.globals.declared[index];
        match Some(first as usize).filter(|first| self.globals.declared[*first].progress == Progress::Done) {
            Some(first) => {
                self.globals.variables[index].kind = self.globals.variables[first].kind;
                self.globals.variables[index].initial = self.globals.variables[first].initial.clone();
            }
            None => {
                let kind = self.resolve(&declaration.specification);
                self.globals.variables[index].kind = kind;
                let variable = self.globals.variables[index].clone();
                self.check_declaration(declaration, &variable, None);
                if let Some(initial) = &declaration.initial {
                    let value = self.initial_value(initial, kind, ident_of(&variable));
                    self.globals.variables[index].initial = value;
                }
            }
        }
        self.globals.declared[index].progress = Progress::Done;
        self.configuration.place = place;
        self.unit = outer;
        self.declaring = declaring;
        self.leave_declaration();
        true
    }

    /// Resolves a variable of a unit if that has not been done; `false` if it is needed by itself.
    pub(crate) fn resolve_variable(&mut self, unit: UnitId, id: VariableId) -> bool {
        let (scope, index) = (unit.0 as usize, id.0 as usize);
        // Results and temporaries have no entry: they are made complete.
        let Some(declared) = self.units[scope].declared.get_mut(index) else { return true };
        match declared.progress {
            Progress::Done => return true,
            Progress::Running => return false,
            Progress::Pending => {}
        }
        declared.progress = Progress::Running;
        let Declared { declaration, first, .. } = *declared;
        if index < self.units[scope].object.inherited {
            self.resolve_inherited(unit, id);
            self.units[scope].declared[index].progress = Progress::Done;
            return true;
        }
        if !self.enter_declaration(self.units[scope].variables[index].span) {
            self.units[scope].declared[index].progress = Progress::Done;
            return true;
        }
        let outer = self.unit.replace(unit);
        let listed = &self.units[scope].declared;
        match Some(first as usize).filter(|first| listed[*first].progress == Progress::Done) {
            Some(first) => {
                let like = self.units[scope].variables[first].clone();
                self.units[scope].variables[index].kind = like.kind;
                self.units[scope].variables[index].initial = like.initial;
                if like.section == SectionKind::External {
                    self.bind_external(unit, id);
                }
            }
            None => {
                let section = self.units[scope].variables[index].section;
                let kind = self.resolve_parameter(declaration, section, self.units[scope].kind);
                self.units[scope].variables[index].kind = kind;
                let variable = self.units[scope].variables[index].clone();
                self.check_declaration(declaration, &variable, Some(self.units[scope].kind));
                if variable.section == SectionKind::External {
                    self.bind_external(unit, id);
                } else if let Some(initial) = &declaration.initial {
                    let value = self.initial_value(initial, kind, ident_of(&variable));
                    self.units[scope].variables[index].initial = value;
                }
            }
        }
        let mut variable = self.units[scope].variables[index].clone();
        self.check_enable_declaration(&mut variable);
        self.units[scope].variables[index].initial = variable.initial;
        self.units[scope].declared[index].progress = Progress::Done;
        self.unit = outer;
        self.leave_declaration();
        true
    }

    /// Finds the global of a VAR_EXTERNAL and compares the two declarations.
    fn bind_external(&mut self, unit: UnitId, id: VariableId) {
        let (scope, index) = (unit.0 as usize, id.0 as usize);
        let external = self.units[scope].variables[index].clone();
        let Some(name) = external.name else { return };
        let targets = self.configuration.targets.get(&name).map_or(&[][..], Vec::as_slice);
        let global = match *targets {
            [ExternalTarget::Global(global)] => Some(global),
            [] => None,
            // Each program may mean another one: compared when the programs are known.
            _ => {
                self.configuration.linked.insert((unit, id));
                return;
            }
        };
        let Some(global) = global else {
            let spelling = self.text(external.span);
            let search = self.may_search(self.configuration.targets.len());
            let known = self.configuration.targets.keys().map(|name| self.spelling(*name));
            let near = if search { nearest(spelling, known) } else { None };
            let mut diagnostic = Diagnostic::error(
                "missing-global",
                external.span,
                format!("there is no global variable `{spelling}`"),
            )
            .label("VAR_EXTERNAL refers to a VAR_GLOBAL of the same name");
            match near.and_then(|near| Some((near, self.any_global(self.names.find(near)?)?.span))) {
                Some((near, place)) => {
                    diagnostic = diagnostic.also(place, format!("`{near}` is declared here"));
                }
                None => {
                    diagnostic = diagnostic.note("declare it in a VAR_GLOBAL section outside of all units");
                }
            }
            self.report(diagnostic);
            return;
        };
        self.resolve_global(global);
        self.units[scope].variables[index].global = Some(global);
        let declared = self.globals.variables[global.0 as usize].clone();
        self.compare_external(&external, &declared);
    }

    /// Compares a VAR_EXTERNAL with the global variable it means.
    pub(crate) fn compare_external(&mut self, external: &Variable, declared: &Variable) {
        let (left, right) = (self.types.underlying(external.kind), self.types.underlying(declared.kind));
        if left != right && !self.is_unknown(left) && !self.is_unknown(right) {
            let (here, there) = (self.type_name(external.kind), self.type_name(declared.kind));
            self.report(
                Diagnostic::error(
                    "external-mismatch",
                    external.span,
                    format!(
                        "{} is {here} here, but the global variable is {there}",
                        self.variable_name(external)
                    ),
                )
                .label(here)
                .also(declared.span, there)
                .note("both declarations speak of one variable and need the same type"),
            );
        } else if declared.constant && !external.constant {
            self.report(
                Diagnostic::error(
                    "external-mismatch",
                    external.span,
                    format!("the global variable {} is CONSTANT", self.variable_name(declared)),
                )
                .label("declared here as if it could be changed")
                .also(declared.span, "CONSTANT")
                .note("write `VAR_EXTERNAL CONSTANT`"),
            );
        }
    }

    fn declare_result(&mut self, unit: UnitId) {
        let index = unit.0 as usize;
        let tree: &'a ProgramUnit = self.units[index].tree;
        let Some(specification) = &tree.result else { return };
        let outer = self.unit.replace(unit);
        let mut kind = self.resolve(specification);
        self.unit = outer;
        let whole = matches!(
            specification.kind,
            latchwork_grammar::tree::TypeSpecificationKind::Array { .. }
                | latchwork_grammar::tree::TypeSpecificationKind::Enumeration { .. }
        );
        if whole || self.holds_instance(kind) {
            let type_name = self.type_name(kind);
            self.report(
                Diagnostic::error(
                    "result-type",
                    specification.span,
                    format!("{} cannot give back {type_name}", a_unit(tree.kind)),
                )
                .label("not possible as a result")
                .note("use an elementary type or a type declared with a name in a TYPE section, or a VAR_OUTPUT"),
            );
            kind = self.unknown_type();
        }
        let variable = Variable::plain(Some(tree.name.name), kind, SectionKind::Var, tree.name.span);
        let scope = &mut self.units[index];
        let id = VariableId(scope.variables.len() as u32);
        scope.variables.push(variable);
        scope.by_name.insert(tree.name.name, id);
        scope.result = Some(id);
    }
}

/// Every name of a section with its declaration; one entry without a name for `AT %QW3 : INT;`.
fn names_of(section: &VariableSection) -> impl Iterator<Item = (&VariableDeclaration, Option<Ident>)> {
    section.variables.iter().flat_map(|declaration| {
        let nameless = declaration.names.is_empty().then_some((declaration, None));
        declaration.names.iter().map(move |ident| (declaration, Some(*ident))).chain(nameless)
    })
}

/// The name of a variable at its place, for messages; for a nameless one the place of its address with a name that is not used.
fn ident_of(variable: &Variable) -> Ident {
    Ident { name: variable.name.unwrap_or(latchwork_grammar::Name(u32::MAX)), span: variable.span }
}
