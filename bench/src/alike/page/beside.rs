//! Two texts side by side, with the stretches that both have.

use std::{
    collections::{BTreeMap, BTreeSet},
    fmt::Write as _,
};

use super::super::{Fingerprints, Handed, Stretch, sentences, stretches};
use crate::render::page::escaped;

/// Most lines of a text that are shown.
pub const LINES_SHOWN_MAX: usize = 400;

/// Most characters of a line.
const LINE_CHARACTERS_MAX: usize = 160;

/// Lines that are shown before and behind a stretch.
const AROUND: u32 = 3;

/// What two texts are shown for.
pub(super) struct Shown<'a> {
    /// The name of the place in the page.
    pub(super) anchor: String,
    /// Escaped.
    pub(super) heading: String,
    /// What is said of them, escaped.
    pub(super) lead: String,
    /// Both.
    pub(super) members: [usize; 2],
    /// What does not count.
    pub(super) left_out: &'a BTreeSet<u64>,
}

/// Both texts.
pub(super) fn both(
    shown: &Shown<'_>,
    class: &[Fingerprints],
    text: &dyn Fn(usize) -> Option<Handed>,
    body: &mut String,
) {
    let [first, second] = shown.members.map(|member| class.get(member));
    let (Some(first), Some(second)) = (first, second) else { return };
    let found = stretches(first, second, shown.left_out);
    let (anchor, heading, lead) = (&shown.anchor, &shown.heading, &shown.lead);
    let _ = write!(
        body,
        "<section class=\"pair\" aria-labelledby=\"{anchor}\">\n<h3 id=\"{anchor}\">{heading}</h3>\n<p>{lead}</p>\n\
         <div class=\"beside\">\n"
    );
    for (side, (member, of)) in shown.members.into_iter().zip([first, second]).enumerate() {
        match text(member) {
            Some(handed) => Side { anchor, side, of, found: &found }.write(&handed, body),
            None => {
                let _ = writeln!(body, "<p>The text of {} is not at hand.</p>", escaped(&of.student));
            }
        }
    }
    body.push_str("</div>\n</section>\n");
}

/// One text of a pair.
struct Side<'a> {
    /// The name of the place in the page.
    anchor: &'a str,
    /// 0 for the first text, 1 for the second.
    side: usize,
    of: &'a Fingerprints,
    found: &'a [Stretch],
}

impl Side<'_> {
    fn write(&self, handed: &Handed, body: &mut String) {
        body.push_str("<div>\n");
        let mut left = LINES_SHOWN_MAX;
        for (file, (name, text)) in handed.texts.iter().enumerate() {
            self.file(file, name, text, &mut left, body);
        }
        body.push_str("</div>\n");
    }

    /// The stretches of each line of a file.
    fn marks(&self, file: usize, lines: usize) -> BTreeMap<u32, Vec<usize>> {
        let mut marks: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (at, stretch) in self.found.iter().enumerate() {
            let Some(reach) = stretch.reaches.get(self.side).filter(|it| usize::from(it.file) == file) else {
                continue;
            };
            for line in reach.from..=reach.to.min(lines as u32) {
                marks.entry(line).or_default().push(at);
            }
        }
        marks
    }

    fn file(&self, file: usize, name: &str, text: &str, left: &mut usize, body: &mut String) {
        let lines = lines(text);
        let marks = self.marks(file, lines.len());
        let title = format!("{}: {}", escaped(&self.of.student), escaped(name));
        if marks.is_empty() {
            let _ = writeln!(
                body,
                "<p>{title}: no stretch in {}.</p>",
                sentences::counted(lines.len() as u64, "line", "lines")
            );
            return;
        }
        let _ = write!(
            body,
            "<table class=\"text\">\n<caption>{title}</caption>\n<thead><tr><th scope=\"col\">line</th>\
             <th scope=\"col\">stretch</th><th scope=\"col\">text</th></tr></thead>\n<tbody>\n"
        );
        let mut hidden = 0u64;
        for (number, line) in (1u32..).zip(&lines) {
            let near = marks.range(number.saturating_sub(AROUND)..=number + AROUND).next().is_some();
            if !near || *left == 0 {
                hidden += 1;
                continue;
            }
            gap(&mut hidden, body);
            *left -= 1;
            self.line(number, line, marks.get(&number).map_or(&[], Vec::as_slice), body);
        }
        gap(&mut hidden, body);
        body.push_str("</tbody>\n</table>\n");
    }

    fn line(&self, number: u32, line: &str, marks: &[usize], body: &mut String) {
        let cut: String = line.chars().take(LINE_CHARACTERS_MAX).collect();
        let more = if cut.len() < line.len() { "…" } else { "" };
        let text = format!("{}{more}", escaped(&cut.replace('\t', "  ")));
        let mut labels = String::new();
        let mut counts = false;
        for at in marks {
            let Some(stretch) = self.found.get(*at) else { continue };
            counts |= stretch.counts;
            let label = format!("{}{}", at + 1, if stretch.counts { "" } else { "c" });
            let begins = stretch.reaches.get(self.side).is_some_and(|reach| reach.from == number);
            let (own, other) = if self.side == 0 { ('a', 'b') } else { ('b', 'a') };
            if begins {
                let _ = write!(
                    labels,
                    "<a id=\"{pair}{own}{at}\" href=\"#{pair}{other}{at}\">{label}<span class=\"unseen\"> in the other \
                     text</span></a> ",
                    pair = self.anchor
                );
            } else {
                let _ = write!(labels, "{label} ");
            }
        }
        let class = match (marks.is_empty(), counts) {
            (true, _) => "",
            (false, true) => " class=\"alike\"",
            (false, false) => " class=\"common\"",
        };
        let text = match (marks.is_empty(), text.trim().is_empty()) {
            (false, false) => format!("<mark>{text}</mark>"),
            _ => text,
        };
        let _ = writeln!(
            body,
            "<tr{class}><th scope=\"row\">{number}</th><td>{}</td><td><code>{text}</code></td></tr>",
            labels.trim_end()
        );
    }
}

/// Says how many lines were left out.
fn gap(hidden: &mut u64, body: &mut String) {
    if *hidden > 0 {
        let lines = sentences::counted(*hidden, "line", "lines");
        let _ = writeln!(body, "<tr class=\"gap\"><td colspan=\"3\">{lines} left out</td></tr>");
        *hidden = 0;
    }
}

/// The lines of a text, as they are counted everywhere: ended by a line feed, a carriage return, or both.
fn lines(text: &str) -> Vec<&str> {
    let mut lines = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find(['\n', '\r']) {
        let (line, behind) = rest.split_at(at);
        lines.push(line);
        rest = behind.strip_prefix("\r\n").or_else(|| behind.get(1..)).unwrap_or("");
    }
    if !rest.is_empty() {
        lines.push(rest);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_as_they_do_everywhere() {
        assert_eq!(lines("a\nb\r\nc\rd"), ["a", "b", "c", "d"]);
        assert_eq!(lines("a\n\r\n"), ["a", ""]);
        assert_eq!(lines(""), [""; 0]);
    }
}
