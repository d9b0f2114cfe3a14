//! Verification of calls through dispatch tables: which of them could lead to recursion, and how deep calls may go.
//!
//! The graph of all calls has a node for every unit and for every table; an edge leads from a unit to the units and
//! tables that it calls, and from a table to its targets. A target on a circle of this graph gets a guard. What the
//! guards are for is said in `run::dispatch`, what they prove in V4 of `run::threaded`.

use super::LoadError;
use super::calls::{CallGraph, callee};
use super::code::of_unit;
use crate::image::{DispatchTable, Image};
use crate::instruction::{Family, Instruction};
use crate::limits;
use crate::run::dispatch::{Guard, UNGUARDED};
use std::collections::BTreeSet;

/// What calls through dispatch tables need.
pub(super) struct Dispatched {
    /// Greatest number of calls that are open at the same time.
    pub(super) call_depth: usize,
    pub(super) guards: Vec<Guard>,
    /// For each unit its guard; empty without guards.
    pub(super) guard_of: Vec<u32>,
}

/// The table that an instruction calls through.
fn called_table(instruction: &Instruction) -> Option<usize> {
    let [first, ..] = instruction.operands;
    (instruction.opcode.family() == Family::CallMethod).then_some(first as usize)
}

/// All tables that are called through.
pub(super) fn called_tables<'a>(
    image: &'a Image,
    instructions: &[Instruction],
) -> impl Iterator<Item = &'a DispatchTable> {
    let called: BTreeSet<usize> = instructions.iter().filter_map(called_table).collect();
    called.into_iter().filter_map(|table| image.dispatch.get(table))
}

/// Finds the guards, and the depth of the stack.
pub(super) fn check(
    image: &Image,
    instructions: &[Instruction],
    calls: &CallGraph,
) -> Result<Dispatched, LoadError> {
    let mut targets: BTreeSet<u32> = BTreeSet::new();
    for table in called_tables(image, instructions) {
        targets.extend(table.targets.iter().map(|target| target.unit));
    }
    if targets.is_empty() {
        return Ok(Dispatched { call_depth: calls.depth, guards: Vec::new(), guard_of: Vec::new() });
    }
    let graph = Graph::new(image, instructions);
    let components = graph.components();
    let longest = graph.longest_chain(&components);
    // A chain of n units has n - 1 open calls.
    let fits = longest <= limits::CALL_DEPTH + 1;
    let heights = graph.heights();
    let mut guards = Vec::new();
    let mut guard_of = vec![UNGUARDED; image.units.len()];
    let mut search = Search { marks: vec![u32::MAX; image.units.len()], steps: 0 };
    for target in targets {
        let circle = components.is_circle(target);
        if fits && !circle {
            continue;
        }
        let units = if circle { graph.led_to(target, &components, &mut search)? } else { Vec::new() };
        let depth = heights.get(target as usize).copied().unwrap_or(0);
        if let Some(slot) = guard_of.get_mut(target as usize) {
            // At most one guard for each unit.
            *slot = guards.len() as u32;
        }
        guards.push(Guard { units: units.into_boxed_slice(), depth });
    }
    let call_depth = if fits { longest.saturating_sub(1) } else { limits::CALL_DEPTH };
    Ok(Dispatched { call_depth, guards, guard_of })
}

/// What the searches below all targets share.
struct Search {
    /// For each unit the target below which it was last found.
    marks: Vec<u32>,
    steps: usize,
}

/// The graph of all calls: first the units, then the tables.
struct Graph {
    units: usize,
    /// For each node where its edges end; they begin where those of the node before end.
    ends: Vec<u32>,
    /// Edges to units first, then edges to tables, each ascending and without repetition.
    edges: Vec<u32>,
}

/// The strongly connected parts of a graph.
struct Components {
    /// For each node its component; what a component leads to has smaller numbers.
    of: Vec<u32>,
    /// For each component the number of its nodes and of those the units.
    sizes: Vec<(u32, u32)>,
}

impl Components {
    fn component(&self, node: u32) -> u32 {
        self.of.get(node as usize).copied().unwrap_or(u32::MAX)
    }

    fn size(&self, component: u32) -> (u32, u32) {
        self.sizes.get(component as usize).copied().unwrap_or((1, 1))
    }

    /// Whether a node lies on a circle. A unit calls no table that is itself, so a circle has two nodes at least.
    fn is_circle(&self, node: u32) -> bool {
        self.size(self.component(node)).0 > 1
    }
}

impl Graph {
    fn new(image: &Image, instructions: &[Instruction]) -> Self {
        let units = image.units.len();
        let mut graph = Self { units, ends: Vec::new(), edges: Vec::new() };
        let mut end_node = |nodes: &mut Vec<u32>| {
            nodes.sort_unstable();
            nodes.dedup();
            graph.edges.append(nodes);
            // Edges come from instructions and rows of tables, both limited far below 2^32.
            graph.ends.push(graph.edges.len() as u32);
        };
        let mut nodes = Vec::new();
        for unit in &image.units {
            for (_, instruction) in of_unit(unit, instructions) {
                let table = called_table(instruction).map(|table| units + table);
                nodes.extend(callee(instruction).or(table).map(|node| node as u32));
            }
            end_node(&mut nodes);
        }
        let called: BTreeSet<usize> = instructions.iter().filter_map(called_table).collect();
        for (index, table) in image.dispatch.iter().enumerate() {
            // Tables that are not called through lead nowhere.
            if called.contains(&index) {
                nodes.extend(table.targets.iter().map(|target| target.unit));
            }
            end_node(&mut nodes);
        }
        graph
    }

