//! What a folded diagram must keep: every change that is none of an even movement, in its order, and true times.

use latchwork_bench::diagram::fold::{FoldShape, Folding};
use latchwork_bench::diagram::lane::{Lane, LaneKind};
use latchwork_bench::diagram::scale::TimeScale;
use latchwork_bench::diagram::{Diagram, DiagramOptions, mark::Mark};
use latchwork_bench::recording::Recording;
use latchwork_bench::render::{TerminalOptions, svg, terminal};
use proptest::prelude::*;
use unicode_width::UnicodeWidthStr;

use crate::recordings::{self, MS};

const SHAPE: FoldShape = FoldShape { columns: 4, margin: 3, saved: 8, grid: 5 };

fn diagram(recording: &Recording, folding: Folding) -> Diagram<'_> {
    Diagram::new(recording, &DiagramOptions { folding, ..DiagramOptions::default() })
}

/// Whether a time lies within what is folded; its borders do not.
fn is_inside(scale: &TimeScale, time_ns: i64) -> bool {
    scale.folds.iter().any(|fold| fold.from_ns < time_ns && time_ns < fold.until_ns)
}

/// The value of a numeric lane at a time.
fn number_at(lane: &Lane, time_ns: i64) -> f64 {
    let index = lane.points.partition_point(|point| point.time_ns <= time_ns);
    lane.number(index.saturating_sub(1))
}

#[test]
fn ten_minutes_are_folded_once() {
    let recording = recordings::ten_minutes();
    let diagram = diagram(&recording, Folding::Automatic);
    // From 0 s to 1.3 s and from 591 s to 600 s something happens; with margins that takes 100 columns of 200 ms.
    let scale = diagram.scale(100, SHAPE);
    let folds: Vec<(i64, i64)> =
        scale.folds.iter().map(|fold| (fold.from_ns / MS, fold.until_ns / MS)).collect();
    assert_eq!((folds.as_slice(), scale.column_ns), ([(2_000, 590_000)].as_slice(), 200 * MS));
    assert_eq!(diagram.fold_words(&scale), ["9 min 48 s, only Hold.ET moves, evenly"]);
}

#[test]
fn folding_is_asked_for_or_forbidden() {
    let recording = recordings::ten_minutes();
    assert!(diagram(&recording, Folding::Never).scale(60, SHAPE).folds.is_empty());
    let asked = diagram(&recordings::transfer_pump(), Folding::AtLeast(800 * MS)).scale(300, SHAPE);
    assert!(asked.folds.iter().all(|fold| fold.until_ns - fold.from_ns >= 100 * MS), "{asked:?}");
    assert_eq!(asked.folds.len(), 3, "{asked:?}");
    // Six seconds are short enough to be seen.
    assert!(diagram(&recordings::transfer_pump(), Folding::Automatic).scale(60, SHAPE).folds.is_empty());
}

#[test]
fn what_never_changes_is_not_folded_automatically() {
    let recording = recordings::Maker::new("Nothing happens", 10 * MS, 60_000)
        .terminal("Start", "%IX0.0", None, false, &[])
        .finish();
    assert!(diagram(&recording, Folding::Automatic).scale(60, SHAPE).folds.is_empty());
}

#[test]
fn what_is_pointed_at_is_not_folded() {
    let recording = recordings::ten_minutes();
    let marks =
        vec![Mark::span("allowed", 100_000 * MS, 100_500 * MS, ""), Mark::moment("seen", 300_000 * MS, "")];
    let marked = diagram(&recording, Folding::Automatic).with_marks(marks);
    let scale = marked.scale(120, SHAPE);
    assert_eq!(scale.folds.len(), 3, "{scale:?}");
    for time in [100_000 * MS, 100_500 * MS, 300_000 * MS] {
        assert!(!scale.is_folded(scale.column_of(time)), "{scale:?}");
    }
}

