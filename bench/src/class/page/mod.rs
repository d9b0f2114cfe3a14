//! `class.html`: the page of a class, for the instructor, who also sees what is kept back from students.
//!
//! It goes from what must be done to what may be looked up: who needs help, which part was hard for everyone, whether the
//! exercise is any good; then the commonest errors, first moments of divergence, the spread of marks and all students. It has
//! no script. Of a large class it names as many as one can read ([`MEMBERS_MAX`]) and tells how many more there are.

mod analysis;
mod common;
mod hard;
mod help;
mod marks;
mod members;
mod told;

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use self::told::{counted_students, section};
use super::ClassResults;
use crate::{
    diagram::SAFETY_SENTENCE,
    marking::{State, Student},
    render::page::{Page, escaped},
};

const STYLE: &str = include_str!("class.css");

/// Most students in the table of all; the gradebook has all of them.
pub const MEMBERS_MAX: usize = 1_000;

/// Most students in each table of those who need help.
pub const HELP_MAX: usize = 300;

/// The page. `feedback` gives the address of a student's own page, relative to this one; `None` where there is none.
pub fn page(results: &ClassResults, feedback: &dyn Fn(&Student) -> Option<String>) -> String {
    let class = Told { results, feedback };
    let mut body = String::new();
    head(&class, &mut body);
    body.push_str("<main>\n");
    section("help", "Who needs help", &mut body, |body| help::help(&class, body));
    section("hard", "What was hard for everyone", &mut body, |body| hard::hard(results, body));
    section("good", "Is the exercise any good?", &mut body, |body| analysis::analysis(results, body));
    section("errors", "Commonest errors", &mut body, |body| common::errors(results, body));
    section("moments", "Where runs first went wrong", &mut body, |body| common::divergences(results, body));
    section("marks", "How the marks are spread", &mut body, |body| marks::marks(results, body));
    section("students", "All students", &mut body, |body| members::members(&class, body));
    body.push_str("</main>\n");
    let _ = writeln!(body, "<footer><p>{}</p></footer>", escaped(SAFETY_SENTENCE));
    let title = format!("Class: {}", results.scheme.title);
    Page { title, styles: vec![STYLE], script: "", body }.document()
}

/// What the parts of the page are made of.
struct Told<'a> {
    results: &'a ClassResults,
    feedback: &'a dyn Fn(&Student) -> Option<String>,
}

impl Told<'_> {
    /// Name and id of a student, with the way to the page of the student.
    fn student(&self, student: &Student) -> String {
        // A name that nobody can see could not be chosen either.
        let id = match student.id.trim().width() {
            0 => "(a name of blanks)".to_owned(),
            _ => escaped(&student.id),
        };
        let linked = match (self.feedback)(student) {
            Some(address) => format!("<a href=\"{}\">{id}</a>", escaped(&address)),
            None => id,
        };
        match &student.name {
            Some(name) => format!("{linked} <span class=\"aside\">{}</span>", escaped(name)),
            None => linked,
        }
    }
}

fn head(class: &Told<'_>, body: &mut String) {
    let results = class.results;
    let statistics = &results.statistics;
    let mut states: Vec<String> = State::ALL
        .iter()
        .filter(|state| statistics.count(**state) > 0)
        .map(|state| format!("{} {}", state.words(), statistics.count(*state)))
        .collect();
    states.insert(0, counted_students(results.members.len()));
    let _ = write!(
        body,
        "<header>\n<h1>{}</h1>\n<p>{}</p>\n<p>For the instructor: this page tells of procedures that are kept back from \
         students.</p>\n</header>\n<nav aria-label=\"Parts of this page\">\n<ul>\n",
        escaped(&results.scheme.title),
        states.join(" · ")
    );
    for (anchor, name) in [
        ("help", "Who needs help"),
        ("hard", "What was hard"),
        ("good", "Is the exercise any good?"),
        ("errors", "Errors"),
        ("moments", "First moments"),
        ("marks", "Marks"),
        ("students", "All students"),
    ] {
        let _ = writeln!(body, "<li><a href=\"#{anchor}\">{name}</a></li>");
    }
    body.push_str("</ul>\n</nav>\n");
}

#[cfg(test)]
mod tests {
    use super::STYLE;

    #[test]
    fn the_style_asks_for_nothing_and_ends_nothing() {
        assert!(!STYLE.contains("url(") && !STYLE.contains("@import") && !STYLE.contains('<'));
    }
}
