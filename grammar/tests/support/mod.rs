//! Prints trees and diagnostics in a compact form that a person can check.

#![allow(dead_code, reason = "every test file uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a test that cannot print has failed")]

pub mod spans;
pub mod steps;

use latchwork_grammar::{Diagnostic, Literal, Name, Names, Parsed, Span, tree::*};
use std::fmt::Write;

/// Line and column of a byte, both from 1; columns count characters.
fn place(text: &str, byte: u32) -> (usize, usize) {
    let before = &text[..byte as usize];
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}

fn span(text: &str, span: Span) -> String {
    let (line, column) = place(text, span.start);
    let (last_line, last_column) = place(text, span.end);
    if line == last_line {
        format!("{line}:{column}-{last_column}")
    } else {
        format!("{line}:{column}-{last_line}:{last_column}")
    }
}

pub fn diagnostics(text: &str, list: &[Diagnostic]) -> String {
    let mut out = String::new();
    for problem in list {
        let severity = match problem.severity {
            latchwork_grammar::Severity::Error => "error",
            latchwork_grammar::Severity::Warning => "warning",
        };
        writeln!(
            out,
            "{} {severity} {}: {}",
            span(text, problem.primary.span),
            problem.name,
            problem.message
        )
        .unwrap();
        if !problem.primary.text.is_empty() {
            writeln!(out, "    | {}", problem.primary.text).unwrap();
        }
        for label in &problem.secondary {
            writeln!(out, "    | {} {}", span(text, label.span), label.text).unwrap();
        }
        for note in &problem.notes {
            writeln!(out, "    = {note}").unwrap();
        }
        if let Some(fix) = &problem.fix {
            writeln!(out, "    fix: {}", fix.message).unwrap();
            for edit in &fix.edits {
                writeln!(out, "        {} -> {:?}", span(text, edit.span), edit.text).unwrap();
            }
        }
    }
    out
}

pub struct Printer<'a> {
    pub names: &'a Names,
}

