//! The page of a class: what it says, and that nothing of the texts of others becomes markup.

use latchwork_bench::alike::{
    CompareOptions, Comparison, Fingerprints, Handed, compare, fingerprints, page, summary,
};

/// What students of the greenhouse workshop hand in for a misting pump.
fn class() -> Vec<Handed> {
    const HEAD: &str = "PROGRAM Misting\nVAR\n  Start AT %IX0.0 : BOOL;\n  Stop AT %IX0.1 : BOOL;\n  Dry AT %IX0.2 : BOOL;\n  \
                        Pump AT %QX0.0 : BOOL;\n  Lamp AT %QX0.1 : BOOL;\n";
    let text = |more: &str, body: &str| format!("{HEAD}{more}END_VAR\n{body}END_PROGRAM\n");
    let anna = text(
        "  Wait : TON;\n  Rounds : INT;\n",
        "\n  // Seal-in\n  Pump := (Start OR Pump) AND NOT Stop AND NOT Dry;\n  Wait(IN := Pump, PT := T#8s);\n  IF Wait.Q THEN\n    \
         Pump := FALSE;\n    Rounds := Rounds + 1;\n  END_IF;\n  Lamp := Rounds >= 5 OR Dry;\n",
    );
    let ben = text(
        "  n : INT;\n  my_timer : TON;\n",
        "Pump := (Pump or start) and not Dry AND (not Stop); (* latch *)\nmy_timer(PT := T#8000ms, IN := Pump);\nif my_timer.Q \
         then Pump := false; n := n + 1; end_if;\nLamp := Dry or (n >= 5);\n",
    );
    let carla = text(
        "  Delay : TON;\n  Count : CTU;\n",
        "LD Start\nOR Pump\nANDN Stop\nANDN Dry\nST Pump\nCAL Delay(IN := Pump, PT := T#8s)\nLD Delay.Q\nR Pump\n\
         CAL Count(CU := Delay.Q, R := Stop, PV := 5)\nLD Count.Q\nOR Dry\nST Lamp\n",
    );
    let david = text(
        "  Run : BOOL;\n  Beat : TP;\n",
        "IF Start THEN\n  Run := TRUE;\nELSIF Stop OR Dry THEN\n  Run := FALSE;\nEND_IF;\nBeat(IN := Run, PT := T#8s);\nPump := Beat.Q;\n\
         Lamp := Run AND NOT Beat.Q;\n",
    );
    let eva = format!(
        "(* </code></script><script>hostile = 1</script><img src=x onerror='hostile=1'> \u{202e}desrever *)\n{}",
        anna.replace("T#8s", "T#9s")
            .replace("// Seal-in", "// <hostile-element onclick=hostile=1> \u{7} \u{9b}\tend")
            .replace("Rounds >= 5 OR Dry", "Rounds >= 6 OR Dry")
    );
    let name = "<hostile-element onclick=hostile=1>\u{202e}.st";
    [
        ("anna", vec![("misting.st", anna)]),
        ("ben", vec![("main.st", ben)]),
        ("carla", vec![("misting.il", carla)]),
        ("david", vec![("misting.st", david)]),
        ("\"><script>hostile = 1</script>eva", vec![(name, eva), ("notes.txt", "nothing to see".into())]),
        ("fritz", vec![]),
    ]
    .into_iter()
    .map(|(student, texts)| Handed {
        student: student.into(),
        texts: texts.into_iter().map(|(name, text): (&str, String)| (name.to_owned(), text)).collect(),
    })
    .collect()
}

fn compared(class: &[Handed]) -> (Vec<Fingerprints>, Comparison) {
    let prints: Vec<Fingerprints> = class.iter().map(|handed| fingerprints(handed, &[])).collect();
    let found = compare(&prints, None, &CompareOptions { listed_from: 200, ..CompareOptions::default() });
    (prints, found)
}

/// The text of a page, a line for each block.
fn told(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    let mut text = String::new();
    let mut rest = body;
    while let Some((before, behind)) = rest.split_once('<') {
        text.push_str(before);
        let (tag, after) = behind.split_once('>').unwrap();
        if tag == "/td" || tag == "/th" {
            text.push_str(" | ");
        }
        rest = after;
    }
    let lines = text.lines().map(str::trim_end).filter(|line| !line.is_empty());
    lines.map(|line| format!("{line}\n")).collect()
}

#[test]
fn what_the_page_says() {
    let class = class();
    let (prints, found) = compared(&class);
    let page = page("Misting pump", &prints, &found, &|member| class.get(member).cloned());
    insta::assert_snapshot!("page", told(&page));
    insta::assert_snapshot!("summary", summary(&prints, &found));
}

#[test]
fn nothing_of_a_text_is_markup() {
    let class = class();
    let (prints, found) = compared(&class);
    let page =
        page("</title><script>hostile = 1</script>", &prints, &found, &|member| class.get(member).cloned());
    for part in ["<script", "<img", "<hostile-element", "\u{202e}", "\u{7}", "\u{9b}", "style=\""] {
        assert!(!page.contains(part), "{part:?}");
    }
    assert!(page.contains("&lt;hostile-element onclick=hostile=1&gt;"));
    // Every stretch leads to the one of the same number in the other text, and to no other.
    let anchors: Vec<&str> = page.split(" id=\"").skip(1).map(|it| it.split('"').next().unwrap()).collect();
    let links: Vec<&str> = page.split(" href=\"#").skip(1).map(|it| it.split('"').next().unwrap()).collect();
    assert!(links.len() > 10 && links.iter().all(|link| anchors.contains(link)), "{links:?} {anchors:?}");
    let mut once = anchors.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), anchors.len());
    let summary = summary(&prints, &found);
    assert!(!summary.contains(['\u{202e}', '\u{7}']), "{summary}");
}

/// A long text is cut down to what is alike, and a member whose text is gone is named.
#[test]
fn long_texts_and_missing_ones() {
    let filler: String = (0..3000).map(|at| format!("// line {at}\n")).collect();
    let statements: String =
        (0..30).map(|at| format!("%QX0.{} := %IX0.{} AND NOT %IX1.0;\n", at % 8, at * 3 % 8)).collect();
    let text = |more: &str| format!("PROGRAM P\n{filler}{statements}{filler}{more}END_PROGRAM\n");
    let class = [("a", text("")), ("b", text("%QX1.0 := %IX1.1;\n"))]
        .map(|(student, text)| Handed { student: student.into(), texts: vec![("p.st".into(), text)] });
    let (prints, found) = compared(&class);
    let page = page("Long", &prints, &found, &|member| class.get(member).filter(|_| member == 0).cloned());
    assert!(page.len() < 60_000, "{}", page.len());
    assert!(
        page.contains("2998 lines left out") && page.contains("The text of b is not at hand."),
        "{}",
        told(&page)
    );
}
