//! The table of points at the end of a page.

use super::{
    ITEMS_LISTED_MAX,
    model::{Block, Part, Piece, Table, Text, Tone},
    procedures::anchor,
};
use crate::{
    diagram::{counted, words::harmless},
    marking::{Item, ItemKind, ItemResult, ItemVerdict, Marked, MarkingScheme, Points},
};

/// What each item earned, what was taken off, and the sum.
pub(super) fn points<'a>(scheme: &MarkingScheme, marked: &Marked) -> Part<'a> {
    let mut part = Part::new("points", Text::new("Points"));
    let mut table = Table {
        label: "Points".to_owned(),
        head: ["what is asked", "how it went", "points", "out of"].map(Text::new).into(),
        ..Table::default()
    };
    let mut kept_back = 0;
    for (index, (item, result)) in scheme.items.iter().zip(&marked.items).take(ITEMS_LISTED_MAX).enumerate() {
        kept_back += usize::from(!item.shown);
        table.rows.push(row(index, item, result, kept_back));
    }
    let left_out = scheme.items.len().saturating_sub(ITEMS_LISTED_MAX);
    if left_out > 0 {
        let rest: Points = marked.items.iter().skip(ITEMS_LISTED_MAX).map(|result| result.points).sum();
        let of: Points = scheme.items.iter().skip(ITEMS_LISTED_MAX).map(|item| item.points).sum();
        let what = format!("{} more", counted(left_out as u64, "item"));
        table.rows.push([what, String::new(), rest.to_string(), of.to_string()].map(Text::new).into());
    }
    if marked.deducted > Points::ZERO {
        let off = format!("−{}", marked.deducted);
        let what = Text::new("demands of the task that were not kept");
        table.rows.push(vec![what, Text::default(), Text::new(off), Text::default()]);
    }
    let strong = |words: String| Text::default().strong(words);
    table.rows.push(vec![
        strong("together".to_owned()),
        Text::default(),
        strong(marked.total.to_string()),
        strong(scheme.out_of.to_string()),
    ]);
    part.blocks.push(Block::Table(table));
    part
}

fn row(index: usize, item: &Item, result: &ItemResult, kept_back: usize) -> Vec<Text> {
    let points = [Text::new(result.points.to_string()), Text::new(item.points.to_string())];
    let (what, how) = if !item.shown {
        let tone = match result.verdict {
            ItemVerdict::NotRun => Tone::Open,
            _ => Tone::of(result.points, item.points),
        };
        (
            Text::new(format!("a procedure kept back ({kept_back})")),
            Text::default().verdict(tone, "kept back"),
        )
    } else {
        let title = harmless(&item.title);
        // What passed and what was not run have no part of their own.
        let what = match (item.kind, result.verdict) {
            (ItemKind::Compiles, _) => Text::new("the program compiles and does something"),
            (ItemKind::Procedure, ItemVerdict::Passed | ItemVerdict::NotRun) => Text::new(title),
            (ItemKind::Procedure, _) => Text::default().piece(Piece::Reference(anchor(index), title)),
        };
        (what, Text::default().verdict(result.verdict.into(), result.verdict.words()))
    };
    let mut row = vec![what, how];
    row.extend(points);
    row
}
