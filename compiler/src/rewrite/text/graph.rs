//! The ways through a body: straight pieces, and what leads from one to the next.

use std::collections::BTreeMap;

use latchwork_grammar::{Name, tree::BinaryOperator};

use super::{
    item::{Item, ItemKind},
    value::Value,
};

/// Most pieces of a body.
pub(super) const NODES_MAX: usize = 2_000;

/// The number of a piece.
pub(super) type Node = usize;

/// Leaves the body, by RET.
pub(super) const RETURN: Node = usize::MAX;

/// Where a piece leads.
#[derive(Clone, Debug)]
pub(super) enum Exit {
    /// To one other piece.
    Goto(Node),
    /// To one of two.
    Branch { condition: Value, yes: Node, no: Node },
}

/// A straight piece.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// The items in it, without labels and jumps.
    pub(super) items: Vec<usize>,
    /// Where it leads.
    pub(super) exit: Exit,
    /// The items that decide: the jump, and others that were joined with it.
    pub(super) deciders: Vec<usize>,
}

impl Piece {
    /// What may come next.
    pub(super) fn next(&self) -> Vec<Node> {
        match &self.exit {
            Exit::Goto(next) => vec![*next],
            Exit::Branch { yes, no, .. } => vec![*yes, *no],
        }
    }
}

/// All pieces of a body; the number behind the last is its end.
#[derive(Clone, Debug)]
pub(super) struct Graph {
    pub(super) pieces: Vec<Piece>,
}

impl Graph {
    /// The pieces of a list of items; `None` if there are too many.
    pub(super) fn of(items: &[Item]) -> Option<Self> {
        // Where each piece begins and ends.
        let mut starts = vec![0];
        let mut labels: BTreeMap<Name, Node> = BTreeMap::new();
        for (at, item) in items.iter().enumerate() {
            match &item.kind {
                ItemKind::Label(name) => {
                    if starts.last() != Some(&at) {
                        starts.push(at);
                    }
                    labels.entry(*name).or_insert(starts.len() - 1);
                }
                ItemKind::Jump { .. } | ItemKind::Return { .. } if at + 1 < items.len() => {
                    starts.push(at + 1)
                }
                _ => {}
            }
        }
        if starts.len() > NODES_MAX {
            return None;
        }
        let end = starts.len();
        let mut pieces = Vec::with_capacity(end);
        for (node, start) in starts.iter().enumerate() {
            let stop = starts.get(node + 1).copied().unwrap_or(items.len());
            let mut piece = Piece { items: Vec::new(), exit: Exit::Goto(node + 1), deciders: Vec::new() };
            for (at, item) in items.iter().enumerate().take(stop).skip(*start) {
                let (target, decision) = match &item.kind {
                    ItemKind::Label(_) => continue,
                    ItemKind::Jump { label, decision } => {
                        (labels.get(label).copied().unwrap_or(end), decision)
                    }
                    ItemKind::Return { decision } => (RETURN, decision),
                    _ => {
                        piece.items.push(at);
                        continue;
                    }
                };
                piece.deciders.push(at);
                piece.exit = match decision {
                    None => Exit::Goto(target),
                    Some((condition, wanted)) => {
                        let (yes, no) = if *wanted { (target, node + 1) } else { (node + 1, target) };
                        Exit::Branch { condition: condition.clone(), yes, no }
                    }
                };
            }
            pieces.push(piece);
        }
        let mut graph = Graph { pieces };
        graph.shorten();
        Some(graph)
    }

    /// The end of the body.
    pub(super) fn end(&self) -> Node {
        self.pieces.len()
    }

    /// A piece.
    pub(super) fn piece(&self, node: Node) -> Option<&Piece> {
        self.pieces.get(node)
    }

    /// What leads to nothing but another piece is passed over.
    fn shorten(&mut self) {
        let resolved: Vec<Node> = (0..self.pieces.len()).map(|node| self.behind_empty(node)).collect();
        let new = |node: Node| resolved.get(node).copied().unwrap_or(node);
        for piece in &mut self.pieces {
            match &mut piece.exit {
                Exit::Goto(next) => *next = new(*next),
                Exit::Branch { yes, no, .. } => (*yes, *no) = (new(*yes), new(*no)),
            }
            // A branch whose ways are the same decides nothing, but what it asks may matter no more.
            if let Exit::Branch { yes, no, condition } = &piece.exit
                && yes == no
                && condition.is_plain()
            {
                piece.exit = Exit::Goto(*yes);
            }
        }
    }

    fn behind_empty(&self, node: Node) -> Node {
        let mut at = node;
        for _ in 0..self.pieces.len() {
            match self.pieces.get(at) {
                Some(Piece { items, exit: Exit::Goto(next), .. }) if items.is_empty() => at = *next,
                _ => return at,
            }
        }
        // An endless chain of jumps comes back to itself.
        node
    }

