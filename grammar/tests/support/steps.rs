//! Prints trees of procedures.

use super::Printer;
use latchwork_grammar::{Span, steps::tree::*, tree::Ident};
use std::fmt::Write;

fn time(duration: &Duration) -> String {
    format!("{}ns", duration.nanoseconds)
}

fn texts(list: &[Text]) -> String {
    list.iter().map(|text| format!(" {:?}", text.value)).collect()
}

fn hint(hint: &Option<Text>) -> String {
    hint.as_ref().map(|hint| format!(" hint {:?}", hint.value)).unwrap_or_default()
}

impl Printer<'_> {
    pub fn steps_file(&self, file: &StepsFile) -> String {
        let mut out = String::new();
        for item in &file.items {
            match &item.kind {
                ItemKind::Include(name) => writeln!(out, "(include {:?})", name.value).unwrap(),
                ItemKind::Program(names) => writeln!(out, "(program{})", texts(names)).unwrap(),
                ItemKind::Station(name) => writeln!(out, "(station {:?})", name.value).unwrap(),
                ItemKind::Scan(duration) => writeln!(out, "(scan {})", time(duration)).unwrap(),
                ItemKind::Record(list) => writeln!(out, "(record{})", self.accesses(list)).unwrap(),
                ItemKind::Prepare(steps) => {
                    writeln!(out, "(prepare").unwrap();
                    self.steps(&mut out, steps, "  ");
                    writeln!(out, ")").unwrap();
                }
                ItemKind::Procedure(procedure) => self.procedure(&mut out, procedure),
            }
        }
        for trivia in &file.trivia {
            writeln!(out, "{:?} {}..{}", trivia.kind, trivia.span.start, trivia.span.end).unwrap();
        }
        out
    }

    fn procedure(&self, out: &mut String, procedure: &Procedure) {
        let points = procedure.points.map(|points| format!(" points {points:?}")).unwrap_or_default();
        writeln!(out, "(procedure {:?}{points}{}", procedure.title.value, hint(&procedure.hint)).unwrap();
        for comparison in &procedure.comparisons {
            let file = comparison.file.as_ref().map(|file| format!(" with {:?}", file.value));
            let shift = comparison.shift.map(|shift| format!(" shift {}", time(&shift)));
            let tolerance =
                comparison.tolerance.as_ref().map(|t| format!(" tolerance {}", self.expression(t)));
            let clauses: String = [file, shift, tolerance].into_iter().flatten().collect();
            writeln!(out, "  (compare{}{clauses})", self.accesses(&comparison.names)).unwrap();
        }
        self.steps(out, &procedure.steps, "  ");
        writeln!(out, ")").unwrap();
    }

    fn accesses(&self, list: &[latchwork_grammar::tree::Expression]) -> String {
        list.iter().map(|expression| format!(" {}", self.expression(expression))).collect()
    }

    fn devices(&self, list: &[Ident]) -> String {
        list.iter().map(|ident| format!(" {}", self.name(ident.name))).collect()
    }

    fn steps(&self, out: &mut String, steps: &[Step], indent: &str) {
        let deeper = format!("{indent}  ");
        for step in steps {
            let line = match &step.kind {
                StepKind::Press { devices, hold } => {
                    let hold = hold.map(|hold| format!(" for {}", time(&hold))).unwrap_or_default();
                    format!("(press{}{hold})", self.devices(devices))
                }
                StepKind::Release(devices) => format!("(release{})", self.devices(devices)),
                StepKind::Turn { device, to } => {
                    format!("(turn {} to {:?})", self.name(device.name), to.word)
                }
                StepKind::Set { target, value } => {
                    format!("(set {} to {})", self.expression(target), self.expression(value))
                }
                StepKind::Ramp { target, value, over } => {
                    let (target, value) = (self.expression(target), self.expression(value));
                    format!("(ramp {target} to {value} over {})", time(over))
                }
                StepKind::Wait(duration) => format!("(wait {})", time(duration)),
                StepKind::At(duration) => format!("(at {})", time(duration)),
                StepKind::Repeat { times, steps, .. } => {
                    writeln!(out, "{indent}(repeat {times}").unwrap();
                    self.steps(out, steps, &deeper);
                    ")".into()
                }
                StepKind::Place { fault, on, at } => {
                    let at = at.as_ref().map(|at| format!(" at {:?}", at.word)).unwrap_or_default();
                    format!("(place {fault:?} on {}{at})", self.name(on.name))
                }
                StepKind::Clear(names) => format!("(clear{})", self.devices(names)),
                StepKind::Restart { warm } => format!("(restart {})", if *warm { "warm" } else { "cold" }),
                StepKind::Expect(expect) => self.expect(out, expect, indent),
                StepKind::Always(rule) => {
                    format!("(always {}{})", self.expression(&rule.condition), hint(&rule.hint))
                }
                StepKind::Never(rule) => {
                    format!("(never {}{})", self.expression(&rule.condition), hint(&rule.hint))
                }
                StepKind::Whenever { trigger, response, when, hint: text } => {
                    let (trigger, response) = (self.expression(trigger), self.expression(response));
                    let when = match when {
                        ResponseTime::AtOnce => String::new(),
                        ResponseTime::Within(duration) => format!(" within {}", time(duration)),
                        ResponseTime::For(duration) => format!(" for {}", time(duration)),
                    };
                    format!("(whenever {trigger} then {response}{when}{})", hint(text))
                }
            };
            writeln!(out, "{indent}{line}").unwrap();
        }
    }

    fn expect(&self, out: &mut String, expect: &Expect, indent: &str) -> String {
        let what = match &expect.what {
            Expected::Condition(condition) => self.expression(condition),
            Expected::Near { value, target, tolerance } => format!(
                "(near {} {} {})",
                self.expression(value),
                self.expression(target),
                self.expression(tolerance)
            ),
            Expected::Edges { bound, count, edge, of } => {
                format!("({bound:?} {count} {edge:?} {})", self.expression(of))
            }
        };
        let when = match &expect.when {
            ExpectTime::Now => String::new(),
            ExpectTime::Within(duration) => format!(" within {}", time(duration)),
            ExpectTime::For(duration) => format!(" for {}", time(duration)),
            ExpectTime::WithinFor(within, duration) => {
                format!(" within {} for {}", time(within), time(duration))
            }
            ExpectTime::Between(from, to) => format!(" between {} and {}", time(from), time(to)),
            ExpectTime::While(steps) => {
                writeln!(out, "{indent}(expect {what}{} while", hint(&expect.hint)).unwrap();
                self.steps(out, steps, &format!("{indent}  "));
                return ")".into();
            }
        };
        format!("(expect {what}{when}{})", hint(&expect.hint))
    }
}

