//! The text of a file with a mark for every line, and below it the decisions that end there.

use std::fmt::Write as _;

use super::{anchor, decision};
use crate::{
    coverage::{BranchReport, Mark, Place, Report, lines},
    render::page::escaped,
};

/// Adds a file.
pub(super) fn file(report: &Report, file: usize, page: &mut String) {
    let Some(name) = report.files.get(file).map(|file| escaped(&file.name)) else { return };
    let _ = write!(
        page,
        "<h3>{name}</h3>\n<table class=\"source\">\n\
         <colgroup><col class=\"of-sign\"/><col class=\"of-number\"/><col/></colgroup>\n<thead><tr>\
         <th scope=\"col\"><span class=\"unseen\">state</span></th>\
         <th scope=\"col\"><span class=\"unseen\">line</span></th>\
         <th scope=\"col\"><span class=\"unseen\">text</span></th></tr></thead>\n<tbody>\n"
    );
    for (line, number) in lines(report, file).iter().zip(1u32..) {
        let anchor = anchor(Place { file: file as u32, line: number, ..Place::default() });
        let (class, sign) = match line.mark {
            Mark::Nothing => ("nothing", ""),
            Mark::Covered => ("covered", "+"),
            Mark::Partly => ("partly", "~"),
            Mark::Missed => ("missed", "−"),
        };
        let word = line.mark.word();
        let _ = writeln!(
            page,
            "<tr id=\"{anchor}\" class=\"{class}\"><td class=\"sign\"><span aria-hidden=\"true\">{sign}</span>\
             <span class=\"unseen\">{word}</span></td><td class=\"number\"><a href=\"#{anchor}\">{number}</a></td>\
             <td class=\"text\"><code>{}</code></td></tr>",
            escaped(line.text)
        );
        let ways: Vec<String> = line.branches.iter().filter_map(|branch| never_gone(branch)).collect();
        let decisions: Vec<_> = line.decisions.iter().filter(|decision| decision.is_evaluated()).collect();
        if ways.is_empty() && decisions.is_empty() {
            continue;
        }
        page.push_str("<tr class=\"below\"><td colspan=\"3\">\n");
        for way in ways {
            let _ = writeln!(page, "<p class=\"ways\">{way}</p>");
        }
        decisions.into_iter().for_each(|it| decision::table(it, page));
        page.push_str("</td></tr>\n");
    }
    page.push_str("</tbody>\n</table>\n");
}

/// The ways of a branch that were not gone.
fn never_gone(branch: &BranchReport) -> Option<String> {
    if !branch.is_reached() {
        return None;
    }
    let missing: Vec<String> = branch
        .arms
        .iter()
        .filter(|arm| !arm.covered)
        .map(|arm| format!("<code>{}</code>", escaped(&arm.label)))
        .collect();
    (!missing.is_empty()).then(|| format!("{} never: {}", escaped(&branch.keyword), missing.join(", ")))
}
