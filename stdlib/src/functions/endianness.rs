//! Functions of byte order: TO_BIG_ENDIAN, TO_LITTLE_ENDIAN, FROM_BIG_ENDIAN, FROM_LITTLE_ENDIAN.
//!
//! Source: IEC 61131-3:2013, Table 37. The machine is little endian on every computer (our choice), so the functions
//! of the little endian order copy and those of the big endian one turn the bytes of every value round: of numbers,
//! bit strings, WCHAR, times and dates of more than one byte, each by itself in arrays and structures, and of each
//! character of a WSTRING (our choice; its length stays, so the text stays a text). The bytes between the members of a
//! structure stay where they are.

use std::collections::BTreeMap;

use latchwork_vm::{NativeCall, NativeFunction};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, Parameter, ROW, ResultType, generic},
    types::TypeClass,
};

const ANY: &[Parameter] = &[generic("IN", TypeClass::Any)];
const REFUSED: &str = "None at run time. Types of which not every pattern of bits is a value are refused, in arrays \
                       and structures too: enumerations, subranges, references, instances.";

macro_rules! row {
    ($name:literal, $swap:literal, $summary:literal, $($example:literal => $gives:literal),+) => {
        FunctionDefinition {
            name: $name,
            parameters: ANY,
            result: ResultType::Generic,
            lowering: Lowering::ByteOrder { swap: $swap },
            clause: "Table 37",
            summary: $summary,
            errors: REFUSED,
            examples: &[$(Example::new(&[$example], $gives)),+],
            ..ROW
        }
    };
}

/// The rows of Table 37.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    row!(
        "TO_BIG_ENDIAN", true,
        "The value with its bytes in big endian order, the most significant first.",
        "DWORD#16#12345678" => "DWORD#16#78563412",
        "INT#1" => "INT#256",
        "BYTE#16#2D" => "BYTE#16#2D"
    ),
    row!(
        "TO_LITTLE_ENDIAN", false,
        "The value with its bytes in little endian order, the least significant first: a copy.",
        "DWORD#16#12345678" => "DWORD#16#12345678"
    ),
    row!(
        "FROM_BIG_ENDIAN", true,
        "The value whose bytes came in big endian order.",
        "WORD#16#3412" => "WORD#16#1234"
    ),
    row!(
        "FROM_LITTLE_ENDIAN", false,
        "The value whose bytes came in little endian order: a copy.",
        "WORD#16#1234" => "WORD#16#1234"
    ),
];

/// The routine that turns a scalar of so many bytes round: the operand at byte 0 of its frame, the result at byte 8.
/// `None` for a single byte, which has no order.
pub fn swap_routine(bytes: u32) -> Option<&'static str> {
    match bytes {
        2 => Some("SWAP_2_BYTES"),
        4 => Some("SWAP_4_BYTES"),
        8 => Some("SWAP_8_BYTES"),
        _ => None,
    }
}

/// The routine that turns the values of an array, structure or wide text round where they are. Its frame: the address of
/// the value at byte 0, that of its [`SwapPattern`] at byte 8, the size of the value in bytes at byte 16.
pub const SWAP_PATTERN: &str = "SWAP_PATTERN";

/// Numbers of a node: its kind, and what it says.
type Node = [u32; 4];
/// Bytes of a node.
const NODE: u32 = 16;

/// So many scalars of so many bytes each, one behind another: `[RUN, bytes, count, 0]`.
const RUN: u32 = 1;
/// A WSTRING: `[TEXT, 0, 0, 0]`.
const TEXT: u32 = 2;
/// A node again and again: `[REPEAT, node, count, stride]`.
const REPEAT: u32 = 3;
/// The parts that follow: `[SEQUENCE, count, 0, 0]`.
const SEQUENCE: u32 = 4;
/// A part of a sequence: `[PART, offset, node, 0]`.
const PART: u32 = 5;

/// Something to turn round, at an offset from the start of what it is a part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SwapPart {
    offset: u32,
    node: u32,
}

impl SwapPart {
    /// The part in something that begins so many bytes earlier.
    pub fn at(self, offset: u32) -> Self {
        Self { offset: self.offset.saturating_add(offset), ..self }
    }
}

