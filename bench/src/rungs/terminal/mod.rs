//! A sheet of rungs for a terminal: Unicode or ASCII, any width from 40 columns, colour only on request.
//!
//! Heavy lines have continuity, light ones do not; the bars of a contact are heavy while it conducts. Rungs that are wider
//! than the page are folded: what goes on has the same letter at both ends.

mod canvas;
mod fold;
mod text;

use unicode_width::UnicodeWidthStr;

use self::canvas::{Canvas, Weight};
use super::{
    Page, Placed,
    face::{Face, Faces, Symbol, Tone, pin_name},
    layout::{Block, Item},
};
use crate::{
    diagram::words::crop,
    render::terminal::text::{Line, Style},
};

pub use crate::render::terminal::{WIDTH_MAX, WIDTH_MIN};

/// How a sheet is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TextOptions {
    /// Width in columns, 40 to 1000; others are brought into this range.
    pub width: usize,
    /// Whether ECMA-48 colours are used. They never carry anything alone.
    pub colour: bool,
    /// Whether only ASCII characters are used.
    pub ascii: bool,
}

impl Default for TextOptions {
    fn default() -> Self {
        TextOptions { width: 100, colour: false, ascii: false }
    }
}

/// Draws a page; every line ends in a line feed.
#[must_use]
pub fn terminal(page: &Page<'_>, options: &TextOptions) -> String {
    let options = TextOptions { width: options.width.clamp(WIDTH_MIN, WIDTH_MAX), ..*options };
    let mut output = String::new();
    for line in text::page(page, &options) {
        line.finish(options.colour, &mut output);
    }
    output
}

/// The places of the grid on a canvas.
struct Places {
    /// By boundary: its column on the canvas.
    boundaries: Vec<usize>,
    /// By row: the line with the symbols.
    lines: Vec<usize>,
    /// The column of the right rail, if something leads there.
    rail: usize,
    height: usize,
}

/// A rung as lines, no wider than the page less `indent`; `None` if it is too large to draw.
fn rung(placed: &Placed<'_>, page: &Page<'_>, options: &TextOptions, indent: usize) -> Option<Vec<Line>> {
    let width = options.width.saturating_sub(indent).max(WIDTH_MIN / 2);
    let faces = Faces::new(placed, page, options.ascii);
    Pen { faces, ascii: options.ascii }.draw(width)
}

/// What one entry is drawn with.
struct Pen<'p> {
    faces: Faces<'p>,
    ascii: bool,
}

