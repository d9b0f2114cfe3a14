//! The recording as comma-separated values, in the form of a stimulus: a trace can be replayed.
//!
//! The first column `time` is the start of the scan in milliseconds, an exact decimal number; then one column a row
//! of the recording, one line a scan with the values after it, as literals of the standard (IEC 61131-3:2013 Tables
//! 5 to 9). Quoting follows RFC 4180 (a semicolon is quoted too: some readers take it for a separator); lines end in a line feed alone, so that the file compares well. A cell that
//! begins with a minus sign is a number and never a formula: strings begin with a quotation mark.

use std::fmt::Write as _;

use crate::diagram::scale::decimal;
use crate::recording::Recording;

/// One millisecond in nanoseconds.
const MILLISECOND: i64 = 1_000_000;

/// The recording as CSV text. Its size is about that of the values of all rows in all scans.
pub fn csv(recording: &Recording) -> String {
    let mut output = String::from("time");
    for row in &recording.rows {
        output.push(',');
        push_cell(&mut output, row.name());
    }
    output.push('\n');

    // For each row the next change to come and the finished cell of the value in force.
    let mut next: Vec<usize> = vec![0; recording.rows.len()];
    let mut cells: Vec<String> = vec![String::new(); recording.rows.len()];
    for (scan, record) in recording.scans.iter().enumerate() {
        output.push_str(&decimal(record.time_ns, MILLISECOND));
        for (row, (next, cell)) in recording.rows.iter().zip(next.iter_mut().zip(cells.iter_mut())) {
            let mut latest = None;
            while let Some(change) = row.signal.changes.get(*next)
                && usize::try_from(change.scan).is_ok_and(|changed| changed <= scan)
            {
                latest = Some(&change.value);
                *next += 1;
            }
            if let Some(value) = latest {
                cell.clear();
                let mut literal = String::new();
                // Writing into a string cannot fail.
                let _ = write!(literal, "{value}");
                push_cell(cell, &literal);
            }
            output.push(',');
            output.push_str(cell);
        }
        output.push('\n');
    }
    output
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
