//! Statements that are no rungs, as text with the values of their variables in place.

use latchwork_compiler::logic::{LogicKind, LogicStatement, Part, PartKind, PartValue};
use latchwork_grammar::{Sources, Span};

use super::{
    model::{Operand, TextBody},
    network::Known,
};

/// One or more statements as they are written, and the variable that the last one writes.
pub(super) fn whole<'l>(
    statements: &[&'l LogicStatement],
    known: &Known<'_>,
) -> (TextBody, Option<&'l Part>) {
    let mut values = Vec::new();
    let mut source: Option<Span> = None;
    let mut written = None;
    for statement in statements {
        source = Some(match source {
            Some(all) if all.file == statement.span.file => all.to(statement.span),
            Some(all) => all,
            None => statement.span,
        });
        if let LogicKind::Assign { target, value } = &statement.kind {
            collect(value, known, &mut values);
            if !target.is_hidden() {
                values.push((target.span, Operand { part: value.number, ..known.operand("", target) }));
                written = Some(target);
            }
        } else {
            statement.kind.parts().into_iter().for_each(|part| collect(part, known, &mut values));
        }
    }
    (body(source, values), written)
}

/// The heads of the lists of statements inside of a statement, in their order; none where nothing is to be said.
pub(super) fn piece(
    statement: &LogicStatement,
    sources: &Sources,
    known: &Known<'_>,
) -> Vec<Option<TextBody>> {
    let text = sources.text(statement.span);
    let begins = |word: &str| text.get(..word.len()).is_some_and(|begin| begin.eq_ignore_ascii_case(word));
    let condition = |before: &str, part: &Part, behind: &str| {
        let mut values = Vec::new();
        collect(part, known, &mut values);
        let head = body(Some(part.reach()), values);
        TextBody { before: format!("{before} "), behind: behind.to_owned(), ..head }
    };
    let says = |text: String| Some(TextBody { before: text, ..TextBody::default() });
    match &statement.kind {
        LogicKind::If { branches, otherwise } => {
            // Instruction List has conditions of single instructions.
            let head = |(index, (part, _)): (usize, &(Part, Vec<LogicStatement>))| match begins("IF") {
                true => Some(condition(if index == 0 { "IF" } else { "ELSIF" }, part, " THEN")),
                false => says(format!("only if {}:", known.text(part))),
            };
            let mut heads: Vec<_> = branches.iter().enumerate().map(head).collect();
            heads.push(says("ELSE".to_owned()).filter(|_| !otherwise.is_empty()));
            heads
        }
        LogicKind::Case { selector, groups, otherwise } => {
            let mut heads: Vec<_> = groups
                .iter()
                .enumerate()
                .map(|(index, (labels, _))| {
                    let labels = format!("{}:", ranges(labels, &selector.value));
                    if index == 0 {
                        Some(condition("CASE", selector, &format!(" OF\n{labels}")))
                    } else {
                        says(labels)
                    }
                })
                .collect();
            heads.push(says("ELSE".to_owned()).filter(|_| !otherwise.is_empty()));
            heads
        }
        LogicKind::For { variable, bounds, .. } => {
            let mut values = Vec::new();
            collect(variable, known, &mut values);
            bounds.iter().for_each(|bound| collect(bound, known, &mut values));
            let end = bounds.iter().map(Part::reach).chain([variable.reach()]);
            let end = end.filter(|span| span.file == statement.span.file).map(|span| span.end).max();
            let end = end.unwrap_or(statement.span.end).min(statement.span.end);
            let head = body(Some(Span { end, ..statement.span }), values);
            vec![Some(TextBody { behind: " DO".to_owned(), ..head })]
        }
        LogicKind::While { condition: part, .. } => vec![Some(condition("WHILE", part, " DO"))],
        LogicKind::Repeat { .. } => vec![says("REPEAT".to_owned())],
        _ => Vec::new(),
    }
}

/// What closes a statement that others stand inside of.
pub(super) fn end(statement: &LogicStatement, sources: &Sources, known: &Known<'_>) -> Option<TextBody> {
    let text = sources.text(statement.span);
    let says = |text: &str| Some(TextBody { before: text.to_owned(), ..TextBody::default() });
    match &statement.kind {
        LogicKind::If { .. } if !text.get(..2).is_some_and(|begin| begin.eq_ignore_ascii_case("IF")) => None,
        LogicKind::If { .. } => says("END_IF"),
        LogicKind::Case { .. } => says("END_CASE"),
        LogicKind::For { .. } => says("END_FOR"),
        LogicKind::While { .. } => says("END_WHILE"),
        LogicKind::Repeat { until, .. } => {
            let mut values = Vec::new();
            collect(until, known, &mut values);
            let head = body(Some(until.reach()), values);
            Some(TextBody { before: "UNTIL ".to_owned(), behind: " END_REPEAT".to_owned(), ..head })
        }
        _ => None,
    }
}

fn body(source: Option<Span>, mut values: Vec<(Span, Operand)>) -> TextBody {
    let source_span = source.unwrap_or_default();
    values.retain(|(span, _)| {
        span.file == source_span.file && span.start >= source_span.start && span.end <= source_span.end
    });
    values.sort_by_key(|(span, _)| (span.end, span.start));
    values.dedup_by_key(|(span, _)| span.end);
    TextBody { source, values, ..TextBody::default() }
}

/// The variables of an expression with the places where their values are shown.
fn collect(part: &Part, known: &Known<'_>, values: &mut Vec<(Span, Operand)>) {
    match &part.kind {
        PartKind::Variable { hidden: false, .. } => values.push((part.span, known.operand("", part))),
        PartKind::Function { .. } => values.push((part.span, known.operand("", part))),
        _ => {}
    }
    part.operands().into_iter().for_each(|operand| collect(operand, known, values));
}

fn ranges(labels: &[(i128, i128)], selector: &PartValue) -> String {
    let name = |number: i128| match selector {
        PartValue::Enumeration(names) => {
            let known = names.iter().find(|(_, value)| i128::from(*value) == number);
            known.map_or_else(|| number.to_string(), |(name, _)| name.clone())
        }
        _ => number.to_string(),
    };
    let texts = labels.iter().map(|(first, last)| {
        if first == last { name(*first) } else { format!("{}..{}", name(*first), name(*last)) }
    });
    texts.collect::<Vec<_>>().join(", ")
}
