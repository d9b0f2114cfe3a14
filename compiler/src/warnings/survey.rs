//! What the body of a unit consists of, gathered in one walk over it for all the warnings: each of them would have to
//! walk the tree again.

use std::ops::Range;

use crate::typed::{Access, Expression, ExpressionKind, Statement, StatementKind, walk};

/// The statements of a body, and what they compute, read and write.
#[derive(Default)]
pub(super) struct Survey<'s> {
    /// Every statement, outer ones first.
    all: Vec<Surveyed<'s>>,
    /// What the statements compute themselves, outer expressions first, statement by statement.
    expressions: Vec<&'s Expression>,
    reads: Vec<&'s Access>,
    writes: Vec<&'s Access>,
    references: Vec<&'s Access>,
    /// What kinds of statements there are.
    pub(super) kinds: Kinds,
}

/// Kinds of statements that many bodies do without; what is said of them need not be looked for there.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Kinds {
    /// FOR.
    pub(super) counted_loops: bool,
    /// WHILE, REPEAT.
    pub(super) other_loops: bool,
    /// CASE.
    pub(super) cases: bool,
    /// Jumps and labels.
    pub(super) jumps: bool,
    /// Calls of function block instances.
    pub(super) block_calls: bool,
}

/// A statement with its places in the lists of a [`Survey`].
#[derive(Clone, Copy)]
pub(super) struct Surveyed<'s> {
    /// The statement.
    pub(super) statement: &'s Statement,
    /// Whether it calls a user function itself, which may do more than its arguments show.
    pub(super) calls_user_function: bool,
    /// Behind the last statement inside it.
    after: u32,
    starts: Starts,
}

/// Where the lists of one statement begin; they end where those of the next one begin.
#[derive(Clone, Copy, Default)]
struct Starts {
    expressions: u32,
    reads: u32,
    writes: u32,
    references: u32,
}

/// The lists of a [`Survey`] without content, to be used again for another body.
#[derive(Default)]
pub(crate) struct SurveyLists(Survey<'static>);

impl SurveyLists {
    /// The survey of a body.
    pub(super) fn survey<'s>(self, body: &'s [Statement]) -> Survey<'s> {
        let mut survey: Survey<'s> = self.0;
        survey.list(body);
        survey
    }
}

/// The memory of a list for elements that live for another time.
fn emptied<A, B>(mut list: Vec<A>) -> Vec<B> {
    list.clear();
    // Made in place: no element is left that would have to be turned into another one.
    list.into_iter().filter_map(|_| None).collect()
}

impl<'s> Survey<'s> {
    /// The lists, without content.
    pub(super) fn into_lists(self) -> SurveyLists {
        SurveyLists(Survey {
            all: emptied(self.all),
            expressions: emptied(self.expressions),
            reads: emptied(self.reads),
            writes: emptied(self.writes),
            references: emptied(self.references),
            kinds: Kinds::default(),
        })
    }

    fn list(&mut self, list: &'s [Statement]) {
        for statement in list {
            self.statement(statement);
        }
    }

    fn statement(&mut self, statement: &'s Statement) {
        let at = self.all.len();
        let starts = self.starts();
        let mut calls_user_function = false;
        let Survey { expressions, reads, references, .. } = self;
        walk::own_reads_of_call(statement, &mut |access| reads.push(access));
        walk::own_expressions(statement, &mut |value| {
            expressions.push(value);
            calls_user_function |= matches!(value.kind, ExpressionKind::Function(_));
            if let ExpressionKind::Reference(access) = &value.kind {
                references.push(access);
            }
            walk::reads_of(value, &mut |access| reads.push(access));
        });
        let Survey { expressions, writes, .. } = self;
        walk::own_targets(statement, &mut |access| writes.push(access));
        let own = expressions.get(starts.expressions as usize..).unwrap_or_default();
        own.iter().for_each(|value| walk::writes_of(value, &mut |access| writes.push(access)));
        self.all.push(Surveyed { statement, calls_user_function, after: 0, starts });
        self.note(statement);
        walk::each_inner_list(statement, &mut |inner| self.list(inner));
        let after = self.all.len() as u32;
        if let Some(surveyed) = self.all.get_mut(at) {
            surveyed.after = after;
        }
    }

