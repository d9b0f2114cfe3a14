//! What one does to a text so that it looks like another.

use std::collections::BTreeMap;

use latchwork_grammar::{
    FileId, Literal, Names, Span, TokenKind, parse, parse_constant,
    tree::{
        Body, Declaration, Expression, ExpressionKind, ProgramUnit, Statement, StatementKind, SyntaxTree,
        TypeSpecification, TypeSpecificationKind, UnitKind, VariableSection,
    },
};
use latchwork_tests::generate::programs::Random;

/// Replaces parts of a text; none may overlap.
fn edited(text: &str, mut edits: Vec<(Span, String)>) -> String {
    edits.sort_by_key(|(span, _)| (span.start, span.end));
    let (mut new, mut at) = (String::new(), 0);
    for (span, replacement) in edits {
        new.push_str(&text[at..span.start as usize]);
        new.push_str(&replacement);
        at = span.end as usize;
    }
    new + &text[at..]
}

fn tree(text: &str) -> SyntaxTree {
    let parsed = parse(FileId(0), text, &mut Names::new());
    assert!(parsed.diagnostics.is_empty(), "{:?}\n{text}", parsed.diagnostics);
    parsed.tree
}

fn text_of(text: &str, span: Span) -> &str {
    &text[span.start as usize..span.end as usize]
}

/// Every name of the author becomes another one.
pub fn renamed(text: &str) -> String {
    let tree = tree(text);
    let mut own = Vec::new();
    tree.declarations.iter().for_each(|declaration| names(declaration, text, &mut own));
    let standard = |name: &str| {
        let operators = ["LD", "ST", "S", "R", "GT", "GE", "EQ", "NE", "LE", "LT"];
        let members = latchwork_stdlib::blocks().flat_map(|block| block.members).map(|member| member.name);
        let parameters = latchwork_stdlib::functions().flat_map(|it| it.parameters).map(|it| it.name);
        latchwork_stdlib::block(name).is_some()
            || latchwork_stdlib::function(name).is_some()
            || operators
                .into_iter()
                .chain(members)
                .chain(parameters)
                .any(|other| other.eq_ignore_ascii_case(name))
    };
    own.retain(|name| !standard(name));
    own.sort();
    own.dedup();
    assert!(!own.is_empty());
    // Longer and shorter ones than before, in another order.
    let new: BTreeMap<&String, String> = own
        .iter()
        .enumerate()
        .map(|(at, name)| {
            (name, format!("{}_{}{}", ["Zulu", "A", "Verdigris"][at % 3], 1000 - at, "x".repeat(at % 5)))
        })
        .collect();
    let mut known = Names::new();
    let tokens = latchwork_grammar::tokens(FileId(0), text, &mut known).tokens;
    let edits = tokens.iter().filter_map(|token| {
        let span = token.span(FileId(0));
        let written = text_of(text, span);
        match token.kind {
            TokenKind::Identifier => Some((span, new.get(&written.to_ascii_lowercase())?.clone())),
            TokenKind::TypeQualifier => {
                let name = written.split('#').next()?.trim();
                let rest = &written[name.len()..];
                Some((span, format!("{}{rest}", new.get(&name.to_ascii_lowercase())?)))
            }
            _ => None,
        }
    });
    edited(text, edits.collect())
}

/// The names that a declaration makes, in small letters.
fn names(declaration: &Declaration, text: &str, own: &mut Vec<String>) {
    match declaration {
        Declaration::Types(section) => {
            for ty in &section.types {
                own.push(text_of(text, ty.name.span).to_ascii_lowercase());
                in_type(&ty.specification, text, own);
            }
        }
        Declaration::Globals(section) => in_section(section, text, own),
        Declaration::Unit(unit) => names_of_unit(unit, text, own),
        Declaration::Interface(interface) => {
            own.push(text_of(text, interface.name.span).to_ascii_lowercase());
            interface.methods.iter().for_each(|method| names_of_unit(method, text, own));
        }
        _ => {}
    }
}

