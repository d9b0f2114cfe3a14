//! `latchwork test` on several threads, in parts, interrupted, and again and again: the same results.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{
    collections::BTreeSet,
    fs,
    io::{BufRead, BufReader, Read},
    process::{Child, Stdio},
    thread,
    time::Duration,
};

use bench::{
    Folder,
    procedures::{BENCH, failing, folder, passing, refused, write},
};

/// A folder with passing, failing and refused procedures in several files.
fn mixed() -> Folder {
    let folder = folder();
    for file in 0..4 {
        let procedures: Vec<String> = (0..12)
            .map(|index| match (file + index) % 7 {
                3 => failing(&format!("failing {index}")),
                5 => refused(&format!("refused {index}")),
                _ => passing(&format!("passing {index}")),
            })
            .collect();
        write(&folder, &format!("f{file}.steps"), &procedures);
    }
    folder.write("syntax.steps", "program 'pump.st';\nprocedure 'wrong'\n  press;\nend_procedure\n");
    folder
}

fn results(folder: &Folder, arguments: &str) -> (i32, String, Vec<u8>, Vec<u8>) {
    let ran = folder.run(&format!("test --junit out.xml --json out.json {arguments}"));
    (ran.code.unwrap(), ran.out, folder.read("out.xml"), folder.read("out.json"))
}

#[test]
fn any_number_of_jobs_gives_the_same_bytes() {
    let folder = mixed();
    for arguments in ["", "--fail-fast", "--quiet", "--shard 2/3", "--format json", "--name passing"] {
        let one = results(&folder, &format!("--jobs 1 {arguments}"));
        for jobs in [2, 7, 64] {
            let many = results(&folder, &format!("--jobs {jobs} {arguments}"));
            assert!(one == many, "--jobs {jobs} {arguments}:\n{}\n{}", one.1, many.1);
        }
        assert_eq!(one, results(&folder, arguments));
    }
}

#[test]
fn the_first_failure_ends_a_run_that_is_to_fail_fast() {
    let folder = mixed();
    let ran = folder.run("test --fail-fast --jobs 4").expect(1);
    assert!(ran.out.contains("49 procedures: 3 passed, 1 failed, 45 not run"), "{}", ran.shown());
    assert!(!ran.out.contains("  not run "), "{}", ran.shown());
}

/// File, title and verdict of all that ran.
fn verdicts(folder: &Folder, arguments: &str) -> Vec<(String, String, String)> {
    let ran = folder.run(&format!("test --format json {arguments}"));
    let document: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let text = |entry: &serde_json::Value, key: &str| entry[key].as_str().unwrap().to_string();
    let entries = document["results"].as_array().unwrap().iter();
    entries.map(|entry| (text(entry, "file"), text(entry, "title"), text(entry, "verdict"))).collect()
}

#[test]
fn shares_are_apart_and_together_the_whole() {
    let folder = mixed();
    let whole = verdicts(&folder, "");
    assert_eq!(whole.len(), 49);
    for of in [1, 2, 5, 60] {
        let mut together = Vec::new();
        for number in 1..=of {
            together.extend(verdicts(&folder, &format!("--shard {number}/{of}")));
        }
        assert_eq!(together.len(), whole.len());
        assert_eq!(together.into_iter().collect::<BTreeSet<_>>(), whole.iter().cloned().collect());
    }
}

#[test]
fn ten_thousand_procedures_run() {
    let folder = folder();
    let procedures: String = (0..10_000).map(|index| passing(&format!("number {index}"))).collect();
    folder.write("many.steps", format!("{BENCH}{procedures}"));
    let ran = folder.run("test --quiet").expect(0);
    assert!(ran.out.contains("10000 procedures: 10000 passed"), "{}", ran.shown());
}

/// Whether the tests are run with the signal ignored, as whatever they start then does too.
#[cfg(unix)]
fn interrupt_is_ignored() -> bool {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).is_some_and(|mask| mask & 0b10 != 0)
}

#[cfg(unix)]
fn interrupt(child: &Child) {
    send("-INT", child);
}

#[cfg(unix)]
fn send(signal: &str, child: &Child) {
    let sent = std::process::Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
}

