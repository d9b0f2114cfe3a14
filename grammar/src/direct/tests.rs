//! The short way holds to the grammar: with it and without it, every text gives the same tree and the same messages.

use super::*;
use crate::{FileId, Names, Parsed, lexer, parser::parse_by, piece::PieceKind, piece::PieceParser};
use proptest::{collection::vec, prelude::*, sample::select};
use std::{fs, ops::Range, path::Path, sync::LazyLock};

/// Every program of the tests and samples of the whole house.
fn texts() -> &'static [String] {
    static TEXTS: LazyLock<Vec<String>> = LazyLock::new(read_texts);
    &TEXTS
}

fn read_texts() -> Vec<String> {
    fn add(folder: &Path, texts: &mut Vec<String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                add(&path, texts);
            } else if path.extension().is_some_and(|extension| extension == "st" || extension == "il") {
                texts.push(fs::read_to_string(&path).unwrap());
            }
        }
    }
    let house = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut texts = Vec::new();
    for folder in ["grammar/tests/corpus", "compiler/tests", "tests/corpus", "samples"] {
        add(&house.join(folder), &mut texts);
    }
    assert!(texts.len() > 200, "{} programs", texts.len());
    texts
}

fn shown(parsed: &Parsed) -> String {
    format!("{:?} {:?}", parsed.tree, parsed.diagnostics)
}

/// Parses a text both ways.
fn assert_same(text: &str) {
    let [mut short, mut long] = [Names::new(), Names::new()];
    let short = parse_by(true, FileId(0), text, &mut short);
    let long = parse_by(false, FileId(0), text, &mut long);
    assert_eq!(shown(&short), shown(&long), "{text}");
}

#[test]
fn every_program_of_the_house_gives_the_same_tree() {
    for text in texts() {
        assert_same(text);
    }
}

/// Some tokens of a text taken out, doubled, exchanged or replaced by others.
fn damage(text: &str, changes: &[(usize, u8, &str)]) -> String {
    let lexed = lexer::tokens(FileId(0), text, &mut Names::new());
    let places: Vec<Range<usize>> =
        lexed.tokens.iter().map(|token| token.start as usize..token.end as usize).collect();
    let mut words: Vec<String> = places.iter().map(|place| text[place.clone()].to_owned()).collect();
    let count = words.len().max(1);
    words.resize(count, String::new());
    for (place, how, other) in changes {
        let place = place % count;
        match how {
            0 => words[place].clear(),
            1 => words[place] = format!("{0} {0}", words[place]),
            2 => words.swap(place, (place + 1) % count),
            3 => words[place] = (*other).to_owned(),
            _ => words[place] = format!("{} {other}", words[place]),
        }
    }
    let mut damaged = String::new();
    let mut behind = 0;
    for (place, word) in places.iter().zip(&words) {
        // Blanks and comments stay, so that lines begin where they did.
        damaged.push_str(&text[behind..place.start]);
        damaged.push_str(word);
        behind = place.end;
    }
    damaged.push_str(&text[behind..]);
    damaged
}

/// What can stand in programs, and what can only seem to.
const WORDS: &[&str] = &[
    "a",
    "Motor",
    "b.c",
    "5",
    "1.5",
    "-",
    "+",
    "*",
    "/",
    "**",
    "(",
    ")",
    "[",
    "]",
    "^",
    ".",
    "..",
    ",",
    ";",
    ":",
    ":=",
    "?=",
    "=>",
    "=",
    "<>",
    "<",
    "<=",
    ">",
    ">=",
    "&",
    "AND",
    "OR",
    "XOR",
    "NOT",
    "MOD",
    "TRUE",
    "'x'",
    "T#1s",
    "INT#5",
    "Colour#Red",
    "Colour#",
    "%IX0.1",
    "%X3",
    "THIS",
    "SUPER",
    "NULL",
    "REF",
    "REF_TO",
    "IF",
    "THEN",
    "ELSIF",
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
    "REPEAT",
    "UNTIL",
    "END_REPEAT",
    "RETURN",
    "EXIT",
    "CONTINUE",
    "VAR",
    "CONSTANT",
    "RETAIN",
    "END_VAR",
    "AT",
    "INT",
    "STRING",
    "ARRAY",
    "STRUCT",
    "R_EDGE",
    "STEP",
    "LD",
    "END_PROGRAM",
    "?",
    "#",
    "\u{1}",
    "\n",
];

