//! `latchwork mark` on the class of the sample exercise: marks as worked out by hand, the same bytes on any number of threads
//! and machines, and after any number of interruptions.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{fs, path::Path, thread, time::Duration};

use bench::{
    Folder,
    class::{assert_same, contents, exercise, gradebook, start},
};
use latchwork_tests::class::{
    expected::{Expected, expected_marks},
    written::write_class,
};

/// A folder with what the class hands in.
fn class() -> Folder {
    let folder = Folder::new();
    fs::create_dir(folder.path("class")).unwrap();
    write_class(&folder.path("class")).unwrap();
    folder
}

/// A folder with what a part of the class hands in, for what has to be done many times.
fn small_class() -> Folder {
    let folder = class();
    for entry in fs::read_dir(folder.path("class")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let stays = ["s0", "s6", "b15", "b01"].iter().any(|start| name.starts_with(start));
        if !stays && path.is_dir() {
            fs::remove_dir_all(path).unwrap();
        } else if !stays {
            fs::remove_file(path).unwrap();
        }
    }
    folder
}

fn mark(folder: &Folder, submissions: &str, more: &str) -> bench::Ran {
    folder.run(&format!("mark {} {submissions} {more}", exercise().display()))
}

/// A number as the gradebook writes it.
fn points(hundredths: i64) -> String {
    let text = format!("{}.{:02}", hundredths / 100, hundredths % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[test]
fn every_row_is_as_worked_out_by_hand() {
    let folder = class();
    mark(&folder, "class", "--out marks").expect(0);
    let rows = gradebook(&folder.path("marks"));
    let expected = expected_marks().unwrap();
    assert!(expected.len() >= 60);
    assert_eq!(rows.len(), expected.len());
    let mut wrong = String::new();
    for row in &expected {
        let cells = &rows[&row.student];
        let mut differs = |what: &str, is: &str, should: &str| {
            if is != should {
                wrong += &format!("{}: {what} is {is}, should be {should} ({})\n", row.student, row.why);
            }
        };
        differs("state", &cells["state"], &row.state);
        differs("total", &cells["total"], &points(row.total));
        differs("deductions", &cells["deductions"], &points(row.deducted));
        let items: Vec<&String> = {
            let mut items: Vec<(usize, &String)> = cells
                .iter()
                .filter_map(|(heading, cell)| Some((heading.split_once(' ')?.0.parse().ok()?, cell)))
                .collect();
            items.sort_unstable_by_key(|(number, _)| *number);
            items.into_iter().map(|(_, cell)| cell).collect()
        };
        differs("points for compiling", items[0], &points(row.compiles));
        for (number, (verdict, cell)) in row.verdicts.iter().zip(&items[1..]).enumerate() {
            match verdict {
                Expected::Passed => assert_ne!(*cell, "0", "{} {number}", row.student),
                Expected::InPart(hundredths) => {
                    differs(&format!("item {number}"), cell, &points(*hundredths))
                }
                Expected::Failed | Expected::NotRun => differs(&format!("item {number}"), cell, "0"),
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    for file in ["class.html", "alike.html", "results.json", "results.xml"] {
        assert!(folder.path("marks").join(file).exists(), "{file}");
    }
    let pages = contents(&folder.path("marks/feedback"));
    assert_eq!(pages.len(), 2 * rows.len());
}

#[test]
fn one_thread_and_many_and_shares_put_together_give_the_same_bytes() {
    let folder = class();
    mark(&folder, "class", "--out one --jobs 1 --quiet").expect(0);
    mark(&folder, "class", "--out many --jobs 5 --quiet").expect(0);
    assert_same(&folder.path("one"), &folder.path("many"));
    for share in 1..=3 {
        mark(&folder, "class", &format!("--out part-{share} --shard {share}/3 --quiet")).expect(0);
        assert!(!folder.path(&format!("part-{share}")).join("gradebook.csv").exists());
    }
    folder.run("mark merge part-3 part-1 part-2 --out merged --quiet").expect(0);
    assert_same(&folder.path("one"), &folder.path("merged"));
}

#[test]
fn shares_that_are_not_one_class_are_not_put_together() {
    let folder = class();
    fs::create_dir(folder.path("few")).unwrap();
    for name in ["s01.st", "s02.st", "s03.st", "s04.st"] {
        fs::copy(folder.path("class").join(name), folder.path("few").join(name)).unwrap();
    }
    mark(&folder, "few", "--out whole --quiet").expect(0);
    mark(&folder, "few", "--out first --shard 1/2 --quiet").expect(0);
    mark(&folder, "few", "--out second --shard 2/2 --quiet").expect(0);
    mark(&folder, "few", "--out third --shard 3/3 --quiet").expect(0);
    let merge = |shares: &str| folder.run(&format!("mark merge {shares} --out merged")).expect(2).err;
    assert!(merge("first").contains("the share 2/2 is missing"));
    assert!(merge("first first").contains("the same share"));
    assert!(merge("first whole").contains("of a whole class"));
    assert!(merge("first third").contains("a share of 3"));
    assert!(merge("first nowhere").contains("nowhere"));
    assert!(folder.run("mark merge first second --out first").expect(2).err.contains("written over"));
    assert!(!folder.path("merged").exists());
    folder.write("few/s01.st", "PROGRAM TrayWatering\nEND_PROGRAM\n");
    folder.run("mark merge first second --out merged --quiet").expect(0);
    assert_same(&folder.path("whole"), &folder.path("merged"));
}

#[test]
fn a_run_that_is_killed_twenty_times_goes_on_to_the_same_bytes() {
    let folder = small_class();
    mark(&folder, "class", "--out whole --quiet").expect(0);
    let mut random: u32 = 20_261_125;
    let mut broken_off = 0;
    for round in 0..20 {
        // Every few rounds from the beginning, so that the first records are met too.
        if round % 5 == 0 {
            let _ = fs::remove_dir_all(folder.path("killed"));
        }
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let mut child = start(&folder, "class", "killed");
        thread::sleep(Duration::from_millis(u64::from(random >> 23)));
        if child.try_wait().unwrap().is_none() {
            broken_off += 1;
        }
        // On Unix this is SIGKILL: nothing is put in order.
        let _ = child.kill();
        child.wait().unwrap();
    }
    assert!(broken_off > 0, "no run was caught in the middle");
    mark(&folder, "class", "--out killed --quiet").expect(0);
    assert_same(&folder.path("whole"), &folder.path("killed"));
}

/// A log whose last record is torn or damaged anywhere is read up to there.
#[test]
fn a_torn_log_costs_its_last_records_alone() {
    let folder = small_class();
    mark(&folder, "class", "--out whole --quiet").expect(0);
    let log = fs::read(folder.path("whole/work/results.log")).unwrap();
    for (round, cut) in [0, 300, log.len() / 3, log.len() - 1].into_iter().enumerate() {
        copy(&folder.path("whole"), &folder.path("torn"));
        let mut torn = log[..cut].to_vec();
        // What was being written when the run was killed.
        fs::write(folder.path("torn/feedback/.latchwork-a1b2"), "<!DOCTYPE").unwrap();
        if round % 2 == 1 {
            torn.extend(b"00000000 {\"place\":0}\n");
        }
        fs::write(folder.path("torn/work/results.log"), torn).unwrap();
        mark(&folder, "class", "--out torn --quiet").expect(0);
        assert_same(&folder.path("whole"), &folder.path("torn"));
    }
}

fn copy(from: &Path, to: &Path) {
    let _ = fs::remove_dir_all(to);
    for (name, bytes) in contents(from) {
        let path = to.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

#[test]
fn only_what_changed_is_marked_again() {
    let folder = small_class();
    mark(&folder, "class", "--out marks").expect(0);
    let before = contents(&folder.path("marks"));
    let again = mark(&folder, "class", "--out marks").expect(0);
    assert!(again.err.contains("21 submissions marked before and unchanged"), "{}", again.err);
    assert!(before == contents(&folder.path("marks")));

    fs::copy(folder.path("class/s01.st"), folder.path("class/s66.st")).unwrap();
    fs::remove_file(folder.path("class/s02.st")).unwrap();
    let changed = mark(&folder, "class", "--out marks").expect(0);
    assert!(changed.err.contains("19 submissions marked before and unchanged"), "{}", changed.err);
    let rows = gradebook(&folder.path("marks"));
    assert_eq!(rows["s66"]["total"], "20");
    assert!(!rows.contains_key("s02"));
    // Nobody's page stays behind.
    assert!(!folder.path("marks/feedback/s02.html").exists());
    mark(&folder, "class", "--out fresh --quiet").expect(0);
    assert_same(&folder.path("fresh"), &folder.path("marks"));
}

#[test]
fn a_page_that_is_gone_is_made_again() {
    let folder = small_class();
    mark(&folder, "class", "--out marks --quiet").expect(0);
    let before = contents(&folder.path("marks"));
    fs::remove_file(folder.path("marks/feedback/s08.md")).unwrap();
    mark(&folder, "class", "--out marks --quiet").expect(0);
    assert!(before == contents(&folder.path("marks")));
}

#[test]
fn two_runs_do_not_write_to_one_folder() {
    let folder = small_class();
    fs::create_dir_all(folder.path("marks/work")).unwrap();
    let lock = fs::File::create(folder.path("marks/work/lock")).unwrap();
    lock.lock().unwrap();
    let refused = mark(&folder, "class", "--out marks").expect(2);
    assert!(refused.err.contains("somebody else is writing results"), "{}", refused.err);
    drop(lock);
    // A lock that somebody left behind who is not there any more is none.
    mark(&folder, "class", "--out marks --quiet").expect(0);
}

#[test]
fn nothing_that_is_not_ours_is_written_over() {
    let folder = Folder::new();
    folder.write_exercise();
    let refused = |out: &str| folder.run(&format!("mark lift handed-in --out {out}")).expect(2).err;
    assert!(refused("handed-in").contains("this folder is read"));
    assert!(refused("lift").contains("this folder is read"));
    fs::create_dir(folder.path("own")).unwrap();
    folder.write("own/gradebook.csv", "mine");
    assert!(refused("own").contains("gradebook.csv that is not from here"));
    assert_eq!(folder.read("own/gradebook.csv"), b"mine");
    assert_eq!(fs::read_dir(folder.path("own")).unwrap().count(), 1);
    assert!(refused("pump.st").contains("pump.st"));
    // What lies elsewhere in a folder of results stays.
    fs::create_dir(folder.path("marks")).unwrap();
    folder.write("marks/notes.txt", "mine");
    folder.run("mark lift handed-in --out marks --quiet").expect(0);
    assert_eq!(folder.read("marks/notes.txt"), b"mine");
}

#[test]
fn marks_below_a_share_can_fail_a_run() {
    let folder = Folder::new();
    folder.write_exercise();
    let run = |more: &str| folder.run(&format!("mark lift handed-in --out marks --quiet {more}"));
    run("--fail-under 0").expect(0);
    run("--fail-under 50").expect(1);
    // Dan is in the class and has handed in nothing.
    folder.run("mark lift handed-in --roster class.csv --out marks").expect(0);
    let rows = gradebook(&folder.path("marks"));
    assert_eq!(rows["dan"]["state"], "nothing handed in");
    assert_eq!(rows["ada"]["name"], "Ada");
    assert_eq!(rows["ada"]["total"], "2");
}
