//! Instruction List into Structured Text.
//!
//! ```text
//! instructions -> statements, labels, jumps -> graph -> IF and loops -> CASE, FOR -> text
//! ```

mod calls;
mod flow;
mod fold;
mod graph;
mod item;
mod print;
mod stores;
mod structure;
mod tidy;
mod value;
mod wording;

use latchwork_grammar::{Span, tree::Instruction};

use self::{fold::Folder, graph::Graph, structure::Crossing};
use super::{
    NewBody,
    comments::Comment,
    facts::{Facts, FreshNames, NewVariable},
    names::Scope,
    place::Indent,
    refusal::Refusal,
};

/// Most decisions of a body that are kept in new variables.
const KEPT_MAX: usize = 20;

/// A body in Structured Text, the variables it needs, and what each of its lines says anew.
pub(super) fn write<'a>(
    instructions: &[Instruction],
    facts: &'a Facts<'a>,
    scope: &'a Scope<'a>,
    comments: &'a [Comment],
    fresh: &'a mut FreshNames<'a>,
    indent: Indent,
) -> Result<NewBody, Refusal> {
    let place = instructions.first().map(|first| first.span).unwrap_or_default();
    let mut folder = Folder::new(facts, scope, comments, fresh);
    folder.body(instructions)?;
    let Folder { mut items, mut variables, fresh, .. } = folder;
    let too_large = || {
        Refusal::new(
            place,
            "too many jumps, or branches nested too deeply",
            "divide the body into several functions or function blocks",
        )
    };
    let mut graph = Graph::of(&items).ok_or_else(too_large)?;
    let mut structured = structure::structure(&graph);
    // Jumps to one place from several decisions in a row are one decision.
    if structured.is_err() && graph.join_decisions() {
        structured = structure::structure(&graph);
    }
    for _ in 0..KEPT_MAX {
        let Err(Crossing::At(shared)) = structured else { break };
        let name = fresh.give("Decision");
        if !graph.keep_decision(shared, &name, &mut items) {
            break;
        }
        variables.push(NewVariable { name, type_text: "BOOL".into() });
        structured = structure::structure(&graph);
    }
    let at = |node: usize| {
        let piece = graph.piece(node);
        let item = piece.and_then(|piece| piece.items.first().or(piece.deciders.first()));
        item.and_then(|item| items.get(*item)).map_or(place, |item| Span::new(place.file, item.from, item.to))
    };
    let trees = structured.map_err(|crossing| match crossing {
        Crossing::At(node) => Refusal::new(
            at(node),
            "jumps lead here that cross others, so that no IF and no loop has their form",
            "let branches end where they began, or keep a decision in a BOOL variable and ask for it later",
        ),
        Crossing::Loop => Refusal::new(
            place,
            "a loop in this body is entered at two places",
            "let the loop begin at one label",
        ),
        Crossing::TooLarge => too_large(),
    })?;
    let trees = tidy::tidy(trees, &items, facts);
    let text = &facts.sources.file(place.file).text;
    let (text, origins) = print::print(&trees, &items, comments, text, instructions, indent);
    let origins = origins.into_iter().map(|(from, to)| Span::new(place.file, from, to)).collect();
    Ok(NewBody { text, variables, origins })
}
