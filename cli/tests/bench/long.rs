//! A program with two hundred variables that change: lamps, delays, counts and levels of a greenhouse.

use std::fmt::Write as _;

/// The program.
pub fn long() -> String {
    let (mut variables, mut body) =
        (String::from("  Ticks : UDINT;\n"), String::from("Ticks := Ticks + 1;\n"));
    for lamp in 0..100 {
        let _ = writeln!(variables, "  Lamp{lamp} : BOOL;");
        let _ = writeln!(body, "Lamp{lamp} := Ticks / {} MOD 2 = 1;", 2 + 3 * lamp);
    }
    for delay in 0..40 {
        let _ = writeln!(variables, "  Wait{delay} : TON; Again{delay} : BOOL; Waited{delay} : TIME;");
        let _ = writeln!(
            body,
            "Wait{delay}(IN := NOT Again{delay}, PT := T#{}s); Again{delay} := Wait{delay}.Q; Waited{delay} := Wait{delay}.ET;",
            1 + delay
        );
    }
    for count in 0..40 {
        let _ = writeln!(variables, "  Count{count} : INT;");
        let _ = writeln!(
            body,
            "IF Ticks MOD {} = 0 THEN Count{count} := (Count{count} + {}) MOD 1000; END_IF;",
            3 + 2 * count,
            1 + count
        );
    }
    for level in 0..20 {
        let _ = writeln!(variables, "  Level{level} : REAL;");
        let _ = writeln!(
            body,
            "Level{level} := REAL#50.0 + REAL#{}.0 * SIN(UDINT_TO_REAL(Ticks) / REAL#{}.0);",
            10 + level,
            200 + 37 * level
        );
    }
    format!("PROGRAM House\nVAR\n{variables}END_VAR\n{body}END_PROGRAM\n")
}

/// The names of its rows, with commas.
pub fn rows() -> String {
    let kinds = [("Lamp", 100), ("Waited", 40), ("Count", 40), ("Level", 20)];
    let names =
        kinds.iter().flat_map(|(name, count)| (0..*count).map(move |number| format!("{name}{number}")));
    names.collect::<Vec<_>>().join(",")
}
