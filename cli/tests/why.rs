//! `latchwork why` from outside: what it tells, in which form, and how it ends.

#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing)]

mod bench;

use bench::Folder;
use serde_json::Value;

const RUN: &str = "--station station.toml --stimulus press.csv";

#[test]
fn a_seal_in_is_told_down_to_the_button() {
    let told = Folder::new().run(&format!("why Pump pump.st --at T#500ms {RUN}")).expect(0).out;
    assert!(told.starts_with("Pump is TRUE at 0.5 s (scan 51), since 0.1 s\n"), "{told}");
    assert!(told.contains("pump.st:7  Pump := (Start OR Pump) AND Stop"), "{told}");
    assert!(told.contains("holds itself (seal-in)"), "{told}");
    assert!(told.contains("StartPB (normally open) was pressed, from 0.1 s to 0.3 s"), "{told}");
    assert!(told.contains("Pump would be FALSE with this:"), "{told}");
    assert!(told.contains("Stop FALSE (StopPB pressed)"), "{told}");
}

#[test]
fn procedures_lead_to_reasons_too() {
    let folder = Folder::new();
    let told = folder.run("why Pump --procedure pump.steps --at T#100ms").expect(0).out;
    assert!(told.starts_with("Pump is TRUE"), "{told}");
    let refused = folder.run("why Pump --procedure pump.steps --only nothing").expect(2).err;
    assert!(refused.contains("no procedure fits") && refused.contains("stop beats start"), "{refused}");
}

/// The members that the schema demands, with their kinds.
#[test]
fn the_document_has_the_form_of_its_schema() {
    let schema: Value = serde_json::from_str(include_str!("../schemas/reason.json")).unwrap();
    let folder = Folder::new();
    let told = folder.run(&format!("why Pump pump.st --at 500 --format json {RUN}")).expect(0).out;
    let document: Value = serde_json::from_str(&told).unwrap();
    assert_eq!(document["schema_version"], schema["properties"]["schema_version"]["const"]);
    let kinds = schema["$defs"]["reason"]["properties"]["kind"]["enum"].as_array().unwrap();
    let required = schema["$defs"]["reason"]["required"].as_array().unwrap();
    let mut open = vec![&document["explanation"]["reason"]];
    let mut leaves = Vec::new();
    while let Some(reason) = open.pop() {
        assert!(kinds.contains(&reason["kind"]), "{reason}");
        for member in required {
            assert!(reason.get(member.as_str().unwrap()).is_some(), "{member} is missing: {reason}");
        }
        let parts = reason["parts"].as_array().unwrap();
        if parts.is_empty() {
            leaves.push(reason["kind"].as_str().unwrap());
        }
        open.extend(parts);
    }
    assert!(leaves.iter().all(|kind| *kind == "device"), "{leaves:?}");
    assert_eq!(document["explanation"]["otherwise"][0]["changes"][0]["device"], "StopPB pressed");
}

#[test]
fn what_cannot_be_told_says_why() {
    let folder = Folder::new();
    let told = |arguments: &str, code| folder.run(arguments).expect(code).err;
    let unknown = told(&format!("why Pomp pump.st --at 500 {RUN}"), 2);
    assert!(
        unknown.contains("error[reason-unknown-name]: nothing is named `Pomp`; did you mean `Pump`?"),
        "{unknown}"
    );
    let late = told(&format!("why Pump pump.st --at 5000 --until 1000 {RUN}"), 2);
    assert!(
        late.contains("error[reason-time]: the run has no scan 501; its last one is scan 100, at 0.99 s"),
        "{late}"
    );
    folder.run("build pump.st -o pump.image").expect(0);
    assert!(told("why Pump pump.image", 2).contains("an image has no source text"));
    assert!(told("why Pump types.st", 4).contains("there is no PROGRAM here"));
    assert!(told("why Pump pump.st --at=T#-1s", 2).contains("the time lies before the start"));
}