impl Printer<'_> {
    pub fn file(&self, text: &str, parsed: &Parsed) -> String {
        let mut out = String::new();
        self.declarations(&mut out, &parsed.tree.declarations);
        for trivia in &parsed.tree.trivia {
            writeln!(out, "{:?} {}", trivia.kind, span(text, trivia.span)).unwrap();
        }
        out
    }

    fn declarations(&self, out: &mut String, declarations: &[Declaration]) {
        for declaration in declarations {
            match declaration {
                Declaration::Types(section) => {
                    for t in &section.types {
                        let initial = t.initial.as_ref().map(|i| format!(" := {}", self.initializer(i)));
                        let spec = self.specification(&t.specification);
                        writeln!(
                            out,
                            "(type {} {spec}{})",
                            self.name(t.name.name),
                            initial.unwrap_or_default()
                        )
                        .unwrap();
                    }
                }
                Declaration::Globals(section) => self.section(out, section, ""),
                Declaration::Unit(unit) => self.unit(out, unit, ""),
                Declaration::Interface(interface) => self.interface(out, interface),
                Declaration::Configuration(configuration) => self.configuration(out, configuration),
                Declaration::Using(using) => {
                    writeln!(out, "({})", self.list("using", &using.names).trim()).unwrap();
                }
                Declaration::Namespace(namespace) => {
                    let internal = if namespace.internal.is_some() { " internal" } else { "" };
                    let (name, using) = (self.qualified(&namespace.name), self.using(&namespace.using));
                    writeln!(out, "(namespace{internal} {name}{using}").unwrap();
                    let mut content = String::new();
                    self.declarations(&mut content, &namespace.declarations);
                    for line in content.lines() {
                        writeln!(out, "  {line}").unwrap();
                    }
                    writeln!(out, ")").unwrap();
                }
            }
        }
    }

    pub fn name(&self, name: Name) -> &str {
        self.names.spelling(name)
    }

    fn qualified(&self, name: &QualifiedName) -> String {
        let mut parts: Vec<&str> = name.path.iter().map(|ident| self.name(ident.name)).collect();
        parts.push(self.name(name.name.name));
        parts.join(".")
    }

    fn list(&self, word: &str, names: &[QualifiedName]) -> String {
        let names: String = names.iter().map(|name| format!(" {}", self.qualified(name))).collect();
        if names.is_empty() { names } else { format!(" {word}{names}") }
    }

    fn using(&self, using: &[Using]) -> String {
        using.iter().map(|using| self.list("using", &using.names)).collect()
    }

    fn interface(&self, out: &mut String, interface: &Interface) {
        let damaged = if interface.damaged { " damaged" } else { "" };
        let using = self.using(&interface.using);
        let extends = self.list("extends", &interface.extends);
        writeln!(out, "(Interface {}{using}{extends}{damaged}", self.name(interface.name.name)).unwrap();
        for method in &interface.methods {
            self.unit(out, method, "  ");
        }
        writeln!(out, ")").unwrap();
    }

    fn unit(&self, out: &mut String, unit: &ProgramUnit, indent: &str) {
        let inner = format!("{indent}  ");
        let access = unit.access.map(|(access, _)| format!(" {access:?}")).unwrap_or_default();
        let modifiers: String = unit.modifiers.iter().map(|(m, _)| format!(" {m:?}")).collect();
        let using = self.using(&unit.using);
        let extends = self.list("extends", unit.extends.as_slice());
        let implements = self.list("implements", &unit.implements);
        let result =
            unit.result.as_ref().map(|r| format!(" : {}", self.specification(r))).unwrap_or_default();
        let damaged = if unit.damaged { " damaged" } else { "" };
        writeln!(
            out,
            "{indent}({:?}{access}{modifiers} {}{result}{using}{extends}{implements}{damaged}",
            unit.kind,
            self.name(unit.name.name)
        )
        .unwrap();
        for section in &unit.sections {
            self.section(out, section, &inner);
        }
        for section in &unit.access_paths {
            self.access(out, section, &inner);
        }
        for method in &unit.methods {
            self.unit(out, method, &inner);
        }
        self.body(out, &unit.body, &inner);
        writeln!(out, "{indent})").unwrap();
    }

    fn body(&self, out: &mut String, body: &Body, inner: &str) {
        match body {
            Body::Empty => writeln!(out, "{inner}empty").unwrap(),
            Body::StructuredText(statements) => self.statements(out, statements, inner),
            Body::InstructionList(instructions) => {
                writeln!(out, "{inner}il").unwrap();
                self.instructions(out, instructions, inner);
            }
            Body::SequentialFunctionChart(chart) => self.chart(out, chart, inner),
        }
    }

    fn idents(&self, idents: &[Ident]) -> String {
        let names: Vec<&str> = idents.iter().map(|ident| self.name(ident.name)).collect();
        names.join(" ")
    }

    fn chart(&self, out: &mut String, chart: &Chart, indent: &str) {
        for step in &chart.steps {
            let word = if step.initial { "initial step" } else { "step" };
            let associations: String = step
                .associations
                .iter()
                .map(|a| {
                    let qualifier = a.qualifier.map(|(q, _)| format!(" {q:?}")).unwrap_or_default();
                    let time =
                        a.time.as_ref().map(|t| format!(" {}", self.expression(t))).unwrap_or_default();
                    let indicators: String =
                        a.indicators.iter().map(|i| format!(" indicates {}", self.name(i.name))).collect();
                    format!(" ({}{qualifier}{time}{indicators})", self.name(a.action.name))
                })
                .collect();
            writeln!(out, "{indent}({word} {}{associations})", self.name(step.name.name)).unwrap();
        }
        for transition in &chart.transitions {
            let name = transition.name.map(|n| format!(" {}", self.name(n.name))).unwrap_or_default();
            let priority = transition.priority.map(|(n, _)| format!(" priority {n}")).unwrap_or_default();
            let condition = match &transition.condition {
                TransitionCondition::Expression(e) => self.expression(e),
                TransitionCondition::Instructions(list) => self.inline(list),
                TransitionCondition::Missing => "missing".into(),
            };
            let (from, to) = (self.idents(&transition.from), self.idents(&transition.to));
            writeln!(out, "{indent}(transition{name}{priority} from [{from}] to [{to}] {condition})")
                .unwrap();
        }
        for action in &chart.actions {
            writeln!(out, "{indent}(action {}", self.name(action.name.name)).unwrap();
            self.body(out, &action.body, &format!("{indent}  "));
            writeln!(out, "{indent})").unwrap();
        }
    }

    fn access(&self, out: &mut String, section: &AccessSection, indent: &str) {
        writeln!(out, "{indent}(Access").unwrap();
        for line in &section.variables {
            let writable = match line.writable {
                Some((true, _)) => " writable",
                Some((false, _)) => " read only",
                None => "",
            };
            let specification = self.specification(&line.specification);
            let path = self.path(&line.path);
            writeln!(out, "{indent}  ({} : {path} : {specification}{writable})", self.name(line.name.name))
                .unwrap();
        }
        writeln!(out, "{indent})").unwrap();
    }

    fn path(&self, path: &AccessPath) -> String {
        let names = path.path.as_ref().map(|p| self.expression(p));
        let direct = path.direct.as_ref().map(address);
        [names, direct].into_iter().flatten().collect::<Vec<_>>().join(" ")
    }

    fn configuration(&self, out: &mut String, configuration: &Configuration) {
        let damaged = if configuration.damaged { " damaged" } else { "" };
        writeln!(out, "(Configuration {}{damaged}", self.name(configuration.name.name)).unwrap();
        for section in &configuration.globals {
            self.section(out, section, "  ");
        }
        for resource in &configuration.resources {
            let heading = resource
                .heading
                .map(|(name, on)| format!(" {} on {}", self.name(name.name), self.name(on.name)));
            writeln!(out, "  (resource{}", heading.unwrap_or_default()).unwrap();
            for section in &resource.globals {
                self.section(out, section, "    ");
            }
            for task in &resource.tasks {
                let item = |word: &str, value: &Option<Expression>| {
                    value.as_ref().map(|v| format!(" {word}={}", self.expression(v))).unwrap_or_default()
                };
                writeln!(
                    out,
                    "    (task {}{}{}{})",
                    self.name(task.name.name),
                    item("single", &task.single),
                    item("interval", &task.interval),
                    item("priority", &task.priority)
                )
                .unwrap();
            }
            for program in &resource.programs {
                let qualifier = program.qualifier.map(|(q, _)| format!(" {q:?}")).unwrap_or_default();
                let task = program.task.map(|t| format!(" with {}", self.name(t.name))).unwrap_or_default();
                let elements: String = program
                    .elements
                    .iter()
                    .map(|element| match element {
                        ProgramElement::Block { block, task } => {
                            format!(" ({} with {})", self.expression(block), self.name(task.name))
                        }
                        ProgramElement::Input { name, source } => {
                            format!(" {}={}", self.name(name.name), self.expression(source))
                        }
                        ProgramElement::Output { name, sink } => {
                            format!(" {}=>{}", self.name(name.name), self.expression(sink))
                        }
                    })
                    .collect();
                let (name, of) = (self.name(program.name.name), self.qualified(&program.program));
                writeln!(out, "    (program{qualifier} {name}{task} : {of}{elements})").unwrap();
            }
            writeln!(out, "  )").unwrap();
        }
        for section in &configuration.access {
            self.access(out, section, "  ");
        }
        for section in &configuration.instances {
            writeln!(out, "  (Config").unwrap();
            for line in &section.variables {
                let location = line.location.as_ref().map(|l| format!(" at {}", address(l)));
                let initial = line.initial.as_ref().map(|i| format!(" := {}", self.initializer(i)));
                writeln!(
                    out,
                    "    ({}{} : {}{})",
                    self.path(&line.path),
                    location.unwrap_or_default(),
                    self.specification(&line.specification),
                    initial.unwrap_or_default()
                )
                .unwrap();
            }
            writeln!(out, "  )").unwrap();
        }
        writeln!(out, ")").unwrap();
    }

    fn section(&self, out: &mut String, section: &VariableSection, indent: &str) {
        let qualifiers: String = section.qualifiers.iter().map(|(q, _)| format!(" {q:?}")).collect();
        writeln!(out, "{indent}({:?}{qualifiers}", section.kind).unwrap();
        for variable in &section.variables {
            writeln!(out, "{indent}  {}", self.variable(variable)).unwrap();
        }
        writeln!(out, "{indent})").unwrap();
    }

    fn variable(&self, v: &VariableDeclaration) -> String {
        let names: Vec<&str> = v.names.iter().map(|n| self.name(n.name)).collect();
        let location = v.location.as_ref().map(|l| format!(" at {}", address(l))).unwrap_or_default();
        let relative = v.relative.as_ref().map(|r| {
            let bit = r.bit.map(|bit| format!(".{bit}")).unwrap_or_default();
            format!(" at {:?}{}{bit}", r.size, r.byte)
        });
        let relative = relative.unwrap_or_default();
        let edge = v.edge.map(|(e, _)| format!(" {e:?}")).unwrap_or_default();
        let initial = v.initial.as_ref().map(|i| format!(" := {}", self.initializer(i))).unwrap_or_default();
        format!(
            "({}{location}{relative} : {}{edge}{initial})",
            names.join(" "),
            self.specification(&v.specification)
        )
    }

    fn specification(&self, s: &TypeSpecification) -> String {
        use TypeSpecificationKind as K;
        match &s.kind {
            K::Elementary(e) => format!("{e:?}"),
            K::String { wide, length } => {
                let length = length.as_ref().map(|l| format!("[{}]", self.expression(l))).unwrap_or_default();
                format!("{}{length}", if *wide { "WString" } else { "String" })
            }
            K::Named(name) => self.qualified(name),
            K::Subrange { base, lower, upper } => {
                format!(
                    "(range {} {} {})",
                    self.specification(base),
                    self.expression(lower),
                    self.expression(upper)
                )
            }
            K::Enumeration { base, values } => {
                let base = base.as_ref().map(|b| format!(" {}", self.specification(b))).unwrap_or_default();
                let values: String = values
                    .iter()
                    .map(|v| match &v.value {
                        Some(value) => format!(" ({} {})", self.name(v.name.name), self.expression(value)),
                        None => format!(" {}", self.name(v.name.name)),
                    })
                    .collect();
                format!("(enum{base}{values})")
            }
            K::Array { dimensions, element } => {
                let dimensions: String = dimensions
                    .iter()
                    .map(|d| match d {
                        ArrayDimension::Bounds { lower, upper } => {
                            format!(" {}..{}", self.expression(lower), self.expression(upper))
                        }
                        ArrayDimension::Open(_) => " *".into(),
                    })
                    .collect();
                format!("(array{dimensions} of {})", self.specification(element))
            }
            K::Structure { overlap, members } => {
                let members: String = members.iter().map(|m| format!(" {}", self.variable(m))).collect();
                format!("(struct{}{members})", if *overlap { " overlap" } else { "" })
            }
            K::Reference(to) => format!("(ref {})", self.specification(to)),
        }
    }

    fn initializer(&self, initializer: &Initializer) -> String {
        match initializer {
            Initializer::Expression(e) => self.expression(e),
            Initializer::Array { elements, .. } => {
                let elements: Vec<String> = elements
                    .iter()
                    .map(|element| {
                        let values: Vec<String> =
                            element.values.iter().map(|v| self.initializer(v)).collect();
                        match &element.repetition {
                            Some(count) => format!("{}*({})", self.expression(count), values.join(" ")),
                            None => values.join(" "),
                        }
                    })
                    .collect();
                format!("[{}]", elements.join(" "))
            }
            Initializer::Structure { members, .. } => {
                let members: Vec<String> = members
                    .iter()
                    .map(|(n, v)| format!("{}={}", self.name(n.name), self.initializer(v)))
                    .collect();
                format!("{{{}}}", members.join(" "))
            }
        }
    }

    fn statements(&self, out: &mut String, statements: &[Statement], indent: &str) {
        for statement in statements {
            self.statement(out, statement, indent);
        }
    }

    fn statement(&self, out: &mut String, statement: &Statement, indent: &str) {
        let inner = format!("{indent}  ");
        use StatementKind as K;
        match &statement.kind {
            K::Empty => writeln!(out, "{indent}(empty)").unwrap(),
            K::Assignment { target, attempt, value, .. } => {
                let operator = if *attempt { "?=" } else { ":=" };
                writeln!(out, "{indent}({operator} {} {})", self.expression(target), self.expression(value))
                    .unwrap();
            }
            K::Call(call) => writeln!(out, "{indent}{}", self.call(call)).unwrap(),
            K::Expression(e) => writeln!(out, "{indent}(expression {})", self.expression(e)).unwrap(),
            K::Return => writeln!(out, "{indent}(return)").unwrap(),
            K::Exit => writeln!(out, "{indent}(exit)").unwrap(),
            K::Continue => writeln!(out, "{indent}(continue)").unwrap(),
            K::If { branches, otherwise } => {
                for (number, (condition, body)) in branches.iter().enumerate() {
                    let word = if number == 0 { "(if" } else { "elsif" };
                    writeln!(out, "{indent}{word} {}", self.expression(condition)).unwrap();
                    self.statements(out, body, &inner);
                }
                self.otherwise(out, otherwise.as_deref(), indent);
                writeln!(out, "{indent})").unwrap();
            }
            K::Case { selector, groups, otherwise } => {
                writeln!(out, "{indent}(case {}", self.expression(selector)).unwrap();
                for group in groups {
                    let labels: Vec<String> = group
                        .labels
                        .iter()
                        .map(|label| match &label.last {
                            Some(last) => {
                                format!("{}..{}", self.expression(&label.first), self.expression(last))
                            }
                            None => self.expression(&label.first),
                        })
                        .collect();
                    writeln!(out, "{indent}{}:", labels.join(", ")).unwrap();
                    self.statements(out, &group.statements, &inner);
                }
                self.otherwise(out, otherwise.as_deref(), indent);
                writeln!(out, "{indent})").unwrap();
            }
            K::For { variable, from, to, by, body } => {
                let by = by.as_ref().map(|b| format!(" by {}", self.expression(b))).unwrap_or_default();
                let (variable, from, to) =
                    (self.expression(variable), self.expression(from), self.expression(to));
                writeln!(out, "{indent}(for {variable} {from} to {to}{by}").unwrap();
                self.statements(out, body, &inner);
                writeln!(out, "{indent})").unwrap();
            }
            K::While { condition, body } => {
                writeln!(out, "{indent}(while {}", self.expression(condition)).unwrap();
                self.statements(out, body, &inner);
                writeln!(out, "{indent})").unwrap();
            }
            K::Repeat { body, until } => {
                writeln!(out, "{indent}(repeat").unwrap();
                self.statements(out, body, &inner);
                writeln!(out, "{indent}until {})", self.expression(until)).unwrap();
            }
        }
    }

    fn otherwise(&self, out: &mut String, otherwise: Option<&[Statement]>, indent: &str) {
        if let Some(body) = otherwise {
            writeln!(out, "{indent}else").unwrap();
            self.statements(out, body, &format!("{indent}  "));
        }
    }

    fn instructions(&self, out: &mut String, instructions: &[Instruction], indent: &str) {
        for instruction in instructions {
            let label = instruction.label.map(|l| format!("{}: ", self.name(l.name))).unwrap_or_default();
            let text = instruction.operation.as_ref().map(|o| self.operation(o)).unwrap_or_default();
            writeln!(out, "{indent}{label}{text}").unwrap();
        }
    }

    fn operation(&self, operation: &Operation) -> String {
        let list = |operands: &[Expression]| -> String {
            operands.iter().map(|operand| format!(" {}", self.expression(operand))).collect()
        };
        let not = |negated: bool| if negated { " N" } else { "" };
        match operation {
            Operation::Operator { operator, negated, operands, .. } => {
                format!("({operator:?}{}{})", not(*negated), list(operands))
            }
            Operation::Deferred { operator, negated, first, body, .. } => {
                let first = first.as_ref().map(|f| format!(" {}", self.expression(f))).unwrap_or_default();
                format!("({operator:?}{} deferred{first} {})", not(*negated), self.inline(body))
            }
            Operation::Jump { condition, label, .. } => {
                format!("(jump {condition:?} {})", self.name(label.name))
            }
            Operation::Call { condition, call, .. } => format!("(cal {condition:?} {})", self.call(call)),
            Operation::Return { condition, .. } => format!("(return {condition:?})"),
            Operation::Function { name, listed, arguments } => {
                let listed = if *listed { " listed" } else { "" };
                let arguments: String = arguments.iter().map(|a| format!(" {}", self.argument(a))).collect();
                format!("(function {}{listed}{arguments})", self.qualified(name))
            }
        }
    }

    fn inline(&self, instructions: &[Instruction]) -> String {
        let mut lines = String::new();
        self.instructions(&mut lines, instructions, "");
        format!("<{}>", lines.trim_end().replace('\n', "; "))
    }

    fn call(&self, call: &Call) -> String {
        let arguments: String = call.arguments.iter().map(|a| format!(" {}", self.argument(a))).collect();
        format!("(call {}{arguments})", self.expression(&call.callee))
    }

    fn argument(&self, argument: &Argument) -> String {
        match &argument.kind {
            ArgumentKind::Positional(value) => self.expression(value),
            ArgumentKind::Input { name, value } => {
                format!("{}={}", self.name(name.name), self.expression(value))
            }
            ArgumentKind::InputInstructions { name, instructions } => {
                format!("{}={}", self.name(name.name), self.inline(instructions))
            }
            ArgumentKind::Output { name, negated, target } => {
                let not = if *negated { "not " } else { "" };
                format!("{not}{}=>{}", self.name(name.name), self.expression(target))
            }
        }
    }

    pub fn expression(&self, expression: &Expression) -> String {
        use ExpressionKind as K;
        match &expression.kind {
            K::Literal(value) => literal(value),
            K::TypedLiteral { prefix, negative, literal: value } => {
                let sign = if *negative { "-" } else { "" };
                let prefix = match prefix {
                    TypePrefix::Elementary(e) => format!("{e:?}"),
                    TypePrefix::String { wide } => if *wide { "WString" } else { "String" }.into(),
                };
                format!("{prefix}#{sign}{}", literal(value))
            }
            K::QualifiedValue { type_name, value } => {
                format!("{}#{}", self.qualified(type_name), self.expression(value))
            }
            K::Name(name) => self.name(*name).to_owned(),
            K::Direct(a) => address(a),
            K::Member { base, member } => format!("{}.{}", self.expression(base), self.name(member.name)),
            K::Index { base, subscripts } => {
                let subscripts: Vec<String> = subscripts.iter().map(|s| self.expression(s)).collect();
                format!("{}[{}]", self.expression(base), subscripts.join(", "))
            }
            K::Dereference(base) => format!("{}^", self.expression(base)),
            K::Partial { base, size, index, .. } => format!("{}.{size:?}{index}", self.expression(base)),
            K::Unary { operator, operand, .. } => format!("({operator:?} {})", self.expression(operand)),
            K::Binary { operator, left, right, .. } => {
                format!("({operator:?} {} {})", self.expression(left), self.expression(right))
            }
            K::Parenthesized(inner) => format!("(paren {})", self.expression(inner)),
            K::Call(call) => self.call(call),
            K::This => "this".into(),
            K::Super => "super".into(),
            K::Null => "null".into(),
        }
    }
}

