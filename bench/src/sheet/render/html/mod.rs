//! A sheet as one HTML page that needs nothing else, to be printed on A4 or US Letter.
//!
//! Nothing is fetched and nothing runs, see [`crate::render::page`]. Text of the user is escaped. The page is black on
//! white, on the screen as well, since it is a picture of the paper.

use std::fmt::Write as _;

use super::{
    FIELDS, OUTPUT_INTRODUCTION, STEP_INTRODUCTION, WIRING_INTRODUCTION, expected, gaps, points, process,
    watch,
};
use crate::{
    render::page::{Page, escaped},
    sheet::{CAUTIONS, Part, Piece, Reading, Sheet, Step, Text},
};

/// What is special to this page.
const STYLE: &str = include_str!("sheet.css");

/// The headings of the boxes: what is ticked where all is as it must be, and where it is not.
const YES: &str = "yes<span class=\"unseen\">, as it must be</span>";
const NO: &str = "no<span class=\"unseen\">, not as it must be</span>";

/// A box to tick, with what it stands for.
fn tick(label: &str) -> String {
    format!("<span class=\"tick\" role=\"img\" aria-label=\"box: {label}\"></span>")
}

/// The page.
pub fn html(sheet: &Sheet) -> String {
    let mut page = format!(
        "<header>\n<p class=\"kind\">Checkout sheet</p>\n<h1>{}</h1>\n<dl class=\"names\">\n",
        escaped(&sheet.title)
    );
    let mut name = |what: &str, value: &str| {
        let _ = writeln!(page, "<div><dt>{what}</dt><dd>{}</dd></div>", escaped(value));
    };
    name("Program", &sheet.names.program);
    name("Station", &sheet.names.station);
    if let Some(procedure) = &sheet.names.procedure {
        name("Procedures", procedure);
    }
    page.push_str("</dl>\n<dl class=\"fields\">\n");
    for field in FIELDS {
        let _ = writeln!(page, "<div><dt>{field}</dt><dd></dd></div>");
    }
    page.push_str("</dl>\n</header>\n<main>\n");
    inputs(sheet, &mut page);
    outputs(sheet, &mut page);
    page.push_str("<section class=\"cautions\" aria-labelledby=\"cautions\">\n<h2 id=\"cautions\">Before you begin</h2>\n<ul>\n");
    for caution in CAUTIONS {
        let _ = writeln!(page, "<li>{} {caution}</li>", tick("read"));
    }
    page.push_str("</ul>\n</section>\n");
    wiring(sheet, &mut page);
    steps(sheet, &mut page);
    result(sheet, &mut page);
    page.push_str("</main>\n");
    Page { title: format!("Checkout: {}", sheet.title), styles: vec![STYLE], script: "", body: page }
        .document()
}

/// The heading of a table, which is on every page of it. `running` tells on which sheet one is.
fn heading(page: &mut String, running: Option<&str>, columns: &[(&str, &str)]) {
    // The first row would tell the widths otherwise.
    page.push_str("<colgroup>");
    for (class, _) in columns {
        let _ = write!(page, "<col class=\"{class}\"/>");
    }
    page.push_str("</colgroup>\n<thead>");
    if let Some(running) = running {
        let (count, running) = (columns.len(), escaped(running));
        let _ = write!(
            page,
            "<tr class=\"running\"><th scope=\"colgroup\" colspan=\"{count}\">{running}</th></tr>"
        );
    }
    page.push_str("<tr>");
    for (class, words) in columns {
        let _ = write!(page, "<th scope=\"col\" class=\"{class}\">{words}</th>");
    }
    page.push_str("</tr></thead>\n");
}

/// Texts up to this length stay on one line, in characters.
const SHORT_MAX: usize = 14;

/// The cells of a wire: place on the strip, label, address.
fn wire(strip: &str, wire: &str, terminal: &str) -> String {
    let cell = |text: &str| match text.chars().count() {
        0 => "<td>–</td>".to_owned(),
        1..=SHORT_MAX => format!("<td class=\"short\">{}</td>", escaped(text)),
        _ => format!("<td>{}</td>", escaped(text)),
    };
    [strip, wire, terminal].map(cell).concat()
}

fn readings(readings: &[Reading]) -> String {
    let line = |Reading { state, reads }: &Reading| {
        let short = if state.chars().count() <= SHORT_MAX { " short" } else { "" };
        format!("<span class=\"reading{short}\">{} <b>{}</b></span>", escaped(state), escaped(reads))
    };
    readings.iter().map(line).collect::<Vec<_>>().join(" ")
}

