//! The page of a class.

use std::fmt::Write as _;

use insta::assert_snapshot;
use latchwork_bench::{
    class::{
        ClassResults,
        page::{HELP_MAX, MEMBERS_MAX, page},
    },
    marking::{FindingKind, Gravity, ItemKind, Marked, Points, State, Student},
};

use crate::made::{class, divergence, finding, finished, in_state, ran, scheme};

/// Markup, other reading directions and line ends in a name.
const HOSTILE: &str = "<script>hostile = 1</script>\u{202e}\n\"><img src=x onerror='hostile=1'>";

const TITLES: [&str; 8] = [
    "compiles",
    "fills while the barrel is low",
    "stops at the upper float",
    "stays off after a fault until it is acknowledged",
    "fills from the mains only if the barrel stays empty for ten minutes",
    "the lamp blinks while it waits",
    "both floats at once are a fault",
    "never runs dry",
];

/// How likely the strongest and the weakest student pass each item, in thousandths.
const CHANCES: [(u64, u64); 8] =
    [(1000, 1000), (1000, 600), (950, 350), (700, 50), (350, 0), (900, 500), (300, 450), (990, 250)];

/// Random numbers that are the same each time (G. Marsaglia, "Xorshift RNGs", J. Stat. Software 8 (2003) 14).
struct Xorshift(u64);

impl Xorshift {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }
}

/// A class in which everything happens.
fn large(students: u64) -> ClassResults {
    let worths = [100, 100, 200, 200, 150, 100, 50, 100];
    let mut scheme = scheme(&worths);
    for (item, title) in scheme.items.iter_mut().zip(TITLES) {
        item.title = title.to_owned();
        item.shown = !title.starts_with("both") && !title.starts_with("never");
    }
    scheme.items[0].kind = ItemKind::Compiles;
    let mut random = Xorshift(0x2545_f491_4f6c_dd1d);
    let marked: Vec<Marked> = (0..students)
        .map(|number| {
            let id = format!("m{:04}", 1000 + number * 7);
            let mut marked = match number % 20 {
                6 => in_state(&id, &scheme, State::NotCompiled),
                13 if number % 40 == 13 => in_state(&id, &scheme, State::NothingHandedIn),
                19 if number == 39 => in_state(&id, &scheme, State::Empty),
                17 if number == 17 => in_state(&id, &scheme, State::InternalFault),
                _ => {
                    let ability = random.below(1000);
                    let earned: Vec<i64> = CHANCES
                        .iter()
                        .zip(worths)
                        .map(|((strong, weak), worth)| {
                            let chance = (strong * ability + weak * (1000 - ability)) / 1000;
                            let passes = random.below(1000) < chance;
                            let partly = worth == 200 && random.below(3) == 0;
                            if passes {
                                worth
                            } else if partly {
                                worth / 2
                            } else {
                                0
                            }
                        })
                        .collect();
                    ran(&id, &scheme, &earned)
                }
            };
            marked.student.name = Some(format!("Student {}", number + 1));
            if marked.state == State::NotCompiled {
                let name = ["unknown-name", "type-mismatch", "missing-end"][(number / 20 % 3) as usize];
                let error = finding(FindingKind::Compile, name, Gravity::Error, "`Pomp` is not declared");
                marked.findings = vec![error.clone(), error];
            } else if number % 9 == 0 && marked.state == State::Ran {
                marked.findings = vec![finding(
                    FindingKind::Constraint,
                    "lines-max",
                    Gravity::Error,
                    "74 lines of at most 60",
                )];
                marked.deducted = Points::of(1.0);
                marked.total = marked.total.less(marked.deducted);
            }
            if marked.state == State::Ran {
                for (index, item) in marked.items.iter_mut().enumerate() {
                    if item.points < scheme.items[index].points {
                        let line = 10 * index as u32 + [4, 4, 7][random.below(3) as usize];
                        let name = if line % 10 == 4 { "expect-within" } else { "expect-now" };
                        let time = 20_000_000 * i64::try_from(random.below(500)).unwrap();
                        item.failure = Some(divergence(line, name, time));
                    }
                }
            }
            marked
        })
        .collect();
    finished(&scheme, &marked)
}

