//! The page of likeness in a class: what it is and is not, how usual it is, groups of the same text, pairs, and the first
//! pairs side by side.

mod beside;

use std::fmt::Write as _;

use super::{BANDS, Comparison, Fingerprints, Handed, sentences};
use crate::render::page::{Page, escaped};

pub use self::beside::LINES_SHOWN_MAX;
use self::beside::Shown;

/// Most pairs whose texts are shown.
pub const PAIRS_SHOWN_MAX: usize = 20;

/// Most groups of which two texts are shown.
const GROUPS_SHOWN_MAX: usize = 10;

/// What is special to this page.
const STYLE: &str = include_str!("alike.css");

/// The page. `title` names the exercise; `text` gives what a member of the class handed in, and is asked only for members
/// whose texts are shown.
pub fn page(
    title: &str,
    class: &[Fingerprints],
    comparison: &Comparison,
    text: &dyn Fn(usize) -> Option<Handed>,
) -> String {
    let mut body = format!(
        "<header>\n<h1>Alike submissions</h1>\n<p>{}, {}</p>\n</header>\n<main>\n",
        escaped(title),
        sentences::counted(comparison.submissions as u64, "submission", "submissions")
    );
    about(&mut body);
    usual(comparison, &mut body);
    groups(class, comparison, &mut body);
    pairs(class, comparison, &mut body);
    side_by_side(class, comparison, text, &mut body);
    aside(class, comparison, &mut body);
    body.push_str("</main>\n");
    Page { title: format!("Alike submissions: {title}"), styles: vec![STYLE], script: "", body }.document()
}

fn section(anchor: &str, heading: &str, body: &mut String) {
    let _ = write!(body, "<section aria-labelledby=\"{anchor}\">\n<h2 id=\"{anchor}\">{heading}</h2>\n");
}

fn about(body: &mut String) {
    section("about", "What this is, and what it is not", body);
    let _ = write!(
        body,
        "<p class=\"caution\"><strong>{}</strong></p>\n\
         <p>Compared is what the statements do with which inputs, outputs and types of variables. Names, comments, layout, \
         letter case, the order of declarations and of program organization units, spellings of one value \
         (<code>T#2s</code>, <code>T#2000ms</code>), parentheses that change nothing, the order of operands, IF for CASE \
         and, where a program compiles, Instruction List for Structured Text make no difference. What was handed out, and what many of \
         the class have, does not count. A similarity is the share of the smaller text's fingerprints that the other text \
         has too (winnowing: S. Schleimer, D. S. Wilkerson, A. Aiken, SIGMOD 2003).</p>\n</section>\n",
        sentences::CAUTION
    );
}

fn usual(comparison: &Comparison, body: &mut String) {
    section("usual", "How usual a similarity is in this class", body);
    let _ = writeln!(body, "<p>{} {}</p>", sentences::usual(comparison), sentences::left_out(comparison));
    let most = comparison.usual.bands.iter().copied().max().unwrap_or(0);
    if most != 0 {
        body.push_str(
            "<div class=\"wide\" role=\"region\" aria-label=\"Pairs by similarity\" tabindex=\"0\">\n<table class=\"bands\">\n\
             <caption>Pairs of different texts by similarity</caption>\n\
             <thead><tr><th scope=\"col\">similarity</th><th scope=\"col\" class=\"number\">pairs</th>\
             <th scope=\"col\"><span class=\"unseen\">drawn</span></th></tr></thead>\n<tbody>\n",
        );
        for (band, count) in comparison.usual.bands.iter().enumerate() {
            let step = 100 / BANDS;
            let name = match band + 1 {
                BANDS => format!("{} to 100 %", band * step),
                next => format!("{} to below {} %", band * step, next * step),
            };
            // Whatever there is, is seen.
            let width = (count * 120).div_ceil(most);
            let _ = writeln!(
                body,
                "<tr><th scope=\"row\">{name}</th><td class=\"number\">{count}</td><td><svg width=\"120\" height=\"12\" \
                 aria-hidden=\"true\"><rect width=\"{width}\" height=\"12\"/></svg></td></tr>"
            );
        }
        body.push_str("</tbody>\n</table>\n</div>\n");
    }
    body.push_str("</section>\n");
}

/// The number of a pair or group, which leads to its texts where they are shown.
fn label(what: &str, at: usize, shown: usize) -> String {
    let number = at + 1;
    match at < shown {
        true => {
            format!("<a href=\"#{what}-{number}\">{number}<span class=\"unseen\">, side by side</span></a>")
        }
        false => number.to_string(),
    }
}

fn groups(class: &[Fingerprints], comparison: &Comparison, body: &mut String) {
    section("groups", "The same text", body);
    if comparison.groups.is_empty() {
        body.push_str(
            "<p>No two submissions are the same text apart from what makes no difference.</p>\n</section>\n",
        );
        return;
    }
    body.push_str(
        "<p>The submissions of a group are the same apart from what makes no difference. The shorter the text, the sooner \
         two write it by themselves. Among the pairs below a group stands with its first member.</p>\n\
         <div class=\"wide\" role=\"region\" aria-label=\"Groups of the same text\" tabindex=\"0\">\n<table>\n\
         <caption>Groups of the same text</caption>\n\
         <thead><tr><th scope=\"col\">group</th><th scope=\"col\" class=\"number\">submissions</th><th scope=\"col\" class=\"number\">words</th>\
         <th scope=\"col\">students</th></tr></thead>\n<tbody>\n",
    );
    for (at, group) in comparison.groups.iter().take(super::PAIRS_MAX).enumerate() {
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{}</th><td class=\"number\">{}</td><td class=\"number\">{}</td><td class=\"names\">{}</td></tr>",
            label("group", at, GROUPS_SHOWN_MAX),
            group.members.len(),
            group.words,
            escaped(&sentences::names(class, &group.members))
        );
    }
    body.push_str("</tbody>\n</table>\n</div>\n");
    if let Some(further) =
        comparison.groups.len().checked_sub(super::PAIRS_MAX).filter(|further| *further > 0)
    {
        let _ = writeln!(
            body,
            "<p>{} not listed.</p>",
            sentences::counted(further as u64, "smaller group is", "smaller groups are")
        );
    }
    body.push_str("</section>\n");
}