fn operand() -> impl Strategy<Value = String> {
    select(vec![
        "a",
        "Motor.Speed",
        "b[1]",
        "b[i, j + 1].c",
        "p^",
        "w.%X3",
        "w.7",
        "w.%B1.%X0",
        "f()",
        "f(a)",
        "f(x := 1)",
        "g(a, b)",
        "m.f(x := a + 1, y => b[2], NOT z => c)",
        "THIS.m(1)",
        "SUPER.m()",
        "THIS^",
        "AND(a, b)",
        "REF(a)",
        "MOD(a, 2)",
        "%IX0.1",
        "5",
        "16#FF",
        "1.5e3",
        "'text'",
        "\"wide\"",
        "T#1s500ms",
        "D#2024-02-29",
        "INT#-5",
        "BOOL#1",
        "Colour#Red",
        "Colour#5",
        "Colour#-5",
        "n.Colour#Red",
        "TRUE",
        "FALSE",
        "NULL",
        "f(NOT a)",
        "f(NOT a => b)",
        "f(a)(b)",
        "f(a).b[c]^.d",
    ])
    .prop_map(str::to_owned)
}

/// Expressions that are right, whatever their types.
fn expression() -> impl Strategy<Value = String> {
    operand().prop_recursive(5, 40, 3, |inner| {
        let operators =
            vec!["OR", "XOR", "AND", "&", "=", "<>", "<", ">", "<=", ">=", "+", "-", "*", "/", "MOD", "**"];
        prop_oneof![
            (inner.clone(), select(operators), inner.clone())
                .prop_map(|(left, sign, right)| format!("{left} {sign} {right}")),
            inner.clone().prop_map(|inner| format!("({inner})")),
            (select(vec!["NOT", "-", "+"]), inner.clone())
                .prop_map(|(sign, inner)| format!("{sign} {inner}")),
            inner.clone().prop_map(|inner| format!("b[{inner}]")),
            (inner.clone(), inner.clone()).prop_map(|(first, second)| format!("f({first}, {second})")),
            (inner.clone(), inner).prop_map(|(first, second)| format!("f(x := {first}, y := {second}).z")),
        ]
    })
}

fn statement() -> impl Strategy<Value = String> {
    prop_oneof![
        (operand(), select(vec![":=", "?="]), expression())
            .prop_map(|(to, sign, value)| format!("{to} {sign} {value};")),
        expression().prop_map(|value| format!("{value};")),
        (operand(), expression()).prop_map(|(callee, value)| format!("{callee}({value});")),
        select(vec![";", "RETURN;", "EXIT;", "CONTINUE;"]).prop_map(str::to_owned),
        expression()
            .prop_map(|value| format!("IF {value} THEN x := 1; ELSIF {value} THEN ELSE x := 2; END_IF;")),
        expression()
            .prop_map(|value| format!("CASE {value} OF 1, 2..3: x := 1; {value}: y := 2; ELSE END_CASE;")),
        (operand(), expression())
            .prop_map(|(to, value)| format!("FOR {to} := {value} TO 7 BY {value} DO x := 1; END_FOR;")),
        expression().prop_map(|value| format!(
            "WHILE {value} DO x := 1; END_WHILE; REPEAT ; UNTIL {value} END_REPEAT;"
        )),
    ]
}

fn declaration() -> impl Strategy<Value = String> {
    let kinds = select(vec![
        "INT",
        "BOOL R_EDGE",
        "BOOL F_EDGE",
        "STRING",
        "STRING[80]",
        "WSTRING[n]",
        "Motor",
        "n.m.Motor",
        "ARRAY[0..7] OF REAL",
        "ARRAY[0..a, -1..b + 1] OF n.Motor",
        "ARRAY[*] OF INT",
        "REF_TO INT",
        "ARRAY[1..2] OF ARRAY[1..2] OF REF_TO STRING[5]",
        "INT (1..5)",
        "(Red, Green)",
        "INT (Red := 1)",
    ]);
    let values = prop_oneof![
        expression(),
        select(vec![
            "[1, 2, 3(4), 2(), 3([1, 2])]",
            "(a := 1, b := [1], c := (d := 2))",
            "[(a := 1)]",
            "(a)",
            "[]",
            "()",
        ])
        .prop_map(str::to_owned),
    ];
    let names = select(vec!["a", "a, b", "a AT %IX0.0", "AT %QW3", "a AT %B2", "a, b, c"]);
    (names, kinds, proptest::option::of(values)).prop_map(|(names, kind, value)| {
        let value = value.map_or(String::new(), |value| format!(" := {value}"));
        format!("{names} : {kind}{value};")
    })
}

fn program() -> impl Strategy<Value = String> {
    let sections =
        select(vec!["VAR", "VAR_INPUT", "VAR CONSTANT", "VAR RETAIN PRIVATE", "VAR_IN_OUT", "VAR_TEMP"]);
    (sections, vec(declaration(), 0..4), vec(statement(), 0..6)).prop_map(
        |(section, declarations, statements)| {
            let (declarations, statements) = (declarations.join("\n  "), statements.join("\n"));
            format!(
                "FUNCTION_BLOCK b\n{section}\n  {declarations}\nEND_VAR\n{statements}\nEND_FUNCTION_BLOCK\n"
            )
        },
    )
}

