//! The proof as Markdown, to be printed.

use super::{
    CAUTIONS, FileProof, ProofOptions,
    sheet::sheets,
    text::{answered, heading, placed, rows},
};
use crate::render::markup::escape_markdown as escaped;

/// The proof of a file.
pub fn markdown(proof: &FileProof<'_>, options: ProofOptions) -> String {
    let mut out = format!("# {}", escaped(&heading(proof)));
    out.push('\n');
    let placed = placed(proof);
    if !placed.is_empty() {
        out.push_str(&format!("{}\n\n", escaped(&placed)));
    }
    for caution in CAUTIONS {
        out.push_str(&format!("> {caution}\n"));
    }
    for (programs, questions) in answered(proof) {
        out.push_str(&format!("\n## Answers for {}\n", escaped(&programs.join(", "))));
        for question in questions {
            out.push_str(&format!("\n{}\n\n", question.question));
            for answer in &question.answers {
                out.push_str(&format!("- {}\n", escaped(answer)));
            }
        }
    }
    if options.tables {
        for sheet in sheets(proof) {
            let programs = escaped(&sheet.programs.join(", "));
            out.push_str(&format!("\n## {}\n\nOn {programs}. ", escaped(&sheet.title)));
            out.push_str(&format!("The procedure {}.\n", escaped(&sheet.sound)));
            if !sheet.rows.is_empty() {
                let loads: Vec<usize> = (0..sheet.loads.len()).collect();
                out.push('\n');
                for (index, row) in rows(&sheet, &loads, true).iter().enumerate() {
                    let cells: Vec<String> = row.iter().map(|cell| escaped(cell)).collect();
                    out.push_str(&format!("| {} |\n", cells.join(" | ")));
                    if index == 0 {
                        out.push_str(&format!("|{}\n", "---|".repeat(row.len())));
                    }
                }
            }
            let mut line = |words: &str, list: &[String], joint: &str| {
                if !list.is_empty() {
                    out.push_str(&format!("\n{words}: {}.\n", escaped(&list.join(joint))));
                }
            };
            line("As before with every fault", &sheet.unchanged, ", ");
            line("No load differs and nothing is noticed", &sheet.without_effect, "; ");
        }
    }
    out
}
