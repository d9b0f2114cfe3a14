//! A recording in the page: pictures and tables to read, and the same as data for the script.

use std::fmt::Write as _;

use latchwork_vm::{
    trace::{Change, Changes, SignalKind},
    value::Value,
};

use crate::{
    diagram::{
        Diagram, DiagramOptions, DiagramRow, Group, counted,
        scale::time_text,
        words::{harmless, value_text},
    },
    export::Merge,
    procedure::{Failure, report::sight},
    recording::Recording,
    render::{page::escaped, svg_in_page},
    report::{
        Evidence,
        embedded::{Embedded, VALUES_BYTES_MAX, embedded, kind},
        explain::{FAILURE_BYTES_MAX, Fragments, RUN_BYTES_MAX, explained},
        rows::{ShownRow, shown_rows},
    },
};

/// Most rows of one picture, so that it fits a sheet of paper.
const ROWS_OF_PICTURE: usize = 30;

/// Most changes that are listed where no script lists others.
const CHANGES_LISTED: usize = 100;

/// A recording in the form of a page, without its heading.
#[derive(Clone, Debug)]
pub struct Picture {
    pictures: String,
    values: String,
    data: Option<Embedded>,
    explanations: String,
}

impl Picture {
    /// A whole run, with what is known of it besides.
    pub fn of_run(recording: &Recording, evidence: Option<Evidence<'_>>) -> Self {
        let diagram = Diagram::new(recording, &DiagramOptions::default());
        let window = (diagram.start_ns, diagram.end_ns);
        let mut pictures = String::new();
        if recording.scans.is_empty() {
            pictures.push_str("<p>No scan was recorded.</p>\n");
        } else {
            sheets(&diagram).iter().for_each(|sheet| figure(sheet, &mut pictures));
        }
        let mut picture = Picture::new(recording, &diagram, pictures, window);
        picture.explain(evidence, recording, RUN_BYTES_MAX);
        picture
    }

    fn explain(&mut self, evidence: Option<Evidence<'_>>, recording: &Recording, bytes_max: usize) {
        let Some(evidence) = evidence else { return };
        for all in explained(evidence, recording, bytes_max) {
            push_fragments(&all, &mut self.explanations);
        }
    }

    /// The rows that a failure concerns, with what is known of the run besides; `None` if there is nothing to see.
    pub fn of_failure(failure: &Failure, evidence: Option<Evidence<'_>>) -> Option<Self> {
        let sight = sight(failure);
        let recording = &failure.recording;
        if sight.diagrams.is_empty() {
            return None;
        }
        let mut pictures = String::new();
        sight.diagrams.iter().flat_map(sheets).for_each(|sheet| figure(&sheet, &mut pictures));
        let whole = Diagram::new(recording, &DiagramOptions::default()).with_marks(sight.marks);
        let mut picture = Picture::new(recording, &whole, pictures, sight.window);
        picture.explain(evidence, recording, FAILURE_BYTES_MAX);
        Some(picture)
    }

    fn new(recording: &Recording, diagram: &Diagram<'_>, pictures: String, window: (i64, i64)) -> Self {
        let rows = shown_rows(recording, diagram);
        let mut values = String::new();
        values_table(&rows, &mut values);
        changes_table(recording, &rows, &mut values);
        let is_empty = recording.scans.is_empty() || rows.is_empty();
        let data = (!is_empty).then(|| embedded(recording, diagram, &rows, window));
        Picture { pictures, values, data, explanations: String::new() }
    }

    /// Bytes that it takes in a page.
    pub fn bytes(&self) -> usize {
        let data = self.data.as_ref().map_or(0, |data| data.json.len());
        self.pictures.len() + self.values.len() + data + self.explanations.len()
    }

