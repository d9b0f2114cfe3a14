//! The page about procedures: its examples are read and are laid out, its grammar gives nothing but what is read.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

use latchwork_grammar::{FileId, Names, parse_steps, steps};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

const PAGE: &str = include_str!("../PROCEDURES.md");

/// The fenced blocks of one kind.
fn blocks(kind: &str) -> Vec<String> {
    let mut blocks = Vec::new();
    let mut lines = PAGE.lines();
    while let Some(line) = lines.next() {
        if line == format!("```{kind}") {
            blocks.push(
                lines.by_ref().take_while(|line| *line != "```").map(|line| format!("{line}\n")).collect(),
            );
        }
    }
    blocks
}

fn problems(text: &str) -> Vec<String> {
    let found = parse_steps(FileId(0), text, &mut Names::new()).diagnostics;
    found.into_iter().map(|problem| format!("{}: {}", problem.name, problem.message)).collect()
}

#[test]
fn the_examples_are_read_and_are_laid_out() {
    let examples = blocks("steps");
    assert!(examples.len() >= 5, "{}", examples.len());
    for example in examples {
        let is_file = example.contains("procedure '") || example.contains("include '");
        let text = if is_file {
            example
        } else {
            let steps: String = example.lines().map(|line| format!("  {line}\n")).collect();
            format!("procedure 'example'\n{steps}end_procedure\n")
        };
        assert_eq!(problems(&text), Vec::<String>::new(), "{text}");
        assert_eq!(steps::format(FileId(0), &text, &mut Names::new()).unwrap(), text);
    }
}

// ---- the grammar ------------------------------------------------------------------------------------------------

/// A part of a production.
#[derive(Clone, Debug)]
enum Part {
    Terminal(String),
    Name(String),
    Choice(Vec<Part>),
    Sequence(Vec<Part>),
    /// At most so many times.
    Times(Box<Part>, usize),
}

fn words(text: &str) -> Vec<String> {
    let spaced = text.replace('(', " ( ").replace(")?", " )? ").replace(")*", " )* ");
    spaced
        .split_whitespace()
        .flat_map(|word| match word {
            ")?" | ")*" => vec![")".to_owned(), word[1..].to_owned()],
            "(" | ")" => vec![word.to_owned()],
            _ => match word.strip_suffix(['?', '*']) {
                Some(bare) if !bare.is_empty() => vec![bare.to_owned(), word[bare.len()..].to_owned()],
                _ => vec![word.to_owned()],
            },
        })
        .flat_map(|word| match word.strip_suffix(')') {
            Some(bare) if !bare.is_empty() => vec![bare.to_owned(), ")".to_owned()],
            _ => vec![word],
        })
        .collect()
}

fn choice(words: &mut std::iter::Peekable<std::vec::IntoIter<String>>) -> Part {
    let mut branches = vec![Vec::new()];
    while let Some(word) = words.next_if(|word| word != ")") {
        let part = match word.as_str() {
            "|" => {
                branches.push(Vec::new());
                continue;
            }
            "(" => {
                let inner = choice(words);
                assert_eq!(words.next().as_deref(), Some(")"));
                inner
            }
            _ => match word.strip_prefix('\'') {
                Some(rest) => Part::Terminal(rest.strip_suffix('\'').unwrap().to_owned()),
                None => Part::Name(word),
            },
        };
        let part = match words.next_if(|word| word == "?" || word == "*").as_deref() {
            Some("?") => Part::Times(Box::new(part), 1),
            Some(_) => Part::Times(Box::new(part), 3),
            None => part,
        };
        branches.last_mut().unwrap().push(part);
    }
    Part::Choice(branches.into_iter().map(Part::Sequence).collect())
}

fn grammar() -> BTreeMap<String, Part> {
    let [text] = blocks("ebnf").try_into().unwrap();
    // A `;` that stands alone ends a production.
    let mut grammar = BTreeMap::new();
    for production in text.split(" ;\n") {
        let Some((name, body)) = production.split_once(':') else {
            assert!(production.trim().is_empty(), "{production}");
            continue;
        };
        let mut words = words(body).into_iter().peekable();
        let part = choice(&mut words);
        assert!(words.next().is_none(), "{production}");
        assert!(grammar.insert(name.trim().to_owned(), part).is_none(), "{name} is told twice");
    }
    grammar
}

