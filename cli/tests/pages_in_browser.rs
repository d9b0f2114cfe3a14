//! Every page in a browser: no request, no script of others, no finding of the rules for accessibility in light, dark and at
//! 400 %, and on paper; for pages with texts that would be markup if they were let.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::{
    Folder,
    browser::{assert_good, assert_good_on_paper},
};

/// Names of files are texts of others too.
const PROGRAM: &str = "<hostile-element onclick=hostile=1>.st";

/// A folder with a program, a station and procedures that say what a page must not believe.
fn hostile() -> Folder {
    let folder = Folder::new();
    folder.write(
        PROGRAM,
        "PROGRAM Main\n\
         // </code></pre></script><script>hostile = 1</script><img src=x onerror='hostile=1'>\n\
         VAR Start AT %IX0.0 : BOOL; Pump AT %QX0.0 : BOOL; Note AT %MB0 : BYTE; END_VAR\n\
         VAR Text : STRING[80]; END_VAR\n\
         IF Start OR Pump AND Text <> '<img src=x onerror=hostile=1>' THEN\n\
           Text := '</script><script>hostile = 1</script>';\n\
         END_IF;\n\
         Pump := Start AND Text <> '<iframe srcdoc=x>';\n\
         END_PROGRAM\n",
    );
    folder.write(
        "station.toml",
        "title = \"</title><script>hostile = 1</script><hostile-element>\"\n\n\
         [[device]]\nname = \"StartPB\"\nlabel = \"<img src=x onerror='hostile=1'>\"\ncontact = \"normally open\"\nterminal = \"%IX0.0\"\n\n\
         [[load]]\nname = \"P1\"\nlabel = \"\\\"><hostile-element>\"\nkind = \"motor\"\nterminal = \"%QX0.0\"\n",
    );
    folder.write(
        "press.csv",
        "time,StartPB\nT#100ms,pressed\nT#101ms,released\nT#200ms,pressed\nT#300ms,released\n",
    );
    folder.write(
        "hostile.steps",
        format!(
            "program '{PROGRAM}';\nstation 'station.toml';\n\n\
             procedure '</h3><script>hostile = 1</script><hostile-element>'\n\
               wait T#50ms; expect Pump hint '<img src=x onerror=hostile=1>';\nend_procedure\n\n\
             procedure 'fine <hostile-element onload=hostile=1>'\n  expect NOT Pump;\nend_procedure\n\n\
             procedure 'late \"><iframe srcdoc=x>'\n  expect Pump within T#100ms;\nend_procedure\n"
        ),
    );
    folder
}

#[test]
fn the_report_of_a_run() {
    let folder = hostile();
    let mut command = folder.command();
    command.args(["run", PROGRAM, "--station", "station.toml", "--stimulus", "press.csv", "--quiet"]);
    command.args(["--record", "%IX0.0,%QX0.0,Text,Note", "--report", "run.html"]);
    command.assert().success();
    assert_good(&folder.path("run.html"));
}

#[test]
fn the_report_of_a_session() {
    let folder = hostile();
    folder.run("test hostile.steps --report session.html").expect(1);
    assert_good(&folder.path("session.html"));
}

#[test]
fn the_coverage_of_a_run() {
    let folder = hostile();
    let mut command = folder.command();
    command.args(["run", PROGRAM, "--until", "T#1s", "--quiet", "--coverage-html", "coverage.html"]);
    command.assert().success();
    assert_good(&folder.path("coverage.html"));
}

#[test]
fn the_checkout_sheet() {
    let folder = hostile();
    for (name, more) in [
        ("by-hand.html", &[][..]),
        ("followed.html", &["--procedure", "hostile.steps", "--only", "fine"][..]),
    ] {
        let mut command = folder.command();
        command.args(["sheet", PROGRAM, "--station", "station.toml", "--output", name]).args(more);
        command.assert().success();
        assert_good_on_paper(&folder.path(name));
    }
}

