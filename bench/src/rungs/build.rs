//! From the statements of a unit to the entries of its sheet.
//!
//! - `x := expression` of BOOL is a rung with a coil; a current result of Instruction List that is kept leads to all coils
//!   that take it.
//! - `IF` around nothing but constants for BOOL variables, or RETURN, is a rung for each branch, with coils that set and
//!   reset: each branch is enabled by its condition and the opposites of those above it.
//! - Jumps are rungs, calls of function blocks are blocks.
//! - Everything else is text; what stands inside of it is drawn below it.

use latchwork_compiler::logic::{Chart, LogicKind, LogicStatement, LogicUnit, Part, PartKind};
use latchwork_grammar::{Sources, Span, tree::UnitKind};

use super::{
    model::{Body, Entry, Network, Output, OutputForm, Rung, Sheet, TextBody},
    network::{Known, join, stored},
    reads::{any, collect_written, takes_result},
    text::{piece, whole},
};

/// Most branches of an IF that is drawn with coils.
const BRANCHES_MAX: usize = 4;

/// The sheet of a unit.
#[must_use]
pub fn sheet(unit: &LogicUnit, sources: &Sources) -> Sheet {
    let mut builder = Builder {
        sources,
        chart: unit.chart.as_ref(),
        known: Known::default(),
        depth: 0,
        entries: Vec::new(),
    };
    builder.list(&unit.statements);
    let kind = match unit.kind {
        UnitKind::Program => "PROGRAM",
        UnitKind::FunctionBlock => "FUNCTION_BLOCK",
        UnitKind::Function => "FUNCTION",
        _ => "METHOD",
    };
    Sheet { unit: unit.name.clone(), kind, entries: builder.entries }
}

pub(super) struct Builder<'l> {
    pub(super) sources: &'l Sources,
    chart: Option<&'l Chart>,
    pub(super) known: Known<'l>,
    depth: u32,
    entries: Vec<Entry>,
}

impl<'l> Builder<'l> {
    /// Statements nest as deep as the grammar allows.
    fn list(&mut self, list: &'l [LogicStatement]) {
        let mut rest = list;
        while let Some((first, behind)) = rest.split_first() {
            let taken = if first.written || matches!(first.kind, LogicKind::Transition(_)) {
                self.statement(first, behind)
            } else {
                // What moves a chart on is no text of the user; what it leads to may be.
                first.inner().into_iter().for_each(|inner| self.list(inner));
                0
            };
            rest = behind.get(taken..).unwrap_or_default();
        }
    }

    /// A statement; tells how many of those behind it stand in the same entry.
    fn statement(&mut self, statement: &'l LogicStatement, behind: &'l [LogicStatement]) -> usize {
        match &statement.kind {
            LogicKind::Assign { target, value } if target.is_hidden() && target.span != value.span => {
                self.carried(statement, value);
            }
            LogicKind::Assign { target, value } if target.is_hidden() => {
                self.known.keep(target, value);
                return self.kept(statement, target, value, behind);
            }
            LogicKind::Assign { target, value } if target.value.is_bool() && value.value.is_bool() => {
                let network = self.known.network(value, false);
                let output = self.coil(OutputForm::Coil, target, statement);
                self.rung(&[statement], network, vec![output]);
                self.stored(target, value);
            }
            LogicKind::Assign { target, .. } => {
                self.text(statement);
                self.known.write(&target.text);
            }
            LogicKind::Transition(condition) => {
                let network = self.known.network(condition, false);
                let output = self.transition(statement);
                self.rung(&[statement], network, vec![output]);
            }
            LogicKind::Call(call) => {
                let (body, taken) = self.call(statement, call, behind);
                let all: Vec<&LogicStatement> =
                    std::iter::once(statement).chain(behind.iter().take(taken)).collect();
                self.push(&all, body);
                return taken;
            }
            LogicKind::Jump { condition, .. } => {
                let network = match condition {
                    Some((condition, wanted)) => self.known.network(condition, !*wanted),
                    None => Some(Network::line()),
                };
                let output = self.jump(statement);
                self.rung(&[statement], network, vec![output]);
            }
            LogicKind::Return => {
                let output = plain(OutputForm::Return, statement);
                self.rung(&[statement], Some(Network::line()), vec![output]);
            }
            LogicKind::If { branches, otherwise } => {
                if !self.branches(statement, branches, otherwise) {
                    self.nested(statement);
                }
            }
            LogicKind::Label(_) => {
                self.known = Known::default();
                let (text, _) = whole(&[statement], &self.known);
                self.push(&[statement], Body::Text(TextBody { behind: ":".to_owned(), label: true, ..text }));
            }
            LogicKind::Evaluate(_) | LogicKind::Exit | LogicKind::Continue => self.text(statement),
            LogicKind::Case { .. }
            | LogicKind::For { .. }
            | LogicKind::While { .. }
            | LogicKind::Repeat { .. } => {
                self.nested(statement);
            }
        }
        0
    }

