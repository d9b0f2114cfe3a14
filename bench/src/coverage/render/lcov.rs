//! LCOV trace files, as the manual page geninfo(1) describes them: for each file `TN`, `SF`, `BRDA`, `BRF`, `BRH`,
//! `DA`, `LF`, `LH`, `end_of_record`.
//!
//! A line is listed if a statement, an instruction or a condition begins there. It is not counted how often it was run:
//! the count is 1 for a line where something was run, and 0 otherwise. The same holds for the ways of branches.

use std::fmt::Write as _;

use crate::coverage::{Report, lines};

/// The trace file of a report. Files with nothing to run are left out.
pub fn lcov(report: &Report) -> String {
    let mut text = String::new();
    for (index, file) in report.files.iter().enumerate() {
        let lines = lines(report, index);
        let listed: Vec<(usize, bool)> =
            (1..).zip(&lines).filter_map(|(number, line)| Some((number, line.hit?))).collect();
        if listed.is_empty() {
            continue;
        }
        // Writing to a String cannot fail.
        let _ = writeln!(text, "TN:\nSF:{}", one_line(&file.name));
        let (mut block, mut found, mut hit) = (0, 0, 0);
        for (number, line) in (1..).zip(&lines) {
            for branch in &line.branches {
                for (arm, index) in branch.arms.iter().zip(0..) {
                    let taken = match (branch.is_reached(), arm.covered) {
                        (false, _) => "-",
                        (true, false) => "0",
                        (true, true) => "1",
                    };
                    let _ = writeln!(text, "BRDA:{number},{block},{index},{taken}");
                    found += 1;
                    hit += u32::from(arm.covered);
                }
                block += 1;
            }
        }
        let _ = writeln!(text, "BRF:{found}\nBRH:{hit}");
        for (number, run) in &listed {
            let _ = writeln!(text, "DA:{number},{}", u8::from(*run));
        }
        let run = listed.iter().filter(|(_, run)| *run).count();
        let _ = writeln!(text, "LF:{}\nLH:{run}\nend_of_record", listed.len());
    }
    text
}

/// A name cannot go on in the next line.
fn one_line(name: &str) -> String {
    name.chars().map(|letter| if letter.is_control() { '\u{fffd}' } else { letter }).collect()
}
