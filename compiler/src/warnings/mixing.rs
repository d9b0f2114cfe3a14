//! A BOOL beside a longer bit string: the BOOL becomes 16#0 or 16#1, so that only the last bit takes part.

use latchwork_grammar::Diagnostic;
use latchwork_vm::ElementaryType;

use super::Context;
use crate::{findings::Findings, typed::ExpressionKind};

pub(super) fn bit_with_word(context: &Context<'_>, found: &mut Findings) {
    for value in context.survey.expressions() {
        let ExpressionKind::Standard { function, on: Some(on), arguments } = &value.kind else { continue };
        let row = matches!(function.name, "AND" | "OR" | "XOR" | "EQ" | "NE");
        let wide = matches!(
            on,
            ElementaryType::Byte | ElementaryType::Word | ElementaryType::Dword | ElementaryType::Lword
        );
        if !row || !wide {
            continue;
        }
        for argument in arguments {
            let ExpressionKind::Convert(inner) = &argument.kind else { continue };
            if context.types.elementary_base(inner.ty) != Some(ElementaryType::Bool) {
                continue;
            }
            let on = on.name();
            found.push(
                Diagnostic::warning(
                    "bit-with-word",
                    inner.span,
                    format!("a BOOL meets a {on} here and becomes {on}#0 or {on}#1"),
                )
                .label("takes part with the last bit only")
                .note("name the bit that is meant, as in `Word.%X3`, or compare the word first, as in `Word <> 0`"),
            );
        }
    }
}
