//! The one model of a timing diagram, from which every picture of a run is drawn.
//!
//! A diagram tells three things apart and never mixes them: what a person does to a **device**, what a
//! **terminal** reads, what the **program** makes of it. The model holds headings and values over time; a
//! renderer chooses a [`scale::TimeScale`] and asks each [`lane::Lane`] what falls into each column. The model
//! knows nothing of characters, pixels or files.

mod beneath;
pub mod compared;
mod duration;
pub mod fold;
mod incidents;
pub mod lane;
pub mod mark;
pub mod scale;
mod steps;
mod summary;
pub mod words;

use std::borrow::Cow;
use std::collections::BTreeSet;

use latchwork_vm::trace::{Changes, ScanRecord};

use self::fold::{FoldShape, Folding, Quiet, QuietSearch, without};
use self::lane::{Lane, LaneKind};
use self::mark::Mark;
use self::scale::TimeScale;
use self::summary::summary;
pub use self::summary::{Summary, counted};
use self::words::{Heading, harmless, heading};
use crate::recording::{Recording, Role, Row};

/// Stands under every picture of a run: simulation is no proof of safety. Lockout and tagout before wiring:
/// OSHA 29 CFR 1910.147.
pub const SAFETY_SENTENCE: &str = "A simulation shows what the program does, not that a machine is safe: \
     lock out and tag out before wiring.";

/// What part of a recording a diagram shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DiagramOptions {
    /// Start of the time shown, in nanoseconds; the recording's first scan if `None`.
    pub from_ns: Option<i64>,
    /// End of the time shown, in nanoseconds; the recording's end if `None`.
    pub until_ns: Option<i64>,
    /// Which stretches of time in which nothing changes are folded.
    pub folding: Folding,
}

/// A diagram of a recording, borrowed from it.
#[derive(Clone, Debug)]
pub struct Diagram<'a> {
    /// Title for people.
    pub title: String,
    /// File names it came from.
    pub source: String,
    /// Start of the time shown, in nanoseconds.
    pub start_ns: i64,
    /// End of the time shown, in nanoseconds; not before the start.
    pub end_ns: i64,
    /// Time between two scans, in nanoseconds.
    pub scan_ns: i64,
    /// The rows, in groups that are kept apart.
    pub groups: Vec<Group<'a>>,
    /// What is pointed at on the time axis: incidents of the run, and what somebody put there.
    pub marks: Vec<Mark>,
    /// Which stretches of time are folded.
    pub folding: Folding,
    /// The longest stretches of time in which nothing changes; a renderer folds what of them is worth it.
    pub quiet: Vec<Quiet>,
    /// The whole recording in figures.
    pub summary: Summary,
}

/// Neighbouring rows of one sort.
#[derive(Clone, Debug)]
pub struct Group<'a> {
    /// The sort.
    pub kind: GroupKind,
    /// Its rows, in the order of the recording.
    pub rows: Vec<DiagramRow<'a>>,
}

/// Sorts of rows that are shown apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupKind {
    /// Devices and the terminals they are wired to, side by side.
    Inputs,
    /// Inputs of a function block shown by itself.
    BlockInputs,
    /// Outputs and their loads.
    Outputs,
    /// What the plant keeps for itself.
    Plant,
    /// What the program keeps for itself.
    Variables,
    /// The active steps of charts.
    Steps,
    /// What was expected, above what was.
    Compared,
    /// What was expected, beneath all that was.
    Expected,
}

/// Sorts of rows, each with a line of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowKind {
    /// What a person or the process does.
    Device,
    /// What an input terminal reads.
    Terminal,
    /// What the program writes to an output terminal.
    Output,
    /// Any other variable.
    Variable,
    /// The active steps of a chart, one after the other.
    Step,
    /// What a trace, or the run that is expected, has.
    Expected,
    /// What a run has, below it.
    Actual,
}

/// One row.
#[derive(Clone, Debug)]
pub struct DiagramRow<'a> {
    /// Its sort.
    pub kind: RowKind,
    /// What stands beside it.
    pub heading: Heading,
    /// The wiring fault placed on it, in words.
    pub fault: Option<String>,
    /// How its values are drawn.
    pub lane_kind: LaneKind,
    /// Number of changes after the first value.
    pub changes: usize,
    values: Values<'a>,
}

/// Where the values of a row come from.
#[derive(Clone, Debug)]
enum Values<'a> {
    /// From a recording: many rows with many values take much memory at the same time, so a lane is made for each use.
    Recorded { changes: &'a Changes, scans: &'a [ScanRecord], start_ns: i64, end_ns: i64 },
    /// From elsewhere.
    Lane(Lane),
}

