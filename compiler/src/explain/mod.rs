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
    /// `st`, `il`, `toml` or `csv`.
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

/// The names most like a name that is none, best first, at most three.
pub fn nearest(name: &str) -> Vec<&'static str> {
    let wanted = name.to_ascii_lowercase();
    let limit = (wanted.chars().count() / 3).max(2);
    let mut found: Vec<(usize, &'static str)> = pages::PAGES
        .iter()
        .filter_map(|page| {
            let shares_word =
                wanted.len() >= 3 && (page.name.contains(&wanted) || wanted.contains(page.name));
            let distance = if shares_word { 1 } else { distance(&wanted, page.name) };
            (distance <= limit).then_some((distance, page.name))
        })
        .collect();
    found.sort_unstable();
    found.into_iter().take(3).map(|(_, name)| name).collect()
}

/// Number of characters to insert, delete, replace or swap with a neighbour (optimal string alignment).
fn distance(one: &str, other: &str) -> usize {
    // Names are short; a long argument cannot be a misspelling of one and must not cost time.
    let one: Vec<char> = one.chars().take(64).collect();
    let other: Vec<char> = other.chars().take(64).collect();
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=other.len()).collect();
    for (row, a) in one.iter().enumerate() {
        let mut current = vec![row + 1];
        for (column, b) in other.iter().enumerate() {
            // Each row has one entry more than `other` has characters, so `column + 1` is in all of them.
            let mut best =
                (last[column] + usize::from(a != b)).min(last[column + 1] + 1).min(current[column] + 1);
            if row > 0 && column > 0 && one[row - 1] == *b && *a == other[column - 1] {
                best = best.min(before_last[column - 1] + 1);
            }
            current.push(best);
        }
        before_last = std::mem::replace(&mut last, current);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misspelt_names_find_their_page() {
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abcd", "abdc"), 1);
        assert_eq!(distance("kitten", "sitting"), 3);
    }

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
