//! The timing diagram as a standalone SVG (W3C Scalable Vector Graphics 1.1): for reports, checkout sheets, print.
//!
//! Text stays text, in the reader's own fonts; colours follow light, dark and print; nothing is fetched from
//! anywhere. The same diagram gives the same bytes. There are no ids, so that several pictures fit into one page.

mod marks;
mod shape;
mod style;

use std::fmt::Write as _;

use self::marks::{MARK_HEIGHT, MARK_STYLE, marks};
use self::shape::{Plot, Shape, Tenths, WAVE_HEIGHT, shape};
use self::style::{COMPARED_STYLE, STYLE};
use crate::diagram::lane::LaneKind;
use crate::diagram::scale::{TimeScale, rounded_up, time_text};
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
/// Height of a row.
const ROW_HEIGHT: i64 = 36;
/// From the top of a row to the top of its wave.
const WAVE_TOP: i64 = 9;
/// Height of a group's heading, which also carries the times.
const GROUP_HEIGHT: i64 = 32;
/// Room below the last row of a group.
const GROUP_FOOT: i64 = 8;
/// Width of a column in units by the changes of all rows together: the more there are, the coarser the columns, to
/// keep the file small.
const COLUMN_UNITS: [(usize, i64); 3] = [(12_000, 1), (36_000, 2), (usize::MAX, 3)];
/// Columns of text that fit beside a row.
const LABEL_COLUMNS: usize = 22;

/// Draws a diagram as SVG.
pub fn svg(diagram: &Diagram<'_>) -> String {
    let changes: usize = diagram.rows().map(|row| row.changes).sum();
    let column_units = COLUMN_UNITS.iter().find(|(most, _)| changes <= *most).map_or(3, |(_, units)| *units);
    let columns = usize::try_from(PLOT_WIDTH / column_units).unwrap_or(1);
    let plot = Plot {
        scale: TimeScale::even(diagram.start_ns, diagram.end_ns, columns),
        column_units,
        start_ns: diagram.start_ns,
        end_ns: diagram.end_ns,
        width: PLOT_WIDTH,
    };
    let rows = i64::try_from(diagram.rows().count()).unwrap_or(i64::MAX);
    let groups = i64::try_from(diagram.groups.len()).unwrap_or(i64::MAX);
    let mut body = String::new();
    let head = TITLE_HEIGHT + MARK_HEIGHT * i64::try_from(diagram.marks.len()).unwrap_or(0);
    let mut y = head;
    let mut bars = false;
    for group in &diagram.groups {
        let height = GROUP_HEIGHT + GROUP_FOOT + ROW_HEIGHT * i64::try_from(group.rows.len()).unwrap_or(0);
        let _ = writeln!(
            body,
            "<g role=\"list\" aria-label=\"{title}\">\
             <rect class=\"lw-band\" x=\"0\" y=\"{y}\" width=\"{WIDTH}\" height=\"{band}\"/>\
             <text class=\"lw-group\" x=\"{MARGIN}\" y=\"{text_y}\">{title}</text>",
            title = escape(group.kind.title()),
            band = GROUP_HEIGHT - 6,
            text_y = y + 18,
        );
        grid(diagram, &plot, y, height, &mut body);
        let mut row_y = y + GROUP_HEIGHT;
        for row in &group.rows {
            let filled = matches!(row.kind, RowKind::Output | RowKind::Actual);
            let shape = shape(&row.lane(), &plot, filled);
            bars |= !shape.busy.is_empty();
            push_row(row, &shape, &plot, row_y, &mut body);
            row_y += ROW_HEIGHT;
        }
        body.push_str("</g>\n");
        y += height;
    }
    let height =
        head + groups.saturating_mul(GROUP_HEIGHT + GROUP_FOOT) + rows.saturating_mul(ROW_HEIGHT) + 62;
    let mut output = String::new();
    open(diagram, height, &mut output);
    marks(diagram, &plot, TITLE_HEIGHT, y, &mut output);
    output.push_str(&body);
    footer(diagram, &plot, bars, y, &mut output);
    output.push_str("</svg>\n");
    output
}

/// The root element, its description, the style sheet, the ground and the title.
fn open(diagram: &Diagram<'_>, height: i64, output: &mut String) {
    let title = escape(&diagram.title);
    let span = format!("{} to {}", time_text(diagram.start_ns), time_text(diagram.end_ns));
    let under = format!("{} · {span} · scan {}", diagram.source, time_text(diagram.scan_ns));
    let description: Vec<String> = diagram
        .rows()
        .map(|row| {
            format!("{} {}: {}", row.heading.role, row.heading.name, counted(row.changes as u64, "change"))
        })
        .collect();
    let _ = write!(
        output,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <svg xmlns=\"http://www.w3.org/2000/svg\" class=\"lw\" role=\"img\" \
         aria-label=\"Timing diagram: {title}\" width=\"{WIDTH}\" height=\"{height}\" viewBox=\"0 0 {WIDTH} {height}\">\n\
         <title>Timing diagram: {title}</title>\n\
         <desc>{}. {} {}.</desc>\n\
         <style>{STYLE}{}</style>\n\
         <rect class=\"lw-ground\" width=\"100%\" height=\"100%\"/>\n\
         <text class=\"lw-title\" x=\"{MARGIN}\" y=\"30\">{title}</text>\n\
         <text class=\"lw-faint\" x=\"{MARGIN}\" y=\"49\">{}</text>\n",
        escape(&under),
        escape(&diagram.summary.sentence()),
        escape(&description.join("; ")),
        extra_style(diagram),
        escape(under.trim_start_matches(" · ")),
    );
}

