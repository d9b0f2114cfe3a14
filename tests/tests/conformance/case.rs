//! Reads the comments at the head of a case.
//!
//! ```text
//! // Table 72, 4: IF                    where the standard says it; every case has a line with a table or clause
//! // source ISO 8601, 5.2.3             or a published source of its values; also "choice", "common practice, no source"
//! // value 114, 115                     numbers of check values that the case shows
//! // feature 72-4, 71-13                features of the compliance statement that the case shows
//! // scans 3                            scans to run (default 1)
//! // interval T#10ms                    time between scans (default 10 ms)
//! // budget 5000                        instructions a scan may take
//! // instruction 1000                   nanoseconds that an instruction takes (default 0)
//! // preempt                            tasks interrupt tasks of lower priority
//! // set x = TRUE at 2                  before scan 2 (from 0)
//! // restart warm at 2                  before scan 2
//! // expect x = 5                       after the last scan
//! // expect x = 5 at 0                  after scan 0
//! // event overflow 2                   number of events of a kind in all scans
//! // fault subscript                    the run stops so
//! // error type-mismatch                the compiler refuses so, and for nothing else
//! // warning always                     the compiler warns so
//! // clean                              the compiler finds nothing, no warning either
//! ```
//!
//! The following put their text in the place of the line `// here` and try the program anew for each:
//!
//! ```text
//! // run x := 1; -> x = 1, event overflow
//! // stops x := a[k]; -> subscript
//! // refused x := TRUE; -> type-mismatch
//! // warned x := 1; -> always
//! // accepted x := 1;
//! // silent x := 1;
//! ```
//!
//! In files of Instruction List ` / ` in these lines is a line end.
//!
//! A line of features holds for the lines of this second kind that follow it, up to the next such line, which begins
//! anew unless it stands directly below. What is said of the whole program shows all features of its head.
//!
//! A line of values holds for all lines below it that want something, up to the next line of values. It needs a line of
//! sources above it, and a line below it that wants something.

/// What one text must do.
#[derive(Debug)]
pub enum Check {
    /// Runs the program as the script says.
    Run(String, Script),
    /// Compiles to exactly these errors.
    Refused(String, Vec<String>),
    /// Compiles with this warning among the others.
    Warned(String, String),
    /// Compiles.
    Accepted(String),
    /// Compiles without a warning.
    Clean(String),
}

/// How a program is run, and what it must do.
#[derive(Debug, Clone, Default)]
pub struct Script {
    pub scans: u64,
    pub interval_ns: i64,
    pub budget: Option<u64>,
    pub instruction_ns: u32,
    pub preempt: bool,
    pub sets: Vec<(u64, String, String)>,
    pub warm_restarts: Vec<(u64, bool)>,
    pub expectations: Vec<Expectation>,
    pub fault: Option<String>,
    /// Kind and number; no number for "some".
    pub events: Vec<(String, Option<u64>)>,
}

/// The value that a variable must have.
#[derive(Debug, Clone)]
pub struct Expectation {
    /// After this scan; after the last one if it is not said.
    pub scan: Option<u64>,
    pub variable: String,
    pub value: String,
    /// The check values that it shows, for messages.
    pub shows: String,
}

impl Expectation {
    fn new(scan: Option<u64>, variable: &str, value: &str, shows: &str) -> Self {
        Self { scan, variable: variable.to_owned(), value: value.to_owned(), shows: shows.to_owned() }
    }
}

/// A check, and what it is for.
#[derive(Debug)]
pub struct Wanted {
    /// The line that asks for it.
    pub line: String,
    pub check: Check,
    /// Features of the compliance statement that it shows.
    pub features: Vec<String>,
}

/// A case and everything it wants.
#[derive(Debug)]
pub struct Case {
    pub checks: Vec<Wanted>,
    pub has_source: bool,
    pub values: Vec<CheckValue>,
}

/// A numbered check value, and what its case says of it.
#[derive(Debug)]
pub struct CheckValue {
    pub number: u16,
    /// A line above it names its source.
    pub has_source: bool,
    /// Lines below it that want something.
    pub shown_by: usize,
}

/// The check values of a case while it is read.
#[derive(Debug, Default)]
struct CheckValues {
    all: Vec<CheckValue>,
    /// Where the values of the last line begin.
    current: usize,
    has_source: bool,
}

impl CheckValues {
    /// Takes a line of values.
    fn begin(&mut self, list: &str) {
        self.current = self.all.len();
        let has_source = self.has_source;
        let numbers = list.split(", ").map(|number| number.parse().unwrap());
        self.all.extend(numbers.map(|number| CheckValue { number, has_source, shown_by: 0 }));
    }

    /// Counts a line that wants something for the values above it; their names, for messages.
    fn shown(&mut self) -> String {
        let mut names = String::new();
        for value in &mut self.all[self.current..] {
            value.shown_by += 1;
            names += &format!("value {}: ", value.number);
        }
        names
    }
}

fn at(text: &str) -> (&str, Option<u64>) {
    match text.rsplit_once(" at ") {
        Some((value, scan)) if scan.parse::<u64>().is_ok() => (value, scan.parse().ok()),
        _ => (text, None),
    }
}

