//! Lines and columns of one text, computed once.
//!
//! Lines and columns are counted from 1; a column counts characters. Knows nothing but text.

/// The line starts of a text, and where characters of more than one byte stand.
#[derive(Clone, Debug, Default)]
pub struct LineTable {
    /// Byte offset of the first byte of each line.
    starts: Vec<u32>,
    /// For each character of more than one byte: offset behind it, and surplus bytes up to there.
    surplus: Vec<(u32, u32)>,
    length: u32,
}

impl LineTable {
    /// Reads a text once. A line ends at a line feed, a carriage return, or both.
    pub fn new(text: &str) -> Self {
        let mut lines = LineTable { starts: vec![0], surplus: Vec::new(), length: text.len() as u32 };
        let mut surplus = 0;
        let bytes = text.as_bytes();
        for (chunk, first) in bytes.chunks(8).zip((0..).step_by(8)) {
            // Nearly all bytes are passed over here.
            if let Some(chunk) = chunk.first_chunk()
                && is_plain(u64::from_le_bytes(*chunk))
            {
                continue;
            }
            for (&byte, offset) in chunk.iter().zip(first..) {
                let end = offset as u32 + 1;
                match byte {
                    b'\n' => lines.starts.push(end),
                    // A carriage return alone ends a line, too.
                    b'\r' if bytes.get(offset + 1) != Some(&b'\n') => lines.starts.push(end),
                    // The first byte of a character of more than one tells how many follow.
                    0xc0.. => {
                        let following = match byte {
                            ..0xe0 => 1,
                            0xe0..0xf0 => 2,
                            0xf0.. => 3,
                        };
                        surplus += following;
                        lines.surplus.push((end + following, surplus));
                    }
                    _ => {}
                }
            }
        }
        lines
    }

    /// Line and column of a byte; those of the end for an offset behind it.
    pub fn place(&self, offset: u32) -> (u32, u32) {
        let offset = offset.min(self.length);
        self.on_line(offset, self.starts.partition_point(|start| *start <= offset))
    }

    /// As [`LineTable::place`], faster for a byte on the line `near` or not far behind it.
    pub fn place_near(&self, offset: u32, near: u32) -> (u32, u32) {
        let offset = offset.min(self.length);
        let starts_before = |line: usize| self.starts.get(line).is_some_and(|start| *start <= offset);
        let mut line = near.saturating_sub(1) as usize;
        if !starts_before(line) {
            return self.place(offset);
        }
        // In growing steps to a line that is not before it, and back among the lines of the last step.
        let mut step = 1;
        while starts_before(line + step) {
            line += step;
            step *= 2;
        }
        let last = self.starts.len().min(line + step);
        let passed = self.starts.get(line..last).unwrap_or_default();
        self.on_line(offset, line + passed.partition_point(|start| *start <= offset))
    }

    /// The place of a byte of the text on a line, counted from 1.
    fn on_line(&self, offset: u32, line: usize) -> (u32, u32) {
        // The first line starts at 0, so at least one start is not behind the offset.
        let start = self.starts.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let column = offset - start - (self.surplus_before(offset) - self.surplus_before(start));
        (line as u32, column + 1)
    }

    fn surplus_before(&self, offset: u32) -> u32 {
        let count = self.surplus.partition_point(|(end, _)| *end <= offset);
        count.checked_sub(1).and_then(|last| self.surplus.get(last)).map_or(0, |(_, surplus)| *surplus)
    }
}

/// Whether eight bytes are neither control characters nor parts of characters of more than one byte.
const fn is_plain(bytes: u64) -> bool {
    const ONES: u64 = u64::MAX / 0xff;
    const HIGH: u64 = ONES << 7;
    // Taking a space from a byte below it borrows from its highest bit. A byte above it may be taken for one because
    // of the byte before it, which is then one itself.
    (bytes | bytes.wrapping_sub(ONES * b' ' as u64)) & HIGH == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let lines = LineTable::new("é := 1;\r\nβγ x;\n");
        assert_eq!(lines.place(0), (1, 1));
        assert_eq!(lines.place(3), (1, 3));
        let second = "é := 1;\r\n".len() as u32;
        assert_eq!(lines.place(second), (2, 1));
        assert_eq!(lines.place(second + 5), (2, 4));
        assert_eq!(lines.place(999), (3, 1));
    }

    proptest::proptest! {
        #[test]
        fn places_are_those_of_counting(text in "[a \\r\\né€😀]{0,40}[a ]{0,20}[a\\r\\n]{0,9}") {
            let lines = LineTable::new(&text);
            let (mut line, mut column) = (1, 1);
            for (offset, character) in text.char_indices() {
                proptest::prop_assert_eq!(lines.place(offset as u32), (line, column));
                for near in 0..8 {
                    proptest::prop_assert_eq!(lines.place_near(offset as u32, near), (line, column));
                }
                let ends = character == '\n' || character == '\r' && !text[offset + 1..].starts_with('\n');
                (line, column) = if ends { (line + 1, 1) } else { (line, column + 1) };
            }
            proptest::prop_assert_eq!(lines.place(text.len() as u32), (line, column));
        }
    }
}
