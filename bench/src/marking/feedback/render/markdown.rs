//! A page of feedback in Markdown (CommonMark with tables), readable as it is and when it is rendered.
//!
//! What comes from others is escaped, so that nothing of it is taken for Markdown, HTML or the address of a page.

use latchwork_compiler::render::visible;

use super::{stretches, within};
use crate::{
    marking::feedback::model::{Block, Feedback, Part, Piece, Table, Text},
    render::{
        TerminalOptions,
        markup::{escape_markdown, markdown_table},
        terminal,
    },
};

/// Columns of the diagrams.
const DIAGRAM_WIDTH: usize = 78;

/// The page.
pub(in crate::marking::feedback) fn markdown(feedback: &Feedback<'_>) -> String {
    let mut head = format!("# {}\n\n", escaped(&feedback.title));
    head.push_str(&format!("Feedback for {}\n\n", line(&feedback.student)));
    for sentence in [&feedback.outcome].into_iter().chain(&feedback.summary) {
        head.push_str(&paragraph(sentence));
    }
    let last: String = feedback.last.iter().map(part).collect();
    let parts = within(&feedback.parts, head.len() + last.len(), part);
    let mut out = head + &parts + &last;
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn part(part: &Part<'_>) -> String {
    let level = if part.is_inner { 3 } else { 2 };
    let mut out = format!("{} {}\n\n", "#".repeat(level), line(&part.heading));
    part.blocks.iter().for_each(|one| block(one, level, &mut out));
    out
}

/// A block within a part whose heading has a level; behind it an empty line.
fn block(it: &Block<'_>, level: usize, out: &mut String) {
    match it {
        Block::Paragraph(words) => out.push_str(&paragraph(words)),
        Block::Heading(below, words) => {
            out.push_str(&format!("{} {}\n\n", "#".repeat((level + below).min(6)), line(words)));
        }
        Block::List(first, items) => list(*first, items, level, out),
        Block::Table(it) => table(it, out),
        Block::Lines(_, lines) => fenced(lines, out),
        Block::Quote(blocks) => {
            let inner: String = all(blocks, level);
            for line in inner.trim_end().lines() {
                out.push_str(if line.is_empty() { ">" } else { "> " });
                out.push_str(line);
                out.push('\n');
            }
            out.push('\n');
        }
        Block::Remark(word, words) => out.push_str(&format!("> **{word}:** {}\n\n", line(words))),
        Block::Pictures(label, diagrams) => {
            let options = TerminalOptions {
                width: DIAGRAM_WIDTH,
                colour: false,
                ascii: false,
                heading: false,
                footer: false,
            };
            for diagram in diagrams {
                out.push_str(&format!("{}:\n\n", escaped(label)));
                fenced(&terminal(diagram, &options), out);
            }
        }
        Block::Folded(summary, blocks) => {
            out.push_str(&paragraph(&summary.clone().words(":")));
            out.push_str(&all(blocks, level));
        }
        Block::Rule => out.push_str("---\n\n"),
    }
}

fn all(blocks: &[Block<'_>], level: usize) -> String {
    let mut out = String::new();
    blocks.iter().for_each(|inner| block(inner, level, &mut out));
    out
}

/// A paragraph of which nothing begins a line as something else.
fn paragraph(words: &Text) -> String {
    let lines: Vec<String> = text(words).split('\n').map(begun).collect();
    format!("{}\n\n", lines.join("\n"))
}

/// A line that Markdown takes for the beginning of a paragraph.
fn begun(line: &str) -> String {
    let line = line.trim_start();
    let digits = line.chars().take_while(char::is_ascii_digit).count();
    match line.get(digits..).and_then(|rest| rest.chars().next()) {
        Some('-' | '+' | '=') if digits == 0 => format!("\\{line}"),
        Some('.' | ')') if digits > 0 => {
            let (number, rest) = line.split_at(digits);
            format!("{number}\\{rest}")
        }
        _ => line.to_owned(),
    }
}

fn list(first: Option<u64>, items: &[Vec<Block<'_>>], level: usize, out: &mut String) {
    let mut number = first;
    let mut set = String::new();
    // An empty line within a point stands between all of them.
    let loose = items.iter().any(|item| item.len() > 1);
    for item in items {
        let sign = match &mut number {
            None => "- ".to_owned(),
            Some(number) => {
                let sign = format!("{number}. ");
                *number = number.saturating_add(1);
                sign
            }
        };
        let inner = all(item, level);
        for (index, line) in inner.trim_end().lines().enumerate() {
            match (index, line.is_empty()) {
                (0, _) => set.push_str(&sign),
                (_, true) => {}
                (_, false) => set.push_str(&" ".repeat(sign.len())),
            }
            set.push_str(line);
            set.push('\n');
        }
        if inner.trim().is_empty() {
            set.push_str(sign.trim_end());
            set.push('\n');
        }
        if loose {
            set.push('\n');
        }
    }
    out.push_str(set.trim_end());
    out.push_str("\n\n");
}

fn table(table: &Table, out: &mut String) {
    let width = table.head.len();
    let cells = |row: &Vec<Text>| {
        let mut cells: Vec<String> = row.iter().map(line).collect();
        cells.resize(width, String::new());
        cells
    };
    let rows: Vec<Vec<String>> = [&table.head].into_iter().chain(&table.rows).map(cells).collect();
    markdown_table(&rows, out);
    out.push('\n');
}

/// Lines as they are, between fences that are longer than any in them.
fn fenced(lines: &str, out: &mut String) {
    let mut longest = 2;
    let mut run = 0;
    for character in lines.chars() {
        run = if character == '`' { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    let fence = "`".repeat(longest + 1);
    out.push_str(&format!("{fence}text\n"));
    for line in lines.trim_end().lines() {
        out.push_str(visible(line).trim_end());
        out.push('\n');
    }
    out.push_str(&format!("{fence}\n\n"));
}

/// A text on one line.
fn line(words: &Text) -> String {
    text(words).replace("\\\n", " ")
}

/// A text with what is special to its pieces.
fn text(text: &Text) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Words(words) => escaped(words),
        Piece::Strong(words) => framed("**", words),
        Piece::Emphasis(words) => framed("*", words),
        // A sign that ends code, or a cell, cannot be escaped within it.
        Piece::Code(code) if code.trim().is_empty() || code.contains(['`', '|']) => {
            format!("“{}”", escaped(code))
        }
        Piece::Code(code) => format!("`{}`", visible(code)),
        Piece::Person(name) => framed("**", name),
        Piece::Reference(anchor, words) => format!("[{}](#{anchor})", escaped(words)),
        Piece::Verdict(tone, words) => format!("{} **{}**", tone.sign(), escaped(words)),
        Piece::Break => "\\\n".to_owned(),
    };
    text.pieces.iter().map(piece).collect()
}

/// Words between two signs; blanks at their ends stay outside, where the signs would mean nothing.
fn framed(sign: &str, words: &str) -> String {
    let inner = words.trim();
    if inner.is_empty() {
        return escaped(words);
    }
    let before = words.len() - words.trim_start().len();
    let behind = words.len() - words.trim_end().len();
    format!("{}{sign}{}{sign}{}", " ".repeat(before.min(1)), escaped(inner), " ".repeat(behind.min(1)))
}

/// Words of others without anything that Markdown takes for its own, nor for an address that becomes a link by itself.
fn escaped(words: &str) -> String {
    let words: String = stretches(words).map(visible).collect();
    escape_markdown(&words).replace("://", "\\://").replace('@', "\\@").replace("www.", "www\\.")
}
