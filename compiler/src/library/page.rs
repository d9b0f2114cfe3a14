//! A page about an entry of the library, before it is set as text or Markdown.

/// A page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// The name of the entry.
    pub name: String,
    /// What it is and where the standard has it: `function, Table 29`.
    pub kind: String,
    /// One line for the reader of a program.
    pub summary: String,
    /// What there is to say.
    pub sections: Vec<Section>,
}

/// A part of a page with a heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Its heading.
    pub title: &'static str,
    /// What stands in it.
    pub parts: Vec<Part>,
}

/// What a section is made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// Words, to be broken into lines.
    Words(String),
    /// Source text, with the language that a fence of Markdown names.
    Code(&'static str, String),
    /// Lines that must stay as they are.
    Picture(String),
    /// Rows of cells below a row of headings.
    Table(Vec<&'static str>, Vec<Vec<String>>),
}

impl Page {
    /// Adds a section, unless it is empty.
    pub(super) fn section(&mut self, title: &'static str, parts: Vec<Part>) {
        if !parts.is_empty() {
            self.sections.push(Section { title, parts });
        }
    }
}
