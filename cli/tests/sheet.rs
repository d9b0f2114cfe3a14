//! `latchwork sheet`: the checkout sheets of the samples, and what must be true of any sheet.

#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing)]

mod bench;

use std::{fmt::Write as _, fs, path::Path};

use bench::{Folder, Ran};
use quick_xml::{Reader, events::Event};

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples");

/// Every sample with a station, the program on it, and whether its procedures make a sheet as well.
const BOARDS: [(&str, &str, bool); 18] = [
    ("four-inputs", "copy.st", false),
    ("transfer-pump", "pump.st", true),
    ("misting-cycle", "misting.st", false),
    ("plant-tank", "pump.st", true),
    ("plant-motor", "run-up.st", false),
    ("gallery/alternating-pumps", "alternating-pumps.st", false),
    ("gallery/annunciator", "annunciator.st", true),
    ("gallery/batch-mixer", "batch-mixer.st", false),
    ("gallery/crossing-lights", "crossing-lights.st", true),
    ("gallery/heater-pid", "heater-pid.st", true),
    ("gallery/jog", "jog.st", true),
    ("gallery/level-scaling", "level-scaling.st", true),
    ("gallery/reversing", "reversing.st", false),
    ("gallery/seal-in", "seal-in.st", true),
    ("gallery/star-delta", "star-delta.st", true),
    ("gallery/tank-fill", "tank-fill.st", true),
    ("gallery/tray-conveyor", "tray-conveyor.st", false),
    ("gallery/two-hand", "two-hand.st", true),
];

fn sheet(folder: &Folder, sample: &str, program: &str, more: &str) -> Ran {
    folder
        .run(&format!("sheet {SAMPLES}/{sample}/{program} --station {SAMPLES}/{sample}/station.toml {more}"))
}

#[test]
fn every_sample_has_its_sheet() {
    let folder = Folder::new();
    for (sample, program, _) in BOARDS {
        let name = format!("by_hand_{}", Path::new(sample).file_name().unwrap().to_str().unwrap());
        insta::assert_snapshot!(name, sheet(&folder, sample, program, "--format markdown").expect(0).out);
    }
}

#[test]
fn procedures_become_sheets() {
    let folder = Folder::new();
    for (sample, program, _) in BOARDS.iter().filter(|(_, _, has_procedures)| *has_procedures) {
        let name = format!("procedure_{}", Path::new(sample).file_name().unwrap().to_str().unwrap());
        let more = format!("--procedure {SAMPLES}/{sample}/procedure.steps --format markdown");
        insta::assert_snapshot!(name, sheet(&folder, sample, program, &more).expect(0).out);
    }
}

/// The body of a page; its head has digests of style sheets that other pages share.
fn body(page: &str) -> &str {
    page.split("<body>").nth(1).unwrap()
}

#[test]
fn pages_are_whole() {
    let folder = Folder::new();
    let page = sheet(&folder, "four-inputs", "copy.st", "").expect(0).out;
    insta::assert_snapshot!("page_four_inputs", body(&page));
    let more = format!("--procedure {SAMPLES}/gallery/seal-in/procedure.steps --title Checkout-of-lab-3");
    let page = sheet(&folder, "gallery/seal-in", "seal-in.st", &more).expect(0).out;
    insta::assert_snapshot!("page_seal_in", body(&page));
}

/// All text of a page, with the elements that it has; every page is well-formed XML too.
fn read(page: &str) -> (String, Vec<String>) {
    let mut reader = Reader::from_str(page.strip_prefix("<!DOCTYPE html>").unwrap());
    let (mut text, mut elements) = (String::new(), Vec::new());
    loop {
        match reader.read_event().unwrap() {
            Event::Start(element) | Event::Empty(element) => {
                elements.push(element.name().as_ref().to_owned());
                for attribute in element.attributes() {
                    let attribute = attribute.unwrap();
                    let name = attribute.key.as_ref().to_owned();
                    assert!(!name.starts_with("on") && name != "style" && name != "src", "{name}");
                }
            }
            Event::Text(piece) => text.push_str(&piece),
            Event::GeneralRef(piece) => {
                let reference = format!("&{};", &*piece);
                text.push_str(&quick_xml::escape::unescape(&reference).unwrap());
            }
            Event::Eof => return (text, elements),
            _ => {}
        }
    }
}

