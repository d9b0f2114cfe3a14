//! `--report` from the command line: what is written, how large it is, what is refused.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const RUN: &str = "run pump.st types.st --station station.toml --stimulus press.csv --quiet";

fn text(folder: &Folder, name: &str) -> String {
    String::from_utf8(folder.read(name)).unwrap()
}

#[test]
fn a_run_is_reported_with_its_coverage_and_says_nothing() {
    let folder = Folder::new();
    let ran = folder.run(&format!("{RUN} --report run.html")).expect(0);
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("", ""));
    let page = text(&folder, "run.html");
    for part in [
        "<h2 id=\"verdict\">",
        "<h2 id=\"diagram\">",
        "<h2 id=\"figures\">",
        "<h2 id=\"source\">",
        "<h2 id=\"facts\">",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(page.contains("<dt>Program</dt><dd>pump.st, types.st</dd>"));
    // The same run gives the same bytes.
    folder.run(&format!("{RUN} --report again.html")).expect(0);
    assert!(folder.read("run.html") == folder.read("again.html"));
}

#[test]
fn a_run_that_stops_is_reported_with_its_fault() {
    let folder = Folder::new();
    folder.write(
        "stop.st",
        "PROGRAM P VAR k : INT := 2; a : ARRAY [0..3] OF INT; END_VAR\nk := k + 1;\na[k] := 1;\nEND_PROGRAM\n",
    );
    let ran = folder.run("run stop.st --quiet --report run.html").expect(1);
    let page = text(&folder, "run.html");
    assert!(page.contains("stopped by a fault</span>"));
    // As the terminal tells it.
    let first = ran.err.lines().next().unwrap();
    assert!(page.contains(first), "{first}");
}

#[test]
fn an_image_is_reported_without_its_source() {
    let folder = Folder::new();
    folder.run("build pump.st types.st -o pump.image").expect(0);
    folder.run("run pump.image --quiet --until T#100ms --report run.html").expect(0);
    assert!(text(&folder, "run.html").contains("The program came as an image, without its source."));
}

#[test]
fn a_session_is_reported_with_what_failed() {
    let folder = Folder::new();
    folder.write(
        "mixed.steps",
        "program 'pump.st';\nstation 'station.toml';\n\
         procedure 'right'\n  press StartPB for T#200ms;\n  expect Pump;\nend_procedure\n\
         procedure 'wrong'\n  press StartPB for T#200ms;\n  expect NOT Pump within T#50ms;\nend_procedure\n",
    );
    let ran = folder.run("test mixed.steps --report session.html").expect(1);
    let page = text(&folder, "session.html");
    assert!(page.contains("2 procedures: 1 passed, 1 failed; 1 of 2 points"));
    assert!(page.contains("<h3 id=\"procedure-2\">") && !page.contains("<h3 id=\"procedure-1\">"));
    assert_eq!(page.matches("<section class=\"run\"").count(), 1);
    let message = ran.out.lines().find(|line| line.starts_with("failed[")).unwrap();
    assert!(page.contains(message), "{message}");
    // Why the rows have their values, from the start of the procedure that failed, and as a rung.
    assert!(page.contains("data-fragment=\"reasons-0\"") && page.contains("data-fragment=\"rungs-0\""));
    assert!(page.contains("StartPB (normally open) is pressed"));
    folder.run("build pump.st types.st -o pump.image").expect(0);
    folder.write("image.steps", text(&folder, "mixed.steps").replace("pump.st", "pump.image"));
    folder.run("test image.steps --report image.html").expect(1);
    assert!(!text(&folder, "image.html").contains("<template data-fragment"), "an image keeps no journal");
    // However many run at once.
    folder.run("test mixed.steps --jobs 1 --report one.html").expect(1);
    assert!(folder.read("one.html") == folder.read("session.html"));
}

#[test]
fn what_cannot_be_written_is_refused_before_anything_runs() {
    let folder = Folder::new();
    folder.run(&format!("{RUN} --report pump.st")).expect(2);
    folder.run(&format!("{RUN} --report a.html --svg a.html")).expect(2);
    folder.run("test pump.steps --report pump.steps").expect(2);
    folder.run("test pump.steps --report nowhere/a.html").expect(2);
    folder.run("test pump.steps --list --report a.html").expect(2);
}

/// What does not fit is left out by the row, and the page says which.
#[test]
fn a_report_with_too_many_values_says_what_it_leaves_out() {
    let folder = Folder::new();
    folder.write(
        "noise.st",
        "PROGRAM Noise\nVAR X : LWORD := 16#9E3779B97F4A7C15; Q : BOOL; END_VAR\n\
         VAR N : ARRAY [0..9] OF LWORD; I : INT; END_VAR\n\
         FOR I := 0 TO 9 DO\n\
           X := X XOR SHL(X, 13); X := X XOR SHR(X, 7); X := X XOR SHL(X, 17);\n\
           N[I] := X;\n\
         END_FOR;\nQ := NOT Q;\nEND_PROGRAM\n",
    );
    let rows = (0..10).map(|row| format!("N[{row}]")).collect::<Vec<_>>().join(",");
    folder
        .run(&format!("run noise.st --until T#10m --quiet --record {rows},Q --report noise.html"))
        .expect(0);
    let page = text(&folder, "noise.html");
    assert!(page.len() < 5_000_000, "{} bytes", page.len());
    assert!(page.contains("Not all values are in this page") && page.contains("N[9]"));
    assert!(!page.contains(", Q."));
}
