//! Submissions that mean harm among those of the sample class: the run ends, in bounded memory, and nobody else notices.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{fs, thread, time::Duration};

use bench::{
    Folder,
    browser::assert_good,
    class::{contents, exercise, gradebook, start},
};
use latchwork_tests::{
    class::{
        hostile::{Earns, hostile_places, hostile_texts, write_hostile},
        written::write_class,
    },
    memory::most_memory,
};

/// Most memory that a run may take, in bytes.
const MEMORY_MAX: u64 = 500 << 20;

#[test]
fn hostile_submissions_harm_nobody_else() {
    let folder = Folder::new();
    for name in ["class", "alone"] {
        fs::create_dir(folder.path(name)).unwrap();
        write_class(&folder.path(name)).unwrap();
    }
    let written = write_hostile(&folder.path("class")).unwrap();
    assert!(written.len() >= 50);
    folder.run(&format!("mark {} alone --out alone-marks --quiet", exercise().display())).expect(0);

    let mut child = start(&folder, "class", "marks");
    let mut most = 0;
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        most = most.max(most_memory(child.id()).unwrap_or(0));
        thread::sleep(Duration::from_millis(5));
    };
    assert_eq!(status.code(), Some(0), "no defect showed, and every submission was marked");
    assert!(most < MEMORY_MAX, "{} MB", most >> 20);

    // Everybody else's row and pages are those of a class without them.
    let (with, without) = (gradebook(&folder.path("marks")), gradebook(&folder.path("alone-marks")));
    for (student, row) in &without {
        assert_eq!(with.get(student), Some(row), "{student}");
    }
    let (with_pages, without_pages) =
        (contents(&folder.path("marks/feedback")), contents(&folder.path("alone-marks/feedback")));
    for (page, bytes) in &without_pages {
        assert!(with_pages.get(page) == Some(bytes), "{page}");
    }

    let mut wrong = String::new();
    let out_of = without.values().next().unwrap()["out of"].clone();
    // Reading comes before: it knows sizes, and takes what holds zero bytes for no text.
    let earlier = ["too large", "could not be read"];
    for hostile in hostile_texts() {
        let row = &with[hostile.name];
        let allowed: Vec<&str> = hostile.states.iter().map(|state| state.words()).chain(earlier).collect();
        let right = match hostile.earns {
            _ if earlier.contains(&row["state"].as_str()) => row["total"] == "0",
            // Points for compiling at most.
            Earns::Nothing => ["0", "1", "2"].contains(&row["total"].as_str()),
            Earns::Something => row["total"] != "0" && row["total"] != out_of,
            Earns::Everything => row["total"] == out_of,
        };
        if !allowed.contains(&row["state"].as_str()) || !right {
            wrong += &format!(
                "{}: {} with {} points ({})\n",
                hostile.name, row["state"], row["total"], hostile.tries
            );
        }
    }
    // Names of places are those of files and folders, which need not be ids as they are; so they are counted.
    let places = hostile_places().unwrap().iter().filter(|place| written.contains(&place.name)).count();
    assert!(with.len() >= without.len() + hostile_texts().len() + places / 2);
    assert!(wrong.is_empty(), "\n{wrong}");

    // In a browser the pages are nothing but what they are meant to be.
    for page in ["class", "alike", "feedback/markup-in-comments"] {
        assert_good(&folder.path(&format!("marks/{page}.html")));
    }

    // No cell is a formula to a spreadsheet.
    let gradebook = fs::read_to_string(folder.path("marks/gradebook.csv")).unwrap();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(gradebook.as_bytes());
    for record in reader.records() {
        for cell in &record.unwrap() {
            assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell:?}");
        }
    }
}
