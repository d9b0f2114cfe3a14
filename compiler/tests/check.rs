//! The checker on small programs: one file a topic, its diagnostics beside it as a snapshot.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use latchwork_compiler::{
    CompileOptions,
    allow::Allowances,
    catalogue::{CATALOGUE, WARNINGS},
    check::check_with,
    render,
};
use latchwork_grammar::{Diagnostic, Names, Severity, Sources, parse};
use proptest::prelude::*;

/// Parses and checks one file; the diagnostics of both passes. A text that names an option of the command is checked
/// with it.
fn diagnostics(name: &str, text: &str) -> (Vec<Diagnostic>, Sources) {
    let mut sources = Sources::new();
    let mut names = Names::new();
    let file = sources.add(name, text);
    let parsed = parse(file, text, &mut names);
    let trees = [parsed.tree];
    let exclusive_selections = text.contains("--exclusive-selections");
    let options = CompileOptions { exclusive_selections, ..CompileOptions::default() };
    let checked = check_with(&trees, &sources, &mut names, &options);
    let mut all = parsed.diagnostics;
    all.extend(checked.diagnostics);
    Allowances::read(&trees, &sources).apply(&mut all);
    (all, sources)
}

fn names_of(text: &str) -> Vec<(&'static str, Severity)> {
    diagnostics("case.st", text).0.iter().map(|diagnostic| (diagnostic.name, diagnostic.severity)).collect()
}

fn errors_of(text: &str) -> Vec<&'static str> {
    names_of(text)
        .into_iter()
        .filter(|(_, severity)| *severity == Severity::Error)
        .map(|(name, _)| name)
        .collect()
}

/// A program with these declarations and statements.
fn program(declarations: &str, body: &str) -> String {
    format!("PROGRAM Main\nVAR\n{declarations}\nEND_VAR\n{body}\nEND_PROGRAM\n")
}

#[test]
fn cases() {
    insta::glob!("check/*.{st,il}", |path| {
        let text = fs::read_to_string(path).unwrap();
        let name = path.file_name().unwrap().to_str().unwrap();
        let (found, sources) = diagnostics(name, &text);
        let shown = render::text(&found, &sources, false);
        insta::with_settings!({ omit_expression => true }, {
            insta::assert_snapshot!(format!("{text}\n-----\n\n{shown}"));
        });
    });
}

#[test]
fn every_diagnostic_has_a_case() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check");
    let mut seen = BTreeSet::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            let text = fs::read_to_string(&path).unwrap();
            seen.extend(diagnostics("case.st", &text).0.iter().map(|diagnostic| diagnostic.name));
        }
    }
    let missing: Vec<&str> =
        CATALOGUE.iter().map(|(name, _)| *name).filter(|name| !seen.contains(name)).collect();
    assert!(missing.is_empty(), "no case for {missing:?}");
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    paths.flat_map(|path| if path.is_dir() { files_below(&path) } else { vec![path] }).collect()
}

#[test]
fn catalogue_is_sorted_and_complete() {
    assert!(CATALOGUE.is_sorted());
    assert!(CATALOGUE.iter().all(|(_, summary)| !summary.is_empty()));
    // Every name in the sources of the checker is listed, in this catalogue or in that of the grammar.
    let all = CATALOGUE.iter().chain(latchwork_grammar::CATALOGUE);
    let listed: BTreeSet<&str> = all.map(|(name, _)| *name).collect();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for folder in ["allow", "check", "configuration", "declare", "namespaces", "warnings"] {
        for path in files_below(&source.join(folder)) {
            let text = fs::read_to_string(path).unwrap();
            for piece in text.split("Diagnostic::").skip(1) {
                let Some(arguments) = piece.strip_prefix("error(").or_else(|| piece.strip_prefix("warning("))
                else {
                    continue;
                };
                if let Some(name) =
                    arguments.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next())
                {
                    assert!(listed.contains(name), "{name} is not in the catalogue");
                }
            }
        }
    }
}

/// What a pragma can allow is exactly what is reported as a warning somewhere.
#[test]
fn warnings_are_listed() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut reported = BTreeSet::new();
    for folder in ["compiler/src", "grammar/src"] {
        for path in files_below(&crates.join(folder)) {
            let text = fs::read_to_string(path).unwrap();
            for piece in text.split("Diagnostic::warning(").skip(1) {
                let name = piece.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next());
                reported.extend(name.map(str::to_owned));
            }
        }
    }
    // About the pragmas themselves.
    reported.retain(|name| !name.starts_with("allow-"));
    assert_eq!(reported.into_iter().collect::<Vec<_>>(), WARNINGS);
}

