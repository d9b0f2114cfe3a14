//! Bodies: statements, instructions and the expressions in them.

use super::Printer;
use latchwork_grammar::{Literal, tree::*};
use std::fmt::Write;

impl Printer<'_> {
    pub(super) fn statements(&self, out: &mut String, statements: &[Statement], indent: &str) {
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

    pub(super) fn instructions(&self, out: &mut String, instructions: &[Instruction], indent: &str) {
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

    pub(super) fn inline(&self, instructions: &[Instruction]) -> String {
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

pub(super) fn address(a: &DirectAddress) -> String {
    let path: Vec<String> = a.path.iter().map(u32::to_string).collect();
    let path = if path.is_empty() { "*".into() } else { path.join(".") };
    format!("%{:?}.{:?}.{path}", a.area, a.size)
}
