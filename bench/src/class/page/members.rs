//! All students.

use std::fmt::Write as _;

use super::{
    MEMBERS_MAX, Told,
    told::{self, end_table, more, table, verdict_sign},
};
use crate::{
    class::{Member, gradebook},
    marking::{ItemVerdict, Points, State},
};

/// With more items than these their columns would not fit on paper: then it is told how many were passed.
const COLUMNS_MAX: usize = 12;

/// The part of the page.
pub(super) fn members(class: &Told<'_>, body: &mut String) {
    let results = class.results;
    if results.members.is_empty() {
        body.push_str("<p>There are no students in this class.</p>\n");
        return;
    }
    let count = results.scheme.items.len();
    let has_columns = count <= COLUMNS_MAX;
    let has_deductions = results.members.iter().any(|member| member.deducted > Points::ZERO);
    if has_columns {
        body.push_str(
            "<p>Columns have the numbers of the items. ✓ passed, ~ passed in part, ✗ failed, ! could not be run, – not run; \
             beside it the points.</p>\n",
        );
    }
    let numbers: Vec<String> = (1..=count).map(|number| number.to_string()).collect();
    let mut columns = vec![("", "student"), ("", "state")];
    if has_columns {
        columns.extend(numbers.iter().map(|number| ("result", number.as_str())));
    } else {
        columns.push(("figure", "items passed"));
    }
    if has_deductions {
        columns.push(("figure", "off"));
    }
    columns.extend([("figure", "total"), ("figure", "share")]);
    table("lines all", "All students in the order of the class", &columns, body);
    for member in results.members.iter().take(MEMBERS_MAX) {
        let _ = write!(
            body,
            "<tr><th scope=\"row\">{}</th><td>{}</td>",
            class.student(&member.student),
            told::state(member.state)
        );
        if has_columns {
            member.items.iter().for_each(|(verdict, points)| result(*verdict, *points, body));
        } else {
            let passed = member.items.iter().filter(|(verdict, _)| *verdict == ItemVerdict::Passed).count();
            let _ = write!(body, "<td class=\"figure\">{passed} of {count}</td>");
        }
        marks(member, results.scheme.out_of, has_deductions, body);
    }
    end_table(body);
    more(
        results.members.len().saturating_sub(MEMBERS_MAX),
        "students",
        "gradebook.csv has all of them",
        body,
    );
}

fn result(verdict: ItemVerdict, points: Points, body: &mut String) {
    let (sign, class) = verdict_sign(verdict);
    let points = if verdict == ItemVerdict::NotRun { String::new() } else { format!(" {points}") };
    let _ = write!(
        body,
        "<td class=\"result\"><span class=\"sign {class}\" aria-hidden=\"true\">{sign}</span>\
         <span class=\"unseen\">{}</span>{points}</td>",
        verdict.words()
    );
}

fn marks(member: &Member, out_of: Points, has_deductions: bool, body: &mut String) {
    let says_something = member.state != State::InternalFault;
    if has_deductions {
        let off =
            if member.deducted > Points::ZERO { format!("−{}", member.deducted) } else { String::new() };
        let _ = write!(body, "<td class=\"figure\">{off}</td>");
    }
    let (total, share) = if says_something {
        let share = gradebook::percent(member.total, out_of).map_or(String::new(), |it| format!("{it} %"));
        (member.total.to_string(), share)
    } else {
        ("no mark".to_owned(), String::new())
    };
    let _ = writeln!(body, "<td class=\"figure\">{total}</td><td class=\"figure\">{share}</td></tr>");
}
