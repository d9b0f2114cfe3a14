//! Help texts, and their examples, which are run as they stand.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const SUBCOMMANDS: [&str; 18] = [
    "check",
    "run",
    "test",
    "faults",
    "why",
    "sheet",
    "rungs",
    "exercise",
    "mark",
    "practise",
    "build",
    "listing",
    "rewrite",
    "format",
    "explain",
    "compliance",
    "library",
    "completions",
];

#[test]
fn a_bare_call_shows_a_card() {
    let ran = Folder::new().run("").expect(0);
    assert!(ran.out.lines().count() <= 15);
    let commands = ran.out.lines().filter(|line| line.starts_with("  latchwork ")).count();
    assert_eq!(commands, 3);
    insta::assert_snapshot!(ran.shown());
}

#[test]
fn help_lists_the_subcommands_and_exit_codes() {
    let folder = Folder::new();
    insta::assert_snapshot!(folder.run("--help").expect(0).out);
    assert!(folder.run("-h").expect(0).out.lines().count() <= 24);
    assert!(folder.run("--version").expect(0).out.starts_with("latchwork "));
}

/// The list has no line for it, but it is there.
#[test]
fn help_can_be_asked_for_by_its_name() {
    let folder = Folder::new();
    assert_eq!(folder.run("help").expect(0).out, folder.run("--help").expect(0).out);
    assert_eq!(folder.run("help run").expect(0).out, folder.run("run --help").expect(0).out);
    assert!(folder.run("help runn").expect(2).err.contains("no command `runn`"));
}

#[test]
fn each_subcommand_has_help() {
    let folder = Folder::new();
    for subcommand in SUBCOMMANDS {
        let help = folder.run(&format!("{subcommand} --help")).expect(0).out;
        insta::assert_snapshot!(format!("help_{subcommand}"), help);
        let short = folder.run(&format!("{subcommand} -h")).expect(0).out;
        assert!(short.lines().count() <= 24, "{subcommand} -h does not fit a small screen:\n{short}");
    }
}

/// The lines of an example section.
fn examples(help: &str) -> Vec<String> {
    help.lines().filter_map(|line| line.strip_prefix("  latchwork ")).map(str::to_string).collect()
}

#[test]
fn the_examples_of_the_help_texts_work() {
    for subcommand in SUBCOMMANDS {
        let folder = Folder::new();
        folder.run("build pump.st -o pump.image").expect(0);
        folder.write("wiring.steps", include_str!("files/wiring.steps"));
        folder.write_exercise();
        folder.write("seen.csv", "StartPB,StopPB,P1\npressed,,on\nreleased,pressed,off\n");
        let examples = examples(&folder.run(&format!("{subcommand} --help")).out);
        assert!(examples.len() >= 2, "{subcommand} has {} examples", examples.len());
        for example in examples {
            assert!(example.starts_with(subcommand), "{example}");
            folder.run(&example).expect(0);
        }
    }
}

#[test]
fn the_commands_of_the_card_work() {
    let folder = Folder::new();
    let card = folder.run("").out;
    for line in examples(&card) {
        // The question behind the command is separated by several blanks.
        folder.run(line.split("   ").next().unwrap()).expect(0);
    }
}

#[test]
fn a_misspelt_word_is_answered_with_the_nearest() {
    let folder = Folder::new();
    assert!(folder.run("chek pump.st").expect(2).err.contains("check"));
    assert!(folder.run("run pump.st --stimlus press.csv").expect(2).err.contains("--stimulus"));
    assert!(folder.run("explain type-mismtach").expect(2).err.contains("`type-mismatch`"));
}

#[test]
fn completion_scripts_name_every_subcommand() {
    let folder = Folder::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = folder.run(&format!("completions {shell}")).expect(0).out;
        for subcommand in SUBCOMMANDS {
            assert!(script.contains(subcommand), "{shell}: {subcommand}");
        }
    }
}

/// The script is loaded by a real shell, which then has a completion for the command.
#[cfg(unix)]
#[test]
fn bash_takes_its_completion_script() {
    let folder = Folder::new();
    let script = folder.run("completions bash").expect(0).out;
    folder.write("completion.bash", &script);
    let output = std::process::Command::new("bash")
        .args(["--norc", "-c", "set -e; source completion.bash; complete -p latchwork"])
        .current_dir(folder.path("."))
        .output();
    // A system without bash has nothing to check here.
    let Ok(output) = output else { return };
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(String::from_utf8_lossy(&output.stdout).contains("latchwork"));
}
