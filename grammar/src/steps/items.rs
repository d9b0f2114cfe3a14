//! What stands at the top of a file: what is tested, on what, and the procedures.

use super::{
    reader::{Least, Reader},
    tree::{Item, ItemKind, Text},
    words::{HEADS, ITEMS, STEPS, Word, nearest},
};
use crate::{diagnostic::Diagnostic, lexer::TokenKind, source::Span};
use std::collections::BTreeMap;

/// Where what a file has once stands.
#[derive(Default)]
struct Seen {
    station: Option<Span>,
    scan: Option<Span>,
    prepare: Option<Span>,
    titles: BTreeMap<String, Span>,
}

impl Reader<'_> {
    /// The whole file.
    pub(super) fn items(&mut self) -> Vec<Item> {
        let end = self.limit;
        let mut items = Vec::new();
        let mut seen = Seen::default();
        while self.at < end {
            self.limit = end;
            let start = self.at;
            if self.kind(start) == TokenKind::Semicolon {
                self.at += 1;
                continue;
            }
            let kind = self.item(start);
            if kind.is_none() && self.at == start {
                self.stray(start);
            }
            self.limit = end;
            self.at = self.at.max(start + 1);
            let Some(kind) = kind else { continue };
            let item = Item { kind, span: self.span_from(start) };
            if self.is_first(&item, &mut seen) {
                items.push(item);
            }
        }
        items
    }

    /// The item that begins here. Nothing is read if none does.
    fn item(&mut self, start: usize) -> Option<ItemKind> {
        let mut word = self.word(start);
        if self.kind(start + 1) == TokenKind::Assign {
            return None;
        }
        if word == Word::Other && self.kind(start) == TokenKind::Identifier {
            let written = self.parser.text(start);
            let (distance, meant) = nearest(written, &ITEMS)?;
            // A step here is another mistake.
            let other = nearest(written, &STEPS).or(nearest(written, &HEADS));
            if other.is_some_and(|(other, _)| other <= distance) {
                return None;
            }
            self.correct(start, meant);
            word = meant;
        }
        if !word.opens_item() || word == Word::Program && self.is_program_unit(start) {
            return None;
        }
        self.layout.line(start, 0);
        match word {
            Word::Prepare => Some(self.prepare(start)),
            Word::Procedure => self.procedure(start).map(ItemKind::Procedure),
            _ => {
                self.take_word();
                let kind = self.line_item(word);
                let kind = kind.and_then(|kind| self.semicolon(word).map(|()| kind));
                if kind.is_none() {
                    self.skip_step(start);
                }
                kind
            }
        }
    }

    /// Whether a program itself begins here: `PROGRAM Main VAR …`.
    pub(super) fn is_program_unit(&self, start: usize) -> bool {
        use TokenKind as T;
        let next = self.kind(start + 2);
        self.kind(start) == T::Program
            && self.kind(start + 1) == T::Identifier
            && (next >= T::Var && next <= T::VarConfig
                || self.parser.first_on_line(start + 2) && next != T::Semicolon)
    }

    /// An item that ends in a semicolon.
    fn line_item(&mut self, word: Word) -> Option<ItemKind> {
        Some(match word {
            Word::Include => ItemKind::Include(self.file_name()?),
            Word::Program => {
                let mut files = vec![self.file_name()?];
                while self.kind(self.at) == TokenKind::Comma {
                    self.at += 1;
                    files.push(self.file_name()?);
                }
                ItemKind::Program(files)
            }
            Word::Station => ItemKind::Station(self.file_name()?),
            Word::Scan => ItemKind::Scan(self.duration("between scans", Least::Something)?),
            _ => ItemKind::Record(
                self.accesses("variables, devices, loads and addresses are recorded, no expressions")?,
            ),
        })
    }

    /// Accesses with commas between them.
    pub(super) fn accesses(&mut self, what: &str) -> Option<Vec<crate::tree::Expression>> {
        let words = [Word::With, Word::Shift];
        let mut list = vec![self.access(&words, what)?];
        while self.kind(self.at) == TokenKind::Comma {
            self.at += 1;
            list.push(self.access(&words, what)?);
        }
        Some(list)
    }

    /// The name of a file.
    pub(super) fn file_name(&mut self) -> Option<Text> {
        let name = self.text("the name of a file")?;
        if name.value.trim().is_empty() {
            let problem = Diagnostic::error("steps-expected-text", name.span, "this name of a file is empty");
            self.parser.report(problem.label("expected a name such as `'pump.st'`"));
            return None;
        }
        Some(name)
    }

    /// Whether an item is not there already; reports one that is.
    fn is_first(&mut self, item: &Item, seen: &mut Seen) -> bool {
        let (place, before, what) = match &item.kind {
            ItemKind::Station(name) => {
                (name.span, seen.station.replace(name.span), "a file has one `station`")
            }
            ItemKind::Scan(time) => (time.span, seen.scan.replace(time.span), "a file has one `scan`"),
            ItemKind::Prepare(_) => {
                let word = Span { end: item.span.start + Word::Prepare.text().len() as u32, ..item.span };
                (word, seen.prepare.replace(word), "a file has one `prepare`")
            }
            ItemKind::Procedure(procedure) => {
                let title = &procedure.title;
                let before = seen.titles.insert(title.value.trim().to_owned(), title.span);
                (title.span, before, "two procedures have one title")
            }
            _ => return true,
        };
        let Some(before) = before else { return true };
        let problem =
            Diagnostic::error("steps-twice", place, what).label("a second time").also(before, "the first");
        self.parser.report(problem);
        false
    }

    /// What is no item: a step outside of a procedure, a closing word, something else. Goes on behind what belongs
    /// to it.
    fn stray(&mut self, start: usize) {
        use TokenKind as T;
        let word = self.word(start);
        if word.closes() {
            let text = word.text();
            let problem = Diagnostic::error(
                "steps-unmatched-end",
                self.parser.span(start),
                format!("`{text}` closes nothing"),
            )
            .label("no block is open here");
            self.report(problem);
            self.at += 1;
            return;
        }
        if self.kind(start) == T::Unreadable {
            self.at += 1;
            return;
        }
        if self.reports_foreign_block(start) {
            return self.skip_strays(start, false);
        }
        let is_step = self.begins_step(start)
            || word == Word::Hint
            || self.kind(start) == T::Identifier
                && nearest(self.parser.text(start), &STEPS).is_some()
                && self.kind(start + 1) != T::Assign;
        let problem = if is_step {
            let text = self.parser.text(start);
            Diagnostic::error(
                "steps-outside-procedure",
                self.parser.span(start),
                format!("`{text}` stands outside of a procedure"),
            )
            .label("expected `procedure 'title'` before the steps")
            .note("what is done before every procedure stands between `prepare` and `end_prepare`")
        } else {
            let wanted = "an item such as `program` or `procedure`";
            self.problem_at(start, "steps-unexpected", wanted).note(
                "the items are `include`, `program`, `station`, `scan`, `record`, `prepare`, `procedure`",
            )
        };
        self.report(problem);
        self.skip_strays(start, is_step);
    }

    /// Goes on at the next item; behind the closing words of what has no beginning.
    fn skip_strays(&mut self, start: usize, steps: bool) {
        let from = self.at.saturating_sub(1);
        let boundary = self.boundaries.partition_point(|place| *place <= from);
        let boundary = self.boundaries.get(boundary).copied().unwrap_or(self.limit).min(self.limit);
        while self.at < boundary {
            if self.at > start && self.begins_item(self.at) {
                return;
            }
            self.at += 1;
        }
        if steps && matches!(self.word(self.at), Word::EndPrepare | Word::EndProcedure) {
            self.at += 1;
        }
    }

    /// Whether an item begins at a token, by what stands before it.
    pub(super) fn begins_item(&self, index: usize) -> bool {
        let behind = index.checked_sub(1).map_or(TokenKind::Semicolon, |before| self.kind(before));
        self.word(index).opens_item()
            && (behind == TokenKind::Semicolon || self.parser.first_on_line(index))
            && !matches!(self.kind(index + 1), TokenKind::Assign | TokenKind::Dot)
    }
}
