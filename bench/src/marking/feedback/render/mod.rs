//! A page of feedback as HTML and as Markdown. Both say the same, within the same bounds.

mod html;
mod markdown;

pub(super) use self::{html::html, markdown::markdown};

use super::{
    FEEDBACK_BYTES_MAX,
    model::{Block, Part, Text},
};

/// Room for what is said of parts that have none.
const NOTE_BYTES: usize = 400;

/// Parts one after the other as far as they have room: without their pictures if these have none, without all that they
/// say if that has none. `taken` is what the page has besides; `set` sets a part.
fn within(parts: &[Part<'_>], taken: usize, set: impl Fn(&Part<'_>) -> String) -> String {
    let mut room = FEEDBACK_BYTES_MAX.saturating_sub(taken.saturating_add(NOTE_BYTES));
    let mut all = String::new();
    let mut set_parts = 0;
    for part in parts {
        let mut text = set(part);
        if text.len() > room {
            text = set(&without_pictures(part));
        }
        if text.len() > room {
            text = set(&heading_alone(part));
        }
        // What comes behind a part without room has none either: parts are read in order.
        let Some(rest) = room.checked_sub(text.len()) else { break };
        room = rest;
        all.push_str(&text);
        set_parts += 1;
    }
    let left_out = parts.len() - set_parts;
    if left_out > 0 {
        let mut part = Part::new("left-out", Text::new("What has no room"));
        part.say(Text::new(format!("Further parts of this page, {left_out} in number, have no room in it.")));
        all.push_str(&set(&part));
    }
    all
}

fn without_pictures<'a>(part: &Part<'a>) -> Part<'a> {
    let blocks = part.blocks.iter().map(|block| match block {
        Block::Pictures(..) => Block::Remark("Note", Text::new("the picture has no room in this page.")),
        block => block.clone(),
    });
    Part { blocks: blocks.collect(), ..part.clone() }
}

fn heading_alone<'a>(part: &Part<'a>) -> Part<'a> {
    // How it went is said first.
    let mut blocks: Vec<Block<'a>> =
        part.blocks.iter().take(1).filter(|block| matches!(block, Block::Paragraph(_))).cloned().collect();
    blocks.push(Block::Remark("Note", Text::new("what else is to be said here has no room in this page.")));
    Part { blocks, ..part.clone() }
}

/// A text in stretches of so many characters: what makes texts harmless cuts them off where they get long.
fn stretches(text: &str) -> impl Iterator<Item = &str> {
    const CHARACTERS: usize = 4_000;
    let mut rest = text;
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let end = rest.char_indices().nth(CHARACTERS).map_or(rest.len(), |(index, _)| index);
        let (first, behind) = rest.split_at(end);
        rest = behind;
        Some(first)
    })
}
