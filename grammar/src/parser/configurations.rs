//! Configurations and resources (6.8, tables 62 and 63): their sections, tasks and program instances are cut
//! apart here. What the names stand for is not looked at.

use super::{
    Parser, Said,
    contents::closing,
    cut::{self, Cut},
    declarations::Section,
    wording::{quote, with_article},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::{Token, TokenKind},
    piece::{Piece, PieceKind},
    source::Span,
    tree::{
        AccessSection, Configuration, Expression, Ident, InstanceSection, ProgramInstance, Resource,
        TaskDeclaration, VariableSection,
    },
};

/// Tells program instances, `PROGRAM name WITH task : type`, from programs: inside a configuration the keyword
/// becomes a token of its own.
pub(super) fn mark(tokens: &mut [Token]) {
    use TokenKind as T;
    if !tokens.iter().any(|token| token.kind == T::Configuration) {
        return;
    }
    let mut inside = false;
    for index in 0..tokens.len() {
        let kind = |offset: usize| tokens.get(index + offset).map_or(T::EndOfFile, |token| token.kind);
        match kind(0) {
            T::Configuration if cut::opens_unit(tokens, index) => inside = true,
            T::EndConfiguration => inside = false,
            T::Program if inside => {
                let name = if matches!(kind(1), T::Retain | T::NonRetain) { 2 } else { 1 };
                let follows = kind(name + 1);
                let is_instance = name == 2
                    || matches!(follows, T::With | T::Colon | T::Semicolon | T::ParenthesisOpen)
                    || follows == T::Identifier && kind(name + 2) == T::Colon;
                if is_instance && let Some(token) = tokens.get_mut(index) {
                    token.kind = T::ProgramInstance;
                }
            }
            _ => {}
        }
    }
}

/// What a configuration or resource holds.
#[derive(Default)]
struct Items {
    globals: Vec<VariableSection>,
    resources: Vec<Resource>,
    /// Tasks and programs outside of a resource belong to a single one without a name.
    tasks: Vec<TaskDeclaration>,
    programs: Vec<ProgramInstance>,
    access: Vec<AccessSection>,
    instances: Vec<InstanceSection>,
    /// The last part that was read, in the order in which they have to stand.
    order: Option<(u8, Span)>,
    /// First task or program.
    first_item: Option<Span>,
}

