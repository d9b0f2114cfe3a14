//! Bodies in the other text language, as snapshots: the programs of `tests/rewrite` and the gallery of the samples.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{
    collections::{BTreeMap, BTreeSet},
    fmt::Write as _,
    fs,
    path::Path,
};

use latchwork_compiler::{
    CompileOptions, compile, render,
    rewrite::{CATALOGUE, Language, Rewriting, rewrite},
};
use latchwork_grammar::{Names, Severity, Sources, parse};

fn sources(text: &str) -> Sources {
    let mut sources = Sources::new();
    sources.add("program", text);
    sources
}

fn in_other_language(path: &Path, text: &str) -> (Sources, Rewriting) {
    let language = match path.extension().and_then(|extension| extension.to_str()) {
        Some("il") => Language::StructuredText,
        _ => Language::InstructionList,
    };
    let sources = sources(text);
    let done = rewrite(&sources, language, None, &CompileOptions::default());
    (sources, done)
}

/// How often each comment and pragma stands in a text, however its lines are indented.
fn comments(text: &str) -> BTreeMap<String, usize> {
    let sources = sources(text);
    let mut found = BTreeMap::new();
    for (file, source) in sources.iter() {
        for trivia in parse(file, &source.text, &mut Names::new()).tree.trivia {
            *found
                .entry(sources.text(trivia.span).split_whitespace().collect::<Vec<_>>().join(" "))
                .or_default() += 1;
        }
    }
    found
}

/// The text of the only file, which compiles and has the comments of the old one.
fn sound<'d>(old: &str, done: &'d Rewriting) -> &'d str {
    let [(_, text)] = done.texts.as_slice() else { panic!("{:?}", done.diagnostics) };
    let compiled = compile(&sources(text));
    assert!(compiled.diagnostics.iter().all(|problem| problem.severity != Severity::Error), "{text}");
    assert_eq!(comments(old), comments(text), "{text}");
    text
}

fn shown(path: &Path) -> String {
    let old = fs::read_to_string(path).unwrap();
    let (sources, done) = in_other_language(path, &old);
    assert!(done.diagnostics.is_empty(), "{}", render::text(&done.diagnostics, &sources, false));
    assert!(!done.bodies.is_empty());
    sound(&old, &done).to_owned()
}

#[test]
fn into_instruction_list() {
    insta::glob!("rewrite/to-list/*.st", |path| insta::assert_snapshot!(shown(path)));
}

#[test]
fn into_structured_text() {
    insta::glob!("rewrite/to-text/*.il", |path| insta::assert_snapshot!(shown(path)));
}

/// The right programs of the gallery, in both languages.
#[test]
fn the_gallery() {
    insta::glob!("../../samples/gallery", "*/*.{st,il}", |path| {
        let folder = path.parent().and_then(Path::file_name);
        if folder == path.file_stem() {
            insta::assert_snapshot!(shown(path));
        }
    });
}

/// What cannot be rewritten stays as it is and is told; everything else is rewritten.
#[test]
fn refusals() {
    insta::glob!("rewrite/refused/*", |path| {
        let old = fs::read_to_string(path).unwrap();
        let (sources, done) = in_other_language(path, &old);
        assert!(!done.diagnostics.is_empty());
        let names: BTreeSet<&str> = CATALOGUE.iter().map(|(name, _)| *name).collect();
        assert!(done.diagnostics.iter().all(|refusal| names.contains(refusal.name)));
        let mut out = render::text(&done.diagnostics, &sources, false);
        let _ = writeln!(out, "-----\n{}", sound(&old, &done));
        insta::assert_snapshot!(out);
    });
}

/// A text that is in the wanted language, or has no body, comes back byte by byte.
#[test]
fn what_is_in_the_language_stays() {
    for text in [
        "PROGRAM Main\nVAR a : BOOL; END_VAR\n  LD a\n ST   a (* odd *)\nEND_PROGRAM",
        "TYPE T : (A, B); END_TYPE\r\n",
        "PROGRAM Empty END_PROGRAM",
    ] {
        let (_, done) = in_other_language(Path::new("a.st"), text);
        assert_eq!(done.bodies, []);
        assert_eq!(sound(text, &done), text);
    }
}

/// Each line of a body in Structured Text leads back to the instructions it was made of, with either line end.
#[test]
fn lines_lead_back_to_what_they_say() {
    let text = "PROGRAM Main\nVAR a, b, c : BOOL; T1 : TON; n : INT; END_VAR\n\n(* first *)\nLD a\nAND b\nST c\n\nCAL T1(IN := c,\n  PT := T#2s)\n\
                LD T1.Q\nJMPCN Over\nLD n\nADD 1\nST n\nOver:\nLD c\nS a\nEND_PROGRAM\n";
    for text in [text.to_owned(), text.replace('\n', "\r\n")] {
        let (old, done) = in_other_language(Path::new("a.il"), &text);
        let new = sources(sound(&text, &done));
        let [body] = done.bodies.as_slice() else { panic!("{:?}", done.bodies) };
        let lines: Vec<&str> = new.text(body.lines).lines().collect();
        assert_eq!(lines.len(), body.origins.len(), "{lines:#?}");
        let told: Vec<String> = lines
            .iter()
            .zip(&body.origins)
            .map(|(line, origin)| {
                let ((from, _), (to, _)) = old.range(*origin);
                format!("{} | {from} to {to}", line.trim())
            })
            .collect();
        let expected = [
            "(* first *) | 5 to 7",
            "c := a AND b; | 5 to 7",
            " | 5 to 7",
            "T1(IN := c, PT := T#2s); | 9 to 10",
            "IF T1.Q THEN | 11 to 12",
            "n := n + 1; | 13 to 15",
            "END_IF; | 13 to 15",
            "IF c THEN | 17 to 18",
            "a := TRUE; | 17 to 18",
            "END_IF; | 17 to 18",
        ];
        assert_eq!(told, expected);
    }
}

