//! The timing diagram as a standalone SVG (W3C Scalable Vector Graphics 1.1): for reports, checkout sheets, print.
//!
//! Text stays text, in the reader's own fonts; colours follow light, dark and print; nothing is fetched from
//! anywhere. The same diagram gives the same bytes. There are no ids, so that several pictures fit into one page.

mod bands;
mod curve;
mod folds;
mod grid;
mod marks;
mod shape;
mod style;

use std::fmt::Write as _;

use self::folds::{FOLD_STYLE, folds, tears};
use self::grid::grid;
use self::marks::{MARK_HEIGHT, MARK_STYLE, marks};
use self::shape::{FOLD_UNITS, Plot, Shape, Tenths, WAVE_HEIGHT, shape};
use self::style::{COMPARED_STYLE, STEP_STYLE, STYLE};
use crate::diagram::fold::FoldShape;
use crate::diagram::lane::{Lane, LaneKind, Point};
use crate::diagram::scale::{TimeScale, duration_words, rounded_up, time_text};
use crate::diagram::words::crop;
use crate::diagram::{Diagram, DiagramRow, GroupKind, RowKind, SAFETY_SENTENCE, counted};
use crate::render::markup::escape;

/// Left edge of the labels.
const MARGIN: i64 = 20;
/// Left edge of the plot.
const PLOT_LEFT: i64 = 270;
/// Width of the plot.
const PLOT_WIDTH: i64 = 900;
/// Width of the picture.
const WIDTH: i64 = PLOT_LEFT + PLOT_WIDTH + MARGIN;
/// Height of the title.
const TITLE_HEIGHT: i64 = 64;
/// Height of a row above what its lane takes.
const ROW_AIR: i64 = 18;
/// Room kept at both sides of what is folded.
const FOLD_MARGIN: i64 = 36;
/// Folds begin and end at times that are multiples of so much.
const FOLD_GRID: i64 = 20;
/// What is folded saves at least so much.
const FOLD_SAVED: i64 = 60;
/// From the top of a row to the top of its wave.
const WAVE_TOP: i64 = 9;
/// Height of a group's heading, which also carries the times.
const GROUP_HEIGHT: i64 = 32;
/// Room below the last row of a group.
const GROUP_FOOT: i64 = 8;
/// Width of a column in units by the changes of all rows together: the more there are, the coarser the columns, to
/// keep the file small.
const COLUMN_UNITS: [(usize, i64); 3] = [(12_000, 1), (36_000, 2), (usize::MAX, 3)];
/// What one row counts at most.
const ROW_CHANGES_MAX: usize = 1_000;
/// Values of a lane of boxes told in the title of a row.
const SPOKEN_VALUES_MAX: usize = 12;
/// Columns of a value told in the title of a row.
const SPOKEN_COLUMNS_MAX: usize = 60;
/// Columns of text that fit beside a row.
const LABEL_COLUMNS: usize = 22;

/// In front of a document that stands alone.
const DECLARATION: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

/// Draws a diagram as SVG.
pub fn svg(diagram: &Diagram<'_>) -> String {
    drawn(diagram, true)
}

/// Draws a diagram as an element of a page that has [`page_style`].
pub(crate) fn svg_in_page(diagram: &Diagram<'_>) -> String {
    drawn(diagram, false)
}

/// The style sheet of all diagrams of a page.
pub(crate) fn page_style() -> String {
    [STYLE, MARK_STYLE, FOLD_STYLE, COMPARED_STYLE, STEP_STYLE].concat()
}

