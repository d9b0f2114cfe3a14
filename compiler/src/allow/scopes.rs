//! What a pragma stands in front of: the largest piece of the tree that begins behind it.
//!
//! Knows the forms of the tree and their places, nothing of warnings.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Span,
    tree::{
        Body, Chart, Configuration, Declaration, Instruction, Operation, ProgramUnit, Statement,
        StatementKind, SyntaxTree, TransitionCondition, Trivia, TypeDeclaration, TypeSpecificationKind,
        VariableSection,
    },
};

/// The pieces of one file by where they begin.
pub(super) struct Scopes<'t> {
    /// Start to the largest end.
    ends: BTreeMap<u32, u32>,
    trivia: &'t [Trivia],
    /// For each of the trivia, where the first token behind it begins.
    behind: Vec<u32>,
    text: &'t [u8],
    whole: Span,
}

impl<'t> Scopes<'t> {
    pub(super) fn of(tree: &'t SyntaxTree, text: &'t str) -> Self {
        let whole = Span::new(tree.file, 0, text.len() as u32);
        let (trivia, text) = (&tree.trivia, text.as_bytes());
        let mut scopes =
            Scopes { ends: BTreeMap::new(), trivia, behind: tokens_behind(trivia, text), text, whole };
        scopes.declarations(&tree.declarations);
        scopes
    }

    /// What a pragma is about.
    pub(super) fn behind(&self, pragma: Span) -> Option<Span> {
        if self.is_first(pragma) {
            return Some(self.whole);
        }
        let start = self.next_token(pragma.end);
        self.ends.get(&start).map(|end| Span::new(pragma.file, start, *end))
    }

    /// Whether only comments and other pragmas stand in front of it.
    fn is_first(&self, pragma: Span) -> bool {
        let byte_order_mark = if self.text.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
        self.next_token(byte_order_mark) >= pragma.end
    }

    /// The first byte from `from` on that is neither blank nor part of a comment or pragma.
    fn next_token(&self, from: u32) -> u32 {
        let at = skip_blanks(self.text, from);
        let next = self.trivia.partition_point(|trivia| trivia.span.start < from);
        match (self.trivia.get(next), self.behind.get(next)) {
            (Some(trivia), Some(behind)) if trivia.span.start == at => *behind,
            _ => at,
        }
    }

    fn enter(&mut self, span: Span) {
        let end = self.ends.entry(span.start).or_default();
        *end = span.end.max(*end);
    }

    fn declarations(&mut self, declarations: &[Declaration]) {
        for declaration in declarations {
            match declaration {
                Declaration::Types(section) => {
                    self.enter(section.span);
                    section.types.iter().for_each(|declared| self.type_declaration(declared));
                }
                Declaration::Globals(section) => self.section(section),
                Declaration::Unit(unit) => self.unit(unit),
                Declaration::Interface(interface) => {
                    self.enter(interface.span);
                    interface.methods.iter().for_each(|method| self.unit(method));
                }
                // Namespaces in one another are limited by the parser.
                Declaration::Namespace(namespace) => {
                    self.enter(namespace.span);
                    self.declarations(&namespace.declarations);
                }
                Declaration::Using(using) => self.enter(using.span),
                Declaration::Configuration(configuration) => self.configuration(configuration),
            }
        }
    }

    fn type_declaration(&mut self, declared: &TypeDeclaration) {
        self.enter(declared.span);
        if let TypeSpecificationKind::Structure { members, .. } = &declared.specification.kind {
            members.iter().for_each(|member| self.enter(member.span));
        }
    }

    fn section(&mut self, section: &VariableSection) {
        self.enter(section.span);
        section.variables.iter().for_each(|declared| self.enter(declared.span));
    }

    fn unit(&mut self, unit: &ProgramUnit) {
        self.enter(unit.span);
        unit.sections.iter().for_each(|section| self.section(section));
        unit.access_paths.iter().for_each(|section| self.enter(section.span));
        unit.methods.iter().for_each(|method| self.unit(method));
        self.body(&unit.body);
    }

    fn body(&mut self, body: &Body) {
        match body {
            Body::Empty => {}
            Body::StructuredText(statements) => self.statements(statements),
            Body::InstructionList(instructions) => self.instructions(instructions),
            Body::SequentialFunctionChart(chart) => self.chart(chart),
        }
    }

    fn chart(&mut self, chart: &Chart) {
        for step in &chart.steps {
            self.enter(step.span);
            step.associations.iter().for_each(|association| self.enter(association.span));
        }
        for transition in &chart.transitions {
            self.enter(transition.span);
            if let TransitionCondition::Instructions(instructions) = &transition.condition {
                self.instructions(instructions);
            }
        }
        for action in &chart.actions {
            self.enter(action.span);
            self.body(&action.body);
        }
    }

    fn statements(&mut self, statements: &[Statement]) {
        for statement in statements {
            self.enter(statement.span);
            match &statement.kind {
                StatementKind::If { branches, otherwise } => {
                    branches.iter().for_each(|(_, body)| self.statements(body));
                    self.statements(otherwise.as_deref().unwrap_or_default());
                }
                StatementKind::Case { groups, otherwise, .. } => {
                    for group in groups {
                        let first = group.labels.first().map(|label| label.first.span);
                        let last = group.statements.last().map(|statement| statement.span);
                        if let Some(first) = first {
                            self.enter(last.map_or(first, |last| first.to(last)));
                        }
                        self.statements(&group.statements);
                    }
                    self.statements(otherwise.as_deref().unwrap_or_default());
                }
                StatementKind::For { body, .. }
                | StatementKind::While { body, .. }
                | StatementKind::Repeat { body, .. } => self.statements(body),
                _ => {}
            }
        }
    }

    fn instructions(&mut self, instructions: &[Instruction]) {
        for instruction in instructions {
            self.enter(instruction.span);
            if let Some(Operation::Deferred { body, .. }) = &instruction.operation {
                self.instructions(body);
            }
        }
    }

    fn configuration(&mut self, configuration: &Configuration) {
        self.enter(configuration.span);
        configuration.globals.iter().for_each(|section| self.section(section));
        for resource in &configuration.resources {
            self.enter(resource.span);
            resource.globals.iter().for_each(|section| self.section(section));
            resource.tasks.iter().for_each(|task| self.enter(task.span));
            resource.programs.iter().for_each(|program| self.enter(program.span));
        }
        for section in &configuration.access {
            self.enter(section.span);
            section.variables.iter().for_each(|declared| self.enter(declared.span));
        }
        for section in &configuration.instances {
            self.enter(section.span);
            section.variables.iter().for_each(|declared| self.enter(declared.span));
        }
    }
}

/// For each comment and pragma, where the first token behind it begins. From the last one on, so that a long row of
/// them is gone through once.
fn tokens_behind(trivia: &[Trivia], text: &[u8]) -> Vec<u32> {
    let mut behind = vec![0; trivia.len()];
    let mut next: Option<(u32, u32)> = None;
    for (trivia, place) in trivia.iter().zip(&mut behind).rev() {
        let at = skip_blanks(text, trivia.span.end);
        *place = next.filter(|(start, _)| *start == at).map_or(at, |(_, token)| token);
        next = Some((trivia.span.start, *place));
    }
    behind
}

/// The first byte from `from` on that is not blank.
fn skip_blanks(text: &[u8], from: u32) -> u32 {
    let rest = text.get(from as usize..).unwrap_or_default();
    from + rest.iter().take_while(|byte| byte.is_ascii_whitespace()).count() as u32
}
