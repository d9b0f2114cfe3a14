//! Submissions that mean harm, or do harm without meaning it: what each tries, and what must come of it.
//!
//! Whatever is handed in, marking comes to an end, says one of the states named here, gives nobody else another mark, and
//! nothing of the text comes to life in what is written.

mod characters;
mod declarations;
mod loops;
mod names;
mod nesting;
mod places;
mod running;
mod sizes;

use std::{fs, io, path::Path};

use latchwork_bench::marking::State;

pub use self::places::HostilePlace;

/// A text.
#[derive(Clone, Copy, Debug)]
pub struct HostileText {
    /// Its name, also that of its student and, with an ending, of its file.
    pub name: &'static str,
    /// What it tries.
    pub tries: &'static str,
    /// Makes it.
    pub text: fn() -> String,
    /// The states that may come of it where its size is allowed; larger than the exercise allows, it is over the budget.
    pub states: &'static [State],
    /// What it may earn.
    pub earns: Earns,
}

/// What a submission may earn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Earns {
    /// No procedure; points for compiling if it works a load.
    Nothing,
    /// Some procedures, for it does some of what is asked, and not all.
    Something,
    /// All points: it is a right answer besides.
    Everything,
}

const RAN: &[State] = &[State::Ran];
const REFUSED: &[State] = &[State::NotCompiled];
const LARGE: &[State] = &[State::OverBudget];
const NO_PROGRAM: &[State] = &[State::Empty];

impl HostileText {
    const fn new(
        name: &'static str,
        states: &'static [State],
        text: fn() -> String,
        tries: &'static str,
    ) -> Self {
        HostileText { name, tries, text, states, earns: Earns::Nothing }
    }

    /// One that is a right answer besides.
    const fn working(name: &'static str, text: fn() -> String, tries: &'static str) -> Self {
        HostileText { name, tries, text, states: RAN, earns: Earns::Everything }
    }

    /// One that does some of what is asked.
    const fn partly(name: &'static str, text: fn() -> String, tries: &'static str) -> Self {
        HostileText { name, tries, text, states: RAN, earns: Earns::Something }
    }
}

/// All texts.
pub fn hostile_texts() -> Vec<HostileText> {
    [loops::TEXTS, sizes::TEXTS, declarations::TEXTS, nesting::TEXTS, characters::TEXTS, running::TEXTS]
        .concat()
}

/// All files whose harm is not in their text alone: names, links, archives, pipes.
///
/// # Errors
/// If the right answer that some of them hold cannot be read.
pub fn hostile_places() -> Result<Vec<HostilePlace>, String> {
    let mut all = names::places()?;
    all.extend(places::places()?);
    Ok(all)
}

/// Writes all of them as submissions into a folder that is there. What the file system of this computer refuses (a name, a
/// pipe) is left out; returned are the names of the submissions that were written.
///
/// # Errors
/// If the folder cannot be written.
pub fn write_hostile(folder: &Path) -> io::Result<Vec<String>> {
    let mut written = Vec::new();
    for hostile in hostile_texts() {
        let name = format!("{}.st", hostile.name);
        fs::write(folder.join(&name), (hostile.text)())?;
        written.push(name);
    }
    for place in hostile_places().map_err(io::Error::other)? {
        if (place.make)(folder, &place).is_ok() {
            written.push(place.name.clone());
        }
    }
    Ok(written)
}

/// The declarations of the exercise with more, and a body.
fn program(declarations: &str, body: &str) -> String {
    format!(
        "PROGRAM TrayWatering\nVAR\n  Start AT %IX0.0 : BOOL;\n  Stop AT %IX0.1 : BOOL;\n  Float AT %IX0.2 : BOOL;\n  \
         Acknowledge AT %IX0.3 : BOOL;\n  Pump AT %QX0.0 : BOOL;\n  Valve AT %QX0.1 : BOOL;\n  BatchDone AT %QX0.2 : \
         BOOL;\n  Alarm AT %QX0.3 : BOOL;\nEND_VAR\nVAR\n  Fill, RunUp : TON;\n  Trays : CTU;\n{declarations}\nEND_VAR\n\
         {body}\nEND_PROGRAM\n"
    )
}

/// The body of a right answer.
const RIGHT: &str = "  Fill(IN := Pump, PT := T#6s);
  Alarm := Fill.Q OR (Alarm AND NOT Acknowledge);
  Trays(CU := Pump AND NOT Float, R := Acknowledge, PV := 3, Q => BatchDone);
  Pump := (Start OR Pump) AND Stop AND Float AND NOT Alarm AND NOT BatchDone;
  RunUp(IN := Pump, PT := T#1s, Q => Valve);
";

/// Text repeated with a number in the place of `#`.
fn numbered(count: usize, pattern: &str) -> String {
    let mut text = String::new();
    for number in 0..count {
        text.push_str(&pattern.replace('#', &number.to_string()));
    }
    text
}