    /// How many ways lead to each piece.
    pub(super) fn ways_in(&self) -> Vec<usize> {
        let mut ways = vec![0; self.pieces.len()];
        if let Some(first) = ways.first_mut() {
            *first += 1;
        }
        for next in self.pieces.iter().flat_map(Piece::next) {
            if let Some(count) = ways.get_mut(next) {
                *count += 1;
            }
        }
        ways
    }

    /// Joins decisions that follow one another and share a way: `a` or else `b` leads there. Whether anything was joined.
    pub(super) fn join_decisions(&mut self) -> bool {
        let mut joined = false;
        let mut again = true;
        while again {
            again = false;
            let ways = self.ways_in();
            for node in 0..self.pieces.len() {
                let Some((exit, middle)) = self.joined_with_next(node, &ways) else { continue };
                let deciders =
                    self.pieces.get(middle).map(|piece| piece.deciders.clone()).unwrap_or_default();
                if let Some(middle) = self.pieces.get_mut(middle) {
                    *middle = Piece { items: Vec::new(), exit: Exit::Goto(RETURN), deciders: Vec::new() };
                }
                if let Some(piece) = self.pieces.get_mut(node) {
                    piece.exit = exit;
                    piece.deciders.extend(deciders);
                }
                again = true;
                joined = true;
                break;
            }
        }
        joined
    }

    fn joined_with_next(&self, node: Node, ways: &[usize]) -> Option<(Exit, Node)> {
        use BinaryOperator::{And, Or};
        let Exit::Branch { condition: first, yes, no } = &self.pieces.get(node)?.exit else { return None };
        for (middle, on_yes) in [(*no, false), (*yes, true)] {
            let Some(piece) = self.pieces.get(middle) else { continue };
            let Exit::Branch { condition: second, yes: inner_yes, no: inner_no } = &piece.exit else {
                continue;
            };
            if !piece.items.is_empty() || ways.get(middle) != Some(&1) || middle == node || !second.is_plain()
            {
                continue;
            }
            let both = |operator, right: Value| {
                Value::Binary(operator, Box::new(first.clone()), Box::new(right), true)
            };
            let not = || second.clone().opposite();
            let exit = match on_yes {
                false if inner_yes == yes => {
                    Exit::Branch { condition: both(Or, second.clone()), yes: *yes, no: *inner_no }
                }
                false if inner_no == yes => {
                    Exit::Branch { condition: both(Or, not()), yes: *yes, no: *inner_yes }
                }
                true if inner_no == no => {
                    Exit::Branch { condition: both(And, second.clone()), yes: *inner_yes, no: *no }
                }
                true if inner_yes == no => {
                    Exit::Branch { condition: both(And, not()), yes: *inner_no, no: *no }
                }
                _ => continue,
            };
            return Some((exit, middle));
        }
        None
    }

    /// Two decisions in a row that share a way to a piece are told apart by a new BOOL variable: the first sets it, the
    /// second is asked only if it must be, and the variable decides. The items are given numbers from `next_item` on.
    pub(super) fn keep_decision(&mut self, shared: Node, variable: &str, items: &mut Vec<Item>) -> bool {
        let ways = self.ways_in();
        let found = (0..self.pieces.len()).find_map(|node| {
            let Exit::Branch { yes, no, .. } = &self.pieces.get(node)?.exit else { return None };
            let middle = match (*yes == shared, *no == shared) {
                (true, false) => *no,
                (false, true) => *yes,
                _ => return None,
            };
            let Exit::Branch { yes: inner_yes, no: inner_no, .. } = &self.pieces.get(middle)?.exit else {
                return None;
            };
            let shares = (*inner_yes == shared) != (*inner_no == shared);
            (shares && ways.get(middle) == Some(&1) && middle > node).then_some((node, middle))
        });
        let Some((node, middle)) = found else { return false };
        let decided = middle + 1;
        let kept = || Value::Access { text: variable.to_owned(), reads: Vec::new(), may_fail: false };
        // Whether the way to the shared piece is taken, in both decisions.
        let mut keep = |piece: &mut Piece| -> Option<Node> {
            let Exit::Branch { condition, yes, no } = &piece.exit else { return None };
            let (value, other) =
                if *yes == shared { (condition.clone(), *no) } else { (condition.clone().opposite(), *yes) };
            let at =
                piece.deciders.last().and_then(|item| items.get(*item)).map_or((0, 0), |i| (i.from, i.to));
            let kind = ItemKind::Assign { target: variable.to_owned(), value, attempt: false, kind: None };
            items.push(Item { kind, from: at.0, to: at.1 });
            piece.items.push(items.len() - 1);
            Some(other)
        };
        let Some(other) = self.pieces.get_mut(middle).and_then(&mut keep) else { return false };
        if self.pieces.get_mut(node).and_then(&mut keep).is_none() {
            return false;
        }
        let mut deciders = Vec::new();
        if let Some(piece) = self.pieces.get_mut(middle) {
            piece.exit = Exit::Goto(decided);
            deciders = std::mem::take(&mut piece.deciders);
        }
        if let Some(piece) = self.pieces.get_mut(node) {
            piece.exit = Exit::Branch { condition: kept(), yes: decided, no: middle };
        }
        // The new piece stands behind the second decision, in the order of the ways; what follows moves one further.
        let moved = |next: Node| if next > middle && next != RETURN { next + 1 } else { next };
        for (at, piece) in self.pieces.iter_mut().enumerate() {
            let leads_there = |next: Node| (at == node || at == middle) && next == decided;
            match &mut piece.exit {
                Exit::Goto(next) if !leads_there(*next) => *next = moved(*next),
                Exit::Goto(_) => {}
                Exit::Branch { yes, no, .. } => {
                    *yes = if leads_there(*yes) { *yes } else { moved(*yes) };
                    *no = moved(*no);
                }
            }
        }
        let exit = Exit::Branch { condition: kept(), yes: moved(shared), no: moved(other) };
        self.pieces.insert(decided, Piece { items: Vec::new(), exit, deciders });
        true
    }

