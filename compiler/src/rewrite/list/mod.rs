//! Structured Text into Instruction List.
//!
//! The form is that of a teacher's answer: the left operand is loaded and the others are combined with it, what must be
//! computed first stands in parentheses, one-sided branches set and reset, return, or skip with a jump. Labels are called
//! after the words of Structured Text that stand at their places.
//!
//! Both languages evaluate both operands of AND and OR, the left one first, and a target after its value, so that the
//! order of evaluation stays.

mod branch;
mod call;
mod choice;
mod counted;
mod expression;
mod lines;
mod loops;

use latchwork_grammar::{
    Span,
    tree::{ExpressionKind, Statement, StatementKind},
};

use self::{
    expression::negated,
    lines::{Code, LabelId, Labels, Line},
};
use super::{
    comments::{self, Comment},
    facts::{Facts, FreshNames, NewVariable},
    names::Scope,
    refusal::Refusal,
};

/// The labels of a loop that is being written.
#[derive(Clone, Copy)]
struct Loop {
    /// Where EXIT leads.
    end: LabelId,
    /// Where CONTINUE leads.
    next: LabelId,
}

/// Writes one body.
pub(super) struct Writer<'a> {
    facts: &'a Facts<'a>,
    scope: &'a Scope<'a>,
    comments: &'a [Comment],
    fresh: &'a mut FreshNames<'a>,
    variables: Vec<NewVariable>,
    lines: Vec<Line>,
    labels: Labels,
    /// Labels for the next line.
    pending: Vec<LabelId>,
    /// Columns behind those of the labels.
    indent: usize,
    /// Open parentheses.
    nesting: usize,
    /// The type for the next literal.
    prefix: Option<&'static str>,
    /// An empty line stands before the next line.
    blank: bool,
    loops: Vec<Loop>,
    /// Statements around the one being written.
    depth: usize,
    /// The first line of the outermost of them, once there is one.
    first: Option<usize>,
}

/// A body in Instruction List, and the variables it needs.
pub(super) fn write<'a>(
    statements: &[Statement],
    facts: &'a Facts<'a>,
    scope: &'a Scope<'a>,
    comments: &'a [Comment],
    fresh: &'a mut FreshNames<'a>,
) -> Result<(String, Vec<NewVariable>), Refusal> {
    let mut writer = Writer {
        facts,
        scope,
        comments,
        fresh,
        variables: Vec::new(),
        lines: Vec::new(),
        labels: Labels::default(),
        pending: Vec::new(),
        indent: 0,
        nesting: 0,
        prefix: None,
        blank: false,
        loops: Vec::new(),
        depth: 0,
        first: None,
    };
    writer.statements(statements)?;
    if !writer.pending.is_empty() {
        let end = writer.lines.last().map_or(0, |line| line.to);
        writer.push(Code::Nothing, end, end);
    }
    let fresh = &*writer.fresh;
    let text = match statements.first() {
        Some(first) => &facts.sources.file(first.span.file).text,
        None => "",
    };
    let text = lines::layout(&writer.lines, &writer.labels, comments, text, &|name| fresh.is_free(name));
    Ok((text, writer.variables))
}

