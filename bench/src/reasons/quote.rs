//! Statements as they are written, in one line.

use latchwork_compiler::logic::{LogicKind, LogicStatement};
use latchwork_grammar::{Sources, Span};

/// Most characters of a quoted statement.
const QUOTE_MAX: usize = 140;

/// File and line of a place: `pump.st:14`.
pub(super) fn place(sources: &Sources, span: Span) -> String {
    let ((line, _), _) = sources.range(span);
    let name = sources.iter().find(|(file, _)| *file == span.file).map_or("", |(_, file)| &file.name);
    let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
    format!("{name}:{line}")
}

/// A statement in one line; the instructions of a list one behind the other.
pub(super) fn statement(sources: &Sources, statement: &LogicStatement) -> String {
    let Some((_, file)) = sources.iter().find(|(file, _)| *file == statement.span.file) else {
        return String::new();
    };
    let (start, end) = (statement.span.start as usize, statement.span.end as usize);
    let text = file.text.get(start..end).unwrap_or_default();
    if !is_list(statement, text) {
        return cut(&without_comments(text));
    }
    // From the operator of the first operand to the end of the last line.
    let begin = file.text.get(..start).and_then(|before| before.rfind('\n')).map_or(0, |line| line + 1);
    let rest = file.text.get(end..).unwrap_or_default();
    let close = end + rest.find('\n').unwrap_or(rest.len());
    let whole = without_lines(file.text.get(begin..close).unwrap_or(text));
    let lines = whole.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "));
    let lines: Vec<String> = lines.filter(|line| !line.is_empty()).collect();
    let is_call =
        matches!(statement.kind, LogicKind::Call(_)) && lines.len() > 1 && text.trim_end().ends_with(')');
    cut(&lines.join(if is_call { " " } else { " · " }))
}

/// Whether a statement comes from Instruction List: there its target or instance does not stand in front.
fn is_list(statement: &LogicStatement, text: &str) -> bool {
    let front = match &statement.kind {
        LogicKind::Assign { target, .. } => target,
        LogicKind::Call(call) => &call.instance,
        _ => return false,
    };
    let named = text.get(..front.text.len()).is_some_and(|begin| begin.eq_ignore_ascii_case(&front.text));
    !named || !text.contains([':', '('])
}

/// The text of an expression without the parentheses around it.
pub(super) fn bare_text(text: &str) -> String {
    let Some(inside) = text.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) else {
        return text.to_owned();
    };
    let mut depth = 0_i32;
    for character in inside.chars() {
        depth += i32::from(character == '(') - i32::from(character == ')');
        if depth < 0 {
            return text.to_owned();
        }
    }
    inside.to_owned()
}

fn without_comments(text: &str) -> String {
    without_lines(text).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Without comments, with the ends of lines.
fn without_lines(text: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    let mut quoted: Option<char> = None;
    while let Some(character) = rest.chars().next() {
        let comment = match rest.get(..2) {
            Some("(*") => Some("*)"),
            Some("/*") => Some("*/"),
            Some("//") => Some("\n"),
            _ => None,
        };
        if let (None, Some(end)) = (quoted, comment) {
            let inside = rest.get(2..).unwrap_or_default();
            rest = match inside.find(end) {
                // The end of the line stays.
                Some(at) if end == "\n" => inside.get(at..).unwrap_or_default(),
                Some(at) => inside.get(at + end.len()..).unwrap_or_default(),
                None => "",
            };
            continue;
        }
        match quoted {
            Some(mark) if mark == character => quoted = None,
            None if matches!(character, '\'' | '"') => quoted = Some(character),
            _ => {}
        }
        kept.push(character);
        rest = rest.get(character.len_utf8()..).unwrap_or_default();
    }
    kept
}

fn cut(text: &str) -> String {
    if text.chars().count() <= QUOTE_MAX {
        return text.to_owned();
    }
    let kept: String = text.chars().take(QUOTE_MAX - 1).collect();
    format!("{}…", kept.trim_end())
}
