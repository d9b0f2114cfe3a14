//! The standard library for its reader: what `latchwork library` shows and `stdlib/LIBRARY.md` holds.
//!
//! ```text
//! tables of stdlib --overview, find, search--> entries --page--> Page --text | markdown--> what is read
//! ```
//!
//! Everything is made from the tables: the declaration of a function from its row, its calls from the examples of the
//! row (which the tests compile and run as they are shown), the calls of a function block by running it. The pictures
//! of a block's calls are drawn by whoever shows the page, since they are timing diagrams and those are no matter of
//! the compiler.

mod block_page;
mod call;
mod calls;
mod declaration;
mod function_page;
mod json;
mod markdown;
mod names;
mod overview;
mod page;
mod rule;
mod text;
mod text_rule;

use latchwork_stdlib::{BlockDefinition, Resolved};

pub use call::{Form, Written, forms, literal_type, program};
pub use calls::{Calls, calls};
pub use json::{alone, json};
pub use markdown::{document, markdown};
pub(crate) use names::conversions;
pub use names::{nearest, search};
pub use overview::{Folded, Group, groups, overview};
pub use page::{Page, Part, Section};
pub use text::text;

/// What a name of the library stands for.
#[derive(Clone, Debug)]
pub enum Entry {
    /// A function, with the name it was asked for by, in capitals.
    Function(String, Resolved),
    /// A function block.
    Block(&'static BlockDefinition),
}

/// Draws the calls of a block; every line ends in a line feed.
pub type Picture<'a> = &'a dyn Fn(&Calls) -> String;

/// The entry of a name, in any case of letters: of a function (`ADD`, `ADD_INT`, `INT_TO_REAL`), of a rule of names
/// (`X_TO_Y`), of a function block, or an operator (`+`).
pub fn find(name: &str) -> Option<Entry> {
    if let Some(block) = latchwork_stdlib::block(name) {
        return Some(Entry::Block(block));
    }
    if let Some(resolved) = latchwork_stdlib::function(name) {
        return Some(Entry::Function(name.to_ascii_uppercase(), resolved));
    }
    if let Some(definition) = function_page::of_symbol(name) {
        let resolved = Resolved { definition, typed: None, from: None, to: None };
        return Some(Entry::Function(definition.name.to_owned(), resolved));
    }
    // `X_BCD_TO_Y` of the overview stands for the first of its names.
    let folded = groups().into_iter().flat_map(|group| group.entries);
    let mut folded = folded.filter(|entry| entry.name.eq_ignore_ascii_case(name));
    let row = folded.next().and_then(|entry| entry.names.first().copied()).unwrap_or(name);
    let definition =
        latchwork_stdlib::functions().find(|definition| definition.name.eq_ignore_ascii_case(row))?;
    let resolved = Resolved { definition, typed: None, from: None, to: None };
    Some(Entry::Function(definition.name.to_owned(), resolved))
}

/// The page of an entry.
pub fn page(entry: &Entry, picture: Picture<'_>) -> Page {
    match entry {
        Entry::Function(name, resolved) => function_page::page(name, resolved),
        Entry::Block(block) => block_page::page(block, picture),
    }
}
