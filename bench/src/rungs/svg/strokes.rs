//! The lines of a rung: data of SVG paths.

use std::fmt::Write as _;

/// Where continuity is heavy and where not: the data of two paths.
#[derive(Default)]
pub(super) struct Strokes {
    pub(super) light: String,
    pub(super) live: String,
}

impl Strokes {
    pub(super) fn path(&mut self, live: bool) -> &mut String {
        if live { &mut self.live } else { &mut self.light }
    }

    pub(super) fn across(&mut self, from: i64, to: i64, y: i64, live: bool) {
        if to > from {
            let _ = write!(self.path(live), "M{from} {y}H{to}");
        }
    }

    pub(super) fn down(&mut self, x: i64, from: i64, to: i64, live: bool) {
        let _ = write!(self.path(live), "M{x} {from}V{to}");
    }
}
