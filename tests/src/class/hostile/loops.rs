//! Programs that do not come to an end: what must stop them is counted, never timed.

use super::{HostileText, RAN, REFUSED, RIGHT, numbered, program};

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::new(
        "endless-while",
        RAN,
        || program("", "WHILE TRUE DO ; END_WHILE;"),
        "a loop without end",
    ),
    HostileText::new(
        "endless-repeat",
        RAN,
        || program("  N : DINT;", "REPEAT N := N + 1; UNTIL N < 0 AND N > 0 END_REPEAT;"),
        "a loop whose end can not come, with overflow on the way",
    ),
    HostileText::new(
        "endless-for-step-zero",
        RAN,
        || program("  I, Stride : DINT;", "FOR I := 0 TO 1 BY Stride DO Valve := TRUE; END_FOR;"),
        "a step that is 0 at run time",
    ),
    HostileText::new(
        "for-to-the-last-value",
        RAN,
        || program("  I : USINT; N : UDINT;", "FOR I := 0 TO 255 DO N := N + 1; END_FOR;"),
        "a control variable that can not pass its end",
    ),
    HostileText::new(
        "for-down-to-the-least-value",
        RAN,
        || {
            program(
                "  I : LINT; N : UDINT;",
                "FOR I := 0 TO -9223372036854775807 BY -4611686018427387904 DO N := N + 1; END_FOR;",
            )
        },
        "a step that overflows the control variable",
    ),
    HostileText::new(
        "for-over-all-numbers",
        RAN,
        || program("  I : LINT;", "FOR I := -9223372036854775807 TO 9223372036854775807 DO ; END_FOR;"),
        "a loop that ends in some centuries",
    ),
    HostileText::new(
        "for-in-for-in-for",
        RAN,
        || {
            let open = numbered(12, "FOR I# := 1 TO 1000 DO\n");
            program(&numbered(12, "  I# : DINT;\n"), &format!("{open}  ;\n{}", "END_FOR;\n".repeat(12)))
        },
        "loops in one another, a thousand to the twelfth times",
    ),
    HostileText::new(
        "jump-to-itself",
        RAN,
        || program("", "Here: JMP Here"),
        "an instruction that jumps to itself",
    ),
    HostileText::new(
        "jumps-between-labels",
        RAN,
        || program("", "One: LD Pump\n  JMP Two\nTwo: LD Valve\n  JMPCN Three\n  JMP One\nThree: JMP One"),
        "jumps back and forth",
    ),
    HostileText::new(
        "loop-below-the-budget",
        RAN,
        || program("  I : DINT;", "FOR I := 1 TO 3000 DO Valve := NOT Valve; END_FOR;"),
        "nearly all instructions that a scan may take, in every scan",
    ),
    HostileText::working(
        "right-and-slow",
        || program("  I, N : DINT;", &format!("{RIGHT}  FOR I := 1 TO 2000 DO N := I; END_FOR;")),
        "a right answer that takes much of what a scan may take",
    ),
    HostileText::new(
        "function-calls-itself",
        REFUSED,
        || {
            format!(
                "FUNCTION Deep : INT\n  Deep := Deep(); \nEND_FUNCTION\n{}",
                program("  N : INT;", "N := Deep();")
            )
        },
        "recursion of a function",
    ),
    HostileText::new(
        "functions-in-a-circle",
        REFUSED,
        || {
            let functions = (0..200)
                .map(|n| format!("FUNCTION F{n} : INT\n  F{n} := F{}();\nEND_FUNCTION\n", (n + 1) % 200));
            format!("{}{}", functions.collect::<String>(), program("  N : INT;", "N := F0();"))
        },
        "recursion through two hundred functions",
    ),
    HostileText::new(
        "method-calls-itself",
        REFUSED,
        || {
            let class = "CLASS Well\n  METHOD PUBLIC Down\n    Down();\n  END_METHOD\nEND_CLASS\n";
            format!("{class}{}", program("  W : Well;", "W.Down();"))
        },
        "recursion of a method",
    ),
    HostileText::new(
        "interface-leads-back",
        RAN,
        || {
            let parts = "INTERFACE Echo\n  METHOD Answer\n  END_METHOD\nEND_INTERFACE\nCLASS Mirror IMPLEMENTS Echo\n\
                         VAR PUBLIC\n  Other : Echo;\nEND_VAR\n  METHOD PUBLIC Answer\n    Other.Answer();\n  \
                         END_METHOD\nEND_CLASS\n";
            format!("{parts}{}", program("  A, B : Mirror;", "A.Other := B; B.Other := A; A.Answer();"))
        },
        "recursion that shows at run time only, through interface variables",
    ),
    HostileText::new(
        "reference-leads-back",
        &[latchwork_bench::marking::State::Ran, latchwork_bench::marking::State::NotCompiled],
        || {
            let block = "FUNCTION_BLOCK Ring\nVAR_INPUT\n  Next : REF_TO Ring;\nEND_VAR\n  IF Next <> NULL THEN\n    \
                         Next^();\n  END_IF;\nEND_FUNCTION_BLOCK\n";
            format!("{block}{}", program("  A, B : Ring;", "A.Next := REF(B); B.Next := REF(A); A();"))
        },
        "recursion through references",
    ),
    HostileText::new(
        "chart-that-never-rests",
        RAN,
        || {
            let steps = numbered(200, "STEP S#: Valve(N); END_STEP\n");
            let ways = (0..200)
                .map(|n| format!("TRANSITION FROM S{n} TO S{} := TRUE; END_TRANSITION\n", (n + 1) % 200));
            let begin = "INITIAL_STEP First: END_STEP\nTRANSITION FROM First TO S0 := TRUE; END_TRANSITION\n";
            program("", &format!("{begin}{steps}{}", ways.collect::<String>()))
        },
        "a chart that goes on in every scan",
    ),
    HostileText::new(
        "chart-with-an-endless-action",
        RAN,
        || {
            program(
                "",
                "INITIAL_STEP First: Spin(N); END_STEP\nACTION Spin:\n  WHILE Stop DO ; END_WHILE;\nEND_ACTION",
            )
        },
        "a loop without end in an action",
    ),
    HostileText::new(
        "waits-for-a-button",
        RAN,
        || program("", "Pump := TRUE;\nREPEAT Valve := NOT Valve; UNTIL Start END_REPEAT;"),
        "a loop that waits for an input, which changes between scans only",
    ),
];
