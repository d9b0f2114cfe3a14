//! The timing diagram for a terminal: Unicode or ASCII, any width from 40 columns, colour only on request.
//!
//! The page reads from top to bottom: what it is, its time scale, the rows in groups, a legend of the marks used,
//! the run in figures. No line is wider than asked. Knows nothing of terminals themselves: whether one is there,
//! how wide it is and whether it takes colour is the caller's knowledge.

mod axis;
mod glyphs;
mod legend;
mod mark;
pub(crate) mod text;
mod wave;

use unicode_width::UnicodeWidthStr;

use self::glyphs::{ASCII, FOLD_COLUMNS, Glyphs, UNICODE};
use self::text::{Line, Style, to_ascii, wrap_parts, wrap_words};
use self::wave::{Marks, wave};
use crate::diagram::fold::FoldShape;
use crate::diagram::lane::LaneKind;
use crate::diagram::scale::{Tick, TimeScale, TimeUnit, time_text};
use crate::diagram::words::crop;
use crate::diagram::{Diagram, DiagramRow, RowKind, SAFETY_SENTENCE};

/// Narrowest page that can be asked for, in columns; below it the page is drawn for this width.
pub const WIDTH_MIN: usize = 40;
/// Widest page that can be asked for, in columns.
pub const WIDTH_MAX: usize = 1_000;

/// From this width on the words for the levels of a row stand beside its wave.
const WIDTH_WITH_LEVEL_WORDS: usize = 72;
/// What of a row's details is always kept, in columns.
const LABEL_WIDTH_TERSE: usize = 16;
/// From this number of rows on the time axis stands below the diagram too.
const ROWS_WITH_SECOND_AXIS: usize = 12;

/// How a terminal diagram is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TerminalOptions {
    /// Width in columns, 40 to 1000; others are brought into this range.
    pub width: usize,
    /// Whether ECMA-48 colours are used. They never carry anything alone.
    pub colour: bool,
    /// Whether only ASCII characters are used.
    pub ascii: bool,
    /// Whether title, source, the time shown and the time scale stand above, and the rows in groups with titles; without
    /// them the diagram is as short as it can be, to stand in a text that tells what it is.
    pub heading: bool,
    /// Whether the run in figures and the word on safety stand below.
    pub footer: bool,
}

impl Default for TerminalOptions {
    fn default() -> Self {
        Self { width: 80, colour: false, ascii: false, heading: true, footer: true }
    }
}

/// Draws a diagram; every line ends in a line feed.
pub fn terminal(diagram: &Diagram<'_>, options: &TerminalOptions) -> String {
    let page = Page::new(diagram, options);
    let mut output = String::new();
    for line in page.lines() {
        line.finish(options.colour, &mut output);
    }
    output
}

/// Where things stand on the page.
struct Page<'d> {
    diagram: &'d Diagram<'d>,
    options: &'d TerminalOptions,
    glyphs: &'static Glyphs,
    width: usize,
    /// Columns for names and details, after one blank.
    label_width: usize,
    /// Columns for the words of levels; 0 if there is no room.
    level_width: usize,
    /// First column of the waves.
    plot: usize,
    scale: TimeScale,
    unit: TimeUnit,
    ticks: Vec<Tick>,
}

