//! A sheet as Markdown, readable as it is and when it is rendered. Boxes are the sign U+2610.
//!
//! Text of the user is escaped, so that nothing of it is taken for Markdown or HTML.

use super::{
    FIELDS, OUTPUT_INTRODUCTION, STEP_INTRODUCTION, WIRING_INTRODUCTION, expected, gaps, points, process,
    readings, watch,
};
use crate::{
    render::markup::{escape_markdown as escaped, markdown_table as table},
    sheet::{CAUTIONS, Part, Piece, Sheet, Step, Text},
};

const BOX: &str = "☐";
const LINE: &str = "______________________";

/// The sheet.
pub fn markdown(sheet: &Sheet) -> String {
    let mut out = format!("# Checkout: {}\n\n", escaped(&sheet.title));
    let mut heading = vec![vec!["Program".to_owned(), escaped(&sheet.names.program)]];
    heading.push(vec!["Station".to_owned(), escaped(&sheet.names.station)]);
    if let Some(procedure) = &sheet.names.procedure {
        heading.push(vec!["Procedures".to_owned(), escaped(procedure)]);
    }
    heading.extend(FIELDS.map(|field| vec![field.to_owned(), LINE.to_owned()]));
    let mut rows = vec![vec!["Sheet".to_owned(), String::new()]];
    rows.extend(heading);
    table(&rows, &mut out);
    lists(sheet, &mut out);
    out.push_str("\n## Before you begin\n\n");
    for caution in CAUTIONS {
        out.push_str(&format!("- {BOX} **{caution}**\n"));
    }
    wiring(sheet, &mut out);
    steps(sheet, &mut out);
    out.push_str("\n## Result\n\n");
    let count = sheet.steps().count();
    out.push_str(&format!("As expected: ______ of {count} steps.  {BOX} accepted  {BOX} not accepted\n\n"));
    for field in ["Notes", "Student", "Instructor", "Date"] {
        out.push_str(&format!("{field}: {LINE}{LINE}\n\n"));
    }
    out.truncate(out.trim_end().len());
    out.push('\n');
    out
}

fn lists(sheet: &Sheet, out: &mut String) {
    if !sheet.inputs.is_empty() {
        out.push_str("\n## Inputs\n\n");
        let mut rows = vec![
            ["device", "what it is", "contact", "strip", "wire", "address", "the terminal reads"]
                .map(str::to_owned)
                .to_vec(),
        ];
        rows.extend(sheet.inputs.iter().map(|line| {
            let cells = [&line.name, &line.label, &line.form, &line.strip, &line.wire, &line.terminal];
            let mut cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
            cells.push(escaped(&readings(&line.readings).join(", ")));
            cells
        }));
        table(&rows, out);
    }
    if !sheet.outputs.is_empty() {
        out.push_str("\n## Outputs\n\n");
        let heading = ["load", "what it is", "kind", "strip", "wire", "address", "what the output says"];
        let mut rows = vec![heading.map(str::to_owned).to_vec()];
        rows.extend(sheet.outputs.iter().map(|line| {
            let cells = [&line.name, &line.label, &line.kind, &line.strip, &line.wire, &line.terminal];
            let mut cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
            cells.push(escaped(&readings(&line.does).join(", ")));
            cells
        }));
        table(&rows, out);
    }
    if let Some(process) = process(sheet) {
        out.push_str(&format!("\n{}\n", escaped(&process)));
    }
}

fn wiring(sheet: &Sheet, out: &mut String) {
    if !sheet.inputs.is_empty() {
        out.push_str(&format!("\n## Wire check\n\n{WIRING_INTRODUCTION}\n\n"));
        let heading = ["", "device", "strip", "wire", "address", "the input reads", "yes", "no"];
        let mut rows = vec![heading.map(str::to_owned).to_vec()];
        rows.extend(sheet.inputs.iter().enumerate().map(|(index, line)| {
            let marks = [&line.name, &line.strip, &line.wire, &line.terminal].map(|mark| escaped(mark));
            let mut cells = vec![format!("W{}", index + 1)];
            cells.extend(marks);
            cells.push(escaped(&readings(&line.readings).join(", ")));
            cells.extend([BOX.to_owned(), BOX.to_owned()]);
            cells
        }));
        table(&rows, out);
    }
    if !sheet.outputs.is_empty() {
        out.push_str(&format!("\n{OUTPUT_INTRODUCTION}\n\n"));
        let heading = ["load", "strip", "wire", "address", "yes", "no"];
        let mut rows = vec![heading.map(str::to_owned).to_vec()];
        rows.extend(sheet.outputs.iter().map(|line| {
            let mut cells: Vec<String> =
                [&line.name, &line.strip, &line.wire, &line.terminal].map(|mark| escaped(mark)).into();
            cells.extend([BOX.to_owned(), BOX.to_owned()]);
            cells
        }));
        table(&rows, out);
    }
}

fn steps(sheet: &Sheet, out: &mut String) {
    out.push_str(&format!("\n## Steps\n\n{STEP_INTRODUCTION}\n"));
    for gap in gaps(sheet) {
        out.push_str(&format!("\n{}\n", escaped(&gap)));
    }
    for part in &sheet.parts {
        part_heading(part, out);
        for (index, one) in part.steps.iter().enumerate() {
            if index > 0 {
                out.push_str("\n---\n");
            }
            step(one, out);
        }
    }
}

fn part_heading(part: &Part, out: &mut String) {
    out.push_str(&format!("\n### {}", escaped(&part.title)));
    if let Some(worth) = part.points {
        out.push_str(&format!(" ({BOX} {})", points(worth)));
    }
    out.push('\n');
    for remark in &part.remarks {
        out.push_str(&format!("\n> **Note:** {}\n", text(remark)));
    }
    if !part.throughout.is_empty() {
        out.push_str("\nIn all steps:\n\n");
        for rule in &part.throughout {
            out.push_str(&format!("- {}  {BOX} kept  {BOX} not\n", text(rule)));
        }
    }
}

fn step(step: &Step, out: &mut String) {
    let does: Vec<String> = step.does.iter().map(text).collect();
    out.push_str(&format!("\n**Step {}.** {}\n\n", step.number, does.join(" ")));
    if step.watch.least_ns > 0 {
        out.push_str(&format!("Look on: {}.\n\n", watch(step.watch)));
    }
    let mut lines: Vec<String> = expected(&step.told).iter().map(text).collect();
    lines.extend(step.demands.iter().map(|demand| format!("Asked for: {}", text(demand))));
    lines.extend(step.remarks.iter().map(|remark| format!("**Note:** {}", text(remark))));
    for line in &lines {
        out.push_str(&format!("- {line}\n"));
    }
    if !lines.is_empty() {
        out.push('\n');
    }
    out.push_str(&format!("{BOX} yes  {BOX} no, but: {LINE}{LINE}\n"));
}

fn text(text: &Text) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Words(words) => escaped(words),
        Piece::Name(name) => format!("**{}**", escaped(name)),
        // A sign that ends code, or a cell, cannot be escaped within it.
        Piece::Code(code) if code.is_empty() || code.contains(['`', '|']) => format!("“{}”", escaped(code)),
        Piece::Code(code) => format!("`{code}`"),
    };
    text.pieces.iter().map(piece).collect()
}
