//! Marks for what happened in the middle of a run: restarts, wiring faults, faults.

use super::{mark::Mark, scale::duration_words};
use crate::recording::Incident;

/// Most moments told in words.
const TIMES_MAX: usize = 4;

/// A line of marks for each sort of incident and what is said of it, in order of their first moments.
pub(super) fn marks(incidents: &[Incident]) -> Vec<Mark> {
    let mut kinds: Vec<(&Incident, Vec<i64>)> = Vec::new();
    for incident in incidents {
        let same =
            |(known, _): &&mut (&Incident, _)| known.kind == incident.kind && known.text == incident.text;
        match kinds.iter_mut().find(same) {
            Some((_, moments)) => moments.push(incident.time_ns),
            None => kinds.push((incident, vec![incident.time_ns])),
        }
    }
    let mark = |(incident, moments): (&Incident, Vec<i64>)| {
        let mut times: Vec<String> =
            moments.iter().take(TIMES_MAX).map(|time| duration_words(*time)).collect();
        if moments.len() > TIMES_MAX {
            times.push(format!("{} more", moments.len() - TIMES_MAX));
        }
        let times = times.join(", ");
        let text = if incident.text.is_empty() { times } else { format!("{}, {times}", incident.text) };
        Mark { moments, through: true, ..Mark::named(incident.kind.words(), text) }
    };
    kinds.into_iter().map(mark).collect()
}
