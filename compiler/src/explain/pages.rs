//! The list of pages: one file of `explanations/` a line, in alphabetical order.

use super::Explanation;

macro_rules! pages {
    ($($name:literal)*) => {
        &[$(Explanation {
            name: $name,
            text: include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/explanations/", $name, ".md")),
        }),*]
    };
}

pub(super) const PAGES: &[Explanation] = pages![];
