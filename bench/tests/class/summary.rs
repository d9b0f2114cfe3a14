//! The class for the terminal.

use insta::assert_snapshot;
use latchwork_bench::{class::summary::summary, marking::State};
use unicode_width::UnicodeWidthStr;

use crate::made::{class, finished, in_state, ran, scheme};

#[test]
fn those_who_need_help_come_first() {
    let scheme = scheme(&[100, 250, 650]);
    let mut hostile = in_state("\u{1b}[2Jcleared\u{202e}", &scheme, State::NotCompiled);
    hostile.student.name = Some("a name\nof many words that never ends and never would".to_owned());
    let marked = [
        ran("adeline", &scheme, &[100, 250, 650]),
        ran("bolin", &scheme, &[100, 125, 0]),
        hostile,
        ran("水門", &scheme, &[100, 0, 650]),
        in_state("dora", &scheme, State::NothingHandedIn),
        in_state("emil", &scheme, State::InternalFault),
    ];
    let results = finished(&scheme, &marked);
    let text = summary(&results, 80, 5);
    assert_snapshot!(text, @r"
    bolin                            2.25 of 10, 22.5 %  ran
    ␛[2Jcleared� (a name␊of many w…      0 of 10, 0.0 %  does not compile
    dora                                 0 of 10, 0.0 %  nothing handed in
    emil                                        no mark  internal fault of latchwork
    adeline                           10 of 10, 100.0 %  ran
    … and 1 more: gradebook.csv has all of them

    6 students: ran 3, does not compile 1, nothing handed in 1, internal fault of latchwork 1
    marks of 4 who handed something in: mean 4.94, median 4.88, of 10 points
    2 below half of the points
    ");
    for width in [40, 60, 100] {
        let widest = summary(&results, width, 6).lines().take(6).map(|line| line.width()).max().unwrap();
        assert!(widest <= width, "{widest} of {width}");
    }
}

#[test]
fn nobody() {
    assert_snapshot!(summary(&class(&[100], &[]), 80, 5), @"no students");
}
