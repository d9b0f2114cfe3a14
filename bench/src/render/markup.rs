//! Texts in XML, HTML and Markdown.

/// Text for element content and attribute values.
pub(crate) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            _ => escaped.push(character),
        }
    }
    escaped
}

/// Text for Markdown, without anything that it takes for its own.
pub(crate) fn escape_markdown(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(
            character,
            '\\' | '|' | '*' | '_' | '`' | '[' | ']' | '<' | '>' | '#' | '&' | '~' | '!' | '$'
        ) {
            escaped.push('\\');
        }
        escaped.push(character);
    }
    escaped
}
