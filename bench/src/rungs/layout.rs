//! The places of what stands on a rung, on a grid: a renderer only chooses how wide its columns and how high its rows are.
//!
//! Columns lie between boundaries: boundary 0 is the left rail, column 0 lies between boundaries 0 and 1. Lines belong to
//! nodes; whatever is one node is connected. Node 0 is the left rail.

use super::model::{Body, CallRung, Element, Feed, InputPin, Network, Output, OutputPin, Rung};

/// An entry on the grid.
#[derive(Clone, Debug, Default)]
pub struct Layout<'m> {
    /// Number of columns.
    pub columns: usize,
    /// Number of rows.
    pub rows: usize,
    /// Number of nodes.
    pub nodes: usize,
    /// Elements, outputs, values.
    pub items: Vec<Item<'m>>,
    /// Lines along rows.
    pub wires: Vec<Wire>,
    /// Lines along boundaries.
    pub drops: Vec<Drop>,
    /// The block of a call.
    pub block: Option<Block<'m>>,
}

/// Something in one cell.
#[derive(Clone, Copy, Debug)]
pub struct Item<'m> {
    /// Its row.
    pub row: usize,
    /// Its column.
    pub column: usize,
    /// The node at its left.
    pub from: usize,
    /// The node at its right.
    pub to: usize,
    /// What it is.
    pub content: Content<'m>,
}

/// What stands in a cell.
#[derive(Clone, Copy, Debug)]
pub enum Content<'m> {
    /// A contact or a block that conducts or not.
    Element(&'m Element),
    /// A coil, a jump…
    Output(&'m Output),
    /// What leads to a pin that takes a value.
    Feed(&'m Feed),
    /// The value of an output pin.
    Value(&'m OutputPin),
}

/// A line along a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wire {
    /// The row.
    pub row: usize,
    /// The first boundary.
    pub from: usize,
    /// The last boundary.
    pub to: usize,
    /// The node it belongs to.
    pub node: usize,
}

/// A line along a boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Drop {
    /// The boundary.
    pub boundary: usize,
    /// The first row.
    pub top: usize,
    /// The last row.
    pub bottom: usize,
    /// The node it belongs to.
    pub node: usize,
}

/// The block of a call, in one column.
#[derive(Clone, Debug)]
pub struct Block<'m> {
    /// The call.
    pub call: &'m CallRung,
    /// Its column.
    pub column: usize,
    /// The row of the last pin.
    pub bottom: usize,
    /// Rows and nodes of the pins at the left.
    pub inputs: Vec<Pin<&'m InputPin>>,
    /// Rows and nodes of the pins at the right.
    pub outputs: Vec<Pin<&'m OutputPin>>,
}

/// A pin on the grid.
#[derive(Clone, Copy, Debug)]
pub struct Pin<P> {
    /// Its row.
    pub row: usize,
    /// The node that it is connected to.
    pub node: usize,
    /// The pin.
    pub pin: P,
}

/// Puts an entry onto the grid; `None` if it is text.
#[must_use]
pub fn layout(body: &Body) -> Option<Layout<'_>> {
    match body {
        Body::Rung(rung) => Some(rung_layout(rung)),
        Body::Call(call) => Some(call_layout(call)),
        Body::Text(_) => None,
    }
}

fn rung_layout(rung: &Rung) -> Layout<'_> {
    let mut layout = Layout { nodes: 1, ..Layout::default() };
    let (columns, rows) = size(&rung.network);
    let end = if is_line(&rung.network) { 0 } else { layout.node() };
    layout.place(&rung.network, 0, 0, 0, end);
    layout.ends(&rung.ends, 0, columns, end);
    layout.columns = columns + 1;
    layout.rows = rows.max(rung.ends.len());
    layout
}

