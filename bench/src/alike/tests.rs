//! The normal form and where it leads back to.

use super::{Demanded, Fingerprints, Handed, WORDS, fingerprints, normal::Lines, tokens::streams};

fn handed(text: &str) -> Handed {
    Handed { student: "a".into(), texts: vec![("main.st".into(), text.into())] }
}

/// The words of the bodies, a line for each.
fn words(text: &str) -> String {
    words_with(text, &[])
}

fn words_with(text: &str, demanded: &[Demanded]) -> String {
    let lines = streams(&handed(text), demanded).into_iter().map(|stream| {
        let words: Vec<_> = stream.words.iter().map(|word| word.text.as_ref()).collect();
        words.join(" ")
    });
    lines.collect::<Vec<_>>().join("\n")
}

fn program(declarations: &str, body: &str) -> String {
    format!("PROGRAM Main\nVAR\n{declarations}\nEND_VAR\n{body}\nEND_PROGRAM\n")
}

/// Two bodies of one program.
#[track_caller]
fn same(declarations: &str, one: &str, other: &str) {
    let [one, other] = [one, other].map(|body| words(&program(declarations, body)));
    assert_eq!(one, other);
    assert!(!one.is_empty());
}

#[test]
fn the_words_of_a_body() {
    let declarations = "Start AT %IX0.0 : BOOL; Motor AT %Q0.1 : BOOL; Level : INT; T1 : TON; Rows : ARRAY[1..3] OF REAL;\n\
                        Limit : INT; Own : State; Mode : (Idle, Busy);";
    let types = "TYPE State : STRUCT Warm : REAL; END_STRUCT; END_TYPE\n";
    for (body, expected) in [
        ("Motor := (Start OR Motor) AND NOT (Level > 5);", "%QX0.1 := ( %IX0.0 OR %QX0.1 ) AND INT <= 5"),
        ("T1(Start, T#2s); Motor := T1.Q;", "TON ( IN := %IX0.0 , PT := T#2000000000 ) %QX0.1 := TON .Q"),
        ("Rows[Level] := Own.Warm * 2.0;", "array of REAL [ INT ] := 2.0 * structure .REAL"),
        ("IF Mode = Busy THEN Level := -16#10; END_IF;", "IF enumeration = value THEN INT := -16 END_IF"),
        (
            "CASE Level OF 1, 2..4: Level := ABS(Level); ELSE ; END_CASE;",
            "IF 1 = INT OR 2 <= INT AND INT <= 4 THEN INT := ABS ( INT ) END_IF",
        ),
        ("FOR Level := 1 TO 9 BY 2 DO EXIT; END_FOR;", "FOR INT := 1 TO 9 BY 2 DO EXIT END_FOR"),
        (
            "WHILE Start DO RETURN; END_WHILE; REPEAT Level := 0; UNTIL Start END_REPEAT;",
            "WHILE %IX0.0 DO RETURN END_WHILE REPEAT INT := 0 UNTIL %IX0.0 END_REPEAT",
        ),
        ("Level := LIMIT(MX := 9, IN := Limit, MN := 1);", "INT := LIMIT ( 1 , INT , 9 )"),
    ] {
        assert_eq!(words(&format!("{types}{}", program(declarations, body))), expected, "{body}");
    }
}

#[test]
fn what_makes_no_difference_in_a_statement() {
    let variables = "a, b, c : BOOL; x, y : INT; t : TIME; r : REAL; T1 : TON; K : INT;";
    for (one, other) in [
        ("a := b AND (c);", "a := (b) & c;"),
        ("a := b OR c AND a;", "a := b OR (c AND a);"),
        ("a := (b OR c) AND x > y;", "a := y < x AND (b OR c);"),
        ("a := b AND c AND x = 1;", "a := b AND (c AND (x = 1));"),
        ("a := b AND c;", "a := AND(b, c);"),
        ("x := x + y * 3;", "x := ADD(MUL(y, 3), x);"),
        ("a := b = TRUE;", "a := b;"),
        ("a := FALSE = b;", "a := NOT b;"),
        ("a := NOT (NOT (b OR c));", "a := b OR c;"),
        ("t := T#2s;", "t := TIME#2000ms;"),
        ("x := 16#1F;", "x := INT#2#1_1111;"),
        ("r := 2.50;", "r := 0.25E1;"),
        ("T1(IN := a, PT := t); b := T1.Q;", "T1(PT := t, IN := a, Q => b);"),
        ("T1(a, T#5s);", "t1(pt := T#5000ms, in := a);"),
        (
            "IF a THEN x := 1; ELSE IF b THEN x := 2; END_IF; END_IF;",
            "IF a THEN x := 1; ELSIF b THEN x := 2; END_IF;;",
        ),
        ("x := MOVE(y);", "x := y;"),
        ("a := NOT (x = y);", "a := y <> x;"),
        ("a := NOT (x >= y);", "a := x < y;"),
        ("IF NOT a THEN x := 1; ELSE x := 2; END_IF;", "IF a THEN x := 2; ELSE x := 1; END_IF;"),
        ("IF a THEN ; ELSE x := 2; END_IF;", "IF NOT a THEN x := 2; END_IF;"),
        (
            "IF x <> 1 THEN x := 1; ELSIF NOT a THEN x := 2; ELSIF b THEN x := 3; END_IF; y := 5;",
            "IF x = 1 THEN IF a THEN IF b THEN x := 3; END_IF; ELSE x := 2; END_IF; ELSE x := 1; END_IF; y := 5;",
        ),
        (
            "IF c THEN y := 1; ELSIF NOT a THEN x := 1; ELSE x := 2; END_IF;",
            "IF c THEN y := 1; ELSIF a THEN x := 2; ELSE x := 1; END_IF;",
        ),
        (
            "CASE x OF 1: y := 1; 2, 3: y := 2; ELSE y := 3; END_CASE;",
            "IF x = 1 THEN y := 1; ELSIF x = 3 OR 2 = x THEN y := 2; ELSE y := 3; END_IF;",
        ),
    ] {
        same(variables, one, other);
    }
    let different = [
        ("a := b AND c;", "a := b OR c;"),
        ("x := x - y - 1;", "x := x - (y - 1);"),
        ("t := T#2s;", "t := T#3s;"),
    ];
    for (one, other) in different {
        assert_ne!(words(&program(variables, one)), words(&program(variables, other)));
    }
}

