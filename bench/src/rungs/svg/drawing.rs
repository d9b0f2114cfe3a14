//! One rung as SVG: the grid in pixels, folded where it is wider than the picture.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use super::strokes::Strokes;
use crate::{
    render::markup::escape,
    rungs::{
        face::{Face, Faces, Symbol, Tone, pin_name},
        layout::{Block, Content, Item},
        page::{Page, Placed},
        words::element_state,
    },
};

/// Pixels that a character takes, on the safe side.
const CHARACTER: i64 = 7;
/// Height of a line of text.
const TEXT_LINE: i64 = 14;
/// From the line to the end of a symbol, up and down.
const HALF: i64 = 10;
/// Least width of a column.
const COLUMN: i64 = 56;
/// Room for the line beside a value.
const STUB: i64 = 16;
/// Room for the mark of a fold.
const MARK: i64 = 34;

/// Columns that stand beside one another.
struct Band {
    first: usize,
    /// Behind the last one.
    end: usize,
    /// Left edge of the first column.
    left: i64,
    /// Upper edge.
    top: i64,
    /// Lower edge: of a part that is lower than the rung the empty rows are left out.
    bottom: i64,
}

pub(super) struct Drawing<'p> {
    faces: Faces<'p>,
    all: Vec<Face>,
    widths: Vec<i64>,
    /// By row: from the upper edge of the rung to the line with the symbols.
    lines: Vec<i64>,
    /// By row: from the upper edge of the rung to the end of what stands under the line.
    ends: Vec<i64>,
    bands: Vec<Band>,
    x: i64,
    width: i64,
    strokes: Strokes,
    out: String,
}

/// Draws a rung with its upper left corner at a point; gives the markup and its height.
pub(super) fn drawing(placed: &Placed<'_>, page: &Page<'_>, (x, y): (i64, i64), width: i64) -> (String, i64) {
    let faces = Faces::new(placed, page, false);
    let all = faces.all();
    let mut drawing = Drawing {
        faces,
        all,
        widths: Vec::new(),
        lines: Vec::new(),
        ends: Vec::new(),
        bands: Vec::new(),
        x,
        width,
        strokes: Strokes::default(),
        out: String::new(),
    };
    drawing.measure();
    let height = drawing.fold(y);
    drawing.draw(page);
    (drawing.out, height)
}

