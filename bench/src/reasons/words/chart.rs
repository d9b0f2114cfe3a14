//! Steps, transitions and actions in words.

use super::{
    super::{Reason, StepState, TransitionState},
    point,
};

pub(super) fn step(state: StepState, is: &str) -> String {
    match state {
        StepState::Active => format!("{is} active"),
        StepState::ActiveFromStart => format!("{is} active, as the initial step"),
        StepState::Left => format!("{is} not active any more"),
        StepState::NeverActive => format!("{is} not active, and has not been yet"),
    }
}

pub(super) fn transition(heading: &str, place: &str, state: TransitionState, reason: &Reason) -> String {
    let condition = &reason.subject;
    match state {
        TransitionState::Cleared => {
            let when = point(reason.at.time_ns);
            let always = condition.eq_ignore_ascii_case("TRUE");
            let why = if always {
                "it asks for nothing but its steps".to_owned()
            } else {
                format!("`{condition}` was TRUE")
            };
            format!("the transition {heading} ({place}) cleared at {when}: {why}")
        }
        TransitionState::Waits => format!("the transition {heading} ({place}) waits: `{condition}` is FALSE"),
        TransitionState::Beaten => {
            format!(
                "the transition {heading} ({place}) did not clear: `{condition}` was TRUE, but another one went first"
            )
        }
        TransitionState::NotEnabled => {
            format!(
                "the transition {heading} ({place}) is not enabled: not all steps in front of it are active"
            )
        }
    }
}

pub(super) fn action(step: &str, qualifier: &str, time: Option<&str>, place: &str) -> String {
    let time = time.unwrap_or("its time");
    let how = match qualifier {
        "N" => "while the step is active".to_owned(),
        "S" => "set, and kept until it is reset".to_owned(),
        "R" => "reset".to_owned(),
        "L" => format!("while the step is active, for {time} at most"),
        "D" => format!("while the step is active, but not before {time}"),
        "P" | "P1" => "once, when the step is entered".to_owned(),
        "P0" => "once, when the step is left".to_owned(),
        "SD" => format!("set after {time}, and kept until it is reset"),
        "DS" => format!("set once the step has been active for {time}, and kept until it is reset"),
        "SL" => format!("set for {time}"),
        _ => String::new(),
    };
    format!("controlled by step {step} with {qualifier} ({place}): {how}")
}
