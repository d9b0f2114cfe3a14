//! Whole classes: groups, pairs, what does not count, and what a large class costs.

use std::time::{Duration, Instant};

use latchwork_bench::alike::{
    Aside, CompareOptions, Comparison, Fingerprints, PAIRS_MAX, compare, fingerprints, summary,
};
use latchwork_tests::generate::programs::{Batch, Random};

use super::{disguise, of};

/// The statements of a program of its own: rungs, a timer and a counter with other numbers and other outputs.
fn solution(seed: u64, statements: usize) -> Vec<String> {
    let mut random = Random::new(seed);
    (0..statements)
        .map(|_| {
            let [a, b, c, d] = [0; 4].map(|_| random.below(8));
            match random.below(6) {
                0 => format!("%QX0.{a} := %IX0.{b} AND NOT %IX0.{c} OR %QX0.{d};"),
                1 => format!("%QX0.{a} := (%IX0.{b} OR %QX0.{a}) AND %IX0.{c};"),
                2 => format!("IF %IX0.{a} THEN Count := Count + {b}; END_IF;"),
                3 => format!("Delay(IN := %IX0.{a}, PT := T#{b}s);\n%QX0.{c} := Delay.Q;"),
                4 => format!(
                    "IF %IX0.{a} AND Count > {b} THEN %QX0.{c} := TRUE; ELSE %QX0.{d} := FALSE; END_IF;"
                ),
                _ => format!("%QX0.{a} := Count >= {b} AND NOT Delay.Q;"),
            }
        })
        .collect()
}

fn program(statements: &[String]) -> String {
    let body = statements.join("\n");
    format!("PROGRAM Main\nVAR Count : INT; Delay : TON; END_VAR\n{body}\nEND_PROGRAM\n")
}

/// Students `s000`, `s001` and so on with texts of their own.
fn class(students: usize, statements: usize) -> Vec<Fingerprints> {
    (0..students)
        .map(|at| of(&format!("s{at:03}"), &program(&solution(at as u64 * 7 + 1, statements))))
        .collect()
}

fn compared(class: &[Fingerprints]) -> Comparison {
    compare(class, None, &CompareOptions::default())
}

#[test]
fn copies_are_found_among_others() {
    let mut all = class(40, 14);
    let mut half = solution(7 * 3 + 1, 14);
    half.truncate(9);
    half.extend(solution(4242, 5));
    all.push(of("z-half", &program(&half)));
    all.push(of("z-same", &disguise::renamed(&program(&solution(7 * 5 + 1, 14)))));
    let found = compared(&all);
    assert_eq!(found.groups.len(), 1, "{:?}", found.groups);
    assert_eq!(found.groups[0].members, [5, 41]);
    let first = found.pairs[0];
    assert_eq!(first.members, [3, 40], "{:?}", found.pairs);
    assert!(first.similarity >= 600 && first.above >= 990 && first.words > 40, "{first:?}");
    assert!(found.pairs.iter().skip(1).all(|pair| pair.similarity < first.similarity), "{:?}", found.pairs);
    assert!(found.usual.upper < 400, "{:?}", found.usual);
    // The order in which they are given changes places, nothing else.
    let mut turned = all.clone();
    turned.reverse();
    let other = compared(&turned);
    let names = |class: &[Fingerprints], found: &Comparison| {
        let name = |member: &usize| class[*member].student.clone();
        let groups: Vec<Vec<String>> =
            found.groups.iter().map(|it| it.members.iter().map(name).collect()).collect();
        let pairs: Vec<_> =
            found.pairs.iter().map(|it| (it.members.each_ref().map(name), it.similarity)).collect();
        (groups, pairs, found.usual, found.common)
    };
    assert_eq!(names(&turned, &other), names(&all, &found));
}

/// What was handed out counts for nothing, and who changed nothing is told apart.
#[test]
fn the_skeleton_is_left_out() {
    let given = solution(999, 20);
    let with = |own: Vec<String>| program(&[given.clone(), own].concat());
    let skeleton = of("", &program(&given));
    let all = vec![
        of("a", &with(solution(1, 10))),
        of("b", &with(solution(2, 10))),
        of("c", &disguise::renamed(&program(&given))),
        of("d", &with(solution(3, 1))),
    ];
    let plain = compared(&all);
    assert!(
        plain.pairs.iter().any(|pair| pair.members == [0, 1] && pair.similarity > 600),
        "{:?}",
        plain.pairs
    );
    let without = compare(&all, Some(&skeleton), &CompareOptions::default());
    assert_eq!(without.pairs, [], "{:?}", without.pairs);
    assert!(without.usual.highest < 300, "{:?}", without.usual);
    assert_eq!(without.aside, [(2, Aside::Skeleton), (3, Aside::Little)]);
}