impl Drawing<'_> {
    fn measure(&mut self) {
        let layout = self.faces.layout;
        self.widths = vec![COLUMN; layout.columns];
        let mut above = vec![HALF + 2; layout.rows];
        let mut below = vec![HALF + 4; layout.rows];
        let lines = |count: usize| i64::try_from(count).unwrap_or(0) * TEXT_LINE;
        for (item, face) in layout.items.iter().zip(&self.all) {
            // Bold text from one end of the column to the other needs a pixel more for each character.
            let stub = match &face.symbol {
                Symbol::Feed(text) | Symbol::Word(text) => STUB + pixels(text.width()) / CHARACTER,
                _ => 0,
            };
            raise(&mut self.widths, item.column, pixels(face.width()) + 10 + stub);
            raise(&mut above, item.row, HALF + 4 + lines(face.above.len()));
            raise(&mut below, item.row, HALF + 4 + lines(face.below.len()));
        }
        if let Some(block) = &layout.block {
            raise(&mut self.widths, block.column, block_width(block));
            raise(&mut above, 0, HALF + 8 + 2 * TEXT_LINE);
            raise(&mut below, block.bottom, HALF + 10);
        }
        let mut line = 0;
        for (above, below) in above.iter().zip(&below) {
            self.lines.push(line + above);
            line += above + below;
            self.ends.push(line);
        }
    }

    /// Cuts the columns into bands below one another; gives the height of all.
    fn fold(&mut self, top: i64) -> i64 {
        let (mut first, mut top) = (0, top);
        let start = top;
        while first < self.widths.len() {
            let left = if first == 0 { self.x } else { self.x + MARK };
            let room = self.x + self.width - left;
            let mut used = 0;
            let mut end = first;
            while let Some(width) = self.widths.get(end) {
                let last = end + 1 == self.widths.len();
                if end > first && used + width + if last { 0 } else { MARK } > room {
                    break;
                }
                used += width;
                end += 1;
            }
            // Coils stand at the right edge.
            if end == self.widths.len()
                && let Some(width) = self.widths.last_mut()
            {
                *width += (room - used).max(0);
            }
            let bottom = top + self.ends.get(self.last_row(first, end)).copied().unwrap_or(0);
            self.bands.push(Band { first, end, left, top, bottom });
            top = bottom + 10;
            first = end;
        }
        top - start
    }

    /// The lowest row in which something stands in these columns.
    fn last_row(&self, first: usize, end: usize) -> usize {
        let layout = self.faces.layout;
        if first == 0 {
            return layout.rows.saturating_sub(1);
        }
        let columns = first..end;
        let items = layout.items.iter().filter(|item| columns.contains(&item.column)).map(|item| item.row);
        let wires = layout.wires.iter().filter(|wire| wire.from < end && wire.to > first);
        let drops = layout.drops.iter().filter(|drop| drop.boundary > first && drop.boundary <= end);
        let block = layout.block.iter().filter(|block| columns.contains(&block.column));
        let others = wires.map(|wire| wire.row).chain(drops.map(|drop| drop.bottom));
        items.chain(others).chain(block.map(|block| block.bottom)).max().unwrap_or(0)
    }

    /// The place of a boundary in a band.
    fn boundary(&self, band: &Band, boundary: usize) -> i64 {
        band.left + self.widths.get(band.first..boundary).map_or(0, |widths| widths.iter().sum::<i64>())
    }

    fn line(&self, band: &Band, row: usize) -> i64 {
        band.top + self.lines.get(row).copied().unwrap_or(0)
    }

    fn draw(&mut self, page: &Page<'_>) {
        let layout = self.faces.layout;
        let bands = std::mem::take(&mut self.bands);
        let mut marks = 0_usize;
        for (index, band) in bands.iter().enumerate() {
            for wire in &layout.wires {
                let (from, to) = (wire.from.max(band.first), wire.to.min(band.end));
                if from < to {
                    let (left, right) = (self.boundary(band, from), self.boundary(band, to));
                    let y = self.line(band, wire.row);
                    self.strokes.across(left, right, y, self.faces.flow.at(wire.node));
                }
            }
            for drop in &layout.drops {
                // At a fold the line stands at the end of the first band.
                let here = if band.first == 0 { 0 } else { band.first + 1 };
                if (here..=band.end).contains(&drop.boundary) {
                    let x = self.boundary(band, drop.boundary);
                    let (top, bottom) = (self.line(band, drop.top), self.line(band, drop.bottom));
                    self.strokes.down(x, top, bottom, self.faces.flow.at(drop.node));
                }
            }
            let all = std::mem::take(&mut self.all);
            for (item, face) in layout.items.iter().zip(&all) {
                if (band.first..band.end).contains(&item.column) {
                    self.item(item, face, band, page);
                }
            }
            self.all = all;
            if let Some(block) =
                layout.block.as_ref().filter(|block| (band.first..band.end).contains(&block.column))
            {
                self.block(block, band);
            }
            if index == 0 {
                self.strokes.down(band.left, band.top, band.bottom, self.faces.flow.at(0));
            }
            if band.end == layout.columns {
                let right = self.boundary(band, band.end);
                self.strokes.down(right, band.top, band.bottom, false);
            } else {
                self.marks(band, bands.get(index + 1), &mut marks);
            }
        }
        self.bands = bands;
        let Strokes { light, live } = std::mem::take(&mut self.strokes);
        for (class, path) in [("lr-light", light), ("lr-live", live)] {
            if !path.is_empty() {
                let _ = write!(self.out, "<path class=\"{class}\" d=\"{path}\"/>");
            }
        }
    }

    /// Lines that go on in the next band have the same letter at both ends.
    fn marks(&mut self, band: &Band, next: Option<&Band>, marks: &mut usize) {
        let Some(next) = next else { return };
        let layout = self.faces.layout;
        let items =
            layout.items.iter().filter(|item| item.column == band.end).map(|item| (item.row, item.from));
        let wires = layout.wires.iter().filter(|wire| (wire.from..wire.to).contains(&band.end));
        let block = layout.block.iter().filter(|block| block.column == band.end);
        let pins = block.flat_map(|block| &block.inputs).map(|pin| (pin.row, pin.node));
        let mut crossing: Vec<(usize, usize)> =
            items.chain(wires.map(|wire| (wire.row, wire.node))).chain(pins).collect();
        crossing.sort_unstable();
        crossing.dedup();
        for (row, node) in crossing {
            *marks += 1;
            let live = self.faces.flow.at(node);
            let (x, y) = (self.boundary(band, band.end), self.line(band, row));
            self.strokes.across(x, x + 12, y, live);
            let mark = crate::rungs::letters(*marks);
            self.text(x + 16, y + 4, "lr-faint", &format!("→ {mark}"));
            let y = self.line(next, row);
            self.strokes.across(next.left - 10, next.left, y, live);
            self.text(next.left - 14, y + 4, "lr-faint lr-end", &format!("{mark} →"));
        }
    }

    fn text(&mut self, x: i64, y: i64, class: &str, text: &str) {
        if !text.is_empty() {
            let _ = write!(self.out, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\">{}</text>", escape(text));
        }
    }

    fn item(&mut self, item: &Item<'_>, face: &Face, band: &Band, page: &Page<'_>) {
        let (left, right) = (self.boundary(band, item.column), self.boundary(band, item.column + 1));
        let y = self.line(band, item.row);
        let (before, behind) = (self.faces.flow.at(item.from), self.faces.flow.at(item.to));
        let half = pixels(face.width()) / 2 + 5;
        let centre = if matches!(face.symbol, Symbol::Coil(_)) { right - half } else { (left + right) / 2 };
        let group = match item.content {
            Content::Element(element) => element_state(element, page),
            _ => String::new(),
        };
        let _ = write!(self.out, "<g>");
        if !group.is_empty() {
            let _ = write!(self.out, "<title>{}</title>", escape(&group));
        }
        match &face.symbol {
            Symbol::Line => self.strokes.across(left, right, y, before),
            Symbol::Contact(sign, conducts) => {
                // A sign between the bars stands free of them.
                let signs = i64::try_from(sign.trim_matches([' ', '/']).width()).unwrap_or(0);
                let reach = if signs > 0 { pixels(sign.width()) / 2 + 5 + signs } else { 6 };
                let closed = *conducts == Some(true);
                self.strokes.across(left, centre - reach, y, before);
                self.strokes.across(centre + reach, right, y, behind);
                for x in [centre - reach, centre + reach] {
                    self.strokes.down(x, y - HALF, y + HALF, closed);
                }
                if sign == "/" {
                    let path = self.strokes.path(false);
                    let _ = write!(path, "M{} {}L{} {}", centre - 5, y + HALF, centre + 5, y - HALF);
                } else {
                    self.text(centre, y + 4, "lr-middle lr-strong", sign.trim());
                }
            }
            Symbol::Coil(sign) => {
                self.strokes.across(left, centre - 8, y, before);
                self.strokes.across(centre + 8, right, y, false);
                let path = self.strokes.path(before);
                let (up, down) = (y - HALF, y + HALF);
                let _ = write!(path, "M{0} {up}Q{1} {y} {0} {down}", centre - 5, centre - 11);
                let _ = write!(path, "M{0} {up}Q{1} {y} {0} {down}", centre + 5, centre + 11);
                if *sign == "/" {
                    let path = self.strokes.path(false);
                    let _ = write!(path, "M{} {}L{} {}", centre - 4, y + 8, centre + 4, y - 8);
                } else {
                    self.text(centre, y + 4, "lr-middle lr-strong", sign.trim());
                }
            }
            Symbol::Word(text) if !text.is_empty() => {
                self.strokes.across(left, left + 14, y, before);
                self.text(left + 19, y + 4, "lr-strong", text);
            }
            Symbol::Feed(text) if !text.is_empty() => {
                self.strokes.across(right - 14, right, y, false);
                self.text(right - 19, y + 4, "lr-strong lr-end", text);
            }
            Symbol::Word(_) | Symbol::Feed(_) => {}
            Symbol::Box { title, lines, conducts } => {
                let half = pixels(face.symbol.width()) / 2 + 3;
                let (start, end) = (centre - half, centre + half);
                let closed = *conducts == Some(true);
                let (top, bottom) =
                    (y - HALF - 2, y + HALF + TEXT_LINE * (i64::try_from(lines.len()).unwrap_or(1) - 1));
                self.strokes.across(left, start, y, before);
                self.strokes.across(end, right, y, behind);
                let _ = write!(self.strokes.path(closed), "M{start} {top}H{end}V{bottom}H{start}Z");
                self.text(centre, top - 4, "lr-middle lr-strong", title);
                let mut line = y + 4;
                for text in lines {
                    self.text(start + 8, line, "", text);
                    line += TEXT_LINE;
                }
                self.out.push_str("</g>");
                return;
            }
        }
        let mut line = y - HALF - 5 - TEXT_LINE * (i64::try_from(face.above.len()).unwrap_or(1) - 1);
        for (tone, text) in &face.above {
            self.text(centre, line, class(*tone), text);
            line += TEXT_LINE;
        }
        let mut line = y + HALF + 12;
        for (tone, text) in &face.below {
            self.text(centre, line, class(*tone), text);
            line += TEXT_LINE;
        }
        self.out.push_str("</g>");
    }

    fn block(&mut self, block: &Block<'_>, band: &Band) {
        let (left, right) = (self.boundary(band, block.column), self.boundary(band, block.column + 1));
        let (start, end) = (left + 14, right - 14);
        let (top, bottom) = (self.line(band, 0) - HALF - 4, self.line(band, block.bottom) + HALF + 4);
        let centre = (start + end) / 2;
        let _ = write!(self.strokes.path(false), "M{start} {top}H{end}V{bottom}H{start}Z");
        let (instance, kind) = (self.faces.name(&block.call.instance), self.faces.name(&block.call.block));
        self.text(centre, top - 18, "lr-middle lr-strong", &instance);
        self.text(centre, top - 4, "lr-middle lr-faint", &kind);
        for place in &block.inputs {
            let y = self.line(band, place.row);
            self.strokes.across(left, start, y, self.faces.flow.at(place.node));
            self.text(start + 6, y + 4, "", &pin_name(place.pin));
        }
        for place in &block.outputs {
            let y = self.line(band, place.row);
            self.strokes.across(end, right, y, self.faces.flow.at(place.node));
            self.text(end - 6, y + 4, "lr-end", &place.pin.name);
        }
    }
}

fn class(tone: Tone) -> &'static str {
    match tone {
        Tone::Strong => "lr-middle lr-strong",
        Tone::Faint => "lr-middle lr-faint",
        Tone::True => "lr-middle lr-true",
    }
}

fn block_width(block: &Block<'_>) -> i64 {
    let inputs = block.inputs.iter().map(|place| pin_name(place.pin).width()).max().unwrap_or(0);
    let outputs = block.outputs.iter().map(|place| place.pin.name.width()).max().unwrap_or(0);
    let heads = block.call.instance.width().max(block.call.block.width()).min(30);
    pixels(inputs + outputs + 4).max(pixels(heads)) + 40
}

fn pixels(columns: usize) -> i64 {
    i64::try_from(columns).unwrap_or(0) * CHARACTER
}

fn raise(sizes: &mut [i64], index: usize, least: i64) {
    if let Some(size) = sizes.get_mut(index) {
        *size = (*size).max(least);
    }
}
