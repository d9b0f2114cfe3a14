//! Lines of styled text for a terminal: put together, measured, coloured only at the very end.
//!
//! Colour never carries anything alone; a line without it reads the same. Knows nothing of diagrams.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// How a piece of a line is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Style {
    /// As the terminal likes.
    Plain,
    /// Titles and names.
    Strong,
    /// Side remarks, axes and legends.
    Faint,
    /// Waves of devices.
    Device,
    /// Waves of outputs.
    Output,
    /// Wiring faults.
    Fault,
    /// Lines with continuity.
    Live,
}

impl Style {
    /// The "select graphic rendition" parameters of ECMA-48.
    fn parameters(self) -> Option<&'static str> {
        match self {
            Self::Plain => None,
            Self::Strong => Some("1"),
            Self::Faint => Some("2"),
            Self::Device => Some("36"),
            Self::Output => Some("33"),
            Self::Fault => Some("1;31"),
            Self::Live => Some("1;32"),
        }
    }
}

/// One line in the making.
#[derive(Clone, Debug, Default)]
pub(crate) struct Line {
    pieces: Vec<(Style, String)>,
}

impl Line {
    /// Appends a piece.
    pub(crate) fn push(&mut self, style: Style, text: impl Into<String>) -> &mut Self {
        self.pieces.push((style, text.into()));
        self
    }

    /// Appends another line.
    pub(crate) fn append(&mut self, other: Line) -> &mut Self {
        self.pieces.extend(other.pieces);
        self
    }

    /// Appends blanks up to a column; does nothing when the line is that long already.
    pub(crate) fn pad_to(&mut self, column: usize) -> &mut Self {
        let blanks = column.saturating_sub(self.width());
        self.push(Style::Plain, " ".repeat(blanks))
    }

    /// Its width in columns.
    pub(crate) fn width(&self) -> usize {
        self.pieces.iter().map(|(_, text)| text.width()).sum()
    }

    /// The finished line with its line feed, without blanks at the end.
    pub(crate) fn finish(mut self, colour: bool, output: &mut String) {
        while let Some((_, text)) = self.pieces.last_mut() {
            let kept = text.trim_end_matches(' ').len();
            text.truncate(kept);
            if kept > 0 {
                break;
            }
            self.pieces.pop();
        }
        for (style, text) in &self.pieces {
            match style.parameters().filter(|_| colour && !text.trim().is_empty()) {
                Some(parameters) => {
                    output.push_str("\u{1b}[");
                    output.push_str(parameters);
                    output.push('m');
                    output.push_str(text);
                    output.push_str("\u{1b}[0m");
                }
                None => output.push_str(text),
            }
        }
        output.push('\n');
    }
}

/// `parts` joined by `joint` and broken before a part where a line would get wider than `width`.
pub(crate) fn wrap_parts(parts: &[String], joint: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for part in parts.iter().filter(|part| !part.is_empty()) {
        match lines.last_mut() {
            Some(line) if line.width() + joint.width() + part.width() <= width => {
                line.push_str(joint);
                line.push_str(part);
            }
            _ => lines.push(part.clone()),
        }
    }
    lines
}

/// Running text broken at blanks; further lines are indented by `indent`. A word wider than a line is cut.
pub(crate) fn wrap_words(text: &str, indent: usize, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.width() + 1 + word.width() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            Some(_) => lines.push(format!("{}{word}", " ".repeat(indent))),
            None => lines.push(word.to_owned()),
        }
    }
    lines.iter().map(|line| crate::diagram::words::crop(line, width, '~')).collect()
}

/// Text in ASCII alone. Signs of this trade get their usual stand-ins, everything else a question mark.
pub(crate) fn to_ascii(text: &str) -> String {
    let mut ascii = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            _ if character.is_ascii() => ascii.push(character),
            '…' => ascii.push_str(".."),
            '·' => ascii.push('|'),
            'µ' | 'μ' => ascii.push('u'),
            '°' => ascii.push_str("deg "),
            '²' => ascii.push('2'),
            '³' => ascii.push('3'),
            '–' | '−' => ascii.push('-'),
            // A wide character keeps its two columns.
            _ => ascii.push_str(&"?".repeat(character.width().unwrap_or(1))),
        }
    }
    ascii
}
