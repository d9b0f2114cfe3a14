//! Words in columns: wrapping, and tables whose cells wrap.

use unicode_width::UnicodeWidthStr;

/// Blanks between two columns.
const GAP: usize = 2;

/// A text in lines of at most `width` columns; a word that is longer has a line of its own, and is cut where that is too
/// short as well.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let mut rest = word;
        while let Some(line) = lines.last_mut() {
            let gap = usize::from(!line.is_empty());
            if line.width() + gap + rest.width() <= width {
                if gap > 0 {
                    line.push(' ');
                }
                line.push_str(rest);
                break;
            }
            if line.is_empty() {
                let (head, tail) = cut(rest, width);
                line.push_str(head);
                rest = tail;
                if rest.is_empty() {
                    break;
                }
            }
            lines.push(String::new());
        }
    }
    lines
}

/// The part of a word that fits, at least one character.
fn cut(word: &str, width: usize) -> (&str, &str) {
    let mut end = 0;
    for (at, character) in word.char_indices() {
        let next = at + character.len_utf8();
        if end > 0 && word.get(..next).is_none_or(|head| head.width() > width) {
            break;
        }
        end = next;
    }
    word.split_at_checked(end).unwrap_or((word, ""))
}

/// A paragraph with hanging indent.
pub(crate) fn paragraph(first: &str, text: &str, width: usize) -> String {
    let indent = first.width();
    let mut out = String::new();
    for (index, line) in wrap(text, width.saturating_sub(indent).max(20)).iter().enumerate() {
        if index == 0 {
            out.push_str(first);
        } else {
            out.push_str(&" ".repeat(indent));
        }
        out.push_str(line);
        out.push('\n');
    }
    out
}

/// A table with a heading row; a column is as wide as its widest cell if all fits, else narrower, at least `least`.
pub(crate) fn table(rows: &[Vec<String>], width: usize, least: usize) -> String {
    let count = rows.first().map_or(0, Vec::len);
    let widths = widths(rows, count, width, least);
    let mut out = String::new();
    for (index, row) in rows.iter().enumerate() {
        let cells: Vec<Vec<String>> =
            row.iter().zip(&widths).map(|(cell, width)| wrap(cell, *width)).collect();
        let height = cells.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let mut text = String::from("  ");
            for (cell, width) in cells.iter().zip(&widths) {
                let part = cell.get(line).map_or("", String::as_str);
                text.push_str(part);
                text.push_str(&" ".repeat((width + GAP).saturating_sub(part.width())));
            }
            out.push_str(text.trim_end());
            out.push('\n');
        }
        if index == 0 {
            let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
            out.push_str(&format!("  {}\n", rule.join("  ")));
        }
    }
    out
}

fn widths(rows: &[Vec<String>], count: usize, width: usize, least: usize) -> Vec<usize> {
    let natural = |column: usize| {
        rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.width()).max().unwrap_or(0)
    };
    let mut widths: Vec<usize> = (0..count).map(natural).collect();
    let room = width.saturating_sub(2 + GAP * count.saturating_sub(1));
    // The widest column gives way first.
    while widths.iter().sum::<usize>() > room {
        let Some(widest) = widths.iter_mut().max_by_key(|width| **width) else { break };
        if *widest <= least {
            break;
        }
        *widest -= 1;
    }
    widths
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_asked() {
        let text =
            "runs on although StopPB is pressed, from 1.2 s to the end AVeryLongNameWithoutAnyBlankInIt";
        for width in 1..80 {
            assert!(wrap(text, width).iter().all(|line| line.width() <= width), "{width}");
            let plain: String = wrap(text, width).concat().split(' ').collect();
            assert_eq!(plain, text.split(' ').collect::<String>());
        }
        let rows = vec![vec![text.to_owned(), text.to_owned(), text.to_owned()]; 3];
        for width in 60..140 {
            assert!(table(&rows, width, 12).lines().all(|line| line.width() <= width), "{width}");
        }
    }
}
