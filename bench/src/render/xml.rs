//! Texts in XML, whatever they hold.
//!
//! What XML 1.0 has no place for (W3C Recommendation, 5th edition, 2.2, Char) becomes a stand-in.

/// Text for the value of an attribute; the ends of lines and tabs keep their meaning (3.3.3).
pub fn attribute(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\t' => escaped.push_str("&#9;"),
            '\r' => escaped.push_str("&#13;"),
            '\n' => escaped.push_str("&#10;"),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => escaped.push('\u{fffd}'),
            _ => escaped.push(character),
        }
    }
    escaped
}

/// Text for the content of an element, which keeps its lines.
pub fn content(text: &str) -> String {
    text.split('\n').map(attribute).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_xml_has_no_place_for_becomes_a_stand_in() {
        assert_eq!(
            attribute("a<b & \"c\"\u{1b}\0\u{fffe}\u{1f39b}"),
            "a&lt;b &amp; &quot;c&quot;\u{fffd}\u{fffd}\u{fffd}\u{1f39b}"
        );
        assert_eq!(attribute("a\t\r\n"), "a&#9;&#13;&#10;");
        assert_eq!(content("]]>\nb\r\n"), "]]&gt;\nb&#13;\n");
    }
}