/// Draws a diagram as a document that stands alone, or as a part of a page.
fn drawn(diagram: &Diagram<'_>, alone: bool) -> String {
    // A row cannot cost more than its columns do.
    let changes: usize = diagram.rows().map(|row| row.changes.min(ROW_CHANGES_MAX)).sum();
    let column_units = COLUMN_UNITS.iter().find(|(most, _)| changes <= *most).map_or(3, |(_, units)| *units);
    let columns = usize::try_from(PLOT_WIDTH / column_units).unwrap_or(1);
    let units = |units: i64| usize::try_from((units + column_units - 1) / column_units).unwrap_or(1);
    let shape_of_folds = FoldShape {
        columns: units(FOLD_UNITS),
        margin: units(FOLD_MARGIN),
        saved: units(FOLD_SAVED),
        grid: units(FOLD_GRID),
    };
    // Folds begin and end at the round times of this scale.
    let nice = diagram.scale(columns, shape_of_folds);
    let scale = TimeScale::even(diagram.start_ns, diagram.end_ns, columns, &nice.folds);
    // Where something is folded, columns may not come out even.
    let taken = i64::try_from(scale.columns).unwrap_or(PLOT_WIDTH).saturating_mul(column_units);
    let width = if scale.folds.is_empty() { PLOT_WIDTH } else { taken.min(PLOT_WIDTH) };
    let plot = Plot { scale, column_units, width };
    let mut body = String::new();
    let (fold_lines, fold_height) = folds(diagram, &plot, TITLE_HEIGHT);
    let marks_top = TITLE_HEIGHT + fold_height;
    let head = marks_top + MARK_HEIGHT * i64::try_from(diagram.marks.len()).unwrap_or(0);
    let mut y = head;
    let mut bars = false;
    for group in &diagram.groups {
        let mut rows = String::new();
        let mut row_y = y + GROUP_HEIGHT;
        let mut middles = Vec::new();
        for row in &group.rows {
            let filled = matches!(row.kind, RowKind::Output | RowKind::Actual | RowKind::Step);
            let shape = shape(&row.lane(), &plot, filled);
            bars |= !shape.busy.is_empty();
            let height = shape.height.max(WAVE_HEIGHT);
            push_row(row, &shape, &plot, row_y, &mut rows);
            middles.push(row_y + WAVE_TOP + height / 2);
            row_y = row_y.saturating_add(height + ROW_AIR);
        }
        let height = row_y - y + GROUP_FOOT;
        let _ = writeln!(
            body,
            "<g role=\"list\" aria-label=\"{title}\">\
             <rect class=\"lw-band\" x=\"0\" y=\"{y}\" width=\"{WIDTH}\" height=\"{band}\"/>\
             <text class=\"lw-group\" x=\"{MARGIN}\" y=\"{text_y}\">{title}</text>",
            title = escape(group.kind.title()),
            band = GROUP_HEIGHT - 6,
            text_y = y + 18,
        );
        grid(diagram, &plot, &nice, y, height, &mut body);
        body.push_str(&rows);
        tears(&plot, y + GROUP_HEIGHT - 6, y + height, &middles, &mut body);
        body.push_str("</g>\n");
        y += height;
    }
    let height = y + 62;
    let mut output = String::new();
    open(diagram, &plot, height, alone, &mut output);
    output.push_str(&fold_lines);
    marks(diagram, &plot, marks_top, y, &mut output);
    output.push_str(&body);
    footer(diagram, &plot, bars, y, &mut output);
    output.push_str("</svg>\n");
    output
}

/// The root element, its description, the style sheet, the ground and the title.
fn open(diagram: &Diagram<'_>, plot: &Plot, height: i64, alone: bool, output: &mut String) {
    let (declaration, style) = if alone {
        (DECLARATION, format!("<style>{STYLE}{}</style>\n", extra_style(diagram, plot)))
    } else {
        ("", String::new())
    };
    let title = escape(&diagram.title);
    let span = diagram.time_shown();
    let under = format!("{} · {span} · scan {}", diagram.source, time_text(diagram.scan_ns));
    let description: Vec<String> = diagram
        .rows()
        .map(|row| {
            format!("{} {}: {}", row.heading.role, row.heading.name, counted(row.changes as u64, "change"))
        })
        .collect();
    let _ = write!(
        output,
        "{declaration}<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"lw\" role=\"img\" \
         aria-label=\"Timing diagram: {title}\" width=\"{WIDTH}\" height=\"{height}\" viewBox=\"0 0 {WIDTH} {height}\">\n\
         <title>Timing diagram: {title}</title>\n\
         <desc>{}. {} {}.{}</desc>\n\
         {style}\
         <rect class=\"lw-ground\" width=\"100%\" height=\"100%\"/>\n\
         <text class=\"lw-title\" x=\"{MARGIN}\" y=\"30\">{title}</text>\n\
         <text class=\"lw-faint\" x=\"{MARGIN}\" y=\"49\">{}</text>\n",
        escape(&under),
        escape(&diagram.summary.sentence()),
        escape(&description.join("; ")),
        escape(&told(diagram, plot)),
        escape(under.trim_start_matches(" · ")),
    );
}

