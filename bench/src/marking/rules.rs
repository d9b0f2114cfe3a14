//! Whether a submission keeps the constraints of an exercise: language, standard blocks, length, warnings.

use std::collections::BTreeSet;

use latchwork_compiler::rewrite::Language;
use latchwork_grammar::{
    Diagnostic, Names, Severity, Sources, TokenKind, parse, tokens,
    tree::{Body, Declaration, ProgramUnit},
};

use super::model::{Finding, FindingKind, Gravity};
use crate::exercise::Constraints;

/// What the texts of a submission are made of, as far as constraints ask.
pub(super) struct Survey {
    /// Lines of each file that are neither empty nor comment alone.
    pub(super) lines: Vec<u64>,
    /// All words outside comments, in capital letters.
    words: BTreeSet<String>,
    /// The languages of bodies that are not empty, each with the name of the first unit in it.
    languages: Vec<(Language, String)>,
}

impl Survey {
    /// Looks at all texts.
    pub(super) fn of(sources: &Sources) -> Self {
        let mut survey = Survey { lines: Vec::new(), words: BTreeSet::new(), languages: Vec::new() };
        for (file, source) in sources.iter() {
            let mut names = Names::new();
            let lexed = tokens(file, &source.text, &mut names);
            let mut lines = 0;
            let mut last = None;
            for token in &lexed.tokens {
                let line = source.lines().place(token.start).0;
                if last != Some(line) {
                    lines += 1;
                    last = Some(line);
                }
                if token.kind == TokenKind::Identifier {
                    survey.words.insert(sources.text(token.span(file)).to_ascii_uppercase());
                }
            }
            survey.lines.push(lines);
            let parsed = parse(file, &source.text, &mut names);
            survey.declarations(&parsed.tree.declarations, &names);
        }
        survey
    }

    fn declarations(&mut self, declarations: &[Declaration], names: &Names) {
        for declaration in declarations {
            match declaration {
                Declaration::Unit(unit) => self.unit(unit, names),
                Declaration::Namespace(namespace) => self.declarations(&namespace.declarations, names),
                _ => {}
            }
        }
    }

    fn unit(&mut self, unit: &ProgramUnit, names: &Names) {
        self.body(&unit.body, unit, names);
        unit.methods.iter().for_each(|method| self.unit(method, names));
    }

    fn body(&mut self, body: &Body, unit: &ProgramUnit, names: &Names) {
        let language = match body {
            Body::Empty => return,
            Body::StructuredText(_) => Language::StructuredText,
            Body::InstructionList(_) => Language::InstructionList,
            Body::SequentialFunctionChart(chart) => {
                return chart.actions.iter().for_each(|action| self.body(&action.body, unit, names));
            }
        };
        if !self.languages.iter().any(|(known, _)| *known == language) {
            self.languages.push((language, names.spelling(unit.name.name).to_owned()));
        }
    }
}

/// The constraints that are not kept, one finding each; `warnings` are all that the compiler has, whatever pragmas allow.
pub(super) fn check(constraints: &Constraints, survey: &Survey, warnings: &[Diagnostic]) -> Vec<Finding> {
    let mut findings = Vec::new();
    if let Some(wanted) = constraints.language
        && let Some((other, unit)) = survey.languages.iter().find(|(language, _)| *language != wanted)
    {
        findings.push(finding(
            "constraint-language",
            format!("the exercise asks for {}; `{unit}` is written in {}", wanted.name(), other.name()),
        ));
    }
    for name in constraints.must_use.iter().filter(|name| !survey.words.contains(name.as_str())) {
        findings.push(finding(
            "constraint-must-use",
            format!("the exercise asks for `{name}`, which is not used"),
        ));
    }
    for name in constraints.must_not_use.iter().filter(|name| survey.words.contains(name.as_str())) {
        findings.push(finding(
            "constraint-must-not-use",
            format!("`{name}` is used, which the exercise does not allow"),
        ));
    }
    let lines: u64 = survey.lines.iter().sum();
    if let Some(most) = constraints.lines_max.filter(|most| lines > *most) {
        findings.push(finding(
            "constraint-lines",
            format!(
                "there are {lines} lines that are neither empty nor comment alone; the exercise allows {most}"
            ),
        ));
    }
    let named: BTreeSet<&str> = warnings
        .iter()
        .filter(|warning| warning.severity == Severity::Warning && constraints.no_warnings.has(warning.name))
        .map(|warning| warning.name)
        .collect();
    findings.extend(named.into_iter().map(|name| {
        finding(
            "constraint-warnings",
            format!("there is a warning `{name}`, which the exercise does not allow"),
        )
    }));
    findings
}

fn finding(name: &str, message: String) -> Finding {
    Finding::without_place(FindingKind::Constraint, name, Gravity::Error, message)
}
