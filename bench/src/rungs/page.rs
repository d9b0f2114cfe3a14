//! A sheet at one moment, ready to be drawn: places on the grid, continuity, comments, numbers of lines.

use std::collections::BTreeMap;

use latchwork_grammar::{FileId, Names, Sources, Span, tokens, tree::TriviaKind};

use super::{
    labels::Labels,
    layout::{Layout, layout},
    model::{Body, Entry, Feed, Output, OutputForm, Sheet},
    state::{Flow, Readings},
};

/// Most characters of a comment that are shown.
const COMMENT_MAX: usize = 600;

/// Most characters of a statement that are shown in front of its rung.
const SOURCE_MAX: usize = 1_000;

/// What is drawn.
pub struct Page<'p> {
    /// What it is.
    pub title: String,
    /// File, moment.
    pub subtitle: String,
    /// From top to bottom.
    pub entries: Vec<Placed<'p>>,
    /// Where variables are connected.
    pub labels: &'p Labels,
    /// The values of the moment.
    pub readings: Option<&'p dyn Readings>,
    /// The source.
    pub sources: &'p Sources,
    /// What the signs mean, a sentence each.
    pub legend: Vec<String>,
}

/// An entry with its places.
pub struct Placed<'p> {
    /// The entry.
    pub entry: &'p Entry,
    /// Places on the grid; empty for text.
    pub layout: Layout<'p>,
    /// Continuity.
    pub flow: Flow,
    /// The comment above the statement.
    pub comment: Option<String>,
    /// First line of the source, from 1; 0 if it has none.
    pub first_line: u32,
    /// Last line.
    pub last_line: u32,
    /// Whether it is another rung of the statement above.
    pub continued: bool,
    /// The text of the statement, with one blank for every space and line end.
    pub source: String,
}

/// The comments of a file by the byte behind each: where it begins.
type Comments = BTreeMap<u32, u32>;

impl<'p> Page<'p> {
    /// A sheet with what is known of a moment; of `only` one statement if that is asked for.
    pub fn new(
        sheet: &'p Sheet,
        sources: &'p Sources,
        labels: &'p Labels,
        readings: Option<&'p dyn Readings>,
        only: Option<u32>,
    ) -> Self {
        let mut comments: BTreeMap<FileId, Comments> = BTreeMap::new();
        let wanted =
            sheet.entries.iter().filter(|entry| only.is_none_or(|only| entry.statements.contains(&only)));
        let mut commented = None;
        let mut above = None;
        let entries: Vec<Placed<'_>> = wanted
            .map(|entry| {
                let layout = layout(&entry.body).unwrap_or_default();
                let flow = Flow::new(&layout, entry.statements.first().copied(), readings);
                let shown = shown(entry, sources);
                let (first_line, last_line, source) = match shown {
                    Some(span) => {
                        let ((first, _), (last, _)) = sources.range(span);
                        (first, last, line(span.file, sources.text(span)))
                    }
                    None => (0, 0, String::new()),
                };
                let comment = shown.and_then(|span| {
                    let file = comments
                        .entry(span.file)
                        .or_insert_with(|| comments_of(span.file, &sources.file(span.file).text));
                    comment(file, sources, span)
                });
                // Two rungs of one statement have one comment.
                let comment = comment.filter(|(start, _)| commented.replace(*start) != Some(*start));
                let continued = entry.body.is_drawn() && shown == above;
                above = shown.filter(|_| entry.body.is_drawn());
                Placed {
                    entry,
                    continued,
                    layout,
                    flow,
                    comment: comment.map(|(_, text)| text),
                    first_line,
                    last_line,
                    source,
                }
            })
            .collect();
        let drawn = entries.iter().any(|placed| placed.entry.body.is_drawn());
        let mut legend = Vec::new();
        if drawn && readings.is_some() {
            legend.push("A heavy line has continuity from the left rail, a light one has not; the bars of a contact are heavy while it conducts.".to_owned());
            legend
                .push("A value is the one that its statement saw when it last ran in this scan.".to_owned());
            if entries.iter().any(|placed| keeps(&placed.entry.body)) {
                legend.push("A value in parentheses is kept from before: nothing in its rung wrote it in this scan; (not yet) stands at a coil that has not acted since the start.".to_owned());
            }
        }
        if drawn {
            legend.push("Contacts and coils are the graphic symbols of IEC 61131-3: -| |- conducts while the variable is TRUE, -|/|- while it is FALSE.".to_owned());
        }
        Page {
            title: format!("{} {}", sheet.kind, sheet.unit),
            subtitle: String::new(),
            entries,
            labels,
            readings,
            sources,
            legend,
        }
    }
}

/// Whether an entry has something that may keep what it was.
fn keeps(body: &Body) -> bool {
    let stays = |end: &Output| matches!(end.form, OutputForm::Set | OutputForm::Reset);
    match body {
        Body::Rung(rung) => rung.ends.iter().any(stays),
        Body::Call(call) => {
            call.inputs.iter().any(|pin| matches!(pin.feed, Feed::Kept { .. }))
                || call.outputs.iter().any(|pin| pin.ends.iter().any(stays))
        }
        Body::Text(_) => false,
    }
}