/// What [`SWAP_PATTERN`] has to do for a type, built from the inside out: its length depends on how the type is
/// written, not on the number of elements. A node names earlier nodes only.
#[derive(Clone, Debug, Default)]
pub struct SwapPattern {
    nodes: Vec<Node>,
    known: BTreeMap<Node, u32>,
}

impl SwapPattern {
    fn node(&mut self, node: Node) -> SwapPart {
        let next = self.nodes.len() as u32;
        let number = *self.known.entry(node).or_insert(next);
        if number == next {
            self.nodes.push(node);
        }
        SwapPart { offset: 0, node: number }
    }

    /// A scalar; `None` for a single byte.
    pub fn scalar(&mut self, bytes: u32) -> Option<SwapPart> {
        swap_routine(bytes).map(|_| self.node([RUN, bytes, 1, 0]))
    }

    /// A WSTRING.
    pub fn text(&mut self) -> SwapPart {
        self.node([TEXT, 0, 0, 0])
    }

    /// A part again and again, so many bytes apart.
    pub fn repeat(&mut self, part: SwapPart, count: u32, stride: u32) -> SwapPart {
        if count == 1 {
            return part;
        }
        let node = match self.run(part) {
            Some((bytes, inner)) if u64::from(stride) == u64::from(bytes) * u64::from(inner) => {
                self.node([RUN, bytes, inner.saturating_mul(count), 0])
            }
            _ => self.node([REPEAT, part.node, count, stride]),
        };
        node.at(part.offset)
    }

    /// Parts that lie apart; `None` if there are none.
    pub fn sequence(&mut self, parts: impl IntoIterator<Item = SwapPart>) -> Option<SwapPart> {
        let mut parts: Vec<SwapPart> = parts.into_iter().collect();
        parts.sort_by_key(|part| part.offset);
        let mut joined: Vec<SwapPart> = Vec::new();
        for part in parts {
            let last = joined.last().copied();
            let runs = last.and_then(|last| Some((last, self.run(last)?, self.run(part)?)));
            match runs {
                // Scalars of one size that follow without a gap.
                Some((last, (bytes, count), (other, more)))
                    if bytes == other
                        && u64::from(part.offset)
                            == u64::from(last.offset) + u64::from(bytes) * u64::from(count) =>
                {
                    joined.pop();
                    let run = self.node([RUN, bytes, count.saturating_add(more), 0]);
                    joined.push(run.at(last.offset));
                }
                _ => joined.push(part),
            }
        }
        if let [one] = joined.as_slice() {
            return Some(*one);
        }
        let first = joined.first()?.offset;
        let number = self.nodes.len() as u32;
        self.nodes.push([SEQUENCE, joined.len() as u32, 0, 0]);
        self.nodes.extend(joined.iter().map(|part| [PART, part.offset - first, part.node, 0]));
        Some(SwapPart { offset: first, node: number })
    }

    fn run(&self, part: SwapPart) -> Option<(u32, u32)> {
        match self.nodes.get(part.node as usize) {
            Some([RUN, bytes, count, _]) => Some((*bytes, *count)),
            _ => None,
        }
    }

    /// The pattern as the routine reads it: where to begin, the number of nodes, then the nodes.
    pub fn finish(self, whole: SwapPart) -> Vec<u8> {
        let head = [whole.node, whole.offset, self.nodes.len() as u32, 0];
        std::iter::once(head).chain(self.nodes).flatten().flat_map(u32::to_le_bytes).collect()
    }
}

/// Deepest nesting of nodes; that of types has the same limit.
const DEPTH_MAX: u32 = 128;

/// A walk through a pattern. Whatever the pattern says, it stays inside the value and ends: each sequence and each
/// repetition of a right one has two parts or more, so that there are fewer steps than bytes, and more are not made.
struct Walk<'c, 'd> {
    call: &'c mut NativeCall<'d>,
    value: u32,
    size: u32,
    pattern: u32,
    nodes: u32,
    steps: u64,
}