#[test]
fn pages_are_well_formed_and_run_nothing() {
    let folder = Folder::new();
    for (sample, program, has_procedures) in BOARDS {
        let steps = format!("--procedure {SAMPLES}/{sample}/procedure.steps");
        for more in [Some(""), has_procedures.then_some(steps.as_str())].into_iter().flatten() {
            let page = sheet(&folder, sample, program, more).expect(0).out;
            let (_, elements) = read(&page);
            for element in ["script", "img", "link", "iframe", "form", "object"] {
                assert!(!elements.iter().any(|name| name == element), "{sample}: {element}");
            }
            assert!(page.contains("default-src 'none'; style-src 'sha256-"), "{sample}");
            assert!(page.contains("lang=\"en\""));
            // Headings of columns and rows say what they head.
            assert_eq!(page.matches("<th ").count(), page.matches("<th scope=").count());
            assert!(page.contains("OSHA 29 CFR 1910.147") && page.contains("ISO 13850"));
        }
    }
}

const NASTY: &str = "<script>alert('1')</script> | a & b `c` \\\\ *x* [l](http://x) <!-- \u{202e}";

#[test]
fn whatever_people_write_is_shown_as_text() {
    let folder = Folder::new();
    let station = format!(
        "title = \"{NASTY}\"\n[[device]]\nname = \"S1\"\nlabel = \"{NASTY}\"\ncontact = \"normally open\"\n\
         action = \"maintained\"\nactuated = \"</td>|on\"\nreleased = \"`off`\"\nterminal = \"%IX0.0\"\n\
         strip = \"<b>1|2\"\nwire = \"{NASTY}\"\n\n[[analog]]\nname = \"A1\"\nterminal = \"%IW1\"\nrange = [0, 10]\n\
         unit = \"<i>|\"\n\n[[load]]\nname = \"H1\"\nlabel = \"{NASTY}\"\nkind = \"<u>|\"\nterminal = \"%QX0.0\"\n"
    );
    folder.write("nasty.toml", station);
    folder.write(
        "nasty.st",
        "PROGRAM Main\nVAR A AT %IX0.0 : BOOL; N AT %IW1 : INT; Q AT %QX0.0 : BOOL; END_VAR\nQ := A;\nEND_PROGRAM\n",
    );
    folder.write(
        "nasty.steps",
        "procedure '</h3><script>|`'\n  expect NOT (H1 XOR (* </td><script> *) S1) OR Main.N > 3 | ;\n  turn S1 to '</td>|on';\n  expect H1;\nend_procedure\n"
            .replace(" | ;", ";"),
    );
    for steps in ["", "--procedure nasty.steps"] {
        let page = folder.run(&format!("sheet nasty.st --station nasty.toml {steps}")).expect(0).out;
        let (text, elements) = read(&page);
        assert!(!elements.iter().any(|name| matches!(name.as_str(), "script" | "i" | "u")), "{page}");
        assert!(text.contains("<script>alert('1')</script> | a & b `c`"), "{text}");
        assert!(text.contains("<b>1|2") && !page.contains('\u{202e}'));
        let markdown = folder
            .run(&format!("sheet nasty.st --station nasty.toml --format markdown {steps}"))
            .expect(0)
            .out;
        // Every sign of HTML and Markdown that is not ours is escaped or within code.
        for line in markdown.lines() {
            let mut before = ' ';
            let mut in_code = false;
            for character in line.chars() {
                in_code ^= character == '`' && before != '\\';
                let is_quote = line.starts_with("> ") && before == ' ';
                let ok = !matches!(character, '<' | '>' | '[' | '&') || before == '\\' || in_code || is_quote;
                assert!(ok || character == '>' && line.starts_with('>'), "{line}");
                before = if before == '\\' { ' ' } else { character };
            }
        }
        // All rows of a table have as many cells.
        let mut columns = 0;
        for line in markdown.lines() {
            let bars = line.replace("\\\\", "").replace("\\|", "").matches('|').count();
            let is_row = line.starts_with('|');
            assert!(!is_row || columns == 0 || bars == columns, "{line}");
            columns = if is_row { bars } else { 0 };
        }
    }
}

#[test]
fn the_form_follows_the_name_and_sheets_do_not_change() {
    let folder = Folder::new();
    folder.run("sheet pump.st --station station.toml -o a.md").expect(0);
    folder.run("sheet pump.st --station station.toml -o b.html").expect(0);
    folder.run("sheet pump.st --station station.toml -o c.md --format html").expect(0);
    assert!(folder.read("a.md").starts_with(b"# Checkout: Transfer pump"));
    assert!(folder.read("b.html").starts_with(b"<!DOCTYPE html>"));
    assert_eq!(folder.read("b.html"), folder.read("c.md"));
    assert_eq!(
        folder.run("sheet pump.st --station station.toml").expect(0).out.into_bytes(),
        folder.read("b.html")
    );
    folder.run("build pump.st -o pump.image").expect(0);
    folder.run("sheet pump.image --station station.toml -o d.html").expect(0);
    let of_image = String::from_utf8(folder.read("d.html")).unwrap().replace("pump.image", "pump.st");
    assert_eq!(of_image.into_bytes(), folder.read("b.html"));
}

