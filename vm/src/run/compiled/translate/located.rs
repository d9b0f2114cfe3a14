//! Located bits between their areas and their places.

use super::scan::Surround;
use crate::machine::process_image::BitRun;
use cranelift_codegen::ir::{InstBuilder, Value, types};

impl Surround<'_> {
    /// Input bits from their byte to their places. The byte is read once, for a place may be a byte of the area.
    pub(super) fn latch(&mut self, run: &BitRun) {
        let byte = self.load(types::I8, run.byte);
        let byte = self.builder.ins().uextend(types::I32, byte);
        for (from, width) in pieces(run.count, &[4, 1]) {
            let bits = self.builder.ins().ushr_imm(byte, i64::from(run.first + from));
            let place = run.place + u32::from(from);
            if width == 4 {
                // Each bit in a byte of its own: four copies, seven bits apart, do not overlap.
                let bits = self.builder.ins().band_imm(bits, 0xf);
                let copies = self.builder.ins().imul_imm(bits, 0x0020_4081);
                let bytes = self.builder.ins().band_imm(copies, 0x0101_0101);
                self.store(bytes, place);
            } else {
                let bit = self.builder.ins().band_imm(bits, 1);
                let bit = self.builder.ins().ireduce(types::I8, bit);
                self.store(bit, place);
            }
        }
    }

    /// Output and memory bits of one byte from their places to it.
    pub(super) fn publish(&mut self, runs: &[BitRun]) {
        let Some(first) = runs.first() else { return };
        let mut own = 0_u8;
        let mut values: Option<Value> = None;
        for run in runs {
            own |= run.bits();
            for (from, width) in pieces(run.count, &[8, 4, 1]) {
                let bits = self.gathered(run.place + u32::from(from), width);
                let bits = self.builder.ins().ishl_imm(bits, i64::from(run.first + from));
                values = Some(values.map_or(bits, |values| self.builder.ins().bor(values, bits)));
            }
        }
        let Some(values) = values else { return };
        let mut byte = self.builder.ins().ireduce(types::I8, values);
        if own != u8::MAX {
            let before = self.load(types::I8, first.byte);
            let others = self.builder.ins().band_imm(before, i64::from(!own));
            byte = self.builder.ins().bor(others, byte);
        }
        self.store(byte, first.byte);
    }

    /// The lowest bits of so many bytes, side by side.
    fn gathered(&mut self, place: u32, width: u8) -> Value {
        // The product has the bits side by side at its upper end, and no carries below them.
        let (kind, ones, factor) = match width {
            8 => (types::I64, 0x0101_0101_0101_0101, 0x0102_0408_1020_4080),
            4 => (types::I32, 0x0101_0101, 0x1020_4080),
            _ => {
                let byte = self.load(types::I8, place);
                let bit = self.builder.ins().band_imm(byte, 1);
                return self.builder.ins().uextend(types::I32, bit);
            }
        };
        let bytes = self.load(kind, place);
        let bytes = self.builder.ins().band_imm(bytes, ones);
        let product = self.builder.ins().imul_imm(bytes, factor);
        let bits = self.builder.ins().ushr_imm(product, i64::from(kind.bits() - u32::from(width)));
        if width == 8 { self.builder.ins().ireduce(types::I32, bits) } else { bits }
    }
}

/// So many bits in pieces of the given widths, the last of which is 1: where each begins, and its width.
fn pieces(count: u8, widths: &[u8]) -> Vec<(u8, u8)> {
    let mut pieces = Vec::new();
    let mut from = 0;
    for width in widths {
        while count - from >= *width {
            pieces.push((from, *width));
            from += width;
        }
    }
    pieces
}
