//! The tables of text are whole: every record has its fields, every name is given once.

use std::collections::BTreeSet;

use super::*;

fn whole(text: &'static str, fields: usize) {
    for line in records::lines(text) {
        assert_eq!(line.split(';').count(), fields, "{line}");
    }
}

#[test]
fn every_record_has_its_fields() {
    whole(include_str!("tables.txt"), 4);
    whole(include_str!("features.txt"), 7);
    whole(include_str!("choices.txt"), 6);
    whole(include_str!("errors.txt"), 5);
    whole(include_str!("extensions.txt"), 4);
    for [.., status, refusal, _] in records::rows::<7>(include_str!("features.txt")) {
        assert!(["yes", "part", "no", "na"].contains(&status), "{status}");
        assert!(["refuse", "-"].contains(&refusal), "{refusal}");
    }
    for [_, _, _, memory] in records::rows::<4>(include_str!("tables.txt")) {
        assert!(["sure", "unsure"].contains(&memory), "{memory}");
    }
}

#[test]
fn tables_are_1_to_76_and_every_feature_is_in_one() {
    let numbers: Vec<u16> = tables().iter().map(|table| table.table).collect();
    assert_eq!(numbers, (1..=76).collect::<Vec<_>>());
    assert_eq!(tables().iter().map(|table| table.features.len()).sum::<usize>(), features().count());
    assert!(tables().iter().all(|table| !table.features.is_empty()));
}

#[test]
fn every_name_is_given_once() {
    for (names, what) in [
        (features().map(|feature| feature.id()).collect::<Vec<_>>(), "feature"),
        (choices().map(|choice| choice.id.to_owned()).collect(), "choice"),
        (errors().map(|error| error.id.to_owned()).collect(), "error"),
        (extensions().map(|extension| extension.id.to_owned()).collect(), "extension"),
    ] {
        let once: BTreeSet<_> = names.iter().collect();
        assert_eq!(once.len(), names.len(), "a {what} is given twice");
    }
}

#[test]
fn choices_belong_to_tables_that_exist_and_errors_have_a_time() {
    for choice in choices() {
        for table in choice.tables.split_whitespace() {
            assert!((1..=76).contains(&table.parse::<u16>().unwrap_or_default()), "{}", choice.id);
        }
        assert!(
            !choice.topic.is_empty() && !choice.choice.is_empty() && !choice.reason.is_empty(),
            "{}",
            choice.id
        );
    }
    for error in errors() {
        assert!(["preparation", "run", "preparation and run"].contains(&error.when), "{}", error.id);
    }
}

#[test]
fn a_table_that_is_partly_provided_says_so() {
    for feature in features().filter(|feature| feature.status == Status::Part) {
        assert!(
            !feature.note.is_empty(),
            "{} is provided in part, and no note tells the limits",
            feature.id()
        );
    }
}

#[test]
fn one_table_comes_with_its_choices_only() {
    let statement = Statement::of_table(8).unwrap_or_else(Statement::whole);
    assert_eq!(statement.tables.len(), 1);
    assert!(statement.choices.iter().any(|choice| choice.id == "duration-resolution"));
    assert!(statement.choices.len() < choices().count() && statement.errors.is_empty());
    assert!(Statement::of_table(0).is_none() && Statement::of_table(77).is_none());
}

#[test]
fn every_form_holds_every_feature_choice_error_and_extension() {
    let statement = Statement::whole();
    let json: serde_json::Value = serde_json::from_str(&statement.json()).unwrap_or_default();
    assert_eq!(json["tables"].as_array().map(Vec::len), Some(76));
    assert_eq!(json["tables"][2]["features"][1]["feature"], "2a");
    for form in [text(&statement, 100), markdown(&statement)] {
        let flat = form.split_whitespace().collect::<Vec<_>>().join(" ").replace('\\', "");
        let has = |part: &str| assert!(flat.contains(part), "{part} is missing");
        features().for_each(|feature| has(feature.title));
        choices().for_each(|choice| has(choice.choice));
        errors().for_each(|error| has(error.condition));
        extensions().for_each(|extension| has(extension.extension));
        has(env!("CARGO_PKG_VERSION"));
    }
    for columns in [40, 80, 120] {
        for line in text(&statement, columns).lines() {
            assert!(line.chars().count() <= columns, "{line}");
        }
    }
}
