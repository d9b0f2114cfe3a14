//! Renderers of the one diagram model: for a terminal and as SVG.
//!
//! A renderer chooses a scale and draws what the model says; it never looks into a recording.

pub(crate) mod markup;
pub(crate) mod page;
mod svg;
pub(crate) mod terminal;
pub mod xml;

pub use self::svg::svg;
pub(crate) use self::svg::{page_style, svg_in_page};
pub use self::terminal::{TerminalOptions, terminal};
