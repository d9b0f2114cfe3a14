//! Reasons in sentences.

mod block;
mod chart;
mod markup;
mod tree;

pub(crate) use markup::markup;
pub use tree::{TextOptions, text};

use super::{Cause, DeviceState, Guard, Instant, Reason, Statement};
use crate::{
    diagram::scale::{decimal, time_text},
    recording::Contact,
};

const SECOND: i64 = 1_000_000_000;

/// Stands between a number and its unit, where no line ends.
const TIE: char = '\u{a0}';

/// A point in time: `1.25 s`.
pub(super) fn point(time_ns: i64) -> String {
    format!("{}{TIE}s", decimal(time_ns, SECOND))
}

/// A duration: `400 ms`.
pub(super) fn duration(duration_ns: i64) -> String {
    time_text(duration_ns).replace(' ', TIE.encode_utf8(&mut [0; 2]))
}

/// With ordinary blanks.
pub(super) fn untied(text: &str) -> String {
    text.replace(TIE, " ")
}

/// One reason in one sentence without full stop, as seen from the scan that was asked about. Its parts are not in it, and
/// neither is the text of its statement.
#[must_use]
pub fn sentence(reason: &Reason, asked: u32) -> String {
    untied(&spoken(reason, asked))
}

/// The same, with numbers tied to their units.
fn spoken(reason: &Reason, asked: u32) -> String {
    let is = if reason.at.scan == asked { "is" } else { "was" };
    let value = reason.value.as_deref();
    let stated = match value {
        Some(value) => format!("{} {is} {value}", reason.subject),
        None => format!("{} {is} a value that is not shown", reason.subject),
    };
    let lasting = match reason.since_known {
        true => format!("{stated}, {}", since(reason.since)),
        false => stated.clone(),
    };
    match &reason.cause {
        Cause::Constant => format!("{stated}: a constant"),
        Cause::Written(statement) => match written_before(statement, reason) {
            Some(before) => format!("{lasting}; {before}"),
            None => lasting,
        },
        Cause::Result(_) => format!("{stated} in this call"),
        Cause::Given(statement) => match written_before(statement, reason) {
            Some(before) => format!("{lasting}, as a call gave it; {before}"),
            None => format!("{stated}, as the call gave it"),
        },
        Cause::Taken(_) => format!("{lasting}, taken from an output of the block"),
        Cause::Computed(with) => format!("{stated}: {with}"),
        Cause::Function(name) => format!("{stated}: a result of the function {name}"),
        Cause::Block { work, .. } => format!("{lasting}: {}", block::work(work, reason.at)),
        Cause::Device(device) => {
            let so = if device.until.is_some() { stated } else { lasting };
            format!("{so}: {}", device_sentence(device, is))
        }
        Cause::Terminal(address) => {
            format!("{lasting}: its terminal {address} reads so, and no device is wired to it here")
        }
        Cause::Set => format!("{lasting}: no statement wrote it, it came from outside"),
        Cause::Initial => format!("{stated}: its initial value, nothing has written it yet"),
        Cause::Restarted => format!("{lasting}: its initial value, which the restart gave it"),
        Cause::Retained => format!("{lasting}: kept over the restart, since it is RETAIN"),
        Cause::Itself => {
            let then = if reason.parts.is_empty() { "" } else { ". What made it so then:" };
            let holds =
                if value == Some("TRUE") { ", and holds itself (seal-in)" } else { ", and keeps itself so" };
            format!(
                "{} was {} already, {}{holds}{then}",
                reason.subject,
                value.unwrap_or("so"),
                since(reason.since)
            )
        }
        Cause::Before => {
            let until = if reason.at.scan == asked { "before" } else { "at that time" };
            format!("{} was {} {until}, {}", reason.subject, value.unwrap_or("so"), since(reason.since))
        }
        Cause::Told => format!("{lasting} (told above)"),
        Cause::Deeper => format!("{lasting} (not followed further here)"),
        Cause::Guard { kind, place } => guard(*kind, place, reason),
        Cause::Idle { statement, ran_before } => {
            let since = if *ran_before { " again since then" } else { "" };
            format!("{} would write it and did not run{since}", statement.place)
        }
        Cause::Step(state) => {
            let step = reason.subject.strip_suffix(".X").unwrap_or(&reason.subject);
            format!("the step {step} {}, {}", chart::step(*state, is), since(reason.since))
        }
        Cause::Controlled => format!("{lasting}: the chart controls it"),
        Cause::Transition { heading, place, state } => chart::transition(heading, place, *state, reason),
        Cause::Action { step, qualifier, time, place } => {
            let active =
                if value == Some("TRUE") { format!("{is} active") } else { format!("{is} not active") };
            let how = chart::action(step, qualifier, time.as_deref(), place);
            format!("{how}; the step {active}, {}", since(reason.since))
        }
        Cause::Unknown => format!("{lasting}: how that came was not noted"),
    }
}

/// What a statement wrote last before the scan that is told of.
fn written_before(statement: &Statement, reason: &Reason) -> Option<String> {
    let earlier = statement.ran.scan < reason.at.scan;
    earlier.then(|| format!("last written at {}", point(statement.ran.time_ns)))
}

fn since(instant: Option<Instant>) -> String {
    instant
        .map_or_else(|| "since the start".to_owned(), |instant| format!("since {}", point(instant.time_ns)))
}

fn device_sentence(device: &DeviceState, is: &str) -> String {
    let DeviceState { name, contact, state, handled, since, until, fault } = device;
    let contact = match contact {
        Some(Contact::NormallyOpen) => " (normally open)",
        Some(Contact::NormallyClosed) => " (normally closed)",
        None => "",
    };
    let during = match (since, until) {
        (Some(from), Some(to)) => format!(", from {} to {}", point(from.time_ns), point(to.time_ns)),
        (None, Some(to)) => format!(", until {}", point(to.time_ns)),
        _ => String::new(),
    };
    let state = if *handled || device.contact.is_none() { state.clone() } else { format!("\"{state}\"") };
    let is = if device.contact.is_none() { format!("{is} at") } else { is.to_owned() };
    let fault = fault.as_ref().map(|fault| format!(", but its terminal does not show that: {fault}"));
    format!("{name}{contact} {is} {state}{during}{}", fault.unwrap_or_default())
}

fn guard(kind: Guard, place: &str, reason: &Reason) -> String {
    let (subject, value) = (&reason.subject, reason.value.as_deref().unwrap_or("so"));
    match kind {
        // Of an instruction that is conditional on what the row in front of it left.
        Guard::Branch | Guard::Earlier if subject.is_empty() => {
            format!("the current result at {place} was {value}")
        }
        Guard::Branch | Guard::Earlier => format!("the condition `{subject}` at {place} was {value}"),
        Guard::Selector => format!("CASE at {place} chose by {subject}, which was {value}"),
        Guard::Loop => match &reason.value {
            Some(value) => format!("in the pass of the loop at {place} with {subject} = {value}"),
            None => format!("in a loop, at {place}"),
        },
        Guard::NotLeft if subject.is_empty() => {
            format!("the way to it was not left at {place}: the current result was {value}")
        }
        Guard::NotLeft => format!("the way to it was not left at {place}: `{subject}` was {value}"),
        Guard::Enable => format!("EN of the call at {place} was {value}: `{subject}`"),
    }
}