/// A constant is its value, and what the task demands by name is that.
#[test]
fn constants_and_demanded_variables() {
    let text = "PROGRAM Main\nVAR CONSTANT Wait : TIME := T#3s; END_VAR\nVAR Go : BOOL; Level : INT; T1 : TON; END_VAR\n\
                T1(IN := Go, PT := Wait); Level := 2;\nEND_PROGRAM\n";
    let demanded = [
        Demanded { name: "GO".into(), address: Some("%i0.0".into()) },
        Demanded { name: "level".into(), address: None },
    ];
    assert_eq!(words_with(text, &demanded), "TON ( IN := %IX0.0 , PT := T#3000000000 ) demanded LEVEL := 2");
    assert_eq!(words(text), "TON ( IN := BOOL , PT := T#3000000000 ) INT := 2");
}

/// Instruction List that compiles, and that which does not, has the words of Structured Text.
#[test]
fn instruction_list_has_the_same_words() {
    let variables = "a AT %IX0.0 : BOOL; b AT %QX0.0 : BOOL; x : INT; T1 : TON; C1 : CTU; S1 : SR;";
    let list = "LD a\nOR b\nANDN T1.Q\nST b\nLD x\nADD 5\nGT 7\nAND( a\nOR b\n)\nST b\nCAL T1(IN := b, PT := T#2s)\n\
                LD a\nS b\nLD x\nLIMIT 1, 9\nST x\nLD a\nCU C1\nLD a\nS1 S1";
    let text = "b := (a OR b) AND NOT T1.Q; b := x + 5 > 7 AND (a OR b); T1(IN := b, PT := T#2s);\n\
                IF a THEN b := TRUE; END_IF; x := LIMIT(x, 1, 9); ";
    let expected = words(&program(variables, text));
    for (what, list) in
        [("as it is", list.to_owned()), ("with an error", format!("{list}\nLD nowhere\nST b"))]
    {
        let found = words(&program(variables, &list));
        assert!(found.starts_with(&expected), "{what}:\n{found}\n{expected}");
        assert!(found.contains("CTU ( CU := %IX0.0 )"), "{what}: {found}");
    }
}

#[test]
fn fingerprints_lead_back_to_lines() {
    let text = "PROGRAM Main\nVAR a AT %IX0.0 : BOOL; b AT %QX0.0 : BOOL; END_VAR\n\n  b := a OR b\n    AND NOT a;\nEND_PROGRAM\n";
    let made = fingerprints(&handed(text), &[]);
    assert!(
        made.prints.iter().all(|it| it.file == 0 && it.from == 4 && (4..=5).contains(&it.to)),
        "{made:?}"
    );
    assert!(made.prints.iter().any(|it| it.to == 5), "{made:?}");
    let list = "PROGRAM Main\r\nVAR a AT %IX0.0 : BOOL; b AT %QX0.0 : BOOL; T1 : TON; END_VAR\r\n(* one *)\r\nLD a\r\nOR b\r\nANDN a\r\n\
                ST b\r\n(* two\r\n lines *)\r\nCAL T1(IN := b,\r\n PT := T#2s)\r\nLD a\r\nS b\r\nEND_PROGRAM\r\n";
    let made = streams(&handed(list), &[]);
    let lines: Vec<(&str, u32, u32)> = made[0]
        .words
        .iter()
        .map(|word| (word.text.as_ref(), word.lines))
        .filter(|(text, _)| ["NOT", "TON", "TRUE"].contains(text))
        .map(|(text, Lines { from, to, .. })| (text, from, to))
        .collect();
    assert_eq!(lines, [("NOT", 4, 7), ("TON", 10, 11), ("TRUE", 12, 13)]);
}

/// Variables of one type are told apart by where they stood before.
#[test]
fn variables_of_one_type_are_told_apart() {
    let of = |body: &str| fingerprints(&handed(&program("p, q, s, u : BOOL;", body)), &[]);
    let latch = of("p := (q OR p) AND NOT s;");
    assert_eq!(latch.whole, of("u := (s OR u) AND NOT q;").whole);
    assert_ne!(latch.whole, of("p := (q OR u) AND NOT s;").whole);
    assert!(latch.words as usize >= WORDS && !latch.prints.is_empty());
}

/// A text that went through JSON is what it was, and every number in it is one that all readers of JSON hold exactly.
#[test]
fn fingerprints_are_stored() {
    let body = "a := b AND NOT c; x := x + 1; IF x > 7 THEN a := FALSE; END_IF;\n".repeat(20);
    let made = fingerprints(&handed(&program("a, b, c : BOOL; x : INT;", &body)), &[]);
    let stored = serde_json::to_string(&made).unwrap();
    assert_eq!(serde_json::from_str::<Fingerprints>(&stored).unwrap(), made);
    assert!(made.prints.len() > 50 && made.prints.iter().all(|print| print.hash < 1 << 53));
    assert!(made.whole < 1 << 53 && stored.len() < 40 * made.prints.len() + 300, "{}", stored.len());
}
