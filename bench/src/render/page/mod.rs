//! The frame of every HTML page that is written: one file that needs nothing else and asks for nothing.
//!
//! The content security policy allows the style sheets and the script of the page by their digests (W3C Content Security
//! Policy, 2.3.1) and nothing else at all: no request, no picture, font, form or frame, no other script, wherever it might
//! come from. Texts of others go through [`escaped`] or [`inline`].

mod base64;
mod prose;

use sha2::{Digest, Sha256};

pub(crate) use self::{
    base64::base64,
    prose::{escaped, inline},
};

/// What all pages have in common.
const BASE: &str = include_str!("base.css");

/// A page being made.
#[derive(Clone, Debug)]
pub(crate) struct Page<'a> {
    /// Text, not yet escaped.
    pub(crate) title: String,
    /// Style sheets behind that of all pages.
    pub(crate) styles: Vec<&'a str>,
    /// The script; none if it is empty.
    pub(crate) script: &'a str,
    /// All between the tags of the body.
    pub(crate) body: String,
}

impl Page<'_> {
    /// The page as a document.
    pub(crate) fn document(&self) -> String {
        let styles: Vec<&str> = [BASE].into_iter().chain(self.styles.iter().copied()).collect();
        let mut policy = "default-src 'none'; style-src".to_owned();
        styles.iter().for_each(|style| policy += &allowed(style));
        if !self.script.is_empty() {
            policy += "; script-src";
            policy += &allowed(self.script);
        }
        policy +=
            "; base-uri 'none'; form-action 'none'; require-trusted-types-for 'script'; trusted-types 'none'";
        let mut page = format!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\"/>\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
             <meta name=\"color-scheme\" content=\"light dark\"/>\n\
             <title>{}</title>\n",
            escaped(&self.title)
        );
        for style in styles {
            page += "<style>";
            page += style;
            page += "</style>\n";
        }
        page += "</head>\n<body>\n";
        page += &self.body;
        if !self.script.is_empty() {
            page += "<script>";
            page += self.script;
            page += "</script>\n";
        }
        page + "</body>\n</html>\n"
    }
}

/// A part of a policy that allows a text.
fn allowed(text: &str) -> String {
    format!(" 'sha256-{}'", base64(&Sha256::digest(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn styles_and_script_are_allowed_by_what_they_are() {
        // The digest of "alert('Hello, world.');" as the specification gives it (Content Security Policy Level 3, 8.3).
        let allowed = allowed("alert('Hello, world.');");
        assert_eq!(allowed, " 'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='");
        let page =
            Page { title: "<T>".into(), styles: vec!["p{}"], script: "go()", body: "<p>x</p>\n".into() };
        let document = page.document();
        assert!(document.contains("<title>&lt;T&gt;</title>"));
        assert_eq!(document.matches("'sha256-").count(), 3);
        assert!(document.ends_with("<p>x</p>\n<script>go()</script>\n</body>\n</html>\n"), "{document}");
        let quiet = Page { script: "", ..page }.document();
        assert!(!quiet.contains("script-src") && !quiet.contains("<script"));
    }

    #[test]
    fn the_style_of_all_pages_asks_for_nothing() {
        assert!(!BASE.contains("url(") && !BASE.contains("@import") && !BASE.contains('<'));
    }
}
