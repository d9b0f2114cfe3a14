//! The character string functions against slices of Rust, over random texts, lengths and positions, for STRING and
//! WSTRING (IEC 61131-3:2013, Table 34). The model works on vectors of character codes and finds by comparing at
//! every place; what is given where the standard only names an error is our choice, as the rows state it.
//!
//! Each property runs thousands of calls by default.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::text_function::{Argument, Given, call};
use proptest::prelude::*;

/// What a call must give: the value, and the kind of event.
type Wanted = (Given, Option<&'static str>);

const POSITION: Option<&str> = Some("string-position");

fn text(codes: impl IntoIterator<Item = u16>) -> Given {
    Given::Text(codes.into_iter().collect())
}

fn model_left(text_: &[u16], count: i64) -> Wanted {
    match usize::try_from(count) {
        Err(_) => (text([]), POSITION),
        Ok(count) if count > text_.len() => (text(text_.to_vec()), POSITION),
        Ok(count) => (text(text_[..count].to_vec()), None),
    }
}

fn model_right(text_: &[u16], count: i64) -> Wanted {
    match usize::try_from(count) {
        Err(_) => (text([]), POSITION),
        Ok(count) if count > text_.len() => (text(text_.to_vec()), POSITION),
        Ok(count) => (text(text_[text_.len() - count..].to_vec()), None),
    }
}

/// A text in front of, in and behind a place, and whether the place is as long as wanted.
type Parts = (Vec<u16>, Vec<u16>, Vec<u16>, bool);

/// The parts in front of, in and behind L characters from the P-th on; `None` where there is no such place.
fn split(text_: &[u16], count: i64, position: i64) -> Option<Parts> {
    let length = text_.len() as i64;
    let last = if count == 0 { length + 1 } else { length };
    if count < 0 || position < 1 || position > last {
        return None;
    }
    let start = (position - 1) as usize;
    let there = length - (position - 1);
    let end = start + count.min(there) as usize;
    Some((text_[..start].to_vec(), text_[start..end].to_vec(), text_[end..].to_vec(), count <= there))
}

fn told(exact: bool) -> Option<&'static str> {
    if exact { None } else { POSITION }
}

fn model_mid(text_: &[u16], count: i64, position: i64) -> Wanted {
    match split(text_, count, position) {
        Some((_, part, _, exact)) => (text(part), told(exact)),
        None => (text([]), POSITION),
    }
}

fn model_delete(text_: &[u16], count: i64, position: i64) -> Wanted {
    match split(text_, count, position) {
        Some((before, _, behind, exact)) => (text([before, behind].concat()), told(exact)),
        None => (text(text_.to_vec()), POSITION),
    }
}

fn model_replace(text_: &[u16], put: &[u16], count: i64, position: i64) -> Wanted {
    match split(text_, count, position) {
        Some((before, _, behind, exact)) => (text([before, put.to_vec(), behind].concat()), told(exact)),
        None => (text(text_.to_vec()), POSITION),
    }
}

fn model_insert(text_: &[u16], put: &[u16], position: i64) -> Wanted {
    match usize::try_from(position).ok().filter(|position| *position <= text_.len()) {
        Some(at) => (text([&text_[..at], put, &text_[at..]].concat()), None),
        None => (text(text_.to_vec()), POSITION),
    }
}

fn model_find(text_: &[u16], wanted: &[u16]) -> Wanted {
    let found = (!wanted.is_empty()).then(|| text_.windows(wanted.len()).position(|part| part == wanted));
    (Given::Number(found.flatten().map_or(0, |at| at as i64 + 1)), None)
}

/// Texts of an alphabet of one to four letters, so that parts repeat; of any characters; of none.
fn texts() -> impl Strategy<Value = Vec<u16>> {
    let letters = (1..=4_u16).prop_flat_map(|size| proptest::collection::vec(97..97 + size, 0..40));
    let any = proptest::collection::vec(0..=255_u16, 0..80);
    prop_oneof![6 => letters, 2 => any, 1 => Just(Vec::new())]
}

/// Numbers near the ends of the texts, and far outside.
fn numbers() -> impl Strategy<Value = i64> {
    prop_oneof![8 => -2..45_i64, 1 => any::<i64>(), 1 => Just(i64::MIN), 1 => Just(i64::MAX)]
}

