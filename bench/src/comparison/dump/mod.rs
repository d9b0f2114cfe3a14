//! A trace from a value change dump (IEEE 1364-2005 clause 18), as simulators, waveform viewers and logic analysers
//! write it.
//!
//! Read are the four-state dumps of the standard with what is common beyond it: the variable types of SystemVerilog
//! (IEEE 1800), texts (`sidle !`), the nine values of VHDL (IEEE 1164: `l` and `h` count as 0 and 1, `u`, `w` and `-` as
//! not known), sections of the heading that nobody knows. A vector with an `x` or `z` in it is not known as a whole. Of
//! several values at one time the last one counts.
//!
//! The first error ends the reading: dumps are written by programs, and what follows would only repeat it.

mod changes;
mod heading;
mod tokens;

use latchwork_grammar::{Diagnostic, FileId, Span};

use self::{heading::Heading, tokens::Tokens};
use super::{Expected, Subject, Track, ambiguous_signal, naming::Wanted, no_such_signal};

/// Most names that are looked through for one that is like a missing one.
const NAMES_COMPARED_MAX: usize = 5_000;

/// Reads a dump.
pub(super) fn read(file: FileId, text: &str, subjects: &[Subject]) -> (Option<Expected>, Vec<Diagnostic>) {
    let mut tokens = Tokens::new(file, text);
    let heading = match Heading::read(&mut tokens) {
        Ok(heading) => heading,
        Err(problem) => return (None, vec![*problem]),
    };
    let (tracks, diagnostics) = choose(file, &heading, subjects);
    if !diagnostics.is_empty() {
        return (None, diagnostics);
    }
    match changes::read(&mut tokens, &heading, tracks) {
        Ok((tracks, end_ns)) => (Some(Expected { file, end_ns, tracks }), Vec::new()),
        Err(problem) => (None, vec![*problem]),
    }
}

/// A signal and the number of its variable.
struct Chosen {
    track: Track,
    variable: usize,
}

/// The variable of each subject.
fn choose(file: FileId, heading: &Heading<'_>, subjects: &[Subject]) -> (Vec<Chosen>, Vec<Diagnostic>) {
    let mut chosen = Vec::new();
    let mut diagnostics = Vec::new();
    for subject in subjects {
        let wanted = Wanted::new(subject.names());
        let mut nearest = None;
        // Of the nearest variables the first, and one that is another signal.
        let mut first: Option<usize> = None;
        let mut other: Option<usize> = None;
        for (index, variable) in heading.variables.iter().enumerate() {
            let Some(nearness) = wanted.nearness(|| heading.backwards(variable)) else { continue };
            if nearest.is_none_or(|nearest| nearness < nearest) {
                nearest = Some(nearness);
                (first, other) = (Some(index), None);
            } else if nearest == Some(nearness) && other.is_none() {
                // Several names of one signal are no question.
                let code_of =
                    |index: Option<usize>| index.and_then(|at| heading.variables.get(at)).map(|v| v.code);
                other = Some(index).filter(|_| code_of(first) != Some(variable.code));
            }
        }
        let place = |index: usize| heading.variables.get(index).map_or(Span::new(file, 0, 0), |v| v.place);
        match (first, other) {
            (Some(first), Some(other)) => {
                diagnostics.push(ambiguous_signal(place(first), place(other), subject, "variable"));
            }
            (Some(first), None) => {
                let shown = heading.variables.get(first).map_or(String::new(), |v| heading.path(v));
                chosen.push(Chosen { track: Track::new(subject, shown, place(first)), variable: first });
            }
            _ => {
                let known: Vec<&str> =
                    heading.variables.iter().take(NAMES_COMPARED_MAX).map(|variable| variable.name).collect();
                diagnostics.push(no_such_signal(heading.place, subject, &known, "variable"));
            }
        }
    }
    (chosen, diagnostics)
}
