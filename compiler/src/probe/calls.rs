//! What can be called in a condition: the functions of the standard that give a value and do nothing else.

use latchwork_grammar::{
    Diagnostic, Sources,
    tree::{ArgumentKind, Call},
};
use latchwork_stdlib::Lowering;

use crate::nearest::nearest;

/// What is wrong with a call, if anything. `known` tells whether the outside has something of a name.
pub(super) fn problem(
    call: &Call,
    instance: bool,
    known: &dyn Fn(&str) -> bool,
    sources: &Sources,
) -> Option<Diagnostic> {
    let span = call.callee.span;
    let spelling = sources.text(span);
    let error = || Diagnostic::error("condition-call", span, format!("`{spelling}` cannot be called here"));
    let standard = if instance { None } else { latchwork_stdlib::function(spelling) };
    let Some(function) = standard.filter(|_| !known(spelling)) else {
        if instance || known(spelling) {
            let error = error().label("belongs to the program");
            return Some(error.note(
                "a condition only looks: read an output of the instance, as in `Timer.Q`; the program makes the call",
            ));
        }
        if spelling.eq_ignore_ascii_case("REF") {
            return Some(
                error().label("references cannot be made here").note("compare the values themselves"),
            );
        }
        let standard = latchwork_stdlib::functions().map(|row| row.name);
        let near = nearest(spelling, standard);
        let error = error().label("not a function of the standard");
        return Some(match near {
            Some(near) => error.note(format!("the nearest known name is `{near}`")),
            None => error
                .note("functions of the program are not called from outside; look at a variable with their result")
                .note("`latchwork library` lists the standard functions"),
        });
    };
    if matches!(function.definition.lowering, Lowering::Bound { .. }) {
        let error = error().label("asks for the bounds of a whole array");
        return Some(error.note("a condition reads single values; write the bound as a number"));
    }
    call.arguments.iter().find_map(|argument| {
        let enable = match &argument.kind {
            ArgumentKind::Output { .. } => false,
            ArgumentKind::Input { name, .. } | ArgumentKind::InputInstructions { name, .. } => {
                if !sources.text(name.span).eq_ignore_ascii_case("EN") {
                    return None;
                }
                true
            }
            ArgumentKind::Positional(_) => return None,
        };
        let error = |message: &str, label: &str, note: &str| {
            Diagnostic::error("condition-call", argument.span, message).label(label).note(note)
        };
        Some(if enable {
            error(
                "a condition cannot call a function with EN",
                "would leave it without a value",
                "choose between two values with `SEL`",
            )
        } else {
            error(
                "a condition changes nothing, so it takes no outputs of a call",
                "would store a value",
                "the value of the call itself can be used",
            )
        })
    })
}
