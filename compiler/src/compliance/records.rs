//! Reads tables of text: one record a line, fields separated by `;`, lines of `#` are remarks.

/// The records of a table with `N` fields. A field that is missing is empty; the tests keep the tables whole.
pub(super) fn rows<const N: usize>(text: &'static str) -> impl Iterator<Item = [&'static str; N]> {
    lines(text).map(|line| {
        let mut fields = line.splitn(N, ';');
        std::array::from_fn(|_| fields.next().unwrap_or_default().trim())
    })
}

/// The lines that hold records.
pub(super) fn lines(text: &'static str) -> impl Iterator<Item = &'static str> {
    text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'))
}