impl Walk<'_, '_> {
    fn read(&mut self, number: u32) -> Option<Node> {
        if number >= self.nodes {
            return None;
        }
        let at = number.checked_add(1)?.checked_mul(NODE)?.checked_add(self.pattern)?;
        let bytes = self.call.bytes_at(at, NODE);
        let mut node = [0; 4];
        for (word, bytes) in node.iter_mut().zip(bytes.chunks_exact(4)) {
            *word = u32::from_le_bytes(bytes.try_into().ok()?);
        }
        Some(node)
    }

    /// Turns round what a node says, at an offset of the value; `None` stops the walk.
    fn visit(&mut self, number: u32, offset: u32, depth: u32) -> Option<()> {
        self.steps = self.steps.checked_sub(1)?;
        match self.read(number)? {
            [RUN, bytes, count, _] => self.swap(offset, bytes, count),
            [TEXT, ..] => {
                let address = self.address(offset, 4)?;
                let head = self.call.bytes_at(address, 4);
                let word = |at: usize| Some(u16::from_le_bytes([*head.get(at)?, *head.get(at + 1)?]));
                let length = u32::from(word(0)?.min(word(2)?));
                self.swap(offset.checked_add(4)?, 2, length)
            }
            [REPEAT, inner, count, stride] if inner < number && depth < DEPTH_MAX => {
                let mut at = offset;
                for index in 0..count {
                    if index > 0 {
                        at = at.checked_add(stride)?;
                    }
                    self.visit(inner, at, depth + 1)?;
                }
                Some(())
            }
            [SEQUENCE, count, ..] if depth < DEPTH_MAX => {
                for index in 1..=count {
                    let [PART, inner_offset, inner, _] = self.read(number.checked_add(index)?)? else {
                        return None;
                    };
                    if inner >= number {
                        return None;
                    }
                    self.visit(inner, offset.checked_add(inner_offset)?, depth + 1)?;
                }
                Some(())
            }
            _ => None,
        }
    }

    /// The address of so many bytes at an offset of the value.
    fn address(&self, offset: u32, bytes: u32) -> Option<u32> {
        let end = offset.checked_add(bytes)?;
        if end > self.size { None } else { self.value.checked_add(offset) }
    }

    fn swap(&mut self, offset: u32, bytes: u32, count: u32) -> Option<()> {
        let all = bytes.checked_mul(count)?;
        let address = self.address(offset, all)?;
        // A size of 0 would make no chunks.
        let scalars = self.call.bytes_at_mut(address, all).chunks_exact_mut(bytes.max(1) as usize);
        scalars.for_each(<[u8]>::reverse);
        self.call.charge(u64::from(all / 8) + 1);
        Some(())
    }
}

fn swap_by_pattern(call: &mut NativeCall<'_>) {
    let (value, pattern, size) = (call.u32(0), call.u32(8), call.u32(16));
    let mut head = [0; 3];
    for (word, bytes) in head.iter_mut().zip(call.bytes_at(pattern, NODE).chunks_exact(4)) {
        *word = bytes.try_into().map_or(0, u32::from_le_bytes);
    }
    let [first, offset, nodes] = head;
    let steps = u64::from(size) + 1;
    // A pattern that is none ends the walk early; the compiler makes none such.
    let _ = Walk { call, value, size, pattern, nodes, steps }.visit(first, offset, 0);
}

fn swap_2_bytes(call: &mut NativeCall<'_>) {
    let value = call.u16(0);
    call.set_u16(8, value.swap_bytes());
}

fn swap_4_bytes(call: &mut NativeCall<'_>) {
    let value = call.u32(0);
    call.set_u32(8, value.swap_bytes());
}

fn swap_8_bytes(call: &mut NativeCall<'_>) {
    let value = call.u64(0);
    call.set_u64(8, value.swap_bytes());
}

/// The routines of this family.
pub(crate) fn natives() -> Vec<NativeFunction> {
    vec![
        NativeFunction::new("SWAP_2_BYTES", 16, swap_2_bytes),
        NativeFunction::new("SWAP_4_BYTES", 16, swap_4_bytes),
        NativeFunction::new("SWAP_8_BYTES", 16, swap_8_bytes),
        NativeFunction::new(SWAP_PATTERN, 24, swap_by_pattern),
    ]
}
