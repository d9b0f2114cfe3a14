//! Reports for people and for programs: a summary for a terminal, annotated source text, LCOV, HTML, JSON.
//!
//! Everything is made from a [`super::Report`] alone and is the same in every run. Whatever comes from source texts and
//! file names is made fit to be shown.

mod annotated;
mod html;
mod json;
mod lcov;
mod summary;
mod table;
mod wrap;

pub use annotated::annotated;
pub use html::html;
pub(crate) use html::{DEFINITIONS, STYLE, sections};
pub use json::json;
pub use lcov::lcov;
pub use summary::summary;
