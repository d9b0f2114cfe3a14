//! The terminal diagram: snapshots of the plain and of the straining cases, and its bounds.

use latchwork_bench::diagram::{Diagram, DiagramOptions, mark::Mark};
use latchwork_bench::recording::Recording;
use latchwork_bench::render::{TerminalOptions, terminal};
use proptest::prelude::*;
use unicode_width::UnicodeWidthStr;

use crate::recordings;

fn drawn(recording: &Recording, options: &TerminalOptions) -> String {
    terminal(&Diagram::new(recording, &DiagramOptions::default()), options)
}

fn at(recording: &Recording, width: usize) -> String {
    drawn(recording, &TerminalOptions { width, ..TerminalOptions::default() })
}

macro_rules! snapshots {
    ($($name:ident: $recording:expr, $options:expr;)*) => {$(
        #[test]
        fn $name() {
            let options: TerminalOptions = $options;
            insta::assert_snapshot!(drawn(&$recording, &options));
        }
    )*};
}

/// Options for a width.
fn wide(width: usize) -> TerminalOptions {
    TerminalOptions { width, ..TerminalOptions::default() }
}

snapshots! {
    transfer_pump_at_40: recordings::transfer_pump(), wide(40);
    transfer_pump_at_60: recordings::transfer_pump(), wide(60);
    transfer_pump_at_80: recordings::transfer_pump(), wide(80);
    transfer_pump_at_100: recordings::transfer_pump(), wide(100);
    transfer_pump_at_160: recordings::transfer_pump(), wide(160);
    transfer_pump_in_ascii: recordings::transfer_pump(), TerminalOptions { ascii: true, ..wide(100) };
    transfer_pump_in_colour: recordings::transfer_pump(), TerminalOptions { colour: true, ..wide(80) };
    short_pulses: recordings::short_pulses(), wide(80);
    short_pulses_in_ascii: recordings::short_pulses(), TerminalOptions { ascii: true, ..wide(80) };
    open_wire: recordings::open_wire(), wide(80);
    open_wire_at_40: recordings::open_wire(), wide(40);
    numbers_and_texts: recordings::numbers_and_texts(), wide(100);
    numbers_and_texts_narrow: recordings::numbers_and_texts(), wide(50);
    noise: recordings::noise(), wide(100);
    empty: recordings::empty(), wide(80);
    single_scan: recordings::single_scan(), wide(80);
    million_scans: recordings::million_scans(), wide(60);
    sixty_rows: recordings::sixty_rows(), wide(80);
    hostile_names: recordings::hostile_names(), wide(80);
    ten_minutes_at_120: recordings::ten_minutes(), wide(120);
    ten_minutes_at_80: recordings::ten_minutes(), wide(80);
    ten_minutes_at_40: recordings::ten_minutes(), wide(40);
    ten_minutes_in_ascii: recordings::ten_minutes(), TerminalOptions { ascii: true, ..wide(80) };
    incidents: recordings::incidents(), wide(80);
    incidents_at_40_in_ascii: recordings::incidents(), TerminalOptions { ascii: true, ..wide(40) };
    chart: recordings::chart(), wide(80);
    chart_at_40_in_ascii: recordings::chart(), TerminalOptions { ascii: true, ..wide(40) };
}

#[test]
fn a_window_shows_its_part_of_the_run() {
    let recording = recordings::transfer_pump();
    let options = DiagramOptions {
        from_ns: Some(2_700 * recordings::MS),
        until_ns: Some(3_000 * recordings::MS),
        ..DiagramOptions::default()
    };
    insta::assert_snapshot!(terminal(&Diagram::new(&recording, &options), &wide(80)));
}

/// A bracket, arrow heads, a stretch cut off on both sides, one shorter than a column, and one outside.
fn marks() -> Vec<Mark> {
    let ms = |time: i64| time * recordings::MS;
    vec![
        Mark::span("allowed", ms(2_800), ms(2_900), "until 2.9 s"),
        Mark { moments: vec![ms(2_750), ms(2_990)], ..Mark::span("edges", ms(2_720), ms(2_995), "2 of 3") },
        Mark::span("throughout", ms(0), ms(9_000), "no room for it"),
        Mark::span("short", ms(2_950), ms(2_950), "at the end of the time shown"),
        Mark::moment("outside", ms(8_000), "later\u{1b}[2J"),
    ]
}

#[test]
fn marks_stand_below_the_axis() {
    let recording = recordings::transfer_pump();
    let options = DiagramOptions {
        from_ns: Some(2_700 * recordings::MS),
        until_ns: Some(3_000 * recordings::MS),
        ..DiagramOptions::default()
    };
    let diagram = Diagram::new(&recording, &options).with_marks(marks());
    insta::assert_snapshot!(terminal(
        &diagram,
        &TerminalOptions { heading: false, footer: false, ..wide(80) }
    ));
    insta::assert_snapshot!(terminal(&diagram, &TerminalOptions { ascii: true, ..wide(60) }));
}