#[test]
fn ten_independent_mistakes_give_ten_errors() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check/ten_mistakes.st"))
        .unwrap();
    let errors = errors_of(&text);
    assert_eq!(errors.len(), 10, "{errors:?}");
}

#[test]
fn textbook_programs_give_no_diagnostic() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/check");
    for name in ["textbook_seal_in.st", "textbook_sequence.st", "textbook_blocks.st", "textbook_numbers.st"] {
        let text = fs::read_to_string(folder.join(name)).unwrap();
        assert_eq!(names_of(&text), [], "{name}");
    }
}

/// Traps of the language: declarations, statements, and the names of the errors they give.
#[test]
fn traps() {
    let cases: &[(&str, &str, &[&str])] = &[
        ("a : ARRAY[1..3] OF INT;", "a[1] := 1;", &[]),
        ("i : INT;", "i := INT#16#FFFF;", &["literal-out-of-range"]),
        ("w : WORD;", "w := WORD#16#FFFF;", &[]),
        ("i : INT := -32768; u : UINT := -0;", "i := 1; u := 2;", &[]),
        ("i : INT;", "i := -32769;", &["value-out-of-range"]),
        ("t : INT; d : INT;", "t := d;", &[]),
        ("r : REAL; d : DINT; l : LREAL;", "r := d;", &["type-mismatch"]),
        ("r : REAL; d : DINT; l : LREAL;", "l := d;", &[]),
        ("w : WORD; i : INT;", "i := w;", &["type-mismatch"]),
        ("w : WORD;", "w := 5;", &[]),
        ("w : WORD;", "w := w + 1;", &["operand-types"]),
        ("b : BOOL;", "b := 1;", &[]),
        ("b : BOOL;", "b := 2;", &["value-out-of-range"]),
        ("i : INT;", "i := TRUE;", &["type-mismatch"]),
        ("bt : BYTE;", "bt := 16#FF;", &[]),
        ("bt : BYTE;", "bt := 256;", &["value-out-of-range"]),
        ("bt : BYTE;", "bt := -1;", &["value-out-of-range"]),
        ("us : USINT;", "us := 200;", &[]),
        ("us : USINT;", "us := 300;", &["value-out-of-range"]),
        ("i : INT;", "i := 1.0;", &["type-mismatch"]),
        ("m : ARRAY[0..1] OF ARRAY[0..1] OF INT;", "m[0,1] := 3;", &["subscript-count"]),
        ("m : ARRAY[0..1] OF ARRAY[0..1] OF INT;", "m[0][1] := 3;", &[]),
        ("bt : BYTE;", "bt.%X8 := TRUE;", &["partial-access"]),
        ("i : INT;", "i.%X0 := TRUE;", &["partial-access"]),
        ("dw : DWORD; w : WORD; b : BYTE;", "w := dw.%W1; b := dw.%B0;", &[]),
        ("r : REF_TO INT;", "r^ := 1;", &[]),
        ("r : REAL;", "r := -2.0 ** 2.0;", &[]),
        ("b, x, y : BOOL;", "b := NOT x = y;", &[]),
        ("b : BOOL; i : INT;", "b := 1 < i < 3;", &["comparison-chain"]),
        ("i, j : INT;", "i := -7 / 2; j := -7 MOD 2;", &[]),
        ("i, j : INT; d : DINT;", "i := 300; j := 300; d := i * j;", &[]),
        ("u : USINT; d : DINT;", "FOR u := 0 TO 255 DO d := d + 1; END_FOR;", &[]),
        ("i : INT;", "FOR i := 1 TO 3 DO i := i + 1; END_FOR;", &["write-to-control-variable"]),
        ("i : INT; d : DINT;", "FOR i := 1 TO 3 BY 0 DO d := d + 1; END_FOR;", &["for-step-zero"]),
        ("i : INT;", "CASE 3 OF 1..5: i := 1; 3: i := 2; END_CASE;", &["case-label-repeated"]),
        ("i : INT;", "CASE 7 OF 1: i := 1; END_CASE;", &[]),
        ("x, b : BOOL; t : TON;", "x := t(IN := b, PT := T#1s);", &["block-as-value"]),
        ("b : BOOL; t : TON;", "t(b, PT := T#1s);", &["mixed-arguments"]),
        ("b, x : BOOL; t : TON;", "t(IN := b, PT := T#1s, NOT Q => x);", &[]),
        ("t : TON;", "t(EN := FALSE, IN := TRUE); t(PT := T#0s);", &[]),
        ("x : BOOL; i : INT;", "IF i THEN x := TRUE; END_IF;", &["condition-not-boolean"]),
        ("y, x : INT;", "y := LIMIT(0, IN := x, MX := 10);", &["mixed-arguments"]),
        ("y : INT;", "y := SUB(5);", &["argument-count"]),
        ("t1, t2 : TON;", "t1 := t2;", &["instance-assignment"]),
        ("s : STRING; w : WSTRING;", "s := \"x\";", &["type-mismatch"]),
        ("a : BOOL;", "a := %IX0.0; %QX0.0 := a;", &[]),
        ("a : BOOL;", "%IX0.0 := a;", &["write-to-physical-input"]),
        ("c : CHAR; s : STRING; w : WCHAR;", "c := 'A'; s := 'A'; s := c; s[1] := 'X';", &[]),
        ("s : STRING;", "s[0] := 'X';", &["subscript-out-of-bounds"]),
        (
            "t : TIME; hour : TOD; moment : DT; day : DATE;",
            "t := day - day; moment := moment + t; hour := hour - t; t := t * 2; t := t / 2.5;",
            &[],
        ),
        ("t : TIME;", "t := t * t;", &["operand-types"]),
        ("t : TIME; i : INT;", "t := i * t;", &[]),
        ("d : DATE; t : TIME;", "d := d + t;", &["operand-types"]),
        ("t : TIME;", "t := t + 5;", &["operand-types"]),
        ("u : UINT;", "u := -u;", &["operand-types"]),
        ("i : INT; r : REAL;", "r := i + 1.5; r := 3;", &[]),
        ("d : DINT;", "d := 100000 * 10;", &[]),
        ("d : DINT;", "d := DINT#2147483647 + 1;", &["constant-overflow"]),
        ("i : INT;", "i := 5 / 0;", &["division-by-zero"]),
        ("i : INT;", "i := i / 0;", &["division-by-zero"]),
        ("i : INT;", "i := 5 MOD 0;", &[]),
        ("l : LREAL;", "l := 0.1;", &[]),
        ("r : REAL;", "r := 1.0E38;", &[]),
        ("r : REAL;", "r := 1.0E39;", &["value-out-of-range"]),
        ("v : (Open, Shut) := Shut;", "IF v = Open THEN v := Shut; END_IF;", &[]),
        ("v : (Open, Shut); b : BOOL;", "b := v < Shut;", &["operand-types"]),
        ("v : (Open, Shut);", "v := 1;", &["type-mismatch"]),
        (
            "i : INT; b : BOOL;",
            "i := SEL(b, 1, 2); i := MUX(i, 1, 2, 3); i := LIMIT(0, i, 10); i := MAX(i, 3);",
            &[],
        ),
        (
            "i : INT; r : REAL;",
            "i := REAL_TO_INT(r); r := INT_TO_REAL(i); i := REAL_TRUNC_INT(r); i := TO_INT(r);",
            &[],
        ),
        ("b : BOOL; i : INT;", "i := BOOL_TO_INT(b); b := i <> 0;", &[]),
        ("w : WORD; n : INT;", "w := SHL(w, 3); w := SHR(IN := w, N := n); w := w AND 16#00FF;", &[]),
        ("i : INT;", "i := SHL(i, 3);", &["operand-types"]),
        ("r : REAL; i : INT;", "r := SQRT(r); r := SQRT(i); r := r ** 2;", &[]),
        ("a : ARRAY[1..3] OF INT; b : ARRAY[1..3] OF INT;", "a := b;", &[]),
        ("a : ARRAY[1..3] OF INT; b : ARRAY[0..2] OF INT;", "a := b;", &["type-mismatch"]),
        ("p : INT (10..20);", "p := 15; p := p + 1;", &[]),
        ("p : INT (10..20);", "p := 25;", &["value-out-of-range"]),
    ];
    for (declarations, body, expected) in cases {
        let text = program(declarations, body);
        let errors = errors_of(&text);
        assert_eq!(errors, *expected, "{declarations} {body}");
    }
}

