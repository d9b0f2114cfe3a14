//! Names in types, values, statements and instructions. `a.b.f(1)` is read as members of a variable until it is
//! known here that `a` is a namespace.

use latchwork_grammar::tree::{
    AccessSection, Argument, ArgumentKind, ArrayDimension, Body, Call, Chart, Configuration, Expression,
    ExpressionKind, Ident, Initializer, Instruction, Operation, ProgramElement, QualifiedName, Resource,
    Statement, StatementKind, TransitionCondition, TypeSpecification, TypeSpecificationKind,
    VariableDeclaration, VariableSection,
};

use super::{Flattener, lookup::Hit};

impl Flattener<'_> {
    /// A name where only a type can stand. Tells whether it stands for something; if not, that was reported.
    pub(super) fn type_name(&mut self, name: &mut QualifiedName) -> bool {
        if name.path.is_empty() {
            let full = self.declared(name.name);
            name.name.name = full;
            return true;
        }
        match self.qualified(name) {
            Some(full) => {
                *name = QualifiedName::plain(Ident { name: full, span: name.span });
                true
            }
            None => false,
        }
    }

    // ---- declarations -------------------------------------------------------------------------------------

    pub(super) fn section(&mut self, section: &mut VariableSection) {
        for variable in &mut section.variables {
            self.variable(variable);
        }
    }

    fn variable(&mut self, variable: &mut VariableDeclaration) {
        self.specification(&mut variable.specification);
        self.initial(&mut variable.initial);
    }

    pub(super) fn initial(&mut self, initial: &mut Option<Initializer>) {
        if let Some(initial) = initial {
            self.initializer(initial);
        }
    }

    fn initializer(&mut self, initializer: &mut Initializer) {
        match initializer {
            Initializer::Expression(value) => self.expression(value),
            Initializer::Array { elements, .. } => {
                for element in elements {
                    self.optional(&mut element.repetition);
                    element.values.iter_mut().for_each(|value| self.initializer(value));
                }
            }
            Initializer::Structure { members, .. } => {
                members.iter_mut().for_each(|(_, value)| self.initializer(value));
            }
        }
    }

    pub(super) fn specification(&mut self, specification: &mut TypeSpecification) {
        match &mut specification.kind {
            TypeSpecificationKind::Elementary(_) => {}
            TypeSpecificationKind::String { length, .. } => {
                if let Some(length) = length {
                    self.expression(length);
                }
            }
            TypeSpecificationKind::Named(name) => {
                self.type_name(name);
            }
            TypeSpecificationKind::Subrange { base, lower, upper } => {
                self.specification(base);
                self.expression(lower);
                self.expression(upper);
            }
            TypeSpecificationKind::Enumeration { base, values } => {
                if let Some(base) = base {
                    self.specification(base);
                }
                values.iter_mut().for_each(|value| self.optional(&mut value.value));
            }
            TypeSpecificationKind::Array { dimensions, element } => {
                for dimension in dimensions {
                    if let ArrayDimension::Bounds { lower, upper } = dimension {
                        self.expression(lower);
                        self.expression(upper);
                    }
                }
                self.specification(element);
            }
            TypeSpecificationKind::Structure { members, .. } => {
                members.iter_mut().for_each(|member| self.variable(member));
            }
            TypeSpecificationKind::Reference(target) => self.specification(target),
        }
    }

    pub(super) fn access_section(&mut self, section: &mut AccessSection) {
        section.variables.iter_mut().for_each(|line| self.specification(&mut line.specification));
    }

    pub(super) fn configuration(&mut self, configuration: &mut Configuration) {
        configuration.globals.iter_mut().for_each(|section| self.section(section));
        configuration.resources.iter_mut().for_each(|resource| self.resource(resource));
        configuration.access.iter_mut().for_each(|section| self.access_section(section));
        for line in configuration.instances.iter_mut().flat_map(|section| &mut section.variables) {
            self.specification(&mut line.specification);
            self.initial(&mut line.initial);
        }
    }

    fn resource(&mut self, resource: &mut Resource) {
        resource.globals.iter_mut().for_each(|section| self.section(section));
        for program in &mut resource.programs {
            // Programs stand in no namespace.
            if !program.program.path.is_empty() {
                self.type_name(&mut program.program);
            }
            for element in &mut program.elements {
                if let ProgramElement::Input { source, .. } = element {
                    self.expression(source);
                }
            }
        }
    }

    // ---- bodies -------------------------------------------------------------------------------------------

    pub(super) fn body(&mut self, body: &mut Body) {
        match body {
            Body::Empty => {}
            Body::StructuredText(statements) => self.statements(statements),
            Body::InstructionList(instructions) => self.instructions(instructions),
            Body::SequentialFunctionChart(chart) => self.chart(chart),
        }
    }

    fn chart(&mut self, chart: &mut Chart) {
        for association in chart.steps.iter_mut().flat_map(|step| &mut step.associations) {
            self.optional(&mut association.time);
        }
        for transition in &mut chart.transitions {
            match &mut transition.condition {
                TransitionCondition::Expression(condition) => self.expression(condition),
                TransitionCondition::Instructions(instructions) => self.instructions(instructions),
                TransitionCondition::Missing => {}
            }
        }
        chart.actions.iter_mut().for_each(|action| self.body(&mut action.body));
    }

    fn statements(&mut self, statements: &mut [Statement]) {
        statements.iter_mut().for_each(|statement| self.statement(statement));
    }

    fn statement(&mut self, statement: &mut Statement) {
        match &mut statement.kind {
            StatementKind::Empty | StatementKind::Return | StatementKind::Exit | StatementKind::Continue => {}
            StatementKind::Assignment { target, value, .. } => {
                self.expression(target);
                self.expression(value);
            }
            StatementKind::Call(call) => {
                if !self.call(call) {
                    statement.kind = StatementKind::Empty;
                }
            }
            StatementKind::Expression(expression) => self.expression(expression),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    self.expression(condition);
                    self.statements(body);
                }
                self.statements(otherwise.as_deref_mut().unwrap_or_default());
            }
            StatementKind::Case { selector, groups, otherwise } => {
                self.expression(selector);
                for group in groups {
                    for label in &mut group.labels {
                        self.expression(&mut label.first);
                        self.optional(&mut label.last);
                    }
                    self.statements(&mut group.statements);
                }
                self.statements(otherwise.as_deref_mut().unwrap_or_default());
            }
            StatementKind::For { variable, from, to, by, body } => {
                self.expression(variable);
                self.expression(from);
                self.expression(to);
                if let Some(by) = by {
                    self.expression(by);
                }
                self.statements(body);
            }
            StatementKind::While { condition, body } => {
                self.expression(condition);
                self.statements(body);
            }
            StatementKind::Repeat { body, until } => {
                self.statements(body);
                self.expression(until);
            }
        }
    }

    fn instructions(&mut self, instructions: &mut [Instruction]) {
        for instruction in instructions {
            match &mut instruction.operation {
                Some(Operation::Operator { operands, .. }) => {
                    operands.iter_mut().for_each(|operand| self.expression(operand));
                }
                Some(Operation::Deferred { first, body, .. }) => {
                    self.optional(first);
                    self.instructions(body);
                }
                Some(Operation::Call { call, .. }) => {
                    if !self.call(call) {
                        instruction.operation = None;
                    }
                }
                Some(Operation::Function { name, arguments, .. }) => {
                    // A name that stands for nothing keeps its path, and is passed over by the checker.
                    if !name.path.is_empty() || !self.is_local(name.name.name) {
                        self.type_name(name);
                    }
                    self.arguments(arguments);
                }
                Some(Operation::Jump { .. } | Operation::Return { .. }) | None => {}
            }
        }
    }

    // ---- expressions --------------------------------------------------------------------------------------

    fn optional(&mut self, expression: &mut Option<Expression>) {
        if let Some(expression) = expression {
            self.expression(expression);
        }
    }

    fn expression(&mut self, expression: &mut Expression) {
        let span = expression.span;
        match &mut expression.kind {
            ExpressionKind::Literal(_)
            | ExpressionKind::TypedLiteral { .. }
            | ExpressionKind::Direct(_)
            | ExpressionKind::This
            | ExpressionKind::Super
            | ExpressionKind::Null => {}
            ExpressionKind::QualifiedValue { type_name, value } => {
                self.type_name(type_name);
                // A name behind `#` is a value of the type.
                if !matches!(value.kind, ExpressionKind::Name(_)) {
                    self.expression(value);
                }
            }
            ExpressionKind::Name(name) => {
                let name = *name;
                match self.function {
                    Some((plain, full)) if plain == name => expression.kind = ExpressionKind::Name(full),
                    _ => {
                        // Not a variable, so that it is an error; it shall name what was found.
                        if !self.is_local(name)
                            && !self.values.contains(&name)
                            && let Hit::Found(member) = self.look_up(name)
                        {
                            expression.kind = ExpressionKind::Name(member.full);
                        }
                    }
                }
            }
            ExpressionKind::Member { .. } => {
                if let Some(path) = self.namespace_path(expression) {
                    *expression = self.in_namespace(&path);
                } else if let ExpressionKind::Member { base, .. } = &mut expression.kind {
                    self.expression(base);
                }
            }
            ExpressionKind::Index { base, subscripts } => {
                self.expression(base);
                subscripts.iter_mut().for_each(|subscript| self.expression(subscript));
            }
            ExpressionKind::Dereference(inner) | ExpressionKind::Parenthesized(inner) => {
                self.expression(inner);
            }
            ExpressionKind::Partial { base, .. } => self.expression(base),
            ExpressionKind::Unary { operand, .. } => self.expression(operand),
            ExpressionKind::Binary { left, right, .. } => {
                self.expression(left);
                self.expression(right);
            }
            ExpressionKind::Call(call) => {
                if !self.call(call) {
                    let callee = std::mem::replace(&mut call.callee.kind, ExpressionKind::Null);
                    *expression = Expression { kind: callee, span };
                }
            }
        }
    }

    /// Tells whether something may be called; if not, the callee is a name with namespaces that stands for
    /// nothing, which was reported.
    fn call(&mut self, call: &mut Call) -> bool {
        self.arguments(&mut call.arguments);
        match call.callee.kind {
            ExpressionKind::Name(name) if !self.is_local(name) => {
                let full = self.declared(Ident { name, span: call.callee.span });
                call.callee.kind = ExpressionKind::Name(full);
                true
            }
            ExpressionKind::Name(_) => true,
            _ => {
                self.expression(&mut call.callee);
                !is_unresolved(&call.callee)
            }
        }
    }

    fn arguments(&mut self, arguments: &mut [Argument]) {
        for argument in arguments {
            match &mut argument.kind {
                ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.expression(value),
                ArgumentKind::InputInstructions { instructions, .. } => self.instructions(instructions),
                ArgumentKind::Output { target, .. } => self.expression(target),
            }
        }
    }
}

/// Whether an expression stands for a name that was not found in its namespace.
fn is_unresolved(expression: &Expression) -> bool {
    match &expression.kind {
        ExpressionKind::QualifiedValue { type_name, .. } => !type_name.path.is_empty(),
        _ => false,
    }
}