impl<'d> Page<'d> {
    fn new(diagram: &'d Diagram<'d>, options: &'d TerminalOptions) -> Self {
        let width = options.width.clamp(WIDTH_MIN, WIDTH_MAX);
        let glyphs = if options.ascii { &ASCII } else { &UNICODE };
        let clean = |text: &str| if options.ascii { to_ascii(text) } else { text.to_owned() };
        let widest = |texts: &dyn Fn(&DiagramRow<'_>) -> Vec<String>, most: usize| {
            let widths = diagram.rows().flat_map(texts).map(|text| clean(&text).width());
            widths.max().unwrap_or(0).min(most)
        };
        let label_most = (width * 3 / 10).clamp(12, 34);
        let marks = diagram.marks.iter().map(|mark| clean(&mark.name).width()).max().unwrap_or(0);
        let names = widest(&|row| vec![row.heading.name.clone()], label_most).max(marks.min(label_most));
        // Beside marks there is room for the unit of the time axis too.
        let least = if diagram.marks.is_empty() { 6 } else { 10 };
        let with_details = |with_levels: bool| {
            names.max(widest(&|row| vec![details(row, with_levels)], label_most)).max(least)
        };
        let level_words = widest(&|row| vec![row.heading.high.clone(), row.heading.low.clone()], 10);
        // From the richest to the tersest layout beside the waves. A terser one is taken only if it makes the time
        // scale finer: short pulses that can be seen are worth more than words that can be had elsewhere.
        let mut layouts =
            vec![(with_details(false), 0), (with_details(false).min(names.max(LABEL_WIDTH_TERSE)), 0)];
        if width >= WIDTH_WITH_LEVEL_WORDS && level_words > 0 {
            layouts.insert(0, (with_details(true), level_words));
        }
        let placed = layouts.into_iter().map(|(label_width, level_width)| {
            let plot = 1 + label_width + 1 + if level_width > 0 { level_width + 1 } else { 0 };
            let columns = width.saturating_sub(plot);
            let margin = (columns / 16).clamp(2, 4);
            let scale =
                diagram.scale(columns, FoldShape { columns: FOLD_COLUMNS, margin, saved: 8, grid: 5 });
            (label_width, level_width, plot, scale)
        });
        // There are always two layouts, so one of them is the best; the first of equals is kept.
        let (label_width, level_width, plot, scale) = placed
            .reduce(|best, next| {
                // Columns as short as a scan show everything there is.
                let finer = best.3.column_ns > diagram.scan_ns && next.3.column_ns < best.3.column_ns;
                if finer { next } else { best }
            })
            .unwrap_or((LABEL_WIDTH_TERSE, 0, LABEL_WIDTH_TERSE + 2, TimeScale::even(0, 0, 1, &[])));
        let (unit, ticks) = scale.ticks(8);
        Self { diagram, options, glyphs, width, label_width, level_width, plot, scale, unit, ticks }
    }

    /// Text in the characters allowed.
    fn clean(&self, text: &str) -> String {
        if self.options.ascii { to_ascii(text) } else { text.to_owned() }
    }

    /// Text in the characters allowed and at most so wide.
    fn cropped(&self, text: &str, columns: usize) -> String {
        crop(&self.clean(text), columns, self.glyphs.cropped)
    }

    fn lines(&self) -> Vec<Line> {
        let mut marks = Marks::default();
        let mut lines = if self.options.heading { self.header() } else { Vec::new() };
        let rows = self.diagram.rows().count();
        let has_time = self.scale.columns > 0;
        if has_time && rows > 0 {
            if self.options.heading {
                lines.push(Line::default());
            }
            lines.push(self.axis_labels());
            lines.push(self.axis());
            lines.extend(self.folds());
            lines.extend(self.diagram.marks.iter().flat_map(|mark| self.mark(mark)));
        } else if rows > 0 && self.options.heading {
            lines.push(Line::default());
        }
        for (index, group) in self.diagram.groups.iter().enumerate() {
            if self.options.heading {
                lines.push(self.group_heading(group.kind, index > 0 && has_time));
            }
            for row in &group.rows {
                lines.extend(self.row(row, &mut marks));
            }
        }
        if has_time && rows >= ROWS_WITH_SECOND_AXIS {
            lines.push(self.axis());
            lines.push(self.axis_labels());
        }
        let legend = self.legend(marks);
        if !legend.is_empty() {
            lines.push(Line::default());
            lines.extend(legend);
        }
        if self.options.footer {
            lines.push(Line::default());
            for sentence in [self.diagram.summary.sentence().as_str(), SAFETY_SENTENCE] {
                lines.extend(
                    wrap_words(sentence, 0, self.width).into_iter().map(|text| single(Style::Plain, text)),
                );
            }
        }
        lines
    }

    /// Title, source, time shown, time scale.
    fn header(&self) -> Vec<Line> {
        let joint = self.clean(" · ");
        let title = self.cropped(&self.diagram.title, self.width);
        let mut parts = vec![title.clone(), self.cropped(&self.diagram.source, self.width)];
        if self.scale.columns > 0 {
            parts.push(self.diagram.time_shown());
            parts.push(format!("one column is {}", time_text(self.scale.column_ns)));
        } else {
            parts.push("no time to show".to_owned());
        }
        parts.push(format!("scan {}", time_text(self.diagram.scan_ns)));
        let parts: Vec<String> = parts.iter().map(|part| self.clean(part)).collect();
        let mut lines = Vec::new();
        for (index, text) in wrap_parts(&parts, &joint, self.width).into_iter().enumerate() {
            let mut line = Line::default();
            match text.strip_prefix(title.as_str()).filter(|_| index == 0) {
                Some(rest) => line.push(Style::Strong, title.clone()).push(Style::Plain, rest),
                None => line.push(Style::Plain, text),
            };
            lines.push(line);
        }
        lines
    }

