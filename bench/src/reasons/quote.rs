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
    // Whole lines, from where the current result begins.
    let begin = file.text.get(..start).and_then(|before| before.rfind('\n')).map_or(0, |line| line + 1);
    let rest = file.text.get(end..).unwrap_or_default();
    let close = end + rest.find('\n').unwrap_or(rest.len());
    let before = in_lines(file.text.get(..begin).unwrap_or_default());
    let mut lines = in_lines(file.text.get(begin..close).unwrap_or(text));
    let missing = before.len() - row_begin(&before, &lines);
    lines.splice(..0, before.into_iter().rev().take(missing).rev());
    let is_call =
        matches!(statement.kind, LogicKind::Call(_)) && lines.len() > 1 && text.trim_end().ends_with(')');
    if is_call {
        return cut(&lines.join(" "));
    }
    cut_row(&lines)
}

/// Lines without comments that have something on them.
fn in_lines(text: &str) -> Vec<String> {
    let text = without_lines(text);
    let lines = text.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "));
    lines.filter(|line| !line.is_empty()).collect()
}

/// How many of the lines in front do not belong to the row of some instructions: it begins where the current result is
/// loaded outside of all parentheses.
fn row_begin(before: &[String], lines: &[String]) -> usize {
    let mut depth = 0_i64;
    for (line, index) in before.iter().chain(lines).zip(0..).collect::<Vec<_>>().into_iter().rev() {
        let count = |wanted: char| line.chars().filter(|character| *character == wanted).count();
        depth += count(')') as i64 - count('(') as i64;
        let labelled = line
            .split_once(':')
            .filter(|(label, rest)| !rest.starts_with('=') && !label.contains(['(', ' ', '\'']));
        let instruction = labelled.map_or(line.as_str(), |(_, rest)| rest.trim_start());
        let operator = instruction.split([' ', '(']).next().unwrap_or_default().to_ascii_uppercase();
        // A jump to a label may bring another current result than the line in front of it.
        let begins = labelled.is_some() || matches!(operator.as_str(), "LD" | "LDN");
        if depth == 0 && index <= before.len() && begins {
            return index;
        }
        // Calls have no current result in front of them; and here the instructions begin.
        let ends = matches!(operator.as_str(), "CAL" | "JMP" | "RET") || operator.starts_with("END_");
        if ends && depth == 0 {
            break;
        }
    }
    before.len()
}

/// A row of instructions; of a long one the middle is left out, so that one sees what is loaded and where it goes.
fn cut_row(lines: &[String]) -> String {
    let whole = lines.join(" · ");
    let (Some(first), true) = (lines.first(), whole.chars().count() > QUOTE_MAX) else { return whole };
    let mut kept = Vec::new();
    let mut left = QUOTE_MAX.saturating_sub(first.chars().count() + " · …".chars().count());
    for line in lines.iter().skip(1).rev() {
        let takes = line.chars().count() + " · ".chars().count();
        let Some(less) = left.checked_sub(takes) else { break };
        left = less;
        kept.push(line.as_str());
    }
    kept.extend(["…", first.as_str()]);
    kept.reverse();
    cut(&kept.join(" · "))
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

/// Without comments and pragmas, with the ends of lines.
fn without_lines(text: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    let mut quoted: Option<char> = None;
    while let Some(character) = rest.chars().next() {
        let comment = match rest.get(..2) {
            Some("(*") => Some("*)"),
            Some("/*") => Some("*/"),
            Some("//") => Some("\n"),
            // A pragma says nothing of what is computed.
            Some(begin) if begin.starts_with('{') => Some("}"),
            _ => None,
        };
        if let (None, Some(end)) = (quoted, comment) {
            let inside = rest.get(if end == "}" { 1 } else { 2 }..).unwrap_or_default();
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