#[test]
fn what_was_noted_is_read_by_the_search_for_faults() {
    let folder = Folder::new();
    folder.run("sheet pump.st --station station.toml --observed seen.csv -o sheet.md").expect(0);
    let empty = String::from_utf8(folder.read("seen.csv")).unwrap();
    insta::assert_snapshot!("note", empty);
    folder.run("faults --observed seen.csv --program pump.st --station station.toml").expect(2);
    // Somebody fills it in: the pump never came on.
    let filled: String = empty
        .lines()
        .enumerate()
        .map(|(index, line)| if index > 1 { format!("{line}off\n") } else { format!("{line}\n") })
        .collect();
    folder.write("seen.csv", filled);
    let told =
        folder.run("faults --observed seen.csv --program pump.st --station station.toml").expect(1).out;
    assert!(told.contains("StartPB: open wire"), "{told}");
}

#[test]
fn only_what_is_asked_for_is_on_the_sheet() {
    let folder = Folder::new();
    let one =
        folder.run("sheet pump.st --station station.toml --only stoppb --format markdown").expect(0).out;
    assert!(one.contains("Press **StopPB**") && !one.contains("Press **StartPB**"), "{one}");
    assert!(one.contains("No step of this sheet works: StartPB."));
    let missing = folder.run("sheet pump.st --station station.toml --only Stop").expect(2);
    assert!(missing.err.contains("no device `Stop`; its devices are StartPB, StopPB"), "{}", missing.err);
    let steps = "--procedure pump.steps --format markdown";
    let one = folder.run(&format!("sheet pump.st --station station.toml {steps} --only beats")).expect(0).out;
    assert!(one.contains("Procedure 1: stop beats start"));
    folder.run(&format!("sheet pump.st --station station.toml {steps} --only nothing")).expect(4);
}

#[test]
fn the_exit_code_tells_what_is_wrong() {
    let folder = Folder::new();
    folder.write("broken.st", "PROGRAM Main\nX := ;\nEND_PROGRAM\n");
    folder.run("sheet broken.st --station station.toml").expect(1);
    folder.write("empty.toml", "title = \"x\"\n");
    folder.run("sheet pump.st --station empty.toml").expect(4);
    folder.write("wrong.toml", "title = 3\n");
    folder.run("sheet pump.st --station wrong.toml").expect(2);
    folder.run("sheet pump.st --station missing.toml").expect(2);
    folder.run("sheet pump.st --station station.toml -o pump.st").expect(2);
    folder.run("sheet pump.st --station station.toml -o a.md --observed a.md").expect(2);
    folder.run("sheet pump.st").expect(2);
    folder.write("none.steps", "(* nothing *)\n");
    folder.run("sheet pump.st --station station.toml --procedure none.steps").expect(4);
    folder.write("bad.steps", "procedure 'x'\n  press Nobody;\n  expect P1;\nend_procedure\n");
    let refused =
        folder.run("sheet pump.st --station station.toml --procedure bad.steps --format markdown").expect(1);
    assert!(
        refused.out.contains("This procedure cannot be run: the station has no device"),
        "{}",
        refused.shown()
    );
    folder.write("syntax.steps", "procedure 'x'\n  press ;\nend_procedure\n");
    folder.run("sheet pump.st --station station.toml --procedure syntax.steps").expect(2);
    folder.write("library.st", "FUNCTION F : INT\nF := 1;\nEND_FUNCTION\n");
    let code = folder.run("sheet library.st --station station.toml").code;
    assert!(matches!(code, Some(2 | 4)));
}

#[test]
fn a_step_at_which_the_simulation_stops_says_so() {
    let folder = Folder::new();
    folder.write(
        "divide.st",
        "PROGRAM Main\nVAR A AT %IX0.0 : BOOL; B AT %IX0.1 : BOOL; Q AT %QX0.0 : BOOL; F : ARRAY[0..1] OF INT; I : INT; END_VAR\n\
         IF A THEN I := I + 1; END_IF;\nF[I] := 1;\nQ := NOT B;\nEND_PROGRAM\n",
    );
    let stopped = folder.run("sheet divide.st --station station.toml --format markdown").expect(1);
    insta::assert_snapshot!("stopped", stopped.out.split("## Steps").nth(1).unwrap());
    folder.write("stop.steps", "procedure 'x'\n  press StartPB for T#1s;\n  expect P1;\nend_procedure\nprocedure 'not met'\n  expect P1;\nend_procedure\n");
    let stopped = folder
        .run("sheet divide.st --station station.toml --procedure stop.steps --format markdown")
        .expect(1);
    insta::assert_snapshot!("stopped_procedure", stopped.out.split("## Steps").nth(1).unwrap());
    // What nobody can follow is not noted.
    folder.run("sheet divide.st --station station.toml --observed seen.csv").expect(2);
    assert!(!folder.path("seen.csv").exists());
}