/// Nesting and chains at the limits of parser and checker end in an answer.
#[test]
fn deep_expressions_end() {
    let nested = format!("b := {}a{};", "(".repeat(250), ")".repeat(250));
    assert_eq!(errors_of(&program("a, b : BOOL;", &nested)), [] as [&str; 0]);
    let chain = format!("b := a{};", " OR a".repeat(390));
    assert_eq!(errors_of(&program("a, b : BOOL;", &chain)), [] as [&str; 0]);
    let endless = format!("b := a{};", " OR a".repeat(20_000));
    assert_eq!(errors_of(&program("a, b : BOOL;", &endless)).len(), 1);
    let nots = format!("b := {}a;", "NOT ".repeat(200));
    assert_eq!(errors_of(&program("a, b : BOOL;", &nots)), [] as [&str; 0]);
}

/// Long chains of declarations end in an answer, whichever end stands first.
#[test]
fn long_chains_end() {
    let structures = |order: &mut dyn Iterator<Item = usize>| {
        let types: Vec<String> =
            order.map(|i| format!("T{i} : STRUCT m : T{}; END_STRUCT;", i + 1)).collect();
        format!("TYPE\n{}\nT3000 : INT;\nEND_TYPE\n{}", types.join("\n"), program("a : T0;", "a := a;"))
    };
    assert!(errors_of(&structures(&mut (0..3000))).contains(&"expression-too-deep"));
    assert_eq!(errors_of(&structures(&mut (0..3000).rev())), [] as [&str; 0]);
    let aliases: Vec<String> = (0..20_000).map(|i| format!("T{i} : T{};", i + 1)).collect();
    let text =
        format!("TYPE\n{}\nT20000 : INT;\nEND_TYPE\n{}", aliases.join("\n"), program("a : T0;", "a := 1;"));
    assert!(errors_of(&text).contains(&"expression-too-deep"));
    let constants: Vec<String> = (0..5_000).map(|i| format!("c{i} : INT := c{};", i + 1)).collect();
    let text = format!(
        "PROGRAM Main\nVAR CONSTANT\n{}\nc5000 : INT := 1;\nEND_VAR\nEND_PROGRAM",
        constants.join("\n")
    );
    assert!(errors_of(&text).contains(&"expression-too-deep"));
    let blocks: Vec<String> = (0..2_000)
        .map(|i| {
            let next = i + 1;
            format!("FUNCTION_BLOCK B{i}\nVAR_INPUT a : INT; END_VAR\nVAR b : B{next} := (a := 1); END_VAR\nEND_FUNCTION_BLOCK")
        })
        .collect();
    let last = "FUNCTION_BLOCK B2000\nVAR_INPUT a : INT; END_VAR\nEND_FUNCTION_BLOCK";
    errors_of(&format!("{}\n{last}\n{}", blocks.join("\n"), program("a : B0;", "a();")));
}

