//! A sheet without a procedure: one device after the other, with what the loads do until nothing more happens.

use std::sync::Arc;

use latchwork_vm::Value;

use super::{
    CELLS_MAX, COST_MAX, HAND_NS, Part, Process, Sheet, SheetError, SheetOptions, Step, Watch,
    act::{bring, named},
    behaviour::Behaviour,
    behind::STEPS_EACH,
    lists::{self, middle},
    rows::{self, Start, stopped},
    settle::{Ahead, Hand, History, Stopped},
    text::Text,
    words::{SECOND_NS, stopwatch},
};
use crate::{
    station::{Device, DeviceForm, Station},
    wiring_proof::observed::Board,
};

/// How much longer a person looks on than something is to be seen, in nanoseconds.
const AFTER_NS: i64 = SECOND_NS;

/// Longest time that a person is asked to look on, in nanoseconds.
const WATCH_MAX_NS: i64 = 600 * SECOND_NS;

/// The sheet of a board. Faults that its station file places are left out.
///
/// # Errors
/// [`SheetError::TooLarge`].
pub fn by_hand(board: &Board<'_>, options: &SheetOptions) -> Result<Sheet, SheetError> {
    let station = board.station.clone().sound();
    let plant = station.process().map(|plant| plant.name().to_owned());
    let (station, process) = match plant {
        None => (station, Process::None),
        Some(name) if options.process => (station, Process::Moves(name)),
        Some(name) => (station.without_process(), Process::LeftOut(name)),
    };
    let board = Board { program: Arc::clone(&board.program), station: &station, scan_ns: board.scan_ns };
    let is_moved = |index: usize| station.process().is_some_and(|plant| plant.drives(index));
    let worked: Vec<usize> = (0..station.devices.len())
        .filter(|index| !is_moved(*index) && (options.devices.is_empty() || options.devices.contains(index)))
        .collect();
    let acts: Vec<(usize, Vec<Value>)> =
        worked.iter().filter_map(|index| Some((*index, acts(station.devices.get(*index)?)))).collect();
    let steps = acts.iter().map(|(_, acts)| acts.len()).sum::<usize>() + 1;
    let loads = station.loads.len();
    if steps.saturating_mul(loads.max(1)) > CELLS_MAX {
        return Err(SheetError::TooLarge { steps, loads });
    }
    let mut taker = Taker {
        hand: Hand::new(&board),
        board: &board,
        histories: vec![History::new(); loads],
        look_cost: COST_MAX / steps as u64,
        parts: Vec::new(),
        part: Part { title: "One device after the other".to_owned(), ..Part::default() },
        steps: 0,
    };
    taker.start(false);
    for (device, values) in &acts {
        taker.device(*device, values, Pace::Settled);
    }
    if (steps + worked.len() * STEPS_EACH).saturating_mul(loads) <= CELLS_MAX {
        taker.behind_others(&acts);
    }
    let parts = taker.finish();
    let not_worked = (0..station.devices.len()).filter(|index| !worked.contains(index)).collect();
    Ok(Sheet {
        title: rows::title(&station, options),
        names: options.names.clone(),
        process,
        inputs: lists::inputs(&board),
        outputs: lists::outputs(&station),
        never_on: rows::never_on(&station, &parts),
        not_worked,
        parts,
    })
}

/// What is done to a device: to the other state and back; through its range and back to where it was.
fn acts(device: &Device) -> Vec<Value> {
    match &device.form {
        DeviceForm::TwoState { start, .. } => vec![Value::Bool(!start), Value::Bool(*start)],
        DeviceForm::Analog { scaling, start, .. } => {
            let (low, high) = scaling.range;
            let through = [low, middle(low, high), high, *start];
            let mut acts: Vec<f64> = Vec::new();
            for value in through {
                if acts.last().unwrap_or(start) != &value {
                    acts.push(value);
                }
            }
            acts.into_iter().map(Value::Lreal).collect()
        }
    }
}

/// How long a person looks on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pace {
    /// Until nothing more is to be seen.
    Settled,
    /// As long as a hand takes: what is begun here goes on in the next step.
    Hand,
}

