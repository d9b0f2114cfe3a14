//! Statements as text in the form of a tree, so that a program that fails can be made smaller.

use std::fmt::Write;

/// A statement, or a network of Instruction List.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Statement {
    /// One without statements inside.
    Plain(String),
    /// One with statements inside: what stands before them, and each list of them with what stands behind it.
    Nested(String, Vec<(Vec<Statement>, String)>),
}

/// The text of a list.
pub fn text(statements: &[Statement], list: bool) -> String {
    let mut text = String::new();
    write(&mut text, statements, 1, list);
    text
}

fn write(text: &mut String, statements: &[Statement], depth: usize, list: bool) {
    let indent = "  ".repeat(depth);
    // An empty list is an empty statement.
    if statements.is_empty() && !list {
        let _ = writeln!(text, "{indent};");
    }
    for statement in statements {
        match statement {
            Statement::Plain(line) => {
                let _ = writeln!(text, "{indent}{line}");
            }
            Statement::Nested(head, parts) => {
                let _ = writeln!(text, "{indent}{head}");
                for (inner, behind) in parts {
                    write(text, inner, depth + 1, list);
                    let _ = writeln!(text, "{indent}{behind}");
                }
            }
        }
    }
}

/// All lists that are one step smaller, the greatest steps first.
pub fn smaller(statements: &[Statement]) -> Vec<Vec<Statement>> {
    let mut found = Vec::new();
    let count = statements.len();
    let mut piece = count;
    while piece > 0 {
        for start in (0..count).step_by(piece) {
            let mut rest = statements.to_vec();
            rest.drain(start..(start + piece).min(count));
            found.push(rest);
        }
        piece /= 2;
    }
    for (index, statement) in statements.iter().enumerate() {
        let Statement::Nested(head, parts) = statement else { continue };
        for (inner, _) in parts {
            let mut flat = statements.to_vec();
            flat.splice(index..=index, inner.iter().cloned());
            found.push(flat);
        }
        for (part, (inner, _)) in parts.iter().enumerate() {
            for less in smaller(inner) {
                let mut parts = parts.clone();
                parts[part].0 = less;
                let mut changed = statements.to_vec();
                changed[index] = Statement::Nested(head.clone(), parts);
                found.push(changed);
            }
        }
    }
    found
}
