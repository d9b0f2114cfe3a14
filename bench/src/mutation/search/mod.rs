//! The search for something to be done at the panel that tells a fault from the reference.
//!
//! Both programs run beside each other on the same panel, first through what the procedures do, then through random acts,
//! some of them behind the beginning of a procedure, or where the variables of the two have already come to differ. When a
//! load differs, the acts are made fewer and shorter and written as a procedure; it is handed out only if the reference
//! passes it and the fault does not. Outputs are looked at where no load shows anything.
//!
//! The search is bounded by scans, and the same for the same seed. What it does not find may exist all the same.

mod beside;
mod choices;
mod constants;
mod random;
mod shrink;
mod write;

use std::sync::Arc;

use latchwork_grammar::Sources;
use latchwork_vm::Program;

use self::{
    beside::{Beside, Came},
    choices::Choices,
    constants::Constants,
    random::Random,
    shrink::{Trial, shrink, trial},
};
use super::prove::Chosen;
use crate::{
    procedure::{Act, ProcedureTexts, RunOptions},
    station::Station,
};

/// Most scans of one search; each is one of the reference and one with the fault, and one of many instructions counts for
/// several.
pub const SEARCH_SCANS_MAX: u64 = 100_000_000;

/// Scans of one search if nothing else is said: a few tenths of a second for a small program.
pub const SEARCH_SCANS_DEFAULT: u64 = 200_000;

/// What is shorter than this is hardly seen, in nanoseconds.
pub(super) const SEEN_NS: i64 = 100_000_000;

/// Acts of one random attempt.
const ATTEMPT_ACTS: usize = 24;

/// Most attempts, whatever they take.
const ATTEMPTS_MAX: usize = 20_000;

/// Most states kept in which the variables of both programs differ.
const PARTED_MAX: usize = 8;

/// Most rounds of making acts fewer and shorter.
const SHRINK_ROUNDS_MAX: usize = 8;

/// How much longer is looked when something was left out, in nanoseconds.
const BEHIND_NS: i64 = 1_000_000_000;

/// A survivor, and where it is looked for what tells it from the reference.
pub(super) struct Search<'a, 's> {
    pub(super) reference: &'a Arc<Program>,
    pub(super) mutant: &'a Arc<Program>,
    /// The texts of both.
    pub(super) texts: [&'a Sources; 2],
    pub(super) station: Option<&'s Station>,
    pub(super) files: &'s [ProcedureTexts<'s>],
    /// The procedures whose acts are tried first; what is found stands in the file of the first.
    pub(super) chosen: &'a [Chosen],
    pub(super) run: &'a RunOptions,
    /// Most scans.
    pub(super) scans: u64,
    pub(super) seed: u64,
}

/// What tells a fault from the reference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// A procedure that the reference passes and the fault does not, to be put into the file of procedures that it was
    /// verified in: that of the first procedure that the reference passes.
    pub procedure: String,
    /// What there is to see, in a sentence: "After 3.1 s P1 is on with the reference, and off with the fault."
    pub seen: String,
    /// How long this lasts if nothing more is done, in nanoseconds; `None` if it is not over after a long time.
    pub lasts_ns: Option<i64>,
}

/// What a search tells of a survivor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sight {
    /// What tells it from the reference.
    Told(Found),
    /// Neither a load nor an output has shown it; variables have come to differ, or lie elsewhere.
    Hidden,
    /// Nothing has come to differ in what was tried, not even a variable.
    Nothing,
    /// It was not looked.
    NotSearched,
}

impl Search<'_, '_> {
    /// What was seen, and the scans that it took. `title` is that of the procedure.
    pub(super) fn search(&self, title: &str) -> (Sight, u64) {
        let mut left = self.scans;
        if left == 0 {
            return (Sight::NotSearched, 0);
        }
        let mut parted = false;
        let found = self.hunt(title, &mut left, &mut parted);
        let sight = match found {
            Some(found) => Sight::Told(found),
            None if parted => Sight::Hidden,
            None => Sight::Nothing,
        };
        (sight, self.scans - left)
    }

    fn hunt(&self, title: &str, left: &mut u64, parted: &mut bool) -> Option<Found> {
        let context = self.files.get(self.chosen.first()?.file)?;
        let reference = context.script(self.reference, self.station).ok()?;
        let mutant = context.script(self.mutant, self.station).ok()?;
        let base = Beside::new(&reference, &mutant, self.run)?;
        let acts = self.acts();
        let constants = Constants::of(self.texts);
        let choices = Choices::new(base.panel(), self.reference, &constants, &acts, reference.scan_ns());
        let mut hunt = Hunt {
            base: &base,
            random: Random::new(self.seed),
            has_parted: false,
            terminal: None,
            parted: Vec::new(),
        };
        let all = *left;
        let load = hunt.procedures(&acts, left).or_else(|| hunt.at_random(&choices, &acts, left));
        *parted = hunt.has_parted || !base.comparable;
        let told = |acts: Vec<Act>, terminals: bool| {
            // What was found is worth as much again to be told well.
            let mut more = all;
            let found = trial(&base, &acts, terminals, &mut more)?;
            let found = shrink(&base, found, terminals, &mut more);
            self.verified(&found, context, title)
        };
        match load {
            Some(acts) => told(acts, false),
            None => told(hunt.terminal.take()?, true),
        }
    }

