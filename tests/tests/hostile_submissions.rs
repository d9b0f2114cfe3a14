//! Submissions that mean harm: each comes to an end in little memory, in one of the states that were thought out for it,
//! and earns nothing but by a right answer.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

use std::{
    collections::BTreeSet,
    fmt::Write as _,
    fs,
    time::{Duration, Instant},
};

use latchwork_bench::{
    exercise::Budget,
    marking::{Marked, Marker, State},
};
use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_tests::class::{
    exercise::{SampleExercise, mark},
    hostile::{Earns, HostileText, hostile_places, hostile_texts, write_hostile},
};
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// The fewest submissions there are.
const HOSTILE: usize = 55;

/// Far more than any takes on a slow computer without optimisation: it tells a hang from work.
const TIME_MAX: Duration = Duration::from_secs(60);

/// Memory at the worst moment, with the text itself.
const MEMORY_MAX: usize = 256 * 1024 * 1024;

struct Taken {
    time: Duration,
    bytes: usize,
}

fn measured<T>(work: impl FnOnce() -> T) -> (Taken, T) {
    let before = ALLOCATOR.current_usage();
    ALLOCATOR.reset_peak_usage();
    let begin = Instant::now();
    let done = work();
    let taken = Taken { time: begin.elapsed(), bytes: ALLOCATOR.peak_usage().saturating_sub(before) };
    (taken, done)
}

/// A submission of one text, under the name of its student.
fn marked(marker: &Marker<'_>, name: &str, text: String) -> Marked {
    mark(marker, name, vec![(format!("{name}.st"), text)])
}

fn too_much(what: &str, hostile: &HostileText, taken: &Taken, wrong: &mut String) {
    let mebibytes = taken.bytes >> 20;
    if taken.time > TIME_MAX || taken.bytes > MEMORY_MAX {
        let _ = writeln!(wrong, "{}: {what}: {:?}, {mebibytes} MiB", hostile.name, taken.time);
    }
}

/// What a mark says about a text that was allowed for its size; nothing is what it must say.
fn unexpected(hostile: &HostileText, marked: &Marked, (compiles, full): (i64, i64)) -> Option<String> {
    if !hostile.states.contains(&marked.state) {
        let first = marked.findings.first().map(|finding| finding.message.clone());
        return Some(format!("{:?} instead of {:?}: {first:?}", marked.state, hostile.states));
    }
    let earned = marked.total.hundredths() + marked.deducted.hundredths();
    let right = match hostile.earns {
        // What lights a lamp has done something, and may have its points for compiling.
        Earns::Nothing => (0..=compiles).contains(&earned),
        Earns::Something => (compiles + 1..full).contains(&earned),
        Earns::Everything => earned == full,
    };
    (!right).then(|| format!("earns {earned}"))
}

// One test, for memory is counted for the whole process.
#[test]
fn hostile_texts_end_soon_in_little_memory_and_earn_nothing() {
    let exercise = SampleExercise::read().unwrap();
    let marker = exercise.marker().unwrap();
    let text_bytes = exercise.description().budget.text_bytes;
    // The same without a limit for the text, so that the size does not spare the rest.
    let wide = SampleExercise::read().unwrap();
    let budget = Budget { text_bytes: 16 << 20, ..wide.description().budget };
    let wide = wide.with_budget(budget);
    let wide = wide.marker().unwrap();
    let scheme = marker.scheme();
    let points = (scheme.items[0].points.hundredths(), scheme.out_of.hundredths());
    let mut wrong = String::new();
    for hostile in hostile_texts() {
        let text = (hostile.text)();
        let mut sources = Sources::new();
        sources.add("hostile.st", text.as_str());
        let (taken, compilation) = measured(|| compile(&sources));
        assert!(compilation.image.is_some() || compilation.has_errors(), "{}", hostile.name);
        drop((compilation, sources));
        too_much("compiled", &hostile, &taken, &mut wrong);

        let (taken, result) = measured(|| marked(&wide, hostile.name, text.clone()));
        too_much("marked", &hostile, &taken, &mut wrong);
        if let Some(unexpected) = unexpected(&hostile, &result, points) {
            let _ = writeln!(wrong, "{} ({}): {unexpected}", hostile.name, hostile.tries);
        }

        if text.len() as u64 > text_bytes {
            let result = marked(&marker, hostile.name, text);
            assert_eq!(result.state, State::OverBudget, "{}", hostile.name);
            assert_eq!(result.total.hundredths(), 0, "{}", hostile.name);
        } else {
            assert_eq!(marked(&marker, hostile.name, text), result, "{}", hostile.name);
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn there_are_many_and_each_has_a_name_of_its_own() {
    let texts = hostile_texts();
    let places = hostile_places().unwrap();
    let mut names: BTreeSet<String> = texts.iter().map(|text| format!("{}.st", text.name)).collect();
    names.extend(places.iter().map(|place| place.name.clone()));
    assert_eq!(names.len(), texts.len() + places.len());
    assert!(names.len() >= HOSTILE, "{}", names.len());
    assert!(texts.iter().all(|text| !text.states.is_empty() && !text.tries.is_empty()));
    assert!(places.iter().all(|place| !place.states.is_empty() && !place.tries.is_empty()));
    // What works runs, and what does not is never expected to be read and earn.
    assert!(places.iter().all(|place| !place.works || place.states == [State::Ran]));
}

/// What can be written on this computer is there, nothing else, and nothing outside of the folder.
#[test]
fn all_of_them_can_be_written_as_a_class() {
    let folder = tempfile::tempdir().unwrap();
    let class = folder.path().join("class");
    fs::create_dir(&class).unwrap();
    let written: BTreeSet<String> = write_hostile(&class).unwrap().into_iter().collect();
    let there: BTreeSet<String> = fs::read_dir(&class)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(written, there);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    // Some file systems refuse some of the names.
    assert!(written.len() > hostile_texts().len() + hostile_places().unwrap().len() / 2);
}
