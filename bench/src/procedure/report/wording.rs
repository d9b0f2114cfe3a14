//! What each way to fail is called: one sentence at the head, one beside the condition, and notes.

use latchwork_grammar::{Sources, Span};
use latchwork_vm::{Fault, Named};

use super::{quote, seen::Seen};
use crate::{
    diagram::{
        self,
        scale::time_text,
        words::{harmless, value_text},
    },
    procedure::outcome::{Failure, FailureKind},
};

/// Most moments that are listed.
const MOMENTS_MAX: usize = 8;

/// The words of one failure.
pub(super) struct Wording {
    /// Stands alone, without full stop.
    pub(super) headline: String,
    /// Stands beside the condition.
    pub(super) label: String,
    /// Stand below.
    pub(super) notes: Vec<String>,
}

/// The words for a failure.
pub(super) fn wording(failure: &Failure, sources: &Sources) -> Wording {
    let (headline, label) = match &failure.kind {
        FailureKind::Response { triggered_ns, allowed_ns, stay_ns } => {
            response(failure, sources, *triggered_ns, *allowed_ns, *stay_ns)
        }
        FailureKind::Edges { counted, at_ns } => edges(failure, sources, *counted, at_ns),
        kind => expectation(failure, sources).unwrap_or_else(|| stopped(failure, kind)),
    };
    Wording { headline, label, notes: notes(failure, sources) }
}

/// Expectations and rules about one condition.
fn expectation(failure: &Failure, sources: &Sources) -> Option<(String, String)> {
    let condition = condition(failure, sources);
    let seen = Seen::of(failure, sources, !matches!(failure.kind, FailureKind::Never));
    let since_ns = failure.since_ns;
    let after = time_text(failure.time_ns.saturating_sub(since_ns));
    Some(match &failure.kind {
        FailureKind::Now => (format!("{condition} is FALSE"), seen.is(failure)),
        FailureKind::Within { allowed_ns } => (
            format!("{condition} did not become TRUE within {}", time_text(*allowed_ns)),
            seen.late(failure, since_ns, *allowed_ns),
        ),
        FailureKind::For { wanted_ns } => (
            format!("{condition} did not stay TRUE for {}", time_text(*wanted_ns)),
            match failure.last_right_ns {
                Some(right_ns) if right_ns >= since_ns => format!("{}, after {after}", seen.became(failure)),
                _ => format!("{}, from the start", seen.is(failure)),
            },
        ),
        FailureKind::TooEarly { from_ns, until_ns } => {
            let right = Seen::of(failure, sources, false);
            let allowed = format!("allowed are {} to {}", time_text(*from_ns), time_text(*until_ns));
            (
                format!("{condition} became TRUE before {} had passed", time_text(*from_ns)),
                match failure.time_ns > since_ns {
                    true => format!("{}, after {after}; {allowed}", right.became(failure)),
                    false => format!("{} already; {allowed}", right.is(failure)),
                },
            )
        }
        FailureKind::TooLate { from_ns, until_ns } => (
            format!(
                "{condition} did not become TRUE between {} and {}",
                time_text(*from_ns),
                time_text(*until_ns)
            ),
            seen.late(failure, since_ns, *until_ns),
        ),
        FailureKind::While => (
            format!("{condition} did not stay TRUE while the block ran"),
            match failure.last_right_ns {
                Some(right_ns) if right_ns >= since_ns => seen.became(failure),
                _ => format!("{}, from the start", seen.is(failure)),
            },
        ),
        FailureKind::Always => (format!("{condition} must be TRUE after every scan"), became(&seen, failure)),
        FailureKind::Never => {
            (format!("{condition} must not be TRUE after any scan"), became(&seen, failure))
        }
        _ => return None,
    })
}

/// "became …" only where it was otherwise before.
fn became(seen: &Seen, failure: &Failure) -> String {
    if failure.last_right_ns.is_some() { seen.became(failure) } else { seen.is(failure) }
}

/// Responses that did not come, or not stay.
fn response(
    failure: &Failure,
    sources: &Sources,
    triggered_ns: i64,
    allowed_ns: i64,
    stay_ns: Option<i64>,
) -> (String, String) {
    let condition = condition(failure, sources);
    let seen = Seen::of(failure, sources, true);
    let trigger = trigger(failure, sources);
    let trigger = trigger.map_or_else(|| "its trigger".to_owned(), |span| quote::quoted(span, sources));
    let later = time_text(failure.time_ns.saturating_sub(triggered_ns));
    match stay_ns {
        Some(stay_ns) if failure.time_ns > triggered_ns => (
            format!("{condition} did not stay TRUE for {} from {trigger} on", time_text(stay_ns)),
            format!("{}, {later} later", seen.became(failure)),
        ),
        Some(_) => (format!("{condition} is not TRUE in the scan in which {trigger} is"), seen.is(failure)),
        None if allowed_ns == 0 => {
            let came = failure.came_right_ns.map_or_else(String::new, |came_ns| {
                format!(", and right {} later", time_text(came_ns.saturating_sub(triggered_ns)))
            });
            (
                format!("{condition} is not TRUE in the scan in which {trigger} is"),
                format!("{}{came}", seen.is(failure)),
            )
        }
        None => (
            format!("{condition} did not follow {trigger} within {}", time_text(allowed_ns)),
            seen.late(failure, triggered_ns, allowed_ns),
        ),
    }
}

/// What a response is the response to.
pub(super) fn trigger(failure: &Failure, sources: &Sources) -> Option<Span> {
    failure.condition.and_then(|span| quote::between(failure.step, span, sources))
}