fn pairs(class: &[Fingerprints], comparison: &Comparison, body: &mut String) {
    section("pairs", "Pairs", body);
    let least = sentences::percent(comparison.listed_from);
    if comparison.pairs.is_empty() {
        let _ = write!(body, "<p>No two different texts are {least} alike or more.</p>\n</section>\n");
        return;
    }
    let _ = write!(
        body,
        "<div class=\"wide\" role=\"region\" aria-label=\"Pairs that are alike\" tabindex=\"0\">\n<table>\n\
         <caption>Pairs that are at least {least} alike, the most alike first</caption>\n\
         <thead><tr><th scope=\"col\">pair</th><th scope=\"col\">students</th>\
         <th scope=\"col\" class=\"number\">similarity</th><th scope=\"col\" class=\"number\">fingerprints shared</th>\
         <th scope=\"col\" class=\"number\">words in them</th>\
         <th scope=\"col\" class=\"number\">more alike than</th></tr></thead>\n<tbody>\n"
    );
    for (at, pair) in comparison.pairs.iter().enumerate() {
        let label = label("pair", at, PAIRS_SHOWN_MAX);
        let [first, second] =
            pair.members.map(|member| escaped(&sentences::with_group(class, comparison, member)));
        let _ = writeln!(
            body,
            "<tr><th scope=\"row\">{label}</th><td class=\"names\">{first} and {second}</td><td class=\"number\">{}</td>\
             <td class=\"number\">{} of {}</td><td class=\"number\">{}</td><td class=\"number\">{} of the pairs</td></tr>",
            sentences::percent(pair.similarity),
            pair.shared,
            pair.of,
            pair.words,
            sentences::exact_percent(pair.above)
        );
    }
    body.push_str("</tbody>\n</table>\n</div>\n");
    if comparison.further > 0 {
        let further = sentences::counted(comparison.further, "further pair is", "further pairs are");
        let _ = writeln!(body, "<p>{further} at least {least} alike and not listed.</p>");
    }
    body.push_str("</section>\n");
}

fn side_by_side(
    class: &[Fingerprints],
    comparison: &Comparison,
    text: &dyn Fn(usize) -> Option<Handed>,
    body: &mut String,
) {
    if comparison.pairs.is_empty() && comparison.groups.is_empty() {
        return;
    }
    section("beside", "Side by side", body);
    let _ = writeln!(
        body,
        "<p>A stretch has the same number in both texts; its lines are marked, and its number leads to the other text. \
         A number with <b>c</b> is a stretch that is common or was handed out and does not count. Lines far from any \
         stretch are left out.</p>"
    );
    for (at, pair) in comparison.pairs.iter().take(PAIRS_SHOWN_MAX).enumerate() {
        let [first, second] = pair.members.map(|member| escaped(sentences::name(class, member)));
        let shown = Shown {
            anchor: format!("pair-{}", at + 1),
            heading: format!(
                "Pair {}: {first} and {second}, {}",
                at + 1,
                sentences::percent(pair.similarity)
            ),
            lead: format!(
                "{} of {} fingerprints; more alike than {} of the pairs of the class.",
                pair.shared,
                pair.of,
                sentences::exact_percent(pair.above)
            ),
            members: pair.members,
            left_out: &comparison.left_out,
        };
        beside::both(&shown, class, text, body);
    }
    for (at, group) in comparison.groups.iter().take(GROUPS_SHOWN_MAX).enumerate() {
        let [first, second, ..] = *group.members.as_slice() else { continue };
        let [one, other] = [first, second].map(|member| escaped(sentences::name(class, member)));
        let shown = Shown {
            anchor: format!("group-{}", at + 1),
            heading: format!("Group {}: {one} and {other}", at + 1),
            lead: "The first two of the group: the same text apart from what makes no difference.".to_owned(),
            members: [first, second],
            left_out: &comparison.left_out,
        };
        beside::both(&shown, class, text, body);
    }
    if comparison.pairs.len() > PAIRS_SHOWN_MAX {
        let _ = writeln!(body, "<p>Of the pairs, the first {PAIRS_SHOWN_MAX} are shown.</p>");
    }
    body.push_str("</section>\n");
}

fn aside(class: &[Fingerprints], comparison: &Comparison, body: &mut String) {
    let aside = sentences::aside(comparison);
    let strange = (0..class.len()).filter(|at| class.get(*at).is_some_and(|it| it.not_understood > 0));
    let strange: Vec<usize> = strange.collect();
    if aside.is_empty() && strange.is_empty() {
        return;
    }
    section("aside", "What was not compared, or only as bare text", body);
    body.push_str("<dl class=\"aside\">\n");
    for (why, members) in aside {
        let _ = writeln!(body, "<dt>{why}</dt><dd>{}</dd>", escaped(&sentences::names(class, &members)));
    }
    if !strange.is_empty() {
        let _ = writeln!(
            body,
            "<dt>parts that could not be understood, compared word by word as they stand</dt><dd>{}</dd>",
            escaped(&sentences::names(class, &strange))
        );
    }
    body.push_str("</dl>\n</section>\n");
}
