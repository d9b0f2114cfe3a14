//! What a hint says does show the condition, and where it says that nothing can, nothing does.

use std::collections::BTreeSet;

use latchwork_bench::coverage::{Hint, hint};
use latchwork_compiler::coverage::{BooleanTree, Coupling};
use proptest::prelude::*;

use super::trees::{conditions, evaluation, shown, tree};

fn is_shown(tree: &BooleanTree, count: usize, seen: &BTreeSet<u64>, condition: u32) -> bool {
    let vectors: Vec<_> = seen.iter().map(|vector| evaluation(tree, *vector)).collect();
    shown(tree, count, &vectors)[condition as usize].1
}

fn is_possible(couplings: &[Coupling], vector: u64) -> bool {
    let value = |condition: u32| vector >> condition & 1;
    couplings.iter().filter(|it| it.strong).all(|it| value(it.first) == value(it.second))
}

/// Follows the hint for a condition that was not shown.
fn follow(
    tree: &BooleanTree,
    count: usize,
    couplings: &[Coupling],
    seen: &BTreeSet<u64>,
    condition: u32,
) -> Hint {
    let hint = hint(tree, count, couplings, seen, condition);
    let added = match hint {
        Hint::One { seen: beside, tried } => {
            assert!(seen.contains(&beside));
            vec![tried]
        }
        Hint::Two(pair) => vec![pair.when_false, pair.when_true],
        Hint::Impossible => {
            let all = (0..1u64 << count).filter(|vector| is_possible(couplings, *vector)).collect();
            assert!(!is_shown(tree, count, &all, condition), "{tree:?}");
            return hint;
        }
        Hint::Unknown => return hint,
    };
    assert!(added.iter().all(|vector| is_possible(couplings, *vector)), "{hint:?}");
    let after: BTreeSet<u64> = seen.iter().copied().chain(added).collect();
    assert!(is_shown(tree, count, &after, condition), "{tree:?} {seen:?} {hint:?}");
    hint
}

fn seen(texts: &[&str]) -> BTreeSet<u64> {
    texts.iter().map(|text| conditions(text)).collect()
}

#[test]
fn the_nearest_evaluation_is_proposed() {
    let tree = tree("(a | b) & !c");
    let hint = |texts: &[&str], condition| follow(&tree, 3, &[], &seen(texts), condition);
    let one = |beside, tried| Hint::One { seen: conditions(beside), tried: conditions(tried) };
    assert_eq!(hint(&["TFF"], 2), one("TFF", "TFT"));
    assert_eq!(hint(&["TFF"], 0), one("TFF", "FFF"));
    // B has not decided so far: two evaluations are needed.
    assert!(matches!(hint(&["TFF"], 1), Hint::Two(_)));
}

#[test]
fn what_never_decides_is_told() {
    let absorbed = tree("a & b | 1");
    assert_eq!(follow(&absorbed, 2, &[], &seen(&["TT"]), 0), Hint::Impossible);
    // `a OR NOT a AND b`: the second `a` never decides, for it is the first.
    let coupled = [Coupling { first: 0, second: 1, strong: true }];
    let twice = tree("a | !b & c");
    assert_eq!(follow(&twice, 3, &coupled, &seen(&["TTF"]), 1), Hint::Impossible);
    assert!(matches!(follow(&twice, 3, &coupled, &seen(&["TTF"]), 0), Hint::One { .. }));
}

/// More conditions than are tried one by one.
#[test]
fn long_decisions_have_hints_too() {
    let letters: Vec<char> = ('a'..='z').collect();
    for symbols in [["&", "&"], ["|", "|"], ["^", "^"], ["&", "|"], ["|", "^"]] {
        let mut formula = String::from("a");
        for (letter, symbol) in letters[1..].iter().zip(symbols.iter().cycle()) {
            formula = format!("({formula} {symbol} {letter})");
        }
        let tree = tree(&formula);
        for condition in 0..26 {
            for before in
                [BTreeSet::new(), seen(&["T"]), seen(&["TFTTTFTFTTF", "TTTTTTTTTTTTTTTTTTTTTTTTTT"])]
            {
                if !is_shown(&tree, 26, &before, condition) {
                    let hint = follow(&tree, 26, &[], &before, condition);
                    assert!(!matches!(hint, Hint::Unknown | Hint::Impossible), "{formula} {condition}");
                }
            }
        }
    }
}

/// A decision in which nothing fits together is given up, soon.
#[test]
fn hopeless_decisions_take_no_time() {
    let row: Vec<String> = ('a'..='z').chain('a'..='z').map(|letter| letter.to_string()).collect();
    let tree = tree(&row.join("^"));
    let couplings: Vec<Coupling> =
        (1..26).map(|second| Coupling { first: second - 1, second, strong: second != 13 }).collect();
    let _ = hint(&tree, 26, &couplings, &seen(&["T", "F"]), 3);
}

fn formula() -> impl Strategy<Value = String> {
    let leaf = Just("x".to_owned());
    leaf.prop_recursive(4, 8, 2, |inner| {
        prop_oneof![
            (inner.clone(), prop::sample::select(vec!["&", "|", "^"]), inner.clone())
                .prop_map(|(left, symbol, right)| format!("({left} {symbol} {right})")),
            inner.prop_map(|operand| format!("!{operand}")),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn hints_hold(formula in formula(), tests in prop::collection::vec(any::<u8>(), 0..6), same: (u8, u8)) {
        // Each leaf is a condition of its own.
        let mut count = 0u8;
        let named: String = formula.chars().map(|letter| {
            if letter != 'x' { return letter; }
            count += 1;
            char::from(b'a' + count - 1)
        }).collect();
        let tree = tree(&named);
        let length = usize::from(count);
        let (first, second) = (u32::from(same.0 % count), u32::from(same.1 % count));
        let couplings =
            if first < second { vec![Coupling { first, second, strong: true }] } else { Vec::new() };
        let seen: BTreeSet<u64> = tests
            .iter()
            .map(|test| u64::from(*test) & ((1 << length) - 1))
            .filter(|vector| is_possible(&couplings, *vector))
            .collect();
        for condition in 0..u32::from(count) {
            if !is_shown(&tree, length, &seen, condition) {
                prop_assert_ne!(follow(&tree, length, &couplings, &seen, condition), Hint::Unknown);
            }
        }
    }
}
