//! What stands beside the rungs is true, whole and to the point.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

/// The drawing of a program in its fifth scan.
fn drawn(name: &str, program: &str, more: &str) -> String {
    let folder = Folder::new();
    folder.write(name, program);
    folder.run(&format!("rungs {name} --at T#40ms --width 80 {more}")).expect(0).out
}

#[test]
fn a_long_statement_is_folded_and_not_cut() {
    let program = "PROGRAM Main VAR Level, Bottom, Span, Share : REAL; END_VAR\n\
        Level := Bottom + (Share * 100.0 - 4.0) / 16.0 * (Span - Bottom) + Share * (Span + Bottom) - 2.0 * Share;\n\
        END_PROGRAM\n";
    let text = drawn("long.st", program, "");
    assert!(text.contains("- 2.0 * Share [0.0]\n"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    assert!(!text.contains('…'), "{text}");
    let rung = "PROGRAM Main VAR Valve, Opening, Closing, AtTheUpperEnd, AtTheLowerEnd : BOOL; END_VAR\n\
        Valve := (Opening OR Valve) AND NOT Closing AND NOT AtTheUpperEnd AND NOT AtTheLowerEnd AND NOT (Opening AND Closing);\n\
        END_PROGRAM\n";
    let text = drawn("long.st", rung, "");
    assert!(text.contains("NOT (Opening AND Closing)\n"), "{text}");
    let svg = drawn("long.st", rung, "--format svg");
    assert!(svg.contains("Closing)</text>"), "{svg}");
}

#[test]
fn comments_and_pragmas_are_no_part_of_a_statement() {
    let program = "PROGRAM Main VAR A, B : BOOL; END_VAR\n\
        LD A (* the { lock } *)\n{allow unused-value: a reason}\nANDN B // second\nST B\nEND_PROGRAM\n";
    let text = drawn("lines.il", program, "");
    assert!(text.contains(" LD A ANDN B ST B\n"), "{text}");
}

#[test]
fn the_value_of_a_cropped_operand_stays() {
    let program = "PROGRAM Main VAR Go : BOOL; Open : TP; Minutes, Seconds : REAL := 2.5; END_VAR\n\
        Open(IN := Go, PT := T#1s * (Seconds + Minutes + Seconds + Minutes + Seconds));\nEND_PROGRAM\n";
    let text = drawn("crop.st", program, "");
    assert!(text.contains("… [T#12s500ms] ──┤PT"), "{text}");
}

#[test]
fn constants_are_named_as_such() {
    let program = "PROGRAM Main VAR A, B : BOOL; END_VAR A := FALSE; B := TRUE; END_PROGRAM\n";
    let text = drawn("constants.st", program, "");
    assert!(text.contains("A is FALSE: open at the constant FALSE."), "{text}");
    assert!(text.contains("B is TRUE: through the constant TRUE."), "{text}");
}

#[test]
fn what_divides_a_statement_does_not_run() {
    let program = "PROGRAM Main VAR A : BOOL; N : INT; END_VAR\n\
        IF A THEN\n  IF N > 2 THEN N := 0; ELSE N := N + 1; END_IF;\nEND_IF;\nEND_PROGRAM\n";
    let text = drawn("nested.st", program, "");
    let ends = text.lines().filter(|line| line.contains("END_IF") || line.contains("ELSE"));
    assert!(ends.clone().count() >= 3 && ends.clone().all(|line| !line.contains("did not run")), "{text}");
    assert!(text.contains("N := 0   did not run"), "{text}");
}

#[test]
fn a_coil_that_has_not_acted_says_so() {
    let program = "PROGRAM Main VAR Wish, Off, Lit : BOOL; Clock : TON; END_VAR\n\
        Clock(IN := TRUE, PT := T#30ms);\n\
        Wish := Clock.Q AND NOT Wish;\nIF Wish THEN Lit := TRUE; ELSIF Off THEN Lit := FALSE; END_IF;\nEND_PROGRAM\n";
    let text = drawn("coils.st", program, "");
    assert!(text.contains("Lit is left as it is: open at Wish."), "{text}");
    assert!(text.contains("(TRUE)") && text.contains("(not yet)"), "{text}");
    assert!(text.contains("Lit is left as it is (not reset here yet): open at Off."), "{text}");
    assert!(text.contains("A value in parentheses is kept from before"), "{text}");
    // Both rungs are of one statement, which stands once.
    assert_eq!(text.matches("ELSIF").count(), 1, "{text}");
}

#[test]
fn loops_show_their_last_pass_and_say_so() {
    let program = "PROGRAM Beds VAR Dry : ARRAY[1..3] OF BOOL := [TRUE, FALSE, TRUE]; Delay : ARRAY[1..3] OF TON;\n\
        Open : ARRAY[1..3] OF BOOL; I : INT; END_VAR\n\
        FOR I := 1 TO 3 DO\n  Delay[I](IN := Dry[I], PT := T#20ms * I);\n  Open[I] := Delay[I].Q;\nEND_FOR;\nEND_PROGRAM\n";
    let text = drawn("beds.st", program, "");
    assert!(text.contains("T#20ms * I [T#60ms]") && text.contains("T#40ms"), "{text}");
    assert_eq!(text.matches("Ran 3 times").count(), 1, "{text}");
}

#[test]
fn what_a_block_does_is_said_to_its_end() {
    let program = "PROGRAM Main VAR Go, Wet : BOOL; Hold : TOF; Falls : F_TRIG; END_VAR\n\
        Hold(IN := Go, PT := T#1s); Wet := Hold.Q;\nFalls(CLK := Go);\nEND_PROGRAM\n";
    let text = drawn("block.st", program, "");
    assert!(text.contains("IN is FALSE: open at Go. Q is FALSE, so Wet is FALSE."), "{text}");
    // A falling edge is no rising one.
    assert!(text.contains("<CLK") && !text.contains(">CLK"), "{text}");
}

#[test]
fn sentences_begin_with_a_capital_or_a_name() {
    let program = "PROGRAM Main VAR go, never : BOOL; END_VAR\nLD never\nJMPC Behind\nLDN never\nST go\nBehind: LD never\nRETC\nEND_PROGRAM\n";
    let text = drawn("jumps.il", program, "");
    for sentence in ["\nNo jump to Behind: open at never.", "\nGoes on: open at never.", "\ngo is TRUE: "] {
        assert!(text.contains(sentence), "no {sentence}: {text}");
    }
}

#[test]
fn a_folded_picture_has_no_empty_rows() {
    let names: Vec<String> = (0..30).map(|number| format!("LongName{number:02}")).collect();
    let height = |first: &str| -> u32 {
        let program = format!(
            "PROGRAM Main VAR Out, {} : BOOL; END_VAR Out := {first} AND {}; END_PROGRAM\n",
            names.join(", "),
            names.join(" AND ")
        );
        let svg = drawn("wide.st", &program, "--format svg");
        let (_, behind) = svg.split_once("viewBox=\"0 0 960 ").unwrap();
        behind.split_once('"').unwrap().0.parse().unwrap()
    };
    // Three rows more stand in the first part only, though there are three parts at least.
    let (low, high) = (height("Out"), height("(Out OR LongName01 OR LongName02 OR LongName03)"));
    assert!(high > low + 100 && high < low + 250, "{low} {high}");
}

#[test]
fn a_literal_with_its_type_needs_no_value() {
    let program = "TYPE Mode : (Rest, Work); END_TYPE\nPROGRAM Main VAR M : Mode; A : BOOL; END_VAR A := M = Mode#Rest; END_PROGRAM\n";
    let text = drawn("typed.st", program, "");
    assert!(text.contains("M [Rest]") && !text.contains("Mode#Rest ["), "{text}");
}
