//! The worked examples of K. J. Hayhurst, D. S. Veerhusen, J. J. Chilenski, L. K. Rierson: "A Practical Tutorial on
//! Modified Condition/Decision Coverage", NASA/TM-2001-210876. All of them from memory.

use latchwork_bench::coverage::{Figure, Report};
use latchwork_vm::DecisionVector;

use super::{
    program::Run,
    trees::{conditions, evaluation, shown, tree, vectors},
};

/// All sets of evaluations of a decision that show all of its conditions by unique cause, of the least size.
fn least_sets(formula: &str, count: usize) -> Vec<Vec<u64>> {
    let tree = tree(formula);
    let all: Vec<DecisionVector> = (0..1u64 << count).map(|vector| evaluation(&tree, vector)).collect();
    let sets = (0..1u64 << all.len()).map(|chosen| -> Vec<DecisionVector> {
        all.iter().enumerate().filter(|(index, _)| chosen >> index & 1 == 1).map(|(_, it)| *it).collect()
    });
    let enough = sets.filter(|set| shown(&tree, count, set).iter().all(|(unique, _)| *unique));
    let mut enough: Vec<Vec<u64>> =
        enough.map(|set| set.iter().map(|vector| vector.conditions).collect()).collect();
    let least = enough.iter().map(Vec::len).min().unwrap();
    enough.retain(|set| set.len() == least);
    enough
}

fn sets(texts: &[&[&str]]) -> Vec<Vec<u64>> {
    let mut sets: Vec<Vec<u64>> = texts
        .iter()
        .map(|set| {
            let mut set: Vec<u64> = set.iter().map(|text| conditions(text)).collect();
            set.sort_unstable();
            set
        })
        .collect();
    sets.sort();
    sets
}

fn sorted(mut sets: Vec<Vec<u64>>) -> Vec<Vec<u64>> {
    sets.sort();
    sets
}

/// Chapter 3, "and gate": all inputs TRUE, and each of them FALSE alone: n + 1 tests for n inputs.
#[test]
fn minimum_tests_of_the_and_gate() {
    assert_eq!(sorted(least_sets("a & b", 2)), sets(&[&["TT", "FT", "TF"]]));
    assert_eq!(sorted(least_sets("a & b & c", 3)), sets(&[&["TTT", "FTT", "TFT", "TTF"]]));
}

/// Chapter 3, "or gate": all inputs FALSE, and each of them TRUE alone.
#[test]
fn minimum_tests_of_the_or_gate() {
    assert_eq!(sorted(least_sets("a | b", 2)), sets(&[&["FF", "TF", "FT"]]));
    assert_eq!(sorted(least_sets("a | b | c", 3)), sets(&[&["FFF", "TFF", "FTF", "FFT"]]));
}

/// Chapter 3, "xor gate": any three of the four.
#[test]
fn minimum_tests_of_the_xor_gate() {
    let any_three: [&[&str]; 4] =
        [&["TT", "TF", "FT"], &["TT", "TF", "FF"], &["TT", "FT", "FF"], &["TF", "FT", "FF"]];
    assert_eq!(sorted(least_sets("a ^ b", 2)), sets(&any_three));
}

/// Chapter 3, "not gate": both values.
#[test]
fn minimum_tests_of_the_not_gate() {
    assert_eq!(sorted(least_sets("!a", 1)), sets(&[&["T", "F"]]));
}

/// Chapter 3, the example `Z := (A or B) and (C or D)` with its five tests: each gate has its minimum tests, once those
/// that are masked are left out. That is masking; by unique cause D is not shown.
#[test]
fn the_example_with_two_or_gates_and_an_and_gate() {
    let tree = tree("(a | b) & (c | d)");
    // Test   1       2       3       4       5
    // A      F       F       T       F       T
    // B      F       T       F       T       F
    // C      T       F       F       T       T
    // D      F       T       F       F       F
    // Z      F       T       F       T       T
    let tests = ["FFTF", "FTFT", "TFFF", "FTTF", "TFTF"];
    let found = vectors(&tree, &tests);
    assert_eq!(found.iter().map(|it| it.outcome).collect::<Vec<_>>(), [false, true, false, true, true]);
    assert_eq!(shown(&tree, 4, &found), [(true, true), (true, true), (true, true), (false, true)]);
    // The first test is the only one with A or B FALSE, the third with C or D FALSE, the second with D alone.
    for (without, lost) in [(0, [0, 1].as_slice()), (1, &[3]), (2, &[2, 3])] {
        let mut fewer = found.clone();
        fewer.remove(without);
        let shown = shown(&tree, 4, &fewer);
        for (condition, (_, masking)) in shown.iter().enumerate() {
            assert_eq!(!masking, lost.contains(&condition), "without test {}: {condition}", without + 1);
        }
    }
}