/// Line ends, names that are taken, one unit of several, errors.
#[test]
fn corners() {
    let text = "PROGRAM Main\r\nVAR Last, IfEnd : INT; b : BOOL; END_VAR\r\n  FOR Last := 1 TO Last * 2 DO b := NOT b; END_FOR;\r\n  \
                IF b THEN Last := Last + 1; END_IF;\r\nEND_PROGRAM\r\n";
    let (_, done) = in_other_language(Path::new("a.st"), text);
    let new = sound(text, &done);
    assert!(
        new.contains("  Last2 : INT;\r\n")
            && new.contains("IfEnd1:")
            && !new.replace("\r\n", "").contains('\n'),
        "{new}"
    );
    let two = "FUNCTION F : INT\nF := 1;\nEND_FUNCTION\nFUNCTION G : INT\nG := 2;\nEND_FUNCTION\n";
    let done = rewrite(&sources(two), Language::InstructionList, Some("g"), &CompileOptions::default());
    assert_eq!(done.bodies.iter().map(|body| body.name.as_str()).collect::<Vec<_>>(), ["G"]);
    assert!(sound(two, &done).contains("F := 1;"));
    let done = rewrite(
        &sources("PROGRAM P\nx := 1;\nEND_PROGRAM"),
        Language::InstructionList,
        None,
        &CompileOptions::default(),
    );
    assert!(done.texts.is_empty() && done.diagnostics.len() == 1);
}

/// Bodies that no person writes: each is rewritten or refused, soon, and without much of the stack.
#[test]
fn large_bodies_are_rewritten_or_refused() {
    let head = "PROGRAM Large\nVAR a, b : BOOL; n, m : INT; f : ARRAY[0..9] OF INT; END_VAR\n";
    let repeat = |count: usize, line: &dyn Fn(usize) -> String| (0..count).map(line).collect::<String>();
    let list = [
        format!("LD n\n{}ST n\n", repeat(20_000, &|_| "ADD 1\n".into())),
        format!("LD n\nADD {}1\nST n\n", "1, ".repeat(5_000)),
        repeat(3_000, &|at| format!("LD a\nJMPC L{at}\nLD n\nADD 1\nST n\nL{at}: LD b\nST a\n")),
        format!(
            "{}JMP End\n{}End: LD a\n",
            repeat(300, &|at| format!("LD n\nEQ {at}\nJMPC S{at}\n")),
            repeat(300, &|at| format!("S{at}: LD {at}\nST m\nJMP End\n"))
        ),
        format!(
            "{}LD a\nST b\n{}",
            repeat(500, &|at| format!("LD a\nJMPCN E{at}\n")),
            repeat(500, &|at| format!("E{}: LD n\nST m\n", 499 - at))
        ),
        format!("LD a\n{}{}ST b\n", repeat(60, &|_| "AND( b\n".into()), repeat(60, &|_| ")\n".into())),
        repeat(600, &|at| {
            format!("B{at}: LD a\nJMPC B{}\nLD b\nJMPC B{}\n", (at * 7 + 3) % 600, (at * 13 + 5) % 600)
        }),
    ];
    let text = [
        format!("n := n{};\n", " + 1".repeat(390)),
        format!("a := {}a{};\n", "NOT (".repeat(120), ")".repeat(120)),
        format!("n := {}n{};\n", "2 - (".repeat(120), ")".repeat(120)),
        format!("{}n := 1;\n{}", "IF a THEN\n".repeat(200), "END_IF;\n".repeat(200)),
        format!(
            "IF n = 0 THEN m := 0;\n{}END_IF;\n",
            repeat(1_000, &|at| format!("ELSIF n = {at} THEN m := {at};\n"))
        ),
        format!("CASE n OF\n{}END_CASE;\n", repeat(1_000, &|at| format!("{at}: m := {at};\n"))),
        repeat(5_000, &|at| format!("IF a THEN n := n + {at}; END_IF; // {at}\n")),
    ];
    for (path, bodies) in [("a.il", list.as_slice()), ("a.st", text.as_slice())] {
        for (at, body) in bodies.iter().enumerate() {
            let begin = std::time::Instant::now();
            let old = format!("{head}{body}END_PROGRAM\n");
            let (_, done) = in_other_language(Path::new(path), &old);
            let took = begin.elapsed();
            assert!(took.as_secs() < 30, "{path} {at}: {took:?}");
            if done.diagnostics.iter().all(|problem| CATALOGUE.iter().any(|(name, _)| *name == problem.name))
            {
                sound(&old, &done);
            }
        }
    }
}