fn link(student: &Student) -> Option<String> {
    Some(format!("feedback/{}.html", student.id))
}

/// The text of the page as someone hears it: without markup and what is hidden from ears.
fn heard(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    let mut text = String::new();
    let mut hidden = 0u32;
    for piece in body.split('<').skip(1) {
        let (tag, rest) = piece.split_once('>').unwrap();
        let is_drawn = tag.starts_with("svg") || tag.starts_with("/svg") || tag.starts_with("rect");
        let hides = tag.contains("aria-hidden=\"true\"");
        if hides && !is_drawn {
            hidden = 1;
        } else if hidden > 0 && tag.starts_with('/') {
            hidden = 0;
        }
        if ["/tr", "/p", "/h", "/li", "/cap", "/dt", "/dd", "/sum"].iter().any(|end| tag.starts_with(end)) {
            text.push('\n');
        } else if tag.starts_with("/t") {
            text.push_str(" | ");
        }
        if hidden == 0 {
            text.push_str(rest.trim_matches('\n'));
        }
    }
    text
}

#[test]
fn a_class_of_sixty() {
    let results = large(60);
    let page = page(&results, &link);
    if let Ok(folder) = std::env::var("LATCHWORK_CLASS_PAGE") {
        std::fs::write(folder, &page).unwrap();
    }
    assert_snapshot!(heard(&page));
}

#[test]
fn nobody_and_nothing() {
    assert_snapshot!(heard(&page(&class(&[100, 0], &[]), &link)));
}

#[test]
fn few_students_are_cautioned() {
    let rows = [[100, 0], [0, 100], [100, 100], [0, 0]].map(|row: [i64; 2]| row.to_vec());
    let told = heard(&page(&class(&[100, 100], &rows), &link));
    assert!(told.contains("Only 4 programs ran. With fewer than 30 these figures are unsteady"), "{told}");
    assert!(told.contains("not defined: groups of 27 % would have fewer than 3 students"), "{told}");
    let told = heard(&page(&class(&[100], &[vec![100]]), &link));
    assert!(told.contains("Alpha is not defined: there are fewer than two items"), "{told}");
    for text in ["NaN", "inf"] {
        assert!(!told.contains(text), "{told}");
    }
}

#[test]
fn nothing_of_others_becomes_markup() {
    let mut scheme = scheme(&[100, 100]);
    scheme.title = HOSTILE.to_owned();
    scheme.items[1].title = HOSTILE.to_owned();
    let mut wrong = in_state(HOSTILE, &scheme, State::NotCompiled);
    wrong.student.name = Some(HOSTILE.to_owned());
    wrong.findings = vec![finding(FindingKind::Compile, HOSTILE, Gravity::Error, HOSTILE)];
    wrong.findings[0].file = Some(HOSTILE.to_owned());
    let mut weak = ran("weak", &scheme, &[0, 0]);
    weak.student.name = Some(HOSTILE.to_owned());
    weak.items[1].failure = Some(divergence(3, HOSTILE, 5));
    weak.items[1].failure.as_mut().unwrap().message = HOSTILE.to_owned();
    let results = finished(&scheme, &[wrong, weak, ran("good", &scheme, &[100, 100])]);
    let document = page(&results, &link);
    assert!(!document.contains("<script") && !document.contains("<img"), "{document}");
    assert!(!document.contains('\u{202e}') && !document.contains("onerror='"));
    assert!(document.contains("&lt;script&gt;hostile = 1"));
    // The policy of the page allows no attribute with a style.
    assert!(!document.contains(" style="));
}

#[test]
fn a_large_class_makes_a_page_that_can_be_read() {
    let scheme = scheme(&[100; 40]);
    let marked: Vec<Marked> =
        (0..MEMBERS_MAX + HELP_MAX).map(|number| ran(&format!("m{number}"), &scheme, &[0; 40])).collect();
    let document = page(&finished(&scheme, &marked), &link);
    assert!(document.len() < 1_500_000, "{}", document.len());
    let mut told = String::new();
    let _ = write!(told, "… and {} more students: gradebook.csv has all of them.", MEMBERS_MAX);
    assert!(document.contains(&told));
    assert!(document.contains(&format!("… and {HELP_MAX} more students: gradebook.csv has all of them.")));
}
