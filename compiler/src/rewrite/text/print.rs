//! Statements as text, with the comments of the instructions they were made of.

use latchwork_grammar::tree::Instruction;

use super::{
    item::{Item, ItemKind},
    structure::Tree,
    value::{Argument, Value},
    wording,
};
use crate::rewrite::{
    comments::{self, Comment},
    place::Indent,
};

/// The text of a body, and for each of its lines from where to where the instructions reach that it was made of.
pub(super) fn print(
    trees: &[Tree],
    items: &[Item],
    comments: &[Comment],
    text: &str,
    instructions: &[Instruction],
    indent: Indent,
) -> (String, Vec<(u32, u32)>) {
    let mut printer = Printer {
        items,
        text,
        instructions,
        notes: notes(items, comments, instructions),
        indent,
        written: String::new(),
        last: None,
        of: instructions.first().map_or((0, 0), |first| (first.span.start, first.span.end)),
        origins: Vec::new(),
    };
    printer.list(trees, 1);
    // What belongs to nothing that is left stands at the end.
    let rest: Vec<Note<'_>> = printer.notes.iter_mut().flat_map(|notes| notes.drain(..)).collect();
    for note in rest {
        printer.comment(1, note.comment);
    }
    (printer.written, printer.origins)
}

/// A comment of an item.
struct Note<'c> {
    comment: &'c Comment,
    behind: bool,
    /// The number of the instruction of its item on whose line it stands.
    part: Option<usize>,
}

struct Printer<'a> {
    items: &'a [Item],
    text: &'a str,
    instructions: &'a [Instruction],
    /// The comments of each item that have not been written, and last those of none.
    notes: Vec<Vec<Note<'a>>>,
    indent: Indent,
    written: String,
    /// Where the text ends that was written last.
    last: Option<u32>,
    /// From where to where the instructions reach that are being written.
    of: (u32, u32),
    /// The same for each line that was written.
    origins: Vec<(u32, u32)>,
}

/// The comments of each item; behind the last item those of none.
fn notes<'c>(items: &[Item], comments: &'c [Comment], instructions: &[Instruction]) -> Vec<Vec<Note<'c>>> {
    let mut notes: Vec<Vec<Note<'c>>> = items.iter().map(|_| Vec::new()).collect();
    notes.push(Vec::new());
    for comment in comments {
        let speaks = |item: &Item| match &item.kind {
            ItemKind::Label(_) => false,
            ItemKind::Jump { decision, .. } | ItemKind::Return { decision } => decision.is_some(),
            _ => true,
        };
        let all = || items.iter().enumerate().filter(|(_, item)| speaks(item));
        // The item in whose instructions it stands, or behind which on the same line.
        let around = all().find(|(_, item)| item.from <= comment.start && comment.start < item.to);
        let before =
            all().filter(|(_, item)| item.to <= comment.start).max_by_key(|(at, item)| (item.to, *at));
        let after =
            all().filter(|(_, item)| item.from >= comment.end).min_by_key(|(at, item)| (item.from, *at));
        let found = match (around, comment.behind_code) {
            (Some(around), _) => Some(around),
            (None, true) => before.or(after),
            (None, false) => after,
        };
        let at = found.map_or(items.len(), |(at, _)| at);
        let behind = comment.behind_code && found.is_some_and(|(_, item)| item.to <= comment.start);
        if let Some(list) = notes.get_mut(at) {
            let parts = found.map_or(&[][..], |(_, item)| parts(item, instructions));
            let part = parts
                .iter()
                .rposition(|part| part.span.end <= comment.start || part.span.start <= comment.start);
            let part = part.filter(|_| comment.behind_code);
            list.push(Note { comment, behind, part });
        }
    }
    notes
}

/// The instructions an item was made of.
fn parts<'i>(item: &Item, instructions: &'i [Instruction]) -> &'i [Instruction] {
    let from = instructions.partition_point(|instruction| instruction.span.start < item.from);
    let to = instructions.partition_point(|instruction| instruction.span.end <= item.to);
    instructions.get(from..to).unwrap_or(&[])
}

