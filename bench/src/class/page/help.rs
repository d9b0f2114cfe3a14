//! Who needs help, and with what.

use std::fmt::Write as _;

use super::{
    HELP_MAX, Told,
    told::{self, counted_programs, counted_students, end_table, more, table},
};
use crate::{
    class::{ClassResults, Member, gradebook},
    marking::{ItemVerdict, State},
    render::page::escaped,
};

/// Most items that are named for a student.
const MISSING_MAX: usize = 3;

/// Most pieces that are told to be missing in common.
const COMMON_MAX: usize = 5;

/// The part of the page.
pub(super) fn help(class: &Told<'_>, body: &mut String) {
    let results = class.results;
    let out_of = results.scheme.out_of;
    let not_run: Vec<&Member> = {
        let mut members: Vec<&Member> = results.members.iter().filter(|it| it.state != State::Ran).collect();
        // Sorting keeps the order of the class among equals.
        members.sort_by_key(|it| it.state);
        members
    };
    let mut weak: Vec<&Member> =
        results.members.iter().filter(|it| it.state == State::Ran && it.is_below_half(out_of)).collect();
    weak.sort_by_key(|it| it.total);
    if not_run.is_empty() && weak.is_empty() {
        let told = if results.members.is_empty() {
            "There are no students in this class."
        } else {
            "Nobody: every program ran, and earned at least half of the points."
        };
        let _ = writeln!(body, "<p>{told}</p>");
        return;
    }
    if !not_run.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>{}</strong> without a program that ran. With a program that does not compile begin at its first \
             error: the others often go with it.</p>",
            counted_students(not_run.len())
        );
        without_a_run(class, &not_run, body);
    }
    if !weak.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>{}</strong> whose program ran, but earned less than half of {}.</p>",
            counted_students(weak.len()),
            out_of.counted()
        );
        missing_in_common(results, &weak, body);
        below_half(class, &weak, body);
    }
}

fn without_a_run(class: &Told<'_>, members: &[&Member], body: &mut String) {
    let columns = [("", "student"), ("", "state"), ("", "first error")];
    table("lines", "Students without a program that ran", &columns, body);
    for member in members.iter().take(HELP_MAX) {
        let error = member
            .first_error
            .as_ref()
            .map_or_else(|| "–".to_owned(), |name| format!("<code>{}</code>", escaped(name)));
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{error}</td></tr>",
            class.student(&member.student),
            told::state(member.state)
        );
    }
    end_table(body);
    more(members.len().saturating_sub(HELP_MAX), "students", "gradebook.csv has all of them", body);
}

/// What most of the weak lack.
fn missing_in_common(results: &ClassResults, weak: &[&Member], body: &mut String) {
    let mut lacks: Vec<(usize, usize)> = (0..results.scheme.items.len())
        .map(|index| (index, weak.iter().filter(|member| lacks(member, index)).count()))
        .filter(|(_, count)| *count * 2 >= weak.len())
        .collect();
    lacks.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    if lacks.is_empty() || weak.len() < 2 {
        return;
    }
    body.push_str("<p>What at least half of them lack:</p>\n<ul>\n");
    for (index, count) in lacks.iter().take(COMMON_MAX) {
        let Some(item) = results.scheme.items.get(*index) else { continue };
        let _ = writeln!(body, "<li>{}: {count} of {}</li>", told::item(item, index + 1), weak.len());
    }
    body.push_str("</ul>\n");
    more(lacks.len().saturating_sub(COMMON_MAX), "items", "the next part has all of them", body);
}

fn below_half(class: &Told<'_>, members: &[&Member], body: &mut String) {
    let results = class.results;
    let caption = format!("{} below half of the points, the lowest first", counted_programs(members.len()));
    let columns = [("", "student"), ("figure", "points"), ("figure", "share"), ("", "not passed")];
    table("lines", &caption, &columns, body);
    for member in members.iter().take(HELP_MAX) {
        let missing: Vec<usize> =
            (0..results.scheme.items.len()).filter(|index| lacks(member, *index)).collect();
        let mut pieces: Vec<String> = missing
            .iter()
            .take(MISSING_MAX)
            .filter_map(|index| Some(told::item(results.scheme.items.get(*index)?, index + 1)))
            .collect();
        if let Some(more @ 1..) = missing.len().checked_sub(MISSING_MAX) {
            pieces.push(format!("{more} more"));
        }
        let share = gradebook::percent(member.total, results.scheme.out_of).unwrap_or_default();
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{}</th><td class=\"figure\">{}</td><td class=\"figure\">{share} %</td><td>{}</td></tr>",
            class.student(&member.student),
            member.total,
            pieces.join(" · ")
        );
    }
    end_table(body);
    more(members.len().saturating_sub(HELP_MAX), "students", "gradebook.csv has all of them", body);
}

/// Whether a student has not passed an item.
fn lacks(member: &Member, index: usize) -> bool {
    member.items.get(index).is_some_and(|(verdict, _)| *verdict != ItemVerdict::Passed)
}
