//! Where the statements and parts of a program stand in its logic, and what a statement writes.

use latchwork_compiler::logic::{Logic, LogicKind, LogicStatement, LogicUnit, Part};

/// What a number of the journal stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct PlaceOf {
    /// The statement that it belongs to.
    pub(super) statement: u32,
    /// Which of its parts it is.
    pub(super) index: u32,
    /// The part whose address is noted, and the distance from there to what this one writes: an input value is stored at
    /// a distance from the instance.
    pub(super) anchor: u32,
    pub(super) offset: u32,
    /// How many bytes are written there; 0 if it is only read.
    pub(super) written: u32,
}

/// All numbers of a program.
#[derive(Clone, Debug, Default)]
pub(super) struct Layout {
    /// By number: the part that it is, if it is one.
    parts: Vec<Option<PlaceOf>>,
    /// By number of a statement: the unit, and the way through the lists of statements: which list, which in it.
    statements: Vec<Option<Way>>,
}

#[derive(Clone, Debug)]
struct Way {
    unit: u32,
    steps: Box<[(u32, u32)]>,
    /// How many parts it has.
    parts: u32,
    /// The parts that write, with the anchor of each.
    writers: Box<[u32]>,
}

impl Layout {
    pub(super) fn new(logic: &Logic) -> Self {
        let numbers = logic.numbers as usize;
        let mut layout = Layout { parts: vec![None; numbers], statements: vec![None; numbers] };
        for (unit, number) in logic.units.iter().zip(0..) {
            layout.enter_all(&unit.statements, number, 0, &mut Vec::new());
        }
        layout
    }

    /// Statements nest as deep as the grammar allows.
    fn enter_all(&mut self, list: &[LogicStatement], unit: u32, which: u32, way: &mut Vec<(u32, u32)>) {
        for (statement, position) in list.iter().zip(0..) {
            way.push((which, position));
            self.enter(statement, unit, way);
            for (inner, which) in statement.inner().into_iter().zip(0..) {
                self.enter_all(inner, unit, which, way);
            }
            way.pop();
        }
    }

    fn enter(&mut self, statement: &LogicStatement, unit: u32, way: &[(u32, u32)]) {
        let mut entering =
            Entering { layout: self, statement: statement.number, count: 0, writers: Vec::new() };
        for part in statement.kind.parts() {
            entering.part(part);
        }
        match &statement.kind {
            LogicKind::Assign { target, .. } => entering.writes(target, target, 0, target.bytes),
            LogicKind::For { variable, .. } => entering.writes(variable, variable, 0, variable.bytes),
            LogicKind::Call(call) => {
                if let Some(standard) = call.standard {
                    entering.writes(&call.instance, &call.instance, 0, standard.bytes);
                } else {
                    for input in &call.inputs {
                        entering.writes(&input.value, &call.instance, input.offset, input.value.bytes);
                    }
                }
                for output in &call.outputs {
                    entering.writes(&output.target, &output.target, 0, output.target.bytes);
                }
                if let Some(target) = &call.enable_output {
                    entering.writes(target, target, 0, target.bytes);
                }
            }
            _ => {}
        }
        let Entering { count, writers, .. } = entering;
        let made = Way { unit, steps: way.into(), parts: count, writers: writers.into() };
        if let Some(slot) = self.statements.get_mut(statement.number as usize) {
            *slot = Some(made);
        }
    }

    pub(super) fn place_of(&self, part: u32) -> Option<PlaceOf> {
        self.parts.get(part as usize).copied().flatten()
    }

    /// How many parts a statement has; `None` if the number is that of a part.
    pub(super) fn parts_of(&self, statement: u32) -> Option<u32> {
        self.way(statement).map(|way| way.parts)
    }

    /// The numbers of the parts of a statement that write.
    pub(super) fn writers_of(&self, statement: u32) -> &[u32] {
        self.way(statement).map_or(&[], |way| &way.writers)
    }

    fn way(&self, statement: u32) -> Option<&Way> {
        self.statements.get(statement as usize)?.as_ref()
    }

    pub(super) fn statement<'l>(
        &self,
        logic: &'l Logic,
        number: u32,
    ) -> Option<(&'l LogicUnit, &'l LogicStatement)> {
        let way = self.way(number)?;
        let unit = logic.units.get(way.unit as usize)?;
        let mut steps = way.steps.iter();
        let (_, first) = steps.next()?;
        let mut statement = unit.statements.get(*first as usize)?;
        for (list, position) in steps {
            statement = statement.inner().get(*list as usize)?.get(*position as usize)?;
        }
        Some((unit, statement))
    }

    pub(super) fn part<'l>(&self, logic: &'l Logic, number: u32) -> Option<&'l Part> {
        let (_, statement) = self.statement(logic, self.place_of(number)?.statement)?;
        statement.kind.parts().into_iter().find_map(|part| find(part, number))
    }
}

/// A statement whose parts are being counted.
struct Entering<'l> {
    layout: &'l mut Layout,
    statement: u32,
    count: u32,
    writers: Vec<u32>,
}

impl Entering<'_> {
    /// Parts nest no deeper than the model follows them.
    fn part(&mut self, part: &Part) {
        let index = self.count;
        self.count += 1;
        if let Some(slot) = self.layout.parts.get_mut(part.number as usize) {
            let statement = self.statement;
            *slot = Some(PlaceOf { statement, index, anchor: index, offset: 0, written: 0 });
        }
        part.operands().into_iter().for_each(|operand| self.part(operand));
        for output in part.outputs() {
            self.part(output);
            self.writes(output, output, 0, output.bytes);
        }
    }

    fn writes(&mut self, part: &Part, anchor: &Part, offset: u32, written: u32) {
        let Some(anchor) = self.layout.place_of(anchor.number).map(|place| place.index) else { return };
        if let Some(Some(place)) = self.layout.parts.get_mut(part.number as usize) {
            *place = PlaceOf { anchor, offset, written, ..*place };
            self.writers.push(part.number);
        }
    }
}

fn find(part: &Part, number: u32) -> Option<&Part> {
    if part.number == number {
        return Some(part);
    }
    part.operands().into_iter().chain(part.outputs()).find_map(|inner| find(inner, number))
}