fn visit(part: &Part, see: &mut impl FnMut(&Part)) {
    see(part);
    match part {
        Part::Choice(parts) | Part::Sequence(parts) => parts.iter().for_each(|part| visit(part, see)),
        Part::Times(part, _) => visit(part, see),
        Part::Terminal(_) | Part::Name(_) => {}
    }
}

#[test]
fn the_grammar_has_every_word_and_tells_every_name() {
    let grammar = grammar();
    let (mut terminals, mut used) = (BTreeSet::new(), BTreeSet::new());
    for part in grammar.values() {
        visit(part, &mut |part| match part {
            Part::Terminal(word) => _ = terminals.insert(word.clone()),
            Part::Name(name) => _ = used.insert(name.clone()),
            _ => {}
        });
    }
    let known: BTreeSet<String> = steps::step_words()
        .map(str::to_owned)
        .chain([";", ",", "TRUE", "FALSE"].map(str::to_owned))
        .collect();
    assert_eq!(terminals, known);
    let told: BTreeSet<String> = used.iter().filter(|name| !grammar.contains_key(*name)).cloned().collect();
    for name in &told {
        assert!(PAGE.contains(&format!("`{name}`")), "{name} is not explained");
        leaf(name, 0);
    }
    let unused: Vec<&String> = grammar.keys().filter(|name| !used.contains(*name)).collect();
    assert_eq!(unused, ["Steps_File"]);
}

/// An example of what the page leaves to the language itself.
fn leaf(name: &str, choice: u32) -> &'static str {
    let list: &[&'static str] = match name {
        "Expression" => {
            &["Pump", "NOT Pump AND (a > 3)", "Fill(IN := TRUE).Q", "-2.5 * x", "(within)", "%IX0.0", "scan"]
        }
        "Access" => &["Pump", "Main.Fill.ET", "Seg[0, 1]", "%IX0.0", "press"],
        "Device" => &["StartPB", "press", "wait", "faults_1"],
        "Word" => &["pressed", "on", "hand"],
        "Duration" => &["T#1s", "t#1000ms", "LTIME#1s"],
        "Text" | "File" | "Title" => &["'pump.st'", "\"Füllstand → 3\""],
        "Number" => &["0", "2", "0.5"],
        "Count" => &["1", "3", "16#FF"],
        "Number_Of" => &["0", "3"],
        _ => panic!("{name} is not told"),
    };
    list[choice as usize % list.len()]
}

/// A text that the grammar gives, from a list of choices; short where the choices end.
fn derive(
    grammar: &BTreeMap<String, Part>,
    part: &Part,
    choices: &mut std::slice::Iter<u32>,
    out: &mut String,
) {
    let mut next = || choices.next().copied().unwrap_or(0);
    match part {
        Part::Terminal(word) => {
            out.push_str(word);
            out.push(' ');
        }
        Part::Name(name) => match grammar.get(name) {
            Some(part) => derive(grammar, part, choices, out),
            None => {
                out.push_str(leaf(name, next()));
                out.push(' ');
            }
        },
        Part::Choice(parts) => {
            let place = next() as usize % parts.len();
            derive(grammar, &parts[place], choices, out);
        }
        Part::Sequence(parts) => parts.iter().for_each(|part| derive(grammar, part, choices, out)),
        Part::Times(part, most) => {
            for _ in 0..next() as usize % (most + 1) {
                derive(grammar, part, choices, out);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_the_grammar_gives_is_read(choices in proptest::collection::vec(any::<u32>(), 1..120)) {
        let grammar = grammar();
        for name in ["Steps_File", "Procedure", "Expect"] {
            let mut text = String::new();
            derive(&grammar, &Part::Name(name.into()), &mut choices.iter(), &mut text);
            if name == "Expect" {
                text = format!("procedure 'x' {text} end_procedure");
            }
            // What a file has once, the notation does not tell.
            let mut found = problems(&text);
            found.retain(|problem| !problem.starts_with("steps-twice"));
            prop_assert!(found.is_empty(), "{found:#?} in\n{text}");
        }
    }
}
