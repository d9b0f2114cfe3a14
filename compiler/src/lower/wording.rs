//! Conditions and decisions in words: as they are written, or in the notation of Structured Text where the
//! instructions of a row stand on lines of their own.

use latchwork_grammar::Span;

use super::unit::Lowering;
use crate::typed::{Access, Expression, ExpressionKind, Root, VariableId};

/// Most characters of a text.
const TEXT_MAX: usize = 160;

/// Deepest nesting that is put into words.
const DEPTH_MAX: u32 = 80;

impl Lowering<'_> {
    /// An expression in one line.
    pub(super) fn wording(&self, value: &Expression) -> String {
        cut(&self.words(value, false, DEPTH_MAX))
    }

    /// Whether an expression is the current result of Instruction List, kept in a hidden variable.
    pub(super) fn is_kept_result(&self, value: &Expression) -> bool {
        matches!(&value.kind, ExpressionKind::Access(access) if self.hidden_root(access).is_some())
    }

    fn hidden_root(&self, access: &Access) -> Option<VariableId> {
        let Root::Variable(id) = access.root else { return None };
        let variable = self.unit.variables.get(id.0 as usize)?;
        (variable.hidden && access.steps.is_empty()).then_some(id)
    }

    /// The same; `inner` where it is an operand, so that operators stand in parentheses.
    fn words(&self, value: &Expression, inner: bool, depth: u32) -> String {
        let Some(deeper) = depth.checked_sub(1) else { return self.line(value.span) };
        match &value.kind {
            ExpressionKind::Convert(operand) | ExpressionKind::CheckRange(operand) => {
                self.words(operand, inner, deeper)
            }
            ExpressionKind::Access(access) => {
                let observer = self.shared.observer.as_ref();
                let known = self.hidden_root(access).and_then(|id| observer?.result_in(id));
                match known {
                    Some(known) => known.text.clone(),
                    // Several ways bring it.
                    None if self.is_kept_result(value) && self.is_label(value.span) => {
                        "current result".to_owned()
                    }
                    None => self.line(value.span),
                }
            }
            ExpressionKind::Standard { function, arguments, .. } => {
                let negation = function.name == "NOT" && !self.begins_with_not(value.span);
                if !negation && self.is_in_one_piece(value, arguments.iter()) {
                    return self.line(value.span);
                }
                let operands =
                    |inner| arguments.iter().map(move |argument| self.words(argument, inner, deeper));
                match (symbol(function.name), arguments.as_slice()) {
                    (Some("NOT"), [operand]) => format!("NOT {}", self.words(operand, true, deeper)),
                    (Some(symbol), [_, _, ..]) => {
                        let row = operands(true).collect::<Vec<_>>().join(&format!(" {symbol} "));
                        if inner { format!("({row})") } else { row }
                    }
                    _ => format!("{}({})", function.name, operands(false).collect::<Vec<_>>().join(", ")),
                }
            }
            ExpressionKind::Function(call) => {
                let inputs = || call.inputs.iter().map(|(_, value)| value);
                let unit = self.context.program.units.get(call.unit.0 as usize);
                match unit {
                    Some(unit) if !self.is_in_one_piece(value, inputs()) => {
                        let operands: Vec<String> =
                            inputs().map(|input| self.words(input, false, deeper)).collect();
                        format!("{}({})", self.context.names.spelling(unit.name), operands.join(", "))
                    }
                    _ => self.line(value.span),
                }
            }
            _ => self.line(value.span),
        }
    }

    /// Whether what is written at the place of an expression shows all of its operands, as in Structured Text. An
    /// instruction stands behind its first operand.
    fn is_in_one_piece<'e>(
        &self,
        value: &Expression,
        mut operands: impl Iterator<Item = &'e Expression>,
    ) -> bool {
        operands.all(|operand| {
            let (outer, inner) = (value.span, operand.span);
            let inside = outer.file == inner.file && outer.start <= inner.start && inner.end <= outer.end;
            inside && outer != inner && !(self.is_kept_result(operand) && self.is_label(inner))
        })
    }

    /// Whether the label of an instruction stands at a place.
    fn is_label(&self, span: Span) -> bool {
        let text = &self.context.sources.file(span.file).text;
        let behind = text.get(span.end as usize..).unwrap_or_default().trim_start();
        behind.starts_with(':') && !behind.starts_with(":=")
    }

    /// Not so `ANDN b`, whose NOT has no place of its own.
    fn begins_with_not(&self, span: Span) -> bool {
        let text = self.context.sources.text(span).trim_start_matches('(').trim_start();
        let mut letters = text.chars();
        let word = letters.by_ref().take(3).collect::<String>().eq_ignore_ascii_case("NOT");
        word && !letters.next().is_some_and(|next| next.is_alphanumeric() || next == '_')
    }

    /// What is written at a place, with one blank for every space and line end.
    pub(super) fn line(&self, span: Span) -> String {
        let text = self.context.sources.text(span);
        // More than is shown of any text.
        let most = text.char_indices().nth(8 * TEXT_MAX).map_or(text.len(), |(end, _)| end);
        let text = text.get(..most).unwrap_or(text);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

fn symbol(function: &str) -> Option<&'static str> {
    Some(match function {
        "NOT" => "NOT",
        "AND" => "AND",
        "OR" => "OR",
        "XOR" => "XOR",
        "GT" => ">",
        "GE" => ">=",
        "EQ" => "=",
        "NE" => "<>",
        "LE" => "<=",
        "LT" => "<",
        "ADD" => "+",
        "SUB" => "-",
        "MUL" => "*",
        "DIV" => "/",
        "MOD" => "MOD",
        _ => return None,
    })
}

fn cut(text: &str) -> String {
    match text.char_indices().nth(TEXT_MAX) {
        Some((end, _)) => format!("{}…", text.get(..end).unwrap_or(text).trim_end()),
        None => text.to_owned(),
    }
}
