//! Submissions that are alike: what makes no difference makes none, what is different is told apart, and a class is
//! compared in little time and memory.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

#[path = "alike/class.rs"]
mod class;
#[path = "alike/disguise.rs"]
mod disguise;
#[path = "alike/page.rs"]
mod page;
#[path = "alike/samples.rs"]
mod samples;
#[path = "alike/workshop.rs"]
mod workshop;

use latchwork_bench::alike::{CompareOptions, Fingerprints, Handed, compare, fingerprints};
use latchwork_compiler::rewrite::Language;
use latchwork_grammar::Sources;
use latchwork_tests::{generate::programs::Batch, rewriting::rewritten};
use proptest::prelude::*;

/// The fingerprints of one file.
fn of(student: &str, text: &str) -> Fingerprints {
    of_files(student, &[("main.st", text)])
}

fn of_files(student: &str, files: &[(&str, &str)]) -> Fingerprints {
    let texts = files.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    fingerprints(&Handed { student: student.to_owned(), texts }, &[])
}

/// All that does not depend on the order of the text.
fn unordered(it: &Fingerprints) -> (u32, u64, Vec<u64>) {
    let mut hashes: Vec<u64> = it.prints.iter().map(|print| print.hash).collect();
    hashes.sort_unstable();
    (it.words, it.whole, hashes)
}

/// How alike two texts are, in parts of a thousand; nothing is common in a class of two.
fn likeness(first: &Fingerprints, second: &Fingerprints) -> u16 {
    if first.whole == second.whole {
        return 1000;
    }
    let options = CompareOptions { listed_from: 0, ..CompareOptions::default() };
    let class = [first.clone(), second.clone()];
    compare(&class, None, &options).pairs.first().map_or(0, |pair| pair.similarity)
}

/// A random program with blocks and a function of its own, in Structured Text or Instruction List; nothing if the seed is
/// one of many programs at once.
fn random(seed: u64) -> String {
    let batch = Batch::new(seed);
    if batch.configured { String::new() } else { batch.with_program((seed % 16) as usize).text() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn what_makes_no_difference(seed in 0u64..1_000_000) {
        let batch = Batch::new(seed);
        prop_assume!(!batch.configured);
        let text = batch.with_program((seed % 16) as usize).text();
        let plain = of("a", &text);
        prop_assert!(plain.prints.len() > 20, "{}", plain.prints.len());
        prop_assert_eq!(plain.not_understood, 0);
        for (what, other) in [
            ("renamed", disguise::renamed(&text)),
            ("laid out anew", disguise::laid_out_anew(&text, seed)),
            ("declared anew", disguise::declared_anew(&text)),
            ("units anew", disguise::units_anew(&text)),
            ("literals anew", disguise::literals_anew(&text)),
            ("in parentheses", disguise::in_parentheses(&text)),
        ] {
            prop_assert!(other != text, "{}", what);
            let disguised = of("b", &other);
            prop_assert!(unordered(&disguised) == unordered(&plain), "{}:\n{}\n---\n{}", what, text, other);
        }
        let all = disguise::units_anew(&disguise::declared_anew(&disguise::renamed(&text)));
        let all = disguise::laid_out_anew(&disguise::in_parentheses(&disguise::literals_anew(&all)), seed);
        prop_assert!(unordered(&of("c", &all)) == unordered(&plain), "{}\n---\n{}", text, all);
    }
}

/// Random programs have the same few forms of statements again and again, so that some of them meet; the units that all of
/// them begin with are what was handed out.
#[test]
fn another_program_is_another() {
    let texts: Vec<String> = (0..40).map(random).filter(|text| !text.is_empty()).collect();
    let common: Vec<&str> = texts[0].lines().take(Batch::common_lines()).collect();
    let skeleton = of("", &common.join("\n"));
    let class: Vec<Fingerprints> = texts.iter().map(|text| of("a", text)).collect();
    let options = CompareOptions { common_least: usize::MAX, ..CompareOptions::default() };
    let usual = compare(&class, Some(&skeleton), &options).usual;
    assert!(usual.pairs > 400 && usual.median < 60 && usual.upper < 100 && usual.highest < 300, "{usual:?}");
}

/// Random programs rewritten into Instruction List are found again: the figures stand for how far that reaches.
#[test]
fn twins_in_the_other_language() {
    let (mut sum, mut count, mut least) = (0, 0, 1000);
    for seed in 0..12 {
        let text = random(seed);
        if text.is_empty() {
            continue;
        }
        let mut sources = Sources::new();
        sources.add("main.st", text.as_str());
        let (list, _) = rewritten(&sources, Language::InstructionList).unwrap();
        let (_, list) = list.iter().next().unwrap();
        let (plain, twin) = (of("a", &text), of("b", &list.text));
        let alike = likeness(&plain, &twin);
        sum += u32::from(alike);
        count += 1;
        least = least.min(alike);
    }
    assert!(
        count >= 8 && sum / count >= 800 && least >= 500,
        "mean {} of {count}, least {least}",
        sum / count.max(1)
    );
}