    /// The two lines of a row.
    fn row(&self, row: &DiagramRow<'_>, marks: &mut Marks) -> [Line; 2] {
        let mut wave = wave(&row.lane(), row.kind, &self.scale, self.glyphs, self.options.ascii, marks);
        self.through(&mut wave, marks);
        let (style, detail_style) = match row.kind {
            RowKind::Device => (Style::Device, if row.fault.is_some() { Style::Fault } else { Style::Faint }),
            RowKind::Output | RowKind::Actual => (Style::Output, Style::Faint),
            RowKind::Expected => (Style::Plain, Style::Plain),
            RowKind::Terminal | RowKind::Variable | RowKind::Step => (Style::Plain, Style::Faint),
        };
        let [upper_word, lower_word] = self.level_words(row, wave.envelope);
        let name = self.cropped(&row.heading.name, self.label_width);
        let detail = self.cropped(&self.details(row), self.label_width);
        let mut lines = [Line::default(), Line::default()];
        let halves =
            [(Style::Strong, name, upper_word, wave.upper), (detail_style, detail, lower_word, wave.lower)];
        for (line, (label_style, label, word, wave)) in lines.iter_mut().zip(halves) {
            line.push(Style::Plain, " ").push(label_style, label);
            line.pad_to(self.plot - usize::from(!word.is_empty()) - word.width());
            line.push(Style::Faint, word).pad_to(self.plot).push(style, wave);
        }
        lines
    }

    /// The second line beside a row. Where it has no room, a wiring fault and the range of a number are what is kept.
    fn details(&self, row: &DiagramRow<'_>) -> String {
        let full = details(row, self.level_width > 0);
        let mut shorter = Vec::new();
        if row.fault.is_some() {
            shorter.push(row.heading.details.join(", "));
        }
        shorter.extend(row.fault.clone());
        shorter.extend(range(row).filter(|_| self.level_width == 0));
        let fits = |text: &String| self.clean(text).width() <= self.label_width;
        if fits(&full) {
            return full;
        }
        shorter.iter().find(|text| fits(text)).or(shorter.last()).cloned().unwrap_or(full)
    }

    /// The words at the upper and the lower line; empty ones where there is no room for words.
    fn level_words(&self, row: &DiagramRow<'_>, envelope: bool) -> [String; 2] {
        if self.level_width == 0 {
            return [String::new(), String::new()];
        }
        let heading = &row.heading;
        let range = range(row).unwrap_or_default();
        let words = match row.lane_kind {
            LaneKind::Level => [heading.high.clone(), heading.low.clone()],
            _ if envelope => ["max".to_owned(), "min".to_owned()],
            _ if heading.low == heading.high => [String::new(), String::new()],
            LaneKind::Steps | LaneKind::Curve if self.clean(&range).width() <= self.level_width => {
                [String::new(), range]
            }
            LaneKind::Steps | LaneKind::Curve => [heading.high.clone(), heading.low.clone()],
            LaneKind::Boxes => [String::new(), String::new()],
        };
        words.map(|word| self.cropped(&word, self.level_width))
    }
}

/// A line of one piece.
fn single(style: Style, text: String) -> Line {
    let mut line = Line::default();
    line.push(style, text);
    line
}

/// The second line beside a row. Without room for level words a device's line begins with its actuated word and
/// a number's line ends with its range.
fn details(row: &DiagramRow<'_>, with_levels: bool) -> String {
    let heading = &row.heading;
    let two_state = row.lane_kind == LaneKind::Level;
    let mut parts: Vec<String> = Vec::new();
    let role = match row.kind {
        RowKind::Device if two_state && !with_levels => heading.high.as_str(),
        RowKind::Device | RowKind::Terminal | RowKind::Expected | RowKind::Actual => heading.role,
        // The heading of the group says it.
        RowKind::Output | RowKind::Variable | RowKind::Step => "",
    };
    parts.extend(heading.details.iter().cloned());
    parts.extend(range(row).filter(|_| !with_levels));
    let details = parts.join(", ");
    if role.is_empty() { details } else { format!("{role} {details}").trim_end().to_owned() }
}

/// Lowest and highest value of a numeric row that has two.
fn range(row: &DiagramRow<'_>) -> Option<String> {
    let numeric = matches!(row.lane_kind, LaneKind::Steps | LaneKind::Curve);
    let heading = &row.heading;
    (numeric && heading.low != heading.high).then(|| format!("{}…{}", heading.low, heading.high))
}
