//! A page of feedback in HTML: one file that needs nothing else, for the screen, from 320 px on, and for A4.
//!
//! Nothing is fetched and nothing runs, see [`crate::render::page`].

use std::fmt::Write as _;

use super::{stretches, within};
use crate::{
    marking::feedback::model::{Block, Feedback, Part, Piece, Table, Text, Tone},
    render::{
        page::{Page, escaped},
        page_style, svg_in_page,
    },
};

/// What is special to this page.
const STYLE: &str = include_str!("feedback.css");

/// The page.
pub(in crate::marking::feedback) fn html(feedback: &Feedback<'_>) -> String {
    let head = head(feedback);
    let mut foot = String::new();
    feedback.last.iter().for_each(|last| part(last, &mut foot));
    foot.push_str("</main>\n");
    let set = |one: &Part<'_>| {
        let mut text = String::new();
        part(one, &mut text);
        text
    };
    let frame = document(feedback, String::new()).len();
    let parts = within(&feedback.parts, frame + head.len() + foot.len(), set);
    document(feedback, head + &parts + &foot)
}

fn document(feedback: &Feedback<'_>, body: String) -> String {
    let diagrams = page_style();
    let title = format!("Feedback: {}", feedback.title);
    Page { title, styles: vec![&diagrams, STYLE], script: "", body }.document()
}

fn head(feedback: &Feedback<'_>) -> String {
    let mut out = format!(
        "<header>\n<p>Feedback for {}</p>\n<h1>{}</h1>\n</header>\n<nav aria-label=\"Parts of this page\">\n<ul>\n",
        text(&feedback.student),
        escaped(&feedback.title)
    );
    for part in feedback.parts.iter().chain(&feedback.last).filter(|part| !part.is_inner) {
        let _ = writeln!(out, "<li><a href=\"#{}\">{}</a></li>", part.anchor, text(&part.heading));
    }
    let _ = write!(
        out,
        "</ul>\n</nav>\n<main>\n<section class=\"outcome\" aria-label=\"How it went\">\n<p>{}</p>\n",
        text(&feedback.outcome)
    );
    for sentence in &feedback.summary {
        let _ = writeln!(out, "<p>{}</p>", text(sentence));
    }
    out.push_str("</section>\n");
    out
}

fn part(part: &Part<'_>, out: &mut String) {
    let level = if part.is_inner { 3 } else { 2 };
    let anchor = &part.anchor;
    // Two procedures may have one title, and landmarks must not have one name.
    let named = if part.is_inner { String::new() } else { format!(" aria-labelledby=\"{anchor}\"") };
    let _ = writeln!(out, "<section{named}>\n<h{level} id=\"{anchor}\">{}</h{level}>", text(&part.heading));
    part.blocks.iter().for_each(|one| block(one, level, out));
    out.push_str("</section>\n");
}

/// A block within a part whose heading has a level.
fn block(it: &Block<'_>, level: usize, out: &mut String) {
    match it {
        Block::Paragraph(words) => {
            let _ = writeln!(out, "<p>{}</p>", text(words));
        }
        Block::Heading(below, words) => {
            let level = (level + below).min(6);
            let _ = writeln!(out, "<h{level}>{}</h{level}>", text(words));
        }
        Block::List(first, items) => list(*first, items, level, out),
        Block::Table(it) => table(it, out),
        Block::Lines(label, lines) => {
            let label = if label.trim().is_empty() { "Lines" } else { label };
            let lines: Vec<String> = lines.trim_end().lines().map(escaped).collect();
            let _ = writeln!(
                out,
                "<pre class=\"message\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">{}</pre>",
                escaped(label),
                lines.join("\n")
            );
        }
        Block::Quote(blocks) => {
            out.push_str("<blockquote>\n");
            blocks.iter().for_each(|inner| block(inner, level, out));
            out.push_str("</blockquote>\n");
        }
        Block::Remark(word, words) => {
            let _ = writeln!(out, "<p class=\"remark\"><strong>{word}:</strong> {}</p>", text(words));
        }
        Block::Pictures(label, diagrams) => {
            for diagram in diagrams {
                let _ = writeln!(
                    out,
                    "<figure>\n<figcaption>{label}</figcaption>\n<div class=\"wide\" tabindex=\"0\" role=\"group\" \
                     aria-label=\"{label}: {}\">\n{}</div>\n</figure>",
                    escaped(&diagram.title),
                    svg_in_page(diagram),
                    label = escaped(label),
                );
            }
        }
        Block::Folded(summary, blocks) => {
            let _ = writeln!(out, "<details>\n<summary>{}</summary>", text(summary));
            blocks.iter().for_each(|inner| block(inner, level, out));
            out.push_str("</details>\n");
        }
        Block::Rule => out.push_str("<hr/>\n"),
    }
}

fn list(first: Option<u64>, items: &[Vec<Block<'_>>], level: usize, out: &mut String) {
    let (open, close) = match first {
        Some(1) => ("<ol>".to_owned(), "</ol>"),
        Some(first) => (format!("<ol start=\"{first}\">"), "</ol>"),
        None => ("<ul>".to_owned(), "</ul>"),
    };
    let _ = writeln!(out, "{open}");
    for item in items {
        out.push_str("<li>");
        match item.as_slice() {
            [Block::Paragraph(words)] => out.push_str(&text(words)),
            blocks => {
                out.push('\n');
                blocks.iter().for_each(|inner| block(inner, level, out));
            }
        }
        out.push_str("</li>\n");
    }
    let _ = writeln!(out, "{close}");
}

fn table(table: &Table, out: &mut String) {
    let label = if table.label.is_empty() { "Table" } else { &table.label };
    let _ = writeln!(
        out,
        "<div class=\"wide\" role=\"group\" aria-label=\"{}\" tabindex=\"0\">\n<table>\n<thead><tr>",
        escaped(label)
    );
    for cell in &table.head {
        // A heading without words is none.
        let _ = match cell.is_empty() {
            true => writeln!(out, "<td></td>"),
            false => writeln!(out, "<th scope=\"col\">{}</th>", text(cell)),
        };
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &table.rows {
        out.push_str("<tr>");
        for (index, cell) in row.iter().enumerate() {
            let _ = match index {
                0 if !cell.is_empty() => write!(out, "<th scope=\"row\">{}</th>", text(cell)),
                _ => write!(out, "<td>{}</td>", text(cell)),
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}

/// A text with what is special to its pieces.
fn text(text: &Text) -> String {
    let plain = |text: &str| stretches(text).map(escaped).collect::<String>();
    let piece = |piece: &Piece| match piece {
        Piece::Words(words) => plain(words),
        Piece::Strong(words) => format!("<strong>{}</strong>", plain(words)),
        Piece::Emphasis(words) => format!("<em>{}</em>", plain(words)),
        Piece::Code(code) => format!("<code>{}</code>", plain(code)),
        Piece::Person(name) => format!("<bdi>{}</bdi>", plain(name)),
        Piece::Reference(anchor, words) => format!("<a href=\"#{anchor}\">{}</a>", plain(words)),
        Piece::Verdict(tone, words) => format!(
            "<span class=\"verdict {}\"><span aria-hidden=\"true\">{}</span> {}</span>",
            class(*tone),
            tone.sign(),
            plain(words)
        ),
        Piece::Break => "<br/>".to_owned(),
    };
    text.pieces.iter().map(piece).collect()
}

/// The class of the colour of a tone.
const fn class(tone: Tone) -> &'static str {
    match tone {
        Tone::Well => "well",
        Tone::Partly => "partly",
        Tone::Wrong => "wrong",
        Tone::Open => "open",
    }
}
