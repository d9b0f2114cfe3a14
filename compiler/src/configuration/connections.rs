//! Connections of program instances: what their inputs are read from and where their outputs go.
//!
//! Every program instance with connections runs in a stub: a call of the program with the connections as arguments.
//! So types, conversions and messages are those of any call. Source: IEC 61131-3:2013, 6.8.1, table 62. Our choice:
//! a VAR_IN_OUT of a program is connected to a global variable with `:=`.

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, ExpressionKind as Form, ProgramElement, SectionKind, UnaryOperator},
};

use super::{InstanceScope, Level, StubBody};
use crate::{
    check::{
        Checker,
        access::Walk,
        arguments::{Bound, Given, GivenKind},
        operands::Operand,
    },
    typed::{Access, BlockCall, GlobalId, Root, Statement, StatementKind, Step, Stub, TaskRun, TaskedBlock},
    types::UnitId,
};

/// Whether a form is a constant: a literal, with its sign.
fn is_literal(form: &Form) -> bool {
    match form {
        Form::Literal(_) | Form::TypedLiteral { .. } | Form::QualifiedValue { .. } => true,
        Form::Unary { operator: UnaryOperator::Negate | UnaryOperator::Plus, operand, .. } => {
            matches!(operand.kind, Form::Literal(_))
        }
        _ => false,
    }
}

/// The name an access by members starts with.
fn first_name(mut expression: &tree::Expression) -> Option<Name> {
    loop {
        match &expression.kind {
            Form::Name(name) => return Some(*name),
            Form::Member { base, .. } => expression = base,
            _ => return None,
        }
    }
}

impl<'a> Checker<'a> {
    /// What runs a program instance: the program, or a stub around it.
    pub(super) fn program_run(&mut self, instance: InstanceScope<'a>, level: Level) -> TaskRun {
        let span = self.instance_span(instance);
        let bound = instance.tree.and_then(|tree| self.connections(instance, tree)).unwrap_or_default();
        let mut body = self.set_links(instance, instance.unit, level);
        let plain = body.is_empty()
            && bound.inputs.is_empty()
            && bound.in_outs.is_empty()
            && bound.outputs.is_empty();
        if plain {
            return TaskRun { unit: instance.unit, instance: instance.global };
        }
        let mut call = BlockCall::new(self.instance_access(instance.global, span), bound.inputs);
        call.in_outs = bound.in_outs;
        call.outputs = bound.outputs;
        body.push(Statement { kind: StatementKind::CallBlock(Box::new(call)), span });
        let unit = self.add_stub(instance, instance.name.name, body, None);
        TaskRun { unit, instance: instance.global }
    }

    /// Appends a stub to the units of the program.
    pub(super) fn add_stub(
        &mut self,
        instance: InstanceScope<'a>,
        name: Name,
        body: Vec<Statement>,
        block: Option<TaskedBlock>,
    ) -> UnitId {
        let unit = UnitId((self.units.len() + self.configuration.stubs.len()) as u32);
        let span = self.instance_span(instance);
        self.configuration.stubs.push(StubBody { name, body, span });
        self.configuration.typed.stubs.insert(unit, Stub { program: instance.unit, block });
        unit
    }

    pub(super) fn instance_access(&self, global: GlobalId, span: Span) -> Access {
        Access::whole(Root::Global(global), self.global_type(global), span)
    }

    fn connections(&mut self, instance: InstanceScope<'a>, tree: &'a tree::ProgramInstance) -> Option<Bound> {
        let shown = self.text(instance.name.span);
        let interface = self.unit_interface(instance.unit, Some(shown));
        let mut given = Vec::new();
        for element in &tree.elements {
            match element {
                ProgramElement::Block { .. } => {}
                ProgramElement::Input { name, source } => {
                    if !self.check_no_enable(*name) || !self.check_source(source, false) {
                        continue;
                    }
                    let span = Span::new(name.span.file, name.span.start, source.span.end);
                    let kind = GivenKind::Input { name: *name, value: Operand::Written(source) };
                    given.push(Given { kind, span });
                }
                ProgramElement::Output { name, sink } => {
                    if !self.check_no_enable(*name) || !self.check_sink(sink) {
                        continue;
                    }
                    let span = Span::new(name.span.file, name.span.start, sink.span.end);
                    let kind = GivenKind::Output { name: *name, negated: false, target: sink };
                    given.push(Given { kind, span });
                }
            }
        }
        let bound = self.bind(&interface, given, tree.span)?;
        for output in &bound.outputs {
            self.note_sink(&output.target);
        }
        Some(bound)
    }

