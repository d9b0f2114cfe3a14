//! Input that is wrong in every way: an error that names the place, a code that is not 0, no panic, no hang.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::fs::File;

use bench::Folder;

#[test]
fn bytes_that_are_no_text_name_their_offset() {
    let folder = Folder::new();
    folder.write("latin.st", b"PROGRAM Main\n(* K\xfcbel *)\nEND_PROGRAM\n");
    folder.write("binary.st", b"\x7fELF\x02\x01\x01\0\0\0");
    folder.write("wide.st", b"\xff\xfeP\0R\0O\0");
    for (file, expected) in [
        ("latin.st", "byte offset 17: 16#FC is not valid UTF-8"),
        ("binary.st", "byte offset 7: a zero byte"),
        ("wide.st", "byte offset 0: this is text in UTF-16"),
    ] {
        for command in ["check", "run", "listing"] {
            let ran = folder.run(&format!("{command} {file}")).expect(2);
            assert!(ran.err.contains(file) && ran.err.contains(expected), "{}", ran.shown());
        }
        folder.run(&format!("run pump.st --station {file}")).expect(2);
        folder.run(&format!("run pump.st --stimulus {file}")).expect(2);
    }
}

#[test]
fn a_file_of_50_megabytes_is_refused_without_reading_it() {
    let folder = Folder::new();
    let sparse = |name: &str| File::create(folder.path(name)).unwrap().set_len(50 * 1024 * 1024).unwrap();
    sparse("large.st");
    sparse("large.toml");
    folder.write("text.st", "// a line of text\n".repeat(1_000_000));
    assert!(folder.run("check large.st").expect(2).err.contains("larger than 16 MiB"));
    assert!(folder.run("check text.st").expect(2).err.contains("larger than 16 MiB"));
    assert!(folder.run("run pump.st --station large.toml").expect(2).err.contains("larger than 1 MiB"));
}

#[cfg(unix)]
#[test]
fn an_endless_device_is_refused() {
    let folder = Folder::new();
    folder.run("check /dev/zero").expect(2);
    folder.run("run pump.st --stimulus /dev/zero").expect(2);
}

#[cfg(unix)]
#[test]
fn a_file_without_permission_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    std::fs::set_permissions(folder.path("pump.st"), std::fs::Permissions::from_mode(0o000)).unwrap();
    if File::open(folder.path("pump.st")).is_ok() {
        // The superuser may read everything; there is nothing to refuse.
        return;
    }
    assert!(folder.run("check pump.st").expect(2).err.contains("no permission"));
}

#[test]
fn an_endless_loop_is_a_fault() {
    let folder = Folder::new();
    folder.write(
        "endless.st",
        "PROGRAM Main\nVAR Run : BOOL := TRUE; N : DINT; END_VAR\n    WHILE Run DO\n        N := N + 1;\n    END_WHILE;\nEND_PROGRAM\n",
    );
    let ran = folder.run("run endless.st --until T#1s").expect(1);
    assert!(ran.err.contains("fault[watchdog]") && ran.err.contains("endless.st:"), "{}", ran.shown());
}

#[test]
fn damaged_images_are_refused() {
    let folder = Folder::new();
    folder.run("build pump.st -o pump.image").expect(0);
    let image = folder.read("pump.image");
    for length in (5..image.len()).step_by(image.len() / 40 + 1) {
        folder.write("cut.image", &image[..length]);
        folder.run("run cut.image").expect(2);
    }
    for place in (5..image.len()).step_by(image.len() / 40 + 1) {
        let mut flipped = image.clone();
        flipped[place] ^= 1 << (place % 8);
        folder.write("flipped.image", &flipped);
        let ran = folder.run("run flipped.image").expect(2);
        assert!(ran.err.contains("flipped.image"), "{}", ran.shown());
    }
}

#[test]
fn an_image_does_not_mix_with_source_files() {
    let folder = Folder::new();
    folder.run("build pump.st -o pump.image").expect(0);
    assert!(folder.run("run pump.image types.st").expect(2).err.contains("this is an image"));
    assert!(folder.run("build pump.image -o again.image").expect(2).err.contains("this is an image"));
}

#[test]
fn problems_of_stations_and_stimuli_are_shown_like_compile_errors() {
    let folder = Folder::new();
    folder.write("unknown.csv", "time,StratPB\n0,pressed\n");
    let ran = folder.run("run pump.st --station station.toml --stimulus unknown.csv").expect(2);
    insta::assert_snapshot!("unknown_column", ran.err);
    let station = include_str!("files/station.toml").replace("%IX0.1", "%IX0.0");
    folder.write("shared.toml", station);
    let ran = folder.run("run pump.st --station shared.toml").expect(2);
    insta::assert_snapshot!("shared_terminal", ran.err);
}

#[test]
fn ten_thousand_parentheses_are_one_error() {
    let folder = Folder::new();
    let expression = format!("{}1{}", "(".repeat(10_000), ")".repeat(10_000));
    folder.write(
        "deep.st",
        format!("PROGRAM Main\nVAR N : INT; END_VAR\n    N := {expression};\nEND_PROGRAM\n"),
    );
    let ran = folder.run("check deep.st --format json").expect(1);
    let document: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(document["diagnostics"].as_array().unwrap().len(), 1, "{}", ran.out);
    let ran = folder.run("check deep.st").expect(1);
    assert!(ran.out.len() < 4_000, "{} bytes", ran.out.len());
}

#[test]
fn a_hundred_thousand_errors_stay_readable() {
    let folder = Folder::new();
    folder.write("noise.st", "?\u{1b}]0;x\u{7} ".repeat(100_000));
    let ran = folder.run("check noise.st").expect(1);
    assert!(ran.out.len() < 200_000, "{} bytes", ran.out.len());
    assert!(ran.out.chars().all(|character| character == '\n' || !character.is_control()));
}

/// Columns far out in one line are not counted from its start again for each error.
#[test]
fn a_line_of_a_megabyte_full_of_errors_takes_no_time() {
    let folder = Folder::new();
    let statements = "N := 1.5; ".repeat(100_000);
    folder.write("line.st", format!("PROGRAM Main VAR N : INT; END_VAR {statements} END_PROGRAM\n"));
    for format in ["text", "json", "sarif"] {
        let ran = folder.run(&format!("check line.st --format {format}")).expect(1);
        assert!(ran.out.len() < 20_000_000, "{} bytes of {format}", ran.out.len());
    }
}

#[cfg(unix)]
#[test]
fn file_names_with_control_characters_do_not_reach_the_terminal() {
    let folder = Folder::new();
    let name = "a\u{1b}[2Jb.st";
    folder.write(name, "PROGRAM Main\n    x := 1;\nEND_PROGRAM\n");
    for arguments in [vec!["check", name], vec!["run", "missing\u{1b}[2J.st"], vec!["explain", "a\u{1b}[2J"]]
    {
        let output = folder.command().args(arguments).output().unwrap();
        assert!(!output.status.success());
        assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
    }
}