impl Writer<'_> {
    fn push(&mut self, code: Code, from: u32, to: u32) {
        self.drop_needless_jump();
        let labels = std::mem::take(&mut self.pending);
        let blank = std::mem::take(&mut self.blank);
        // Of several labels at one place the outermost, which came last, stands for all.
        if let Some((last, others)) = labels.split_last() {
            others.iter().for_each(|label| self.labels.join(*label, *last));
        }
        self.first.get_or_insert(self.lines.len());
        self.lines.push(Line { labels, code, indent: self.indent, from, to, blank });
    }

    /// A jump to the very next line says nothing, and one over another jump is that jump the other way round.
    fn drop_needless_jump(&mut self) {
        if let [
            ..,
            Line { code: Code::Jump { operator: over, label: skipped }, .. },
            Line { code: Code::Jump { operator: "JMP", label }, labels, .. },
        ] = self.lines.as_slice()
            && labels.is_empty()
            && self.pending.iter().any(|pending| self.labels.is_same(*pending, *skipped))
        {
            let opposite = match *over {
                "JMPC" => Some("JMPCN"),
                "JMPCN" => Some("JMPC"),
                _ => None,
            };
            let target = *label;
            if let Some(opposite) = opposite {
                self.lines.pop();
                if let Some(Line { code: Code::Jump { operator, label }, .. }) = self.lines.last_mut() {
                    (*operator, *label) = (opposite, target);
                }
            }
        }
        while let Some(Line { code: Code::Jump { operator: "JMP", label }, .. }) = self.lines.last()
            && self.pending.iter().any(|pending| self.labels.is_same(*pending, *label))
            && let Some(Line { labels, blank, .. }) = self.lines.pop()
        {
            // The labels of the jump come first: those behind it are the outer ones.
            self.pending.splice(0..0, labels);
            self.blank |= blank;
        }
    }

    /// A line with an operator.
    fn instruction(&mut self, operator: &str, operand: &str, span: Span) {
        let code = Code::Instruction { operator: operator.to_owned(), operand: operand.to_owned() };
        self.push(code, span.start, span.end);
    }

    /// A line of a list of arguments.
    fn text_line(&mut self, text: &str, span: Span) {
        self.push(Code::Text(text.to_owned()), span.start, span.end);
    }

    /// A conditional jump.
    fn jump(&mut self, operator: &'static str, label: LabelId, place: u32) {
        self.push(Code::Jump { operator, label }, place, place);
    }

    /// A jump that is always taken, left out where nothing comes to it.
    fn jump_always(&mut self, label: LabelId, place: u32) {
        let unreached = self.lines.last().is_some_and(Line::leaves);
        if self.pending.is_empty() {
            if !unreached {
                self.jump("JMP", label, place);
            }
            return;
        }
        if self.pending.iter().any(|pending| self.labels.is_same(*pending, label)) {
            self.jump("JMP", label, place);
            return;
        }
        // Who jumps here may as well jump there.
        for pending in std::mem::take(&mut self.pending) {
            self.labels.join(pending, label);
        }
        if !unreached {
            self.jump("JMP", label, place);
        }
    }

    /// The next line gets a label.
    fn place(&mut self, label: LabelId) {
        self.pending.push(label);
    }

    /// The text of a place on one line, without the comments in it: those are written beside the line.
    fn plain_text(&self, span: Span) -> String {
        plain_text(self.facts.text(span), span.start, self.comments)
    }

    /// Whether an expression starts at a variable or an instance, not at a namespace.
    fn starts_at_variable(&self, expression: &latchwork_grammar::tree::Expression) -> bool {
        match &expression.kind {
            ExpressionKind::Member { base, .. }
            | ExpressionKind::Index { base, .. }
            | ExpressionKind::Dereference(base) => self.starts_at_variable(base),
            ExpressionKind::Name(name) => self.scope.is_variable(*name),
            _ => true,
        }
    }

    /// A new variable of the type of what stands at a place.
    fn variable(&mut self, base: &str, typed: Span) -> Result<String, Refusal> {
        let type_text =
            self.facts.type_at(typed).and_then(|ty| self.facts.type_text(ty)).ok_or_else(|| {
                Refusal::new(
                    typed,
                    "this value would have to be kept, and its type has no name",
                    "assign the value to a variable first",
                )
            })?;
        let name = self.fresh.give(base);
        self.variables.push(NewVariable { name: name.clone(), type_text });
        Ok(name)
    }

    fn statements(&mut self, statements: &[Statement]) -> Result<(), Refusal> {
        // Small networks stand together, larger ones apart.
        const LARGE: usize = 4;
        let mut before: Option<u32> = None;
        let mut was_large = false;
        for statement in statements {
            let before_it = self.lines.len();
            if self.depth == 0 {
                self.first = None;
            }
            let start = statement.span.start;
            let text = &self.facts.sources.file(statement.span.file).text;
            if before.is_some_and(|before| comments::blank_line_between(text, before, start)) {
                self.blank = true;
            }
            before = Some(statement.span.end);
            self.depth += 1;
            let done = self.statement(statement);
            self.depth -= 1;
            done?;
            self.blank = false;
            let is_large = self.lines.len().saturating_sub(before_it) >= LARGE;
            if self.depth == 0
                && (is_large || was_large)
                && let Some(line) = self.first.and_then(|first| self.lines.get_mut(first))
            {
                line.blank = true;
            }
            was_large = is_large;
        }
        Ok(())
    }

    fn statement(&mut self, statement: &Statement) -> Result<(), Refusal> {
        let span = statement.span;
        match &statement.kind {
            StatementKind::Empty => Ok(()),
            StatementKind::Assignment { target, attempt: false, value, .. }
                if self.pending.is_empty() && self.is_loaded(value) =>
            {
                let target = self.operand(target);
                self.instruction("ST", &target, span.after());
                Ok(())
            }
            StatementKind::Assignment { target, attempt, value, .. } => {
                let store = match negated(value).filter(|inner| !attempt && !self.is_operand(inner)) {
                    Some(inner) => {
                        self.load(inner)?;
                        "STN"
                    }
                    None => {
                        self.load(value)?;
                        if *attempt { "ST?" } else { "ST" }
                    }
                };
                self.prefix = None;
                let target = self.operand(target);
                self.instruction(store, &target, span.after());
                Ok(())
            }
            StatementKind::Call(call) => self.call_statement(call),
            // The checker has refused it.
            StatementKind::Expression(_) => Ok(()),
            StatementKind::Return => {
                self.instruction("RET", "", span);
                Ok(())
            }
            StatementKind::If { branches, otherwise } => self.branches(branches, otherwise.as_deref()),
            StatementKind::Case { selector, groups, otherwise } => {
                self.choice(selector, groups, otherwise.as_deref(), span)
            }
            StatementKind::For { variable, from, to, by, body } => {
                self.counted(variable, from, to, by.as_deref(), body, span)
            }
            StatementKind::While { condition, body } => self.while_loop(condition, body, span),
            StatementKind::Repeat { body, until } => self.repeat_loop(body, until),
            StatementKind::Exit | StatementKind::Continue => {
                // The checker has refused it outside of loops.
                let Some(around) = self.loops.last().copied() else { return Ok(()) };
                let leaves = matches!(statement.kind, StatementKind::Exit);
                self.jump_always(if leaves { around.end } else { around.next }, span.start);
                Ok(())
            }
        }
    }

    /// Whether a value is a literal that the last lines have loaded and stored elsewhere.
    fn is_loaded(&self, value: &latchwork_grammar::tree::Expression) -> bool {
        let bare = expression::bare(value);
        if !matches!(bare.kind, ExpressionKind::Literal(_)) {
            return false;
        }
        let text = self.operand(bare);
        let mut stored = false;
        for line in self.lines.iter().rev() {
            match &line.code {
                Code::Instruction { operator, .. } if operator == "ST" && line.labels.is_empty() => {
                    stored = true
                }
                Code::Instruction { operator, operand } => {
                    return stored && operator == "LD" && *operand == text;
                }
                _ => return false,
            }
        }
        false
    }

    /// A call for its effects.
    fn call_statement(&mut self, call: &latchwork_grammar::tree::Call) -> Result<(), Refusal> {
        if self.is_called_by_cal(call) {
            return self.call("CAL", call);
        }
        self.call_value(call, call.span)
    }

    /// Whether a call is one of an instance or a method.
    fn is_called_by_cal(&self, call: &latchwork_grammar::tree::Call) -> bool {
        match &call.callee.kind {
            ExpressionKind::Name(name) => {
                let known = self.scope.is_declared(*name) || self.scope.is_method(*name);
                // What is inherited is declared elsewhere.
                known
                    || self.scope.is_variable(*name)
                        && self.facts.function(*name).is_none()
                        && latchwork_stdlib::function(self.facts.text(call.callee.span)).is_none()
            }
            ExpressionKind::Member { .. } => self.starts_at_variable(&call.callee),
            _ => true,
        }
    }
}

/// A piece of text without the comments in it, on one line.
pub(super) fn plain_text(text: &str, start: u32, comments: &[Comment]) -> String {
    let mut plain = String::with_capacity(text.len());
    let end = start + text.len() as u32;
    let mut at = start;
    for comment in comments.iter().filter(|comment| comment.start >= start && comment.end <= end) {
        plain.push_str(text.get((at - start) as usize..(comment.start - start) as usize).unwrap_or(""));
        at = comment.end;
    }
    plain.push_str(text.get((at - start) as usize..).unwrap_or(""));
    if !plain.contains(['\n', '\r', '\t']) {
        return plain.trim().to_owned();
    }
    plain
        .split(['\n', '\r', '\t'])
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}
