//! Applying a stimulus in front of the scans, and watching for values that no scan saw.
//!
//! Knows rows and times; knows nothing of wiring or recording.

use latchwork_grammar::Span;
use latchwork_vm::{Machine, Program, Restart, Value};

use super::Missed;
use crate::{
    panel::Panel,
    stimulus::{Stimulus, StimulusCell, Target},
    terminals::{Direction, direction},
};

/// A stimulus being applied.
pub(super) struct Watch<'s> {
    stimulus: Option<&'s Stimulus>,
    next_row: usize,
    columns: Vec<WatchedColumn>,
    /// Columns with a cell since the last scan.
    touched: Vec<u32>,
}

struct WatchedColumn {
    /// Its variable is an input, whose level outlives a restart.
    input: bool,
    /// The level of an input, once it was set.
    level: Option<Value>,
    /// What the last scan saw.
    seen: Option<Value>,
    /// What stands there now.
    current: Option<Value>,
    /// Changes since the last scan, and the cell of the first.
    changes: u64,
    first: Option<Span>,
    missed: u64,
    missed_first: Option<(i64, Span)>,
}

impl<'s> Watch<'s> {
    /// A stimulus about to be applied.
    pub(super) fn new(stimulus: Option<&'s Stimulus>, program: &Program) -> Self {
        let columns = stimulus.map_or(&[][..], |stimulus| &stimulus.columns);
        let watched = columns.iter().map(|column| {
            let input = match &column.target {
                Target::Device(_) | Target::Plant(_) => false,
                Target::Variable(variable) => direction(program, variable) == Direction::Input,
            };
            WatchedColumn {
                input,
                level: None,
                seen: None,
                current: None,
                changes: 0,
                first: None,
                missed: 0,
                missed_first: None,
            }
        });
        Watch { stimulus, next_row: 0, columns: watched.collect(), touched: Vec::new() }
    }

    /// Applies all rows up to a time, before the scan that starts then; the last restart among them.
    pub(super) fn apply(
        &mut self,
        now: i64,
        panel: &mut Panel<'_>,
        machine: &mut Machine,
    ) -> Option<Restart> {
        let stimulus = self.stimulus?;
        let mut restarted = None;
        while let Some(row) = stimulus.rows.get(self.next_row)
            && row.time_ns <= now
        {
            if let Some(restart) = row.restart {
                restarted = Some(restart);
                machine.restart(restart);
                panel.drive(machine);
                for (column, described) in self.columns.iter().zip(&stimulus.columns) {
                    if let (Some(level), Target::Variable(variable)) = (&column.level, &described.target) {
                        // The type was checked when the stimulus was read.
                        let _ = machine.write(variable, level);
                    }
                }
            }
            for cell in stimulus.cells_of_row(self.next_row) {
                self.put(stimulus, cell, panel, machine);
            }
            self.next_row += 1;
        }
        self.close(now);
        restarted
    }

    fn put(
        &mut self,
        stimulus: &Stimulus,
        cell: &StimulusCell,
        panel: &mut Panel<'_>,
        machine: &mut Machine,
    ) {
        let index = cell.column as usize;
        let (Some(column), Some(described)) = (self.columns.get_mut(index), stimulus.columns.get(index))
        else {
            return;
        };
        if column.seen.is_none() {
            let seen = match &described.target {
                Target::Device(device) => panel.devices().get(*device).map(|device| device.state().clone()),
                Target::Variable(variable) => Some(machine.read(variable)),
                Target::Plant(variable) => panel.plant_value(variable),
            };
            column.current.clone_from(&seen);
            column.seen = seen;
            self.touched.push(cell.column);
        }
        if column.current.as_ref() != Some(&cell.value) {
            column.changes += 1;
            column.first.get_or_insert(cell.span);
            column.current = Some(cell.value.clone());
        }
        match &described.target {
            Target::Device(device) => panel.act(*device, &cell.value, machine),
            Target::Plant(variable) => panel.set_plant(variable, &cell.value, machine),
            Target::Variable(variable) => {
                // The type was checked when the stimulus was read.
                let _ = machine.write(variable, &cell.value);
                if column.input {
                    column.level = Some(cell.value.clone());
                }
            }
        }
    }

    /// Counts what the scan at `now` will not see.
    fn close(&mut self, now: i64) {
        for index in self.touched.drain(..) {
            let Some(column) = self.columns.get_mut(index as usize) else { continue };
            let two_state = matches!(column.seen, Some(Value::Bool(_)));
            let arrived = u64::from(column.current != column.seen);
            // Of n changes the scan sees the last value. A BOOL that changes twice more than seen made one pulse.
            let missed = match (column.changes, two_state) {
                (0, _) => 0,
                (changes, true) => (changes - arrived) / 2,
                (changes, false) => changes - 1,
            };
            if missed > 0 {
                column.missed += missed;
                if let Some(cell) = column.first {
                    column.missed_first.get_or_insert((now, cell));
                }
            }
            column.seen = None;
            column.changes = 0;
            column.first = None;
        }
    }

    /// What was missed, by column, and how many rows were never applied.
    pub(super) fn finish(self) -> (Vec<Missed>, usize) {
        let Some(stimulus) = self.stimulus else { return (Vec::new(), 0) };
        let missed = stimulus.columns.iter().zip(&self.columns).filter_map(|(described, column)| {
            let (scan_time_ns, cell) = column.missed_first?;
            Some(Missed { column: described.name.clone(), count: column.missed, scan_time_ns, cell })
        });
        (missed.collect(), stimulus.rows.len().saturating_sub(self.next_row))
    }
}