    /// What the procedures do.
    fn acts(&self) -> Vec<Vec<Act>> {
        let mut acts = Vec::new();
        for (index, file) in self.files.iter().enumerate() {
            let Ok(script) = file.script(self.reference, self.station) else { continue };
            let own = self.chosen.iter().filter(|chosen| chosen.file == index);
            acts.extend(own.map(|chosen| script.acts(chosen.procedure)));
        }
        acts
    }
}

/// A search that is under way.
struct Hunt<'b, 's> {
    base: &'b Beside<'s>,
    random: Random,
    /// The variables of the two have come to differ somewhere.
    has_parted: bool,
    /// The first acts after which outputs differed and no load.
    terminal: Option<Vec<Act>>,
    /// Acts behind which the variables differ, with both programs as they are then.
    parted: Vec<(Vec<Act>, Beside<'s>)>,
}

impl<'s> Hunt<'_, 's> {
    /// Does what the procedures do, and looks at everything all the time.
    fn procedures(&mut self, acts: &[Vec<Act>], left: &mut u64) -> Option<Vec<Act>> {
        for acts in acts {
            let mut both = self.base.ahead();
            let mut done = Vec::new();
            let behind = [Act::Wait(BEHIND_NS)];
            for act in acts.iter().chain(&behind) {
                done.push(act.clone());
                match both.act(act, left) {
                    Came::Alike => self.note(&done, &both),
                    Came::Apart(_) => return Some(done),
                    Came::Over => break,
                }
            }
        }
        None
    }

    fn at_random(&mut self, choices: &Choices, acts: &[Vec<Act>], left: &mut u64) -> Option<Vec<Act>> {
        if choices.is_empty() {
            return None;
        }
        for _ in 0..ATTEMPTS_MAX {
            if *left == 0 {
                break;
            }
            *left = left.saturating_sub(self.base.cost_ahead());
            let found = self.attempt(choices, acts, left);
            if found.is_some() {
                return found;
            }
            if self.terminal.is_some() {
                // There is something to tell already: not much longer for what would be better.
                *left = (*left).min(left.saturating_sub(*left / 8));
            }
        }
        None
    }

    fn attempt(&mut self, choices: &Choices, acts: &[Vec<Act>], left: &mut u64) -> Option<Vec<Act>> {
        let (mut done, mut both) = match self.random.below(10) {
            0..=3 if !self.parted.is_empty() => {
                let (done, both) = self.random.pick(&self.parted)?;
                (done.clone(), both.ahead())
            }
            4..=6 if !acts.is_empty() => {
                let own = self.random.pick(acts)?;
                let count = self.random.below(own.len() + 1);
                let own = own.get(..count).unwrap_or_default();
                let mut both = self.base.ahead();
                for (index, act) in own.iter().enumerate() {
                    match both.act(act, left) {
                        Came::Alike => {}
                        Came::Apart(_) => return own.get(..=index).map(<[Act]>::to_vec),
                        Came::Over => return None,
                    }
                }
                (own.to_vec(), both)
            }
            _ => (Vec::new(), self.base.ahead()),
        };
        let mut count = 0;
        while count < ATTEMPT_ACTS {
            count += 1;
            for act in choices.next(both.panel(), &mut self.random) {
                done.push(act.clone());
                match both.act(&act, left) {
                    Came::Alike => {}
                    Came::Apart(_) => return Some(done),
                    Came::Over => return None,
                }
            }
            self.note(&done, &both);
        }
        None
    }

    /// Keeps a state in which the programs have come to differ.
    fn note(&mut self, done: &[Act], both: &Beside<'s>) {
        if self.terminal.is_none() && both.terminal.is_some() {
            self.terminal = Some(done.to_vec());
        }
        self.has_parted |= both.parted;
        if !both.parted || done.len() > ATTEMPT_ACTS * 4 {
            return;
        }
        if self.parted.len() < PARTED_MAX {
            self.parted.push((done.to_vec(), both.ahead()));
        } else if self.random.chance(5) {
            let place = self.random.below(PARTED_MAX);
            if let Some(kept) = self.parted.get_mut(place) {
                *kept = (done.to_vec(), both.ahead());
            }
        }
    }
}

impl Search<'_, '_> {
    /// What was found as a procedure, if the reference passes it and the fault does not.
    fn verified(&self, found: &Trial<'_>, context: &ProcedureTexts<'_>, title: &str) -> Option<Found> {
        let written = write::written(found, title)?;
        let passes = |program: &Arc<Program>| {
            write::passes(&written.procedure, context, program, self.station, self.run)
        };
        let tells = passes(self.reference) == Some(true) && passes(self.mutant) == Some(false);
        tells.then_some(written)
    }
}
