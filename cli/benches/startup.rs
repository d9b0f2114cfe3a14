//! How long the command takes from its start to its end, where it has next to nothing to do: what an editor or a script
//! that calls it waits for.
//!
//! `cargo bench -p latchwork --bench startup` prints the median and the fastest of many runs of `--version`, of
//! `check` on a program of about 200 lines, and of the first command of README.md, and the size of the binary.

use std::{
    error::Error,
    fs,
    path::{Path, PathBuf},
    process::{Command, Stdio},
    time::{Duration, Instant},
};

const COMMAND: &str = env!("CARGO_BIN_EXE_latchwork");

/// Runs of each command.
const RUNS: usize = 200;

/// The median and the fastest of the runs of one command.
fn measure(directory: &Path, arguments: &[&str]) -> Result<(Duration, Duration), Box<dyn Error>> {
    let mut times = Vec::with_capacity(RUNS);
    for _ in 0..RUNS {
        let mut command = Command::new(COMMAND);
        command.args(arguments).current_dir(directory).stdout(Stdio::null()).stderr(Stdio::null());
        let start = Instant::now();
        let status = command.status()?;
        times.push(start.elapsed());
        if !status.success() {
            return Err(format!("latchwork {} ended with {status}", arguments.join(" ")).into());
        }
    }
    times.sort_unstable();
    let middle = times.get(RUNS / 2).copied().unwrap_or_default();
    Ok((middle, times.first().copied().unwrap_or_default()))
}

#[allow(clippy::print_stdout, reason = "the table is what the benchmark is for")]
fn main() -> Result<(), Box<dyn Error>> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..");
    let program = "samples/published-algorithms/recipe-fingerprint.st";
    let lines = fs::read_to_string(root.join(program))?.lines().count();
    let sample = [
        "run",
        "samples/transfer-pump/pump.st",
        "--station",
        "samples/transfer-pump/station.toml",
        "--stimulus",
        "samples/transfer-pump/stimulus.csv",
    ];
    let commands: [(String, &[&str]); 3] = [
        ("--version".to_owned(), &["--version"]),
        (format!("check, {lines} lines"), &["check", program]),
        ("run the sample".to_owned(), &sample),
    ];
    println!("{:<18} {:>10} {:>10}", "command", "median", "fastest");
    for (name, arguments) in &commands {
        let (median, fastest) = measure(&root, arguments)?;
        let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
        println!("{name:<18} {:>7.2} ms {:>7.2} ms", milliseconds(median), milliseconds(fastest));
    }
    println!("{:<18} {:>7.2} MB", "size of the binary", fs::metadata(COMMAND)?.len() as f64 / 1e6);
    Ok(())
}