#[test]
fn a_window_outside_the_run_is_a_diagram_without_time() {
    let recording = recordings::transfer_pump();
    for (from, until) in [(9_000, 9_500), (500, 100), (-900, -100)] {
        let options = DiagramOptions {
            from_ns: Some(from * recordings::MS),
            until_ns: Some(until * recordings::MS),
            ..DiagramOptions::default()
        };
        let picture = terminal(&Diagram::new(&recording, &options), &wide(80));
        assert!(picture.contains("no time to show"), "{picture}");
    }
}

#[test]
fn a_lonely_pulse_of_one_scan_shows_at_every_width() {
    let recording = recordings::million_scans();
    for width in [40, 57, 80, 133, 400] {
        let picture = at(&recording, width);
        let marks = picture.lines().filter(|line| line.contains("Rain") && line.contains('┃')).count();
        assert_eq!(marks, 1, "at width {width}:\n{picture}");
    }
}

#[test]
fn a_pulse_of_one_scan_beside_a_fold_shows_at_every_width() {
    let recording = recordings::ten_minutes();
    for width in [40, 57, 80, 133, 400] {
        let picture = at(&recording, width);
        let pulse = picture.lines().find(|line| line.contains("Pulse")).unwrap_or_default();
        assert!(pulse.contains(['┃', '╔']), "at width {width}:\n{picture}");
    }
}

#[test]
fn a_wiring_fault_is_named_at_every_width() {
    let recording = recordings::open_wire();
    for width in 40..=200 {
        let picture = at(&recording, width);
        assert!(
            picture.lines().any(|line| line.contains("open wire") && line.contains('━')),
            "{width}:\n{picture}"
        );
    }
}

#[test]
fn colour_only_adds_to_the_text() {
    let recording = recordings::transfer_pump();
    let coloured = drawn(&recording, &TerminalOptions { colour: true, ..wide(90) });
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        plain.push_str(before);
        rest = after.split_once('m').map_or("", |(_, rest)| rest);
    }
    plain.push_str(rest);
    assert_eq!(plain, at(&recording, 90));
    assert_ne!(plain, coloured);
}

proptest! {
    #[test]
    fn no_line_is_wider_than_asked(
        recording in recordings::any_recording(),
        width in 40..=400usize,
        ascii: bool,
        footer: bool,
        from in 0..2_000 * recordings::MS,
        length in 0..2_000 * recordings::MS,
    ) {
        let marks = vec![Mark::span("allowed", from, from + length, "until then"), Mark::moment("", from, "seen")];
        let diagram = Diagram::new(&recording, &DiagramOptions::default()).with_marks(marks);
        let options = TerminalOptions { width, ascii, footer, ..TerminalOptions::default() };
        let picture = terminal(&diagram, &options);
        for line in picture.lines() {
            prop_assert!(line.width() <= width, "{} columns instead of {width}: {line}", line.width());
            prop_assert!(!line.ends_with(' '));
            prop_assert!(!line.chars().any(char::is_control));
        }
        prop_assert!(!ascii || picture.is_ascii(), "{picture}");
    }

    #[test]
    fn every_edge_is_counted_in_its_column(recording in recordings::any_recording(), columns in 1..200usize) {
        use latchwork_bench::diagram::lane::LaneKind;
        use latchwork_bench::diagram::scale::TimeScale;
        let diagram = Diagram::new(&recording, &DiagramOptions::default());
        let scale = TimeScale::choose(diagram.start_ns, diagram.end_ns, diagram.scan_ns, columns);
        prop_assert!(scale.columns <= columns);
        for row in diagram.rows().filter(|row| row.lane_kind == LaneKind::Level) {
            let summaries = row.lane().level_columns(&scale);
            let edges: usize = summaries.iter().map(|column| (column.rises + column.falls) as usize).sum();
            prop_assert_eq!(edges, row.changes);
            for (left, right) in summaries.iter().zip(summaries.iter().skip(1)) {
                prop_assert_eq!(left.leaves, right.enters);
            }
            for point in row.lane().points.iter().skip(1) {
                let column = scale.column_of(point.time_ns);
                let start = scale.origin_ns + column as i64 * scale.column_ns;
                prop_assert!(start <= point.time_ns && point.time_ns < start + scale.column_ns);
                prop_assert!(summaries[column].rises + summaries[column].falls > 0);
            }
        }
    }
}
