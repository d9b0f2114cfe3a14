//! Faults in calls of function blocks: inputs that are left out or exchanged, and the input that wins.

use latchwork_grammar::{
    Span,
    names::Name,
    tree::{Argument, ArgumentKind, Call, Expression, ExpressionKind},
};

use super::Seeder;
use crate::mutation::kind::MutantKind;

/// The language that a call stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Language {
    StructuredText,
    InstructionList,
}

impl Seeder<'_, '_> {
    /// A call and everything in its arguments.
    pub(super) fn call(&mut self, call: &Call, language: Language) {
        self.resets(call);
        self.counting_inputs(call);
        self.dominance(call, language);
        self.subscripts(&call.callee);
        for argument in &call.arguments {
            match &argument.kind {
                ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => self.expression(value),
                ArgumentKind::InputInstructions { instructions, .. } => self.instructions(instructions),
                ArgumentKind::Output { negated, target, .. } => {
                    self.output(target);
                    if *negated {
                        let operator =
                            Span::new(argument.span.file, argument.span.start, argument.span.start + 3);
                        if self.text(operator).eq_ignore_ascii_case("NOT") {
                            self.leave_out(MutantKind::CoilNegated, operator, argument.span);
                        }
                    }
                }
            }
        }
    }

    /// The input `R`, `R1`, `RESET`, or `LD` of a counter, left out.
    fn resets(&mut self, call: &Call) {
        let counts_down = self.block(&call.callee).is_some_and(|kind| kind.starts_with("CT"));
        for (index, argument) in call.arguments.iter().enumerate() {
            let Some(name) = input_name(argument) else { continue };
            let spelling = self.walk.names.spelling(name).to_ascii_uppercase();
            let is_reset =
                matches!(spelling.as_str(), "R" | "R1" | "RESET") || spelling == "LD" && counts_down;
            if !is_reset {
                continue;
            }
            // With the comma in front of it, or behind it if it is the first.
            let before = index.checked_sub(1).and_then(|before| call.arguments.get(before));
            let span = match (before, call.arguments.get(index + 1)) {
                (Some(before), _) => Span::new(argument.span.file, before.span.end, argument.span.end),
                (None, Some(next)) => Span::new(argument.span.file, argument.span.start, next.span.start),
                (None, None) => argument.span,
            };
            self.leave_out(MutantKind::ResetLeftOut, span, argument.span);
        }
    }

    /// What counts up and what counts down exchanged: the names `CU` and `CD`, whichever comes first.
    fn counting_inputs(&mut self, call: &Call) {
        let named = |wanted: &str| {
            call.arguments.iter().find_map(|argument| match &argument.kind {
                ArgumentKind::Input { name, .. } | ArgumentKind::InputInstructions { name, .. }
                    if self.walk.names.spelling(name.name).eq_ignore_ascii_case(wanted) =>
                {
                    Some(name.span)
                }
                _ => None,
            })
        };
        let (Some(up), Some(down)) = (named("CU"), named("CD")) else { return };
        let (first, second) = if up < down { (up, down) } else { (down, up) };
        let between = Span::new(first.file, first.end, second.start);
        if between.end - between.start > super::MOVED_BYTES_MAX as u32 {
            return;
        }
        let text = [self.text(second), self.text(between), self.text(first)].concat();
        let words = "the inputs `CU` and `CD` exchanged".to_owned();
        self.push(MutantKind::CounterSwapped, first.to(second), text, words);
    }

    /// The input that wins gives way to the other one, as in the block with the other dominance: with S1 for S1 AND NOT R,
    /// `S1 OR NOT R AND Q1` (SR) becomes `NOT R AND (S1 OR Q1)` (RS), and the other way round (IEC 61131-3:2013, table 43,
    /// from memory).
    fn dominance(&mut self, call: &Call, language: Language) {
        let (winner, other, mistaken) = match self.block(&call.callee) {
            Some("SR") => ("S1", "R", "RS"),
            Some("RS") => ("R1", "S", "SR"),
            _ => return,
        };
        let value = |wanted: &str| {
            call.arguments.iter().find_map(|argument| match &argument.kind {
                ArgumentKind::Input { name, value }
                    if self.walk.names.spelling(name.name).eq_ignore_ascii_case(wanted) =>
                {
                    Some(value.span)
                }
                _ => None,
            })
        };
        let (Some(wins), Some(loses)) = (value(winner), value(other)) else { return };
        let (wins_text, loses_text) = (self.text(wins), self.text(loses));
        let text = match language {
            Language::StructuredText => format!("({wins_text}) AND NOT ({loses_text})"),
            Language::InstructionList => format!("(\nLD {wins_text}\nANDN {loses_text}\n)"),
        };
        let words = format!("`{winner}` gives way to `{other}`, as if the block were {mistaken}");
        self.push(MutantKind::DominanceSwapped, wins, text, words);
    }

    /// The type of a block that is called by its name.
    pub(super) fn block(&self, callee: &Expression) -> Option<&str> {
        match callee.kind {
            ExpressionKind::Name(name) => self.scope.kind_of(name),
            _ => None,
        }
    }
}

fn input_name(argument: &Argument) -> Option<Name> {
    match &argument.kind {
        ArgumentKind::Input { name, .. } | ArgumentKind::InputInstructions { name, .. } => Some(name.name),
        ArgumentKind::Positional(_) | ArgumentKind::Output { .. } => None,
    }
}
