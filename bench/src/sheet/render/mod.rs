//! A sheet as text to be printed: Markdown and HTML. Both say the same.

mod html;
mod markdown;

pub use self::{html::html, markdown::markdown};

use super::{
    Process, Reading, Sheet, Told, Watch,
    text::Text,
    words::{AT_ONCE_NS, SECOND_NS, stopwatch},
};

/// More loads than these that stay off are not named each.
const OFF_NAMED_MAX: usize = 8;

/// From here on the time to look on is told in whole seconds.
const WHOLE_NS: i64 = 2 * SECOND_NS;

/// Lines to be filled in at the top.
const FIELDS: [&str; 4] = ["Student", "Board", "Instructor", "Date"];

const WIRING_INTRODUCTION: &str = "First the wires, then the logic. Keep the program stopped, or look only at the \
     indicators of the inputs: work each device and see that its input follows. An input that does not is put right \
     before anything else, with the board dead and locked out.";

const OUTPUT_INTRODUCTION: &str = "While you go through the steps below: the first time that the indicator of an output \
     comes on, its load must work, and no other load.";

const STEP_INTRODUCTION: &str = "Do one step after the other, and look at all loads for the whole time given. Times are \
     rounded for a stopwatch in the hand. Tick yes where everything came as expected; otherwise \
     tick no, and write down what was seen.";

/// What is said of the process behind the station.
fn process(sheet: &Sheet) -> Option<String> {
    match &sheet.process {
        Process::None => None,
        Process::LeftOut(name) => Some(format!(
            "The station simulates its process ({name}). This sheet does without it: every device is moved by hand."
        )),
        Process::Moves(name) => {
            let moved = sheet.inputs.iter().filter(|line| line.by_process).map(|line| line.name.as_str());
            Some(format!(
                "The process moves these devices: {}. The expected states hold for the process that the station simulates \
                 ({name}); on a board without such a process they do not.",
                moved.collect::<Vec<_>>().join(", ")
            ))
        }
    }
}

/// What the sheet says nothing about.
fn gaps(sheet: &Sheet) -> Vec<String> {
    let mut gaps = Vec::new();
    let outputs = sheet.never_on.iter().filter_map(|index| sheet.outputs.get(*index));
    let outputs: Vec<&str> = outputs.map(|line| line.name.as_str()).collect();
    if !outputs.is_empty() {
        gaps.push(format!(
            "No step of this sheet turns on: {}. Check these loads in another way.",
            outputs.join(", ")
        ));
    }
    let inputs = sheet.not_worked.iter().filter_map(|index| sheet.inputs.get(*index));
    let inputs: Vec<&str> = inputs.map(|line| line.name.as_str()).collect();
    if !inputs.is_empty() {
        gaps.push(format!("No step of this sheet works: {}.", inputs.join(", ")));
    }
    gaps
}

/// How long a person looks on.
fn watch(watch: Watch) -> String {
    let least = watch.least_ns;
    match watch.most_ns {
        Some(most_ns) if least > AT_ONCE_NS && stopwatch(most_ns) == stopwatch(least) => {
            format!("{}, then go on at once", stopwatch(least))
        }
        // Nobody counts tenths where it does not matter.
        None if least >= WHOLE_NS => {
            stopwatch(least.saturating_add(SECOND_NS / 10 * 7) / SECOND_NS * SECOND_NS)
        }
        Some(most_ns) if least <= AT_ONCE_NS => format!("go on at once, within {}", stopwatch(most_ns)),
        None if least <= AT_ONCE_NS => "go on at once".to_owned(),
        Some(most_ns) => format!("{}, go on before {}", stopwatch(least), stopwatch(most_ns)),
        None => stopwatch(least),
    }
}

/// What the loads do: a sentence each for those that change, one for those that stay on and one for those that stay off.
fn expected(told: &Told) -> Vec<Text> {
    let mut lines = told.changes.clone();
    lines.extend(told.levels.iter().cloned());
    let names =
        |names: &[String]| Text::list(names.iter().map(|name| Text::default().name(name)).collect(), ", ");
    if !told.on.is_empty() {
        lines.push(
            Text::new(if told.on.len() == 1 { "Stays on: " } else { "Stay on: " })
                .then(names(&told.on))
                .words("."),
        );
    }
    match told.off.len() {
        0 => {}
        1 => lines.push(Text::new("Stays off: ").then(names(&told.off)).words(".")),
        2..=OFF_NAMED_MAX => lines.push(Text::new("Stay off: ").then(names(&told.off)).words(".")),
        _ => lines.push(Text::new("All other loads stay off.")),
    }
    lines
}

/// "released 0", in the lists.
fn readings(readings: &[Reading]) -> Vec<String> {
    readings.iter().map(|reading| format!("{}: {}", reading.state, reading.reads)).collect()
}

/// The points of a part.
fn points(points: f64) -> String {
    if points == 1.0 { "1 point".to_owned() } else { format!("{points} points") }
}