/// What the style sheet needs besides, for what not every diagram has.
fn extra_style(diagram: &Diagram<'_>, plot: &Plot) -> String {
    let compared =
        diagram.groups.iter().any(|group| matches!(group.kind, GroupKind::Compared | GroupKind::Expected));
    let marks = if diagram.marks.is_empty() { "" } else { MARK_STYLE };
    let steps = diagram.groups.iter().any(|group| group.kind == GroupKind::Steps);
    let folds = !plot.scale.folds.is_empty();
    let parts = [(folds, FOLD_STYLE), (compared, COMPARED_STYLE), (steps, STEP_STYLE)];
    let parts = parts.into_iter().filter(|(needed, _)| *needed).map(|(_, style)| style);
    [marks].into_iter().chain(parts).collect()
}

/// What is marked and folded, for the description.
fn told(diagram: &Diagram<'_>, plot: &Plot) -> String {
    let marks = diagram.marks.iter().map(|mark| format!(" {}: {}.", mark.name, mark.text));
    let folds = diagram.fold_words(&plot.scale).into_iter().zip(&plot.scale.folds);
    let folds = folds.map(|(words, fold)| format!(" Folded from {}: {words}.", time_text(fold.from_ns)));
    marks.chain(folds).collect()
}

/// One row: heading at the left, words for its levels, its wave.
fn push_row(row: &DiagramRow<'_>, shape: &Shape, plot: &Plot, y: i64, output: &mut String) {
    let heading = &row.heading;
    let (class, role) = match row.kind {
        RowKind::Device => ("lw-device", "device"),
        RowKind::Terminal => ("lw-terminal", "terminal"),
        RowKind::Output => ("lw-output", "output"),
        RowKind::Variable => ("lw-variable", "variable"),
        RowKind::Step => ("lw-step", ""),
        RowKind::Expected => ("lw-expected", "expected"),
        RowKind::Actual => ("lw-actual", "actual"),
    };
    let detail = format!("{role} {}", heading.details.join(", ")).trim().to_owned();
    let mut full = format!("{}, {detail}: {}", heading.name, counted(row.changes as u64, "change"));
    if row.lane_kind == LaneKind::Boxes {
        full.push_str(&spoken(&row.lane()));
    }
    let detail_class = if row.fault.is_some() { "lw-fault" } else { "lw-faint" };
    let _ = write!(
        output,
        "<g class=\"{class}\" role=\"listitem\"><title>{}</title>\
         <text class=\"lw-name\" x=\"{MARGIN}\" y=\"{}\">{}</text>\
         <text class=\"{detail_class}\" x=\"{MARGIN}\" y=\"{}\">{}</text>",
        escape(&full),
        y + 16,
        escape(&crop(&heading.name, LABEL_COLUMNS, '…')),
        y + 30,
        escape(&crop(&detail, LABEL_COLUMNS + 6, '…')),
    );
    let height = shape.height.max(WAVE_HEIGHT);
    let unit = heading.unit.as_deref().map(|unit| format!(" {unit}")).unwrap_or_default();
    let words = match row.lane_kind {
        LaneKind::Boxes => [None, None],
        _ if heading.high == heading.low => [None, Some(&heading.low)],
        _ => [Some(&heading.high), Some(&heading.low)],
    };
    for (word, word_y) in words.into_iter().zip([WAVE_TOP + 4, WAVE_TOP + height + 3]) {
        if let Some(word) = word {
            let _ = write!(
                output,
                "<text class=\"lw-word\" x=\"{}\" y=\"{}\">{}</text>",
                PLOT_LEFT - 8,
                y + word_y,
                escape(&crop(&format!("{word}{unit}"), 16, '…'))
            );
        }
    }
    let _ = write!(output, "<g transform=\"translate({PLOT_LEFT} {})\">", y + WAVE_TOP);
    if height > WAVE_HEIGHT {
        let _ = write!(output, "<path class=\"lw-base\" d=\"M0 0H{0}M0 {height}H{0}\"/>", plot.width);
    }
    if !shape.fill.is_empty() {
        let _ = write!(output, "<path class=\"lw-fill\" d=\"{}\"/>", shape.fill);
    }
    if !shape.wave.is_empty() {
        let _ = write!(output, "<path class=\"lw-wave\" d=\"{}\"/>", shape.wave);
    }
    if !shape.busy.is_empty() {
        let _ =
            write!(output, "<path class=\"lw-busy\" stroke-width=\"{WAVE_HEIGHT}\" d=\"{}\"/>", shape.busy);
    }
    for label in &shape.labels {
        let full = label.full.as_deref().map(|full| format!("<title>{}</title>", escape(full)));
        let _ = write!(
            output,
            "<text class=\"lw-value\" x=\"{}\" y=\"{}\">{}{}</text>",
            Tenths(label.tenths),
            label.y,
            full.unwrap_or_default(),
            escape(&label.text)
        );
    }
    veil(row, plot, output);
    output.push_str("</g></g>\n");
}

