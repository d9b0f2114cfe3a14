//! Texts with characters that mean something to whoever shows them: terminals, browsers, tables.

use latchwork_bench::marking::State;

use super::{HostileText, NO_PROGRAM, RAN, REFUSED, RIGHT, program};

/// Markup that would come to life on a page that does not escape it.
pub const MARKUP: &str = "</pre></script><script>document.title='harm'</script><img src=x onerror=alert(1)>";

/// What a terminal would obey.
pub const ESCAPES: &str = "\u{1b}]0;harm\u{7}\u{1b}[2J\u{1b}[31m\u{9b}31m\u{8}\u{8}\r";

pub(super) const TEXTS: &[HostileText] = &[
    HostileText::new(
        "open-comment",
        REFUSED,
        || format!("(* {}", program("", RIGHT).repeat(50)),
        "a comment that nobody closes",
    ),
    HostileText::new(
        "open-string",
        REFUSED,
        || program("  S : STRING;", &format!("S := '{};", "text ".repeat(20_000))),
        "a text that nobody closes",
    ),
    HostileText::new(
        "open-strings",
        REFUSED,
        || program("  S : STRING;", &"S := 'no end;\n".repeat(20_000)),
        "twenty thousand of them",
    ),
    HostileText::new(
        "long-identifier",
        REFUSED,
        || program(&format!("  {} : BOOL;", "A".repeat(1_000_000)), "Pump := FALSE;"),
        "a name of a megabyte",
    ),
    HostileText::new(
        "letters-that-look-alike",
        REFUSED,
        || program("", "\u{420}ump := Start;\nPum\u{440} := Stop;\nV\u{430}lve := Start;"),
        "Cyrillic letters in the names of variables",
    ),
    HostileText::new(
        "written-backwards",
        &[State::Ran, State::NotCompiled],
        || program("", "(* \u{202e} TRAHS \u{2066} *) Pump := FALSE; (* \u{2069} \u{202d} *)"),
        "marks that turn the direction of writing",
    ),
    HostileText::new(
        "control-characters",
        REFUSED,
        || program("", &format!("Pump := \u{1}\u{2}\u{7}\u{8}Start;\n// {ESCAPES}\nValve := {ESCAPES};")),
        "what a terminal would obey",
    ),
    HostileText::working(
        "control-characters-in-comments",
        || program("", &format!("// {ESCAPES}\n{RIGHT}")),
        "what a terminal would obey, in a right answer",
    ),
    HostileText::new("zero-characters", REFUSED, || program("", "Pump := \0Start\0;"), "zero characters"),
    HostileText::working(
        "markup-in-comments",
        || program("", &format!("(* {MARKUP} *)\n// {MARKUP}\n{RIGHT}")),
        "markup, in a right answer",
    ),
    HostileText::new(
        "markup-in-texts",
        RAN,
        || {
            program(
                "  S : STRING[200];",
                &format!("S := '{}'; Pump := LEN(S) < 0;", MARKUP.replace('\'', "$'")),
            )
        },
        "markup in the value of a variable",
    ),
    HostileText::new(
        "markup-in-names",
        REFUSED,
        || program(&format!("  {MARKUP} : BOOL;"), &format!("{MARKUP} := Start;")),
        "markup in the place of a name",
    ),
    HostileText::new(
        "formulas-in-names",
        REFUSED,
        || program("  =1+1 : BOOL;\n  @SUM : BOOL;", "=HYPERLINK(\"x\") := +1; -1 := Start;"),
        "what a table of calculations would compute",
    ),
    HostileText::new(
        "line-ends-of-all-kinds",
        &[State::Ran, State::NotCompiled],
        || program("", "Pump := FALSE;\u{2028}Valve := FALSE;\u{2029}\u{85}Alarm := FALSE;\u{b}\u{c}"),
        "line ends that few know",
    ),
    HostileText::new(
        "marks-above-marks",
        &[State::Ran, State::NotCompiled],
        || program("", &format!("// a{}\nPump := FALSE;", "\u{301}".repeat(50_000))),
        "a letter with fifty thousand accents",
    ),
    HostileText::new(
        "names-of-files",
        REFUSED,
        || {
            format!(
                "{{include '/etc/passwd'}}\n#include \"/etc/passwd\"\ninclude '../s01.st';\n{}",
                program("", "Pump := FALSE;")
            )
        },
        "what would read other files, if there were such",
    ),
    HostileText::new(
        "procedures-as-program",
        REFUSED,
        || {
            "program 'reference.st';\nprocedure 'mine'\n  points 1000000;\n  expect TRUE;\nend_procedure\n"
                .to_owned()
        },
        "procedures that would be easier to pass",
    ),
    HostileText::new(
        "only-a-function",
        NO_PROGRAM,
        || "FUNCTION Marks : INT\n  Marks := 20;\nEND_FUNCTION\n".to_owned(),
        "no program at all",
    ),
    HostileText::new(
        "mark-of-the-byte-order-inside",
        &[State::Ran, State::NotCompiled],
        || program("", "\u{feff}Pump := FALSE;\u{feff}"),
        "marks of the byte order in the middle",
    ),
];
