//! Jumps into IF and loops.
//!
//! A decision becomes an IF up to the piece where its ways meet again. A jump back makes a loop: WHILE where the decision
//! stands at the head, REPEAT where it stands at the end, `WHILE TRUE` with EXIT otherwise. Jumps that cross, so that a
//! piece would have to be written twice, have no form in Structured Text.

use std::collections::BTreeMap;

use super::{
    graph::{Exit, Graph, Node, Piece, RETURN},
    value::Value,
};

/// Deepest nesting of statements that is made.
const NESTING_MAX: usize = 100;

/// Work that may be spent on finding where ways meet.
const WORK_MAX: usize = 40_000_000;

/// A piece that is never reached.
const NEVER: Node = usize::MAX - 1;

/// A statement of Structured Text; items are meant by their numbers.
#[derive(Clone, Debug)]
pub(super) enum Tree {
    /// An item.
    Item(usize),
    /// IF; with the items that decide.
    If { condition: Value, deciders: Vec<usize>, then: Vec<Tree>, otherwise: Vec<Tree> },
    /// WHILE; with the items that decide.
    While { condition: Value, deciders: Vec<usize>, body: Vec<Tree> },
    /// REPEAT; with the items that decide.
    Repeat { body: Vec<Tree>, until: Value, deciders: Vec<usize> },
    /// FOR; with the items that count and decide.
    For { head: String, items: Vec<usize>, body: Vec<Tree> },
    /// CASE with the text of its labels; with the items that decide.
    Case { selector: String, groups: Vec<(String, Vec<usize>, Vec<Tree>)>, otherwise: Vec<Tree> },
    /// EXIT
    Exit,
    /// CONTINUE
    Continue,
    /// RETURN
    Return,
}

/// Why there is no form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Crossing {
    /// A piece would have to be written twice, or stands in the middle of something else.
    At(Node),
    /// A loop has a second way in.
    Loop,
    /// Too deep, or too much work.
    TooLarge,
}

/// The loop around what is being written.
#[derive(Clone, Copy)]
struct Around {
    header: Node,
    follow: Node,
    /// CONTINUE leads to the header.
    continues: bool,
}

#[derive(Clone, Copy)]
struct Context {
    /// Where what is written leads by itself.
    follow: Node,
    around: Option<Around>,
    /// The piece whose decision is the end of a REPEAT.
    latch: Option<Node>,
    depth: usize,
}

struct Structurer<'a> {
    graph: &'a Graph,
    loops: BTreeMap<Node, Vec<bool>>,
    visited: Vec<bool>,
    work: usize,
}

/// The statements of a body.
pub(super) fn structure(graph: &Graph) -> Result<Vec<Tree>, Crossing> {
    let loops = graph.loops().ok_or(Crossing::Loop)?;
    let visited = vec![false; graph.pieces.len()];
    let mut structurer = Structurer { graph, loops, visited, work: 0 };
    let context = Context { follow: graph.end(), around: None, latch: None, depth: 0 };
    structurer.sequence(0, context, None)
}

