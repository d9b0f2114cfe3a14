//! Acts as the text of a procedure, and what it gives.

use std::sync::Arc;

use latchwork_grammar::parse_steps;
use latchwork_vm::{ElementaryType, Program, Restart, Value};

use super::{Found, SEEN_NS, beside::What, shrink::Trial};
use crate::{
    diagram::scale::time_text,
    mutation::seed::duration,
    panel::Panel,
    procedure::{Act, ProcedureTexts, RunOptions, Script, ScriptParts, Verdict},
    station::{Action, Device, DeviceForm},
    wiring::WiringFault,
};

/// A procedure of this title that does what was done, and expects what the reference then does.
pub(super) fn written(found: &Trial<'_>, title: &str) -> Option<Found> {
    let panel = found.end.panel();
    let mut lines = Vec::new();
    let mut acts = found.acts.as_slice();
    while let Some((first, rest)) = acts.split_first() {
        let (line, rest) = held(first, rest, panel).unwrap_or((step(first, panel)?, rest));
        lines.push(line);
        acts = rest;
    }
    let (expected, seen) = expectation(found)?;
    lines.push(expected);
    let lines: String = lines.iter().map(|line| format!("  {line}\n")).collect();
    let procedure = format!("procedure {}\n{lines}end_procedure\n", quoted(title));
    let when = match found.difference.at_ns.saturating_sub(found.since_ns) {
        ..=0 => "At once".to_owned(),
        after_ns => format!("After {}", time_text(after_ns)),
    };
    let lasts_ns = found.end.lasting_ns(found.difference);
    let lasts = lasts_ns.map_or_else(String::new, |lasts_ns| {
        let hardly = if lasts_ns < SEEN_NS { ", which a person hardly sees" } else { "" };
        format!(", for {}{hardly}", time_text(lasts_ns))
    });
    Some(Found { procedure, seen: format!("{when} {seen}{lasts}."), lasts_ns })
}

/// Whether a program passes a procedure that stands behind those of a file; `None` if it cannot be run.
pub(super) fn passes(
    procedure: &str,
    context: &ProcedureTexts<'_>,
    program: &Arc<Program>,
    station: Option<&crate::station::Station>,
    run: &RunOptions,
) -> Option<bool> {
    let mut sources = context.sources.clone();
    let mut names = context.names.clone();
    let file = sources.add("found.steps", procedure);
    let parsed = parse_steps(file, procedure, &mut names);
    if !parsed.diagnostics.is_empty() {
        return None;
    }
    let mut files = context.files.to_vec();
    files.push(parsed.tree);
    let parts = ScriptParts {
        files: &files,
        program: Arc::clone(program),
        station,
        sources: &sources,
        names: &names,
    };
    let (script, _) = Script::new(parts);
    let last = script.procedures().len().checked_sub(1)?;
    match script.run(last, run).verdict {
        Verdict::Passed => Some(true),
        Verdict::Failed(_) => Some(false),
        Verdict::Refused(_) => None,
    }
}

/// `press A for d;` for what is pressed, held and released.
fn held<'a>(first: &Act, rest: &'a [Act], panel: &Panel<'_>) -> Option<(String, &'a [Act])> {
    let Act::Actuate { device, state: true } = first else { return None };
    let [Act::Wait(hold_ns), Act::Actuate { device: other, state: false }, rest @ ..] = rest else {
        return None;
    };
    let described = panel.devices().get(*device)?.device;
    (device == other && is_momentary(described))
        .then(|| (format!("press {} for T#{};", described.name.value, duration(*hold_ns)), rest))
}

