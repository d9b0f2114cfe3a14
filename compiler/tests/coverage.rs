//! What images that measure coverage observe of themselves: the map of each program of `tests/coverage`.

#![allow(missing_docs, clippy::unwrap_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, fs};

use latchwork_compiler::{
    CompileOptions, compile_with,
    coverage::{ArmKind, BooleanTree, Branch, Decision, Node, Seen},
};
use latchwork_grammar::{Sources, Span};

struct Shown<'a> {
    sources: &'a Sources,
    out: String,
}

impl Shown<'_> {
    /// `7 "Pump := Start"`: line and what is written there, on one line.
    fn place(&self, span: Span) -> String {
        let file = &self.sources.file(span.file).text;
        let line = file[..span.start as usize].matches('\n').count() + 1;
        let text = self.sources.text(span).split_whitespace().collect::<Vec<_>>().join(" ");
        let short: String = text.chars().take(48).collect();
        let dots = if short == text { "" } else { "…" };
        format!("{line:3} \"{short}{dots}\"")
    }

    fn branch(&mut self, branch: &Branch) {
        writeln!(self.out, "  branch {} {}", branch.keyword, self.place(branch.span)).unwrap();
        for arm in &branch.arms {
            let kind = match &arm.kind {
                ArmKind::Group(labels) => format!("group {}", self.place(*labels)),
                other => format!("{other:?}"),
            };
            writeln!(self.out, "    {kind}: {}", seen(arm.seen)).unwrap();
        }
    }

    fn decision(&mut self, decision: &Decision) {
        let keyword = decision.keyword.as_deref().unwrap_or("-");
        let place = self.place(decision.span);
        writeln!(self.out, "  decision {} {keyword} {place}", decision.number).unwrap();
        writeln!(self.out, "    `{}` is {}", decision.text, written(&decision.tree)).unwrap();
        for (condition, number) in decision.conditions.iter().zip(0..) {
            let points = condition.points.map(|point| format!(" at point {point}")).unwrap_or_default();
            let place = self.place(condition.span);
            writeln!(self.out, "    condition {number} `{}` {place}{points}", condition.text).unwrap();
        }
        for coupling in &decision.couplings {
            let how = if coupling.strong { "are the same" } else { "share a variable" };
            writeln!(self.out, "    {} and {} {how}", coupling.first, coupling.second).unwrap();
        }
    }
}

fn seen(seen: Seen) -> String {
    match seen {
        Seen::Point(point) => format!("point {point}"),
        Seen::Outcome { decision, outcome } => format!("decision {decision} {outcome}"),
        Seen::Never => "never".to_owned(),
    }
}

fn written(tree: &BooleanTree) -> String {
    fn part(tree: &BooleanTree, number: u32) -> String {
        let of = |operand| part(tree, operand);
        match tree.nodes()[number as usize] {
            Node::Condition(condition) => condition.to_string(),
            Node::Constant(value) => value.to_string(),
            Node::Not(operand) => format!("!{}", of(operand)),
            Node::And(left, right) => format!("({} & {})", of(left), of(right)),
            Node::Or(left, right) => format!("({} | {})", of(left), of(right)),
            Node::Xor(left, right) => format!("({} ^ {})", of(left), of(right)),
            Node::Equal(left, right) => format!("({} == {})", of(left), of(right)),
        }
    }
    part(tree, tree.nodes().len() as u32 - 1)
}

fn map(name: &str, text: &str) -> String {
    let mut sources = Sources::new();
    sources.add(name, text);
    let options = CompileOptions { coverage: true, ..CompileOptions::default() };
    let compilation = compile_with(&sources, &options);
    let errors: Vec<_> = compilation.diagnostics.iter().map(|it| &it.message).collect();
    let map = compilation.coverage.unwrap_or_else(|| panic!("{name}: {errors:#?}"));
    let mut shown = Shown { sources: &sources, out: String::new() };
    writeln!(shown.out, "{} points, {} decisions", map.size.points, map.size.decisions).unwrap();
    for unit in &map.units {
        writeln!(shown.out, "\n{}", unit.name).unwrap();
        for statement in &unit.statements {
            let (seen, place) = (seen(statement.seen), shown.place(statement.span));
            writeln!(shown.out, "  statement {place}: {seen}").unwrap();
        }
        unit.branches.iter().for_each(|branch| shown.branch(branch));
        unit.decisions.iter().for_each(|decision| shown.decision(decision));
    }
    shown.out
}

#[test]
fn maps() {
    insta::glob!("coverage/*.{st,il}", |path| {
        let text = fs::read_to_string(path).unwrap();
        insta::assert_snapshot!(map(&path.file_name().unwrap().to_string_lossy(), &text));
    });
}

#[test]
fn ordinary_images_have_no_map() {
    let mut sources = Sources::new();
    sources.add("pump.st", "PROGRAM P VAR a : BOOL; END_VAR a := NOT a; END_PROGRAM");
    assert!(compile_with(&sources, &CompileOptions::default()).coverage.is_none());
    sources.add("wrong.st", "PROGRAM Q x := 1; END_PROGRAM");
    let options = CompileOptions { coverage: true, ..CompileOptions::default() };
    assert!(compile_with(&sources, &options).coverage.is_none());
}

/// More conditions than a vector has bits: values are noted one by one.
#[test]
fn very_long_decisions_have_points_instead_of_vectors() {
    for count in [64, 65] {
        let names: Vec<String> = (0..count).map(|index| format!("x{index}")).collect();
        let text = format!(
            "PROGRAM P VAR {} : BOOL; y : BOOL; END_VAR y := {}; END_PROGRAM",
            names.join(", "),
            names.join(" AND ")
        );
        let shown = map("long.st", &text);
        assert_eq!(shown.contains("at point"), count > 64, "{shown}");
        // One for the statement, two for each condition.
        let points = if count > 64 { 1 + 2 * count } else { 1 };
        assert!(shown.starts_with(&format!("{points} points, 1 decisions")), "{shown}");
    }
}
