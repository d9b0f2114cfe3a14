//! Goes through files and namespaces: `USING`, what units extend and implement, and the new names of what is
//! declared. Expressions are changed in `rewrite`.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Name,
    tree::{Declaration, Ident, Interface, Namespace, ProgramUnit, QualifiedName, UnitKind, Using},
};

use super::{
    Flattener,
    lookup::{Level, NO_LIST},
    table::{GLOBAL, Kind, declared_names},
};

/// What is done with each declaration that is no namespace.
type Visit<'a> = fn(&mut Flattener<'a>, &mut Declaration);

impl<'a> Flattener<'a> {
    /// Resolves what the units of a file extend and implement, so that their bases are known.
    pub(super) fn file_headings(&mut self, declarations: &mut [Declaration]) {
        self.walk_file(declarations, Flattener::heading);
    }

    /// Gives everything in a file its full name. Tells the declarations without the namespaces around them.
    pub(super) fn file(&mut self, mut declarations: Vec<Declaration>) -> Vec<Declaration> {
        self.walk_file(&mut declarations, Flattener::declaration);
        let mut flat = Vec::new();
        take_out(declarations, &mut flat);
        flat
    }

    fn walk_file(&mut self, declarations: &mut [Declaration], visit: Visit<'a>) {
        self.levels = vec![Level { space: GLOBAL, using: NO_LIST, scope: 0 }];
        let mut spaces = BTreeSet::new();
        for declaration in declarations.iter() {
            if let Declaration::Using(directive) = declaration {
                self.enter_using(std::slice::from_ref(directive), &mut spaces);
            }
        }
        let using = self.list(spaces);
        let scope = self.scope(None, None, using);
        self.levels = vec![Level { space: GLOBAL, using, scope }];
        self.walk(declarations, visit);
    }

    fn walk(&mut self, declarations: &mut [Declaration], visit: Visit<'a>) {
        for declaration in declarations {
            match declaration {
                Declaration::Using(_) => {}
                Declaration::Namespace(namespace) => {
                    let depth = self.levels.len();
                    self.enter_levels(namespace);
                    self.walk(&mut namespace.declarations, visit);
                    self.levels.truncate(depth);
                }
                other => visit(self, other),
            }
        }
    }

    fn enter_levels(&mut self, namespace: &Namespace) {
        for ident in namespace.name.path.iter().chain([&namespace.name.name]) {
            let key = (self.current(), ident.name);
            // Where the name was taken by something else, which was reported, the content joins the outer one.
            let space = match self.table.members.get(&key).map(|member| member.kind) {
                Some(Kind::Space(space)) => space,
                _ => self.current(),
            };
            let scope = self.scope(self.levels.last().map(|level| level.scope), Some(space), NO_LIST);
            self.levels.push(Level { space, using: NO_LIST, scope });
        }
        let using = self.using(&namespace.using);
        if using != NO_LIST {
            let outer = self.levels.last().map(|level| level.scope);
            let scope = self.scope(outer, None, using);
            if let Some(level) = self.levels.last_mut() {
                (level.using, level.scope) = (using, scope);
            }
        }
    }

    /// The list of the namespaces that directives name.
    fn using(&mut self, directives: &[Using]) -> usize {
        let mut spaces = BTreeSet::new();
        self.enter_using(directives, &mut spaces);
        self.list(spaces)
    }

    fn enter_using(&mut self, directives: &[Using], spaces: &mut BTreeSet<usize>) {
        for name in directives.iter().flat_map(|directive| &directive.names) {
            let path: Vec<Ident> = name.path.iter().copied().chain([name.name]).collect();
            spaces.extend(self.space_of(&path));
        }
    }

    fn list(&mut self, spaces: BTreeSet<usize>) -> usize {
        if spaces.is_empty() {
            return NO_LIST;
        }
        self.lists.push(spaces);
        self.lists.len() - 1
    }

    // ---- what is extended and implemented -----------------------------------------------------------------

    fn heading(&mut self, declaration: &mut Declaration) {
        match declaration {
            Declaration::Unit(unit) => {
                self.unit_using = vec![self.using(&unit.using)];
                if let Some(base) = &mut unit.extends
                    && !self.type_name(base)
                {
                    unit.extends = None;
                    unit.damaged = true;
                }
                self.keep_resolved(&mut unit.implements, &mut unit.damaged);
                let full = self.full(self.current(), unit.name.name);
                let base = unit.extends.as_ref().map(|base| base.name.name);
                if let Some(own) = self.owners.get_mut(&full) {
                    own.base = own.base.or(base);
                }
            }
            Declaration::Interface(interface) => {
                self.unit_using = vec![self.using(&interface.using)];
                self.keep_resolved(&mut interface.extends, &mut interface.damaged);
            }
            _ => {}
        }
        self.unit_using.clear();
    }