/// Pages of students whose programs fail, do not compile or are not there, of an exercise whose texts would be markup too.
#[test]
fn the_pages_of_students() {
    let folder = hostile();
    folder.write(
        "exercise.toml",
        "title = \"</title><script>hostile = 1</script>\"\ntask = \"task.md\"\nstation = \"station.toml\"\n\
         reference = [\"reference.st\"]\n\n[points]\ncompiles = 1\n\n[[procedures]]\nfile = \"class.steps\"\n\n\
         [[interface.variable]]\nname = \"Start\"\naddress = \"%IX0.0\"\n\n[constraints]\nmust-use = [\"TON\"]\n",
    );
    folder.write(
        "task.md",
        "# <img src=x onerror=hostile=1>\n\n[a](javascript:hostile=1)\n\n| <iframe> |\n|---|\n| b |\n",
    );
    folder.write(
        "reference.st",
        "PROGRAM Main\nVAR Start AT %IX0.0 : BOOL; Pump AT %QX0.0 : BOOL; Wait : TON; END_VAR\n\
         Wait(IN := Start, PT := T#50ms);\nPump := Start AND Wait.Q;\nEND_PROGRAM\n",
    );
    folder.write(
        "class.steps",
        "program 'reference.st';\nstation 'station.toml';\n\n\
         procedure '</h3><script>hostile = 1</script><hostile-element>'\n\
           press StartPB;\n  expect P1 within T#100ms hint '<img src=x onerror=hostile=1>';\nend_procedure\n\n\
         procedure '<iframe srcdoc=x>'\n\
           press StartPB for T#90ms;\n  expect P1;\n  expect NOT P1 within T#50ms;\nend_procedure\n",
    );
    std::fs::create_dir(folder.path("class")).unwrap();
    let text = String::from_utf8(folder.read(PROGRAM)).unwrap();
    folder.write("class/fails.st", &text);
    folder.write("class/slips.st", text.replace("END_IF", "<hostile-element onclick=hostile=1>"));
    folder.write("class/answers.st", folder.read("reference.st"));
    std::fs::create_dir(folder.path("class/nothing")).unwrap();
    folder.run("mark exercise.toml class --out out").expect(0);
    for id in ["fails", "slips", "answers", "nothing"] {
        assert_good(&folder.path(&format!("out/feedback/{id}.html")));
    }
}

/// Alike submissions, one of them with texts and a name that would be markup, and a class of nothing.
#[test]
fn the_page_of_alike_submissions() {
    use latchwork_bench::alike::{CompareOptions, Handed, compare, fingerprints, page};
    let folder = hostile();
    let text = String::from_utf8(folder.read(PROGRAM)).unwrap();
    // Enough for likeness to mean something.
    let text = text.replace(
        "Pump := Start AND",
        "IF Start AND NOT Pump THEN Note := 3; ELSIF Pump THEN Note := 4; END_IF;\n\
         FOR Note := 1 TO 9 BY 2 DO Pump := Pump XOR Start; END_FOR;\nPump := Start AND",
    );
    let more = "VAR Wait : TON; END_VAR\nWait(IN := Start, PT := T#8s);\nIF Wait.Q AND NOT Start THEN Note := 5; END_IF;\nIF Start OR Pump";
    let own = text.replace("IF Start OR Pump", more);
    let class =
        [("<hostile-element onclick=hostile=1>", &own), ("b", &text), ("c", &own)].map(|(student, text)| {
            Handed {
                student: student.to_owned(),
                texts: vec![
                    (PROGRAM.to_owned(), text.clone()),
                    ("</code><img src=x onerror=hostile=1>".to_owned(), "<iframe>".to_owned()),
                ],
            }
        });
    let prints: Vec<_> = class.iter().map(|handed| fingerprints(handed, &[])).collect();
    let options = CompareOptions { listed_from: 100, ..CompareOptions::default() };
    let found = compare(&prints, None, &options);
    assert!(found.pairs.len() == 1 && found.groups.len() == 1, "{found:?}");
    let title = "</title><script>hostile = 1</script>";
    folder.write("alike.html", page(title, &prints, &found, &|member| class.get(member).cloned()));
    assert_good(&folder.path("alike.html"));
    folder.write("nothing.html", page(title, &[], &compare(&[], None, &options), &|_| None));
    assert_good(&folder.path("nothing.html"));
}

/// Reports without anything in them are pages too.
#[test]
fn reports_of_little() {
    let folder = Folder::new();
    folder.write(
        "stop.st",
        "PROGRAM P\nVAR A : ARRAY [0..1] OF INT; K : INT := 7; END_VAR\nA[K] := 1;\nEND_PROGRAM\n",
    );
    folder.run("run stop.st --quiet --report stopped.html").expect(1);
    folder.run("build pump.st -o pump.image").expect(0);
    folder.run("run pump.image --quiet --until T#100ms --report image.html").expect(0);
    folder.write("wrong.steps", "program 'nowhere.st';\nprocedure 'p'\n expect TRUE;\nend_procedure\n");
    folder.run("test wrong.steps --report refused.html").expect(2);
    folder.run("test pump.steps --report passed.html").expect(0);
    for page in ["stopped.html", "image.html", "refused.html", "passed.html"] {
        assert_good(&folder.path(page));
    }
}
