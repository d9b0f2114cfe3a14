//! One unit: its state while it is lowered, temporaries, and what happens on entry.
//!
//! On entry a function sets its outputs, variables and result to their initial values, another unit its
//! VAR_TEMP (IEC 61131-3:2013, 6.5.2 and 6.6.2.1); then the hidden triggers of edge inputs run (table 40).

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{Edge, SectionKind, UnitKind},
};
use latchwork_vm::{ElementaryType, Family, Scalar};

use super::{
    Context, Shared,
    code::{Argument, Label, UnitCode},
    first_writes::writes_all_first,
};
use crate::{
    layout::{
        Base, Spot, align_up, initial,
        references::{Scope, refers},
        sizes::elements,
        storage::{ResetRange, UnitStorage},
    },
    typed::{
        Access, Constant, Expression, ExpressionKind, InitialValue, Root, Statement, Step, TypedUnit,
        Variable, VariableId,
    },
    types::{Type, TypeId, UnitId},
};

/// Labels of an enclosing loop.
#[derive(Clone, Copy, Debug)]
pub(super) struct Loop {
    /// Where the next pass begins.
    pub next: Label,
    /// Behind the loop.
    pub exit: Label,
}

/// A unit being lowered.
pub(super) struct Lowering<'a> {
    /// What all units share and do not change.
    pub context: &'a Context<'a>,
    /// What all units share and change.
    pub shared: &'a mut Shared,
    /// The unit.
    pub unit: &'a TypedUnit,
    /// Its number.
    pub id: UnitId,
    /// Its places.
    pub places: &'a UnitStorage,
    /// Its code so far.
    pub code: UnitCode,
    /// Source of the instructions that follow.
    pub span: Span,
    /// Enclosing loops, innermost last.
    pub loops: Vec<Loop>,
    /// Labels of Instruction List.
    pub labels: Vec<Label>,
    /// What the names of edge inputs stand for.
    pub pulses: BTreeMap<u32, Spot>,
    /// Bytes of temporaries in use.
    pub top: u32,
}

/// The initial content of the variables in a unit's frame.
pub(crate) fn frame_content(context: &Context<'_>, id: UnitId) -> Vec<u8> {
    let (Some(unit), Some(places)) =
        (context.program.units.get(id.0 as usize), context.storage.units.get(id.0 as usize))
    else {
        return Vec::new();
    };
    // Frames have been checked to fit into the data image together.
    let mut content = vec![0; places.frame_bytes as usize];
    for (variable, storage) in unit.variables.iter().zip(&places.variables) {
        if storage.spot.base != Base::Frame(id) || storage.indirect {
            continue;
        }
        let start = storage.spot.offset as usize;
        let size = context.storage.sizes.size(variable.kind) as usize;
        if let Some(out) = content.get_mut(start..start.saturating_add(size)) {
            variable_content(context, id, variable, out);
            // ENO starts TRUE (6.6.1.5).
            let is_eno = variable.name.is_some() && variable.name == context.eno;
            if let ([out], true) = (out, is_eno && variable.section == SectionKind::Output) {
                *out = 1;
            }
        }
    }
    content
}

/// The initial content of a variable outside of every instance.
pub(super) fn variable_content(context: &Context<'_>, unit: UnitId, variable: &Variable, out: &mut [u8]) {
    context.initial.variable(variable, out);
    let scope = Scope { unit, instance: None };
    context.references.variable(variable, 0, Some(scope), &mut |at, address| put_address(out, at, address));
}

/// Writes an address into a content.
pub(super) fn put_address(out: &mut [u8], at: u32, address: u32) {
    if let Some(out) = out.get_mut(at as usize..(at as usize).saturating_add(4)) {
        out.copy_from_slice(&address.to_le_bytes());
    }
}

