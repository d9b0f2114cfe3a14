//! Exercise files good and bad: each file of `tests/exercise` with what is understood of it and what is said about it.

#![allow(clippy::unwrap_used, reason = "helpers of tests may stop them")]

mod shown;

use insta::{assert_snapshot, glob};
use latchwork_bench::exercise::Exercise;
use latchwork_grammar::{FileId, Sources};
use proptest::prelude::*;

#[test]
fn corpus() {
    glob!("exercise/*.toml", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let file = Sources::new().add("exercise.toml", text.as_str());
        let (exercise, diagnostics) = Exercise::read(file, &text);
        let mut out = shown::diagnostics(&text, &diagnostics);
        match exercise {
            Some(exercise) => out.push_str(&outline(&exercise)),
            None => out.push_str("no exercise\n"),
        }
        assert_snapshot!(out);
    });
}

fn outline(exercise: &Exercise) -> String {
    let names = |names: &[latchwork_bench::station::Placed<String>]| {
        names.iter().map(|name| name.value.clone()).collect::<Vec<_>>()
    };
    let mut out = format!("exercise {:?}, task {:?}\n", exercise.title, exercise.task.value);
    out += &format!("station {:?}\n", exercise.station.as_ref().map(|station| &station.value));
    out += &format!("reference {:?}, skeleton {:?}\n", names(&exercise.reference), names(&exercise.skeleton));
    out += &format!("compiles {}\n", exercise.compiles);
    for file in &exercise.procedures {
        out += &format!("procedures {:?} shown {} {:?}\n", file.file.value, file.shown, file.credit);
    }
    out += &format!("programs {:?}\n", exercise.programs);
    for variable in &exercise.variables {
        out += &format!("variable {:?} {:?} {:?}\n", variable.name, variable.kind, variable.address);
    }
    out + &format!("{:?}\n{:?}\n", exercise.constraints, exercise.budget)
}

proptest! {
    /// Whatever stands in the file, there is an exercise or an error.
    #[test]
    fn any_text_gives_an_exercise_or_an_error(
        lines in prop::collection::vec(prop::sample::select(vec![
            "title = \"T\"", "task = 'a'", "reference = ['r.st']", "[[procedures]]", "file = 'a.steps'", "[budget]",
            "scans = -1", "[constraints]", "must-use = ['TON', 3]", "no-warnings = 'all'", "deduction = inf", "[points]",
            "compiles = nan", "[interface]", "programs = [", "]", "[[interface.variable]]", "name = ''", "\u{202e} = 1",
        ]), 0..14)
    ) {
        let text = lines.join("\n");
        let (exercise, diagnostics) = Exercise::read(FileId(0), &text);
        prop_assert!(exercise.is_some() != diagnostics.iter().any(|problem| problem.severity == latchwork_grammar::Severity::Error));
    }
}