/// The laws of a folded diagram of these columns.
fn check(recording: &Recording, folding: Folding, columns: usize) -> Result<(), TestCaseError> {
    let diagram = diagram(recording, folding);
    let scale = diagram.scale(columns, SHAPE);
    prop_assert!(scale.columns <= columns.max(1), "{:?}", scale);
    prop_assert_eq!(diagram.fold_words(&scale).len(), scale.folds.len());
    prop_assert!(diagram.fold_words(&scale).iter().all(|words| !words.is_empty()));
    for row in diagram.rows() {
        let lane = row.lane();
        let numeric = matches!(lane.kind, LaneKind::Steps | LaneKind::Curve);
        for point in lane.points.iter().skip(1).filter(|_| !numeric) {
            prop_assert!(!is_inside(&scale, point.time_ns), "{:?} in {:?}", point, scale);
        }
        if lane.kind == LaneKind::Level && scale.columns > 0 {
            let summaries = lane.level_columns(&scale);
            let edges: usize = summaries.iter().map(|column| (column.rises + column.falls) as usize).sum();
            prop_assert_eq!(edges, lane.changes());
            prop_assert!(
                summaries
                    .iter()
                    .enumerate()
                    .all(|(column, summary)| summary.rises + summary.falls == 0 || !scale.is_folded(column))
            );
        }
        // What moves within a fold does so along a straight line.
        let height = lane.heights().map_or(0.0, |(low, high)| high - low);
        for fold in scale.folds.iter().filter(|_| numeric && height.is_finite()) {
            let (from, until) = (number_at(&lane, fold.from_ns), number_at(&lane, fold.until_ns));
            let inside = lane
                .points
                .iter()
                .enumerate()
                .filter(|(_, point)| fold.from_ns < point.time_ns && point.time_ns < fold.until_ns);
            for (index, point) in inside {
                let share = (point.time_ns - fold.from_ns) as f64 / (fold.until_ns - fold.from_ns) as f64;
                let line = from + (until - from) * share;
                prop_assert!((lane.number(index) - line).abs() <= height / 12.0, "{:?} off {}", point, line);
            }
        }
    }
    // Later times never lie further left, and ticks stand where their times are.
    let span = diagram.end_ns - diagram.start_ns;
    let times = (0..=200).map(|part| diagram.start_ns + span / 200 * part);
    let borders = scale.folds.iter().flat_map(|fold| [fold.from_ns, fold.until_ns - 1, fold.until_ns]);
    let mut times: Vec<i64> = times.chain(borders).collect();
    times.sort_unstable();
    for pair in times.windows(2) {
        prop_assert!(scale.place_of(pair[0], 100) <= scale.place_of(pair[1], 100), "{:?} {:?}", pair, scale);
        prop_assert!(scale.column_of(pair[0]) <= scale.column_of(pair[1]));
    }
    let (_, ticks) = scale.ticks(8);
    for tick in &ticks {
        prop_assert_eq!(scale.column_of(tick.time_ns), tick.column, "{:?}", scale);
        prop_assert!(!scale.is_folded(tick.column));
    }
    for pair in ticks.windows(2) {
        prop_assert!(pair[0].column + pair[0].label.len() < pair[1].column, "{:?}", pair);
    }
    for fold in &scale.folds {
        prop_assert!(
            ticks.iter().any(|tick| tick.time_ns == fold.until_ns) || fold.until_ns >= diagram.end_ns
        );
    }
    Ok(())
}

proptest! {
    #[test]
    fn a_folded_diagram_keeps_every_change(
        recording in recordings::any_quiet_recording(),
        least in 1..20_000i64,
        columns in 1..300usize,
    ) {
        check(&recording, Folding::AtLeast(least * MS), columns)?;
        check(&recording, Folding::Automatic, columns)?;
    }

    #[test]
    fn a_folded_picture_keeps_its_width_and_its_characters(
        recording in recordings::any_quiet_recording(),
        least in 1..20_000i64,
        width in 40..200usize,
        ascii: bool,
    ) {
        let diagram = diagram(&recording, Folding::AtLeast(least * MS));
        let options = TerminalOptions { width, ascii, ..TerminalOptions::default() };
        let picture = terminal(&diagram, &options);
        for line in picture.lines() {
            prop_assert!(line.width() <= width, "{} columns instead of {width}: {line}", line.width());
        }
        prop_assert!(!ascii || picture.is_ascii(), "{picture}");
        // Every row shows every fold.
        let rows = 2 * recording.rows.len();
        let sign = if ascii { "}{" } else { "╱╱" };
        let drawn = svg(&diagram);
        prop_assert_eq!(drawn.clone(), svg(&diagram));
        if let Some(line) = picture.lines().find(|line| line.contains("Row0")) {
            let folds = line.matches(sign).count();
            let lines = picture.lines().filter(|line| line.matches(sign).count() >= folds.max(1)).count();
            prop_assert!(folds == 0 || lines >= rows, "{}", picture);
        }
    }

    #[test]
    fn so_does_one_of_any_recording(
        recording in recordings::any_recording(),
        least in 1..1_000_000_000i64,
        columns in 1..300usize,
    ) {
        check(&recording, Folding::AtLeast(least), columns)?;
    }
}