    /// A current result that is kept, with the statements that take nothing else.
    fn kept(
        &mut self,
        statement: &'l LogicStatement,
        result: &'l Part,
        value: &'l Part,
        behind: &'l [LogicStatement],
    ) -> usize {
        if !result.value.is_bool() {
            return match behind.first() {
                Some(next) if takes_result(next, result) => {
                    let (text, _) = whole(&[statement, next], &self.known);
                    self.push(&[statement, next], Body::Text(text));
                    if let LogicKind::Assign { target: stored, value } = &next.kind {
                        self.stored(stored, value);
                    }
                    1
                }
                _ => self.unread(statement, result, behind),
            };
        }
        let network = self.known.network(value, false);
        let mut outputs = Vec::new();
        let mut taken = 0;
        for next in behind.iter().take_while(|next| next.written) {
            let Some(found) = self.takers(next, result) else { break };
            outputs.extend(found);
            taken += 1;
        }
        if taken > 0 {
            let all: Vec<&LogicStatement> =
                std::iter::once(statement).chain(behind.iter().take(taken)).collect();
            self.rung(&all, network, outputs);
            return taken;
        }
        self.unread(statement, result, behind)
    }

    /// A result that is carried to a label, where several meet.
    fn carried(&mut self, statement: &'l LogicStatement, value: &Part) {
        self.text(statement);
        if let Some(entry) = self.entries.last_mut() {
            entry.span = value.reach();
            if let Body::Text(text) = &mut entry.body {
                text.source = Some(value.reach());
            }
        }
    }

    /// A result that no statement of this list reads is shown by itself; others are drawn where they are read.
    fn unread(
        &mut self,
        statement: &'l LogicStatement,
        result: &Part,
        behind: &'l [LogicStatement],
    ) -> usize {
        let reads = |part: &&Part| part.is_hidden() && part.span == result.span;
        let read = behind.iter().any(|next| next.kind.parts().into_iter().any(|part| any(part, &reads)));
        if !read {
            self.text(statement);
        }
        0
    }

    /// What a statement does with a result that is kept, if it does nothing else.
    pub(super) fn takers(&mut self, statement: &'l LogicStatement, result: &Part) -> Option<Vec<Output>> {
        let is_result = |part: &Part| part.is_hidden() && part.span == result.span;
        match &statement.kind {
            LogicKind::Assign { target, value } if !target.is_hidden() && target.value.is_bool() => {
                let form = if is_result(value) {
                    OutputForm::Coil
                } else {
                    match &value.kind {
                        PartKind::Operation { name: "NOT", operands } if operands.iter().all(is_result) => {
                            OutputForm::Negated
                        }
                        _ => return None,
                    }
                };
                let coil = self.coil(form, target, statement);
                self.stored(target, value);
                Some(vec![coil])
            }
            LogicKind::If { branches, otherwise } if otherwise.is_empty() => match branches.as_slice() {
                [(condition, body)] if is_result(condition) => {
                    self.effects(body).filter(|body| !body.is_empty())
                }
                _ => None,
            },
            LogicKind::Jump { condition: Some((condition, true)), .. } if is_result(condition) => {
                Some(vec![self.jump(statement)])
            }
            _ => None,
        }
    }

    /// A BOOL variable has got a value; it may be one that is kept.
    pub(super) fn stored(&mut self, target: &Part, value: &Part) {
        self.known.write(&target.text);
        self.known.store(value, &target.text);
    }

    /// Coils for statements that write constants to BOOL variables, or return.
    fn effects(&mut self, body: &'l [LogicStatement]) -> Option<Vec<Output>> {
        let mut outputs = Vec::new();
        for statement in body {
            match &statement.kind {
                LogicKind::Assign { target, value }
                    if target.value.is_bool() && matches!(value.kind, PartKind::Constant) =>
                {
                    let form = if stored(value)? { OutputForm::Set } else { OutputForm::Reset };
                    outputs.push(self.coil(form, target, statement));
                }
                LogicKind::Return => outputs.push(plain(OutputForm::Return, statement)),
                _ => return None,
            }
        }
        Some(outputs)
    }

    /// An IF as rungs, a branch each; `false` if it is not of that kind.
    fn branches(
        &mut self,
        statement: &'l LogicStatement,
        branches: &'l [(Part, Vec<LogicStatement>)],
        otherwise: &'l [LogicStatement],
    ) -> bool {
        if branches.len() > BRANCHES_MAX {
            return false;
        }
        let mut above: Vec<&Part> = Vec::new();
        let mut rungs = Vec::new();
        let bodies = branches.iter().map(|(condition, body)| (Some(condition), body.as_slice()));
        for (condition, body) in bodies.chain([(None, otherwise)]) {
            let Some(outputs) = self.effects(body) else { return false };
            let opposites = above.iter().map(|part| self.known.network(part, true));
            let own = condition.map(|part| self.known.network(part, false));
            let Some(networks) = opposites.chain(own).collect::<Option<Vec<_>>>() else { return false };
            let network = join(networks, true);
            above.extend(condition);
            if !outputs.is_empty() {
                let all: Vec<&LogicStatement> = std::iter::once(statement).chain(body).collect();
                rungs.push((all, network, outputs));
            }
        }
        if rungs.is_empty() {
            return false;
        }
        for (all, network, outputs) in rungs {
            outputs.iter().for_each(|output| self.known.write(&output.name));
            self.rung(&all, Some(network), outputs);
        }
        true
    }

