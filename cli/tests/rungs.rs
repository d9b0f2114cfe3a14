//! `latchwork rungs` from outside.

#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing)]

mod bench;

use std::fmt::Write as _;

use bench::Folder;
use serde_json::Value;

#[test]
fn a_program_is_drawn_without_values() {
    let folder = Folder::new();
    let ran = folder.run("rungs pump.st").expect(0);
    insta::assert_snapshot!(ran.shown());
    assert!(!ran.out.contains('\u{1b}'));
    let coloured = folder.run("rungs pump.st --color always --at 0").expect(0);
    assert!(coloured.out.contains("\u{1b}[1;32m"));
}

#[test]
fn a_moment_shows_what_each_statement_saw() {
    let folder = Folder::new();
    let wired = "--station station.toml --stimulus press.csv --width 80";
    insta::assert_snapshot!(folder.run(&format!("rungs pump.st --at T#200ms {wired}")).expect(0).out);
    let stopped = folder.run("rungs --procedure pump.steps --only stop --at T#210ms --width 80").expect(0);
    assert!(stopped.out.contains("Pump is FALSE: open at Stop"), "{}", stopped.out);
}

#[test]
fn units_and_instances_are_chosen() {
    let folder = Folder::new();
    folder.write(
        "two.st",
        "FUNCTION_BLOCK Lamp VAR_INPUT Go : BOOL; END_VAR VAR_OUTPUT Lit : BOOL; END_VAR Lit := Go; END_FUNCTION_BLOCK\n\
         PROGRAM Main VAR A, B : Lamp; X : BOOL; END_VAR A(Go := TRUE); B(Go := FALSE); X := A.Lit AND NOT B.Lit; END_PROGRAM\n",
    );
    let both = folder.run("rungs two.st --pou lamp --at 0").expect(0).out;
    assert!(both.contains("instance Main.A") && both.contains("instance Main.B"), "{both}");
    assert!(!both.contains("PROGRAM"));
    let one = folder.run("rungs two.st --pou lamp --at 0 --instance main.b").expect(0).out;
    assert!(one.contains("Lit is FALSE: open at Go.") && !one.contains("Main.A"), "{one}");
    let unknown = folder.run("rungs two.st --pou Lmap").expect(2);
    assert!(unknown.err.contains("no unit `Lmap`") && unknown.err.contains("Lamp, Main"), "{}", unknown.err);
    let nobody = folder.run("rungs two.st --pou lamp --at 0 --instance Main.C").expect(2);
    assert!(nobody.err.contains("Main.A, Main.B"), "{}", nobody.err);
}

#[test]
fn the_document_has_networks_with_states() {
    let folder = Folder::new();
    let arguments = "rungs pump.st --at T#200ms --station station.toml --stimulus press.csv --format json";
    let ran = folder.run(arguments).expect(0);
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(document["schema_version"], 1);
    let rung = &document["sheets"][0]["entries"][0]["rung"];
    assert_eq!(rung["network"]["series"][1]["contact"], "Stop");
    assert_eq!(rung["network"]["series"][0]["parallel"][0]["conducts"], true);
    assert_eq!(rung["ends"][0]["reached"], true);
    let without: Value =
        serde_json::from_str(&folder.run("rungs pump.st --format json").expect(0).out).unwrap();
    assert_eq!(without["sheets"][0]["entries"][0]["rung"]["ends"][0]["reached"], Value::Null);
}

#[test]
fn a_picture_is_written_whole_and_the_same_each_time() {
    let folder = Folder::new();
    let arguments = "rungs pump.st --at T#200ms --station station.toml --stimulus press.csv --format svg";
    folder.run(&format!("{arguments} -o one.svg")).expect(0);
    folder.run(&format!("{arguments} -o two.svg")).expect(0);
    assert_eq!(folder.read("one.svg"), folder.read("two.svg"));
    let svg = String::from_utf8(folder.read("one.svg")).unwrap();
    for part in [
        "role=\"img\"",
        "<title>Rungs: PROGRAM Main</title>",
        "<desc>Pump is TRUE: through Start and Stop.</desc>",
    ] {
        assert!(svg.contains(part), "no {part}");
    }
    let over = folder.run("rungs pump.st -o pump.st").expect(2);
    assert!(over.err.contains("pump.st"));
}

