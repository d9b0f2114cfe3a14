//! The report of a test session.

use std::fmt::Write as _;

use super::{document, facts, head, picture::Picture, single::message, source, verdict};
use crate::{
    diagram::counted,
    render::page::{escaped, inline},
    report::{ProcedureVerdict, SessionParts, VerdictWord},
};

/// Most bytes that the pictures of all failures take in a page.
const PICTURES_BYTES_MAX: usize = 8_000_000;

/// The report of a session as one HTML page.
pub fn session(parts: &SessionParts<'_>) -> String {
    let mut body = String::new();
    let count: usize = parts.files.iter().map(|file| file.procedures.len()).sum();
    let under =
        format!("{} in {}", counted(count as u64, "procedure"), counted(parts.files.len() as u64, "file"));
    let failures = numbered(parts).filter(|(_, procedure)| !procedure.text.is_empty()).count();
    let mut anchors = vec![("verdicts", "Verdicts")];
    if failures > 0 {
        anchors.push(("failures", "What did not pass"));
    }
    if parts.coverage.is_some() {
        anchors.extend([("figures", "Coverage"), ("missing", "What is missing"), ("source", "Source")]);
    }
    anchors.push(("facts", "Facts"));
    head("Test report", &under, &anchors, &mut body);
    body.push_str("<main>\n");
    verdicts(parts, &mut body);
    if failures > 0 {
        told(parts, &mut body);
    }
    if parts.coverage.is_some() {
        source(parts.coverage, &mut body);
    }
    facts(parts.facts, &mut body);
    body.push_str("</main>\n");
    document("Test report", body)
}

/// The procedures of all files with numbers of their own, from 1.
fn numbered<'a>(parts: &SessionParts<'a>) -> impl Iterator<Item = (usize, &'a ProcedureVerdict)> + use<'a> {
    (1..).zip(parts.files.iter().flat_map(|file| &file.procedures))
}

fn verdicts(parts: &SessionParts<'_>, body: &mut String) {
    body.push_str("<section aria-labelledby=\"verdicts\">\n<h2 id=\"verdicts\">Verdicts</h2>\n");
    let words = || numbered(parts).map(|(_, procedure)| procedure.verdict);
    let worst = if words().any(|word| word == VerdictWord::Failed) {
        VerdictWord::Failed
    } else if words().any(|word| word == VerdictWord::Refused) {
        VerdictWord::Refused
    } else if parts.complete {
        VerdictWord::Passed
    } else {
        VerdictWord::NotRun
    };
    let _ = writeln!(
        body,
        "<p class=\"outcome\">{} <span class=\"remarks\">{}</span></p>",
        verdict(worst),
        escaped(parts.summary)
    );
    if !parts.complete {
        body.push_str("<p>The session was ended before all procedures had run.</p>\n");
    }
    let mut number = 0;
    for file in parts.files {
        let _ = write!(
            body,
            "<h3>{}</h3>\n<table class=\"verdicts\">\n<thead><tr><th scope=\"col\">verdict</th>\
             <th scope=\"col\">procedure</th><th scope=\"col\">remarks</th></tr></thead>\n<tbody>\n",
            escaped(&file.name)
        );
        for procedure in &file.procedures {
            number += 1;
            let title = escaped(&procedure.title);
            let title = if procedure.text.is_empty() {
                title
            } else {
                format!("<a href=\"#procedure-{number}\">{title}</a>")
            };
            let message = match procedure.message.as_str() {
                "" => String::new(),
                message => format!("<br/><span class=\"advice\">{}</span>", inline(message)),
            };
            let _ = writeln!(
                body,
                "<tr><td>{}</td><th scope=\"row\">{title}{message}</th><td>{}</td></tr>",
                verdict(procedure.verdict),
                escaped(&procedure.remarks)
            );
        }
        body.push_str("</tbody>\n</table>\n");
    }
    body.push_str("</section>\n");
}

/// What did not pass, as the terminal tells it, with what was recorded.
fn told(parts: &SessionParts<'_>, body: &mut String) {
    body.push_str("<section aria-labelledby=\"failures\">\n<h2 id=\"failures\">What did not pass</h2>\n");
    let mut room = PICTURES_BYTES_MAX;
    let mut left_out = 0;
    for (number, procedure) in numbered(parts).filter(|(_, procedure)| !procedure.text.is_empty()) {
        let title = escaped(&procedure.title);
        let _ = writeln!(body, "<h3 id=\"procedure-{number}\">{} {title}</h3>", verdict(procedure.verdict));
        message(&procedure.text, &format!("Message of procedure {number}"), body);
        let Some(picture) = &procedure.picture else { continue };
        match room.checked_sub(picture.bytes()) {
            Some(rest) => {
                room = rest;
                picture.push(&label(number, procedure), body);
            }
            None => {
                left_out += 1;
                body.push_str("<p class=\"limit\">Its diagram had no room in this page.</p>\n");
            }
        }
    }
    if left_out > 0 {
        let _ = writeln!(
            body,
            "<p class=\"limit\"><strong>Not all diagrams are in this page.</strong> They may take {} MB; {} had no room. \
             Name fewer procedures (<code>--name</code>) for a report with theirs.</p>",
            PICTURES_BYTES_MAX / 1_000_000,
            counted(left_out, "diagram")
        );
    }
    body.push_str("</section>\n");
}

/// A name for a diagram that no other of the page has.
fn label(number: usize, procedure: &ProcedureVerdict) -> String {
    format!("procedure {number}: {}", procedure.title)
}

impl Picture {
    /// Whether it has more bytes than all pictures of a page together may have, so that keeping it is of no use.
    pub fn is_too_large(&self) -> bool {
        self.bytes() > PICTURES_BYTES_MAX
    }
}
