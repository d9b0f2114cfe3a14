//! A report as one HTML page that needs nothing else: figures, what is missing, the source with marks, and for every
//! decision the values that were seen and what shows each condition.
//!
//! Nothing is fetched and nothing runs: the content security policy allows the style sheet of the page, by its digest,
//! and no script, picture, font or form at all. Texts are escaped, hidden and control characters made visible. States
//! are words and signs, coloured besides. Light and dark follow the reader's system; on paper everything is black.

mod decision;
mod source;

use std::fmt::Write as _;

use super::{
    summary::notes,
    table::{HEADINGS, columns, counts, percent, rows},
};
use crate::{
    coverage::{Finding, Place, Report, UnitReport},
    diagram::SAFETY_SENTENCE,
    render::page::{Page, escaped, inline},
};

/// The style sheet of all that [`html`] and [`sections`] write.
pub(crate) const STYLE: &str = include_str!("coverage.css");

/// The page.
pub fn html(report: &Report) -> String {
    let names: Vec<&str> = report.files.iter().map(|file| file.name.as_str()).collect();
    let names = names.join(", ");
    let mut body = format!("<header>\n<h1>Coverage</h1>\n<p>{}</p>\n</header>\n<main>\n", escaped(&names));
    sections(report, &mut body);
    let _ = write!(
        body,
        "</main>\n<footer>\n<p>{DEFINITIONS}</p>\n<p>{}</p>\n</footer>\n",
        escaped(SAFETY_SENTENCE)
    );
    Page { title: format!("Coverage: {names}"), styles: vec![STYLE], script: "", body }.document()
}

/// What the words mean.
pub(crate) const DEFINITIONS: &str = "A condition is shown to decide by <em>unique cause</em> when two evaluations \
     differ in it alone and come out differently; by <em>masking</em> when other conditions differ too, and the logic of \
     the decision shows that they did not matter. What is covered was run; whether it was right is for the expectations \
     of the tests to say.";

/// Figures, what is missing, and the source with its marks, each under a heading of the second rank.
pub(crate) fn sections(report: &Report, page: &mut String) {
    figures(report, page);
    missing(report, page);
    page.push_str("<section aria-labelledby=\"source\">\n<h2 id=\"source\">Source</h2>\n");
    page.push_str(
        "<p class=\"legend\"><span class=\"sign covered\">+</span> run, and nothing is missing \
         <span class=\"sign partly\">~</span> run, but something is missing \
         <span class=\"sign missed\">−</span> not run</p>\n",
    );
    for file in 0..report.files.len() {
        source::file(report, file, page);
    }
    page.push_str("</section>\n");
}

fn figures(report: &Report, page: &mut String) {
    page.push_str(
        "<section aria-labelledby=\"figures\">\n<h2 id=\"figures\">Figures</h2>\n<div class=\"wide\" role=\"group\" aria-label=\"Figures\" tabindex=\"0\">\n<table class=\"figures\">\n\
         <thead><tr><th scope=\"col\">unit</th>",
    );
    for heading in HEADINGS {
        let _ = write!(page, "<th scope=\"col\">{heading}</th>");
    }
    page.push_str("</tr></thead>\n<tbody>\n");
    let places = report.units.iter().map(|unit| Some(unit.place)).chain([None]);
    for ((name, figures), place) in rows(report).into_iter().zip(places) {
        let name = escaped(&name);
        let name = match place {
            Some(place) => format!("<a href=\"#{}\">{name}</a>", anchor(place)),
            None => name,
        };
        let _ = write!(page, "<tr><th scope=\"row\">{name}</th>");
        for figure in columns(figures) {
            if figure.total == 0 {
                page.push_str("<td>–</td>");
                continue;
            }
            let (counts, percent) = (counts(figure), percent(figure));
            let class = if figure.is_complete() { "covered" } else { "partly" };
            let _ = write!(
                page,
                "<td class=\"{class}\"><meter min=\"0\" max=\"{}\" value=\"{}\" aria-hidden=\"true\"></meter> \
                 {counts} <span class=\"percent\">{percent}</span></td>",
                figure.total, figure.covered
            );
        }
        page.push_str("</tr>\n");
    }
    page.push_str("</tbody>\n</table>\n</div>\n");
    for note in notes(report) {
        let _ = writeln!(page, "<p>{}</p>", inline(&note));
    }
    page.push_str("</section>\n");
}

fn missing(report: &Report, page: &mut String) {
    page.push_str("<section aria-labelledby=\"missing\">\n<h2 id=\"missing\">What is missing</h2>\n");
    let units = || report.units.iter().filter(|unit| !unit.missing.is_empty());
    if units().next().is_none() {
        page.push_str("<p>Nothing.</p>\n");
    }
    for unit in units() {
        let file = report.files.get(unit.place.file as usize).map_or("", |file| file.name.as_str());
        missing_of(unit, file, page);
    }
    page.push_str("</section>\n");
}

fn missing_of(unit: &UnitReport, file: &str, page: &mut String) {
    let (name, file) = (escaped(&unit.name), escaped(file));
    let _ = writeln!(page, "<h3>{name} <span class=\"file\">{file}</span></h3>\n<ul class=\"missing\">");
    for Finding { place, subject, message, advice, .. } in &unit.missing {
        let _ = write!(page, "<li><a href=\"#{}\">line {}</a> ", anchor(*place), place.line);
        if let Some(subject) = subject {
            let _ = write!(page, "<code>{}</code>: ", escaped(subject));
        }
        page.push_str(&inline(message));
        if let Some(advice) = advice {
            let _ = write!(page, "<br/><span class=\"advice\">{}</span>", inline(advice));
        }
        page.push_str("</li>\n");
    }
    page.push_str("</ul>\n");
}

/// The name of a line in the page.
fn anchor(place: Place) -> String {
    format!("f{}l{}", place.file, place.line)
}