/// What the style sheet needs besides, for what not every diagram has.
fn extra_style(diagram: &Diagram<'_>) -> String {
    let compared = diagram.groups.iter().any(|group| group.kind == GroupKind::Compared);
    let marks = if diagram.marks.is_empty() { "" } else { MARK_STYLE };
    format!("{marks}{}", if compared { COMPARED_STYLE } else { "" })
}

/// Times and grid lines behind the rows of one group.
fn grid(diagram: &Diagram<'_>, plot: &Plot, top: i64, height: i64, output: &mut String) {
    let scale = TimeScale::choose(diagram.start_ns, diagram.end_ns, diagram.scan_ns, 100);
    let (unit, ticks) = scale.ticks(8);
    let shown = |time: i64| time >= diagram.start_ns && time <= diagram.end_ns;
    let bottom = top + height;
    let (mut minor, mut major, mut texts) = (String::new(), String::new(), String::new());
    // Five divisions to a tick, so that the grid stays quiet; a scale has at most a hundred columns, and with them
    // this loop is short.
    if let (Some(first), Some(second)) = (ticks.first(), ticks.get(1)) {
        let division = (second.time_ns.saturating_sub(first.time_ns) / 5).max(1);
        let mut time = first.time_ns;
        while shown(time) {
            if !ticks.iter().any(|tick| tick.time_ns == time) {
                let x = Tenths(PLOT_LEFT * 10 + plot.tenths(time));
                let _ = write!(minor, "M{x} {}V{bottom}", top + GROUP_HEIGHT - 6);
            }
            let Some(next) = time.checked_add(division) else { break };
            time = next;
        }
    }
    for tick in ticks.iter().filter(|tick| shown(tick.time_ns)) {
        let tenths = plot.tenths(tick.time_ns);
        let x = Tenths(PLOT_LEFT * 10 + tenths);
        let _ = write!(major, "M{x} {}V{bottom}", top + GROUP_HEIGHT - 10);
        if tenths < (PLOT_WIDTH - 40) * 10 {
            let _ = write!(
                texts,
                "<text class=\"lw-time\" x=\"{x}\" y=\"{}\">{} {}</text>",
                top + 17,
                tick.label,
                unit.symbol
            );
        }
    }
    let _ = write!(output, "<g aria-hidden=\"true\">");
    for (class, path) in [("lw-minor", minor), ("lw-major", major)] {
        if !path.is_empty() {
            let _ = write!(output, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }
    let _ = writeln!(output, "{texts}</g>");
}

/// One row: heading at the left, words for its levels, its wave.
fn push_row(row: &DiagramRow<'_>, shape: &Shape, plot: &Plot, y: i64, output: &mut String) {
    let heading = &row.heading;
    let (class, role) = match row.kind {
        RowKind::Device => ("lw-device", "device"),
        RowKind::Terminal => ("lw-terminal", "terminal"),
        RowKind::Output => ("lw-output", "output"),
        RowKind::Variable => ("lw-variable", "variable"),
        RowKind::Expected => ("lw-expected", "expected"),
        RowKind::Actual => ("lw-actual", "actual"),
    };
    let detail = format!("{role} {}", heading.details.join(", ")).trim_end().to_owned();
    let full = format!("{}, {detail}: {}", heading.name, counted(row.changes as u64, "change"));
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
    let words = match row.lane_kind {
        LaneKind::Boxes => [None, None],
        _ if heading.high == heading.low => [None, Some(&heading.low)],
        _ => [Some(&heading.high), Some(&heading.low)],
    };
    for (word, word_y) in words.into_iter().zip([WAVE_TOP + 4, WAVE_TOP + WAVE_HEIGHT + 3]) {
        if let Some(word) = word {
            let _ = write!(
                output,
                "<text class=\"lw-word\" x=\"{}\" y=\"{}\">{}</text>",
                PLOT_LEFT - 8,
                y + word_y,
                escape(&crop(word, 12, '…'))
            );
        }
    }
    let _ = write!(output, "<g transform=\"translate({PLOT_LEFT} {})\">", y + WAVE_TOP);
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
        let _ = write!(
            output,
            "<text class=\"lw-value\" x=\"{}\" y=\"{}\">{}</text>",
            Tenths(label.tenths),
            label.y,
            escape(&label.text)
        );
    }
    veil(row, plot, output);
    output.push_str("</g></g>\n");
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