    /// Adds it to a page; `label` tells diagrams of one page apart.
    pub(super) fn push(&self, label: &str, body: &mut String) {
        let label = escaped(label);
        // What the script looks for.
        let class = if self.data.is_some() { " class=\"run\"" } else { "" };
        let _ = write!(
            body,
            "<section{class} aria-label=\"{label}\" data-label=\"{label}\">\n<div class=\"pictures\">\n{}</div>\n{}",
            self.pictures, self.values
        );
        if let Some(data) = &self.data {
            if !data.left_out.is_empty() {
                let names: Vec<String> = data.left_out.iter().map(|name| escaped(&harmless(name))).collect();
                let _ = writeln!(
                    body,
                    "<p class=\"limit\"><strong>Not all values are in this page.</strong> They may take {} kB, and those \
                     of {} would take more: {}. The pictures show them; <code>--csv FILE</code> writes all values, and \
                     with fewer rows (<code>--record</code>) or less time (<code>--until</code>) they fit.</p>",
                    VALUES_BYTES_MAX / 1_000,
                    counted(data.left_out.len() as u64, "row"),
                    names.join(", ")
                );
            }
            let _ = writeln!(
                body,
                "<script type=\"application/json\" class=\"recording\">{}</script>",
                data.json
            );
        }
        body.push_str(&self.explanations);
        body.push_str("</section>\n");
    }
}

/// The fragments as templates, and their intervals as data.
fn push_fragments(all: &Fragments, page: &mut String) {
    if all.is_empty() {
        return;
    }
    for (id, fragment) in all.kept().iter().enumerate() {
        let _ = writeln!(page, "<template data-fragment=\"{}-{id}\">{fragment}</template>", all.kind);
    }
    let (left_out, bytes_max) = all.limit();
    if left_out > 0 {
        let _ = writeln!(
            page,
            "<p class=\"limit\"><strong>Not all {} are in this page.</strong> They may take {} kB; those of {} end before \
             the run does. Shorter runs (<code>--until</code>) and fewer rows (<code>--record</code>) have all of theirs.</p>",
            all.kind,
            bytes_max / 1_000,
            counted(left_out as u64, "row")
        );
    }
    let _ = writeln!(
        page,
        "<script type=\"application/json\" class=\"explanations\" data-kind=\"{}\" data-heading=\"{}\">{}</script>",
        all.kind,
        all.heading,
        all.json()
    );
}

/// A diagram in parts that fit a sheet each; all but the first without marks, which belong to no row.
fn sheets<'a>(diagram: &Diagram<'a>) -> Vec<Diagram<'a>> {
    let count = diagram.rows().count();
    if count <= ROWS_OF_PICTURE {
        return vec![diagram.clone()];
    }
    let pages = count.div_ceil(ROWS_OF_PICTURE);
    let mut rest: Vec<Group<'a>> = diagram.groups.clone();
    let mut sheets = Vec::new();
    while !rest.is_empty() {
        let mut groups: Vec<Group<'a>> = Vec::new();
        let mut room = ROWS_OF_PICTURE;
        while room > 0 && !rest.is_empty() {
            let Some(group) = rest.first_mut() else { break };
            let taken: Vec<_> = group.rows.drain(..room.min(group.rows.len())).collect();
            room -= taken.len();
            groups.push(Group { kind: group.kind, rows: taken });
            if group.rows.is_empty() {
                rest.remove(0);
            }
        }
        let title = format!("{} ({} of {pages})", diagram.title, sheets.len() + 1);
        sheets.push(Diagram { title, groups, ..diagram.clone() });
    }
    sheets
}

fn figure(diagram: &Diagram<'_>, pictures: &mut String) {
    let _ = writeln!(
        pictures,
        "<figure class=\"wide\" tabindex=\"0\" aria-label=\"Picture: {}\">\n{}</figure>",
        escaped(&diagram.title),
        svg_in_page(diagram)
    );
}

