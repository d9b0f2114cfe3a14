//! The report in a browser: cursors and zoom held to the recording, by keyboard and mouse; and how fast it opens.

#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing)]

mod bench;

use bench::{
    Folder,
    browser::{look, look_with},
    long::{self, long},
};
use serde_json::Value;

const KINDS: &str = "Flag,N,Small,Whole,Large,Natural,Octet,Pattern,Share,Fine,Waited,LongWait,Day,Clock,Moment,Note,\
                     Wide,Letter,State";

/// A recording as its table has it.
struct Table {
    names: Vec<String>,
    /// By scan, the values of all rows.
    scans: Vec<Vec<String>>,
}

impl Table {
    fn read(bytes: &[u8]) -> Self {
        let mut reader = csv::Reader::from_reader(bytes);
        let names = reader.headers().unwrap().iter().skip(1).map(str::to_owned).collect();
        let scans = reader.records().map(|line| line.unwrap().iter().skip(1).map(str::to_owned).collect());
        Table { names, scans: scans.collect() }
    }

    /// The row of a name, which the page shows without that of the only program.
    fn row(&self, name: &str) -> usize {
        let is_it =
            |known: &String| known == name || known.rsplit_once('.').is_some_and(|(_, last)| last == name);
        self.names.iter().position(is_it).unwrap()
    }

    /// The scan at which the value that is in force came.
    fn since(&self, row: usize, scan: usize) -> usize {
        (0..=scan).rev().take_while(|it| self.scans[*it][row] == self.scans[scan][row]).last().unwrap()
    }

    /// The next scan that brings another value; the last one if none does.
    fn next(&self, row: usize, scan: usize) -> usize {
        let here = &self.scans[scan][row];
        (scan..self.scans.len()).find(|it| self.scans[*it][row] != *here).unwrap_or(self.scans.len() - 1)
    }

    /// The change before a scan.
    fn previous(&self, row: usize, scan: usize) -> usize {
        match self.since(row, scan) {
            since if since < scan => since,
            0 => 0,
            since => self.since(row, since - 1),
        }
    }
}

/// The time of a scan of 10 ms, as the page tells it: the longest unit that three decimal places tell exactly.
fn time(scan: usize) -> String {
    match scan * 10 {
        0 => "0 s".to_owned(),
        ms @ ..1000 => format!("{ms} ms"),
        ms => {
            let text = format!("{}.{:03}", ms / 1000, ms % 1000);
            format!("{} s", text.trim_end_matches('0').trim_end_matches('.'))
        }
    }
}

/// The times between which a state shows the diagram, in milliseconds.
fn shown(state: &Value) -> (f64, f64) {
    let text = state["measures"].as_str().unwrap();
    let (_, shown) = text.split_once("shown ").unwrap();
    let (from, until) = shown.split_once(" to ").unwrap();
    let ms = |text: &str| {
        let (number, unit) = text.split_once(' ').unwrap();
        number.parse::<f64>().unwrap()
            * match unit {
                "s" => 1e3,
                "ms" => 1.0,
                "µs" => 1e-3,
                unit => panic!("{unit}"),
            }
    };
    (ms(from), ms(until))
}