    /// A statement that others stand inside of.
    fn nested(&mut self, statement: &'l LogicStatement) {
        let inner = statement.inner();
        let before = self.known.clone();
        for (list, head) in inner.into_iter().zip(piece(statement, self.sources, &self.known)) {
            if let Some(head) = head {
                self.push(&[statement], Body::Text(head));
            }
            self.depth += 1;
            self.list(list);
            self.depth -= 1;
            self.known = before.clone();
        }
        if let Some(end) = super::text::end(statement, self.sources, &self.known) {
            self.push(&[statement], Body::Text(end));
        }
        let mut written = Vec::new();
        collect_written(statement, &mut written);
        written.iter().for_each(|name| self.known.write(name));
    }

    pub(super) fn text(&mut self, statement: &'l LogicStatement) {
        let (text, _) = whole(&[statement], &self.known);
        self.push(&[statement], Body::Text(text));
    }

    fn rung(&mut self, statements: &[&LogicStatement], network: Option<Network>, outputs: Vec<Output>) {
        let Some(network) = network else {
            let (mut text, _) = whole(statements, &self.known);
            text.reason = Some(format!("more than {} elements: not drawn", super::ELEMENTS_MAX));
            return self.push(statements, Body::Text(text));
        };
        self.push(statements, Body::Rung(Rung { network, ends: outputs }));
    }

    fn push(&mut self, statements: &[&LogicStatement], body: Body) {
        let spans = statements.iter().map(|statement| statement.span);
        let Some(span) = spans.reduce(|all, span| if all.file == span.file { all.to(span) } else { all })
        else {
            return;
        };
        let (span, body) = self.behind_last(span, body);
        let numbers = statements.iter().map(|statement| statement.number).collect();
        let heading = self.heading(statements.first().map_or(0, |first| first.number), span);
        self.entries.push(Entry { statements: numbers, span, depth: self.depth, heading, body });
    }

    /// A statement that goes on with a result shows the instructions since then only.
    fn behind_last(&self, span: Span, body: Body) -> (Span, Body) {
        let Some(last) = self.entries.last().map(|last| last.span).filter(|last| last.file == span.file)
        else {
            return (span, body);
        };
        let goes_on = |span: Span| {
            let inside = last.start <= span.start && span.start < last.end && last.end < span.end;
            if inside { Span { start: last.end, ..span } } else { span }
        };
        match body {
            Body::Text(text) => {
                (goes_on(span), Body::Text(TextBody { source: text.source.map(goes_on), ..text }))
            }
            body => (goes_on(span), body),
        }
    }

    /// What of a chart a statement belongs to.
    fn heading(&self, number: u32, span: Span) -> Option<String> {
        let chart = self.chart?;
        let within =
            |outer: Span| outer.file == span.file && outer.start <= span.start && span.end <= outer.end;
        let transition = chart.transitions.iter().find(|transition| transition.condition == Some(number));
        if let Some(transition) = transition {
            let name = transition.name.as_ref().map(|name| format!(" {name}")).unwrap_or_default();
            let (from, to) = (transition.from.join(", "), transition.to.join(", "));
            return Some(format!("TRANSITION{name} from {from} to {to}"));
        }
        let action = chart.actions.iter().find(|action| within(action.span))?;
        Some(format!("ACTION {}", action.name))
    }

    pub(super) fn coil(&self, form: OutputForm, target: &Part, statement: &LogicStatement) -> Output {
        Output { form, name: target.text.clone(), part: Some(target.number), statement: statement.number }
    }

    fn jump(&self, statement: &LogicStatement) -> Output {
        let text = self.sources.text(statement.span);
        let label = text.split_whitespace().next_back().unwrap_or_default();
        let name = label.trim_matches(|character: char| !character.is_alphanumeric() && character != '_');
        Output { name: name.to_owned(), ..plain(OutputForm::Jump, statement) }
    }

    fn transition(&self, statement: &LogicStatement) -> Output {
        let transitions = self.chart.map_or(&[][..], |chart| &chart.transitions);
        let own = transitions.iter().find(|transition| transition.condition == Some(statement.number));
        let name = own.map(|own| own.to.join(", ")).unwrap_or_default();
        Output { name, ..plain(OutputForm::Transition, statement) }
    }
}

fn plain(form: OutputForm, statement: &LogicStatement) -> Output {
    Output { form, name: String::new(), part: None, statement: statement.number }
}