/// Chapter 2: which tests of one decision satisfy which criterion.
#[test]
fn criteria_of_structural_coverage_on_one_decision() {
    struct Row {
        tests: &'static [&'static str],
        statement: bool,
        decision: bool,
        condition: bool,
        modified: bool,
        multiple: bool,
    }
    let row = |tests, [statement, decision, condition, modified, multiple]: [bool; 5]| Row {
        tests,
        statement,
        decision,
        condition,
        modified,
        multiple,
    };
    let rows = [
        // Statement coverage needs one test, and shows little.
        row(&["TF"], [true, false, false, false, false]),
        // Decision coverage without condition coverage: the effect of B is not tested.
        row(&["TF", "FF"], [true, true, false, false, false]),
        // Condition coverage without decision coverage.
        row(&["TF", "FT"], [true, false, true, false, false]),
        // Condition/decision coverage: `and` or `A` alone in place of `or` would not be found.
        row(&["TT", "FF"], [true, true, true, false, false]),
        row(&["TF", "FT", "FF"], [true, true, true, true, false]),
        row(&["TT", "TF", "FT", "FF"], [true, true, true, true, true]),
    ];
    for row in rows {
        let mut run = Run::new(
            "PROGRAM Main VAR A, B, Z : BOOL; END_VAR IF A OR B THEN Z := TRUE; END_IF; END_PROGRAM",
        );
        run.tests(&["A", "B"], row.tests);
        let report = run.report();
        let decision = &report.units[0].decisions[0];
        let figures = report.figures;
        let label = row.tests.join(" ");
        assert_eq!(figures.statements.is_complete(), row.statement, "statement: {label}");
        assert_eq!(figures.branches.is_complete(), row.decision, "branch: {label}");
        assert_eq!(figures.decisions.is_complete(), row.decision, "decision: {label}");
        assert_eq!(figures.conditions.is_complete(), row.condition, "condition: {label}");
        assert_eq!(figures.unique_cause.is_complete(), row.modified, "unique cause: {label}");
        assert_eq!(figures.masking.is_complete(), row.modified, "masking: {label}");
        assert_eq!(decision.vectors.len() == 4, row.multiple, "multiple condition: {label}");
    }
}

/// The same five tests of `(A or B) and (C or D)`, run on the machine in both languages.
#[test]
fn the_example_on_the_machine() {
    let declarations = "VAR A, B, C, D, Z : BOOL; END_VAR";
    let texts = [
        format!("PROGRAM Main {declarations} Z := (A OR B) AND (C OR D); END_PROGRAM"),
        format!("PROGRAM Main {declarations}\nLD A\nOR B\nAND( C\nOR D\n)\nST Z\nEND_PROGRAM"),
    ];
    for text in texts {
        let mut run = Run::new(&text);
        run.tests(&["A", "B", "C", "D"], &["FFTF", "FTFT", "TFFF", "FTTF", "TFTF"]);
        let Report { figures, .. } = run.report();
        assert_eq!(figures.masking, Figure { covered: 4, total: 4 }, "{text}");
        assert_eq!(figures.unique_cause, Figure { covered: 3, total: 4 }, "{text}");
    }
}

/// Appendix on coupled conditions: in `(A and B) or (not A and C)` both A always change together, so that no unique
/// cause is possible for them, and masking shows them.
#[test]
fn coupled_conditions_are_shown_by_masking() {
    let mut run =
        Run::new("PROGRAM Main VAR A, B, C, Z : BOOL; END_VAR Z := A AND B OR NOT A AND C; END_PROGRAM");
    run.tests(&["A", "B", "C"], &["TTF", "TFF", "TFT", "FTF", "FTT"]);
    let report = run.report();
    let [first, b, second, c] = report.units[0].decisions[0].conditions.as_slice() else { panic!() };
    assert_eq!((first.same_as.as_slice(), second.same_as.as_slice()), ([2].as_slice(), [0].as_slice()));
    for a in [first, second] {
        assert!(a.shown.unique_cause.is_none() && a.shown.masking.is_some() && a.shown_by_unique_cause());
    }
    for other in [b, c] {
        assert!(other.same_as.is_empty() && other.shown.unique_cause.is_some());
    }
    assert_eq!(report.figures.unique_cause, Figure { covered: 4, total: 4 });
}