    fn edges(&self, node: u32) -> &[u32] {
        let node = node as usize;
        let start = node.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        let end = self.ends.get(node).copied().unwrap_or(start);
        self.edges.get(start as usize..end as usize).unwrap_or_default()
    }

    const fn is_unit(&self, node: u32) -> bool {
        (node as usize) < self.units
    }

    /// Tarjan's algorithm, with a stack of its own instead of recursion.
    fn components(&self) -> Components {
        const NEW: u32 = u32::MAX;
        let count = self.ends.len();
        let mut number = vec![NEW; count];
        let mut lowest = vec![0u32; count];
        let mut components = Components { of: vec![NEW; count], sizes: Vec::new() };
        let mut open: Vec<u32> = Vec::new();
        let mut path: Vec<(u32, usize)> = Vec::new();
        let mut next = 0;
        for root in 0..count as u32 {
            if number.get(root as usize) != Some(&NEW) {
                continue;
            }
            path.push((root, 0));
            while let Some((node, edge)) = path.pop() {
                let own = node as usize;
                if edge == 0 {
                    if let (Some(number), Some(lowest)) = (number.get_mut(own), lowest.get_mut(own)) {
                        (*number, *lowest) = (next, next);
                    }
                    next += 1;
                    open.push(node);
                }
                if let Some(successor) = self.edges(node).get(edge).copied() {
                    path.push((node, edge + 1));
                    if number.get(successor as usize) == Some(&NEW) {
                        path.push((successor, 0));
                    } else if components.of.get(successor as usize) == Some(&NEW) {
                        let found = number.get(successor as usize).copied().unwrap_or(0);
                        lower(&mut lowest, node, found);
                    }
                    continue;
                }
                let low = lowest.get(own).copied().unwrap_or(0);
                if number.get(own) == Some(&low) {
                    let component = components.sizes.len() as u32;
                    let (mut nodes, mut units) = (0, 0);
                    while let Some(member) = open.pop() {
                        if let Some(slot) = components.of.get_mut(member as usize) {
                            *slot = component;
                        }
                        nodes += 1;
                        units += u32::from(self.is_unit(member));
                        if member == node {
                            break;
                        }
                    }
                    components.sizes.push((nodes, units));
                }
                if let Some((above, _)) = path.last() {
                    lower(&mut lowest, *above, low);
                }
            }
        }
        components
    }

    /// Most units that a chain of calls can hold when each is counted once.
    fn longest_chain(&self, components: &Components) -> usize {
        let mut members: Vec<u32> = (0..self.ends.len() as u32).collect();
        members.sort_by_key(|node| components.component(*node));
        let mut chains = vec![0usize; components.sizes.len()];
        let mut rest = members.as_slice();
        // What a component leads to comes before it.
        for component in 0..components.sizes.len() as u32 {
            let (own, behind) =
                rest.split_at(rest.partition_point(|node| components.component(*node) == component));
            rest = behind;
            let below = own
                .iter()
                .flat_map(|node| self.edges(*node))
                .map(|successor| components.component(*successor))
                .filter(|successor| *successor != component)
                .filter_map(|successor| chains.get(successor as usize))
                .max();
            let length = below.copied().unwrap_or(0) + components.size(component).1 as usize;
            if let Some(slot) = chains.get_mut(component as usize) {
                *slot = length;
            }
        }
        chains.into_iter().max().unwrap_or(0)
    }

    /// For each unit the greatest number of calls of known units that are open at the same time below it.
    fn heights(&self) -> Vec<usize> {
        let mut heights: Vec<Option<usize>> = vec![None; self.units];
        // A unit, the edge to follow next, and the height found so far.
        let mut path: Vec<(u32, usize, usize)> = Vec::new();
        for root in 0..self.units as u32 {
            path.push((root, 0, 0));
            // The calls of known units have no circle, so this ends.
            while let Some((unit, edge, height)) = path.pop() {
                let callee = self.edges(unit).get(edge).copied().filter(|callee| self.is_unit(*callee));
                match callee.map(|callee| (callee, heights.get(callee as usize).copied().flatten())) {
                    Some((_, Some(below))) => path.push((unit, edge + 1, height.max(below + 1))),
                    Some((callee, None)) => path.extend([(unit, edge, height), (callee, 0, 0)]),
                    None => {
                        if let Some(slot) = heights.get_mut(unit as usize) {
                            *slot = Some(height);
                        }
                    }
                }
            }
        }
        heights.into_iter().map(|height| height.unwrap_or(0)).collect()
    }

    /// The units that a unit leads to by calls of known units and that could come back to it, ascending.
    fn led_to(&self, from: u32, components: &Components, search: &mut Search) -> Result<Vec<u32>, LoadError> {
        let component = components.component(from);
        let mut found = Vec::new();
        let mut open = vec![from];
        while let Some(unit) = open.pop() {
            found.push(unit);
            for callee in self.edges(unit).iter().copied().filter(|callee| self.is_unit(*callee)) {
                search.steps += 1;
                if search.steps > limits::DISPATCH_STEPS {
                    return Err(LoadError::Limit {
                        what: "calls below the targets of dispatch tables",
                        found: search.steps as u64,
                        limit: limits::DISPATCH_STEPS as u64,
                    });
                }
                if components.component(callee) == component
                    && let Some(mark) = search.marks.get_mut(callee as usize)
                    && *mark != from
                {
                    *mark = from;
                    open.push(callee);
                }
            }
        }
        found.sort_unstable();
        Ok(found)
    }
}

fn lower(lowest: &mut [u32], node: u32, number: u32) {
    if let Some(slot) = lowest.get_mut(node as usize) {
        *slot = (*slot).min(number);
    }
}
