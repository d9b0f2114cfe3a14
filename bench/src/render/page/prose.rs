//! Texts of others, made fit for a page.

use latchwork_compiler::render::visible;

use crate::render::markup::escape;

/// A text as it is: signs of the language escaped, control and hidden characters made visible.
pub(crate) fn escaped(text: &str) -> String {
    escape(&visible(text))
}

/// The same for a message, with what stands between backquotes set as code.
pub(crate) fn inline(message: &str) -> String {
    let mut page = String::new();
    let mut rest = message;
    while let Some((before, quoted, after)) = rest.split_once('`').and_then(|(before, behind)| {
        let (quoted, after) = behind.split_once('`')?;
        Some((before, quoted, after))
    }) {
        page.push_str(&escaped(before));
        page.push_str("<code>");
        page.push_str(&escaped(quoted));
        page.push_str("</code>");
        rest = after;
    }
    page.push_str(&escaped(rest));
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_of_a_text_is_markup() {
        assert_eq!(escaped("a<b>&\"'"), "a&lt;b&gt;&amp;&quot;&#39;");
        assert_eq!(escaped("\u{1b}[31m\u{202e}x"), "␛[31m\u{fffd}x");
        assert_eq!(
            inline("`a < b` was never `\u{7}` or `c"),
            "<code>a &lt; b</code> was never <code>␇</code> or `c"
        );
    }
}
