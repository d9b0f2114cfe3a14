//! The recording as comma-separated values, in the form of a stimulus: a trace can be replayed.
//!
//! The first column `time` is the start of the scan in milliseconds, an exact decimal number; then one column a row
//! of the recording, one line a scan with the values after it, as literals of the standard (IEC 61131-3:2013 Tables
//! 5 to 9). Quoting follows RFC 4180 (a semicolon is quoted too: some readers take it for a separator); lines end in a line feed alone, so that the file compares well. A cell that
//! begins with a minus sign is a number and never a formula: strings begin with a quotation mark.

use std::fmt::{self, Write};

use latchwork_vm::trace::{Changes, ScanRecord};

use super::merge::Merge;
use crate::diagram::scale::decimal;
use crate::recording::Recording;

/// One millisecond in nanoseconds.
const MILLISECOND: i64 = 1_000_000;

/// The recording as CSV text. Its size is about that of the values of all rows in all scans.
pub fn csv(recording: &Recording) -> String {
    let mut output = String::new();
    // Writing into a string cannot fail.
    let _ = CsvWriter::write(recording, &mut output);
    output
}

/// Writes a recording as CSV, part by part.
#[derive(Clone, Debug)]
pub struct CsvWriter {
    /// For each row the finished cell of the value in force.
    cells: Vec<String>,
}

impl CsvWriter {
    /// Writes a whole recording.
    ///
    /// # Errors
    /// Those of the output.
    pub fn write(recording: &Recording, output: &mut dyn Write) -> fmt::Result {
        let mut writer = Self::begin(recording.rows.iter().map(|row| row.name()), output)?;
        writer.part(&recording.scans, &recording.changes(), output)
    }

    /// Writes the head of a file with rows of these names.
    ///
    /// # Errors
    /// Those of the output.
    pub fn begin<'n>(
        names: impl Iterator<Item = &'n str>,
        output: &mut dyn Write,
    ) -> Result<Self, fmt::Error> {
        let mut head = String::from("time");
        let mut cells = Vec::new();
        for name in names {
            head.push(',');
            push_cell(&mut head, name);
            cells.push(String::new());
        }
        head.push('\n');
        output.write_str(&head)?;
        Ok(Self { cells })
    }

    /// Writes further scans and what they changed in each row; changes refer to these scans by index.
    ///
    /// # Errors
    /// Those of the output.
    pub fn part(&mut self, scans: &[ScanRecord], rows: &[&Changes], output: &mut dyn Write) -> fmt::Result {
        let mut changes = Merge::new(rows);
        let mut line = String::new();
        for (scan, record) in (0u32..).zip(scans) {
            while let Some((row, value)) = changes.next_until(scan) {
                if let Some(cell) = self.cells.get_mut(row) {
                    cell.clear();
                    push_cell(cell, &value.to_string());
                }
            }
            line.clear();
            line.push_str(&decimal(record.time_ns, MILLISECOND));
            for cell in &self.cells {
                line.push(',');
                line.push_str(cell);
            }
            line.push('\n');
            output.write_str(&line)?;
        }
        Ok(())
    }
}

/// Appends a cell, quoted where RFC 4180 asks for it.
pub(crate) fn push_cell(output: &mut String, text: &str) {
    let blank_edge = text.starts_with(' ') || text.ends_with(' ');
    if blank_edge || text.contains([',', '"', '\r', '\n', ';']) {
        output.push('"');
        output.push_str(&text.replace('"', "\"\""));
        output.push('"');
    } else {
        output.push_str(text);
    }
}

#[cfg(test)]
mod tests {
    use super::push_cell;

    #[test]
    fn quoting_follows_rfc_4180() {
        let cases = [
            ("TRUE", "TRUE"),
            ("Grid[1,2].Level", "\"Grid[1,2].Level\""),
            ("'say \"go\"'", "\"'say \"\"go\"\"'\""),
            ("'a;b'", "\"'a;b'\""),
            ("16#00FF", "16#00FF"),
            ("-12", "-12"),
            ("", ""),
        ];
        for (text, cell) in cases {
            let mut output = String::new();
            push_cell(&mut output, text);
            assert_eq!(output, cell);
        }
    }
}