fn names_of_unit(unit: &ProgramUnit, text: &str, own: &mut Vec<String>) {
    own.push(text_of(text, unit.name.span).to_ascii_lowercase());
    unit.methods.iter().for_each(|method| names_of_unit(method, text, own));
    unit.sections.iter().for_each(|section| in_section(section, text, own));
    if let Body::InstructionList(instructions) = &unit.body {
        let labels = instructions.iter().filter_map(|it| it.label);
        own.extend(labels.map(|label| text_of(text, label.span).to_ascii_lowercase()));
    }
}

fn in_section(section: &VariableSection, text: &str, own: &mut Vec<String>) {
    for variable in &section.variables {
        own.extend(variable.names.iter().map(|name| text_of(text, name.span).to_ascii_lowercase()));
        in_type(&variable.specification, text, own);
    }
}

fn in_type(specification: &TypeSpecification, text: &str, own: &mut Vec<String>) {
    match &specification.kind {
        TypeSpecificationKind::Enumeration { values, .. } => {
            own.extend(values.iter().map(|value| text_of(text, value.name.span).to_ascii_lowercase()));
        }
        TypeSpecificationKind::Structure { members, .. } => {
            for member in members {
                own.extend(member.names.iter().map(|name| text_of(text, name.span).to_ascii_lowercase()));
                in_type(&member.specification, text, own);
            }
        }
        TypeSpecificationKind::Array { element, .. } => in_type(element, text, own),
        _ => {}
    }
}

/// Other letter case, other blanks and line ends, other comments.
pub fn laid_out_anew(text: &str, seed: u64) -> String {
    let mut random = Random::new(seed);
    let tokens = latchwork_grammar::tokens(FileId(0), text, &mut Names::new()).tokens;
    let lists = tree(text).declarations.iter().any(|declaration| match declaration {
        Declaration::Unit(unit) => matches!(unit.body, Body::InstructionList(_)),
        _ => false,
    });
    let mut new = String::from("(* all by myself *) ");
    let mut end = 0;
    for token in tokens.iter().filter(|token| token.kind != TokenKind::EndOfFile) {
        let gap = token.start > end;
        new.push_str(match (token.first_on_line, gap, random.below(6)) {
            // In Instruction List a line end says something.
            (true, _, 0) => " // well thought out\r\n\r\n",
            (true, _, _) => "\r\n",
            (false, true, 0) => " (* x := y; *) ",
            (false, true, 1) if !lists => "\n\t",
            (false, true, 2) => "   ",
            (false, true, _) => " ",
            (false, false, _) => "",
        });
        let written = text_of(text, token.span(FileId(0)));
        if written.contains(['\'', '"']) {
            new.push_str(written);
        } else {
            let turned = written.chars().map(|it| match it.is_ascii_lowercase() {
                true => it.to_ascii_uppercase(),
                false => it.to_ascii_lowercase(),
            });
            new.extend(turned);
        }
        end = token.end;
    }
    new + "\n"
}

/// Declarations of variables in the opposite order, where only names tell them apart.
pub fn declared_anew(text: &str) -> String {
    let mut edits = Vec::new();
    let mut turn = |section: &VariableSection| {
        let spans: Vec<Span> = section.variables.iter().map(|variable| variable.span).collect();
        for (span, other) in spans.iter().zip(spans.iter().rev()) {
            edits.push((*span, text_of(text, *other).to_owned()));
        }
    };
    for declaration in &tree(text).declarations {
        match declaration {
            Declaration::Globals(section) => turn(section),
            Declaration::Unit(unit) if unit.kind != UnitKind::Function => {
                unit.sections.iter().for_each(&mut turn)
            }
            _ => {}
        }
    }
    edited(text, edits)
}