    fn check_no_enable(&mut self, name: tree::Ident) -> bool {
        let spelling = self.text(name.span);
        if !spelling.eq_ignore_ascii_case("EN") && !spelling.eq_ignore_ascii_case("ENO") {
            return true;
        }
        self.report(
            Diagnostic::error(
                "unknown-parameter",
                name.span,
                format!("a program instance has no {}", spelling.to_ascii_uppercase()),
            )
            .label("not in a resource")
            .note("a task decides when a program runs: `TASK name (SINGLE := …, INTERVAL := …, PRIORITY := …);`"),
        );
        false
    }

    /// Whether something may be the source of a connection, or of SINGLE, which may be an output of a program too.
    pub(super) fn check_source(&mut self, source: &tree::Expression, single: bool) -> bool {
        let outputs = if single { ", an output of a program" } else { "" };
        if is_literal(&source.kind) || matches!(source.kind, Form::Direct(_)) {
            return true;
        }
        let Some(name) = first_name(source) else {
            self.report(
                Diagnostic::error(
                    "connection-form",
                    source.span,
                    format!("here stands a constant, a global variable{outputs} or an address"),
                )
                .label("an expression")
                .note("nothing is computed in a configuration; compute it in a program and pass it on in a global variable"),
            );
            return false;
        };
        if !single && self.is_program_instance(name) && self.visible_global(name).is_none() {
            self.report(
                Diagnostic::error(
                    "connection-form",
                    source.span,
                    "a variable of another program cannot be connected",
                )
                .label("belongs to a program instance")
                .note("connect the output to a global variable with `=>`, and this input to that variable"),
            );
            return false;
        }
        true
    }

    fn check_sink(&mut self, sink: &tree::Expression) -> bool {
        if matches!(sink.kind, Form::Direct(_)) || first_name(sink).is_some() {
            return true;
        }
        self.report(
            Diagnostic::error("connection-form", sink.span, "here stands a global variable or an address")
                .label("not a variable that an output can go to"),
        );
        false
    }

    fn is_program_instance(&self, name: Name) -> bool {
        let Some(Level::Resource(index)) = self.configuration.place else { return false };
        self.configuration.resources[index].instances.iter().any(|instance| instance.name.name == name)
    }

    /// Warns where two connections write one variable.
    fn note_sink(&mut self, target: &Access) {
        let root = match &target.root {
            Root::Global(global) => format!("{}", global.0),
            Root::Direct(address) => format!("{:?} {:?} {:?}", address.area, address.size, address.path),
            Root::This | Root::Variable(_) => return,
        };
        let steps = target.steps.iter().map(|step| match step {
            Step::Member(index) => format!(".{index}"),
            _ => String::new(),
        });
        let key = steps.fold(root, |key, step| key + &step);
        let Some(first) = self.configuration.sinks.insert(key, target.span) else { return };
        let shown = self.text(target.span);
        self.report(
            Diagnostic::warning("connection-shared", target.span, format!("two programs write `{shown}`"))
                .label("the one that runs last wins")
                .also(first, "the other one")
                .note("give each program a variable of its own, and let one program decide between them"),
        );
    }

    /// The start of an access in a configuration that begins with the name of a resource or of a program instance;
    /// `None` if it does not.
    pub(crate) fn walk_from_resource(
        &mut self,
        name: Name,
        way: &mut Vec<&tree::Expression>,
    ) -> Option<Walk> {
        let place = self.configuration.place.filter(|_| self.unit.is_none())?;
        if self.visible_global(name).is_some() {
            return None;
        }
        let Some(Form::Member { member, .. }) = way.last().map(|part| &part.kind) else { return None };
        let named =
            |resource: &super::ResourceScope<'_>| resource.name.is_some_and(|heading| heading.name == name);
        if let Some(resource) = self.configuration.resources.iter().find(|resource| named(resource)) {
            let global = *resource.globals.get(&member.name)?;
            way.pop();
            self.resolve_global(global);
            let ty = self.global_type(global);
            let barrier = self.global_barrier(global);
            return Some(Walk { root: Root::Global(global), steps: Vec::new(), ty, barrier });
        }
        let Level::Resource(index) = place else { return None };
        let instances = &self.configuration.resources[index].instances;
        let instance = *instances.iter().find(|instance| instance.name.name == name)?;
        let unit = &self.units[instance.unit.0 as usize];
        let id = *unit.by_name.get(&member.name)?;
        let variable = &unit.variables[id.0 as usize];
        if variable.section != SectionKind::Output {
            return None;
        }
        let (ty, steps) = (variable.kind, vec![Step::Member(id.0)]);
        way.pop();
        Some(Walk { root: Root::Global(instance.global), steps, ty, barrier: None })
    }
}
