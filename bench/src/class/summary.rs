//! The class in a few lines for the terminal.

use std::fmt::Write as _;

use latchwork_compiler::render::visible;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::{ClassResults, Member, gradebook::percent};
use crate::{
    diagram::counted,
    marking::{Points, State},
};

/// Narrowest table; narrower terminals break its lines.
const WIDTH_MIN: usize = 40;

/// Widest column of names.
const NAME_MAX: usize = 40;

/// Blanks between two columns.
const GAP: &str = "  ";

/// The marks of a class as text of at most `width` columns (at least 40), with at most `rows_max` students, each on a line: those
/// who need help first, in the order of the class. Names are texts of others and shown as [`visible`] makes them.
pub fn summary(results: &ClassResults, width: usize, rows_max: usize) -> String {
    let mut text = String::new();
    table(results, width.max(WIDTH_MIN), rows_max, &mut text);
    let statistics = &results.statistics;
    let states: Vec<String> =
        statistics.states.iter().map(|(state, count)| format!("{} {count}", state.words())).collect();
    if states.is_empty() {
        return "no students\n".to_owned();
    }
    let _ = writeln!(text, "{}: {}", counted(results.members.len() as u64, "student"), states.join(", "));
    let totals = &statistics.totals;
    if let (Some(mean), Some(median)) = (totals.mean, totals.median) {
        let _ = writeln!(
            text,
            "marks of {} who handed something in: mean {}, median {}, of {}",
            totals.students,
            Points::of(mean),
            Points::of(median),
            results.scheme.out_of.counted()
        );
        let _ = writeln!(text, "{} below half of the points", totals.below_half);
    }
    text
}

fn table(results: &ClassResults, width: usize, rows_max: usize, text: &mut String) {
    let out_of = results.scheme.out_of;
    let needs_help = |member: &&Member| member.state != State::Ran || member.is_below_half(out_of);
    let (first, then): (Vec<&Member>, Vec<&Member>) = results.members.iter().partition(needs_help);
    let shown: Vec<[String; 3]> = first
        .into_iter()
        .chain(then)
        .take(rows_max)
        .map(|member| {
            let name = match &member.student.name {
                Some(name) => format!("{} ({})", visible(&member.student.id), visible(name)),
                None => visible(&member.student.id),
            };
            [name, mark(member, out_of), member.state.words().to_owned()]
        })
        .collect();
    let widest = |column: usize| {
        shown.iter().filter_map(|row| row.get(column)).map(|it| it.width()).max().unwrap_or(0)
    };
    let (marks, states) = (widest(1), widest(2));
    let room = width.saturating_sub(marks + 2 * GAP.len());
    let names = widest(0).min(NAME_MAX).min(room.saturating_sub(states).max(room / 2));
    let states = room.saturating_sub(names);
    for [name, mark, state] in &shown {
        let name = cropped(name, names);
        let blanks = " ".repeat(names.saturating_sub(name.width()));
        let _ = writeln!(text, "{name}{blanks}{GAP}{mark:>marks$}{GAP}{}", cropped(state, states));
    }
    if let Some(more @ 1..) = results.members.len().checked_sub(shown.len()) {
        let _ = writeln!(text, "… and {more} more: gradebook.csv has all of them");
    }
    if !shown.is_empty() {
        text.push('\n');
    }
}

/// "6.5 of 10, 65.0 %"; nothing of a mark that says nothing.
fn mark(member: &Member, out_of: Points) -> String {
    if member.state == State::InternalFault {
        return "no mark".to_owned();
    }
    let share = percent(member.total, out_of).map_or(String::new(), |percent| format!(", {percent} %"));
    format!("{} of {out_of}{share}", member.total)
}

/// A text of at most so many columns, with a sign where something was left out.
fn cropped(text: &str, columns: usize) -> String {
    if text.width() <= columns {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = 1;
    for character in text.chars() {
        used += character.width().unwrap_or(0);
        if used > columns {
            break;
        }
        kept.push(character);
    }
    kept + "…"
}
