//! Members with relative addresses that lie over one another, which only OVERLAP allows.
//!
//! Implements IEC 61131-3:2013, table 11, features 8 and 9.

use latchwork_grammar::Span;

use super::sizes::Sizes;
use crate::{
    typed::TypedProgram,
    types::{DerivedId, StructureMember, Types},
};

/// Pairs of members that share bits: the later declared one first.
pub(crate) fn shared(program: &TypedProgram) -> Vec<(Span, Span)> {
    let sizes = Sizes::new(program);
    let mut found = Vec::new();
    for id in placed_structures(&program.types) {
        let mut members: Vec<(u64, u64, Span)> = program
            .types
            .structure(id)
            .members
            .iter()
            .filter_map(|member| {
                let (start, bits) = range(&sizes, member)?;
                Some((start, start.saturating_add(bits), member.span))
            })
            .collect();
        members.sort();
        // The one that reaches farthest so far is the one a later start may lie in.
        let mut widest: Option<(u64, Span)> = None;
        for (start, end, span) in members {
            if let Some((reach, before)) = widest
                && start < reach
            {
                found.push((before.max(span), before.min(span)));
            }
            if widest.is_none_or(|(reach, _)| end > reach) {
                widest = Some((end, span));
            }
        }
    }
    found
}

/// The structures whose members have places and must not overlap.
fn placed_structures(types: &Types) -> impl Iterator<Item = DerivedId> {
    (0..types.structures()).map(|index| DerivedId(index as u32)).filter(|id| {
        let structure = types.structure(*id);
        !structure.overlap && structure.members.iter().any(|member| member.place.is_some())
    })
}

/// First bit and number of bits.
fn range(sizes: &Sizes<'_>, member: &StructureMember) -> Option<(u64, u64)> {
    let place = member.place?;
    let start = u64::from(place.byte) * 8;
    match place.bit {
        Some(bit) => Some((start + u64::from(bit), 1)),
        None => Some((start, sizes.extent(member.kind).ok()?.size.saturating_mul(8))),
    }
}