impl DiagramRow<'_> {
    /// Its values. A lane is worth keeping as long as the row is worked on, and no longer.
    pub fn lane(&self) -> Cow<'_, Lane> {
        match &self.values {
            Values::Recorded { changes, scans, start_ns, end_ns } => {
                Cow::Owned(Lane::new(changes, scans, *start_ns, *end_ns))
            }
            Values::Lane(lane) => Cow::Borrowed(lane),
        }
    }

    /// Stretches of time of which nothing is known, in rising order, the ends not included.
    pub fn unknown(&self) -> &[(i64, i64)] {
        match &self.values {
            Values::Recorded { .. } => &[],
            Values::Lane(lane) => &lane.unknown,
        }
    }
}

impl<'a> Diagram<'a> {
    /// The diagram of a recording. A window that ends before it starts, or that lies outside the recording, gives
    /// a diagram without time.
    pub fn new(recording: &'a Recording, options: &DiagramOptions) -> Self {
        let first_ns = recording.scans.first().map_or(0, |scan| scan.time_ns);
        let last_ns = recording.scans.last().map_or(0, |scan| scan.time_ns);
        let recorded_until =
            if recording.scans.is_empty() { first_ns } else { recording.end_ns.max(last_ns) };
        let start_ns = options.from_ns.map_or(first_ns, |from| from.max(first_ns));
        let end_ns = options.until_ns.map_or(recorded_until, |until| until.min(recorded_until)).max(start_ns);

        let program = only_program(recording);
        let mut quiet = QuietSearch::new(options.folding, start_ns, end_ns, recording.scan_ns);
        let mut groups: Vec<Group<'a>> = Vec::new();
        let mut above: Option<&Row> = None;
        for row in &recording.rows {
            let kind = group_kind(&row.role);
            let short = program.and_then(|program| without_program(row, program));
            let lane = Lane::new(&row.signal.changes, &recording.scans, start_ns, end_ns);
            let drawn = diagram_row(
                row,
                harmless(short.unwrap_or(row.name())),
                above,
                recording,
                &lane,
                (start_ns, end_ns),
            );
            quiet.row(&drawn.heading.name, &lane);
            match groups.last_mut() {
                Some(group) if group.kind == kind => group.rows.push(drawn),
                _ => groups.push(Group { kind, rows: vec![drawn] }),
            }
            above = Some(row);
        }
        let charts = recording.charts.iter();
        let bands: Vec<_> =
            charts.flat_map(|chart| steps::bands(chart, &recording.scans, start_ns, end_ns)).collect();
        if !bands.is_empty() {
            bands.iter().for_each(|row| quiet.row(&row.heading.name, &row.lane()));
            groups.push(Group { kind: GroupKind::Steps, rows: bands });
        }
        let diagram = Self {
            title: harmless(&recording.title),
            source: harmless(&recording.source),
            start_ns,
            end_ns,
            scan_ns: recording.scan_ns,
            groups,
            marks: Vec::new(),
            folding: options.folding,
            quiet: quiet.finish(),
            summary: summary(recording),
        };
        diagram.with_marks(incidents::marks(&recording.incidents))
    }

    /// The diagram with further marks on its time axis, in this order; without those of which nothing lies in the time
    /// shown. Nothing that is pointed at gets folded.
    #[must_use]
    pub fn with_marks(mut self, marks: Vec<Mark>) -> Self {
        let (start, end) = (self.start_ns, self.end_ns);
        let shown = |mark: &Mark| {
            mark.spans.iter().any(|(from, until)| *from <= end && *until >= start)
                || mark.moments.iter().any(|moment| (start..=end).contains(moment))
        };
        let marks = marks.into_iter().filter(shown);
        self.marks.extend(marks.map(|mark| Mark {
            name: harmless(&mark.name),
            text: harmless(&mark.text),
            ..mark
        }));
        let spans = || self.marks.iter().flat_map(|mark| &mark.spans);
        let moments = self.marks.iter().flat_map(|mark| &mark.moments).copied();
        let times = spans().flat_map(|(from, until)| [*from, *until]).chain(moments);
        let least_ns = self.folding.least_ns(start, end, self.scan_ns);
        self.quiet = without(self.quiet, times, least_ns);
        self
    }

    /// The time shown in words: "0 s to 8 min 28.14 s".
    pub fn time_shown(&self) -> String {
        format!("{} to {}", scale::duration_words(self.start_ns), scale::duration_words(self.end_ns))
    }

