//! Comparisons with the jump behind them, and pairs of operations where one works on the result of the other.

use super::{Comparison, Form, Group, Operation, Source, overlap, target};
use crate::instruction::Family;
use crate::types::Scalar;

/// The group that begins at an instruction, if it is worth one.
pub(super) fn group(source: &Source<'_>, start: usize) -> Option<Group> {
    let (opcode, _) = source.get(start, start)?;
    if let Some(comparison) = Comparison::of(opcode.family()) {
        return compare_jump(source, start, comparison);
    }
    match opcode.family() {
        Family::ToF32 | Family::ToF64 => convert_chain(source, start),
        Family::Minimum | Family::Maximum => limit(source, start),
        _ => chain(source, start).or_else(|| chain_convert(source, start)),
    }
}

/// The operation behind an instruction that works on its result, which nothing else reads: the operation, its scalar,
/// the place of its result, the other operand, and whether the result is its right operand.
pub(super) fn following(
    source: &Source<'_>,
    start: usize,
    result: u32,
) -> Option<(Operation, Scalar, u32, u32, bool)> {
    let (opcode, [to, left, right, _]) = source.get(start, start + 1)?;
    let operation = Operation::of(opcode.family())?;
    if !source.lifetimes.ends_by(start, start + 1) {
        return None;
    }
    let (other, flipped) = match (*left == result, *right == result) {
        (true, false) => (*right, false),
        (false, true) => (*left, true),
        _ => return None,
    };
    let bytes = opcode.scalar().size();
    let apart = !overlap((other, bytes), (result, bytes));
    apart.then_some((operation, opcode.scalar(), *to, other, flipped))
}

fn convert_chain(source: &Source<'_>, start: usize) -> Option<Group> {
    let (opcode, [result, number, ..]) = source.get(start, start)?;
    let (second, scalar, to, other, flipped) = following(source, start, *result)?;
    let from = opcode.scalar();
    let same =
        matches!((opcode.family(), scalar), (Family::ToF32, Scalar::F32) | (Family::ToF64, Scalar::F64));
    if !same || !matches!(from, Scalar::U8 | Scalar::I16 | Scalar::U16 | Scalar::I32) {
        return None;
    }
    let form = Form::ConvertChain { from, second, scalar, flipped };
    Some(Group { form, length: 2, words: [to, *number, other, 0], tail: [0; 2], jump: None })
}

fn chain_convert(source: &Source<'_>, start: usize) -> Option<Group> {
    let (first, [result, left, right, _]) = source.get(start, start)?;
    let (conversion, [to, from, ..]) = source.get(start, start + 1)?;
    let scalar = first.scalar();
    let common = matches!(
        conversion.family(),
        Family::ToI16 | Family::ToI32 | Family::TruncateI16 | Family::TruncateI32
    );
    let real = matches!(scalar, Scalar::F32 | Scalar::F64) && conversion.scalar() == scalar;
    if !common || !real || from != result || !source.lifetimes.ends_by(start, start + 1) {
        return None;
    }
    let form =
        Form::ChainConvert { first: Operation::of(first.family())?, scalar, conversion: conversion.family() };
    Some(Group { form, length: 2, words: [*to, *left, *right, 0], tail: [0; 2], jump: None })
}

fn limit(source: &Source<'_>, start: usize) -> Option<Group> {
    let (first, [result, left, right, _]) = source.get(start, start)?;
    let (second, [to, a, b, _]) = source.get(start, start + 1)?;
    let scalar = first.scalar();
    let upper_first = first.family() == Family::Minimum;
    let other = if upper_first { Family::Maximum } else { Family::Minimum };
    let common = matches!(scalar, Scalar::I16 | Scalar::I32 | Scalar::F32 | Scalar::F64);
    let bytes = scalar.size();
    let apart = !overlap((*b, bytes), (*result, bytes));
    if !common || second.family() != other || second.scalar() != scalar || a != result || !apart {
        return None;
    }
    let form = Form::Limit { scalar, upper_first };
    let group = Group { form, length: 2, words: [*to, *left, *right, *b], tail: [0; 2], jump: None };
    source.lifetimes.ends_by(start, start + 1).then_some(group)
}

fn compare_jump(source: &Source<'_>, start: usize, comparison: Comparison) -> Option<Group> {
    let (opcode, [result, left, right, _]) = source.get(start, start)?;
    let (jump, operands) = source.get(start, start + 1)?;
    let when = match jump.family() {
        Family::JumpIf => true,
        Family::JumpUnless => false,
        _ => return None,
    };
    let scalar = opcode.scalar();
    let (_, target) = target(jump, operands, start + 1)?;
    if operands[0] != *result || !source.lifetimes.ends_by(start, start + 1) || !is_common(scalar) {
        return None;
    }
    Some(Group {
        form: Form::CompareJump { comparison, scalar, when },
        length: 2,
        words: [*left, *right, 0, 0],
        tail: [0; 2],
        jump: Some((3, target)),
    })
}

/// Scalars that programs compare often enough for handlers of their own.
const fn is_common(scalar: Scalar) -> bool {
    !matches!(scalar, Scalar::I8)
}

fn chain(source: &Source<'_>, start: usize) -> Option<Group> {
    let (opcode, [result, left, right, _]) = source.get(start, start)?;
    let first = Operation::of(opcode.family())?;
    let (second, scalar, to, other, flipped) = following(source, start, *result)?;
    let chained = matches!(scalar, Scalar::I16 | Scalar::I32 | Scalar::F32 | Scalar::F64);
    if !chained || opcode.scalar() != scalar {
        return None;
    }
    let form = Form::Chain { first, second, scalar, flipped };
    Some(Group { form, length: 2, words: [to, *left, *right, other], tail: [0; 2], jump: None })
}
