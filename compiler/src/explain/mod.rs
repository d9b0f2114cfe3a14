//! What each diagnostic means, why the standard has the rule, and what to write instead.
//!
//! Each name has a page in `explanations/`, Markdown with a heading (the name), a first paragraph that stands
//! alone, and fenced examples marked `wrong` and `right`; the tests compile the examples. Clauses and tables of
//! IEC 61131-3:2013 in the pages are from memory of the standard's text. The pages are part of the program, so
//! that they are at hand offline.

mod pages;

/// The page about one diagnostic.
#[derive(Debug)]
pub struct Explanation {
    /// Name of the diagnostic, lower case with dashes.
    pub name: &'static str,
    /// The page, Markdown.
    pub text: &'static str,
}

/// A fenced example on a page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Example {
    /// `st`, `il`, `toml`, `csv`, `vcd` or `steps`.
    pub language: &'static str,
    /// Whether it shows the mistake or the remedy.
    pub verdict: Verdict,
    /// Its lines, each with its line feed.
    pub code: &'static str,
}

/// What an example is an example of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It provokes the diagnostic.
    Wrong,
    /// It says the same, and nothing is wrong with it.
    Right,
}

impl Explanation {
    /// The first paragraph of the page on one line.
    pub fn summary(&self) -> String {
        self.text
            .lines()
            .skip_while(|line| line.starts_with('#') || line.is_empty())
            .take_while(|line| !line.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// The fenced examples in order.
    pub fn examples(&self) -> Vec<Example> {
        let mut examples = Vec::new();
        let mut rest = self.text;
        while let Some((_, opened)) = rest.split_once("\n```") {
            let Some((heading, body)) = opened.split_once('\n') else { break };
            // An empty block closes directly; the line feed before the fence belongs to the code.
            let code = match body.split_once("```") {
                Some((code, after)) => {
                    rest = after;
                    code
                }
                None => break,
            };
            let (language, verdict) = heading.split_once(' ').unwrap_or((heading, ""));
            let verdict = match verdict.trim() {
                "wrong" => Verdict::Wrong,
                "right" => Verdict::Right,
                _ => continue,
            };
            examples.push(Example { language, verdict, code });
        }
        examples
    }
}

/// The page about a diagnostic; letter case of the name does not matter.
pub fn explain(name: &str) -> Option<&'static Explanation> {
    pages::PAGES.iter().find(|page| page.name.eq_ignore_ascii_case(name))
}

/// All pages in alphabetical order of their names.
pub fn explanations() -> &'static [Explanation] {
    pages::PAGES
}

/// The names most like a name that is none, best first, at most three: first one that is a slip away, then those
/// that share the text.
pub fn nearest(name: &str) -> Vec<&'static str> {
    let wanted = name.to_ascii_lowercase();
    let slip = crate::nearest::nearest(&wanted, pages::PAGES.iter().map(|page| page.name));
    // Shorter pieces are part of half of all names.
    let alike = |page: &&Explanation| wanted.len() >= 4 && page.name.contains(&wanted);
    let alike = pages::PAGES.iter().filter(alike).map(|page| page.name).filter(|name| slip != Some(name));
    slip.into_iter().chain(alike).take(3).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_are_cut_from_their_fences() {
        let page = Explanation {
            name: "x",
            text: "# x\n\nFirst\nparagraph.\n\nMore.\n\n```st wrong\nx = 1;\n```\n\n```\nnot an example\n```\n```il right\nLD 1\n```\n",
        };
        assert_eq!(page.summary(), "First paragraph.");
        assert_eq!(
            page.examples(),
            [
                Example { language: "st", verdict: Verdict::Wrong, code: "x = 1;\n" },
                Example { language: "il", verdict: Verdict::Right, code: "LD 1\n" },
            ]
        );
    }
}
