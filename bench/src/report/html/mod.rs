//! The page of a report.

mod picture;
mod session;
mod single;
mod style;

use std::fmt::Write as _;

use self::style::{script, styles};
use super::{Fact, VerdictWord};
use crate::{
    coverage::{Report, render},
    diagram::SAFETY_SENTENCE,
    render::page::{Page, escaped},
};

pub use self::{picture::Picture, session::session, single::run};

/// Most bytes that sources with their coverage take in a page.
const SOURCES_BYTES_MAX: usize = 1_500_000;

/// A page with its frame.
fn document(title: &str, body: String) -> String {
    let (styles, script) = (styles(), script());
    let styles: Vec<&str> = styles.iter().map(String::as_str).collect();
    Page { title: title.to_owned(), styles, script: &script, body }.document()
}

/// Head of the page: what it is about, and where its parts are.
fn head(title: &str, under: &str, parts: &[(&str, &str)], body: &mut String) {
    let _ = write!(body, "<header>\n<h1>{}</h1>\n<p>{}</p>\n</header>\n", escaped(title), escaped(under));
    body.push_str("<nav aria-label=\"Parts of this report\">\n<ul>\n");
    for (anchor, name) in parts {
        let _ = writeln!(body, "<li><a href=\"#{anchor}\">{name}</a></li>");
    }
    body.push_str("</ul>\n</nav>\n");
}

/// A verdict as sign and word.
fn verdict(word: VerdictWord) -> String {
    let (sign, class) = word.sign();
    format!("<span class=\"verdict {class}\"><span aria-hidden=\"true\">{sign}</span> {}</span>", word.word())
}

/// The source with its coverage, or why it is not there.
fn source(coverage: Option<&Report>, body: &mut String) {
    let Some(report) = coverage else {
        body.push_str(
            "<section aria-labelledby=\"source\">\n<h2 id=\"source\">Source</h2>\n\
             <p>The program came as an image, without its source.</p>\n</section>\n",
        );
        return;
    };
    let mut sections = String::new();
    render::sections(report, &mut sections);
    if sections.len() > SOURCES_BYTES_MAX {
        body.push_str(
            "<section aria-labelledby=\"source\">\n<h2 id=\"source\">Source</h2>\n\
             <p>The source with its coverage would take more room than this report has; \
             <code>--coverage-html FILE</code> writes it to a file of its own.</p>\n</section>\n",
        );
        return;
    }
    body.push_str(&sections);
    let _ = writeln!(body, "<p class=\"definitions\">{}</p>", render::DEFINITIONS);
}

/// What it was made of, and what it does not show.
fn facts(facts: &[Fact], body: &mut String) {
    body.push_str("<section aria-labelledby=\"facts\">\n<h2 id=\"facts\">Facts</h2>\n<dl class=\"facts\">\n");
    for fact in facts {
        let _ = writeln!(body, "<dt>{}</dt><dd>{}</dd>", fact.term, escaped(&fact.text));
    }
    let _ = write!(
        body,
        "</dl>\n<div class=\"caution\">\n<p><strong>Caution.</strong> {}</p>\n<ul>\n\
         <li>Before anyone wires or touches a panel: lockout and tagout (OSHA 29 CFR 1910.147), and test for the absence \
         of voltage.</li>\n\
         <li>Emergency stops work by hard-wired means, not by the program (ISO 13850, IEC 60204-1).</li>\n\
         <li>Local codes and the judgement of a licensed practitioner come before anything shown here.</li>\n</ul>\n\
         </div>\n</section>\n",
        escaped(SAFETY_SENTENCE)
    );
}
