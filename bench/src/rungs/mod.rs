//! The rung view: the statements of a unit as contacts and coils, the graphic symbols of the ladder language of
//! IEC 61131-3:2013 (clause 8.2), the same for Structured Text and Instruction List; with the values of one scan where
//! there is an account of a run.
//!
//! ```text
//! Logic --build--> Sheet (networks, coils, blocks, text)          build, call, network, text
//! Sheet + Readings --layout, flow--> Page (grid, continuity)      layout, state
//! Page --> terminal | SVG | JSON
//! ```
//!
//! What is drawn evaluates to what the program computes: that is a law of the tests, as is where there is continuity.

mod build;
mod call;
mod face;
mod labels;
mod layout;
mod model;
mod network;
mod page;
mod state;
mod svg;
mod terminal;
mod text;
mod words;

use latchwork_grammar::Sources;

use crate::account::Account;

pub(crate) use self::svg::{page_style, svg_in_page};
pub use self::{
    build::sheet,
    labels::{Label, Labels, Wired},
    layout::{Block, Content, Drop, Item, Layout, Pin, Wire, layout},
    model::{
        Body, CallRung, Element, Entry, Feed, InputPin, Network, Operand, Output, OutputForm, OutputPin,
        Rung, Shape, Sheet, TextBody,
    },
    network::ELEMENTS_MAX,
    page::{Page, Placed},
    state::{Flow, Readings, ScanReadings, conducts, literal, operand_value, pin_value},
    svg::svg,
    terminal::{TextOptions, terminal},
    words::sentence,
};

/// One statement at one scan for one instance as a picture of its own: the rung that it is part of, without the heading of
/// a sheet. `None` if there is no such statement or it is no rung.
#[must_use]
pub fn statement_svg(
    account: &Account,
    sources: &Sources,
    labels: &Labels,
    statement: u32,
    base: u32,
    scan: u32,
) -> Option<String> {
    let (unit, _) = account.statement(statement)?;
    let sheet = sheet(unit, sources);
    let readings = ScanReadings { account, scan, base };
    let mut page = Page::new(&sheet, sources, labels, Some(&readings), Some(statement));
    page.title.clear();
    page.legend.clear();
    page.entries.iter().any(|placed| placed.entry.body.is_drawn()).then(|| svg(&page))
}

/// a, b … z, aa, ab…: marks of lines that go on somewhere else.
fn letters(number: usize) -> String {
    let mut number = number;
    let mut text = String::new();
    while number > 0 {
        let letter = (number - 1) % 26;
        // Below 26.
        text.insert(0, char::from(b'a' + letter as u8));
        number = (number - 1) / 26;
    }
    text
}