    /// The finest nice time scale of at most `columns_max` columns, folded into `shape`.
    pub fn scale(&self, columns_max: usize, shape: FoldShape) -> TimeScale {
        let quiet: Vec<(i64, i64)> = self.quiet.iter().map(|quiet| (quiet.from_ns, quiet.until_ns)).collect();
        let (time, gain) = ((self.start_ns, self.end_ns), self.folding.gain());
        TimeScale::choose_folded(time, self.scan_ns, columns_max, &quiet, shape, gain)
    }

    /// What is to be said of each fold of a scale.
    pub fn fold_words(&self, scale: &TimeScale) -> Vec<String> {
        let words = |from_ns: i64, until_ns: i64| {
            let around =
                self.quiet.iter().find(|quiet| quiet.from_ns <= from_ns && until_ns <= quiet.until_ns);
            around.map(|quiet| quiet.words(from_ns, until_ns)).unwrap_or_default()
        };
        scale.folds.iter().map(|fold| words(fold.from_ns, fold.until_ns)).collect()
    }

    /// All rows in order.
    pub fn rows(&self) -> impl Iterator<Item = &DiagramRow<'a>> {
        self.groups.iter().flat_map(|group| &group.rows)
    }
}

impl GroupKind {
    /// The group's heading.
    pub fn title(self) -> &'static str {
        match self {
            Self::Inputs => "Devices and terminals",
            Self::BlockInputs => "Inputs",
            Self::Outputs => "Outputs",
            Self::Plant => "Plant",
            Self::Variables => "Variables",
            Self::Steps => "Steps",
            Self::Compared => "Expected above actual",
            Self::Expected => "What is expected there",
        }
    }
}

/// The group in which a role is shown.
fn group_kind(role: &Role) -> GroupKind {
    match role {
        Role::Device { .. } | Role::Terminal { .. } => GroupKind::Inputs,
        Role::Output { .. } => GroupKind::Outputs,
        Role::Input => GroupKind::BlockInputs,
        Role::Plant => GroupKind::Plant,
        Role::Variable => GroupKind::Variables,
    }
}

/// One row of the model; `above` is the row of the recording just above it, `lane` has its values in the time shown.
fn diagram_row<'a>(
    row: &'a Row,
    name: String,
    above: Option<&Row>,
    recording: &'a Recording,
    lane: &Lane,
    (start_ns, end_ns): (i64, i64),
) -> DiagramRow<'a> {
    let device_above = match (&row.role, above.map(|above| (&above.role, &above.signal.name))) {
        (Role::Terminal { device: Some(device) }, Some((Role::Device { .. }, name))) => device == name,
        _ => false,
    };
    let first = lane.points.first().map(|point| &point.value);
    let mut heading = heading(&row.role, row.name(), row.signal.location.as_deref(), first, device_above);
    heading.name = name;
    if matches!(lane.kind, LaneKind::Steps | LaneKind::Curve)
        && let Some((lowest, highest)) = lane.extremes()
    {
        heading.low = lane.label(lowest);
        heading.high = lane.label(highest);
    }
    let (kind, fault) = match &row.role {
        Role::Device { fault, .. } => (RowKind::Device, fault.as_deref().map(harmless)),
        Role::Terminal { .. } => (RowKind::Terminal, None),
        Role::Output { .. } => (RowKind::Output, None),
        Role::Input | Role::Plant | Role::Variable => (RowKind::Variable, None),
    };
    let (changes, scans) = (&row.signal.changes, recording.scans.as_slice());
    let values = Values::Recorded { changes, scans, start_ns, end_ns };
    DiagramRow { kind, heading, fault, lane_kind: lane.kind, changes: lane.changes(), values }
}

/// The program that every dotted name belongs to, if there is only one: its name says nothing then and is left
/// out, unless two rows would get the same name.
fn only_program(recording: &Recording) -> Option<&str> {
    let mut names = recording.rows.iter().filter_map(|row| program_and_rest(row));
    let (program, _) = names.next()?;
    if names.any(|(other, _)| other != program) {
        return None;
    }
    let mut seen = BTreeSet::new();
    let unique = recording
        .rows
        .iter()
        .map(|row| without_program(row, program).unwrap_or(row.name()))
        .all(|name| seen.insert(name.to_uppercase()));
    unique.then_some(program)
}

fn program_and_rest(row: &Row) -> Option<(&str, &str)> {
    // A name that was asked for is as short as somebody wants it.
    let name = row.name();
    let dotted = row.asked.is_none()
        && !matches!(row.role, Role::Device { .. } | Role::Plant)
        && !name.starts_with('%');
    name.split_once('.').filter(|_| dotted)
}

fn without_program<'r>(row: &'r Row, program: &str) -> Option<&'r str> {
    program_and_rest(row).filter(|(other, _)| *other == program).map(|(_, rest)| rest)
}