proptest! {
    #[test]
    fn random_programs_give_the_same_tree(text in program()) {
        assert_same(&text);
    }

    #[test]
    fn random_programs_with_slips_give_the_same_messages(
        text in program(),
        changes in vec((any::<usize>(), 0u8..5, select(WORDS)), 1..4),
    ) {
        assert_same(&damage(&text, &changes));
    }

    #[test]
    fn programs_of_the_house_with_slips_give_the_same_messages(
        place in any::<prop::sample::Index>(),
        changes in vec((any::<usize>(), 0u8..5, select(WORDS)), 1..8),
    ) {
        assert_same(&damage(place.get(texts()).as_str(), &changes));
    }

    #[test]
    fn random_words_give_the_same_messages(words in vec(select(WORDS), 0..40)) {
        assert_same(&format!("FUNCTION_BLOCK b\nVAR\na : INT;\nEND_VAR\na := 1;\n{}\nEND_FUNCTION_BLOCK", words.join(" ")));
    }

    /// What both read, whatever their common surroundings.
    #[test]
    fn the_grammar_accepts_what_is_read(words in vec(select(WORDS), 1..12)) {
        let text = words.join(" ");
        let mut names = Names::new();
        let lexed = lexer::tokens(FileId(0), &text, &mut names);
        let context = Context::new(FileId(0), &lexed.values, &mut names);
        let grammar = PieceParser::new();
        type Read = fn(&mut Reader<'_>) -> bool;
        let ways: [(PieceKind, Read); 6] = [
            (PieceKind::Statement, |reader| reader.statement().is_some()),
            (PieceKind::Condition, |reader| reader.condition().is_some()),
            (PieceKind::For, |reader| reader.for_head().is_some()),
            (PieceKind::Labels, |reader| reader.labels().is_some()),
            (PieceKind::Variable, |reader| reader.variable().is_some()),
            (PieceKind::Section, |reader| reader.section().is_some()),
        ];
        for (kind, read) in ways {
            let mut reader = Reader::new(&context, &lexed.tokens, Vec::new());
            if read(&mut reader) {
                let read = &lexed.tokens[..reader.read()];
                prop_assert!(grammar.tokens(&context, kind, read, None).is_ok(), "{kind:?} {text}");
            }
        }
    }
}

/// Without this the others would hold for a short way that takes nothing.
#[test]
fn what_is_usual_takes_the_short_way() {
    fn takes<Tree>(text: &str, read: impl Fn(&mut Reader<'_>) -> Option<Tree>) {
        let mut names = Names::new();
        let lexed = lexer::tokens(FileId(0), text, &mut names);
        let context = Context::new(FileId(0), &lexed.values, &mut names);
        let mut reader = Reader::new(&context, &lexed.tokens, Vec::new());
        assert!(read(&mut reader).is_some() && reader.read() == lexed.tokens.len(), "{text}");
    }
    for statement in [
        "Motor := (Open OR Motor) AND NOT Close & Ready;",
        "Level := -Raw[Index + 1] * 2.5 ** 2 MOD 7;",
        "Delay(IN := Motor, PT := T#5s, Q => Lamp, NOT ET => Rest);",
        "Station.Pumps[1].Start();",
        "Low.%X3 := Bits.7 <> TRUE;",
        "Pointer^ := Colour#Red;",
        "Whole ?= THIS;",
        "RETURN;",
        ";",
    ] {
        takes(statement, |reader| reader.statement());
    }
    for head in ["IF a THEN", "ELSIF a AND b THEN", "CASE a OF", "WHILE a DO", "UNTIL a END_REPEAT"] {
        takes(head, |reader| reader.condition());
    }
    takes("FOR i := 1 TO n BY 2 DO", |reader| reader.for_head());
    takes("1, 2..3, Colour#Red:", |reader| reader.labels());
    takes("VAR RETAIN", |reader| reader.section());
    for declaration in [
        "a, b AT %IX0.0 : BOOL R_EDGE := TRUE;",
        "Text : STRING[20] := 'water';",
        "Delay : TON := (PT := T#1s);",
        "Rows : ARRAY[0..7, 1..2] OF n.Pump := [1, 3(2), 2()];",
    ] {
        takes(declaration, |reader| reader.variable());
    }
    // Too long for a tree that nests no deeper than it may.
    let long = format!("a := 1{};", " + 1".repeat(PIECE_TOKENS_MAX));
    let mut names = Names::new();
    let lexed = lexer::tokens(FileId(0), &long, &mut names);
    let context = Context::new(FileId(0), &lexed.values, &mut names);
    assert!(Reader::new(&context, &lexed.tokens, Vec::new()).statement().is_none());
}