impl Case {
    /// Reads a case.
    pub fn read(text: &str, instruction_list: bool) -> Self {
        let mut script = Script { scans: 1, interval_ns: 10_000_000, ..Script::default() };
        let (mut errors, mut patterns, mut checks) = (Vec::new(), Vec::new(), Vec::new());
        let (mut features, mut all_features) = (Vec::new(), Vec::new());
        let mut has_source = false;
        let mut runs = false;
        let mut below_features = false;
        let mut values = CheckValues::default();
        for line in text.lines().map_while(|line| line.strip_prefix("//")) {
            let line = line.trim();
            let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
            if word == "feature" {
                if !below_features {
                    features.clear();
                }
                features.extend(rest.split(", ").map(str::to_owned));
                all_features.extend(rest.split(", ").map(str::to_owned));
            }
            below_features = word == "feature";
            let wants_something = matches!(
                word,
                "expect"
                    | "event"
                    | "fault"
                    | "error"
                    | "warning"
                    | "clean"
                    | "silent"
                    | "run"
                    | "stops"
                    | "refused"
                    | "warned"
                    | "accepted"
            );
            let value_names = if wants_something { values.shown() } else { String::new() };
            match word {
                "feature" => {}
                "source" => {
                    values.has_source = !rest.is_empty();
                    has_source |= values.has_source;
                }
                "value" => values.begin(rest),
                "scans" => script.scans = rest.parse().unwrap(),
                "interval" => {
                    let milliseconds: i64 =
                        rest.trim_start_matches("T#").trim_end_matches("ms").parse().unwrap();
                    script.interval_ns = milliseconds * 1_000_000;
                }
                "budget" => script.budget = Some(rest.parse().unwrap()),
                "instruction" => script.instruction_ns = rest.parse().unwrap(),
                "preempt" => script.preempt = true,
                "set" => {
                    let (name, rest) = rest.split_once(" = ").unwrap();
                    let (value, scan) = at(rest);
                    script.sets.push((scan.unwrap(), name.to_owned(), value.to_owned()));
                }
                "restart" => {
                    let (kind, scan) = at(rest);
                    assert!(kind == "warm" || kind == "cold", "{line}");
                    script.warm_restarts.push((scan.unwrap(), kind == "warm"));
                }
                "expect" => {
                    let (name, rest) = rest.split_once(" = ").unwrap();
                    let (value, scan) = at(rest);
                    script.expectations.push(Expectation::new(scan, name, value, &value_names));
                    runs = true;
                }
                "event" => {
                    let (kind, count) = rest.split_once(' ').unwrap();
                    script.events.push((kind.to_owned(), Some(count.parse().unwrap())));
                    runs = true;
                }
                "fault" => {
                    script.fault = Some(rest.to_owned());
                    runs = true;
                }
                "error" => errors.push(rest.to_owned()),
                "warning" => {
                    let check = Check::Warned(text.to_owned(), rest.to_owned());
                    checks.push(Wanted { line: value_names + line, check, features: features.clone() });
                }
                "clean" => {
                    let check = Check::Clean(text.to_owned());
                    checks.push(Wanted { line: value_names + line, check, features: features.clone() });
                }
                "silent" | "run" | "stops" | "refused" | "warned" | "accepted" => {
                    patterns.push((value_names, word.to_owned(), rest.to_owned(), features.clone()));
                }
                _ => has_source |= line.contains("Table ") || line.contains("clause "),
            }
        }
        let mut whole = |check| {
            let line = "the whole program".to_owned();
            checks.push(Wanted { line, check, features: all_features.clone() });
        };
        if runs {
            whole(Check::Run(text.to_owned(), script.clone()));
        }
        if !errors.is_empty() {
            whole(Check::Refused(text.to_owned(), errors));
        }
        for (value_names, word, rest, features) in patterns {
            assert_eq!(text.matches("// here").count(), 1, "one place for the statements: {text}");
            let (body, wanted) = rest.rsplit_once(" -> ").unwrap_or((&rest, ""));
            assert_eq!(wanted.is_empty(), word == "accepted" || word == "silent", "{word} {rest}");
            let body = if instruction_list { body.replace(" / ", "\n") } else { body.to_owned() };
            let program = text.replace("// here", &body);
            let check = match word.as_str() {
                "run" => {
                    let mut script = script.clone();
                    for part in wanted.split(", ") {
                        match (part.split_once(" = "), part.strip_prefix("event ")) {
                            (_, Some(kind)) => script.events.push((kind.to_owned(), None)),
                            (Some((name, value)), None) => {
                                script.expectations.push(Expectation::new(None, name, value, ""));
                            }
                            _ => panic!("{rest}"),
                        }
                    }
                    Check::Run(program, script)
                }
                "stops" => Check::Run(program, Script { fault: Some(wanted.to_owned()), ..script.clone() }),
                "refused" => Check::Refused(program, wanted.split(", ").map(str::to_owned).collect()),
                "silent" => Check::Clean(program),
                "warned" => Check::Warned(program, wanted.to_owned()),
                _ => Check::Accepted(program),
            };
            checks.push(Wanted { line: format!("{value_names}{word} {rest}"), check, features });
        }
        Self { checks, has_source, values: values.all }
    }
}