fn named(name: &str, label: &str) -> String {
    let label = if label.is_empty() {
        String::new()
    } else {
        format!(" <span class=\"label\">{}</span>", escaped(label))
    };
    format!("<th scope=\"row\">{}{label}</th>", escaped(name))
}

fn inputs(sheet: &Sheet, page: &mut String) {
    if sheet.inputs.is_empty() {
        return;
    }
    page.push_str("<section aria-labelledby=\"inputs\">\n<h2 id=\"inputs\">Inputs</h2>\n<table>\n");
    heading(
        page,
        None,
        &[
            ("", "device"),
            ("", "contact"),
            ("", "strip"),
            ("", "wire"),
            ("", "address"),
            ("", "terminal reads"),
        ],
    );
    page.push_str("<tbody>\n");
    for line in &sheet.inputs {
        let wire = wire(&line.strip, &line.wire, &line.terminal);
        let _ = writeln!(
            page,
            "<tr>{}<td>{}</td>{wire}<td>{}</td></tr>",
            named(&line.name, &line.label),
            escaped(&kept_together(&line.form)),
            readings(&line.readings)
        );
    }
    page.push_str("</tbody>\n</table>\n");
    if let Some(process) = process(sheet) {
        let _ = writeln!(page, "<p>{}</p>", escaped(&process));
    }
    page.push_str("</section>\n");
}

fn outputs(sheet: &Sheet, page: &mut String) {
    if sheet.outputs.is_empty() {
        return;
    }
    page.push_str("<section aria-labelledby=\"outputs\">\n<h2 id=\"outputs\">Outputs</h2>\n<table>\n");
    heading(
        page,
        None,
        &[("", "load"), ("", "kind"), ("", "strip"), ("", "wire"), ("", "address"), ("", "output says")],
    );
    page.push_str("<tbody>\n");
    for line in &sheet.outputs {
        let wire = wire(&line.strip, &line.wire, &line.terminal);
        let _ = writeln!(
            page,
            "<tr>{}<td>{}</td>{wire}<td>{}</td></tr>",
            named(&line.name, &line.label),
            escaped(&line.kind),
            readings(&line.does)
        );
    }
    page.push_str("</tbody>\n</table>\n</section>\n");
}

fn wiring(sheet: &Sheet, page: &mut String) {
    page.push_str("<section aria-labelledby=\"wiring\">\n<h2 id=\"wiring\">Wire check</h2>\n");
    if !sheet.inputs.is_empty() {
        let _ = writeln!(page, "<p>{WIRING_INTRODUCTION}</p>\n<table class=\"work\">");
        heading(
            page,
            None,
            &[
                ("number", "no."),
                ("", "device"),
                ("", "strip"),
                ("", "wire"),
                ("", "address"),
                ("", "the input must read"),
                ("ticks", YES),
                ("ticks", NO),
            ],
        );
        page.push_str("<tbody>\n");
        for (index, line) in sheet.inputs.iter().enumerate() {
            let wire = wire(&line.strip, &line.wire, &line.terminal);
            let _ = writeln!(
                page,
                "<tr><td class=\"number\">W{}</td>{}{wire}<td>{}</td><td class=\"ticks\">{}</td><td class=\"ticks\">{}</td></tr>",
                index + 1,
                named(&line.name, ""),
                readings(&line.readings),
                tick("yes"),
                tick("no")
            );
        }
        page.push_str("</tbody>\n</table>\n");
    }
    if !sheet.outputs.is_empty() {
        let _ = writeln!(page, "<p>{OUTPUT_INTRODUCTION}</p>\n<table class=\"work\">");
        heading(
            page,
            None,
            &[("", "load"), ("", "strip"), ("", "wire"), ("", "address"), ("ticks", YES), ("ticks", NO)],
        );
        page.push_str("<tbody>\n");
        for line in &sheet.outputs {
            let wire = wire(&line.strip, &line.wire, &line.terminal);
            let _ = writeln!(
                page,
                "<tr>{}{wire}<td class=\"ticks\">{}</td><td class=\"ticks\">{}</td></tr>",
                named(&line.name, ""),
                tick("yes"),
                tick("no")
            );
        }
        page.push_str("</tbody>\n</table>\n");
    }
    page.push_str("</section>\n");
}

fn steps(sheet: &Sheet, page: &mut String) {
    let _ = writeln!(
        page,
        "<section class=\"steps\" aria-labelledby=\"steps\">\n<h2 id=\"steps\">Steps</h2>\n<p>{STEP_INTRODUCTION}</p>"
    );
    for gap in gaps(sheet) {
        let _ = writeln!(page, "<p>{}</p>", escaped(&gap));
    }
    for (index, one) in sheet.parts.iter().enumerate() {
        part(&sheet.title, one, index + 1, page);
    }
    page.push_str("</section>\n");
}