    /// Drops the names that stand for nothing, which has been reported.
    fn keep_resolved(&mut self, names: &mut Vec<QualifiedName>, damaged: &mut bool) {
        names.retain_mut(|name| {
            let resolved = self.type_name(name);
            *damaged |= !resolved;
            resolved
        });
    }

    // ---- declarations -------------------------------------------------------------------------------------

    fn declaration(&mut self, declaration: &mut Declaration) {
        let space = self.current();
        match declaration {
            Declaration::Types(section) => {
                self.note_region(section.span);
                for declaration in &mut section.types {
                    self.specification(&mut declaration.specification);
                    self.initial(&mut declaration.initial);
                    declaration.name.name = self.full(space, declaration.name.name);
                }
            }
            Declaration::Globals(section) => {
                self.note_region(section.span);
                self.section(section);
            }
            Declaration::Unit(unit) => {
                self.unit_using = vec![self.using(&unit.using)];
                self.unit(unit, space);
                self.unit_using.clear();
            }
            Declaration::Interface(interface) => {
                self.unit_using = vec![self.using(&interface.using)];
                self.interface(interface, space);
                self.unit_using.clear();
            }
            Declaration::Configuration(configuration) => {
                self.note_region(configuration.span);
                self.configuration(configuration);
            }
            Declaration::Namespace(_) | Declaration::Using(_) => {}
        }
    }

    fn unit(&mut self, unit: &mut ProgramUnit, space: usize) {
        self.note_region(unit.span);
        let plain = unit.name.name;
        let full = self.full(space, plain);
        if full != plain {
            self.report_name_of_unit(unit);
        }
        let mut names = declared_names(unit);
        names.extend(unit.methods.iter().map(|method| method.name.name));
        self.locals = vec![names];
        self.base = unit.extends.as_ref().map(|base| base.name.name);
        self.function = (unit.kind == UnitKind::Function).then_some((plain, full));
        self.unit_content(unit);
        for method in &mut unit.methods {
            self.method(method);
        }
        self.locals.clear();
        self.base = None;
        self.function = None;
        unit.name.name = full;
        // Both have done their work.
        unit.using.clear();
        unit.access = None;
    }

    /// A variable named as the unit, which has another name from now on.
    fn report_name_of_unit(&mut self, unit: &ProgramUnit) {
        let variables = unit.sections.iter().flat_map(|section| &section.variables);
        let same = variables.flat_map(|variable| &variable.names).find(|name| name.name == unit.name.name);
        if let Some(ident) = same {
            let spelling = self.text(ident.span);
            self.report(
                Diagnostic::error(
                    "duplicate-declaration",
                    ident.span,
                    format!("`{spelling}` is declared twice"),
                )
                .label("second declaration")
                .also(unit.name.span, "first declaration")
                .note("a variable cannot bear the name of the unit it stands in; rename it"),
            );
        }
    }

    fn method(&mut self, method: &mut ProgramUnit) {
        let using = self.using(&method.using);
        self.unit_using.push(using);
        self.locals.push(declared_names(method));
        self.note_region(method.span);
        // Its result bears its name.
        let own: Name = method.name.name;
        if let Some(names) = self.locals.last_mut() {
            names.insert(own);
        }
        self.unit_content(method);
        self.locals.pop();
        self.unit_using.pop();
        method.using.clear();
    }

    fn interface(&mut self, interface: &mut Interface, space: usize) {
        self.note_region(interface.span);
        for method in &mut interface.methods {
            self.method(method);
        }
        interface.name.name = self.full(space, interface.name.name);
        interface.using.clear();
    }

    fn unit_content(&mut self, unit: &mut ProgramUnit) {
        if let Some(result) = &mut unit.result {
            self.specification(result);
        }
        for section in &mut unit.sections {
            self.section(section);
        }
        for section in &mut unit.access_paths {
            self.access_section(section);
        }
        self.body(&mut unit.body);
    }
}

/// The declarations without the namespaces around them, in the order of the text.
fn take_out(declarations: Vec<Declaration>, flat: &mut Vec<Declaration>) {
    for declaration in declarations {
        match declaration {
            Declaration::Namespace(namespace) => take_out(namespace.declarations, flat),
            Declaration::Using(_) => {}
            other => flat.push(other),
        }
    }
}