impl Structurer<'_> {
    /// What runs from a piece to the follow of the context. `first` is a header whose loop is being written.
    fn sequence(&mut self, from: Node, context: Context, first: Option<Node>) -> Result<Vec<Tree>, Crossing> {
        if context.depth > NESTING_MAX {
            return Err(Crossing::TooLarge);
        }
        let mut trees = Vec::new();
        let mut at = from;
        let mut entered = first;
        loop {
            if entered.take() != Some(at) {
                if at == context.follow || at == NEVER {
                    return Ok(trees);
                }
                if let Some(around) = context.around {
                    if at == around.follow {
                        trees.push(Tree::Exit);
                        return Ok(trees);
                    }
                    if at == around.header {
                        if !around.continues {
                            return Err(Crossing::At(at));
                        }
                        trees.push(Tree::Continue);
                        return Ok(trees);
                    }
                }
                if at == RETURN || at == self.graph.end() {
                    trees.push(Tree::Return);
                    return Ok(trees);
                }
                if self.loops.contains_key(&at) {
                    at = self.repetition(at, context, &mut trees)?;
                    continue;
                }
            }
            match self.visited.get_mut(at) {
                Some(visited) if !*visited => *visited = true,
                _ => return Err(Crossing::At(at)),
            }
            let Some(piece) = self.graph.piece(at) else { return Ok(trees) };
            trees.extend(piece.items.iter().map(|item| Tree::Item(*item)));
            if context.latch == Some(at) {
                return Ok(trees);
            }
            match &piece.exit {
                Exit::Goto(next) => at = *next,
                Exit::Branch { condition, yes, no } => {
                    at = self.branch(piece, condition, *yes, *no, context, &mut trees)?;
                }
            }
        }
    }

    /// Where one of the ways leads by itself, and no other.
    fn stops(context: Context) -> Vec<Node> {
        let mut stops = vec![context.follow, RETURN];
        if let Some(around) = context.around {
            stops.extend([around.header, around.follow]);
        }
        stops
    }

    /// Whether a piece is reached from another without passing through some.
    fn reaches(&self, from: Node, target: Node, not_through: &[Node], seen: &[bool]) -> bool {
        if from == target {
            return true;
        }
        if not_through.contains(&from) {
            return false;
        }
        let mut pieces = seen.iter().enumerate().filter(|(_, seen)| **seen);
        pieces.any(|(node, _)| self.graph.piece(node).is_some_and(|piece| piece.next().contains(&target)))
    }

    /// The first piece where several ways meet, [`NEVER`] if all leave, the follow of the context if they meet there.
    fn meeting(&mut self, ways: &[Node], context: Context) -> Result<Node, Crossing> {
        let stops = Self::stops(context);
        let graph = self.graph;
        let sets: Vec<Vec<bool>> = ways.iter().map(|way| graph.reached(*way, &stops)).collect();
        let count = |node: Node| sets.iter().filter(|set| set.get(node) == Some(&true)).count();
        let shared: Vec<Node> = (0..graph.pieces.len()).filter(|node| count(*node) > 1).collect();
        for candidate in shared.iter().copied() {
            self.work += graph.pieces.len() * ways.len();
            if self.work > WORK_MAX {
                return Err(Crossing::TooLarge);
            }
            let mut around = stops.clone();
            around.push(candidate);
            let apart: Vec<Vec<bool>> = ways.iter().map(|way| graph.reached(*way, &around)).collect();
            let overlap = (0..graph.pieces.len())
                .any(|node| apart.iter().filter(|set| set.get(node) == Some(&true)).count() > 1);
            let passes = ways
                .iter()
                .zip(&apart)
                .any(|(way, set)| *way != candidate && self.reaches(*way, context.follow, &around, set));
            if !overlap && !passes {
                return Ok(candidate);
            }
        }
        match shared.first() {
            Some(shared) => Err(Crossing::At(*shared)),
            None => Ok(context.follow),
        }
    }

    fn branch(
        &mut self,
        piece: &Piece,
        condition: &Value,
        yes: Node,
        no: Node,
        context: Context,
        trees: &mut Vec<Tree>,
    ) -> Result<Node, Crossing> {
        let inner = Context { latch: None, depth: context.depth + 1, ..context };
        let meeting = self.meeting(&[yes, no], context)?;
        let deciders = piece.deciders.clone();
        let stops = Self::stops(context);
        if meeting == context.follow {
            // A way that leaves needs no ELSE for the other.
            let leaves = |way: Node| {
                let set = self.graph.reached(way, &stops);
                !self.reaches(way, context.follow, &stops, &set)
            };
            if leaves(yes) {
                let then = self.sequence(yes, inner, None)?;
                trees.push(Tree::If { condition: condition.clone(), deciders, then, otherwise: Vec::new() });
                return Ok(no);
            }
            if leaves(no) {
                let then = self.sequence(no, inner, None)?;
                let condition = condition.clone().opposite();
                trees.push(Tree::If { condition, deciders, then, otherwise: Vec::new() });
                return Ok(yes);
            }
        }
        let inner = Context { follow: meeting, ..inner };
        let then = self.sequence(yes, inner, None)?;
        let otherwise = self.sequence(no, inner, None)?;
        trees.push(if then.is_empty() {
            Tree::If {
                condition: condition.clone().opposite(),
                deciders,
                then: otherwise,
                otherwise: Vec::new(),
            }
        } else {
            Tree::If { condition: condition.clone(), deciders, then, otherwise }
        });
        Ok(meeting)
    }

    /// A loop; gives the piece behind it.
    fn repetition(
        &mut self,
        header: Node,
        context: Context,
        trees: &mut Vec<Tree>,
    ) -> Result<Node, Crossing> {
        if self.visited.get(header) != Some(&false) {
            return Err(Crossing::At(header));
        }
        let members = self.loops.get(&header).cloned().unwrap_or_default();
        let inside = |node: Node| members.get(node) == Some(&true);
        let mut exits: Vec<Node> = Vec::new();
        let mut back: Vec<Node> = Vec::new();
        for (node, piece) in self.graph.pieces.iter().enumerate().filter(|(node, _)| inside(*node)) {
            for next in piece.next() {
                if next == header && !back.contains(&node) {
                    back.push(node);
                }
                if !inside(next) && next != RETURN && !exits.contains(&next) {
                    exits.push(next);
                }
            }
        }
        let follow = match exits.as_slice() {
            // Who leaves the loop leaves the body, and so does who leaves it by RET.
            [] if context.follow == self.graph.end() && context.around.is_none() => RETURN,
            [] => NEVER,
            [only] => *only,
            several => {
                let end = self.graph.end();
                let others: Vec<Node> = several.iter().copied().filter(|exit| *exit != end).collect();
                match others.as_slice() {
                    // Where it leaves the body from inside, RETURN does.
                    [only] if context.follow != end => *only,
                    _ => self.meeting(several, context)?,
                }
            }
        };
        let inner = |continues| Context {
            follow: header,
            around: Some(Around { header, follow, continues }),
            latch: None,
            depth: context.depth + 1,
        };
        let Some(piece) = self.graph.piece(header) else { return Ok(NEVER) };
        let deciders = piece.deciders.clone();
        if let (true, Exit::Branch { condition, yes, no }) = (piece.items.is_empty(), &piece.exit) {
            let way = if *no == follow && inside(*yes) {
                Some((condition.clone(), *yes))
            } else if *yes == follow && inside(*no) {
                Some((condition.clone().opposite(), *no))
            } else {
                None
            };
            if let Some((condition, body)) = way {
                self.mark(header);
                // Straight back to the test.
                let body = if body == header { Vec::new() } else { self.sequence(body, inner(true), None)? };
                trees.push(Tree::While { condition, deciders, body });
                return Ok(self.behind(follow));
            }
        }
        if let [latch] = back.as_slice()
            && let Some(Piece { exit: Exit::Branch { condition, yes, no }, deciders, .. }) =
                self.graph.piece(*latch)
            && ((*yes == header && *no == follow) || (*no == header && *yes == follow))
        {
            let before = self.visited.clone();
            let until = if *no == header { condition.clone() } else { condition.clone().opposite() };
            let repeat = Context { latch: Some(*latch), follow: NEVER, ..inner(false) };
            match self.sequence(header, repeat, Some(header)) {
                Ok(body) if self.visited.get(*latch) == Some(&true) => {
                    trees.push(Tree::Repeat { body, until, deciders: deciders.clone() });
                    return Ok(self.behind(follow));
                }
                _ => self.visited = before,
            }
        }
        let body = self.sequence(header, inner(true), Some(header))?;
        let condition = Value::Literal("TRUE".into());
        trees.push(Tree::While { condition, deciders: Vec::new(), body });
        Ok(self.behind(follow))
    }

    /// What comes behind a loop that leads to a piece.
    fn behind(&self, follow: Node) -> Node {
        if follow == RETURN { self.graph.end() } else { follow }
    }

    fn mark(&mut self, node: Node) {
        if let Some(visited) = self.visited.get_mut(node) {
            *visited = true;
        }
    }
}
