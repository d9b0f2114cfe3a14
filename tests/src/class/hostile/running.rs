//! Programs that compile, end, and do harm while they run.

use latchwork_bench::marking::State;

use super::{HostileText, RAN, RIGHT, numbered, program};

const RAN_OR_REFUSED: &[State] = &[State::Ran, State::NotCompiled];

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::working(
        "events-in-every-scan",
        || {
            program(
                "  I : INT := 32767; Z : INT; S : STRING[3]; R : REAL := 3.4E38;",
                &format!(
                    "{RIGHT}  I := 32767; I := I + 1; S := CONCAT('abc', 'def'); R := R * R; I := REAL_TO_INT(R);"
                ),
            )
        },
        "a right answer with several events in every scan",
    ),
    HostileText::new(
        "flood-of-events",
        RAN,
        || {
            program(
                "  I : DINT; N : SINT;",
                "FOR I := 1 TO 2000 DO N := 127; N := N + 1; END_FOR;\nPump := FALSE;",
            )
        },
        "thousands of events in every scan",
    ),
    HostileText::new(
        "division-by-zero",
        RAN,
        || program("  A : DINT := 7; B : DINT;", "A := A / B; Pump := Start;"),
        "a division by zero in the first scan",
    ),
    HostileText::new(
        "late-division-by-zero",
        RAN,
        || program("  A : DINT := 7; B : DINT;", "IF Start THEN A := A MOD B; END_IF; Pump := Start;"),
        "a division by zero when it counts",
    ),
    HostileText::new(
        "least-number-by-minus-one",
        RAN,
        || program("  A : DINT := -2147483648; B : DINT := -1;", "A := A / B; A := A MOD B; Pump := FALSE;"),
        "the one quotient that overflows",
    ),
    HostileText::new(
        "subscript-out-of-range",
        RAN,
        || program("  A : ARRAY [0..9] OF DINT; I : DINT := 5;", "I := I * 2; A[I] := I; Pump := FALSE;"),
        "a place outside of an array",
    ),
    HostileText::new(
        "subscript-below-zero",
        RAN,
        || program("  A : ARRAY [0..9] OF DINT; I : LINT;", "I := I - 1; A[I] := 1; Pump := FALSE;"),
        "a place in front of an array",
    ),
    HostileText::new(
        "null-reference",
        RAN,
        || program("  R : REF_TO DINT;", "R^ := 5; Pump := FALSE;"),
        "a reference to nothing",
    ),
    HostileText::new(
        "null-interface",
        RAN,
        || {
            let interface = "INTERFACE Voice\n  METHOD Speak\n  END_METHOD\nEND_INTERFACE\n";
            format!("{interface}{}", program("  V : Voice;", "V.Speak(); Pump := FALSE;"))
        },
        "a call of nobody",
    ),
    HostileText::new(
        "texts-at-full-length",
        RAN,
        || {
            program(
                "  S, T : STRING[10000]; I : DINT;",
                "FOR I := 1 TO 500 DO S := CONCAT(S, 'abcdefghijklmnop'); T := CONCAT(S, S); S := INSERT(T, S, 1); END_FOR;",
            )
        },
        "the longest texts, put together again and again: few instructions, many bytes",
    ),
    HostileText::new(
        "searching-in-texts",
        RAN,
        || {
            program(
                "  S, T : STRING[10000]; I, N : DINT;",
                "FOR I := 1 TO 100 DO S := CONCAT(S, 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa'); END_FOR;\n\
             T := CONCAT(LEFT(S, 2000), 'b');\nFOR I := 1 TO 300 DO N := FIND(S, T); END_FOR;\nPump := N > 0;",
            )
        },
        "the slowest search there is, again and again",
    ),
    HostileText::new(
        "copies-of-large-arrays",
        RAN,
        || {
            program(
                "  A, B : ARRAY [1..3500] OF LREAL; I : DINT;",
                "FOR I := 1 TO 4000 DO A := B; B := A; END_FOR; Pump := FALSE;",
            )
        },
        "assignments of whole arrays: one instruction, many bytes",
    ),
    HostileText::new(
        "timers-out-of-all-range",
        RAN_OR_REFUSED,
        || {
            program(
                "  A, B : TON; C : TOF; D : TP; E : TON;",
                "A(IN := TRUE, PT := T#-5s); B(IN := TRUE, PT := T#106751d); C(IN := A.Q, PT := -T#106751d);\n\
             D(IN := NOT D.Q, PT := T#0s); E(IN := NOT E.Q, PT := T#1ns); Pump := FALSE;",
            )
        },
        "presets that are negative, zero and without end",
    ),
    HostileText::new(
        "counters-out-of-all-range",
        RAN,
        || {
            program(
                "  U : CTU; D : CTD; B : CTUD; X : BOOL;",
                "X := NOT X; U(CU := X, R := FALSE, PV := -32768); D(CD := X, LD := X, PV := -1);\n\
             B(CU := X, CD := NOT X, R := X, LD := NOT X, PV := 32767); Pump := FALSE;",
            )
        },
        "counters that are loaded and set back in every scan",
    ),
    HostileText::new(
        "random-like-outputs",
        RAN,
        || {
            program(
                "  S : UDINT := 2463534242;",
                "S := S XOR_ROL; Pump := FALSE;"
                    .replace("S XOR_ROL", "(S * 1664525 + 1013904223) MOD 4294967291")
                    .as_str(),
            )
        },
        "numbers that wrap round in every scan",
    ),
    HostileText::new(
        "outputs-that-flicker",
        RAN,
        || {
            program(
                "",
                "Pump := NOT Pump; Valve := NOT Valve; BatchDone := NOT BatchDone; Alarm := NOT Alarm;",
            )
        },
        "every load changes in every scan",
    ),
    HostileText::new(
        "recorder-flood",
        RAN,
        || {
            let lines = numbered(2_000, "  V# := V# + 1;\n");
            program(&numbered(2_000, "  V# : UDINT;\n"), &format!("{lines}  Pump := FALSE;"))
        },
        "thousands of variables that change in every scan",
    ),
    HostileText::new(
        "inputs-written",
        RAN_OR_REFUSED,
        || program("", "Start := TRUE; %IX0.1 := TRUE; %IW0 := 16#FFFF; Pump := Start;"),
        "writing what the panel gives",
    ),
    HostileText::new(
        "all-lamps-on",
        RAN,
        || program("", "Pump := TRUE; Valve := TRUE; BatchDone := TRUE; Alarm := TRUE;"),
        "everything on, in the hope that something counts",
    ),
    HostileText::partly(
        "everything-retained",
        || {
            program(
                "END_VAR\nVAR RETAIN\n  Seen : BOOL; A : ARRAY [0..1000] OF DINT;",
                "Seen := Seen OR Start; A[0] := A[0] + 1; Pump := Seen;",
            )
        },
        "a memory that outlives a restart",
    ),
    HostileText::partly(
        "knows-the-test",
        || {
            program(
                "  T : TON; N : INT;",
                "T(IN := TRUE, PT := T#100d);\nPump := T.ET > T#200ms AND T.ET < T#3s500ms;\nValve := T.ET > T#1s200ms;",
            )
        },
        "plays the course of a procedure by the clock, whatever the panel says",
    ),
];