/// Edges and changes that were too many or too few.
fn edges(failure: &Failure, sources: &Sources, counted: u64, at_ns: &[i64]) -> (String, String) {
    let condition = condition(failure, sources);
    let wanted = failure.condition.and_then(|span| quote::between(failure.step, span, sources));
    let (wanted, noun) = wanted.map_or_else(Default::default, |span| bound(&quote::plain(span, sources)));
    let found = if noun.is_empty() { counted.to_string() } else { diagram::counted(counted, &noun) };
    let (from, until) = (time_text(failure.since_ns), time_text(failure.time_ns));
    let mut texts: Vec<String> = at_ns.iter().take(MOMENTS_MAX).map(|time| time_text(*time)).collect();
    if at_ns.len() > MOMENTS_MAX || (counted > at_ns.len() as u64 && !at_ns.is_empty()) {
        texts.push("…".to_owned());
    }
    let label = match texts.as_slice() {
        [] => format!("none from {from} to {until}"),
        _ => format!("{counted} from {from} to {until}: at {}", texts.join(", ")),
    };
    (format!("{condition} has {found}, expected {wanted}"), label)
}

/// "exactly 3" and "rising edge" of `exactly 3 rising edges`, whatever letters are large.
fn bound(words: &str) -> (String, String) {
    let words = words.to_lowercase();
    let mut words = words.split(' ');
    let mut wanted = Vec::new();
    for word in words.by_ref() {
        wanted.push(word);
        if word.starts_with(|first: char| first.is_ascii_digit()) {
            break;
        }
    }
    let noun = words.collect::<Vec<_>>().join(" ");
    (wanted.join(" "), noun.trim_end_matches('s').to_owned())
}

/// What ended a run otherwise.
fn stopped(failure: &Failure, kind: &FailureKind) -> (String, String) {
    let at = time_text(failure.time_ns);
    match kind {
        FailureKind::AlreadyLater { now_ns } => (
            "the time of this step has passed".to_owned(),
            format!("it is {} after the start of the procedure already", time_text(*now_ns)),
        ),
        FailureKind::Fault(fault) => {
            (format!("the program stopped: {}", fault.kind.text()), while_this_ran(fault))
        }
        FailureKind::PlantFault(fault) => {
            (format!("the plant stopped: {}", fault.kind.text()), while_this_ran(fault))
        }
        FailureKind::ConditionFault(fault) => (
            format!("this cannot be computed: {}", fault.kind.text()),
            match values(&fault.values) {
                Some(values) => format!("{values}, at {at}"),
                None => format!("at {at}"),
            },
        ),
        FailureKind::ValueRefused { reason } => {
            ("the value does not fit what it is set to".to_owned(), harmless(reason))
        }
        FailureKind::TooLong { limit, what } => (
            format!("the procedure takes more than the {limit} {what} allowed"),
            format!("it had come here, at {at}"),
        ),
        FailureKind::Trace(departed) => match departed.comparison.first() {
            Some((row, departure)) => (
                format!("`{}` departs from the recorded trace", harmless(&row.name)),
                format!(
                    "at {} it is {}, expected is {}",
                    time_text(departure.time_ns),
                    departure.actual,
                    departure.expected
                ),
            ),
            None => ("the run departs from the recorded trace".to_owned(), format!("at {at}")),
        },
        FailureKind::NotApproved { path } => (
            "there is no approved trace to compare with".to_owned(),
            match path.as_str() {
                "" => "none was given".to_owned(),
                path => format!("it would be {}", harmless(path)),
            },
        ),
        FailureKind::NotCompared { reason } => {
            ("the recorded trace cannot be compared with the run".to_owned(), harmless(reason))
        }
        // Everything else has words of its own.
        _ => ("the procedure failed".to_owned(), format!("at {at}")),
    }
}

fn while_this_ran(fault: &Fault) -> String {
    format!("while this ran, at {}", time_text(fault.time_ns))
}

fn notes(failure: &Failure, sources: &Sources) -> Vec<String> {
    let mut notes = Vec::new();
    if let FailureKind::Trace(departed) = &failure.kind {
        // The first line is told beside the comparison.
        notes.extend(departed.comparison.report().lines().skip(1).map(harmless));
    }
    if matches!(failure.kind, FailureKind::NotApproved { .. }) {
        let note =
            "if the run does what it should, `latchwork test --approve` keeps it as the approved trace";
        notes.push(note.to_owned());
    }
    let looks_back =
        matches!(failure.kind, FailureKind::Now | FailureKind::Within { .. } | FailureKind::TooLate { .. });
    if looks_back && let Some(last_ns) = failure.last_right_ns {
        notes.push(format!("{} was TRUE last at {}", condition(failure, sources), time_text(last_ns)));
    }
    if matches!(failure.kind, FailureKind::Now)
        && let Some(came_ns) = failure.came_right_ns
    {
        let later = time_text(came_ns.saturating_sub(failure.time_ns));
        notes.push(format!("it becomes TRUE {later} later, at {}", time_text(came_ns)));
    }
    notes
}

/// The condition in quotation marks, or whatever step it is.
fn condition(failure: &Failure, sources: &Sources) -> String {
    quote::quoted(failure.condition.unwrap_or(failure.step), sources)
}

fn values(values: &[Named]) -> Option<String> {
    let texts: Vec<String> =
        values.iter().map(|(name, value)| format!("{name} {}", value_text(value))).collect();
    (!texts.is_empty()).then(|| texts.join(", "))
}