/// The common part of an answer is no likeness; a text that many hand in alike does not make itself common.
#[test]
fn what_many_have_does_not_count() {
    let common = solution(77, 8);
    let mut all: Vec<Fingerprints> = (0..20)
        .map(|at| of(&format!("s{at:02}"), &program(&[common.clone(), solution(at + 500, 8)].concat())))
        .collect();
    let found = compared(&all);
    assert!(found.common > 8, "{found:?}");
    assert_eq!(found.pairs, []);
    // Half of the class hands in one text: one group, and what it has is not common by that.
    let copied = program(&solution(4321, 16));
    all.extend((0..20).map(|at| of(&format!("t{at:02}"), &copied)));
    let more = compared(&all);
    assert_eq!((more.groups.len(), more.groups[0].members.len()), (1, 20));
    assert_eq!(more.common, found.common);
    assert!(!more.aside.iter().any(|(member, _)| *member == 20), "{:?}", more.aside);
}

#[test]
fn nothing_and_little() {
    assert_eq!(compared(&[]).pairs, []);
    let all = [
        of("a", ""),
        of("b", "PROGRAM P\nVAR x : INT; END_VAR\nEND_PROGRAM\n"),
        of("c", "PROGRAM P\nVAR x : INT; END_VAR\nx := 1;\nEND_PROGRAM\n"),
        of("d", "PROGRAM Q\nVAR y : INT; END_VAR\ny := 1;\nEND_PROGRAM\n"),
        fingerprints(&super::Handed { student: "e".into(), texts: Vec::new() }, &[]),
        Fingerprints { version: 0, ..of("f", &program(&solution(1, 9))) },
    ];
    let found = compared(&all);
    assert_eq!(
        found.aside,
        [
            (0, Aside::Empty),
            (1, Aside::Empty),
            (2, Aside::Little),
            (4, Aside::Empty),
            (5, Aside::OtherVersion)
        ]
    );
    assert_eq!(found.groups[0].members, [2, 3]);
    insta::assert_snapshot!(summary(&all, &found));
}

/// A broken text is still like the one it came from, in both languages.
#[test]
fn slips_hide_little() {
    let text = program(&solution(31, 16));
    let mut sources = latchwork_grammar::Sources::new();
    sources.add("main.st", text.as_str());
    let (list, _) =
        latchwork_tests::rewriting::rewritten(&sources, super::Language::InstructionList).unwrap();
    let list = list.iter().next().unwrap().1.text.clone();
    let plain = of("a", &text);
    for (what, broken, least) in [
        ("a semicolon", text.replacen("Delay.Q;", "Delay.Q", 1), 800),
        ("an END_IF", text.replacen("END_IF;", "", 1), 700),
        ("an unknown name", text.replacen("Count + ", "Cont + ", 1), 800),
        ("the end", text.replace("END_PROGRAM\n", ""), 800),
        (
            "Instruction List with an unknown name",
            list.replacen("END_VAR\n", "END_VAR\n  LD Nowhere\n", 1),
            600,
        ),
    ] {
        assert!(broken != text && broken != list, "{what}");
        let broken = of("b", &broken);
        let alike = super::likeness(&plain, &broken);
        assert!(alike >= least, "without {what}: {alike}, {} of {} words", broken.words, plain.words);
    }
    // Text without a unit is taken word by word: like another text without one.
    let body = text.split("END_VAR\n").nth(1).unwrap().replace("END_PROGRAM", "");
    let [one, other] = [of("a", &body), of("b", &body.to_lowercase().replace("delay", "  Wait"))];
    assert_eq!((one.not_understood, one.whole), (1, other.whole));
    assert!(one.prints.len() > 30);
}

