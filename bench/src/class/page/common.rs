//! What happened most often.

use std::fmt::Write as _;

use super::told::{self, counted_students, end_table, more, table};
use crate::{
    class::{
        ClassResults,
        commonest::{CommonDivergence, CommonFinding},
    },
    diagram::scale::duration_words,
    marking::FindingKind,
    render::page::{escaped, inline},
};

/// Most findings in the table.
const FINDINGS_MAX: usize = 25;

/// Most moments that are told of an item.
const MOMENTS_MAX: usize = 8;

/// The commonest findings.
pub(super) fn errors(results: &ClassResults, body: &mut String) {
    if results.findings.is_empty() {
        body.push_str("<p>Nothing was found in any submission.</p>\n");
        return;
    }
    body.push_str(
        "<p>What was found in submissions, whatever most students have first. <code>latchwork explain NAME</code> tells of most \
         names at length.</p>\n",
    );
    let columns = [("", "name"), ("figure", "students"), ("figure", "times"), ("", "example")];
    table("lines", "Commonest errors and warnings", &columns, body);
    for finding in results.findings.iter().take(FINDINGS_MAX) {
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\"><code>{}</code><br/><span class=\"aside\">{}</span></th><td class=\"figure\">{}</td>\
             <td class=\"figure\">{}</td><td>{}</td></tr>",
            escaped(&finding.name),
            kind(finding),
            finding.students,
            finding.count,
            example(finding)
        );
    }
    end_table(body);
    more(results.findings.len().saturating_sub(FINDINGS_MAX), "names", "results.json has all of them", body);
}

fn kind(finding: &CommonFinding) -> String {
    let severity = finding.severity.word();
    let kind = match finding.kind {
        FindingKind::Intake => "reading",
        FindingKind::Compile => "compiling",
        FindingKind::Interface => "interface",
        FindingKind::Constraint => "constraint",
        FindingKind::Budget => "size",
        FindingKind::Internal => "latchwork",
    };
    format!("{severity}, {kind}")
}

fn example(finding: &CommonFinding) -> String {
    let example = &finding.example;
    let mut place = vec![escaped(&example.student.id)];
    place.extend(example.file.iter().map(|file| escaped(file)));
    place.extend(example.line.map(|line| format!("line {line}")));
    format!("{} <span class=\"aside\">({})</span>", inline(&example.message), place.join(", "))
}

/// Where runs first went wrong, item by item.
pub(super) fn divergences(results: &ClassResults, body: &mut String) {
    if results.divergences.iter().all(Vec::is_empty) {
        body.push_str("<p>No run went wrong.</p>\n");
        return;
    }
    body.push_str(
        "<p>For each procedure the step at which runs first were not as expected, and when: students in one row stumble over \
         the same thing. Times are simulated, from the start of the run; half of the runs went wrong before the median.</p>\n",
    );
    for ((item, seen), number) in results.scheme.items.iter().zip(&results.divergences).zip(1..) {
        if seen.is_empty() {
            continue;
        }
        let _ = writeln!(body, "<h3>{}</h3>", told::item(item, number));
        let of: u64 = seen.iter().map(|it| it.students).sum();
        let caption = format!(
            "First moments of item {number}: {}",
            counted_students(usize::try_from(of).unwrap_or(usize::MAX))
        );
        let columns = [
            ("", "line of the step"),
            ("figure", "students"),
            ("figure", "median time"),
            ("", "how"),
            ("", "example"),
        ];
        table("lines", &caption, &columns, body);
        seen.iter().take(MOMENTS_MAX).for_each(|it| moment(it, body));
        end_table(body);
        more(seen.len().saturating_sub(MOMENTS_MAX), "moments", "results.json has all of them", body);
    }
}

fn moment(seen: &CommonDivergence, body: &mut String) {
    let line = seen.line.map_or_else(|| "–".to_owned(), |line| line.to_string());
    let _ = writeln!(
        body,
        "<tr><th scope=\"row\">{line}</th><td class=\"figure\">{}</td><td class=\"figure\">{}</td>\
         <td><code>{}</code></td><td>{}</td></tr>",
        seen.students,
        duration_words(seen.median_ns),
        escaped(&seen.name),
        inline(&seen.message)
    );
}
