//! Makes text of unknown origin fit for a terminal: no control bytes, nothing that turns the reading direction
//! or hides, no endless lines.
//!
//! Source text, file names and everything quoted from them pass through here before they are shown. Without it a
//! string literal could clear the screen, ring the bell, or show another program than the one that runs.

/// Shown for what has no picture of its own.
pub(super) const REPLACEMENT: char = '\u{fffd}';

/// Stands for text left out of a long line.
pub(super) const CROPPED: char = '…';

/// The character to show for a character: itself, or a visible stand-in of one column.
pub(super) fn visible(character: char) -> char {
    match character {
        '\t' => '\t',
        // The control pictures of Unicode, in the order of the control codes.
        '\u{00}'..='\u{1f}' => char::from_u32(0x2400 + character as u32).unwrap_or(REPLACEMENT),
        '\u{7f}' => '\u{2421}',
        _ if is_hidden(character) => REPLACEMENT,
        _ => character,
    }
}

/// Characters that draw nothing and change how others are drawn: C1 controls, soft hyphen, zero-width
/// characters, direction marks, embeddings and isolates, line separators, fillers, variation selectors, tags.
fn is_hidden(character: char) -> bool {
    matches!(
        character,
        '\u{80}'..='\u{9f}'
            | '\u{ad}'
            | '\u{34f}'
            | '\u{61c}'
            | '\u{115f}'..='\u{1160}'
            | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{3164}'
            | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}'
            | '\u{ffa0}'
            | '\u{fff0}'..='\u{fffb}'
            | '\u{1bca0}'..='\u{1bca3}'
            | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e0fff}'
    )
}

/// One line of text for a message: visible characters only, at most `characters` of them.
pub(super) fn line(text: &str, characters: usize) -> String {
    let mut shown = String::with_capacity(text.len().min(characters * 4));
    for (count, character) in text.chars().enumerate() {
        if count == characters {
            shown.push(CROPPED);
            break;
        }
        shown.push(if character == '\t' { ' ' } else { visible(character) });
    }
    shown
}

/// Text of several lines broken into lines of at most `width` characters where there are spaces to break at. Lines
/// keep the blanks they begin with, and several blanks between words.
pub(super) fn paragraph(text: &str, width: usize, characters: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    let mut left = characters;
    for part in text.split('\n') {
        let words = part.trim_start_matches(' ');
        let indent = " ".repeat((part.len() - words.len()).min(width / 2));
        left = left.saturating_sub(indent.len());
        let mut current = indent.clone();
        let mut length = indent.len();
        for (index, word) in words.split(' ').enumerate() {
            let word = line(word, left);
            let count = word.chars().count();
            left = left.saturating_sub(count + 1);
            if length > indent.len() && length + 1 + count > width {
                lines.push(std::mem::replace(&mut current, indent.clone()));
                length = indent.len();
            } else if index > 0 {
                current.push(' ');
                length += 1;
            }
            current.push_str(&word);
            length += count;
            if left == 0 {
                break;
            }
        }
        lines.push(current);
        if left == 0 {
            break;
        }
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_control_or_direction_character_stays() {
        let shown = line("a\u{1b}[2J\u{7}\u{202e}b\u{9b}c\u{7f}\n", 100);
        assert_eq!(shown, "a␛[2J␇\u{fffd}b\u{fffd}c␡␊");
        for code in 0..=0x10_ffff_u32 {
            if let Some(character) = char::from_u32(code) {
                let shown = visible(character);
                assert!(shown == '\t' || !shown.is_control(), "U+{code:04X} is shown as a control character");
            }
        }
    }

    #[test]
    fn long_text_is_cropped() {
        assert_eq!(line("abcdef", 3), "abc…");
        assert_eq!(line("abc", 3), "abc");
        assert!(paragraph(&"word ".repeat(100_000), 100, 2000).len() < 2200);
        assert!(paragraph(&"w".repeat(100_000), 100, 2000).len() < 2200);
    }

    #[test]
    fn paragraphs_break_at_spaces() {
        assert_eq!(paragraph("one two three\nfour", 8, 100), "one two\nthree\nfour");
        assert_eq!(
            paragraph("NOT Pump   FALSE\n  Pump     TRUE", 40, 100),
            "NOT Pump   FALSE\n  Pump     TRUE"
        );
        assert_eq!(paragraph("  one two three", 9, 100), "  one two\n  three");
    }
}
