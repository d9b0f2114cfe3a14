//! Programs that ask for more memory than there is, in few words or in many.

use latchwork_bench::marking::State;

use super::{HostileText, LARGE, NO_PROGRAM, RAN, REFUSED, numbered, program};

const RAN_OR_REFUSED: &[State] = &[State::Ran, State::NotCompiled];
const REFUSED_OR_LARGE: &[State] = &[State::NotCompiled, State::OverBudget];

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::new(
        "array-of-all-memory",
        REFUSED,
        || program("  A : ARRAY [0..2147483646] OF LREAL;", "A[0] := 1.0;"),
        "an array of 16 GB",
    ),
    HostileText::new(
        "array-of-a-megabyte",
        LARGE,
        || program("  A : ARRAY [0..999999] OF BYTE;", "A[0] := 1;"),
        "an array that compiles and is larger than the exercise allows",
    ),
    HostileText::new(
        "array-in-five-directions",
        REFUSED,
        || {
            program(
                "  A : ARRAY [0..65535, 0..65535, 0..65535, 0..65535, 0..65535] OF LWORD;",
                "A[0, 0, 0, 0, 0] := 1;",
            )
        },
        "sizes whose product overflows 64 bits",
    ),
    HostileText::new(
        "array-bounds-at-the-ends",
        REFUSED,
        || program("  A : ARRAY [-9223372036854775808..9223372036854775807] OF BYTE;", "A[0] := 1;"),
        "a number of elements that overflows",
    ),
    HostileText::new(
        "arrays-of-arrays",
        REFUSED,
        || {
            let types = (1..60).map(|n| format!("  T{n} : ARRAY [0..999] OF T{};\n", n - 1));
            let types: String = types.collect();
            format!(
                "TYPE\n  T0 : ARRAY [0..999] OF INT;\n{types}END_TYPE\n{}",
                program("  A : T59;", "Pump := Start;")
            )
        },
        "a thousand to the sixtieth elements in sixty lines",
    ),
    HostileText::new(
        "structures-that-double",
        REFUSED,
        || {
            let types = (1..100).map(|n| format!("  S{n} : STRUCT A, B : S{}; END_STRUCT;\n", n - 1));
            let types: String = types.collect();
            format!(
                "TYPE\n  S0 : STRUCT X : INT; END_STRUCT;\n{types}END_TYPE\n{}",
                program("  A : S99;", "Pump := Start;")
            )
        },
        "every structure is two of the one before",
    ),
    HostileText::new(
        "structures-of-large-arrays",
        REFUSED,
        || {
            let types = "TYPE\n  Row : ARRAY [0..9999] OF STRING[200];\n  Hall : STRUCT A, B, C : ARRAY [0..999] OF Row; \
                         END_STRUCT;\n  Farm : ARRAY [0..99, 0..99] OF Hall;\nEND_TYPE\n";
            format!("{types}{}", program("  A : Farm;", "Pump := Start;"))
        },
        "arrays of structures of arrays of strings",
    ),
    HostileText::new(
        "repeated-initial-values",
        REFUSED_OR_LARGE,
        || program("  A : ARRAY [0..9] OF INT := [1000000000(1000000000(1000000000(7)))];", "Pump := Start;"),
        "initial values repeated without end",
    ),
    HostileText::new(
        "initial-values-that-fit",
        REFUSED_OR_LARGE,
        || program("  A : ARRAY [0..4000000] OF DINT := [4000001(7)];", "Pump := Start;"),
        "sixteen megabytes of initial values in one line",
    ),
    HostileText::new(
        "initial-values-in-full",
        LARGE,
        || {
            let values = numbered(50_000, "#,");
            program(&format!("  A : ARRAY [0..50000] OF DINT := [{values} 7];"), "Pump := Start;")
        },
        "fifty thousand initial values",
    ),
    HostileText::new(
        "constants-that-double",
        RAN_OR_REFUSED,
        || {
            let lines = (1..2000).map(|n| format!("  C{n} : LINT := C{p} + C{p};\n", p = n - 1));
            let constants =
                format!("END_VAR\nVAR CONSTANT\n  C0 : LINT := 1;\n{}", lines.collect::<String>());
            program(&constants, "Pump := Start AND C1999 > 0;")
        },
        "constants that refer to the one before twice, two thousand deep",
    ),
    HostileText::new(
        "texts-that-double",
        RAN_OR_REFUSED,
        || {
            let lines =
                (1..40).map(|n| format!("  C{n} : STRING[60000] := CONCAT(C{p}, C{p});\n", p = n - 1));
            let constants = format!(
                "END_VAR\nVAR CONSTANT\n  C0 : STRING[60000] := 'seed';\n{}",
                lines.collect::<String>()
            );
            program(&constants, "Pump := Start AND LEN(C39) > 0;")
        },
        "constant texts that double forty times",
    ),
    HostileText::new(
        "power-of-powers",
        RAN_OR_REFUSED,
        || program("  X : LREAL;", "X := 9999.0 ** 9999.0 ** 9999.0 ** 9999.0; Pump := X > 0.0;"),
        "a constant that no number holds",
    ),
    HostileText::new(
        "bounds-of-constants",
        REFUSED,
        || {
            program(
                "  A : ARRAY [0..N * N * N * N * N * N] OF LREAL;\nEND_VAR\nVAR CONSTANT\n  N : LINT := 2000000;",
                "Pump := Start;",
            )
        },
        "bounds whose computation overflows",
    ),
    HostileText::new(
        "hundred-thousand-timers",
        LARGE,
        || program("  T : ARRAY [1..100000] OF TON; I : DINT;", "T[1](IN := Start, PT := T#1s);"),
        "more timers than memory",
    ),
    HostileText::new(
        "strings-of-the-greatest-length",
        REFUSED_OR_LARGE,
        || program("  S : ARRAY [1..10000] OF WSTRING[32000];", "Pump := Start;"),
        "640 MB of text",
    ),
    HostileText::new(
        "string-longer-than-any",
        REFUSED,
        || program("  S : STRING[4000000000];", "Pump := Start;"),
        "a length beyond all limits",
    ),
    HostileText::new(
        "address-far-away",
        &[State::Ran, State::NotCompiled, State::OverBudget],
        || program("  Far AT %QX999999999.7 : BOOL;\n  Mem AT %MD999999999 : DWORD;", "Far := Start;"),
        "addresses that would need gigabytes between them",
    ),
    HostileText::new(
        "set-of-all-values",
        RAN_OR_REFUSED,
        || {
            program(
                "  N : LINT;",
                "CASE N OF\n  -9223372036854775808..9223372036854775807: Pump := Start;\nEND_CASE;",
            )
        },
        "a branch for every number there is",
    ),
    HostileText::new(
        "million-semicolons",
        RAN_OR_REFUSED,
        || program("", &";".repeat(1_000_000)),
        "a million statements that are empty",
    ),
    HostileText::new(
        "megabyte-in-a-line",
        RAN_OR_REFUSED,
        || program("", &"Pump := Start; ".repeat(1024 * 1024 / 15)),
        "seventy thousand statements in one line, each of which undoes the one before",
    ),
    HostileText::new(
        "ten-megabytes-of-comment",
        RAN,
        || program("", &format!("(* {} *) Pump := FALSE;", "x".repeat(10 * 1024 * 1024))),
        "one line of comment",
    ),
    HostileText::new(
        "ten-megabytes-of-nothing",
        NO_PROGRAM,
        || " \n".repeat(5 * 1024 * 1024),
        "five million empty lines",
    ),
    HostileText::new(
        "number-of-a-million-digits",
        REFUSED,
        || program("  N : LINT;", &format!("N := {};", "9".repeat(1_000_000))),
        "a literal as long as a book",
    ),
    HostileText::new(
        "fraction-of-a-million-digits",
        RAN_OR_REFUSED,
        || program("  X : LREAL;", &format!("X := 0.{}1E999999;", "0".repeat(1_000_000))),
        "a number that takes long to round",
    ),
];
