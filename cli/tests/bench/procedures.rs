//! Procedures for the tests of `latchwork test`.

use super::Folder;

/// In front of procedures: what they run on.
pub const BENCH: &str = "program 'pump.st';\nstation 'station.toml';\n\n";

/// One that passes on the pump of the help texts.
pub fn passing(title: &str) -> String {
    format!("procedure '{title}'\n  press StartPB for T#100ms;\n  expect Pump;\nend_procedure\n\n")
}

/// One that fails on it.
pub fn failing(title: &str) -> String {
    format!("procedure '{title}'\n  press StopPB;\n  press StartPB;\n  expect Pump;\nend_procedure\n\n")
}

/// One that is refused.
pub fn refused(title: &str) -> String {
    format!("procedure '{title}'\n  press StratPB;\n  expect Pump;\nend_procedure\n\n")
}

/// A folder without the procedures of the help texts.
pub fn folder() -> Folder {
    let folder = Folder::new();
    std::fs::remove_file(folder.path("pump.steps")).unwrap();
    folder
}

/// Writes a file of procedures.
pub fn write(folder: &Folder, name: &str, procedures: &[String]) {
    let path = folder.path(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let up = "../".repeat(name.matches('/').count());
    let bench =
        BENCH.replace("program '", &format!("program '{up}")).replace("station '", &format!("station '{up}"));
    std::fs::write(path, bench + &procedures.concat()).unwrap();
}