#[test]
fn what_cannot_be_drawn_is_said() {
    let folder = Folder::new();
    folder.write("wrong.st", "PROGRAM Main VAR X : BOOL; END_VAR X := 5; END_PROGRAM\n");
    folder.run("rungs wrong.st").expect(1);
    folder.run("rungs types.st").expect(4);
    folder.run("rungs nowhere.st").expect(2);
    folder.run("rungs pump.st --stimulus press.csv").expect(2);
    let late = folder.run("rungs --procedure pump.steps --at T#1h").expect(2);
    assert!(late.err.contains("behind the run"), "{}", late.err);
    let unnamed = folder.run("rungs --procedure pump.steps --only nothing --at 0").expect(2);
    assert!(unnamed.err.contains("stop beats start"), "{}", unnamed.err);
    folder.write(
        "stuck.st",
        "PROGRAM Main VAR X : BOOL; END_VAR WHILE TRUE DO X := NOT X; END_WHILE; END_PROGRAM\n",
    );
    let stuck = folder.run("rungs stuck.st --at T#50ms").expect(1);
    assert!(!stuck.err.is_empty());
}

/// Names and comments with everything that could be taken for markup or steer a terminal.
#[test]
fn texts_of_the_user_stay_texts() {
    let folder = Folder::new();
    let source = "PROGRAM Main VAR X, Y : BOOL; END_VAR\n\
        (* <script>alert(1)</script> \u{202e} & \"quoted\" \u{1b}[31m ]]> *)\n\
        X := Y OR 'a<b' = '</svg>';\nEND_PROGRAM\n";
    folder.write("hostile.st", source);
    let svg = folder.run("rungs hostile.st --at 0 --format svg").expect(0).out;
    assert!(svg.contains("&lt;script&gt;") && !svg.contains("<script") && svg.matches("</svg>").count() == 1);
    let text = folder.run("rungs hostile.st --at 0").expect(0).out;
    for out in [&svg, &text] {
        assert!(!out.contains('\u{1b}') && !out.contains('\u{202e}'));
    }
    serde_json::from_str::<Value>(&folder.run("rungs hostile.st --format json").expect(0).out).unwrap();
}

#[test]
fn large_rungs_are_drawn_or_refused_in_every_form() {
    let folder = Folder::new();
    let row = |operator: &str, count: usize| vec!["Y"; count].join(operator);
    let long = "L".repeat(255);
    let mut nested = String::from("Y");
    for depth in 0..100 {
        nested = format!("({nested} {} NOT Y)", if depth % 2 == 0 { "AND" } else { "OR" });
    }
    // A chain of operators has up to 400 levels: a thousand operands are four groups.
    let groups = |operator: &str, between: &str, count: usize| {
        vec![format!("({})", row(operator, 250)); count].join(between)
    };
    let statements = [
        format!("X := {};", row(" AND ", 390)),
        format!("X := {};", groups(" OR ", " AND ", 4)),
        format!("X := {};", groups(" AND ", " OR ", 4)),
        format!("X := {};", groups(" AND ", " OR ", 9)),
        format!("X := {};", row(" XOR ", 60)),
        format!("X := {nested};"),
        format!("X := {long} AND NOT {long};"),
        format!("IF {} THEN X := TRUE; END_IF;", row(" OR ", 390)),
    ];
    let mut source = format!("PROGRAM Main VAR X, Y, {long} : BOOL; END_VAR\n");
    statements.iter().for_each(|statement| {
        let _ = writeln!(source, "{statement}");
    });
    source.push_str("END_PROGRAM\n");
    folder.write("large.st", source);
    for form in ["text", "svg", "json"] {
        let ran = folder.run(&format!("rungs large.st --at 0 --format {form}")).expect(0);
        assert!(ran.out.contains("more than 2000 elements"), "{form}");
        assert!(ran.out.len() < 20_000_000, "{form}: {}", ran.out.len());
    }
    for width in [40, 61, 1_000] {
        let text = folder.run(&format!("rungs large.st --at 0 --width {width}")).expect(0).out;
        let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
        assert!(widest <= width, "{widest} columns of {width}");
    }
}