/// Units, types and globals in the opposite order.
pub fn units_anew(text: &str) -> String {
    let tree = tree(text);
    let parts = tree.declarations.iter().rev().map(|declaration| match declaration {
        Declaration::Types(section) => section.span,
        Declaration::Globals(section) => section.span,
        Declaration::Unit(unit) => unit.span,
        Declaration::Interface(interface) => interface.span,
        Declaration::Configuration(configuration) => configuration.span,
        other => panic!("{other:?}"),
    });
    parts.map(|span| format!("{}\n\n", text_of(text, span))).collect()
}

/// Other spellings of the same literals.
pub fn literals_anew(text: &str) -> String {
    let tokens = latchwork_grammar::tokens(FileId(0), text, &mut Names::new()).tokens;
    let edits = tokens.iter().filter_map(|token| {
        let span = token.span(FileId(0));
        let value = match token.kind {
            TokenKind::IntegerLiteral | TokenKind::TimeLiteral => {
                parse_constant(text_of(text, span), &mut Names::new()).ok()?
            }
            _ => return None,
        };
        let ExpressionKind::Literal(literal) = value.kind else { return None };
        let new = match literal {
            Literal::Integer(value) => format!("16#{value:x}"),
            Literal::Duration { nanoseconds, long: false } if nanoseconds % 1_000_000 == 0 => {
                format!("time#{}ms", nanoseconds / 1_000_000)
            }
            _ => return None,
        };
        Some((span, new))
    });
    edited(text, edits.collect())
}

/// Parentheses around every operand and every value that is assigned in Structured Text.
pub fn in_parentheses(text: &str) -> String {
    let mut spans = Vec::new();
    for declaration in &tree(text).declarations {
        if let Declaration::Unit(unit) = declaration {
            in_unit(unit, &mut spans);
        }
    }
    let mut opened: Vec<(u32, &str)> = Vec::new();
    for span in spans {
        opened.push((span.start, "("));
        opened.push((span.end, ")"));
    }
    // At one place what is closed comes before what is opened; an operand is never empty.
    opened.sort_by_key(|(at, sign)| (*at, *sign == "("));
    let edits = opened.into_iter().map(|(at, sign)| (Span::new(FileId(0), at, at), sign.to_owned()));
    let (mut new, mut at) = (String::new(), 0);
    for (span, sign) in edits {
        new.push_str(&text[at..span.start as usize]);
        new.push_str(&sign);
        at = span.start as usize;
    }
    new + &text[at..]
}

fn in_unit(unit: &ProgramUnit, spans: &mut Vec<Span>) {
    if let Body::StructuredText(statements) = &unit.body {
        statements.iter().for_each(|statement| in_statement(statement, spans));
    }
}

fn in_statement(statement: &Statement, spans: &mut Vec<Span>) {
    let mut all = |statements: &[Statement]| statements.iter().for_each(|it| in_statement(it, spans));
    match &statement.kind {
        StatementKind::Assignment { value, attempt: false, .. } => operand(value, spans),
        StatementKind::If { branches, otherwise } => {
            branches.iter().for_each(|(_, body)| all(body));
            all(otherwise.as_deref().unwrap_or(&[]));
            branches.iter().for_each(|(condition, _)| operand(condition, spans));
        }
        StatementKind::Case { groups, otherwise, .. } => {
            groups.iter().for_each(|group| all(&group.statements));
            all(otherwise.as_deref().unwrap_or(&[]));
        }
        StatementKind::For { body, .. }
        | StatementKind::While { body, .. }
        | StatementKind::Repeat { body, .. } => {
            all(body);
        }
        _ => {}
    }
}

fn operand(value: &Expression, spans: &mut Vec<Span>) {
    spans.push(value.span);
    match &value.kind {
        ExpressionKind::Binary { left, right, .. } => {
            operand(left, spans);
            operand(right, spans);
        }
        ExpressionKind::Parenthesized(inner) => operand(inner, spans),
        _ => {}
    }
}
