//! Comments and pragmas of a body: what they say, and how they stand to the code around them.

use latchwork_grammar::{
    Span,
    tree::{SyntaxTree, TriviaKind},
};

/// A comment or pragma of a body.
#[derive(Clone, Debug)]
pub(super) struct Comment {
    /// All of it, delimiters included.
    pub(super) text: String,
    /// The column in which it begins.
    column: usize,
    /// Where it begins.
    pub(super) start: u32,
    /// Where it ends.
    pub(super) end: u32,
    /// Code stands before it on its line and is not only a keyword that opens what follows, so that it belongs to
    /// that code.
    pub(super) behind_code: bool,
    /// It ends its line, or has several.
    pub(super) ends_line: bool,
}

impl Comment {
    /// Its text when it begins in another column: its other lines move with the first.
    pub(super) fn text_at(&self, column: usize) -> String {
        let Some((first, rest)) = self.text.split_once('\n') else { return self.text.clone() };
        let mut text = first.to_owned();
        for line in rest.split('\n') {
            let words = line.trim_start_matches([' ', '\t']);
            let blanks = line.len() - words.len();
            text.push('\n');
            if !words.trim().is_empty() {
                text.push_str(&" ".repeat((blanks + column).saturating_sub(self.column)));
            }
            text.push_str(words);
        }
        text
    }
}

/// The comments between two places of a file, in textual order.
pub(super) fn comments(tree: &SyntaxTree, text: &str, within: Span) -> Vec<Comment> {
    let first = tree.trivia.partition_point(|trivia| trivia.span.start < within.start);
    let inside = tree.trivia.iter().skip(first).take_while(|trivia| trivia.span.end <= within.end);
    let mut found: Vec<Comment> = Vec::new();
    for trivia in inside {
        let words = text.get(trivia.span.start as usize..trivia.span.end as usize).unwrap_or("");
        let before = text.get(within.start as usize..trivia.span.start as usize).unwrap_or("");
        let line = before.rsplit(['\n', '\r']).next().unwrap_or("");
        let follows_comment = found.last().is_some_and(|last| {
            text.get(last.end as usize..trivia.span.start as usize)
                .is_some_and(|gap| gap.trim_matches([' ', '\t']).is_empty())
        });
        let behind_code = if follows_comment {
            found.last().is_some_and(|last| last.behind_code)
        } else {
            !line.trim().is_empty() && !opens(line)
        };
        found.push(Comment {
            text: words.trim_end().to_owned(),
            column: line.chars().count(),
            start: trivia.span.start,
            end: trivia.span.end,
            behind_code,
            ends_line: trivia.kind == TriviaKind::LineComment || words.contains('\n'),
        });
    }
    found
}

/// Whether a line of code only opens what follows it: `ELSE`, `REPEAT`, `1:`, `Next:`.
fn opens(line: &str) -> bool {
    let line = line.trim();
    line.ends_with(':') || ["ELSE", "REPEAT"].iter().any(|word| line.eq_ignore_ascii_case(word))
}

/// Whether an empty line stands between two places, comments left out.
pub(super) fn blank_line_between(text: &str, from: u32, to: u32) -> bool {
    let between = text.get(from as usize..to as usize).unwrap_or("");
    let mut lines = between.split('\n');
    // What stands on the line of `from` and on that of `to` is no line of its own.
    lines.next();
    let lines: Vec<&str> = lines.collect();
    lines.split_last().is_some_and(|(_, whole)| whole.iter().any(|line| line.trim().is_empty()))
}