    fn note(&mut self, statement: &Statement) {
        match &statement.kind {
            StatementKind::For { .. } => self.kinds.counted_loops = true,
            StatementKind::While { .. } | StatementKind::Repeat { .. } => self.kinds.other_loops = true,
            StatementKind::Case { .. } => self.kinds.cases = true,
            StatementKind::Jump { .. } | StatementKind::Label(_) => self.kinds.jumps = true,
            StatementKind::CallBlock(_) => self.kinds.block_calls = true,
            _ => {}
        }
    }

    fn starts(&self) -> Starts {
        Starts {
            expressions: self.expressions.len() as u32,
            reads: self.reads.len() as u32,
            writes: self.writes.len() as u32,
            references: self.references.len() as u32,
        }
    }

    /// Every statement of the body, outer ones first.
    pub(super) fn statements(&self) -> &[Surveyed<'s>] {
        &self.all
    }

    /// Every expression of the body.
    pub(super) fn expressions(&self) -> &[&'s Expression] {
        &self.expressions
    }

    /// The accesses whose value the body may use: operands, in-outs, and instances of calls.
    pub(super) fn reads(&self) -> &[&'s Access] {
        &self.reads
    }

    /// The accesses the body may write, and instances it calls.
    pub(super) fn writes(&self) -> &[&'s Access] {
        &self.writes
    }

    /// The variables the body takes references to, by which others may write them.
    pub(super) fn references(&self) -> &[&'s Access] {
        &self.references
    }

    /// The statements of one list of the body with their numbers, the first of which is known; what is inside them is
    /// left out.
    pub(super) fn list_from(
        &self,
        first: usize,
        length: usize,
    ) -> impl Iterator<Item = (usize, Surveyed<'s>)> {
        let mut at = first;
        (0..length).map_while(move |_| {
            let surveyed = self.all.get(at)?;
            let number = std::mem::replace(&mut at, surveyed.after as usize);
            Some((number, *surveyed))
        })
    }

    /// The lists directly inside a statement, empty ones too, each with the number of its first statement.
    pub(super) fn inner_lists(&self, number: usize) -> Vec<(usize, &'s [Statement])> {
        let mut lists = Vec::new();
        let Some(surveyed) = self.all.get(number) else { return lists };
        let mut first = number + 1;
        walk::each_inner_list(surveyed.statement, &mut |list| {
            lists.push((first, list));
            first = self.behind(first, list.len());
        });
        lists
    }

    /// The number behind a list.
    fn behind(&self, first: usize, length: usize) -> usize {
        self.list_from(first, length).last().map_or(first, |(_, surveyed)| surveyed.after as usize)
    }

    /// A statement and all inside it.
    pub(super) fn with_inner(&self, number: usize) -> &[Surveyed<'s>] {
        self.all.get(self.numbers(number)).unwrap_or_default()
    }

    /// The reads of a statement and of all inside it.
    pub(super) fn reads_with_inner(&self, number: usize) -> &[&'s Access] {
        let numbers = self.numbers(number);
        let (from, to) = (self.start(numbers.start), self.start(numbers.end));
        self.reads.get(from.reads as usize..to.reads as usize).unwrap_or_default()
    }

    /// The reads of a statement itself.
    pub(super) fn own_reads(&self, number: usize) -> &[&'s Access] {
        let (from, to) = (self.start(number), self.start(number + 1));
        self.reads.get(from.reads as usize..to.reads as usize).unwrap_or_default()
    }

    /// The writes of a statement itself.
    pub(super) fn own_writes(&self, number: usize) -> &[&'s Access] {
        let (from, to) = (self.start(number), self.start(number + 1));
        self.writes.get(from.writes as usize..to.writes as usize).unwrap_or_default()
    }

    /// The references taken by a statement itself.
    pub(super) fn own_references(&self, number: usize) -> &[&'s Access] {
        let (from, to) = (self.start(number), self.start(number + 1));
        self.references.get(from.references as usize..to.references as usize).unwrap_or_default()
    }

    /// The expressions of a statement itself.
    pub(super) fn own_expressions(&self, number: usize) -> &[&'s Expression] {
        let (from, to) = (self.start(number), self.start(number + 1));
        self.expressions.get(from.expressions as usize..to.expressions as usize).unwrap_or_default()
    }

    fn numbers(&self, number: usize) -> Range<usize> {
        number..self.all.get(number).map_or(number, |surveyed| surveyed.after as usize)
    }

    fn start(&self, number: usize) -> Starts {
        self.all.get(number).map_or_else(|| self.starts(), |surveyed| surveyed.starts)
    }
}
