//! What the sentences say of the things that learners ask about most.

use crate::run::Run;

/// The answer holds these sentences, in this order.
fn says(answer: &str, sentences: &[&str]) {
    // Lines are broken for the page.
    let words: Vec<&str> =
        answer.split_whitespace().filter(|word| !matches!(*word, "│" | "├─" | "└─")).collect();
    let whole = words.join(" ");
    let mut rest = whole.as_str();
    for sentence in sentences {
        let Some(at) = rest.find(sentence) else {
            panic!("`{sentence}` is missing, or too early, in\n{answer}")
        };
        rest = &rest[at + sentence.len()..];
    }
}

fn run(program: &str, stimulus: &str) -> Run {
    Run::new("named.st", program, None, stimulus, 2_000)
}

#[test]
fn a_seal_in_tells_what_started_it_and_what_would_end_it() {
    let program = "PROGRAM Main VAR Start AT %IX0.0 : BOOL; Stop AT %IX0.1 : BOOL; Pump AT %QX0.0 : BOOL; END_VAR\n\
                   Pump := (Start OR Pump) AND Stop; END_PROGRAM";
    let run = run(
        program,
        "time,Start,Stop\n0,FALSE,TRUE\nT#100ms,TRUE,\nT#300ms,FALSE,\nT#1s,,FALSE\nT#1200ms,,TRUE\n",
    );
    says(
        &run.why("Pump", 500),
        &[
            "Pump is TRUE at 0.5 s (scan 51), since 0.1 s",
            "Pump was TRUE already, since 0.1 s, and holds itself (seal-in). What made it so then:",
            "Start was TRUE, since 0.1 s",
            "Stop is TRUE, since the start",
            "Pump would be FALSE with this: • Stop FALSE",
        ],
    );
    says(
        &run.why("Pump", 1_500),
        &[
            "Pump is FALSE at 1.5 s (scan 151), since 1 s",
            "Start is FALSE, since 0.3 s",
            "Pump was FALSE already, since 1 s, and keeps itself so. What made it so then: Stop was FALSE",
            "Pump would be TRUE with this: • Start TRUE",
        ],
    );
}

#[test]
fn an_off_delay_tells_how_long_it_stays() {
    let program = "PROGRAM Main VAR Wet AT %IX0.0 : BOOL; Fan AT %QX0.0 : BOOL; After : TOF; END_VAR\n\
                   After(IN := Wet, PT := T#500ms); Fan := After.Q; END_PROGRAM";
    let run = run(program, "time,Wet\n0,FALSE\nT#100ms,TRUE\nT#300ms,FALSE\n");
    says(
        &run.why("Fan", 400),
        &[
            "Fan is TRUE at 0.4 s (scan 41), since 0.1 s",
            "After.Q is TRUE, since 0.1 s: off-delay; IN went FALSE at 0.3 s, 100 ms ago, and Q stays until 0.8 s",
            "Wet is FALSE, since 0.3 s",
            "Fan would be FALSE with this: • After.Q FALSE (after 400 ms more with IN FALSE)",
        ],
    );
    says(
        &run.why("Fan", 1_000),
        &[
            "After.Q is FALSE, since 0.8 s: off-delay; IN went FALSE at 0.3 s, and PT (500 ms) was over at 0.8 s",
            "Fan would be TRUE with this: • Wet TRUE",
        ],
    );
}

#[test]
fn a_counter_tells_how_far_it_is() {
    let program = "PROGRAM Main VAR Tray AT %IX0.0 : BOOL; Full AT %QX0.0 : BOOL; Trays : CTU; END_VAR\n\
                   Trays(CU := Tray, PV := 2); Full := Trays.Q; END_PROGRAM";
    let run = run(program, "time,Tray\n0,FALSE\nT#100ms,TRUE\nT#200ms,FALSE\nT#300ms,TRUE\n");
    says(
        &run.why("Full", 150),
        &[
            "Full is FALSE at 0.15 s (scan 16), since the start",
            "Trays.Q is FALSE, since the start: counter; CV 1 has not reached PV 2",
            "Full would be TRUE with this: • Trays.Q TRUE (at further rising edges of CU)",
        ],
    );
    says(
        &run.why("Full", 350),
        &["Full is TRUE at 0.35 s (scan 36), since 0.3 s", "counter; CV 2 has reached PV 2"],
    );
}

