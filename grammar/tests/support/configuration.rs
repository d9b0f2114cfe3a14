//! Configurations: resources, tasks, access paths and values of instances.

use super::{Printer, bodies::address};
use latchwork_grammar::tree::*;
use std::fmt::Write;

impl Printer<'_> {
    pub(super) fn access(&self, out: &mut String, section: &AccessSection, indent: &str) {
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

    pub(super) fn configuration(&self, out: &mut String, configuration: &Configuration) {
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
}