#[cfg(unix)]
fn start(folder: &Folder, arguments: &[&str]) -> Child {
    std::process::Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .arg("test")
        .args(arguments)
        .current_dir(folder.path("."))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// A procedure that takes longer than any test waits.
fn endless() -> String {
    "procedure 'endless'\n  repeat 9 times wait T#3h; end_repeat;\n  expect NOT Pump;\nend_procedure\n\n"
        .to_string()
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_whole_reports() {
    if !interrupt_is_ignored() {
        whole_reports_are_left_after("-INT");
    }
}

#[cfg(unix)]
#[test]
fn a_run_that_a_batch_system_cancels_leaves_whole_reports() {
    whole_reports_are_left_after("-TERM");
}

#[cfg(unix)]
fn whole_reports_are_left_after(signal: &str) {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one"), failing("two"), endless(), passing("four")]);
    let mut child = start(&folder, &["--jobs", "1", "--junit", "out.xml", "--json", "out.json"]);
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut shown = String::new();
    while !shown.contains("failed   two") {
        assert_ne!(out.read_line(&mut shown).unwrap(), 0, "{shown}");
    }
    thread::sleep(Duration::from_millis(200));
    send(signal, &child);
    out.read_to_string(&mut shown).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert!(shown.contains("4 procedures: 1 passed, 1 failed, 2 not run"), "{shown}");
    let document: serde_json::Value = serde_json::from_slice(&folder.read("out.json")).unwrap();
    assert_eq!(document["complete"], false);
    let verdicts: Vec<&str> = document["results"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["verdict"].as_str().unwrap())
        .collect();
    assert_eq!(verdicts, ["passed", "failed", "not_run", "not_run"]);
    let junit = String::from_utf8(folder.read("out.xml")).unwrap();
    assert!(junit.contains("tests=\"4\" failures=\"1\" errors=\"0\" skipped=\"2\""), "{junit}");
    assert!(junit.ends_with("</testsuites>\n"));
}

/// The lines of a stream, as far as they have come.
#[cfg(unix)]
struct Lines(std::sync::mpsc::Receiver<String>);

#[cfg(unix)]
impl Lines {
    fn of(stream: impl Read + Send + 'static) -> Self {
        let (send, receive) = std::sync::mpsc::channel();
        thread::spawn(move || {
            for line in BufReader::new(stream).lines().map_while(Result::ok) {
                if send.send(line).is_err() {
                    break;
                }
            }
        });
        Lines(receive)
    }

    /// Waits for a line with a text in it.
    #[track_caller]
    fn wait_for(&self, text: &str) -> String {
        let mut all = Vec::new();
        loop {
            match self.0.recv_timeout(Duration::from_secs(30)) {
                Ok(line) if line.contains(text) => return line,
                Ok(line) => all.push(line),
                Err(_) => panic!("no line with `{text}` came:\n{}", all.join("\n")),
            }
        }
    }
}

#[cfg(unix)]
#[test]
fn watching_runs_again_when_a_file_changes() {
    if interrupt_is_ignored() {
        return;
    }
    let folder = folder();
    write(&folder, "a.steps", &[passing("one")]);
    let mut child = start(&folder, &["--watch"]);
    let out = Lines::of(child.stdout.take().unwrap());
    let err = Lines::of(child.stderr.take().unwrap());
    out.wait_for("1 procedure: 1 passed");
    err.wait_for("watching 3 files");
    // A procedure, then the program, then a new file.
    write(&folder, "a.steps", &[failing("one"), passing("two")]);
    err.wait_for("a.steps changed");
    out.wait_for("2 procedures: 1 passed, 1 failed");
    err.wait_for("watching");
    let program = fs::read_to_string(folder.path("pump.st")).unwrap();
    folder.write("pump.st", program.replace("AND Stop", "OR Stop "));
    err.wait_for("pump.st changed");
    out.wait_for("2 procedures: 2 passed");
    err.wait_for("watching");
    folder.write("b.steps", "procedure\n");
    err.wait_for("b.steps changed");
    out.wait_for("3 procedures: 2 passed, 1 refused");
    err.wait_for("watching");
    fs::remove_file(folder.path("b.steps")).unwrap();
    fs::remove_file(folder.path("a.steps")).unwrap();
    err.wait_for("changed; running again");
    err.wait_for("there is no file of procedures");
    interrupt(&child);
    assert_eq!(child.wait().unwrap().code(), Some(130));
}