impl Pen<'_> {
    fn draw(&self, width: usize) -> Option<Vec<Line>> {
        let faces = self.faces.all();
        let places = self.places(&faces, width);
        let mut canvas = Canvas::new(places.rail + 1, places.height, self.ascii)?;
        self.lines(&places, &mut canvas);
        for (item, face) in self.faces.layout.items.iter().zip(&faces) {
            self.item(item, face, &places, &mut canvas);
        }
        if let Some(block) = &self.faces.layout.block {
            self.block(block, &places, &mut canvas);
        }
        self.rails(&places, &mut canvas);
        Some(fold::fold(&canvas, &places, width, self.ascii))
    }

    fn places(&self, faces: &[Face], width: usize) -> Places {
        let mut widths = vec![1; self.faces.layout.columns];
        let mut above = vec![0; self.faces.layout.rows];
        let mut below = vec![0; self.faces.layout.rows];
        for (item, face) in self.faces.layout.items.iter().zip(faces) {
            raise(&mut widths, item.column, face.width());
            raise(&mut above, item.row, face.above.len());
            raise(&mut below, item.row, face.below.len());
        }
        if let Some(block) = &self.faces.layout.block {
            raise(&mut widths, block.column, self.block_width(block));
            // The name of the instance and the edges of the box.
            raise(&mut above, 0, 2);
            raise(&mut below, block.bottom, 1);
        }
        let natural: usize = widths.iter().map(|width| width + 1).sum::<usize>() + 1;
        // Coils stand at the right edge of the page, if it is not much wider than the rung.
        let target = width.min(RAIL_COLUMN);
        if natural <= target
            && let Some(last) = widths.last_mut()
        {
            *last += target - natural;
        }
        let mut boundaries = vec![0];
        let mut column = 0;
        for width in &widths {
            column += width + 1;
            boundaries.push(column);
        }
        let mut lines = Vec::new();
        let mut line = 0;
        for (above, below) in above.iter().zip(&below) {
            lines.push(line + above);
            line += above + 1 + below;
        }
        Places { boundaries, lines, rail: column, height: line.max(1) }
    }

    fn weight(&self, node: usize) -> Weight {
        if self.faces.flow.at(node) { Weight::Heavy } else { Weight::Light }
    }

    /// What connects the items.
    fn lines(&self, places: &Places, canvas: &mut Canvas) {
        for wire in &self.faces.layout.wires {
            if let (Some(from), Some(to), Some(line)) =
                (places.boundaries.get(wire.from), places.boundaries.get(wire.to), places.lines.get(wire.row))
            {
                canvas.across(*from, *to, *line, self.weight(wire.node));
            }
        }
        for drop in &self.faces.layout.drops {
            if let (Some(column), Some(top), Some(bottom)) = (
                places.boundaries.get(drop.boundary),
                places.lines.get(drop.top),
                places.lines.get(drop.bottom),
            ) {
                canvas.down(*column, *top, *bottom, self.weight(drop.node));
            }
        }
    }

    fn item(&self, item: &Item<'_>, face: &Face, places: &Places, canvas: &mut Canvas) {
        let (Some(left), Some(right), Some(line)) = (
            places.boundaries.get(item.column).copied(),
            places.boundaries.get(item.column + 1).copied(),
            places.lines.get(item.row).copied(),
        ) else {
            return;
        };
        let symbol = face.symbol.width();
        let output = matches!(face.symbol, Symbol::Coil(_));
        // Coils stand at the right of their column, everything else in the middle.
        let centre =
            if output { right.saturating_sub(face.width().div_ceil(2) + 1) } else { (left + right) / 2 };
        let start = centre.saturating_sub((symbol.saturating_sub(1)) / 2);
        let end = start + symbol.saturating_sub(1);
        let (before, behind) = (self.weight(item.from), self.weight(item.to));
        match &face.symbol {
            Symbol::Line => canvas.across(left, right, line, before),
            Symbol::Contact(sign, conducts) => {
                let bar = if *conducts == Some(true) { Weight::Heavy } else { Weight::Light };
                canvas.across(left, start, line, before);
                canvas.across(end, right, line, behind);
                canvas.bar(start, line, bar);
                canvas.bar(end, line, bar);
                let style = if *conducts == Some(true) { Style::Live } else { Style::Plain };
                canvas.write(start + 1, line, style, sign);
            }
            Symbol::Coil(sign) => {
                canvas.across(left, start, line, before);
                canvas.across(end, right, line, Weight::Light);
                let style = if before == Weight::Heavy { Style::Live } else { Style::Plain };
                canvas.write(start, line, style, &format!("({sign})"));
            }
            Symbol::Word(text) => {
                if text.is_empty() {
                    return;
                }
                canvas.across(left, left + 2, line, before);
                canvas.write(left + 2, line, Style::Strong, &format!(" {text}"));
            }
            Symbol::Feed(text) => {
                if text.is_empty() {
                    return;
                }
                canvas.across(right.saturating_sub(2), right, line, Weight::Light);
                let start = right.saturating_sub(symbol + 1);
                canvas.write(start, line, Style::Strong, &format!("{text} "));
            }
            Symbol::Box { title, lines, conducts } => {
                let edge = if *conducts == Some(true) { Weight::Heavy } else { Weight::Light };
                canvas.across(left, start, line, before);
                canvas.across(end, right, line, behind);
                let (top, bottom) = (line.saturating_sub(1), line + lines.len());
                canvas.across(start, end, top, edge);
                canvas.across(start, end, bottom, edge);
                canvas.down(start, top, bottom, edge);
                canvas.down(end, top, bottom, edge);
                canvas.write(start + 2, top, Style::Strong, title);
                for (index, text) in lines.iter().enumerate() {
                    canvas.write(start + 2, line + index, Style::Plain, text);
                }
                return;
            }
        }
        let mut texts = |from: usize, texts: &[(Tone, String)]| {
            for (index, (tone, text)) in texts.iter().enumerate() {
                let at = centre.saturating_sub(text.width().saturating_sub(1) / 2).max(left + 1);
                canvas.write(at, from + index, style(*tone), text);
            }
        };
        texts(line.saturating_sub(face.above.len()), &face.above);
        texts(line + 1, &face.below);
    }

    /// Columns of the box of a call.
    fn block_width(&self, block: &Block<'_>) -> usize {
        let widest = |texts: Vec<String>| texts.iter().map(|text| text.width()).max().unwrap_or(0);
        let inputs = widest(block.inputs.iter().map(|place| pin_name(place.pin)).collect());
        let outputs = widest(block.outputs.iter().map(|place| place.pin.name.clone()).collect());
        let heads = widest(vec![block.call.instance.clone(), block.call.block.clone()]);
        (inputs + outputs + 5).max(heads.min(40) + 6)
    }

    fn block(&self, block: &Block<'_>, places: &Places, canvas: &mut Canvas) {
        let (Some(left), Some(right), Some(first), Some(last)) = (
            places.boundaries.get(block.column).copied(),
            places.boundaries.get(block.column + 1).copied(),
            places.lines.first().copied(),
            places.lines.get(block.bottom).copied(),
        ) else {
            return;
        };
        let (edge_left, edge_right) = (left + 1, right - 1);
        let (top, bottom) = (first.saturating_sub(1), last + 1);
        for line in [top, bottom] {
            canvas.across(edge_left, edge_right, line, Weight::Light);
        }
        for column in [edge_left, edge_right] {
            canvas.down(column, top, bottom, Weight::Light);
        }
        let room = edge_right.saturating_sub(edge_left + 4);
        let fit = |text: &str| crop(&self.faces.name(text), room, self.faces.mark());
        canvas.write(edge_left + 2, top, Style::Strong, &fit(&block.call.block));
        canvas.write(edge_left + 2, top.saturating_sub(1), Style::Strong, &fit(&block.call.instance));
        for place in &block.inputs {
            let Some(line) = places.lines.get(place.row).copied() else { continue };
            canvas.across(left, edge_left, line, self.weight(place.node));
            canvas.write(edge_left + 1, line, Style::Plain, &pin_name(place.pin));
        }
        for place in &block.outputs {
            let Some(line) = places.lines.get(place.row).copied() else { continue };
            let width = place.pin.name.width();
            canvas.across(edge_right, right, line, self.weight(place.node));
            canvas.write(edge_right.saturating_sub(width), line, Style::Plain, &place.pin.name);
        }
    }

    /// The rails at both sides.
    fn rails(&self, places: &Places, canvas: &mut Canvas) {
        for line in 0..places.height {
            canvas.bar(0, line, self.weight(0));
            canvas.bar(places.rail, line, Weight::Light);
        }
    }
}

fn style(tone: Tone) -> Style {
    match tone {
        Tone::Strong => Style::Strong,
        Tone::Faint => Style::Faint,
        Tone::True => Style::Live,
    }
}

/// From here on the right rail stands no further to the right than the rung needs.
const RAIL_COLUMN: usize = 96;

fn raise(sizes: &mut [usize], index: usize, least: usize) {
    if let Some(size) = sizes.get_mut(index) {
        *size = (*size).max(least);
    }
}
