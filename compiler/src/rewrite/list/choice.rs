//! CASE: a table of comparisons with a jump to the statements of each group.

use latchwork_grammar::{
    Span,
    tree::{CaseGroup, CaseLabel, Expression, ExpressionKind, Statement},
};

use super::{Writer, expression::bare, lines::Code};
use crate::rewrite::{names, refusal::Refusal};

impl Writer<'_> {
    /// CASE with its groups.
    pub(super) fn choice(
        &mut self,
        selector: &Expression,
        groups: &[CaseGroup],
        otherwise: Option<&[Statement]>,
        span: Span,
    ) -> Result<(), Refusal> {
        let mut calls = false;
        names::each_call(selector, &mut |_| calls = true);
        let selector_text = if self.is_operand(selector) && !calls {
            self.operand(selector)
        } else {
            self.load(selector)?;
            let name = self.variable("Choice", bare(selector).span)?;
            self.instruction("ST", &name, selector.span);
            name
        };
        let end = self.labels.make("CaseEnd");
        let place = selector.span;
        if let ([group], None) = (groups, otherwise) {
            self.matches(&selector_text, &group.labels, place)?;
            self.jump("JMPCN", end, place.end);
            self.statements(&group.statements)?;
            self.place(end);
            return Ok(());
        }
        let mut places = Vec::with_capacity(groups.len());
        for group in groups {
            let name = self.group_name(group);
            let label = self.labels.make(name);
            places.push(label);
            self.matches(&selector_text, &group.labels, place)?;
            self.jump("JMPC", label, place.end);
        }
        let other = match otherwise {
            Some(_) => self.labels.make("CaseElse"),
            None => end,
        };
        self.jump_always(other, place.end);
        for (group, label) in groups.iter().zip(places) {
            self.place(label);
            self.blank = true;
            self.statements(&group.statements)?;
            let place = group.statements.last().map_or(span.start, |statement| statement.span.end);
            self.jump_always(end, place);
        }
        if let Some(statements) = otherwise {
            self.place(other);
            self.blank = true;
            self.statements(statements)?;
        }
        self.place(end);
        self.blank = true;
        Ok(())
    }

    /// Leaves whether the selector has one of the labels as the current result.
    fn matches(&mut self, selector: &str, labels: &[CaseLabel], place: Span) -> Result<(), Refusal> {
        for (at, label) in labels.iter().enumerate() {
            if at == 0 {
                if !self.has_just_stored(selector) {
                    self.instruction("LD", selector, place);
                }
                self.compare(selector, label, place)?;
            } else {
                let name = selector.to_owned();
                self.deferred("OR", place, |writer| {
                    writer.instruction("LD", &name, place);
                    writer.compare(&name, label, place)
                })?;
            }
        }
        Ok(())
    }

    /// Whether the last line has stored the current result in a variable.
    fn has_just_stored(&self, name: &str) -> bool {
        let last = self.lines.last().map(|line| &line.code);
        self.pending.is_empty()
            && matches!(last, Some(Code::Instruction { operator, operand }) if operator == "ST" && operand == name)
    }

    /// Compares the selector, which has been loaded, with one label.
    fn compare(&mut self, selector: &str, label: &CaseLabel, place: Span) -> Result<(), Refusal> {
        let Some(last) = &label.last else { return self.combine("EQ", &label.first) };
        self.combine("GE", &label.first)?;
        let name = selector.to_owned();
        self.deferred("AND", place, |writer| {
            writer.instruction("LD", &name, place);
            writer.combine("LE", last)
        })
    }

    /// What the label of a group is called: `IsIdle`, `Is3`, `Is3To5`.
    fn group_name(&self, group: &CaseGroup) -> String {
        let Some(first) = group.labels.first() else { return "Group".to_owned() };
        let word = |value: &Expression| -> Option<String> {
            let value = bare(value);
            let text = match &value.kind {
                ExpressionKind::QualifiedValue { value, .. } => self.facts.text(value.span),
                _ => self.facts.text(value.span),
            };
            let text = text.replace('-', "Minus").replace('#', "_");
            let plain = text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
            let sound = plain && !text.starts_with('_') && !text.ends_with('_') && !text.contains("__");
            sound.then_some(text)
        };
        let name = match (&first.last, word(&first.first)) {
            (None, Some(first)) => Some(format!("Is{first}")),
            (Some(last), Some(first)) => word(last).map(|last| format!("Is{first}To{last}")),
            _ => None,
        };
        name.unwrap_or_else(|| "Group".to_owned())
    }
}