impl Parser<'_> {
    /// `CONFIGURATION … END_CONFIGURATION`, and where to go on.
    pub(super) fn configuration(&mut self, start: usize, limit: usize) -> (Option<Configuration>, usize) {
        self.damaged = false;
        let (end, next) = self.unit_end(start, limit);
        let (heading, index) = self.heading(start, end);
        let mut items = Items::default();
        self.items(start, index, end, &mut items);
        let span = self.span_of(start, next);
        if let Some(place) = items.first_item {
            let last = items.tasks.iter().map(|task| task.span);
            let last = last.chain(items.programs.iter().map(|program| program.span)).fold(place, Span::to);
            let single = Resource {
                heading: None,
                globals: Vec::new(),
                tasks: items.tasks,
                programs: items.programs,
                span: last,
            };
            items.resources.push(single);
        }
        let configuration = heading.name.map(|name| Configuration {
            name,
            globals: items.globals,
            resources: items.resources,
            access: items.access,
            instances: items.instances,
            damaged: self.damaged,
            span,
        });
        (configuration, next)
    }

    /// The content of a configuration or resource.
    fn items(&mut self, outer: usize, start: usize, end: usize, items: &mut Items) {
        use TokenKind as T;
        let mut index = start;
        while index < end {
            let kind = self.kind(index);
            index = match kind {
                kind if cut::opens_section(kind) && !self.used_as_name(index) => {
                    self.section_of_items(outer, index, end, items)
                }
                T::Resource if cut::opens_item(self.tokens, index) => self.resource(index, end, items),
                T::Task if cut::opens_item(self.tokens, index) => self.task(outer, index, end, items),
                T::ProgramInstance => self.program_instance(outer, index, end, items),
                T::Semicolon if matches!(self.kind(index - 1), T::EndVar | T::EndResource) => {
                    self.semicolon_after_end(index).min(end)
                }
                _ if cut::opens_unit(self.tokens, index) => self.unit_among_items(outer, index, end),
                kind if self.is_closing(kind) || cut::closes_unit(kind) => {
                    self.stray_closing_word(index).min(end)
                }
                _ => self.outside_items(outer, index, end),
            };
        }
    }

    /// Where something in a configuration ends at the latest: where something else begins.
    fn item_limit(&self, start: usize, end: usize) -> usize {
        let begins = |index: &usize| {
            cut::is_boundary(self.tokens, *index)
                || cut::opens_section(self.kind(*index)) && !self.used_as_name(*index)
        };
        (start + 1..end).find(begins).unwrap_or(end)
    }

    fn outside_items(&mut self, outer: usize, index: usize, end: usize) -> usize {
        self.damaged = true;
        if self.said.insert(Said::OutsideBody) {
            let word = self.text(outer).to_ascii_uppercase();
            let expected = match self.kind(outer) {
                TokenKind::Resource => "`TASK`, `PROGRAM` or `VAR_GLOBAL`",
                _ => "`RESOURCE`, `TASK`, `PROGRAM` or a variable section",
            };
            let message = format!("{} has no statements, found {}", with_article(&word), self.found(index));
            self.report(
                Diagnostic::error("statement-outside-body", self.span(index), message)
                    .label(format!("expected {expected}"))
                    .note("statements stand in the programs that it runs"),
            );
        }
        self.item_limit(index, end)
    }

    fn unit_among_items(&mut self, outer: usize, index: usize, end: usize) -> usize {
        let (wanted, _) = closing(self.kind(index));
        let close = (index + 1..end).find(|place| self.kind(*place) == wanted);
        let next = close.map_or_else(|| self.item_limit(index, end), |close| close + 1);
        self.damaged = true;
        self.report_misplaced_unit(outer, index, next);
        next
    }

    /// Notes that a part stands in its place, or reports that it stands behind one it should stand before.
    fn in_order(&mut self, rank: u8, index: usize, items: &mut Items, name: &'static str) {
        let place = self.span(index);
        match items.order {
            Some((before, other)) if before > rank => {
                let word = self.text(index).to_ascii_uppercase();
                let behind = self.text_of(other).to_ascii_uppercase();
                self.report(
                    Diagnostic::error(name, place, format!("`{word}` stands before `{behind}`"))
                        .label("in the wrong order")
                        .also(other, "expected behind it")
                        .note(
                            "the order is: `VAR_GLOBAL`, resources (or tasks, then programs), `VAR_ACCESS`, \
                             `VAR_CONFIG`",
                        ),
                );
            }
            _ => items.order = Some((rank, place)),
        }
    }

    fn section_of_items(&mut self, outer: usize, index: usize, end: usize, items: &mut Items) -> usize {
        use TokenKind as T;
        let inside_resource = self.kind(outer) == T::Resource;
        let rank = match self.kind(index) {
            T::VarGlobal => Some(0),
            T::VarAccess if !inside_resource => Some(3),
            T::VarConfig if !inside_resource => Some(4),
            _ => None,
        };
        match rank {
            Some(rank) => self.in_order(rank, index, items, "misplaced-section"),
            None => {
                let word = self.text(index).to_ascii_uppercase();
                let unit = self.text(outer).to_ascii_uppercase();
                let message = format!("{} has no `{word}` section", with_article(&unit));
                let expected = if inside_resource {
                    "only `VAR_GLOBAL` stands here"
                } else {
                    "only `VAR_GLOBAL`, `VAR_ACCESS` and `VAR_CONFIG` stand here"
                };
                self.report(
                    Diagnostic::error("misplaced-section", self.span(index), message).label(expected),
                );
                self.damaged = true;
            }
        }
        let (section, next) = self.section(index, end);
        match section {
            Section::Variables(section) if rank.is_some() => items.globals.push(section),
            Section::Access(section) if rank.is_some() => items.access.push(section),
            Section::Instances(section) if rank.is_some() => items.instances.push(section),
            _ => {}
        }
        next
    }

    /// `RESOURCE name ON type … END_RESOURCE`.
    fn resource(&mut self, start: usize, limit: usize, items: &mut Items) -> usize {
        use TokenKind as T;
        let mut end = start + 1;
        while end < limit && self.kind(end) != T::EndResource {
            if self.kind(end) == T::Resource && cut::opens_item(self.tokens, end) {
                break;
            }
            let is_of_configuration = matches!(self.kind(end), T::VarAccess | T::VarConfig);
            if is_of_configuration && !self.used_as_name(end) {
                break;
            }
            end += 1;
        }
        let closed = end < limit && self.kind(end) == T::EndResource;
        if !closed && !self.is_behind_unread(end) {
            let before = self.found(end);
            self.report(
                Diagnostic::error(
                    "unclosed-block",
                    self.span(start),
                    "this `RESOURCE` is never closed by `END_RESOURCE`",
                )
                .label("no `END_RESOURCE` belongs to this")
                .also(self.behind_previous(end), format!("expected `END_RESOURCE` before {before}")),
            );
        }
        let next = if closed { end + 1 } else { end };
        if items.first_item.is_some() {
            self.report_mixed(start);
        } else {
            self.in_order(1, start, items, "misplaced-unit");
        }
        let item_limit = self.item_limit(start, end);
        let mut index = start + 1;
        while index < item_limit
            && (!self.first_on_line(index) || matches!(self.kind(index - 1), T::Resource | T::On))
        {
            index += 1;
        }
        let piece = self.piece(PieceKind::Resource, start, Cut { end: index, terminated: true }).0;
        let mut own = Items::default();
        self.items(start, index, end, &mut own);
        match piece.map(|piece| *piece) {
            Some(Piece::Resource { name, on }) => {
                items.resources.push(Resource {
                    heading: Some((name, on)),
                    globals: own.globals,
                    tasks: own.tasks,
                    programs: own.programs,
                    span: self.span_of(start, next),
                });
            }
            _ => self.damaged = true,
        }
        next
    }

    /// A configuration has either resources, or the tasks and programs of a single one.
    fn report_mixed(&mut self, index: usize) {
        self.damaged = true;
        if self.said.insert(Said::MixedResources) {
            let word = self.text(index).to_ascii_uppercase();
            self.report(
                Diagnostic::error(
                    "misplaced-unit",
                    self.span(index),
                    format!("`{word}` stands beside a resource, not in one"),
                )
                .label("does not belong to a resource")
                .note(
                    "a configuration has either resources, with tasks and programs between `RESOURCE` and \
                     `END_RESOURCE`, or the tasks and programs of a single resource",
                ),
            );
        }
    }

    /// Notes a task or program; tells whether it has a resource to stand in.
    fn enter_item(&mut self, outer: usize, rank: u8, index: usize, items: &mut Items) -> bool {
        if !items.resources.is_empty() {
            self.report_mixed(index);
            return false;
        }
        self.in_order(rank, index, items, "misplaced-unit");
        if self.kind(outer) == TokenKind::Configuration {
            let place = self.span(index);
            items.first_item.get_or_insert(place);
        }
        true
    }

    /// The end of a task or program instance: behind its semicolon.
    fn cut_item(&self, start: usize, limit: usize) -> Cut {
        match (start..limit).find(|index| self.kind(*index) == TokenKind::Semicolon) {
            Some(semicolon) => Cut { end: semicolon + 1, terminated: true },
            None => Cut { end: limit, terminated: false },
        }
    }

    /// `TASK name (…);`
    fn task(&mut self, outer: usize, start: usize, end: usize, items: &mut Items) -> usize {
        let fits = self.enter_item(outer, 1, start, items);
        let cut = self.cut_item(start, self.item_limit(start, end));
        let (piece, next) = self.piece(PieceKind::Task, start, cut);
        if let Some(Piece::Task { name, items: list }) = piece.map(|piece| *piece) {
            let last = if self.kind(next - 1) == TokenKind::Semicolon { next - 1 } else { next };
            let span = self.span_of(start, last);
            let task = self.task_of(name, list, span);
            if fits {
                items.tasks.push(task);
            }
        }
        next.max(start + 1)
    }

    fn task_of(&mut self, name: Ident, list: Vec<(Ident, Expression)>, span: Span) -> TaskDeclaration {
        let mut task = TaskDeclaration { name, single: None, interval: None, priority: None, span };
        for (word, value) in list {
            let text = self.text_of(word.span).to_ascii_uppercase();
            let place = match text.as_str() {
                "SINGLE" => &mut task.single,
                "INTERVAL" => &mut task.interval,
                "PRIORITY" => &mut task.priority,
                _ => {
                    self.damaged = true;
                    self.report(
                        Diagnostic::error(
                            "unexpected-token",
                            word.span,
                            format!("a task has no {}", quote(self.text_of(word.span))),
                        )
                        .label("expected `SINGLE`, `INTERVAL` or `PRIORITY`"),
                    );
                    continue;
                }
            };
            if place.is_some() {
                self.report(
                    Diagnostic::error("unexpected-token", word.span, format!("a task has one `{text}`"))
                        .label("a second one"),
                );
            }
            *place = Some(value);
        }
        task
    }

    /// `PROGRAM name WITH task : type (…);`
    fn program_instance(&mut self, outer: usize, start: usize, end: usize, items: &mut Items) -> usize {
        let fits = self.enter_item(outer, 2, start, items);
        let cut = self.cut_item(start, self.item_limit(start, end));
        let (piece, next) = self.piece(PieceKind::Instance, start, cut);
        if let Some(Piece::Instance(instance)) = piece.map(|piece| *piece)
            && fits
        {
            items.programs.push(instance);
        }
        next.max(start + 1)
    }
}
