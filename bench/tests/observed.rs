//! Tables of what was seen on a board: each file of `tests/observed` with what is understood of it and what is said about
//! it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod shown;

use std::fmt::Write;

use insta::{assert_snapshot, glob};
use latchwork_bench::{
    station::Station,
    wiring_proof::observed::{self, Checkout, OBSERVED_BYTES_MAX, OBSERVED_STEPS_MAX},
};
use latchwork_grammar::{FileId, Sources};
use proptest::prelude::*;

const STATION: &str = r#"
[[device]]
name = "StartPB"
contact = "normally open"
terminal = "%IX0.0"

[[device]]
name = "StopPB"
contact = "normally closed"
terminal = "%IX0.1"

[[analog]]
name = "Tank"
terminal = "%IW1"
range = [0, 250]
raw = [0, 27648]

[[load]]
name = "P1"
terminal = "%QX0.0"

[[load]]
name = "V1"
terminal = "%QW1"
range = [0, 100]
"#;

fn station() -> Station {
    Station::parse(Sources::new().add("station.toml", STATION), STATION).0.unwrap()
}

fn outline(checkout: &Checkout) -> String {
    let mut out = String::new();
    for step in &checkout.steps {
        writeln!(out, "line {}: {:?} wait {} ns {:?}", step.line, step.acts, step.wait_ns, step.seen)
            .unwrap();
    }
    out
}

#[test]
fn corpus() {
    let station = station();
    glob!("observed/*.csv", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let (checkout, diagnostics) = observed::read(FileId(0), &text, &station, 10_000_000);
        let mut out = shown::diagnostics(&text, &diagnostics);
        match checkout {
            Some(checkout) => out.push_str(&outline(&checkout)),
            None => out.push_str("no checkout\n"),
        }
        assert_snapshot!(out);
    });
}

#[test]
fn a_table_beyond_the_limits_is_refused() {
    let station = station();
    let rows = format!("StartPB,P1\n{}", "1,on\n".repeat(OBSERVED_STEPS_MAX + 1));
    let bytes = format!("StartPB,P1\n# {}", "x".repeat(OBSERVED_BYTES_MAX));
    for text in [rows, bytes] {
        let (checkout, found) = observed::read(FileId(0), &text, &station, 10_000_000);
        assert!(checkout.is_none());
        assert_eq!(found.iter().map(|found| found.name).collect::<Vec<_>>(), ["observed-too-large"]);
    }
    let most = format!("StartPB,P1\n{}", "1,on\n".repeat(OBSERVED_STEPS_MAX));
    assert!(observed::read(FileId(0), &most, &station, 10_000_000).0.is_some());
}

proptest! {
    #[test]
    fn no_table_is_too_odd(text in "(StartPB|P1|Tank|V1|wait|on|off|[,;\"\n\t ]|[0-9.]{1,3}|T#1s|.){0,60}") {
        let (checkout, found) = observed::read(FileId(0), &text, &station(), 10_000_000);
        prop_assert!(checkout.is_some() || !found.is_empty());
    }
}