/// Takes the steps and notes what is seen.
pub(super) struct Taker<'b, 's> {
    pub(super) hand: Hand<'s>,
    pub(super) board: &'b Board<'s>,
    /// What the loads were at last, and in the running step.
    histories: Vec<History>,
    /// What one look ahead may cost.
    look_cost: u64,
    /// The parts that are done, and the one being done.
    parts: Vec<Part>,
    part: Part,
    /// Steps so far.
    steps: usize,
}

impl Taker<'_, '_> {
    /// Switching on.
    fn start(&mut self, again: bool) {
        let does = Start::new(self.board.station, again, false).does(Vec::new());
        self.step(Step { does, ..Step::default() }, Pace::Settled);
    }

    /// The part being done.
    pub(super) fn part(&self) -> &Part {
        &self.part
    }

    pub(super) fn part_mut(&mut self) -> &mut Part {
        &mut self.part
    }

    /// Goes on with another part.
    pub(super) fn begin(&mut self, part: Part) {
        self.parts.push(std::mem::replace(&mut self.part, part));
    }

    fn finish(mut self) -> Vec<Part> {
        self.parts.push(self.part);
        self.parts
    }

    /// Working one device; whether the board went on. After the program has stopped everything is begun anew.
    pub(super) fn device(&mut self, index: usize, values: &[Value], pace: Pace) -> bool {
        let station: &Station = self.board.station;
        let Some(device) = station.devices.get(index) else { return true };
        for (place, value) in values.iter().enumerate() {
            let what = if place == 0 && values.len() > 1 {
                named(device)
            } else {
                Text::default().name(&device.name.value)
            };
            let does = vec![bring(device, what, value).words(".")];
            self.hand.act(index, value);
            let went_on =
                self.step(Step { does, acts: vec![(index, value.clone())], ..Step::default() }, pace);
            if !went_on {
                self.hand = Hand::new(self.board);
                self.histories = vec![History::new(); station.loads.len()];
                self.start(true);
                return false;
            }
        }
        true
    }

    /// Lets the time of a step pass and notes it; whether the board goes on.
    fn step(&mut self, mut step: Step, pace: Pace) -> bool {
        let from_ns = self.hand.next_ns();
        for history in &mut self.histories {
            let last = history.pop();
            history.clear();
            history.extend(last);
        }
        let Ahead { histories: ahead, end_ns, is_cut } =
            self.hand.look_ahead(self.histories.clone(), self.look_cost);
        let watch_ns = match pace {
            Pace::Hand => HAND_NS,
            Pace::Settled => {
                let behaviours = self.behaviours(&ahead, (from_ns, end_ns));
                let told_ns = behaviours.iter().map(Behaviour::told_by_ns).max().unwrap_or(0);
                let watch_ns = told_ns.saturating_add(AFTER_NS).clamp(HAND_NS, WATCH_MAX_NS);
                // Whole seconds.
                (watch_ns + SECOND_NS - 1) / SECOND_NS * SECOND_NS
            }
        };
        // When something happens by itself behind that time.
        let later = ahead.iter().flatten().map(|(time_ns, _)| *time_ns - from_ns);
        let most_ns = later.filter(|_| pace == Pace::Hand).filter(|time_ns| *time_ns >= watch_ns).min();
        let ended = self.hand.run(watch_ns, &mut self.histories);
        step.watch = Watch { least_ns: watch_ns, most_ns };
        step.span_ns = (from_ns, self.hand.next_ns());
        match &ended {
            Ok(()) => step.expected = self.behaviours(&self.histories, step.span_ns),
            Err(Stopped { fault, is_plant }) => step.remarks.push(stopped(fault, *is_plant)),
        }
        if is_cut && pace == Pace::Settled {
            let looked = stopwatch(end_ns - from_ns);
            step.remarks.push(Text::new(&format!(
                "The simulation was looked at for {looked} only, since the program is long: what comes later is not told."
            )));
        }
        step.told = rows::told(self.board.station, &step.expected);
        self.steps += 1;
        step.number = self.steps;
        self.part.steps.push(step);
        ended.is_ok()
    }

    fn behaviours(&self, histories: &[History], span_ns: (i64, i64)) -> Vec<Behaviour> {
        rows::behaviours(self.board.station, histories, span_ns, self.board.scan_ns)
    }
}
