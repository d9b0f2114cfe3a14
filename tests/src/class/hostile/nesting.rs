//! Programs that are deep, against anything that calls itself for each level.

use latchwork_bench::marking::State;

use super::{HostileText, REFUSED, program};

const DEEP: usize = 30_000;
const RAN_OR_REFUSED: &[State] = &[State::Ran, State::NotCompiled];

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::new(
        "deep-parentheses",
        REFUSED,
        || program("", &format!("Pump := {}Start{};", "(".repeat(DEEP), ")".repeat(DEEP))),
        "parentheses",
    ),
    HostileText::new(
        "open-parentheses",
        REFUSED,
        || program("", &format!("Pump := {}Start;", "(".repeat(DEEP))),
        "parentheses that nobody closes",
    ),
    HostileText::new(
        "deep-blocks",
        REFUSED,
        || {
            program(
                "",
                &format!("{}Pump := FALSE;{}", "IF Start THEN\n".repeat(DEEP), "END_IF;\n".repeat(DEEP)),
            )
        },
        "IF in IF",
    ),
    HostileText::new(
        "open-blocks",
        REFUSED,
        || program("", &"IF Start THEN WHILE Stop DO CASE 1 OF 1: ".repeat(20_000)),
        "blocks that nobody closes",
    ),
    HostileText::new(
        "closing-words",
        REFUSED,
        || "END_IF; END_PROGRAM END_VAR END_FUNCTION ) ] } END_TYPE\n".repeat(10_000),
        "ends of what was never begun",
    ),
    HostileText::new(
        "deep-else",
        RAN_OR_REFUSED,
        || {
            program(
                "  N : DINT;",
                &format!("IF Start THEN ;\n{}END_IF;", "ELSIF N > 1 THEN Pump := FALSE;\n".repeat(10_000)),
            )
        },
        "ELSIF after ELSIF",
    ),
    HostileText::new(
        "deep-not",
        RAN_OR_REFUSED,
        || program("", &format!("Pump := {}Start;", "NOT ".repeat(DEEP))),
        "NOT NOT NOT",
    ),
    HostileText::new(
        "deep-minus",
        RAN_OR_REFUSED,
        || program("  N : LINT;", &format!("N := {}N;", "- ".repeat(DEEP))),
        "minus minus minus",
    ),
    HostileText::new(
        "long-sum",
        RAN_OR_REFUSED,
        || program("  N : LINT;", &format!("N := N{};", " + N".repeat(DEEP))),
        "a sum of thirty thousand parts",
    ),
    HostileText::new(
        "long-access",
        REFUSED,
        || program("  N : LINT;", &format!("N := N{};", ".A[0]^".repeat(DEEP))),
        "members of members",
    ),
    HostileText::new(
        "deep-subscripts",
        REFUSED,
        || {
            let inner = format!("{}0{}", "A[".repeat(DEEP), "]".repeat(DEEP));
            program("  A : ARRAY [0..1] OF DINT; N : DINT;", &format!("N := {inner};"))
        },
        "subscripts in subscripts",
    ),
    HostileText::new(
        "deep-calls",
        REFUSED,
        || program("  N : LINT;", &format!("N := {}N{};", "ABS(".repeat(DEEP), ")".repeat(DEEP))),
        "calls in calls",
    ),
    HostileText::new(
        "deep-array-types",
        REFUSED,
        || {
            format!(
                "TYPE T : {}INT; END_TYPE\n{}",
                "ARRAY [0..0] OF ".repeat(DEEP),
                program("  A : T;", "Pump := FALSE;")
            )
        },
        "an array of arrays of arrays",
    ),
    HostileText::new(
        "deep-structure-types",
        REFUSED,
        || {
            let (open, close) = ("STRUCT M : ".repeat(20_000), "; END_STRUCT".repeat(20_000));
            format!("TYPE T : {open}INT{close}; END_TYPE\n{}", program("  A : T;", "Pump := FALSE;"))
        },
        "structures in structures",
    ),
    HostileText::new(
        "types-in-a-chain",
        REFUSED,
        || {
            let types = (1..20_000).map(|n| format!("  T{n} : STRUCT M : T{}; END_STRUCT;\n", n - 1));
            let types: String = types.collect();
            format!(
                "TYPE\n{types}  T0 : STRUCT M : INT; END_STRUCT;\nEND_TYPE\n{}",
                program("  A : T19999;", "Pump := FALSE;")
            )
        },
        "types that each contain the one before",
    ),
    HostileText::new(
        "types-in-a-circle",
        REFUSED,
        || {
            let types =
                (0..2_000).map(|n| format!("  T{n} : STRUCT M : T{}; END_STRUCT;\n", (n + 1) % 2_000));
            let types: String = types.collect();
            format!("TYPE\n{types}END_TYPE\n{}", program("  A : T0;", "Pump := FALSE;"))
        },
        "types that contain themselves",
    ),
    HostileText::new(
        "deep-namespaces",
        REFUSED,
        || {
            format!(
                "{}{}{}",
                "NAMESPACE N\n".repeat(20_000),
                program("", "Pump := FALSE;"),
                "END_NAMESPACE\n".repeat(20_000)
            )
        },
        "namespaces in namespaces",
    ),
    HostileText::new(
        "deep-list-parentheses",
        RAN_OR_REFUSED,
        || {
            program(
                "",
                &format!(
                    "  LD Start\n{}  LD Stop\n{}  ST Pump",
                    "  AND(\n".repeat(DEEP),
                    "  )\n".repeat(DEEP)
                ),
            )
        },
        "deferred operators in one another",
    ),
    HostileText::new(
        "constants-in-a-chain",
        RAN_OR_REFUSED,
        || {
            let lines = (1..20_000).map(|n| format!("  C{p} : LINT := C{n};\n", p = n - 1));
            let lines: String = lines.collect();
            program(&format!("END_VAR\nVAR CONSTANT\n{lines}  C19999 : LINT := 1;"), "Pump := C0 > 5;")
        },
        "constants of constants, the last one first",
    ),
    HostileText::new(
        "calls-in-a-chain",
        RAN_OR_REFUSED,
        || {
            let functions =
                (0..5_000).map(|n| format!("FUNCTION F{n} : INT\n  F{n} := F{}();\nEND_FUNCTION\n", n + 1));
            let functions: String = functions.collect();
            let last = "FUNCTION F5000 : INT\n  F5000 := 1;\nEND_FUNCTION\n";
            format!("{functions}{last}{}", program("  N : INT;", "N := F0();"))
        },
        "functions that each call the next",
    ),
    HostileText::new(
        "nested-comments",
        REFUSED,
        || program("", &format!("{} Pump := FALSE;", "(* ".repeat(DEEP))),
        "comments in comments that nobody closes",
    ),
    HostileText::new(
        "closed-comments",
        RAN_OR_REFUSED,
        || program("", &format!("{}{} Pump := FALSE;", "(* ".repeat(DEEP), "*) ".repeat(DEEP))),
        "comments in comments, all closed",
    ),
];