#[test]
fn faults_of_the_station_file_are_for_the_board() {
    let folder = Folder::new();
    let four = format!("{SAMPLES}/four-inputs");
    let faulty = folder
        .run(&format!(
            "sheet {four}/copy.st --station {four}/station-open-wire.toml --format markdown --title x"
        ))
        .expect(0);
    let sound = folder
        .run(&format!("sheet {four}/copy.st --station {four}/station.toml --format markdown --title x"))
        .expect(0);
    let behind_names = |ran: &Ran| ran.out.split("## Inputs").nth(1).unwrap().to_owned();
    assert_eq!(behind_names(&faulty), behind_names(&sound));
    assert!(
        faulty.err.contains("the sheet expects sound wiring: without the faults of S1"),
        "{}",
        faulty.err
    );
}

/// A panel as large as a station file allows, a procedure as long as one can be.
#[test]
fn too_much_is_refused_or_cut_in_good_time() {
    let folder = Folder::new();
    let (mut station, mut program) = (String::new(), String::from("PROGRAM Main\nVAR\n"));
    for index in 0..1000 {
        let (byte, bit) = (index / 8, index % 8);
        writeln!(
            station,
            "[[device]]\nname = \"S{index}\"\ncontact = \"normally open\"\nterminal = \"%IX{byte}.{bit}\""
        )
        .unwrap();
        writeln!(station, "[[load]]\nname = \"H{index}\"\nterminal = \"%QX{byte}.{bit}\"").unwrap();
        writeln!(program, "I{index} AT %IX{byte}.{bit} : BOOL; Q{index} AT %QX{byte}.{bit} : BOOL;").unwrap();
    }
    program.push_str("END_VAR\n");
    for index in 0..1000 {
        writeln!(program, "Q{index} := I{index};").unwrap();
    }
    program.push_str("END_PROGRAM\n");
    folder.write("large.toml", station);
    folder.write("large.st", program);
    let refused = folder.run("sheet large.st --station large.toml").expect(2);
    assert!(
        refused.err.contains("2001 steps for 1000 loads") && refused.err.contains("--only"),
        "{}",
        refused.err
    );
    folder.run("sheet large.st --station large.toml --only S7 -o one.html").expect(0);

    folder.write(
        "long.steps",
        "procedure 'long'\n  repeat 1000000 times\n    press StartPB;\n    expect P1;\n    release StartPB;\n  end_repeat;\nend_procedure\n\
         procedure 'act'\n  repeat 900000 times press StartPB; wait T#10ms; release StartPB; wait T#10ms; end_repeat;\n  expect P1;\nend_procedure\n",
    );
    let ran = folder.run("sheet pump.st --station station.toml --procedure long.steps --format markdown");
    assert!(ran.out.contains("longer than this sheet"), "{}", ran.err);
    assert!(ran.out.len() < 20_000_000);
    assert!(ran.out.contains("900000 times"));
}

#[test]
fn samples_have_marks_on_their_wires() {
    for (sample, _, _) in BOARDS {
        let station = fs::read_to_string(format!("{SAMPLES}/{sample}/station.toml")).unwrap();
        let terminals = station.lines().filter(|line| line.starts_with("terminal")).count();
        assert_eq!(terminals, station.lines().filter(|line| line.starts_with("wire = ")).count(), "{sample}");
    }
}

/// A program whose every scan takes long.
#[test]
fn a_long_program_is_looked_at_for_as_long_as_is_reasonable() {
    let folder = Folder::new();
    folder.write(
        "slow.st",
        "PROGRAM Main\nVAR A AT %IX0.0 : BOOL; B AT %IX0.1 : BOOL; Q AT %QX0.0 : BOOL; T : TON; I : DINT; N : DINT; END_VAR\n\
         FOR I := 1 TO 300000 DO N := (N + I) MOD 1000; END_FOR;\nT(IN := A, PT := T#5m);\nQ := T.Q AND B;\nEND_PROGRAM\n",
    );
    let ran = folder.run("sheet slow.st --station station.toml --format markdown").expect(0);
    assert!(ran.out.contains("what comes later is not told"), "{}", ran.out);
}