/// The rows with their values at both ends. The script adds those at the cursors.
fn values_table(rows: &[ShownRow<'_>], page: &mut String) {
    page.push_str(
        "<details open>\n<summary>Values of all rows</summary>\n\
         <div class=\"wide\" role=\"group\" aria-label=\"Values of all rows\" tabindex=\"0\">\n<table class=\"values\">\n\
         <thead><tr><th scope=\"col\">row</th><th scope=\"col\">what it is</th><th scope=\"col\">at the start</th>\
         <th scope=\"col\">at the end</th><th scope=\"col\">changes</th></tr></thead>\n<tbody>\n",
    );
    for row in rows {
        let mut what = vec![kind(row.drawn.kind).to_owned()];
        what.extend(row.drawn.heading.details.iter().cloned());
        let value = |change: Option<Change>| {
            change.map_or_else(|| "–".to_owned(), |change| spoken(&change.value, row.drawn))
        };
        let _ = writeln!(
            page,
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            escaped(&row.drawn.heading.name),
            escaped(&what.join(", ")),
            escaped(&value(row.changes.first())),
            escaped(&value(row.changes.last())),
            row.drawn.changes
        );
    }
    page.push_str("</tbody>\n</table>\n</div>\n</details>\n");
}

/// A value as the lane calls it: the word of its level, or the literal.
fn spoken(value: &Value, row: &DiagramRow<'_>) -> String {
    match value {
        Value::Bool(true) => row.heading.high.clone(),
        Value::Bool(false) => row.heading.low.clone(),
        // No step of a chart is active.
        Value::Enumeration { name: Some(name), .. } if name.is_empty() => "none".to_owned(),
        value => value_text(value),
    }
}

/// The first changes of all rows in the order of time. A value that moves in every scan is listed where it begins to move
/// and where it stops.
fn changes_table(recording: &Recording, rows: &[ShownRow<'_>], page: &mut String) {
    let changes: Vec<&Changes> = rows.iter().map(|row| row.changes.as_ref()).collect();
    let mut last: Vec<Option<(u32, String)>> = vec![None; rows.len()];
    let (mut lines, mut listed, mut more) = (String::new(), 0, false);
    for (scan, index, value) in Merge::new(&changes) {
        let (Some(row), Some(last)) = (rows.get(index), last.get_mut(index)) else { continue };
        let text = spoken(&value, row.drawn);
        let before = last.replace((scan, text.clone()));
        // The first value is no change, nor is one that reads the same.
        let Some((since, before)) = before.filter(|(_, before)| *before != text) else { continue };
        if moves_on(row, since, scan) {
            continue;
        }
        if listed == CHANGES_LISTED {
            more = true;
            break;
        }
        let time_ns = recording.scans.get(scan as usize).map_or(0, |record| record.time_ns);
        let _ = writeln!(
            lines,
            "<tr><td>{}</td><td>{}</td><th scope=\"row\">{}</th><td>{}</td><td>{}</td></tr>",
            time_text(time_ns),
            scan + 1,
            escaped(&row.drawn.heading.name),
            escaped(&before),
            escaped(&text)
        );
        listed += 1;
    }
    let all = counted(rows.iter().map(|row| row.drawn.changes as u64).sum(), "change");
    let first = if more { format!("The first {listed} of {all}.") } else { format!("{all}.") };
    // Nothing was listed and nothing will be.
    if listed == 0 && rows.iter().all(|row| row.drawn.changes == 0) {
        page.push_str("<p>Nothing changed.</p>\n");
        return;
    }
    let _ = write!(
        page,
        "<details class=\"changes\">\n<summary>Changes in the order of time</summary>\n<p class=\"note\">{first}</p>\n\
         <p class=\"definitions\">A value that moves in every scan is listed where it begins to move and where it \
         stops.</p>\n\
         <div class=\"wide\" role=\"group\" aria-label=\"Changes in the order of time\" tabindex=\"0\">\n<table>\n\
         <thead><tr><th scope=\"col\">time</th><th scope=\"col\">scan</th><th scope=\"col\">row</th>\
         <th scope=\"col\">from</th><th scope=\"col\">to</th></tr></thead>\n<tbody>\n\
         {lines}</tbody>\n</table>\n</div>\n</details>\n"
    );
}

/// Whether a change lies within a stretch of changes in every scan, the one before it in `since`.
fn moves_on(row: &ShownRow<'_>, since: u32, scan: u32) -> bool {
    row.kind != SignalKind::Bool
        && since.checked_add(1) == Some(scan)
        && row.changes.after(scan).next().is_some_and(|next| Some(next.scan) == scan.checked_add(1))
}