#[test]
fn a_step_tells_what_activated_it_and_what_it_waits_for() {
    let program = "PROGRAM Main VAR Go AT %IX0.0 : BOOL; Done AT %IX0.1 : BOOL; END_VAR\n\
                   INITIAL_STEP Idle: END_STEP STEP Fill: END_STEP\n\
                   TRANSITION FROM Idle TO Fill := Go; END_TRANSITION\n\
                   TRANSITION FROM Fill TO Idle := Done; END_TRANSITION END_PROGRAM";
    let run = run(program, "time,Go,Done\n0,FALSE,FALSE\nT#200ms,TRUE,\nT#300ms,FALSE,\n");
    says(
        &run.why("Fill", 100),
        &[
            "At 0.1 s (scan 11) the step Fill is not active, and has not been yet, since the start",
            "the transition from Idle to Fill (named.st:3) waits: `Go` is FALSE",
            "Go is FALSE, since the start",
            "the step Fill would be active with this: • Go TRUE",
        ],
    );
    says(
        &run.why("Fill", 1_000),
        &[
            "At 1 s (scan 101) the step Fill is active, since",
            "the transition from Idle to Fill (named.st:3) cleared at",
            "`Go` was TRUE",
            "the transition from Fill to Idle (named.st:4) waits: `Done` is FALSE",
            "the step Fill would not be active with this: • Done TRUE",
        ],
    );
}

#[test]
fn a_value_is_followed_through_three_levels_of_blocks() {
    let program = "FUNCTION_BLOCK Bed VAR_INPUT Dry : BOOL; END_VAR VAR_OUTPUT Open : BOOL; END_VAR\n\
                   Open := Dry; END_FUNCTION_BLOCK\n\
                   FUNCTION_BLOCK House VAR_INPUT Dry : BOOL; END_VAR VAR_OUTPUT Open : BOOL; END_VAR\n\
                   VAR B : Bed; END_VAR B(Dry := Dry); Open := B.Open; END_FUNCTION_BLOCK\n\
                   FUNCTION_BLOCK Site VAR_INPUT Dry : BOOL; END_VAR VAR_OUTPUT Open : BOOL; END_VAR\n\
                   VAR H : House; END_VAR H(Dry := Dry); Open := H.Open; END_FUNCTION_BLOCK\n\
                   PROGRAM Main VAR Sensor AT %IX0.0 : BOOL; Valve AT %QX0.0 : BOOL; S : Site; END_VAR\n\
                   S(Dry := Sensor); Valve := S.Open; END_PROGRAM";
    let run = run(program, "time,Sensor\n0,FALSE\nT#100ms,TRUE\n");
    says(
        &run.why("Valve", 500),
        &[
            "Valve is TRUE at 0.5 s (scan 51), since 0.1 s",
            "S.Open is TRUE, since 0.1 s",
            "S.H.Open is TRUE, since 0.1 s",
            "S.H.B.Open is TRUE, since 0.1 s",
            "S.H.B.Dry is TRUE, as the call gave it",
            "S.H.Dry is TRUE, as the call gave it",
            "S.Dry is TRUE, as the call gave it",
            "Sensor is TRUE, since 0.1 s",
            "Valve would be FALSE with this: • Sensor FALSE",
        ],
    );
}

#[test]
fn a_loop_is_told_of_once_with_the_pass_that_counts() {
    let program = "PROGRAM Main VAR In AT %IX0.0 : BOOL; Place : INT; Row : ARRAY[0..4] OF BOOL; END_VAR\n\
                   FOR Place := 4 TO 1 BY -1 DO Row[Place] := Row[Place - 1]; END_FOR;\n\
                   Row[0] := In; END_PROGRAM";
    let run = run(program, "time,In\n0,TRUE\n");
    let answer = run.why("Row[3]", 500);
    says(
        &answer,
        &[
            "Row[3] is TRUE",
            "in the pass of the loop at named.st:2 with Place = 3",
            "Row[2] is TRUE",
            "Row[1] was TRUE",
        ],
    );
    assert_eq!(answer.matches("loop").count(), 1, "{answer}");
}