fn literal(value: &Literal) -> String {
    match value {
        Literal::Boolean(b) => b.to_string(),
        Literal::Integer(i) => i.to_string(),
        Literal::Real { long, short } => format!("real:{long:?}/{short:?}"),
        Literal::String(bytes) => {
            format!("string:{:?}", bytes.iter().map(|b| *b as char).collect::<String>())
        }
        Literal::WideString(units) => format!("wstring:{:?}", String::from_utf16_lossy(units)),
        Literal::Duration { nanoseconds, long } => {
            format!("{}:{nanoseconds}ns", if *long { "ltime" } else { "time" })
        }
        Literal::Date { nanoseconds, long } => {
            format!("{}:{nanoseconds}ns", if *long { "ldate" } else { "date" })
        }
        Literal::TimeOfDay { nanoseconds, long } => {
            format!("{}:{nanoseconds}ns", if *long { "ltod" } else { "tod" })
        }
        Literal::DateAndTime { nanoseconds, long } => {
            format!("{}:{nanoseconds}ns", if *long { "ldt" } else { "dt" })
        }
    }
}

fn address(a: &DirectAddress) -> String {
    let path: Vec<String> = a.path.iter().map(u32::to_string).collect();
    let path = if path.is_empty() { "*".into() } else { path.join(".") };
    format!("%{:?}.{:?}.{path}", a.area, a.size)
}