    /// The loops: the first piece of each with all pieces in it. `None` if a loop has a second way in.
    pub(super) fn loops(&self) -> Option<BTreeMap<Node, Vec<bool>>> {
        let dominators = self.dominators();
        let dominates = |header: Node, node: Node| {
            dominators
                .get(node)
                .and_then(|set| set.get(header / 64))
                .is_some_and(|word| word & (1 << (header % 64)) != 0)
        };
        let reached = self.reached(0, &[]);
        let mut before: Vec<Vec<Node>> = vec![Vec::new(); self.pieces.len()];
        for (node, piece) in
            self.pieces.iter().enumerate().filter(|(node, _)| reached.get(*node) == Some(&true))
        {
            for next in piece.next() {
                if let Some(list) = before.get_mut(next) {
                    list.push(node);
                }
            }
        }
        let mut loops: BTreeMap<Node, Vec<bool>> = BTreeMap::new();
        for (node, piece) in
            self.pieces.iter().enumerate().filter(|(node, _)| reached.get(*node) == Some(&true))
        {
            for header in piece.next().into_iter().filter(|next| *next <= node) {
                if !dominates(header, node) {
                    return None;
                }
                let members = loops.entry(header).or_insert_with(|| vec![false; self.pieces.len()]);
                let mut pending = vec![node];
                while let Some(member) = pending.pop() {
                    match members.get_mut(member) {
                        Some(known) if !*known => *known = true,
                        _ => continue,
                    }
                    if member != header {
                        pending.extend(before.get(member).into_iter().flatten());
                    }
                }
                if let Some(known) = members.get_mut(header) {
                    *known = true;
                }
            }
        }
        Some(loops)
    }

    /// The pieces that can be reached from one without passing through others.
    pub(super) fn reached(&self, from: Node, not_through: &[Node]) -> Vec<bool> {
        let mut reached = vec![false; self.pieces.len()];
        let mut pending = vec![from];
        while let Some(node) = pending.pop() {
            if not_through.contains(&node) {
                continue;
            }
            match reached.get_mut(node) {
                Some(known) if !*known => *known = true,
                _ => continue,
            }
            pending.extend(self.pieces.get(node).map(Piece::next).unwrap_or_default());
        }
        reached
    }

    /// Of each piece, those that every way to it passes, as bits.
    fn dominators(&self) -> Vec<Vec<u64>> {
        let words = self.pieces.len().div_ceil(64);
        let mut sets: Vec<Option<Vec<u64>>> = vec![None; self.pieces.len()];
        let own = |node: Node, set: &mut Vec<u64>| {
            if let Some(word) = set.get_mut(node / 64) {
                *word |= 1 << (node % 64);
            }
        };
        let mut entry = vec![0; words];
        own(0, &mut entry);
        if let Some(first) = sets.first_mut() {
            *first = Some(entry);
        }
        // Pieces that are not reached keep none. The order of the text is nearly that of the ways.
        let mut changed = true;
        while changed {
            changed = false;
            for node in 0..self.pieces.len() {
                let Some(Some(set)) = sets.get(node).cloned() else { continue };
                for next in self.pieces.get(node).map(Piece::next).unwrap_or_default() {
                    if next == 0 {
                        continue;
                    }
                    let Some(slot) = sets.get_mut(next) else { continue };
                    let mut new = match slot {
                        Some(old) => old.iter().zip(&set).map(|(old, new)| old & new).collect(),
                        None => set.clone(),
                    };
                    own(next, &mut new);
                    if slot.as_ref() != Some(&new) {
                        *slot = Some(new);
                        changed = true;
                    }
                }
            }
        }
        sets.into_iter().map(Option::unwrap_or_default).collect()
    }
}