/// Values that would fill memory are refused.
#[test]
fn large_declarations_end() {
    let text = program("a : ARRAY[0..2000000000] OF INT := [2000000000(7)];", "a[0] := 1;");
    assert_eq!(errors_of(&text), ["initial-form"]);
    let names: Vec<String> = (0..20_000).map(|index| format!("v{index}")).collect();
    let text = program(&format!("{} : INT := 5;", names.join(", ")), "v0 := v19999;");
    assert_eq!(errors_of(&text), [] as [&str; 0]);
}

const WORDS: &[&str] = &[
    "PROGRAM",
    "END_PROGRAM",
    "FUNCTION",
    "END_FUNCTION",
    "FUNCTION_BLOCK",
    "END_FUNCTION_BLOCK",
    "VAR",
    "VAR_INPUT",
    "VAR_OUTPUT",
    "VAR_IN_OUT",
    "VAR_EXTERNAL",
    "VAR_GLOBAL",
    "CONSTANT",
    "END_VAR",
    "TYPE",
    "END_TYPE",
    "STRUCT",
    "END_STRUCT",
    "IF",
    "THEN",
    "ELSE",
    "END_IF",
    "CASE",
    "OF",
    "END_CASE",
    "FOR",
    "TO",
    "BY",
    "DO",
    "END_FOR",
    "WHILE",
    "END_WHILE",
    "REPEAT",
    "UNTIL",
    "END_REPEAT",
    "EXIT",
    "RETURN",
    "ARRAY",
    "INT",
    "BOOL",
    "REAL",
    "TIME",
    "STRING",
    "TON",
    "a",
    "b",
    "c",
    "f",
    "t",
    "Main",
    "x",
    ":",
    ";",
    ":=",
    "=>",
    "=",
    "<",
    "+",
    "-",
    "*",
    "/",
    "(",
    ")",
    "[",
    "]",
    "..",
    ",",
    ".",
    "^",
    "1",
    "0",
    "2.5",
    "T#1s",
    "'A'",
    "TRUE",
    "NOT",
    "AND",
    "OR",
    "MOD",
    "REF_TO",
    "REF",
    "NULL",
    "LIMIT",
    "SEL",
    "INT_TO_REAL",
    "%IX0.0",
    "AT",
    "R_EDGE",
    "EN",
    "Q",
    "IN",
    "#",
    "\n",
];