fn call_layout(call: &CallRung) -> Layout<'_> {
    let mut layout = Layout { nodes: 1, ..Layout::default() };
    let networks = call.inputs.iter().filter_map(|pin| match &pin.feed {
        Feed::Network(network) => Some(size(network).0),
        _ => None,
    });
    let column = networks.max().unwrap_or(0).max(1);
    let mut row = 0;
    let mut inputs = Vec::new();
    for pin in &call.inputs {
        let node = match &pin.feed {
            Feed::Network(network) => {
                let (columns, _) = size(network);
                let node = if is_line(network) { 0 } else { layout.node() };
                layout.place(network, row, 0, 0, node);
                if columns < column {
                    layout.wires.push(Wire { row, from: columns, to: column, node });
                }
                node
            }
            feed => {
                let node = layout.node();
                let content = Content::Feed(feed);
                layout.items.push(Item { row, column: column - 1, from: node, to: node, content });
                node
            }
        };
        inputs.push(Pin { row, node, pin });
        row += match &pin.feed {
            Feed::Network(network) => size(network).1,
            _ => 1,
        };
    }
    let mut outputs: Vec<Pin<&OutputPin>> = Vec::new();
    let mut next = 0;
    for (index, pin) in call.outputs.iter().enumerate() {
        let beside = inputs.get(index).map_or(0, |input| input.row);
        let place = Pin { row: beside.max(next), node: layout.node(), pin };
        if pin.ends.is_empty() {
            let item = Item {
                row: place.row,
                column: column + 1,
                from: place.node,
                to: place.node,
                content: Content::Value(pin),
            };
            layout.items.push(item);
        } else {
            layout.ends(&pin.ends, place.row, column + 1, place.node);
        }
        next = place.row + pin.ends.len().max(1);
        outputs.push(place);
    }
    let last = |rows: Option<usize>| rows.unwrap_or(0);
    let bottom = last(inputs.last().map(|pin| pin.row)).max(last(outputs.last().map(|pin| pin.row)));
    layout.rows = row.max(next).max(1);
    // Without outputs the last column is empty, so that the block is no wider than it must be.
    layout.columns = column + 2;
    layout.block = Some(Block { call, column, bottom, inputs, outputs });
    layout
}

impl<'m> Layout<'m> {
    fn node(&mut self) -> usize {
        self.nodes += 1;
        self.nodes - 1
    }

    /// Networks nest no deeper than the parts of a statement.
    fn place(&mut self, network: &'m Network, row: usize, column: usize, from: usize, to: usize) {
        match network {
            Network::Element(element) => {
                self.items.push(Item { row, column, from, to, content: Content::Element(element) });
            }
            Network::Series(parts) => {
                let (mut column, mut left) = (column, from);
                for (index, part) in parts.iter().enumerate() {
                    let right = if index + 1 == parts.len() { to } else { self.node() };
                    self.place(part, row, column, left, right);
                    column += size(part).0;
                    left = right;
                }
            }
            Network::Parallel(branches) => {
                let (columns, _) = size(network);
                let (mut next, mut last) = (row, row);
                for branch in branches {
                    let (width, rows) = size(branch);
                    self.place(branch, next, column, from, to);
                    if width < columns {
                        let (from, until) = (column + width, column + columns);
                        self.wires.push(Wire { row: next, from, to: until, node: to });
                    }
                    last = next;
                    next += rows;
                }
                for (boundary, node) in [(column, from), (column + columns, to)] {
                    self.drops.push(Drop { boundary, top: row, bottom: last, node });
                }
            }
        }
    }

    /// Outputs below one another.
    fn ends(&mut self, ends: &'m [Output], row: usize, column: usize, node: usize) {
        for (index, output) in ends.iter().enumerate() {
            let content = Content::Output(output);
            self.items.push(Item { row: row + index, column, from: node, to: node, content });
        }
        if ends.len() > 1 {
            self.drops.push(Drop { boundary: column, top: row, bottom: row + ends.len() - 1, node });
        }
    }
}

fn is_line(network: &Network) -> bool {
    matches!(network, Network::Series(parts) if parts.is_empty())
}

/// Columns and rows of a network.
fn size(network: &Network) -> (usize, usize) {
    match network {
        Network::Element(_) => (1, 1),
        Network::Series(parts) => parts
            .iter()
            .map(size)
            .fold((0, 1), |(columns, rows), (wide, high)| (columns + wide, rows.max(high))),
        Network::Parallel(branches) => branches
            .iter()
            .map(size)
            .fold((0, 0), |(columns, rows), (wide, high)| (columns.max(wide), rows + high)),
    }
}
