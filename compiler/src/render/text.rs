//! Diagnostics as text for people, with excerpts of the source.

use std::{collections::BTreeSet, io::Write as _};

use codespan_reporting::{
    diagnostic::{self as codespan, LabelStyle},
    term::{
        self, Config, Styles, StylesWriter,
        termcolor::{Ansi, Color, ColorSpec},
    },
};
use latchwork_grammar::{Diagnostic, Severity, Sources, Span};

use super::{
    excerpt::{Excerpt, Excerpts},
    in_source_order,
    lines::Files,
    sanitise, spans, summary,
};

/// Most diagnostics shown in full; a file that is no program at all has thousands.
pub const SHOWN_MAX: usize = 100;

/// Most characters of a message or label, which may quote the source.
const MESSAGE_CHARACTERS_MAX: usize = 400;

/// Most characters of a note.
const NOTE_CHARACTERS_MAX: usize = 2000;

/// Notes are broken at this width, so that they stay readable in a narrow terminal.
const NOTE_WIDTH: usize = 96;

/// Diagnostics as text: an excerpt of the source for each, in source order, then one line that counts them.
/// Empty when there are none.
///
/// At most [`SHOWN_MAX`] are shown. Whatever the source holds, the text holds no control character but line feeds
/// (and colour sequences, if `colour`), and no line much longer than a screen is wide.
pub fn text(diagnostics: &[Diagnostic], sources: &Sources, colour: bool) -> String {
    if diagnostics.is_empty() {
        return String::new();
    }
    excerpts(diagnostics, sources, colour) + &summary(diagnostics) + "\n"
}

/// The same without the line that counts them; ends with an empty line.
pub fn excerpts(diagnostics: &[Diagnostic], sources: &Sources, colour: bool) -> String {
    let ordered = in_source_order(diagnostics);
    let files = Files::new(sources, spans(diagnostics));
    let mut explained = BTreeSet::new();
    let mut out = String::new();
    for diagnostic in ordered.iter().take(SHOWN_MAX) {
        // The hint is worth a line once; after ten equal mistakes it is noise.
        let hint = explained.insert(diagnostic.name);
        out.push_str(&one(diagnostic, &files, colour, hint));
    }
    if let Some(more @ 1..) = ordered.len().checked_sub(SHOWN_MAX) {
        out.push_str(&format!("… and {more} more; the first ones are the ones to repair\n\n"));
    }
    out
}

/// One diagnostic, followed by an empty line.
pub(super) fn one(diagnostic: &Diagnostic, files: &Files<'_>, colour: bool, hint: bool) -> String {
    let (excerpts, labels) = labels(diagnostic, files);
    let mut shown = codespan::Diagnostic::new(match diagnostic.severity {
        Severity::Error => codespan::Severity::Error,
        Severity::Warning => codespan::Severity::Warning,
    })
    .with_code(diagnostic.name)
    .with_message(sanitise::line(&diagnostic.message, MESSAGE_CHARACTERS_MAX))
    .with_labels(labels);
    for note in &diagnostic.notes {
        shown = shown.with_note(sanitise::paragraph(note, NOTE_WIDTH, NOTE_CHARACTERS_MAX));
    }
    let more = format!("(latchwork explain {})", diagnostic.name);
    match (&diagnostic.fix, hint) {
        (Some(fix), _) => {
            let mut note =
                sanitise::paragraph(&format!("fix: {}", fix.message), NOTE_WIDTH, NOTE_CHARACTERS_MAX);
            if hint {
                let last = note.lines().next_back().map_or(0, |line| line.chars().count());
                note.push_str(if last + 2 + more.len() > NOTE_WIDTH { "\n" } else { "  " });
                note.push_str(&more);
            }
            shown = shown.with_note(note);
        }
        (None, true) => shown = shown.with_note(more),
        (None, false) => {}
    }
    let mut out = Vec::new();
    let config = Config::default();
    let result = if colour {
        let styles = styles();
        term::emit_to_write_style(
            &mut StylesWriter::new(Ansi::new(&mut out), &styles),
            &config,
            &excerpts,
            &shown,
        )
    } else {
        term::emit_to_io_write(&mut out, &config, &excerpts, &shown)
    };
    if result.is_err() {
        // The excerpt could not be drawn: the message still has to arrive.
        out.clear();
        let place = files
            .place(diagnostic.primary.span)
            .map(|(name, start, _)| {
                format!("{}:{}:{}: ", sanitise::line(name, 160), start.line, start.column)
            })
            .unwrap_or_default();
        // Writing to a vector cannot fail.
        let _ = writeln!(out, "{place}{}: {}", shown.code.as_deref().unwrap_or("error"), shown.message);
        for note in &shown.notes {
            let _ = writeln!(out, "  = {note}");
        }
        let _ = writeln!(out);
    }
    let out = String::from_utf8_lossy(&out);
    // Lines that end in blanks (an empty source line in a gutter) are untidy in logs and snapshots.
    out.lines().flat_map(|line| [line.trim_end(), "\n"]).collect()
}

fn labels<'a>(
    diagnostic: &'a Diagnostic,
    files: &'a Files<'a>,
) -> (Excerpts<'a>, Vec<codespan::Label<usize>>) {
    let all = || {
        std::iter::once((LabelStyle::Primary, &diagnostic.primary))
            .chain(diagnostic.secondary.iter().map(|label| (LabelStyle::Secondary, label)))
    };
    let mut ids = Vec::new();
    let mut excerpts = Excerpts(Vec::new());
    for (_, label) in all() {
        let Some(file) = files.get(label.span.file) else { continue };
        if !ids.contains(&label.span.file) {
            ids.push(label.span.file);
            excerpts.0.push(Excerpt::new(file));
        }
        if let Some(excerpt) = index(&ids, label.span).and_then(|id| excerpts.0.get_mut(id)) {
            excerpt.want(&file.range(label.span));
        }
    }
    excerpts.0.iter_mut().for_each(Excerpt::fill);
    let mut labels = Vec::new();
    for (style, label) in all() {
        let Some(file) = files.get(label.span.file) else { continue };
        let Some(id) = index(&ids, label.span) else { continue };
        let Some(range) = excerpts.0.get(id).and_then(|excerpt| excerpt.shown(&file.range(label.span)))
        else {
            continue;
        };
        let text = sanitise::line(&label.text, MESSAGE_CHARACTERS_MAX);
        labels.push(codespan::Label::new(style, id, range).with_message(text));
    }
    (excerpts, labels)
}

fn index(ids: &[latchwork_grammar::FileId], span: Span) -> Option<usize> {
    ids.iter().position(|id| *id == span.file)
}

/// Colours that can be told apart on light and on dark grounds; the words say the same.
fn styles() -> Styles {
    let bold = |colour| {
        let mut spec = ColorSpec::new();
        spec.set_fg(Some(colour)).set_bold(true);
        spec
    };
    let plain = |colour| {
        let mut spec = ColorSpec::new();
        spec.set_fg(Some(colour));
        spec
    };
    let mut styles = Styles::no_color();
    styles.header_error = bold(Color::Red);
    styles.header_warning = bold(Color::Yellow);
    styles.header_message.set_bold(true);
    styles.primary_label_error = plain(Color::Red);
    styles.primary_label_warning = plain(Color::Yellow);
    styles.secondary_label = plain(Color::Cyan);
    styles.line_number = plain(Color::Cyan);
    styles.source_border = plain(Color::Cyan);
    styles.note_bullet = plain(Color::Cyan);
    styles
}
