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
mod instance;
mod json;
mod labels;
mod layout;
mod model;
mod network;
mod page;
mod reads;
mod state;
mod svg;
mod terminal;
mod text;
mod words;

pub(crate) use self::svg::{page_style, svg_in_page};
pub use self::{
    build::sheet,
    instance::{bases, instance_name, names},
    json::json,
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
    terminal::{TextOptions, WIDTH_MAX, WIDTH_MIN, terminal},
    words::sentence,
};

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