impl Lowering<'_> {
    pub(super) fn enter(&mut self, body: &[Statement]) {
        if let Some(range) = self.places.reset.filter(|range| !self.writes_first(*range, body)) {
            self.reset(self.id, range);
            self.refer_to_instance();
        }
        let Some(instance) = &self.places.instance else { return };
        for edge in &instance.edges {
            let Some(storage) = self.places.variables.get(edge.variable as usize) else { continue };
            let clock = storage.spot;
            let memory = Spot::new(Base::Instance, edge.memory);
            let pulse = Spot::new(Base::Instance, edge.pulse);
            if let Some(variable) = self.unit.variables.get(edge.variable as usize) {
                self.span = variable.span;
            }
            match edge.edge {
                // The body of R_TRIG: Q := CLK AND NOT M; M := CLK;
                Edge::Rising => {
                    self.emit(Family::AndNot, Scalar::U8, &[pulse.into(), clock.into(), memory.into()]);
                    self.emit(Family::Move, Scalar::U8, &[memory.into(), clock.into()]);
                }
                // The body of F_TRIG: Q := NOT CLK AND NOT M; M := NOT CLK;
                Edge::Falling => {
                    self.emit(Family::BoolOr, Scalar::U8, &[pulse.into(), clock.into(), memory.into()]);
                    self.emit(Family::Not, Scalar::U8, &[pulse.into(), pulse.into()]);
                    self.emit(Family::Not, Scalar::U8, &[memory.into(), clock.into()]);
                }
            }
            self.pulses.insert(edge.variable, pulse);
        }
    }

    /// Whether the body writes every variable of a part of the frame before it reads one of them, so that none needs its
    /// initial value.
    fn writes_first(&self, range: ResetRange, body: &[Statement]) -> bool {
        let end = range.offset.saturating_add(range.size);
        let inside =
            |spot: Spot| spot.base == Base::Frame(self.id) && (range.offset..end).contains(&spot.offset);
        let variables = self.places.variables.iter().zip(0..).filter(|(storage, _)| inside(storage.spot));
        self.unit.object.forward.is_none()
            && writes_all_first(body, variables.map(|(_, index)| VariableId(index)).collect())
    }

    /// VAR_TEMP, and variables of a method, that refer to the instance, which differs from call to call.
    fn refer_to_instance(&mut self) {
        let unit = self.unit;
        for (variable, index) in unit.variables.iter().zip(0..) {
            let own = match unit.kind {
                UnitKind::Method => !matches!(variable.section, SectionKind::Input | SectionKind::InOut),
                _ => variable.section == SectionKind::Temp,
            };
            if !own {
                continue;
            }
            if let Some(initial) = variable.initial.as_ref().filter(|initial| refers(initial)) {
                self.span = variable.span;
                let root = Root::Variable(VariableId(index));
                let target = Access::whole(root, variable.kind, variable.span);
                self.refer(target, initial);
            }
        }
    }

    fn refer(&mut self, target: Access, value: &InitialValue) {
        let step = |step: Step| {
            let ty = self.step_type(target.ty, &step)?;
            let steps = target.steps.iter().cloned().chain([step]).collect();
            Some(Access { root: target.root.clone(), steps, ty, span: target.span })
        };
        let parts: Vec<(Option<Access>, &InitialValue)> = match (value, self.underlying(target.ty)) {
            (InitialValue::Reference(access), _) => {
                let value = Expression {
                    kind: ExpressionKind::Reference(access.clone()),
                    ty: target.ty,
                    span: target.span,
                };
                return self.assign(&target, &value);
            }
            (InitialValue::Members(members), _) => {
                members.iter().map(|(index, value)| (step(Step::Member(*index)), value)).collect()
            }
            (InitialValue::Array(values), Type::Array { bounds, .. }) => {
                let all = values.iter().zip(0u64..).filter_map(|(value, position)| {
                    let value = value.as_ref().filter(|value| refers(value))?;
                    Some((step(Step::Index(self.subscripts(bounds, position, target.span))), value))
                });
                all.collect()
            }
            _ => return,
        };
        for (part, value) in parts {
            if let Some(part) = part {
                self.refer(part, value);
            }
        }
    }

    /// The subscripts of the element at a position, counted from 0 with the rightmost subscript fastest.
    fn subscripts(&self, bounds: &[(i64, i64)], mut position: u64, span: Span) -> Vec<Expression> {
        let mut all = Vec::with_capacity(bounds.len());
        for bound in bounds.iter().rev() {
            let count = elements(&[*bound]).max(1);
            let value = i128::from(bound.0) + i128::from(position % count);
            position /= count;
            let kind = ExpressionKind::Constant(Constant::Integer(value));
            // A known subscript needs no type.
            all.push(Expression { kind, ty: TypeId(0), span });
        }
        all.reverse();
        all
    }

    /// Sets a part of a unit's frame to its initial values.
    pub(super) fn reset(&mut self, id: UnitId, range: ResetRange) {
        let content = frame_content(self.context, id);
        let (start, size) = (range.offset as usize, range.size as usize);
        let Some(template) = content.get(start..start.saturating_add(size)) else { return };
        let target = Spot::new(Base::Frame(id), range.offset);
        let scalar = match range.size {
            1 => Some(Scalar::U8),
            2 => Some(Scalar::U16),
            4 => Some(Scalar::U32),
            8 => Some(Scalar::U64),
            _ => None,
        };
        let source = self.shared.pool.constant(template, scalar.map_or(8, Scalar::size));
        match scalar {
            Some(scalar) => self.emit(Family::Move, scalar, &[target.into(), source.into()]),
            None => {
                let bytes = Argument::Immediate(range.size);
                self.emit(Family::Copy, Scalar::U8, &[target.into(), source.into(), bytes]);
            }
        }
    }

    /// Appends an instruction at the current source place.
    pub(super) fn emit(&mut self, family: Family, scalar: Scalar, arguments: &[Argument]) {
        self.code.emit(family, scalar, arguments, self.span);
    }

    /// A temporary; given back by setting [`Self::top`] to what it was before.
    pub(super) fn temporary(&mut self, bytes: u32, align: u32) -> Spot {
        // Saturates far above the limit, which is checked when the image is put together.
        let offset = u32::try_from(align_up(u64::from(self.top), align)).unwrap_or(u32::MAX);
        self.top = offset.saturating_add(bytes);
        self.code.temporary_bytes = self.code.temporary_bytes.max(self.top);
        Spot::new(Base::Frame(self.id), self.places.frame_bytes.saturating_add(offset))
    }

    /// A temporary for a scalar.
    pub(super) fn scalar_temporary(&mut self, scalar: Scalar) -> Spot {
        self.temporary(scalar.size(), scalar.size())
    }

    /// Takes a temporary again that has been given back, so that its value stays; other places are left alone.
    pub(super) fn keep(&mut self, spot: Spot, scalar: Scalar) {
        if spot.base == Base::Frame(self.id) && spot.offset >= self.places.frame_bytes {
            let end = (spot.offset - self.places.frame_bytes).saturating_add(scalar.size());
            self.top = self.top.max(end);
        }
    }

    /// Whether a place keeps its value whatever is called: constants and temporaries.
    pub(super) fn is_stable(&self, spot: Spot) -> bool {
        match spot.base {
            Base::Constants => true,
            Base::Frame(id) => id == self.id && spot.offset >= self.places.frame_bytes,
            Base::Data | Base::Instance => false,
        }
    }

    /// A place with the same value that no call changes.
    pub(super) fn stabilise(&mut self, spot: Spot, scalar: Scalar) -> Spot {
        if self.is_stable(spot) {
            return spot;
        }
        let copy = self.scalar_temporary(scalar);
        self.emit(Family::Move, scalar.bits(), &[copy.into(), spot.into()]);
        copy
    }

    /// The place of a constant stored as a scalar.
    pub(super) fn constant(&mut self, constant: &Constant, scalar: Scalar) -> Spot {
        self.shared.pool.constant(&initial::scalar_bytes(constant, scalar), scalar.size())
    }

    /// The place of an integer constant.
    pub(super) fn integer(&mut self, value: i128, scalar: Scalar) -> Spot {
        self.constant(&Constant::Integer(value), scalar)
    }

    /// What stores a type; for types that a checked program has where a scalar is needed.
    pub(super) fn scalar(&mut self, id: TypeId) -> Scalar {
        match self.scalar_of(id) {
            Some(scalar) => scalar,
            None => {
                self.internal("a value of this type has no scalar");
                Scalar::U8
            }
        }
    }

    /// What stores a type, if it is a scalar.
    pub(super) fn scalar_of(&self, id: TypeId) -> Option<Scalar> {
        crate::layout::scalar_of(&self.context.program.types, id)
    }

    /// The type behind derived names.
    pub(super) fn underlying(&self, id: TypeId) -> &Type {
        let types = &self.context.program.types;
        types.get(types.underlying(id))
    }

    /// The elementary type a type has the values of, strings included.
    pub(super) fn elementary(&self, id: TypeId) -> Option<ElementaryType> {
        match self.underlying(id) {
            Type::String { wide: false, .. } => Some(ElementaryType::String),
            Type::String { wide: true, .. } => Some(ElementaryType::Wstring),
            _ => self.context.program.types.elementary_base(id),
        }
    }

    /// Bytes of a type.
    pub(super) fn size(&self, id: TypeId) -> u32 {
        self.context.storage.sizes.size(id)
    }

    /// The index of the variable of a unit with a name, if it is in a section.
    pub(super) fn named_variable(
        &self,
        unit: UnitId,
        name: Option<Name>,
        section: SectionKind,
    ) -> Option<u32> {
        // A program in which nothing bears the name need not be searched.
        name?;
        let unit = self.context.program.units.get(unit.0 as usize)?;
        let found = unit
            .variables
            .iter()
            .zip(0..)
            .find(|(variable, _)| variable.name == name && variable.section == section);
        found.map(|(_, index)| index)
    }

    /// Reports that the typed tree breaks its promises: a mistake of the compiler, not of the program.
    pub(super) fn internal(&mut self, what: &str) {
        self.shared.errors.push(
            Diagnostic::error("internal", self.span, format!("the compiler cannot translate this: {what}"))
                .note("This is a mistake of the compiler. Please report it with the source text."),
        );
    }
}

/// The machine's kind of a unit.
pub(crate) fn machine_kind(kind: UnitKind) -> latchwork_vm::UnitKind {
    match kind {
        UnitKind::Program => latchwork_vm::UnitKind::Program,
        UnitKind::FunctionBlock => latchwork_vm::UnitKind::FunctionBlock,
        UnitKind::Function => latchwork_vm::UnitKind::Function,
        UnitKind::Class | UnitKind::Method => latchwork_vm::UnitKind::Method,
    }
}
