//! The lines of a procedure around a step, numbered, with the step pointed at.

use latchwork_compiler::render::visible;
use latchwork_grammar::{Sources, Span};

/// Most lines before the step: those of its procedure, or so many.
const LINES_BEFORE: usize = 14;
/// Most lines of the step itself.
const LINES_OF_STEP: usize = 6;
/// Lines behind it.
const LINES_BEHIND: usize = 2;

/// The lines from the head of the procedure up to the step and a little further; `None` if there is no such text.
pub(super) fn around(step: Span, sources: &Sources) -> Option<String> {
    let (_, file) = sources.iter().find(|(id, _)| *id == step.file)?;
    let lines: Vec<&str> = file.text.lines().collect();
    let ((first, _), (last, _)) =
        sources.range(Span { end: step.end.saturating_sub(1).max(step.start), ..step });
    // Lines are numbered from 1.
    let (first, last) = (first as usize, (last as usize).min(first as usize + LINES_OF_STEP - 1));
    let mut from = first;
    while from > 1 && first - from < LINES_BEFORE && !is_heading(lines.get(from - 1)) {
        from -= 1;
    }
    let mut until = last;
    while until < lines.len() && until - last < LINES_BEHIND && !is_end(lines.get(until - 1)) {
        until += 1;
    }
    let width = until.to_string().len();
    let numbered = (from..=until).filter_map(|number| {
        let sign = if (first..=last).contains(&number) { '>' } else { ' ' };
        let line = format!("{sign} {number:width$} | {}", visible(lines.get(number - 1)?.trim_end()));
        Some(line.trim_end().to_owned() + "\n")
    });
    Some(numbered.collect())
}

fn word<'t>(line: Option<&&'t str>) -> &'t str {
    line.and_then(|line| line.split_whitespace().next()).unwrap_or_default()
}

/// Whether a procedure, or what prepares all of them, begins with a line.
fn is_heading(line: Option<&&str>) -> bool {
    ["procedure", "prepare"].iter().any(|heading| word(line).eq_ignore_ascii_case(heading))
}

/// Whether it ends with one.
fn is_end(line: Option<&&str>) -> bool {
    let ends = ["end_procedure", "end_procedure;", "end_prepare", "end_prepare;"];
    ends.iter().any(|end| word(line).eq_ignore_ascii_case(end))
}