#[test]
fn cursors_tell_what_was_recorded() {
    let folder = Folder::new();
    folder.write("kinds.st", include_str!("files/kinds.st"));
    folder
        .run(&format!("run kinds.st --until T#3s --quiet --record {KINDS} --report run.html --csv run.csv"))
        .expect(0);
    let table = Table::read(&folder.read("run.csv"));
    let Some(seen) = look("cursor.mjs", &[&folder.path("run.html")]) else { return };
    assert_eq!(seen["noticed"], serde_json::json!([]));
    let last = table.scans.len() - 1;
    let mut expected = (0usize, None::<usize>);
    let mut chosen = table.row("Flag");
    let mut before = (0.0_f64, 3000.0_f64);
    for state in seen["states"].as_array().unwrap() {
        let act = state["act"].as_str().unwrap();
        let (a, b) = expected;
        let (from, until) = before;
        let tenth = (((until - from) / 10.0 / 10.0).round() as usize).max(1);
        let middle = |share: f64| ((from + share * (until - from)) / 10.0).floor() as usize;
        let mut rough = false;
        match act {
            "key ArrowRight" => expected.0 = (a + 1).min(last),
            "key ArrowLeft" => expected.0 = a.saturating_sub(1),
            "key PageDown" => expected.0 = (a + tenth).min(last),
            "key Shift+ArrowRight" => expected.0 = table.next(chosen, a),
            "key Shift+ArrowLeft" => expected.0 = table.previous(chosen, a),
            "key End" => expected.0 = last,
            "key Home" => expected.0 = 0,
            "key ArrowDown" => chosen += 1,
            "key ArrowUp" => chosen -= 1,
            "key b" => expected.1 = Some(a),
            "key ArrowRight on B" => expected.1 = b.map(|b| b + 1),
            "button Remove B" => expected.1 = None,
            _ if act.starts_with("click ") => {
                expected.0 = middle(act["click ".len()..].parse().unwrap());
                (chosen, rough) = (2, true);
            }
            _ if act.starts_with("shift click ") => {
                expected.1 = Some(middle(act["shift click ".len()..].parse().unwrap()));
                (chosen, rough) = (0, true);
            }
            _ => assert!(act == "start" || act.starts_with("key ") || act.starts_with("button "), "{act}"),
        }
        let (a, b) = (state["a"].as_u64().unwrap() as usize, state["b"].as_u64().map(|scan| scan as usize));
        // A pixel of the mouse is some scans.
        let near = |one: usize, other: usize| one.abs_diff(other) <= if rough { 3 } else { 0 };
        assert!(near(a, expected.0), "{act}: A is at {a}, expected {}", expected.0);
        assert_eq!(b.is_some(), expected.1.is_some(), "{act}");
        assert!(b.zip(expected.1).is_none_or(|(b, expected)| near(b, expected)), "{act}: {b:?} {expected:?}");
        expected = (a, b);
        before = shown(state);
        assert_eq!(state["chosen"], table.names[chosen].as_str(), "{act}");
        holds(state, &table, a, b, chosen);
    }
    zoomed(seen["states"].as_array().unwrap());
    listed(&seen["changes"], &table);
}

/// Whatever a state shows is what was recorded at its cursors.
fn holds(state: &Value, table: &Table, a: usize, b: Option<usize>, chosen: usize) {
    let act = &state["act"];
    let rows = state["rows"].as_array().unwrap();
    assert_eq!(rows.len(), table.names.len());
    for (index, row) in rows.iter().enumerate() {
        assert_eq!(row["name"], table.names[index].as_str());
        assert_eq!(row["a"], table.scans[a][index].as_str(), "{act}: {} at {a}", table.names[index]);
        assert_eq!(row["since"], time(table.since(index, a)), "{act}: {} at {a}", table.names[index]);
        let at_b = b.map_or("–", |b| table.scans[b][index].as_str());
        assert_eq!(row["b"], at_b, "{act}: {} at B", table.names[index]);
    }
    assert_eq!(state["spoken"], format!("{}, scan {}", time(a), a + 1));
    let status = state["status"].as_str().unwrap();
    let value = &table.scans[a][chosen];
    assert!(
        status.starts_with(&format!("{}, scan {}. {}: {value}.", time(a), a + 1, table.names[chosen])),
        "{act}: {status}"
    );
    let measures = state["measures"].as_str().unwrap();
    assert!(measures.starts_with(&format!("A {} (scan {})", time(a), a + 1)), "{measures}");
    if let Some(b) = b {
        let sign = if b < a { "-" } else { "" };
        let between = format!("B − A {sign}{}, {}{}", time(b.abs_diff(a)), sign, b.abs_diff(a));
        assert!(measures.contains(&between), "{measures} {between}");
    }
    let at_cursor = state["atCursor"].as_str().unwrap();
    assert!(at_cursor.contains(&format!("Value{value}Since")), "{act}: {at_cursor}");
    assert!(state["paths"].as_u64().unwrap() > 0);
}

/// Zooming shows half and double the time around the cursor, and stays within the run.
fn zoomed(states: &[Value]) {
    let mut before = (0.0_f64, 3000.0_f64);
    let mut acts = 0;
    for state in states {
        let (from, until) = shown(state);
        let length = before.1 - before.0;
        let wanted = match state["act"].as_str().unwrap() {
            "key +" | "button Zoom in" => Some(length / 2.0),
            "button Zoom out" => Some((length * 2.0).min(3000.0)),
            "key 0" | "button Whole run" => Some(3000.0),
            "button Later" | "button Earlier" => Some(length),
            _ => None,
        };
        if let Some(wanted) = wanted {
            assert!((until - from - wanted).abs() < 0.01, "{}: {from} to {until}", state["act"]);
            acts += 1;
        }
        assert!(from >= 0.0 && until <= 3000.0);
        if state["act"] == "button A to B" {
            let ends = [state["a"].as_f64().unwrap() * 10.0, state["b"].as_f64().unwrap() * 10.0];
            assert!(ends.iter().all(|end| (from..=until).contains(end)), "{from} to {until}: {ends:?}");
        }
        before = (from, until);
    }
    assert_eq!(acts, 10);
}

