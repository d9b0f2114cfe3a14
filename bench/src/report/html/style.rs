//! Style sheets and script of a report.

use crate::{coverage::render as coverage, render::page_style, rungs};

const REPORT: &str = include_str!("../page/report.css");
const VIEWER: &str = include_str!("../page/viewer.css");

/// The parts of the script; each uses those before it.
const PARTS: [&str; 8] = [
    include_str!("../page/values.js"),
    include_str!("../page/times.js"),
    include_str!("../page/elements.js"),
    include_str!("../page/lanes.js"),
    include_str!("../page/state.js"),
    include_str!("../page/viewer.js"),
    include_str!("../page/tables.js"),
    include_str!("../page/start.js"),
];

/// All style sheets but that of all pages.
pub(super) fn styles() -> Vec<String> {
    vec![
        coverage::STYLE.to_owned(),
        page_style(),
        rungs::page_style().to_owned(),
        REPORT.to_owned(),
        VIEWER.to_owned(),
    ]
}

/// The script, which leaves no names behind in the page.
pub(super) fn script() -> String {
    format!("(() => {{\n\"use strict\";\n{}}})();\n", PARTS.concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn styles_and_script_ask_for_nothing_and_end_nothing() {
        for text in styles() {
            assert!(!text.contains("url(") && !text.contains("@import") && !text.contains('<'));
        }
        let script = script();
        for word in
            ["</script", "<!--", "innerHTML", "fetch(", "XMLHttpRequest", "eval(", "import(", "https:"]
        {
            assert!(!script.contains(word), "{word}");
        }
        // The name of a vocabulary, not an address.
        assert_eq!(script.matches("http:").count(), 1);
    }
}
