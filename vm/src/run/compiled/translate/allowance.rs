//! How much is compiled, so that it never takes longer than some seconds, whatever program is loaded.

use cranelift_codegen::ir::Function;

/// What may still be done for a program. It also keeps functions far below 2^24 values, beyond which the code generator
/// would confuse them.
pub(super) struct Allowance {
    /// Instructions of units that are put into the code of others.
    pub(super) room: u32,
    /// The sum of [`effort`] of all functions.
    pub(super) effort: usize,
    /// Instructions of the code generator in programs that are put into the code around them, which is one function.
    pub(super) surrounded: usize,
}

impl Allowance {
    /// For a program of so many instructions. What is put into others is altogether little more than what there is, so
    /// that many small units do not become one large program.
    pub(super) const fn new(instructions: usize) -> Self {
        // A program that is compiled has at most `super::super::INSTRUCTIONS`.
        Self { room: 4096 + instructions as u32, effort: 1 << 21, surrounded: 1 << 15 }
    }
}

/// What it takes to compile a function, in instructions of the code generator. The choice of registers may take time that
/// grows with the square of their number; from some ten thousand on that is most of it.
pub(super) fn effort(function: &Function) -> usize {
    let size = function.dfg.num_insts();
    size + size * (size >> 16)
}