/// The first values of a lane of boxes with their times: some of them have no room in the picture.
fn spoken(lane: &Lane) -> String {
    let points = lane.points.iter().enumerate().filter(|(_, point)| !point.is_nothing());
    let value = |(index, point): (usize, &Point)| {
        let text = crop(&lane.text(index), SPOKEN_COLUMNS_MAX, '…');
        format!("{text} from {}", duration_words(point.time_ns))
    };
    let values: Vec<String> = points.clone().take(SPOKEN_VALUES_MAX).map(value).collect();
    let more = points.count().saturating_sub(values.len());
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    if values.is_empty() { rest } else { format!("; {}{rest}", values.join(", ")) }
}

/// Covers the stretches of time of which nothing is known.
fn veil(row: &DiagramRow<'_>, plot: &Plot, output: &mut String) {
    /// From here on the words have room.
    const WORDS_TENTHS: i64 = 700;
    for (from, until) in row.unknown() {
        let (left, right) = (plot.tenths(*from), plot.tenths(*until));
        if right <= left {
            continue;
        }
        let _ = write!(
            output,
            "<rect class=\"lw-unknown\" x=\"{}\" y=\"-4\" width=\"{}\" height=\"{}\"/>",
            Tenths(left),
            Tenths(right - left),
            WAVE_HEIGHT + 8
        );
        if right - left > WORDS_TENTHS {
            let _ = write!(
                output,
                "<text class=\"lw-value\" x=\"{}\" y=\"{}\">not known</text>",
                Tenths(left + 40),
                WAVE_HEIGHT - 5
            );
        }
    }
}

/// The legend of bars if there are any, the run in figures, the word on safety.
fn footer(diagram: &Diagram<'_>, plot: &Plot, bars: bool, y: i64, output: &mut String) {
    let mut figures = diagram.summary.sentence();
    if bars {
        let _ = write!(
            figures,
            " A solid bar: several changes within {}.",
            time_text(rounded_up(plot.scale.column_ns))
        );
    }
    for (text, offset) in [(figures.as_str(), 24), (SAFETY_SENTENCE, 42)] {
        let _ = writeln!(
            output,
            "<text class=\"lw-faint\" x=\"{MARGIN}\" y=\"{}\">{}</text>",
            y + offset,
            escape(text)
        );
    }
}
