//! An explanation as a part of an HTML page: the words of the text, the tree as lists.

use super::{
    super::{Explanation, Reason},
    spoken,
    tree::{heading, other_value, statement, way_text},
    untied,
};
use crate::render::page::escaped;

/// An explanation as markup, for an element that may hold paragraphs and lists.
pub(crate) fn markup(explanation: &Explanation) -> String {
    let reason = &explanation.reason;
    let asked = reason.at.scan;
    let mut out = format!("<p>{}</p>", words(&heading(reason, asked)));
    quoted(reason, &mut out);
    parts(reason, asked, &mut out);
    if !explanation.otherwise.is_empty() {
        let (introduced, ways) = (other_value(explanation), &explanation.otherwise);
        out += &format!("<p>{}</p><ul>", words(&introduced));
        ways.iter().for_each(|way| out += &format!("<li>{}</li>", words(&way_text(way))));
        if explanation.more_ways {
            out += "<li>other changes, of as many parts or more</li>";
        }
        out += "</ul>";
    }
    out
}

/// The reasons of a reason; as deep as an explanation goes.
fn parts(reason: &Reason, asked: u32, out: &mut String) {
    if reason.parts.is_empty() {
        return;
    }
    *out += "<ul class=\"because\">";
    for part in &reason.parts {
        *out += "<li>";
        *out += &words(&spoken(part, asked));
        quoted(part, out);
        parts(part, asked, out);
        *out += "</li>";
    }
    *out += "</ul>";
}

/// The statement that did it.
fn quoted(reason: &Reason, out: &mut String) {
    if let Some(statement) = statement(&reason.cause) {
        let (place, text) = (words(&statement.place), words(&statement.text));
        *out += &format!("<p class=\"quoted\">{place} <code>{text}</code></p>");
    }
}

fn words(text: &str) -> String {
    escaped(&untied(text))
}
