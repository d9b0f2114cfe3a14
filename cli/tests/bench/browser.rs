//! Pages looked at with a browser: Chromium, driven by scripts of `tests/browser`.

use std::{env, fs, io::Write as _, path::Path, process::Command};

use serde_json::Value;

const SCRIPTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/browser");

/// Runs a script of `tests/browser` and reads what it prints. `None` where the browser or the packages are missing, unless
/// `LATCHWORK_BROWSER` names the browser, as the continuous integration does, or `CI` says that this is one.
pub fn look(script: &str, arguments: &[&Path]) -> Option<Value> {
    look_with(script, arguments, &[])
}

/// As [`look`], with words behind the paths.
pub fn look_with(script: &str, arguments: &[&Path], words: &[&str]) -> Option<Value> {
    let demanded = env::var_os("LATCHWORK_BROWSER").is_some() || env::var("CI").is_ok_and(|ci| ci == "true");
    let browser = env::var("LATCHWORK_BROWSER").unwrap_or_else(|_| "/usr/bin/chromium".to_owned());
    let missing = if !Path::new(&browser).exists() {
        Some(format!("there is no browser {browser}"))
    } else if !Path::new(SCRIPTS).join("node_modules/playwright-core").exists() {
        Some(format!("`npm ci` was not run in {SCRIPTS}"))
    } else if !Command::new("node").arg("--version").output().is_ok_and(|run| run.status.success()) {
        Some("there is no node".to_owned())
    } else {
        None
    };
    if let Some(missing) = missing {
        assert!(!demanded, "{missing}");
        let _ = writeln!(std::io::stderr(), "skipped: {missing}");
        return None;
    }
    let run = Command::new("node")
        .arg(Path::new(SCRIPTS).join(script))
        .args(arguments)
        .args(words)
        .env("LATCHWORK_BROWSER", &browser)
        .output()
        .unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    Some(serde_json::from_slice(&run.stdout).unwrap())
}

/// Asserts what holds for every page: it asks for nothing, runs nothing of others, can be read by everyone, and prints.
#[track_caller]
pub fn assert_good(page: &Path) {
    assert_with(page, &[]);
}

/// The same for a page that is made for paper, whose tables may be wider than a narrow window.
#[track_caller]
pub fn assert_good_on_paper(page: &Path) {
    assert_with(page, &["paper"]);
}

#[track_caller]
fn assert_with(page: &Path, words: &[&str]) {
    assert!(fs::metadata(page).is_ok(), "{}", page.display());
    let Some(wrong) = look_with("page.mjs", &[page], words) else { return };
    assert_eq!(wrong, serde_json::json!([]), "{}", page.display());
}
