//! The standard function blocks: their members, their places in an instance, and the list of them.
//!
//! Source: IEC 61131-3:2013, 6.6.3.5, Tables 43 to 46. Everything a block remembers lies in its instance, at
//! natural alignment: inputs first, then outputs, then what the standard does not show. All members of a new
//! instance are zero, which is the standard's default. A row says nothing of how calls are written. The places
//! are those of [`latchwork_vm::block`], where the machine's instructions for the blocks take them from too.

use latchwork_vm::{ElementaryType, Family, Scalar, Section};

mod bistables;
mod counters;
mod edges;
mod timers;

/// Which change of an input counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Edge {
    /// `R_EDGE`
    Rising,
    /// `F_EDGE`
    Falling,
}

/// A variable of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockMember {
    /// Its name in the standard.
    pub name: &'static str,
    /// Further names it may be called by: SET1 for S1.
    pub aliases: &'static [&'static str],
    /// Input, output, or local to the block.
    pub section: Section,
    /// Its type.
    pub ty: ElementaryType,
    /// Where it lies, in bytes from the start of the instance.
    pub offset: u32,
    /// An edge input as declared. The caller stores the plain value: the body finds the edge itself, with
    /// a hidden member that it updates at every call.
    pub edge: Option<Edge>,
    /// State that is not a variable a program may name.
    pub hidden: bool,
}

/// An input operator of Instruction List, `CU counter` (Table 70).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InputOperator {
    /// The operator: the name of the input, or an alias of it.
    pub operator: &'static str,
    /// Index of the member the current result is stored in.
    pub member: usize,
    /// The operator calls the block after storing.
    pub calls: bool,
    /// What runs after storing: the body of the block, or something smaller on the same instance, or nothing.
    pub operation: Option<BlockOperation>,
}

/// An instruction of the machine that works on an instance, in its two forms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockOperation {
    /// The instruction whose only operand is the place of the instance.
    pub at_place: Family,
    /// The instruction whose only operand is a place that holds the address of the instance.
    pub at_address: Family,
    /// Scalar of both: that of the values for a counter.
    pub scalar: Scalar,
}

/// Calls that show a block at work, one in every scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockExample {
    /// Time from one call to the next, in milliseconds.
    pub interval_ms: u32,
    /// An input that stays as it is, with its value; empty names: there is none.
    pub preset: (&'static str, &'static str),
    /// Boolean inputs with their levels, a digit for each call, all of one length.
    pub levels: &'static [(&'static str, &'static str)],
}

/// Blocks that belong together.
#[derive(Clone, Copy, Debug)]
pub struct BlockFamily {
    /// What they are, for a heading.
    pub title: &'static str,
    /// A table of the standard: the blocks of the family.
    pub clause: &'static str,
}

/// A standard function block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockDefinition {
    /// Its name in the standard.
    pub name: &'static str,
    /// Its members in the order of their places, inputs first.
    pub members: &'static [BlockMember],
    /// Size of an instance in bytes, a multiple of [`Self::alignment`].
    pub bytes: u32,
    /// Alignment of an instance in bytes.
    pub alignment: u32,
    /// What its body is on the machine.
    pub operation: BlockOperation,
    /// Where the standard has it: `Table 46`.
    pub clause: &'static str,
    /// One line for the reader of a program.
    pub summary: &'static str,
    /// How it answers to changes of its inputs and to its first call.
    pub edge_behaviour: &'static str,
    /// Its input operators in Instruction List.
    pub input_operators: &'static [InputOperator],
    /// Calls that show it at work.
    pub example: BlockExample,
    /// Its body as a function block of Structured Text; see [`st_body`].
    body: &'static str,
}

impl BlockDefinition {
    /// The index of a member by its name or one of its aliases, in any case of letters. Hidden members are
    /// not found.
    pub fn member_index(&self, name: &str) -> Option<usize> {
        self.members.iter().position(|member| {
            !member.hidden
                && (member.name.eq_ignore_ascii_case(name)
                    || member.aliases.iter().any(|alias| alias.eq_ignore_ascii_case(name)))
        })
    }

    /// The input operator of Instruction List with this name, in any case of letters.
    pub fn input_operator(&self, operator: &str) -> Option<&'static InputOperator> {
        self.input_operators.iter().find(|row| row.operator.eq_ignore_ascii_case(operator))
    }
}

/// The families of blocks in the order of the standard's tables.
pub fn block_families() -> &'static [BlockFamily] {
    &[
        BlockFamily { title: "Bistables", clause: "Table 43" },
        BlockFamily { title: "Edge detection", clause: "Table 44" },
        BlockFamily { title: "Counters", clause: "Table 45" },
        BlockFamily { title: "Timers", clause: "Table 46" },
    ]
}

/// Every standard function block, in the order of the standard's tables.
pub fn blocks() -> impl Iterator<Item = &'static BlockDefinition> {
    bistables::BLOCKS.iter().chain(edges::BLOCKS).chain(counters::blocks()).chain(timers::BLOCKS)
}

/// The standard function block with this name, in any case of letters.
pub fn block(name: &str) -> Option<&'static BlockDefinition> {
    blocks().find(|row| row.name.eq_ignore_ascii_case(name))
}

/// The body of a block as the source of a `FUNCTION_BLOCK` in Structured Text, named like the block with
/// `_BODY` behind. The bodies of bistables, edge detection and counters are the standard's. The standard draws
/// timing diagrams of the timers; their bodies state our reading of the diagrams and take the time of the scan
/// as a further input `NOW`.
pub fn st_body(block: &BlockDefinition) -> &'static str {
    block.body
}

const fn member(section: Section, name: &'static str, ty: ElementaryType, offset: u32) -> BlockMember {
    BlockMember { name, aliases: &[], section, ty, offset, edge: None, hidden: false }
}

const fn input(name: &'static str, ty: ElementaryType, offset: u32) -> BlockMember {
    member(Section::Input, name, ty, offset)
}

/// A Boolean input with a long name.
const fn input_also(name: &'static str, aliases: &'static [&'static str], offset: u32) -> BlockMember {
    BlockMember { aliases, ..member(Section::Input, name, ElementaryType::Bool, offset) }
}

const fn rising_input(name: &'static str, offset: u32) -> BlockMember {
    BlockMember { edge: Some(Edge::Rising), ..member(Section::Input, name, ElementaryType::Bool, offset) }
}

const fn output(name: &'static str, ty: ElementaryType, offset: u32) -> BlockMember {
    member(Section::Output, name, ty, offset)
}

const fn hidden(name: &'static str, ty: ElementaryType, offset: u32) -> BlockMember {
    BlockMember { hidden: true, ..member(Section::Local, name, ty, offset) }
}

/// An input operator that stores and then calls the block.
const fn acts(operator: &'static str, member: usize, operation: BlockOperation) -> InputOperator {
    InputOperator { operator, member, calls: true, operation: Some(operation) }
}

/// An input operator that stores and then does less than the body, or nothing.
const fn prepares(operator: &'static str, member: usize, operation: Option<BlockOperation>) -> InputOperator {
    InputOperator { operator, member, calls: false, operation }
}
