//! Final places: what the spots of the lowering come to in the data image, and lines and columns in the text.

use std::cell::Cell;

use latchwork_grammar::{Sources, Span};
use latchwork_vm::{Place, SourcePlace};

use crate::layout::{Base, Spot};

/// Knows the final place of everything.
pub(crate) struct Resolver<'a> {
    /// Address of the frame of each unit.
    pub frames: Vec<u32>,
    /// Bytes of the variables in the frame of each unit, and address of its temporaries, which are counted on from
    /// there.
    pub temporaries: Vec<(u32, u32)>,
    /// Address of the constants.
    pub constants: u32,
    /// Lines and columns.
    pub sources: &'a Sources,
    /// Index of each source file in the debug tables.
    pub files: Vec<u32>,
    /// Index in the image of each table of [`Argument::Dispatch`].
    pub dispatch: Vec<u32>,
    /// The span that was looked up last.
    pub last: Cell<Option<(Span, SourcePlace)>>,
}

impl Resolver<'_> {
    /// The machine's place of a spot.
    pub(crate) fn resolve(&self, spot: Spot) -> Place {
        match spot.base {
            Base::Instance => Place::relative(spot.offset),
            _ => Place::absolute(self.absolute(spot)),
        }
    }

    /// The absolute address of a spot that is not relative to an instance.
    pub(crate) fn absolute(&self, spot: Spot) -> u32 {
        let base = match spot.base {
            Base::Data | Base::Instance => 0,
            Base::Frame(unit) => {
                let unit = unit.0 as usize;
                if let Some((variables, start)) = self.temporaries.get(unit)
                    && let Some(offset) = spot.offset.checked_sub(*variables)
                {
                    return start.saturating_add(offset);
                }
                self.frames.get(unit).copied().unwrap_or(0)
            }
            Base::Constants => self.constants,
        };
        base.saturating_add(spot.offset)
    }

    /// Line and column of a place in the text.
    pub(super) fn place(&self, span: Span) -> SourcePlace {
        // A statement is several instructions.
        if let Some((last, place)) = self.last.get()
            && last == span
        {
            return place;
        }
        // Statements follow one another, so the next line is not far.
        let near = self.last.get().map_or(1, |(_, place)| place.line);
        let ((line, column), (end_line, end_column)) = self.sources.range_near(span, near);
        let file = self.files.get(span.file.0 as usize).copied().unwrap_or(0);
        let place = SourcePlace { file, line, column, end_line, end_column };
        self.last.set(Some((span, place)));
        place
    }
}
