//! Timing diagrams from the command line: what is folded, and what happened to the controller and its wiring.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

/// A timer of nine minutes.
const LONG: &str = "\
PROGRAM Main
VAR Go AT %IX0.0 : BOOL; Rinse AT %QX0.0 : BOOL; Hold : TON; END_VAR
Hold(IN := Go, PT := T#9m);
Rinse := Hold.Q;
END_PROGRAM
";

#[test]
fn quiet_time_is_folded_as_it_is_asked_for() {
    let folder = Folder::new();
    folder.write("main.st", LONG);
    folder.write("go.csv", "time,%IX0.0\n0,FALSE\nT#2s,TRUE\n");
    let run = "run main.st --stimulus go.csv --until T#10m --record Go,Rinse,Hold.ET";
    let folded = folder.run(run).expect(0);
    assert!(folded.out.contains("only Hold.ET moves, evenly"), "{}", folded.shown());
    let never = folder.run(&format!("{run} --fold never")).expect(0);
    assert!(!never.out.contains("folded"), "{}", never.shown());
    let long = folder.run(&format!("{run} --fold T#20m")).expect(0);
    assert_eq!(long.out, never.out);
    let short = folder.run(&format!("{run} --fold T#30s")).expect(0);
    assert!(short.out.contains("nothing changes"), "{}", short.shown());
    let wrong = folder.run(&format!("{run} --fold sometimes")).expect(2);
    assert!(wrong.shown().contains("or write auto or never"), "{}", wrong.shown());
}

const STATION: &str = "\
[[device]]
name = \"GoPB\"
contact = \"normally open\"
terminal = \"%IX0.0\"

[[device]]
name = \"Spare\"
contact = \"normally closed\"
terminal = \"%IX0.1\"
fault = \"open wire\"
";

#[test]
fn restarts_and_faults_stand_on_the_time_axis() {
    let folder = Folder::new();
    folder.write("main.st", LONG);
    folder.write("station.toml", STATION);
    folder.write("go.csv", "time,GoPB,restart\n0,0,\nT#2s,1,\nT#3s,,warm\nT#4s,,cold\nT#5s,,cold\n");
    let ran = folder.run("run main.st --station station.toml --stimulus go.csv --svg go.svg").expect(0);
    let line = |words: &str| ran.out.lines().find(|line| line.contains(words)).map(str::trim_end);
    assert!(line("warm restart").is_some_and(|line| line.ends_with("▼ 3 s")), "{}", ran.shown());
    assert!(line("cold restart").is_some_and(|line| line.ends_with("▼ 4 s, 5 s")), "{}", ran.shown());
    assert!(line("Spare: open wire, 0 s").is_some(), "{}", ran.shown());
    let svg = String::from_utf8(folder.read("go.svg")).unwrap();
    assert!(svg.contains("warm restart: 3 s. cold restart: 4 s, 5 s."), "{svg}");
}

const PROCEDURE: &str = "\
program 'main.st';
station 'station.toml';
procedure 'a broken wire'
  press GoPB for T#1s;
  place open wire on GoPB;
  wait T#100ms;
  restart cold;
  clear GoPB;
  wait T#100ms;
  expect Rinse within T#200ms;
end_procedure
";

#[test]
fn so_they_do_in_the_picture_of_a_failure() {
    let folder = Folder::new();
    folder.write("main.st", LONG);
    folder.write("station.toml", STATION);
    folder.write("go.steps", PROCEDURE);
    let ran = folder.run("test go.steps").expect(1);
    for words in ["wiring fault", "▼ GoPB: open wire, 1 s", "cold restart", "wiring sound"] {
        assert!(ran.out.contains(words), "{words}: {}", ran.shown());
    }
}