fn step(act: &Act, panel: &Panel<'_>) -> Option<String> {
    let device = |index: &usize| panel.devices().get(*index).map(|wired| wired.device);
    let load = |index: &usize| panel.loads().get(*index).map(|wired| wired.load);
    Some(match act {
        Act::Actuate { device: index, state } => {
            let device = device(index)?;
            let name = &device.name.value;
            if !is_momentary(device) {
                format!("turn {name} to {};", state_word(device.word_of_state(*state)))
            } else if *state {
                format!("press {name};")
            } else {
                format!("release {name};")
            }
        }
        Act::Set { path, value } => format!("set {path} to {};", literal(value)?),
        Act::Ramp { path, to, over_ns } => {
            format!("ramp {path} to {} over T#{};", literal(to)?, duration(*over_ns))
        }
        Act::PlaceDevice { device: index, fault, stuck_at } => {
            let device = device(index)?;
            let at = match stuck_at {
                None => String::new(),
                Some(Value::Bool(state)) => format!(" at {}", state_word(device.word_of_state(*state))),
                Some(value) => format!(" at {}", value.as_f64()?),
            };
            let words = match fault {
                WiringFault::OpenWire => "open wire",
                WiringFault::Shorted => "shorted",
                WiringFault::Stuck => "stuck",
            };
            format!("place {words} on {}{at};", device.name.value)
        }
        Act::PlaceLoad { load: index, stuck: None } => {
            format!("place open wire on {};", load(index)?.name.value)
        }
        Act::PlaceLoad { load: index, stuck: Some(on) } => {
            format!("place stuck on {} at {};", load(index)?.name.value, truth(*on))
        }
        Act::ClearAll => "clear faults;".to_owned(),
        Act::Restart(Restart::Warm) => "restart warm;".to_owned(),
        Act::Restart(Restart::Cold) => "restart cold;".to_owned(),
        Act::Wait(duration_ns) => format!("wait T#{};", duration(*duration_ns)),
    })
}

/// What the reference shows, as an expectation, and what is seen in words.
fn expectation(found: &Trial<'_>) -> Option<(String, String)> {
    let end = &found.end;
    match found.difference.what {
        What::Load(load) => {
            let name = &end.panel().loads().get(load)?.load.name.value;
            let (one, other) = end.load(load);
            let (one, other) = (one?, other?);
            let seen =
                format!("{name} is {} with the reference, and {} with the fault", shown(&one), shown(&other));
            Some((expects(name, &one, Some(&other))?, seen))
        }
        What::Output(output) => {
            let (path, one, other) = end.output(output)?;
            let seen = format!(
                "the output {path} is {} with the reference, and {} with the fault",
                literal(&one)?,
                literal(&other)?
            );
            Some((expects(path, &one, Some(&other))?, seen))
        }
        What::Stopped => {
            let seen = "the program with the fault has stopped".to_owned();
            // Any state of the reference that a run comes to tells it from one that has stopped.
            let expected = match end.panel().loads().first() {
                Some(wired) => expects(&wired.load.name.value, &end.load(0).0?, None)?,
                None => {
                    let (path, one, _) = end.output(end.first_output()?)?;
                    expects(path, &one, None)?
                }
            };
            Some((expected, seen))
        }
    }
}

/// An expectation that a value meets, and another one not.
fn expects(name: &str, value: &Value, other: Option<&Value>) -> Option<String> {
    match value {
        Value::Bool(true) => Some(format!("expect {name};")),
        Value::Bool(false) => Some(format!("expect NOT {name};")),
        Value::Real(_) | Value::Lreal(_) => {
            let number = value.as_f64()?;
            let apart = other.and_then(Value::as_f64).map_or(1.0, |other| (number - other).abs());
            // Half way to the other one, in one digit, and the value to a digit more.
            let mut tolerance = 1e9;
            while tolerance > apart / 2.0 {
                tolerance /= 10.0;
                if tolerance < 1e-9 {
                    return None;
                }
            }
            let grain = tolerance / 10.0;
            let rounded = libm::round(number / grain) * grain;
            let digits = libm::ceil(-libm::log10(grain)).max(1.0) as usize;
            Some(format!("expect {name} near {rounded:.digits$} tolerance {tolerance:?};"))
        }
        _ => Some(format!("expect {name} = {};", literal(value)?)),
    }
}

