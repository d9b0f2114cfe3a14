//! An explanation as a JSON value. Members may be added; none is renamed or removed without a new version of the document
//! that it stands in.

use serde_json::{Map, Value, json};

use super::{Alternative, Cause, Explanation, Instant, Reason, Statement, sentence};

/// An explanation: the tree, each reason with its sentence, and the ways to the other value.
#[must_use]
pub fn json(explanation: &Explanation) -> Value {
    let asked = explanation.reason.at.scan;
    json!({
        "reason": reason(&explanation.reason, asked),
        "otherwise": explanation.otherwise.iter().map(alternative).collect::<Vec<_>>(),
        "more_ways": explanation.more_ways,
    })
}

/// Reasons nest no deeper than [`super::DEPTH_MAX`] variables.
fn reason(reason: &Reason, asked: u32) -> Value {
    let mut members = Map::new();
    let mut put = |name: &str, value: Value| members.insert(name.to_owned(), value);
    put("kind", kind(&reason.cause).into());
    put("subject", reason.subject.as_str().into());
    put("value", reason.value.as_deref().into());
    put("at", instant(reason.at));
    put("since", reason.since.map_or(Value::Null, instant));
    put("since_known", reason.since_known.into());
    put("sentence", sentence(reason, asked).into());
    match &reason.cause {
        Cause::Written(told)
        | Cause::Result(told)
        | Cause::Given(told)
        | Cause::Taken(told)
        | Cause::Idle { statement: told, .. }
        | Cause::Block { call: told, .. } => {
            put("statement", statement(told));
        }
        Cause::Device(device) => {
            put("device", device.name.as_str().into());
        }
        _ => {}
    }
    put("parts", reason.parts.iter().map(|part| self::reason(part, asked)).collect());
    Value::Object(members)
}

fn kind(cause: &Cause) -> &'static str {
    match cause {
        Cause::Constant => "constant",
        Cause::Written(_) => "written",
        Cause::Result(_) => "result",
        Cause::Given(_) => "given",
        Cause::Taken(_) => "taken",
        Cause::Computed(_) => "computed",
        Cause::Function(_) => "function",
        Cause::Block { .. } => "block",
        Cause::Device(_) => "device",
        Cause::Terminal(_) => "terminal",
        Cause::Set => "set",
        Cause::Initial => "initial",
        Cause::Restarted => "restarted",
        Cause::Retained => "retained",
        Cause::Itself => "itself",
        Cause::Before => "before",
        Cause::Told => "told",
        Cause::Deeper => "deeper",
        Cause::Guard { .. } => "guard",
        Cause::Idle { .. } => "idle",
        Cause::Step(_) => "step",
        Cause::Transition { .. } => "transition",
        Cause::Controlled => "controlled",
        Cause::Action { .. } => "action",
        Cause::Unknown => "unknown",
    }
}

fn instant(instant: Instant) -> Value {
    json!({ "scan": instant.scan, "time_ns": instant.time_ns })
}

fn statement(statement: &Statement) -> Value {
    json!({ "place": statement.place, "text": statement.text, "ran": instant(statement.ran) })
}

fn alternative(way: &Alternative) -> Value {
    let changes: Vec<Value> = way
        .changes
        .iter()
        .map(|change| json!({ "subject": change.subject, "value": change.value, "device": change.device, "how": change.how }))
        .collect();
    json!({ "changes": changes, "by": way.by })
}
