//! Running text in lines.

use unicode_width::UnicodeWidthStr;

/// Breaks a text at blanks into lines of at most `width` columns; a longer word stays whole. The first line is begun
/// with `first`, the others with as many blanks.
pub(super) fn wrapped(first: &str, text: &str, width: usize, into: &mut String) {
    let indent = " ".repeat(first.width());
    let mut line = first.to_owned();
    let mut empty = true;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        if !empty && line.width() + 1 + word.width() > width {
            push_line(&line, into);
            line = indent.clone();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    push_line(&line, into);
}

/// A line without blanks at its end.
pub(super) fn push_line(line: &str, into: &mut String) {
    into.push_str(line.trim_end());
    into.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_at_blanks() {
        let mut text = String::new();
        wrapped("5  ", "one two three averylongwordindeed four", 12, &mut text);
        assert_eq!(text, "5  one two\n   three\n   averylongwordindeed\n   four\n");
    }
}