/// A value as it is seen at a panel.
fn shown(value: &Value) -> String {
    match value {
        Value::Bool(true) => "on".to_owned(),
        Value::Bool(false) => "off".to_owned(),
        // No more digits than somebody reads off.
        Value::Real(_) | Value::Lreal(_) => {
            let number = value.as_f64().unwrap_or_default();
            (libm::round(number * 1e3) / 1e3).to_string()
        }
        value => crate::diagram::words::value_text(value),
    }
}

/// A value as a literal of the language.
fn literal(value: &Value) -> Option<String> {
    Some(match value {
        Value::Bool(value) => truth(*value).to_owned(),
        Value::Signed(value, _) => value.to_string(),
        Value::Unsigned(value, _) => value.to_string(),
        Value::Real(_) | Value::Lreal(_) => {
            let text = format!("{}", value.as_f64().filter(|value| value.is_finite())?);
            if text.contains('.') { text } else { format!("{text}.0") }
        }
        Value::Duration(value, ElementaryType::Ltime) => format!("LT#{}", duration(*value)),
        Value::Duration(value, _) => format!("T#{}", duration(*value)),
        value => value.to_string(),
    })
}

const fn truth(value: bool) -> &'static str {
    if value { "TRUE" } else { "FALSE" }
}

fn is_momentary(device: &Device) -> bool {
    matches!(device.form, DeviceForm::TwoState { action: Action::Momentary, .. })
}

/// A state of a device: a word, or a text where it is none.
fn state_word(word: &str) -> String {
    let mut characters = word.chars();
    let begins = characters.next().is_some_and(|first| first.is_ascii_alphabetic());
    let is_word = begins && characters.all(|character| character.is_ascii_alphanumeric());
    if is_word { word.to_owned() } else { quoted(word) }
}

/// A text between quotation marks: `"…"`, where letters outside of Latin-1 may stand.
fn quoted(text: &str) -> String {
    let mark = if text.chars().all(|character| (character as u32) < 256) { '\'' } else { '"' };
    let mut out = String::from(mark);
    for character in text.chars().filter(|character| !character.is_control()) {
        if character == '$' || character == mark {
            out.push('$');
        }
        out.push(character);
    }
    out.push(mark);
    out
}

#[cfg(test)]
mod tests {
    use super::{expects, literal, quoted, state_word};
    use latchwork_vm::{ElementaryType, Value};

    #[test]
    fn a_tolerance_lies_between_the_two_values() {
        let cases = [
            (50.0, 51.0, "expect L near 50.00 tolerance 0.1;"),
            (50.0, 70.0, "expect L near 50.0 tolerance 10.0;"),
            (0.12345, 0.125, "expect L near 0.12345 tolerance 0.0001;"),
            (-3.0, 3.0, "expect L near -3.0 tolerance 1.0;"),
        ];
        for (value, other, text) in cases {
            let found = expects("L", &Value::Lreal(value), Some(&Value::Lreal(other)));
            assert_eq!(found.as_deref(), Some(text));
        }
        assert_eq!(expects("L", &Value::Lreal(1.0), Some(&Value::Lreal(1.0))), None);
    }

    #[test]
    fn states_and_titles_stand_between_quotation_marks_where_they_must() {
        assert_eq!(state_word("wet"), "wet");
        assert_eq!(state_word("by hand"), "'by hand'");
        assert_eq!(quoted("it's $5"), "'it$'s $$5'");
        assert_eq!(quoted("≥ \"x\"\u{1b}"), "\"≥ $\"x$\"\"");
    }

    #[test]
    fn values_are_literals_of_the_language() {
        let cases = [
            (Value::Lreal(12.0), "12.0"),
            (Value::Lreal(0.25), "0.25"),
            (Value::Signed(-7, ElementaryType::Int), "-7"),
            (Value::Duration(1_500_000_000, ElementaryType::Time), "T#1s500ms"),
            (Value::Bool(true), "TRUE"),
        ];
        for (value, text) in cases {
            assert_eq!(literal(&value).as_deref(), Some(text));
        }
        assert_eq!(literal(&Value::Lreal(f64::NAN)), None);
    }
}
