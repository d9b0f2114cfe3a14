//! Where the program of a plant declares what.

use latchwork_grammar::{
    FileId, Names, Sources, Span, parse,
    tree::{Declaration, ProgramUnit, UnitKind},
};

/// The places of programs and their variables in the files of a plant.
pub(super) struct Places {
    names: Names,
    programs: Vec<ProgramUnit>,
    configuration: Option<Span>,
}

impl Places {
    pub(super) fn of(sources: &Sources, files: &[FileId]) -> Self {
        let mut found = Places { names: Names::new(), programs: Vec::new(), configuration: None };
        for (file, source) in sources.iter().filter(|(file, _)| files.contains(file)) {
            let tree = parse(file, &source.text, &mut found.names).tree;
            found.take(tree.declarations);
        }
        found
    }

    fn take(&mut self, declarations: Vec<Declaration>) {
        for declaration in declarations {
            match declaration {
                Declaration::Unit(unit) if unit.kind == UnitKind::Program => self.programs.push(*unit),
                Declaration::Namespace(namespace) => self.take(namespace.declarations),
                Declaration::Configuration(configuration) => {
                    self.configuration.get_or_insert(configuration.span);
                }
                _ => {}
            }
        }
    }

    /// A configuration.
    pub(super) fn configuration(&self) -> Option<Span> {
        self.configuration
    }

    /// The declaration of a variable; the name of its program where it is not found.
    pub(super) fn variable(&self, program: &str, variable: &str) -> Option<Span> {
        // A program in a namespace is declared by its last name.
        let program = program.rsplit('.').next().unwrap_or(program);
        let same = |name| self.names.spelling(name).eq_ignore_ascii_case(program);
        let unit = self.programs.iter().find(|unit| same(unit.name.name))?;
        let sections = unit.sections.iter().flat_map(|section| &section.variables);
        let mut names = sections.flat_map(|declaration| &declaration.names);
        let found = names.find(|name| self.names.spelling(name.name).eq_ignore_ascii_case(variable));
        Some(found.unwrap_or(&unit.name).span)
    }
}
