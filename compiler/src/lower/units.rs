//! Unit by unit from typed bodies to code.

use std::collections::BTreeMap;

use latchwork_vm::{Family, Scalar};

use super::{Context, Shared, code::UnitCode, unit::Lowering};
use crate::{typed::Statement, types::UnitId};

/// Lowers all units. `released` are the bodies that have been taken out of the program, each to be given back when it
/// is lowered; where one is empty, the body is that of the program.
pub(super) fn lower_all(
    context: &Context<'_>,
    shared: &mut Shared,
    released: impl Iterator<Item = Vec<Statement>>,
) -> Vec<UnitCode> {
    let mut codes = Vec::with_capacity(context.program.units.len());
    let mut used = UnitCode::default();
    let units = context.program.units.iter().zip(&context.storage.units).zip(0..).zip(released);
    for (((unit, places), index), released) in units {
        let body = if released.is_empty() { unit.body.as_slice() } else { released.as_slice() };
        let id = UnitId(index);
        let mut lowering = Lowering {
            context,
            shared,
            unit,
            id,
            places,
            code: UnitCode::of(id, used),
            span: unit.span,
            loops: Vec::new(),
            labels: Vec::new(),
            pulses: BTreeMap::new(),
            top: 0,
        };
        lowering.observe_unit();
        lowering.model_unit(body);
        if let Some(forward) = unit.object.forward {
            lowering.entry(forward);
        }
        lowering.labels = (0..unit.labels).map(|_| lowering.code.label()).collect();
        lowering.enter(body);
        lowering.statements(body);
        lowering.observed_unit();
        lowering.tasked_block();
        if !lowering.code.ended() {
            lowering.span = body.last().map_or(unit.span, |last| last.span);
            lowering.emit(Family::Return, Scalar::U8, &[]);
        }
        // A copy takes no more room than it needs.
        codes.push(lowering.code.clone());
        used = lowering.code;
    }
    codes
}
