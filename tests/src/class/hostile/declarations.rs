//! Programs with more parts than anybody would write, where a pass that looks at pairs of them would never end.

use latchwork_bench::marking::State;

use super::{HostileText, LARGE, RAN, REFUSED, numbered, program};

const ANY: &[State] = &[State::Ran, State::NotCompiled, State::OverBudget];

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::new(
        "twenty-thousand-variables",
        LARGE,
        || program(&numbered(20_000, "  V# : DINT;\n"), "Pump := V1 > V2;"),
        "variables",
    ),
    HostileText::new(
        "twenty-thousand-in-a-list",
        LARGE,
        || program(&format!("  {}Z : DINT;", numbered(20_000, "V#, ")), "Pump := V1 > V2;"),
        "variables of one declaration",
    ),
    HostileText::new(
        "five-thousand-functions",
        ANY,
        || {
            let functions = numbered(
                5_000,
                "FUNCTION F# : INT\nVAR_INPUT A, B : INT; END_VAR\n  F# := A + B;\nEND_FUNCTION\n",
            );
            format!("{functions}{}", program("  N : INT;", "N := F4999(F0(1, 2), 3);"))
        },
        "functions",
    ),
    HostileText::new(
        "five-thousand-types",
        ANY,
        || {
            let types =
                numbered(5_000, "  T# : STRUCT A, B : DINT; END_STRUCT;\n  E# : (Red#, Green#, Blue#);\n");
            format!("TYPE\n{types}END_TYPE\n{}", program("  A : T4999;", "Pump := A.A > A.B;"))
        },
        "types",
    ),
    HostileText::new(
        "enumeration-of-thirty-thousand",
        ANY,
        || {
            let values = numbered(30_000, "Value#, ");
            format!("TYPE Long : ({values}Last); END_TYPE\n{}", program("  A : Long;", "Pump := A = Last;"))
        },
        "one type with thirty thousand names",
    ),
    HostileText::new(
        "case-of-thirty-thousand",
        ANY,
        || {
            let cases = numbered(30_000, "  #: Pump := FALSE;\n");
            program("  N : DINT;", &format!("CASE N OF\n{cases}END_CASE;"))
        },
        "branches, every pair of which could be the same",
    ),
    HostileText::new(
        "case-of-ranges",
        ANY,
        || {
            let cases = numbered(20_000, "  #0..#9: Pump := FALSE;\n");
            program("  N : LINT;", &format!("CASE N OF\n{cases}END_CASE;"))
        },
        "ranges, every pair of which could overlap",
    ),
    HostileText::new(
        "typing-errors-by-the-thousand",
        REFUSED,
        || {
            let known = numbered(3_000, "  Watering_Station_Number_# : BOOL;\n");
            let used = numbered(20_000, "  Pump := Watering_Station_Nummer_#;\n");
            program(&known, &used)
        },
        "unknown names, each like thousands of known ones",
    ),
    HostileText::new(
        "errors-without-end",
        REFUSED,
        || program("", &"IF ) THEN := END_FOR 5 $ ;\n".repeat(50_000)),
        "mistakes, each of which wants a message",
    ),
    HostileText::new(
        "same-name-ten-thousand-times",
        REFUSED,
        || program(&"  Same : BOOL;\n".repeat(10_000), "Pump := Same;"),
        "one name declared again and again",
    ),
    HostileText::new(
        "programs-by-the-thousand",
        ANY,
        || {
            numbered(
                3_000,
                "PROGRAM P#\nVAR Lamp AT %QX0.0 : BOOL; END_VAR\n  Lamp := NOT Lamp;\nEND_PROGRAM\n",
            )
        },
        "programs, all of which would run in every scan",
    ),
    HostileText::new(
        "labels-by-the-thousand",
        ANY,
        || {
            let lines = numbered(20_000, "L#: LD Start\n  JMPC L#\n");
            program("", &format!("{lines}  ST Pump"))
        },
        "labels and jumps",
    ),
    HostileText::new(
        "heirs-of-heirs",
        REFUSED,
        || {
            let classes = (1..3_000).map(|n| {
                format!("CLASS C{n} EXTENDS C{}\n  METHOD PUBLIC OVERRIDE M\n    SUPER.M();\n  END_METHOD\nEND_CLASS\n", n - 1)
            });
            let classes: String = classes.collect();
            let base = "CLASS C0\n  METHOD PUBLIC M\n  END_METHOD\nEND_CLASS\n";
            format!("{base}{classes}{}", program("  A : C2999;", "A.M();"))
        },
        "classes that derive from one another",
    ),
    HostileText::new(
        "interfaces-that-double",
        ANY,
        || {
            let pairs = (1..40).map(|n| {
                let bases = format!("A{p}, B{p}", p = n - 1);
                format!("INTERFACE A{n} EXTENDS {bases}\nEND_INTERFACE\nINTERFACE B{n} EXTENDS {bases}\nEND_INTERFACE\n")
            });
            let pairs: String = pairs.collect();
            let bases = "INTERFACE A0\nMETHOD M\nEND_METHOD\nEND_INTERFACE\nINTERFACE B0\nEND_INTERFACE\n";
            let class = "CLASS C IMPLEMENTS A39, B39\n  METHOD PUBLIC M\n  END_METHOD\nEND_CLASS\n";
            format!("{bases}{pairs}{class}{}", program("  X : C;", "X.M();"))
        },
        "two ways at each of forty levels of interfaces",
    ),
    HostileText::new(
        "chart-of-many-branches",
        ANY,
        || {
            let branches = 60;
            let list =
                |letter: &str| (0..branches).map(|n| format!("{letter}{n}")).collect::<Vec<_>>().join(", ");
            let steps = numbered(
                branches,
                "STEP A#: END_STEP\nSTEP B#: END_STEP\nTRANSITION FROM A# TO B# := Start; END_TRANSITION\nTRANSITION FROM B# TO A# := Stop; END_TRANSITION\n",
            );
            let chart = format!(
                "INITIAL_STEP First: END_STEP\nSTEP Last: END_STEP\nTRANSITION FROM First TO ({}) := Start; END_TRANSITION\n\
                 {steps}TRANSITION FROM ({}) TO Last := Stop; END_TRANSITION\nTRANSITION FROM Last TO First := TRUE; \
                 END_TRANSITION",
                list("A"),
                list("B")
            );
            program("", &chart)
        },
        "a chart with two to the sixtieth sets of active steps",
    ),
    HostileText::new(
        "chart-of-ten-thousand-steps",
        ANY,
        || {
            let steps = numbered(10_000, "STEP S#: END_STEP\n");
            let ways =
                (1..10_000).map(|n| format!("TRANSITION FROM S{} TO S{n} := Start; END_TRANSITION\n", n - 1));
            let begin =
                "INITIAL_STEP First: END_STEP\nTRANSITION FROM First TO S0 := Start; END_TRANSITION\n";
            program("", &format!("{begin}{steps}{}", ways.collect::<String>()))
        },
        "a long chart",
    ),
    HostileText::new(
        "tasks-by-the-thousand",
        ANY,
        || {
            let tasks = numbered(
                1_000,
                "    TASK T# (INTERVAL := T#1ns, PRIORITY := 1);\n    PROGRAM P# WITH T# : TrayWatering;\n",
            );
            format!(
                "CONFIGURATION C\n  RESOURCE R ON Board\n{tasks}  END_RESOURCE\nEND_CONFIGURATION\n{}",
                program("", "Pump := Start;")
            )
        },
        "a thousand tasks that are due every nanosecond",
    ),
    HostileText::new(
        "task-of-a-nanosecond",
        RAN,
        || {
            let head = "CONFIGURATION C\n  RESOURCE R ON Board\n    TASK T (INTERVAL := T#1ns, PRIORITY := 1);\n    \
                        PROGRAM P WITH T : TrayWatering;\n  END_RESOURCE\nEND_CONFIGURATION\n";
            format!("{head}{}", program("", "Pump := Start;"))
        },
        "a scan time that would make a billion scans of a second",
    ),
    HostileText::new(
        "tasks-without-common-measure",
        RAN,
        || {
            let head = "CONFIGURATION C\n  RESOURCE R ON Board\n    TASK A (INTERVAL := T#9999991ns, PRIORITY := 1);\n    \
                        TASK B (INTERVAL := T#9999973ns, PRIORITY := 2);\n    PROGRAM P WITH A : TrayWatering;\n    \
                        PROGRAM Q WITH B : TrayWatering;\n  END_RESOURCE\nEND_CONFIGURATION\n";
            format!("{head}{}", program("", "Pump := Start;"))
        },
        "two intervals whose common measure is a nanosecond",
    ),
    HostileText::new(
        "pragmas-that-allow-everything",
        RAN,
        || {
            let pragmas =
                "{allow double-coil: it is fine}\n{allow station-stop-sense}\n{allow all}\n{full marks}\n";
            format!(
                "{pragmas}{}",
                program("", &format!("{pragmas}Pump := Start;\n{pragmas}Pump := NOT Stop;"))
            )
        },
        "pragmas that would silence what the exercise forbids",
    ),
    HostileText::new(
        "pragmas-by-the-thousand",
        ANY,
        || program("", &format!("{}Pump := FALSE;", "{allow double-coil}\n".repeat(20_000))),
        "twenty thousand pragmas before one statement",
    ),
];