fn part(title: &str, part: &Part, number: usize, page: &mut String) {
    let _ = write!(page, "<h3 id=\"part{number}\">{}", escaped(&part.title));
    if let Some(worth) = part.points {
        let _ = write!(page, " <span class=\"worth\">{} {}</span>", tick("all points"), points(worth));
    }
    page.push_str("</h3>\n");
    for remark in &part.remarks {
        let _ = writeln!(page, "<p class=\"remark\"><b>Note:</b> {}</p>", text(remark));
    }
    if !part.throughout.is_empty() {
        page.push_str("<p class=\"throughout\">In all steps:</p>\n<ul>\n");
        for rule in &part.throughout {
            let _ = writeln!(
                page,
                "<li>{} <span class=\"answer\">{} kept {} not</span></li>",
                text(rule),
                tick("kept"),
                tick("not kept")
            );
        }
        page.push_str("</ul>\n");
    }
    if part.steps.is_empty() {
        return;
    }
    let _ = writeln!(page, "<table class=\"work\" aria-labelledby=\"part{number}\">");
    heading(
        page,
        Some(&format!("{title}. {}", part.title)),
        &[
            ("number", "step"),
            ("does", "do"),
            ("time", "look on"),
            ("expected", "what must be seen"),
            ("ticks", YES),
            ("ticks", NO),
            ("seen", "what was seen"),
        ],
    );
    page.push_str("<tbody>\n");
    for one in &part.steps {
        step(one, page);
    }
    page.push_str("</tbody>\n</table>\n");
}

fn step(step: &Step, page: &mut String) {
    let does: Vec<String> = step.does.iter().map(text).collect();
    let time = if step.watch.least_ns > 0 { watch(step.watch) } else { String::new() };
    let _ = write!(
        page,
        "<tr><th scope=\"row\" class=\"number\">{}</th><td>{}</td><td>{time}</td><td>",
        step.number,
        does.join("<br/>")
    );
    let expected = expected(&step.told);
    if !expected.is_empty() {
        page.push_str("<ul>");
        for line in &expected {
            let _ = write!(page, "<li>{}</li>", text(line));
        }
        page.push_str("</ul>");
    }
    if !step.demands.is_empty() {
        page.push_str("<div class=\"demands\">Asked for:<ul>");
        for demand in &step.demands {
            let _ = write!(page, "<li>{}</li>", text(demand));
        }
        page.push_str("</ul></div>");
    }
    for remark in &step.remarks {
        let _ = write!(page, "<p class=\"remark\"><b>Note:</b> {}</p>", text(remark));
    }
    let _ = writeln!(
        page,
        "</td><td class=\"ticks\">{}</td><td class=\"ticks\">{}</td><td></td></tr>",
        tick("yes"),
        tick("no")
    );
}

fn result(sheet: &Sheet, page: &mut String) {
    let count = sheet.steps().count();
    let _ = write!(
        page,
        "<section class=\"result\" aria-labelledby=\"result\">\n<h2 id=\"result\">Result</h2>\n\
         <p>As expected: <span class=\"blank\"></span> of {count} steps. {} accepted {} not accepted</p>\n\
         <dl class=\"signatures\">\n<div class=\"notes\"><dt>Notes</dt><dd></dd></div>\n",
        tick("accepted"),
        tick("not accepted")
    );
    for field in ["Signature, student", "Date", "Signature, instructor", "Date"] {
        let _ = writeln!(page, "<div><dt>{field}</dt><dd></dd></div>");
    }
    page.push_str("</dl>\n</section>\n");
}

/// Words in which a number and its unit stay on one line.
fn kept_together(words: &str) -> String {
    let mut kept = String::with_capacity(words.len());
    let mut rest = words;
    while let Some((before, after)) = rest.split_once(' ') {
        let unit = after.split([' ', ',', '.', ')', ';', ':']).next().unwrap_or("");
        let is_unit = before.ends_with(|letter: char| letter.is_ascii_digit())
            && matches!(unit.chars().count(), 1..=3)
            && !unit.starts_with(|letter: char| letter.is_ascii_digit());
        kept.push_str(before);
        kept.push(if is_unit { '\u{a0}' } else { ' ' });
        rest = after;
    }
    kept + rest
}

fn text(text: &Text) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Words(words) => escaped(&kept_together(words)),
        Piece::Name(name) => format!("<b>{}</b>", escaped(name)),
        Piece::Code(code) => format!("<code>{}</code>", escaped(code)),
    };
    text.pieces.iter().map(piece).collect()
}
