//! Feedback: for each student one page that tells what went well, what did not and where it first went wrong.
//!
//! ```text
//! ExerciseTexts + Marked + Evidence --> Feedback (sections and texts in pieces) --> HTML | Markdown
//! ```
//!
//! Both forms say the same. What stands in them comes from students and instructors, so that it goes through one function of
//! each renderer before it is set. Of procedures that are kept back a page has the points alone, and of the reference what
//! its devices and loads did in the procedures that are shown.
//!
//! A page is a pure function of what it is made of, and at most [`FEEDBACK_BYTES_MAX`] bytes long.

mod changes;
mod excerpt;
mod findings;
mod model;
mod parting;
mod picture;
mod points_table;
mod procedures;
mod prose;
mod render;
mod summary;

use self::model::{Block, Feedback, Part, Piece, Text};
use super::{Evidence, ExerciseTexts, Marked, Student};
use crate::diagram::SAFETY_SENTENCE;

/// Most bytes of a page. Pictures that have no room are left out first, then whole parts; the page says so.
pub const FEEDBACK_BYTES_MAX: usize = 2_000_000;

/// Most bytes of one message or excerpt.
const REPORT_BYTES_MAX: usize = 16_000;

/// Most bytes of the task that are shown.
const TASK_BYTES_MAX: usize = 48_000;

/// Most items that are listed.
const ITEMS_LISTED_MAX: usize = 300;

/// The page of a student in HTML: one file that needs nothing else.
pub fn html(texts: &ExerciseTexts<'_>, marked: &Marked, evidence: &Evidence) -> String {
    render::html(&feedback(texts, marked, evidence))
}

/// The page of a student in Markdown.
pub fn markdown(texts: &ExerciseTexts<'_>, marked: &Marked, evidence: &Evidence) -> String {
    render::markdown(&feedback(texts, marked, evidence))
}

/// All that is said to a student.
fn feedback<'a>(texts: &ExerciseTexts<'_>, marked: &Marked, evidence: &'a Evidence) -> Feedback<'a> {
    let mut parts = findings::parts(marked);
    parts.extend(procedures::parts(texts, marked, evidence));
    parts.extend(procedures::kept_back(texts, marked));
    parts.extend(task(texts.task));
    Feedback {
        title: texts.scheme.title.clone(),
        student: student(&marked.student),
        outcome: summary::outcome(texts.scheme, marked),
        summary: summary::summary(texts.scheme, marked),
        parts,
        last: vec![points_table::points(texts.scheme, marked), caution()],
    }
}

/// Name and id.
fn student(student: &Student) -> Text {
    let person = |name: &str| Text::default().piece(Piece::Person(name.to_owned()));
    match &student.name {
        Some(name) if name != &student.id => {
            person(name).words(" (").piece(Piece::Person(student.id.clone())).words(")")
        }
        _ => person(&student.id),
    }
}

/// The task as it was handed out.
fn task<'a>(task: &str) -> Option<Part<'a>> {
    if task.trim().is_empty() {
        return None;
    }
    let mut blocks = prose::blocks(&cropped(task, TASK_BYTES_MAX));
    blocks.retain(|block| !matches!(block, Block::Rule));
    let mut part = Part::new("task", Text::new("What was asked"));
    part.blocks.push(Block::Folded(Text::new("The task, as it was handed out"), blocks));
    Some(part)
}

fn caution<'a>() -> Part<'a> {
    let mut part = Part::new("caution", Text::new("What this does not say"));
    part.blocks.push(Block::Remark(
        "Caution",
        Text::new(SAFETY_SENTENCE).words(
            " Before anyone wires or touches a panel: lockout and tagout (OSHA 29 CFR 1910.147), and test for the absence of \
             voltage. Emergency stops work by hard-wired means, not by the program (ISO 13850, IEC 60204-1).",
        ),
    ));
    part
}

/// A text in at most so many bytes, cut at the end of a line or of a character, and with a note if it was cut.
fn cropped(text: &str, bytes_max: usize) -> String {
    if text.len() <= bytes_max {
        return text.to_owned();
    }
    let mut end = bytes_max;
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let kept = text.get(..end).unwrap_or_default();
    let kept = kept.rsplit_once('\n').map_or(kept, |(whole, _)| whole);
    format!("{kept}\n\n… {} more bytes are left out here\n", text.len() - kept.len())
}
