//! The head of a page: how it went on one line, what went well, what to look at first.

use super::{
    findings::place,
    model::{Piece, Text, Tone},
    procedures::anchor,
};
use crate::{
    diagram::counted,
    marking::{
        Finding, FindingKind, Gravity, Item, ItemKind, ItemResult, ItemVerdict, Marked, MarkingScheme, State,
    },
};

/// Most procedures that are named as having gone well.
const NAMED_MAX: usize = 3;

/// Points, and how far it came.
pub(super) fn outcome(scheme: &MarkingScheme, marked: &Marked) -> Text {
    let points = format!("{} of {}", marked.total, scheme.out_of.counted());
    let tone = match marked.state {
        State::InternalFault | State::NothingHandedIn => Tone::Open,
        _ => Tone::of(marked.total, scheme.out_of),
    };
    let state = match marked.state {
        State::Ran => "the program was run",
        State::NotCompiled => "the program does not compile",
        State::Empty => "there is no program in what was handed in",
        State::NothingHandedIn => "nothing was handed in",
        State::OverBudget => "what was handed in is too large",
        State::Unreadable => "what was handed in could not be read",
        State::InternalFault => "an internal fault of latchwork ended the marking",
    };
    Text::default().verdict(tone, points).words(format!(": {state}."))
}

/// A few sentences.
pub(super) fn summary(scheme: &MarkingScheme, marked: &Marked) -> Vec<Text> {
    match marked.state {
        State::Ran => ran(scheme, marked),
        State::NotCompiled => not_compiled(marked),
        State::Empty => vec![Text::new(
            "A program stands between PROGRAM and END_PROGRAM, in a file whose name ends in .st or .il; there is none in what was \
             handed in. Look whether these are the right files.",
        )],
        State::NothingHandedIn => vec![Text::new(
            "Nothing is there under this name. If you did hand something in, tell your instructor: a file may lie under \
             another name.",
        )],
        State::OverBudget => vec![Text::new(
            "The exercise sets a limit to what is handed in, and this is beyond it. What is too large stands below; make it \
             smaller, and hand it in again.",
        )],
        State::Unreadable => vec![Text::new(
            "The files that were handed in could not be read as programs. Save them as plain text (UTF-8), and hand \
             them in again.",
        )],
        State::InternalFault => vec![Text::new(
            "A defect of latchwork showed while your program was marked. That is not your mistake, and the points above say \
             nothing about your work. Your instructor sees this too.",
        )],
    }
}

fn first_error(marked: &Marked) -> Option<&Finding> {
    marked
        .findings
        .iter()
        .find(|finding| finding.kind == FindingKind::Compile && finding.severity == Gravity::Error)
}

fn not_compiled(marked: &Marked) -> Vec<Text> {
    let mut text = Text::new("No procedure could be run, since the program has errors. ");
    text = match first_error(marked) {
        Some(error) => {
            let place = place(error).map(|place| format!(" ({place})")).unwrap_or_default();
            text.strong("Look at this first:")
                .words(" ")
                .then(Text::message(&error.message))
                .words(format!("{place}."))
        }
        None => text.words("Compile it yourself before you hand it in again."),
    };
    vec![text]
}

/// What went well, and what to look at first, of a program that was run.
fn ran(scheme: &MarkingScheme, marked: &Marked) -> Vec<Text> {
    let shown = || {
        let all = scheme.items.iter().zip(&marked.items).enumerate();
        all.filter(|(_, (item, _))| item.kind == ItemKind::Procedure && item.shown)
    };
    let count = shown().count() as u64;
    let passed: Vec<&Item> =
        shown().filter(|(_, (_, result))| is_passed(result)).map(|(_, (item, _))| item).collect();
    let mut sentences = Vec::new();
    let kept_well = scheme
        .items
        .iter()
        .zip(&marked.items)
        .all(|(item, result)| item.shown || result.points >= item.points);
    if count == 0 {
        sentences.extend(kept_well.then(|| Text::new("Everything went as it should. Well done.")));
    } else if passed.len() as u64 == count {
        sentences.push(Text::new(match (kept_well, marked.deducted.hundredths()) {
            (true, 0) => "Everything went as it should. Well done.",
            (true, _) => "All procedures pass. Well done.",
            (false, _) => "All procedures that are shown pass. Well done.",
        }));
    } else {
        sentences.push(match passed.as_slice() {
            [] if shown().all(|(_, (_, result))| result.verdict == ItemVerdict::NotRun) => Text::new(
                "The program compiles, but it does not fit the panel, so that no procedure could be run.",
            ),
            [] => Text::new("The program compiles; none of the procedures shown passes yet."),
            some if some.len() <= NAMED_MAX => {
                let names = some.iter().map(|item| quoted(&item.title)).collect();
                Text::new("What went well: ").then(Text::list(names)).words(".")
            }
            some => {
                Text::new(format!("What went well: {} of {} pass.", some.len(), counted(count, "procedure")))
            }
        });
    }
    // That a program compiles is worth nothing as long as it does nothing.
    let compiles = scheme.items.iter().zip(&marked.items).find(|(item, _)| item.kind == ItemKind::Compiles);
    if let Some(failure) = compiles.and_then(|(_, result)| result.failure.as_ref()) {
        sentences.push(Text::message(&failure.message).words(".").sentence());
    }
    let first = shown().find(|(_, (_, result))| !is_passed(result));
    let begin = Text::default().strong("Look at this first:").words(" ");
    let broken = |kind: FindingKind| marked.findings.iter().any(|finding| finding.kind == kind);
    if broken(FindingKind::Interface) {
        sentences.push(
            begin
                .piece(refer("interface", "what the panel does not find in the program"))
                .words(". As long as that is missing, procedures fail that otherwise might pass."),
        );
    } else if let Some((index, (item, result))) = first {
        let message = result.failure.as_ref().map(|failure| Text::message(&failure.message));
        let reference = refer(&anchor(index), &item.title);
        let begin = begin.piece(reference);
        sentences.push(match message {
            Some(message) => begin.words(": ").then(message).words("."),
            None => begin.words("."),
        });
    } else if !kept_well {
        sentences.push(begin.words(
            "the task once more, sentence by sentence. A procedure that is kept back tries something that the shown ones do \
             not.",
        ));
    } else if broken(FindingKind::Constraint) {
        sentences.push(begin.piece(refer("constraints", "what the task demands besides")).words("."));
    }
    sentences
}

fn refer(anchor: &str, words: &str) -> Piece {
    Piece::Reference(anchor.to_owned(), words.to_owned())
}

fn is_passed(result: &ItemResult) -> bool {
    result.verdict == ItemVerdict::Passed
}

fn quoted(title: &str) -> Text {
    Text::default().piece(Piece::Emphasis(title.to_owned()))
}