/// The text that an entry shows: of Instruction List whole lines.
pub(super) fn shown(entry: &Entry, sources: &Sources) -> Option<Span> {
    let span = match &entry.body {
        Body::Text(text) if text.before.is_empty() && text.behind.is_empty() => {
            text.source.unwrap_or(entry.span)
        }
        Body::Text(text) => return text.source,
        _ => entry.span,
    };
    Some(from_line_start(span, sources))
}

/// An instruction begins with its operator, which is no part of the operand that a statement begins with.
pub(super) fn from_line_start(span: Span, sources: &Sources) -> Span {
    let text = &sources.file(span.file).text;
    // Behind another statement there are blanks and line ends first.
    let covered = text.get(span.start as usize..span.end as usize).unwrap_or_default();
    let shown = behind_label(behind_comments(covered));
    let start = span.start as usize + covered.len() - shown.len();
    let span = Span { start: start as u32, ..span };
    let (before, behind) = (text.get(..span.start as usize), text.get(span.end as usize..));
    let (Some(before), Some(behind)) = (before, behind) else { return span };
    if behind.trim_start().starts_with([';', ':', ')', ',']) || sources.text(span).ends_with(';') {
        return span;
    }
    let line = before.rfind('\n').map_or(0, |end| end + 1);
    let lead = before.get(line..).unwrap_or_default();
    // A label stands above.
    let label = lead.find(':').map_or(0, |colon| colon + 1);
    let operator = lead.get(label..).unwrap_or_default();
    let begins = line + label + operator.len() - operator.trim_start().len();
    // Within the file.
    Span { start: begins as u32, ..span }
}

/// Text without the label that it begins with.
fn behind_label(text: &str) -> &str {
    match text.split_once(':') {
        Some((label, rest)) if !rest.starts_with('=') && label.chars().all(is_of_name) => {
            behind_comments(rest)
        }
        _ => text,
    }
}

fn is_of_name(character: char) -> bool {
    character.is_alphanumeric() || character == '_'
}

/// Text without the blanks and comments that it begins with.
fn behind_comments(text: &str) -> &str {
    let mut rest = text.trim_start();
    loop {
        let end = match rest.get(..2) {
            Some("(*") => rest.find("*)").map(|end| end + 2),
            Some("/*") => rest.find("*/").map(|end| end + 2),
            Some("//") => rest.find('\n'),
            _ => None,
        };
        let Some(behind) = end.and_then(|end| rest.get(end..)) else { return rest };
        rest = behind.trim_start();
    }
}

/// A statement in one line, without the comments and pragmas inside of it.
fn line(file: FileId, text: &str) -> String {
    let most = text.char_indices().nth(SOURCE_MAX).map_or(text.len(), |(end, _)| end);
    let text = text.get(..most).unwrap_or_default();
    let mut words = Vec::new();
    let mut at = 0;
    let trivia = tokens(file, text, &mut Names::default()).trivia;
    for span in trivia.iter().map(|trivia| trivia.span) {
        words.extend(text.get(at..span.start as usize).unwrap_or_default().split_whitespace());
        at = span.end as usize;
    }
    words.extend(text.get(at..).unwrap_or_default().split_whitespace());
    words.join(" ")
}

fn comments_of(file: FileId, text: &str) -> Comments {
    let lexed = tokens(file, text, &mut Names::default());
    let comments = lexed
        .trivia
        .iter()
        .filter(|trivia| matches!(trivia.kind, TriviaKind::BlockComment | TriviaKind::LineComment));
    comments.map(|trivia| (trivia.span.end, trivia.span.start)).collect()
}

/// The comment that ends in front of the line of a statement and begins a line of its own; where it begins.
fn comment(comments: &Comments, sources: &Sources, span: Span) -> Option<(u32, String)> {
    let text = &sources.file(span.file).text;
    let line_start = text.get(..span.start as usize)?.rfind('\n').map_or(0, |end| end + 1);
    let mut limit = u32::try_from(line_start).ok()?;
    let mut found: Option<(u32, Vec<&str>)> = None;
    while let Some((end, start)) = comments.range(..=limit).next_back() {
        let between = text.get(*end as usize..limit as usize)?;
        let begins = text.get(..*start as usize)?.rfind('\n').map_or(0, |end| end + 1);
        let alone = text.get(begins..*start as usize)?.trim().is_empty();
        let line_ends = between.matches('\n').count();
        if !between.trim().is_empty() || !alone || line_ends > 1 {
            break;
        }
        let body = text.get(*start as usize..*end as usize)?;
        let single = body.starts_with("//");
        let found = found.get_or_insert((*start, Vec::new()));
        found.0 = *start;
        found.1.insert(0, body);
        if !single {
            break;
        }
        // The line break in front of it belongs to the comment above.
        limit = u32::try_from(begins).ok()?;
    }
    let (start, bodies) = found?;
    let words: Vec<&str> = bodies.iter().flat_map(|body| marks_off(body).split_whitespace()).collect();
    let mut whole = words.join(" ");
    if let Some((end, _)) = whole.char_indices().nth(COMMENT_MAX) {
        whole.truncate(end);
        whole.push('…');
    }
    (!whole.is_empty()).then_some((start, whole))
}

fn marks_off(comment: &str) -> &str {
    let pairs = [("(*", "*)"), ("/*", "*/")];
    for (open, close) in pairs {
        if let Some(inner) = comment.strip_prefix(open).and_then(|inner| inner.strip_suffix(close)) {
            return inner.trim_matches('*');
        }
    }
    comment.trim_start_matches('/')
}