/// A large class takes little time, whether all are different or all the same; the figure is far above what it takes here,
/// without optimising.
#[test]
fn a_thousand_submissions() {
    let large = class(1000, 25);
    let begun = Instant::now();
    let found = compared(&large);
    let different = begun.elapsed();
    assert_eq!((found.texts, found.usual.pairs), (1000, 499_500));
    assert!(found.pairs.len() <= PAIRS_MAX);
    let text = program(&solution(5, 25));
    let same: Vec<Fingerprints> =
        (0..1000).map(|at| Fingerprints { student: format!("{at:04}"), ..of("", &text) }).collect();
    let found = compared(&same);
    assert_eq!((found.texts, found.groups.len(), found.pairs.len()), (1, 1, 0));
    assert!(summary(&same, &found).lines().all(|line| line.len() < 1000));
    // All nearly the same: everything is common but the last statement.
    let nearly: Vec<Fingerprints> = (0..1000)
        .map(|at| {
            let own = [solution(5, 25), solution(at + 10_000, 6)].concat();
            of(&format!("{at:04}"), &program(&own))
        })
        .collect();
    let begun = Instant::now();
    let near = compared(&nearly);
    let nearly_the_same = begun.elapsed();
    assert!(near.common > 30 && near.pairs.len() <= PAIRS_MAX);
    for taken in [different, nearly_the_same] {
        assert!(taken < Duration::from_secs(20), "{taken:?}");
    }
}

/// Hostile texts make no panic, and little of anything.
#[test]
fn hostile_texts() {
    let deep = format!(
        "PROGRAM P\nVAR x : BOOL; END_VAR\nx := {}x{};\nEND_PROGRAM\n",
        "(".repeat(5000),
        ")".repeat(5000)
    );
    let chain = format!("PROGRAM P\nVAR x : INT; END_VAR\nx := x{};\nEND_PROGRAM\n", " + x".repeat(30_000));
    let list = format!(
        "PROGRAM P\nVAR x : BOOL; END_VAR\nLD x\n{}{}LD nothing\nEND_PROGRAM\n",
        "ANDN x\nOR x\n".repeat(2_000),
        "ST x\n".repeat(10_000)
    );
    let sound = format!(
        "PROGRAM P\nVAR x, y : BOOL; END_VAR\n{}END_PROGRAM\n{}",
        "LD x\nANDN y\nST x\n".repeat(3_000),
        (0..800)
            .map(|at| format!("FUNCTION F{at} : INT\nLD 1\nST F{at}\nEND_FUNCTION\n"))
            .collect::<String>()
    );
    let outputs = format!(
        "PROGRAM P\nVAR t : ARRAY[0..1] OF TON; x : BOOL; END_VAR\nt[MAX({})]({});\nEND_PROGRAM\n",
        "0,".repeat(2_000) + "0",
        "Q => x,".repeat(2_000) + "Q => x"
    );
    let labels = format!(
        "PROGRAM P\nVAR x : INT; END_VAR\nCASE MAX({}x) OF\n{}{}: x := 1;\nEND_CASE;\nEND_PROGRAM\n",
        "0, ".repeat(2_000),
        "1..2: x := 2;\n".repeat(5_000),
        "1, ".repeat(20_000) + "2"
    );
    let branches = format!(
        "PROGRAM P\nVAR x : BOOL; END_VAR\nIF x THEN x := x;{}END_IF;\nEND_PROGRAM\n",
        "ELSIF NOT x THEN x := NOT x;\n".repeat(8_000)
    );
    let cycle = "TYPE A : B; B : A; S : STRUCT r : REF_TO S; END_STRUCT; END_TYPE\n\
                 FUNCTION_BLOCK F EXTENDS G\nEND_FUNCTION_BLOCK\nFUNCTION_BLOCK G EXTENDS F\nEND_FUNCTION_BLOCK\n\
                 PROGRAM P\nVAR a : A; f : F; s : S; END_VAR\na := f.x.y; s.r^.r^.r := NULL; f();\nEND_PROGRAM\n";
    let bytes: String = (0u32..3000).filter_map(char::from_u32).collect();
    let batch = Batch::new(3).text();
    for text in [
        deep.as_str(),
        &chain,
        &list,
        &sound,
        &labels,
        &branches,
        &outputs,
        cycle,
        &bytes,
        &bytes.repeat(20),
        &batch[..batch.len() / 2],
    ] {
        let begun = Instant::now();
        let made = of("\u{202e}<b>", text);
        let found = compared(&[made.clone(), made.clone()]);
        assert!(found.pairs.is_empty());
        assert!(made.prints.len() <= 100_000, "{}", made.prints.len());
        assert!(
            begun.elapsed() < Duration::from_secs(20),
            "{:?} for {:?}",
            begun.elapsed(),
            &text[..40.min(text.len())]
        );
    }
}