/// Sensible pieces in senseless places: more of it gets past the parser than of random words.
const STATEMENTS: &[&str] = &[
    "a := b;",
    "a := a + 1;",
    "t(IN := b, PT := c);",
    "c := t.ET;",
    "b := t.Q AND a > 3;",
    "f(a, b);",
    "a := f(1);",
    "IF b THEN a := 1; ELSE b := a; END_IF;",
    "CASE a OF 1: b := TRUE; 2..4: a := 2; ELSE a := s; END_CASE;",
    "FOR a := 1 TO 10 BY b DO s[a] := a; END_FOR;",
    "WHILE b DO EXIT; END_WHILE;",
    "p.x := s[1, 2];",
    "p := q;",
    "r^ := a;",
    "r := REF(a);",
    "a := Red;",
    "b := SEL(b, a, 1.5);",
    "c := T#1s * a;",
    "a.%X1 := b;",
    "Main();",
    "a = b;",
    "t;",
    "RETURN;",
    "REPEAT a := a - 1; UNTIL a END_REPEAT;",
    "a := LIMIT(MN := 0, IN := a, MX := 5);",
    "s := 'text';",
    "%QX0.0 := b;",
    "a := 1 / 0;",
    "a := -(-(a));",
    "b := 1 < 2 < 3;",
    "x.y.z := w[3].v;",
];

const DECLARATIONS: &[&str] = &[
    "a : INT;",
    "b : BOOL := 2;",
    "c : TIME := T#1s;",
    "t : TON := (PT := T#5s);",
    "s : ARRAY[1..3, 0..k] OF REAL;",
    "s : STRING[5] := 'abcdefg';",
    "k : INT := k + 1;",
    "p, q : Point := (x := 1);",
    "r : REF_TO INT;",
    "v : (Red, Green);",
    "a : Point;",
    "u : INT (1..0);",
    "g AT %QX0.9 : BOOL;",
    "w AT %QW1 : BOOL;",
    "self : Block;",
    "e : BOOL R_EDGE;",
    "n : ARRAY[0..1] OF Point := [(x := 1), 2((y := 2))];",
    "EN : BOOL;",
    "z : Main;",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn token_soup_never_panics(words in prop::collection::vec(prop::sample::select(WORDS), 0..120)) {
        names_of(&words.join(" "));
    }

    #[test]
    fn statement_soup_never_panics(
        kind in prop::sample::select(vec!["PROGRAM", "FUNCTION_BLOCK", "FUNCTION"]),
        section in prop::sample::select(vec!["VAR", "VAR_INPUT", "VAR_OUTPUT", "VAR_IN_OUT", "VAR CONSTANT", "VAR_TEMP", "VAR_EXTERNAL"]),
        declarations in prop::collection::vec(prop::sample::select(DECLARATIONS), 0..12),
        statements in prop::collection::vec(prop::sample::select(STATEMENTS), 0..12),
    ) {
        let result = if kind == "FUNCTION" { " : INT" } else { "" };
        let text = format!(
            "TYPE Point : STRUCT x, y : INT; END_STRUCT; END_TYPE\n\
             VAR_GLOBAL a : INT; END_VAR\n\
             FUNCTION f : INT VAR_INPUT n : INT; END_VAR f := n; END_FUNCTION\n\
             {kind} Block{result}\n{section}\n{}\nEND_VAR\n{}\nEND_{kind}\n",
            declarations.join("\n"),
            statements.join("\n"),
        );
        let (found, sources) = diagnostics("soup.st", &text);
        // Every place lies in the text.
        for diagnostic in &found {
            prop_assert!(diagnostic.primary.span.end as usize <= text.len());
        }
        render::text(&found, &sources, false);
    }
}