impl Printer<'_> {
    fn line(&mut self, level: usize, text: &str) {
        let margin = " ".repeat(self.columns(level));
        self.written.push_str(&margin);
        self.written.push_str(text);
        self.end_line();
        self.origins.extend(text.matches('\n').map(|_| self.of));
    }

    fn end_line(&mut self) {
        self.written.push('\n');
        self.origins.push(self.of);
    }

    /// What is written from here on was made of these items.
    fn made_of(&mut self, items: &[usize]) {
        let known = items.iter().filter_map(|item| self.items.get(*item));
        let reach = known.map(|item| (item.from, item.to));
        if let Some(reach) = reach.reduce(|all, one| (all.0.min(one.0), all.1.max(one.1))) {
            self.of = reach;
        }
    }

    fn comment(&mut self, level: usize, comment: &Comment) {
        let text = comment.text_at(self.columns(level));
        self.line(level, &text);
    }

    /// Columns before a level of blocks; the body itself is the first.
    fn columns(&self, level: usize) -> usize {
        self.indent.base + level * self.indent.step
    }

    fn list(&mut self, trees: &[Tree], level: usize) {
        for (at, tree) in trees.iter().enumerate() {
            if let (true, Some(from), Some(last)) = (at > 0, self.from(tree), self.last)
                && last <= from
                && comments::blank_line_between(self.text, last, from)
            {
                self.end_line();
            }
            self.tree(tree, level);
        }
    }

    /// Where the text of a statement begins.
    fn from(&self, tree: &Tree) -> Option<u32> {
        let item = match tree {
            Tree::Item(item) => Some(*item),
            Tree::If { deciders, .. } | Tree::While { deciders, .. } => deciders.first().copied(),
            Tree::For { items, .. } => items.first().copied(),
            Tree::Case { groups, .. } => groups.first().and_then(|(_, items, _)| items.first().copied()),
            Tree::Repeat { body, .. } => return body.first().and_then(|first| self.from(first)),
            Tree::Exit | Tree::Continue | Tree::Return => None,
        };
        item.and_then(|item| self.items.get(item)).map(|item| item.from)
    }

    /// Writes the comments of items that stand above, and gives those that stand behind.
    fn above(&mut self, items: &[usize], level: usize) -> Vec<String> {
        let mut behind: Vec<String> = Vec::new();
        let mut above: Vec<&Comment> = Vec::new();
        self.made_of(items);
        for item in items {
            if let Some(known) = self.items.get(*item) {
                self.last = Some(self.last.unwrap_or(0).max(known.to));
            }
            for note in self.notes.get_mut(*item).map(std::mem::take).unwrap_or_default() {
                // Behind code there is room for one that does not go over several lines.
                if note.behind && behind.is_empty() && !note.comment.text.contains('\n') {
                    behind.push(note.comment.text.clone());
                } else {
                    above.push(note.comment);
                }
            }
        }
        above.into_iter().for_each(|comment| self.comment(level, comment));
        behind
    }

    /// Writes code with the comments behind it.
    fn code(&mut self, level: usize, code: &str, behind: Vec<String>) {
        let mut text = wording::wrapped(code, self.columns(level), self.indent.step);
        for comment in behind {
            text.push_str("  ");
            text.push_str(&comment);
        }
        self.line(level, &text);
    }

    fn tree(&mut self, tree: &Tree, level: usize) {
        match tree {
            Tree::Item(item) if self.spread(*item, level) => {}
            Tree::Item(item) => {
                let behind = self.above(&[*item], level);
                if let Some(kind) = self.items.get(*item).map(|item| item.kind.clone()) {
                    self.item(&kind, level, behind);
                }
            }
            Tree::If { condition, deciders, then, otherwise } => {
                self.branches("IF", condition, deciders, then, otherwise, level);
                self.line(level, "END_IF;");
            }
            Tree::While { condition, deciders, body } => {
                let behind = self.above(deciders, level);
                self.code(level, &format!("WHILE {} DO", wording::text(condition)), behind);
                self.list(body, level + 1);
                self.line(level, "END_WHILE;");
            }
            Tree::Repeat { body, until, deciders } => {
                self.line(level, "REPEAT");
                self.list(body, level + 1);
                let behind = self.above(deciders, level);
                self.code(level, &format!("UNTIL {} END_REPEAT;", wording::text(until)), behind);
            }
            Tree::For { head, items, body } => {
                let behind = self.above(items, level);
                self.code(level, head, behind);
                self.list(body, level + 1);
                self.line(level, "END_FOR;");
            }
            Tree::Case { selector, groups, otherwise } => {
                for (at, (labels, items, body)) in groups.iter().enumerate() {
                    let labels = if body.is_empty() { format!("{labels}: ;") } else { format!("{labels}:") };
                    if at == 0 {
                        let behind = self.above(items, level);
                        self.code(level, &format!("CASE {selector} OF"), behind);
                        self.line(level + 1, &labels);
                    } else {
                        let behind = self.above(items, level + 1);
                        self.code(level + 1, &labels, behind);
                    }
                    self.list(body, level + 2);
                }
                if !otherwise.is_empty() {
                    self.line(level, "ELSE");
                    self.list(otherwise, level + 1);
                }
                self.line(level, "END_CASE;");
            }
            Tree::Exit => self.line(level, "EXIT;"),
            Tree::Continue => self.line(level, "CONTINUE;"),
            Tree::Return => self.line(level, "RETURN;"),
        }
    }

    /// Writes an assignment with a line for each operand, where comments stand beside them; whether that was possible.
    fn spread(&mut self, item: usize, level: usize) -> bool {
        let Some(Item { kind: ItemKind::Assign { target, value, attempt: false, .. }, .. }) =
            self.items.get(item)
        else {
            return false;
        };
        let operands = wording::operands(value);
        let Some(notes) = self.notes.get(item) else { return false };
        // Each operand is an instruction, and the store is the last.
        let own = self.items.get(item).map_or(0, |item| parts(item, self.instructions).len());
        let inside = notes.iter().filter(|note| note.part.is_some_and(|part| part + 1 < own)).count();
        if inside < 2
            || operands < 2
            || own != operands + 1
            || notes.iter().any(|note| note.comment.text.contains('\n'))
        {
            return false;
        }
        self.made_of(&[item]);
        let mut beside: Vec<Vec<String>> = vec![Vec::new(); operands];
        let notes = self.notes.get_mut(item).map(std::mem::take).unwrap_or_default();
        for note in notes {
            match note.part.and_then(|part| beside.get_mut(part)) {
                Some(list) => list.push(note.comment.text.clone()),
                None => self.comment(level, note.comment),
            }
        }
        let margin = " ".repeat(self.columns(level) + 2 * self.indent.step);
        let text = format!("{target} := {}", wording::spread(value, &beside, &margin));
        self.line(level, &text);
        if let Some(known) = self.items.get(item) {
            self.last = Some(self.last.unwrap_or(0).max(known.to));
        }
        true
    }

    fn branches(
        &mut self,
        keyword: &str,
        condition: &Value,
        deciders: &[usize],
        then: &[Tree],
        otherwise: &[Tree],
        level: usize,
    ) {
        let behind = self.above(deciders, level);
        self.code(level, &format!("{keyword} {} THEN", wording::text(condition)), behind);
        self.list(then, level + 1);
        match otherwise {
            [] => {}
            [Tree::If { condition, deciders, then, otherwise }] => {
                self.branches("ELSIF", condition, deciders, then, otherwise, level);
            }
            otherwise => {
                self.line(level, "ELSE");
                self.list(otherwise, level + 1);
            }
        }
    }

    fn item(&mut self, kind: &ItemKind, level: usize, behind: Vec<String>) {
        match kind {
            ItemKind::Assign { target, value, attempt, .. } => {
                let operator = if *attempt { "?=" } else { ":=" };
                self.code(level, &format!("{target} {operator} {};", wording::text(value)), behind);
            }
            ItemKind::Set { condition, targets } => {
                self.code(level, &format!("IF {} THEN", wording::text(condition)), behind);
                for (target, to) in targets {
                    self.line(level + 1, &format!("{target} := {};", if *to { "TRUE" } else { "FALSE" }));
                }
                self.line(level, "END_IF;");
            }
            ItemKind::Call { callee, arguments, decision } => {
                let inner = match decision {
                    Some((condition, wanted)) => {
                        let condition =
                            if *wanted { condition.clone() } else { condition.clone().opposite() };
                        self.code(level, &format!("IF {} THEN", wording::text(&condition)), behind);
                        self.call(callee, arguments, level + 1, Vec::new());
                        self.line(level, "END_IF;");
                        return;
                    }
                    None => behind,
                };
                self.call(callee, arguments, level, inner);
            }
            // They have become structure.
            ItemKind::Label(_) | ItemKind::Jump { .. } | ItemKind::Return { .. } => {}
        }
    }

    fn call(&mut self, callee: &str, arguments: &[Argument], level: usize, behind: Vec<String>) {
        self.code(level, &format!("{callee}({});", wording::arguments(arguments)), behind);
    }
}