/// The list of changes is that of the recording.
fn listed(changes: &Value, table: &Table) {
    let listed: Vec<Vec<String>> = serde_json::from_value(changes.clone()).unwrap();
    assert!(listed.len() >= 100);
    let mut expected = Vec::new();
    for scan in 1..table.scans.len() {
        for row in 0..table.names.len() {
            let (from, to) = (&table.scans[scan - 1][row], &table.scans[scan][row]);
            // What moves in every scan is listed where it begins to move and where it stops.
            let moves = |scan: usize| {
                let cell = |scan: usize| table.scans.get(scan).map(|cells| &cells[row]);
                scan > 0 && cell(scan).is_some_and(|value| Some(value) != cell(scan - 1))
            };
            // The first value is there since the first scan.
            let begins = scan == 1 || moves(scan - 1);
            let within = table.names[row] != "Flag" && begins && moves(scan + 1);
            if from != to && !within {
                let cells = [&time(scan), &(scan + 1).to_string(), &table.names[row], from, to];
                expected.push(cells.map(String::clone).to_vec());
            }
        }
    }
    assert_eq!(listed, expected[..listed.len()]);
}

/// A text without what only lays it out.
fn bare(text: &str) -> String {
    text.chars().filter(|character| !character.is_whitespace() && !"│├─└•".contains(*character)).collect()
}

/// Where the cursor stands on a change, the page gives the reasons that `why` gives, and the rung of that scan.
#[test]
fn the_page_says_why() {
    let folder = Folder::new();
    let run = "--station station.toml --stimulus press.csv";
    folder.run(&format!("run pump.st {run} --quiet --report run.html --csv run.csv")).expect(0);
    let table = Table::read(&folder.read("run.csv"));
    let Some(seen) = look("cursor.mjs", &[&folder.path("run.html")]) else { return };
    let mut compared = 0;
    for state in seen["states"].as_array().unwrap() {
        let (a, chosen) = (state["a"].as_u64().unwrap() as usize, state["chosen"].as_str().unwrap());
        let told: Vec<&str> =
            state["told"].as_array().unwrap().iter().map(|it| it.as_str().unwrap()).collect();
        let is_device = chosen.ends_with("PB");
        assert_eq!(told.is_empty(), is_device, "{chosen}: {told:?}");
        if is_device || table.since(table.row(chosen), a) != a {
            continue;
        }
        let why = folder.run(&format!("why {chosen} pump.st {run} --at T#{}ms", 10 * a)).expect(0).out;
        let (heading, reason) = told[0].split_at("Why".len());
        assert_eq!((heading, bare(reason)), ("Why", bare(&why)), "{chosen} in scan {a}");
        if chosen == "Pump" {
            assert!(told[1].starts_with(&format!("As a rungIn scan {}, at {}:", a + 1, time(a))), "{told:?}");
            compared += 1;
        }
    }
    assert!(compared >= 4, "{compared}");
}

/// Ten minutes with scans of 10 ms and two hundred rows that change stay under five megabytes, with every value, and open
/// within a second.
#[test]
fn a_long_report_is_small_and_opens_within_a_second() {
    let folder = Folder::new();
    folder.write("long.st", long());
    folder
        .run(&format!("run long.st --until T#10m --quiet --record {} --report long.html", long::rows()))
        .expect(0);
    let page = String::from_utf8(folder.read("long.html")).unwrap();
    assert!(page.len() < 5_000_000, "{} bytes", page.len());
    assert!(!page.contains("Not all values are in this page"));
    let Some(seen) = look_with("opening.mjs", &[&folder.path("long.html")], &["3"]) else { return };
    let best = |times: &Value| {
        times.as_array().unwrap().iter().map(|time| time.as_f64().unwrap()).fold(f64::INFINITY, f64::min)
    };
    let (opened, worked, moved) = (best(&seen["opened"]), best(&seen["worked"]), best(&seen["moved"]));
    // Where other programs keep the computer busy, what the page itself makes the processor do is what counts.
    assert!(opened < 1_000.0 || (worked < 800.0 && opened < 10_000.0), "opened in {opened} ms: {seen}");
    assert!(moved < 500.0, "a key took {moved} ms: {seen}");
}
