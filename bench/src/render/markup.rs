//! Texts in XML, HTML and Markdown.

use unicode_width::UnicodeWidthStr;

/// Widest column of a table in Markdown that others are filled up to.
const COLUMN_MAX: usize = 120;

/// Text for element content and attribute values.
pub(crate) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            _ => escaped.push(character),
        }
    }
    escaped
}

/// Text for Markdown, without anything that it takes for its own.
pub(crate) fn escape_markdown(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(
            character,
            '\\' | '|' | '*' | '_' | '`' | '[' | ']' | '<' | '>' | '#' | '&' | '~' | '!' | '$'
        ) {
            escaped.push('\\');
        }
        escaped.push(character);
    }
    escaped
}

/// A table in Markdown whose columns stand under one another; the first row is its head. A cell that is wider than
/// [`COLUMN_MAX`] makes no other one wider.
pub(crate) fn markdown_table(rows: &[Vec<String>], out: &mut String) {
    let columns = rows.first().map_or(0, Vec::len);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.width()).max().unwrap_or(0).clamp(3, COLUMN_MAX)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    for (index, row) in rows.iter().enumerate() {
        out.push('|');
        for (cell, width) in row.iter().zip(&widths) {
            let blanks = width.saturating_sub(cell.width());
            out.push_str(&format!(" {cell}{} |", " ".repeat(blanks)));
        }
        out.push('\n');
        if index == 0 {
            let rules: Vec<String> =
                widths.iter().map(|width| format!("{}|", "-".repeat(width + 2))).collect();
            out.push_str(&format!("|{}\n", rules.concat()));
        }
    }
}