fn cases() -> ProptestConfig {
    ProptestConfig { cases: ProptestConfig::default().cases.max(1000), ..ProptestConfig::default() }
}

/// Both widths give what the model gives; the wide one has codes that a byte does not.
fn check(
    name: &str,
    operands: &[Argument],
    wanted: &dyn Fn(&[Argument]) -> Wanted,
) -> Result<(), TestCaseError> {
    for wide in [false, true] {
        let operands: Vec<Argument> =
            operands.iter().map(|operand| if wide { operand.raised() } else { operand.clone() }).collect();
        let (given, events) = call(name, &operands, wide);
        let (value, event) = wanted(&operands);
        prop_assert_eq!(given, value, "{} {:?}", name, &operands);
        prop_assert_eq!(events, event.into_iter().collect::<Vec<_>>(), "{} {:?}", name, &operands);
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn parts_are_slices(s in texts(), l in numbers(), p in numbers()) {
        use Argument::{Number, Text};
        let of = |operands: &[Argument]| operands[0].codes();
        check("LEN", &[Text(s.clone())], &|o| (Given::Number(of(o).len() as i64), None))?;
        check("LEFT", &[Text(s.clone()), Number(l)], &|o| model_left(&of(o), l))?;
        check("RIGHT", &[Text(s.clone()), Number(l)], &|o| model_right(&of(o), l))?;
        check("MID", &[Text(s.clone()), Number(l), Number(p)], &|o| model_mid(&of(o), l, p))?;
        check("DELETE", &[Text(s), Number(l), Number(p)], &|o| model_delete(&of(o), l, p))?;
    }

    #[test]
    fn two_texts_become_one(s in texts(), t in texts(), l in numbers(), p in numbers()) {
        use Argument::{Number, Text};
        let (first, second) = (|o: &[Argument]| o[0].codes(), |o: &[Argument]| o[1].codes());
        let both = [Text(s.clone()), Text(t.clone())];
        check("INSERT", &[Text(s.clone()), Text(t.clone()), Number(p)], &|o| {
            model_insert(&first(o), &second(o), p)
        })?;
        check("REPLACE", &[Text(s), Text(t), Number(l), Number(p)], &|o| {
            model_replace(&first(o), &second(o), l, p)
        })?;
        check("CONCAT", &both, &|o| (text([first(o), second(o)].concat()), None))?;
    }

    #[test]
    fn any_number_of_texts_is_joined(all in proptest::collection::vec(texts(), 2..20)) {
        let operands: Vec<Argument> = all.into_iter().map(Argument::Text).collect();
        check("CONCAT", &operands, &|o| (text(o.iter().flat_map(Argument::codes)), None))?;
    }

    #[test]
    fn what_is_found_is_the_first(s in texts(), t in texts(), from in 0..40_usize, count in 1..12_usize) {
        use Argument::Text;
        let model = |o: &[Argument]| model_find(&o[0].codes(), &o[1].codes());
        check("FIND", &[Text(s.clone()), Text(t)], &model)?;
        // A part of the text itself is there.
        let from = from.min(s.len());
        let part = s[from..(from + count).min(s.len())].to_vec();
        check("FIND", &[Text(s), Text(part)], &model)?;
    }
}

/// The longest texts there are, and the worst for a search that begins anew at every place.
#[test]
fn the_longest_texts_are_handled() {
    use Argument::{Number, Text};
    let longest = vec![97_u16; 32_767];
    let mut almost = vec![97_u16; 16_383];
    almost.push(98);
    for wide in [false, true] {
        let (given, _) = call("FIND", &[Text(longest.clone()), Text(almost.clone())], wide);
        assert_eq!(given, Given::Number(0));
        let (given, events) = call("CONCAT", &[Text(longest.clone()), Text(vec![98; 2])], wide);
        assert_eq!((given, events), (Given::Text(longest.clone()), vec!["string-cut"]));
        let (given, events) = call("INSERT", &[Text(longest.clone()), Text(vec![98]), Number(0)], wide);
        let cut: Vec<u16> = std::iter::once(98).chain(std::iter::repeat_n(97, 32_766)).collect();
        assert_eq!((given, events), (Given::Text(cut), vec!["string-cut"]));
        let (given, events) = call("LEN", &[Text(longest.clone())], wide);
        assert_eq!((given, events), (Given::Number(32_767), vec![]));
    }
}
