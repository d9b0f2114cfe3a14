//! A class of a thousand marked by the command: submissions of 200 lines, ten procedures of 60 simulated seconds each.
//!
//! `cargo bench -p latchwork --bench marking` prints the time, submissions and scans per second, and the most memory that the
//! command took. `LATCHWORK_CLASS=100` marks a smaller class, `LATCHWORK_JOBS=2` uses so many threads.
//!
//! Two thirds of the class are right, in different words; of the others some lack a seal-in, some have a wrong preset, and
//! some do not compile. So there is something to explain on the pages, as in a real class.

use std::{
    env,
    error::Error,
    fmt::Write as _,
    fs,
    path::Path,
    process::{Command, Stdio},
    thread,
    time::{Duration, Instant},
};

use latchwork_tests::memory::most_memory;

const COMMAND: &str = env!("CARGO_BIN_EXE_latchwork");

/// Lines that every submission fills up to.
const LINES: usize = 200;

/// Procedures, each of 60 simulated seconds of 10 ms.
const PROCEDURES: usize = 10;

/// How often the memory is looked at.
const LOOK: Duration = Duration::from_millis(5);

const EXERCISE: &str = "\
title = \"Lift pump with filters\"
task = \"task.md\"
station = \"station.toml\"
reference = [\"reference.st\"]

[points]
compiles = 1

[[procedures]]
file = \"shown.steps\"

[interface]
programs = [\"Lift\"]
";

const STATION: &str = "\
title = \"Lift pump\"

[[device]]
name = \"StartPB\"
contact = \"normally open\"
terminal = \"%IX0.0\"

[[device]]
name = \"StopPB\"
contact = \"normally closed\"
terminal = \"%IX0.1\"

[[load]]
name = \"P1\"
kind = \"motor\"
terminal = \"%QX0.0\"

[[load]]
name = \"H1\"
kind = \"lamp\"
terminal = \"%QX0.1\"
";

fn steps() -> Result<String, Box<dyn Error>> {
    let mut text = String::new();
    for number in 1..=PROCEDURES {
        // Sixty seconds in which nearly every scan is looked at, by a rule and by expectations.
        writeln!(
            text,
            "procedure 'minute {number}'\n  never H1 AND NOT P1;\n  press StartPB for T#{number}00ms;\n  expect P1 within T#50ms;\n  \
             expect H1 within T#6s;\n  expect P1 for T#20s;\n  wait T#25s;\n  press StopPB for T#200ms;\n  \
             expect NOT P1 AND NOT H1 within T#50ms;\n  at T#60s;\nend_procedure\n"
        )?;
    }
    Ok(text)
}

/// A program of some 200 lines: the pump, and filters, counters and sums that a longer task would have.
fn program(index: usize, core: &str) -> Result<String, Box<dyn Error>> {
    let mut body = String::new();
    let mut filters = 0;
    while body.lines().count() + filters * 3 / 2 + 30 < LINES {
        filters += 1;
        writeln!(
            body,
            "  (* filter {filters} *)\n  Raw{filters} := Raw{filters} + {};\n  IF Raw{filters} > 1000 THEN\n    \
             Raw{filters} := 0;\n  END_IF;\n  Sum{filters} := (Sum{filters} * 7 + Raw{filters}) / 8;\n  \
             High{filters} := Sum{filters} > {} AND Pump;",
            1 + (index + filters) % 7,
            300 + filters
        )?;
    }
    let mut text = String::from(
        "PROGRAM Lift\nVAR\n  Start AT %IX0.0 : BOOL;\n  Stop AT %IX0.1 : BOOL;\n  Pump AT %QX0.0 : BOOL;\n  \
         Lamp AT %QX0.1 : BOOL;\n  Wait : TON;\n  Starts : CTU;\n",
    );
    for filter in 1..=filters {
        writeln!(text, "  Raw{filter}, Sum{filter} : INT;\n  High{filter} : BOOL;")?;
    }
    write!(
        text,
        "END_VAR\n{core}{body}  Starts(CU := Pump, R := FALSE, PV := {});\nEND_PROGRAM\n",
        100 + index
    )?;
    Ok(text)
}

const RIGHT: &str =
    "  Pump := (Start OR Pump) AND Stop;\n  Wait(IN := Pump, PT := T#5s);\n  Lamp := Wait.Q AND Pump;\n";

/// What students write, over and over.
const WRITTEN: [&str; 6] = [
    RIGHT,
    "  IF NOT Stop THEN\n    Pump := FALSE;\n  ELSIF Start THEN\n    Pump := TRUE;\n  END_IF;\n  Wait(IN := Pump, PT := T#5s);\n  \
     Lamp := Wait.Q AND Pump;\n",
    "  Pump := Stop AND (Pump OR Start);\n  Wait(IN := Pump, PT := T#5000ms);\n  Lamp := Pump AND Wait.Q;\n",
    RIGHT,
    "  Pump := Start AND Stop;\n  Wait(IN := Pump, PT := T#5s);\n  Lamp := Wait.Q AND Pump;\n",
    "  Pump := (Start OR Pump) AND Stop;\n  Wait(IN := Pump, PT := T#8s);\n  Lamp := Wait.Q AND Pump;\n",
];

fn class(folder: &Path, students: usize) -> Result<(), Box<dyn Error>> {
    let exercise = folder.join("exercise");
    fs::create_dir_all(&exercise)?;
    for (name, text) in [
        ("exercise.toml", EXERCISE.to_owned()),
        ("task.md", "The pump holds itself; the lamp comes five seconds later.\n".to_owned()),
        ("station.toml", STATION.to_owned()),
        ("shown.steps", steps()?),
        ("reference.st", program(0, RIGHT)?),
    ] {
        fs::write(exercise.join(name), text)?;
    }
    let handed_in = folder.join("handed-in");
    fs::create_dir_all(&handed_in)?;
    for (index, core) in (0..students).zip(WRITTEN.iter().cycle()) {
        let mut text = program(index, core)?;
        if index % 50 == 49 {
            text = text.replacen(":=", "=", 1);
        }
        fs::write(handed_in.join(format!("student-{index:04}.st")), text)?;
    }
    Ok(())
}

#[allow(clippy::print_stdout, reason = "the table is what the benchmark is for")]
fn main() -> Result<(), Box<dyn Error>> {
    let number = |name: &str, otherwise: usize| {
        env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
    };
    let (students, jobs) = (number("LATCHWORK_CLASS", 1_000), number("LATCHWORK_JOBS", 2));
    let folder = tempfile::tempdir()?;
    class(folder.path(), students)?;
    let jobs_text = jobs.to_string();
    let start = Instant::now();
    let mut child = Command::new(COMMAND)
        .args(["mark", "exercise", "handed-in", "--out", "marks", "--quiet", "--jobs", &jobs_text])
        .current_dir(folder.path())
        .stdout(Stdio::null())
        .spawn()?;
    let mut most = None;
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        most = most_memory(child.id()).max(most);
        thread::sleep(LOOK);
    };
    let took = start.elapsed().as_secs_f64();
    if !status.success() {
        return Err(format!("latchwork mark ended with {status}").into());
    }
    let gradebook = fs::read_to_string(folder.path().join("marks/gradebook.csv"))?;
    let right = gradebook.lines().filter(|line| line.contains("100.0")).count();
    let scans = (students * PROCEDURES * 6_000) as f64;
    println!(
        "{students} submissions of {LINES} lines, {PROCEDURES} procedures of 60 s, {jobs} threads; {right} all right"
    );
    println!(
        "  {took:.2} s, {:.0} submissions per second, about {:.2} million scans per second",
        students as f64 / took,
        scans / took / 1e6
    );
    if let Some(most) = most {
        println!("  {:.0} MB at most", most as f64 / 1e6);
    }
    Ok(())
}
