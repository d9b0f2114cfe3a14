//! What is common in a class, and which records are not taken.

use latchwork_bench::{
    class::{Class, NotTaken},
    marking::{FindingKind, Gravity, State},
};

use crate::made::{divergence, finding, finished, in_state, ran, scheme};

#[test]
fn findings_are_counted_by_name_and_student() {
    let scheme = scheme(&[100]);
    let unknown = |message: &str| finding(FindingKind::Compile, "unknown-name", Gravity::Error, message);
    let mut first = in_state("first", &scheme, State::NotCompiled);
    first.findings = vec![unknown("there is no `Pomp`"), unknown("there is no `Levl`")];
    let mut second = in_state("second", &scheme, State::NotCompiled);
    second.findings = vec![unknown("there is no `X`")];
    let mut third = ran("third", &scheme, &[0]);
    third.findings = vec![
        finding(FindingKind::Compile, "unused-variable", Gravity::Warning, "`A` is never used"),
        finding(FindingKind::Constraint, "lines-max", Gravity::Error, "80 lines of 60"),
        finding(FindingKind::Internal, "panic", Gravity::Error, "a defect"),
    ];
    let results = finished(&scheme, &[third, first, second]);
    let told: Vec<(&str, u64, u64, &str, &str)> = results
        .findings
        .iter()
        .map(|it| {
            (
                it.name.as_str(),
                it.count,
                it.students,
                it.example.message.as_str(),
                it.example.student.id.as_str(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("unknown-name", 3, 2, "there is no `Pomp`", "first"),
            ("unused-variable", 1, 1, "`A` is never used", "third"),
            ("lines-max", 1, 1, "80 lines of 60", "third"),
        ]
    );
    let errors: Vec<Option<&str>> = results.members.iter().map(|it| it.first_error.as_deref()).collect();
    assert_eq!(errors, [Some("lines-max"), Some("unknown-name"), Some("unknown-name")]);
}

#[test]
fn divergences_are_counted_by_step_and_manner() {
    let scheme = scheme(&[100, 100]);
    let failed = |id: &str, line: u32, name: &str, time_ns: i64| {
        let mut marked = ran(id, &scheme, &[100, 0]);
        marked.items[1].failure = Some(divergence(line, name, time_ns));
        marked
    };
    let results = finished(
        &scheme,
        &[
            failed("a", 9, "expect-now", 40),
            failed("b", 12, "expect-within", 900),
            failed("c", 12, "expect-within", 100),
            failed("d", 12, "expect-within", 300),
            failed("e", 12, "expect-now", 5),
            failed("f", 9, "expect-now", 41),
        ],
    );
    assert!(results.divergences[0].is_empty());
    let told: Vec<(Option<u32>, &str, u64, i64)> = results.divergences[1]
        .iter()
        .map(|it| (it.line, it.name.as_str(), it.students, it.median_ns))
        .collect();
    assert_eq!(
        told,
        [(Some(12), "expect-within", 3, 300), (Some(9), "expect-now", 2, 40), (Some(12), "expect-now", 1, 5)]
    );
}

#[test]
fn a_record_of_another_exercise_is_refused() {
    let (two, three) = (scheme(&[100, 100]), scheme(&[100; 3]));
    let mut class = Class::new(&two);
    let refused = class.add(&ran("a", &three, &[0, 0, 0])).unwrap_err();
    assert_eq!(refused, NotTaken::OtherItems { found: 3, expected: 2 });
    assert_eq!(
        refused.to_string(),
        "the record has results of 3 items, but the exercise has 2: it was marked with another state of the exercise and \
         must be marked again"
    );
    class.add(&ran("a", &two, &[0, 0])).unwrap();
    assert_eq!(class.finish().members.len(), 1);
}