/// Every place in a tree of procedures but those inside of expressions.
pub fn spans(file: &StepsFile) -> Vec<Span> {
    let mut spans: Vec<Span> = file.trivia.iter().map(|trivia| trivia.span).collect();
    for item in &file.items {
        spans.push(item.span);
        match &item.kind {
            ItemKind::Include(text) | ItemKind::Station(text) => spans.push(text.span),
            ItemKind::Program(texts) => spans.extend(texts.iter().map(|text| text.span)),
            ItemKind::Scan(duration) => spans.push(duration.span),
            ItemKind::Record(list) => spans.extend(list.iter().map(|expression| expression.span)),
            ItemKind::Prepare(steps) => of_steps(steps, &mut spans),
            ItemKind::Procedure(procedure) => {
                spans.push(procedure.title.span);
                spans.push(procedure.heading);
                spans.extend(procedure.hint.iter().map(|hint| hint.span));
                for comparison in &procedure.comparisons {
                    spans.push(comparison.span);
                    spans.extend(comparison.names.iter().map(|name| name.span));
                }
                of_steps(&procedure.steps, &mut spans);
            }
        }
    }
    spans
}

fn of_steps(steps: &[Step], spans: &mut Vec<Span>) {
    for step in steps {
        spans.push(step.span);
        match &step.kind {
            StepKind::Press { devices, hold } => {
                spans.extend(devices.iter().map(|device| device.span));
                spans.extend(hold.iter().map(|hold| hold.span));
            }
            StepKind::Release(names) | StepKind::Clear(names) => {
                spans.extend(names.iter().map(|name| name.span));
            }
            StepKind::Turn { device, to } => spans.extend([device.span, to.span]),
            StepKind::Set { target, value } => spans.extend([target.span, value.span]),
            StepKind::Ramp { target, value, over } => spans.extend([target.span, value.span, over.span]),
            StepKind::Wait(duration) | StepKind::At(duration) => spans.push(duration.span),
            StepKind::Repeat { times_span, steps, .. } => {
                spans.push(*times_span);
                of_steps(steps, spans);
            }
            StepKind::Place { on, at, .. } => {
                spans.push(on.span);
                spans.extend(at.iter().map(|at| at.span));
            }
            StepKind::Restart { .. } => {}
            StepKind::Expect(expect) => {
                match &expect.what {
                    Expected::Condition(of) | Expected::Edges { of, .. } => spans.push(of.span),
                    Expected::Near { value, target, tolerance } => {
                        spans.extend([value.span, target.span, tolerance.span]);
                    }
                }
                if let ExpectTime::While(steps) = &expect.when {
                    of_steps(steps, spans);
                }
                spans.extend(expect.hint.iter().map(|hint| hint.span));
            }
            StepKind::Always(rule) | StepKind::Never(rule) => spans.push(rule.condition.span),
            StepKind::Whenever { trigger, response, .. } => spans.extend([trigger.span, response.span]),
        }
    }
}
