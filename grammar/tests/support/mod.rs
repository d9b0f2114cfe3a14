//! Prints trees and diagnostics in a compact form that a person can check.

#![allow(dead_code, reason = "every test file uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a test that cannot print has failed")]

mod bodies;
mod configuration;
pub mod spans;
pub mod steps;

use bodies::address;
use latchwork_grammar::{Diagnostic, Name, Names, Parsed, Span, tree::*};
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
}
