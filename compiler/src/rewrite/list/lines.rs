//! Lines of Instruction List and their layout: labels, operators and operands in columns of their own.

use std::collections::{HashMap, HashSet};

use crate::rewrite::comments::Comment;

/// Columns for a label with its colon.
const LABEL_COLUMNS: usize = 8;

/// Columns for an operator with a blank.
const OPERATOR_COLUMNS: usize = 6;

/// A place to jump to, by its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct LabelId(usize);

/// What a line says.
#[derive(Clone, Debug)]
pub(super) enum Code {
    /// Nothing: only a label, at the end of a body.
    Nothing,
    /// An operator with its operand, which may be empty.
    Instruction { operator: String, operand: String },
    /// A jump.
    Jump { operator: &'static str, label: LabelId },
    /// A line of a list of arguments.
    Text(String),
}

/// One line.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// The labels that stand here.
    pub(super) labels: Vec<LabelId>,
    /// What it says.
    pub(super) code: Code,
    /// Columns behind those of the labels.
    pub(super) indent: usize,
    /// The text it stems from.
    pub(super) from: u32,
    /// Where that ends.
    pub(super) to: u32,
    /// An empty line stands before it.
    pub(super) blank: bool,
}

impl Line {
    /// Whether nothing runs behind it unless a label stands there.
    pub(super) fn leaves(&self) -> bool {
        match &self.code {
            Code::Jump { operator, .. } => *operator == "JMP",
            Code::Instruction { operator, .. } => operator == "RET",
            _ => false,
        }
    }
}

/// The labels of a body: several may turn out to stand at the same place, and get their names at the end.
#[derive(Debug, Default)]
pub(super) struct Labels {
    /// What each is to be called, unless that is taken.
    bases: Vec<String>,
    /// The label that stands for each.
    same: Vec<usize>,
}

impl Labels {
    /// A new label.
    pub(super) fn make(&mut self, base: impl Into<String>) -> LabelId {
        self.bases.push(base.into());
        self.same.push(self.same.len());
        LabelId(self.bases.len() - 1)
    }

    /// The label that stands for one.
    fn root(&self, label: LabelId) -> LabelId {
        let mut at = label.0;
        // Each step leads to another label, and never in a circle: only roots are joined.
        while let Some(next) = self.same.get(at).filter(|next| **next != at) {
            at = *next;
        }
        LabelId(at)
    }

    /// From now on `label` means `other`.
    pub(super) fn join(&mut self, label: LabelId, other: LabelId) {
        let (label, other) = (self.root(label), self.root(other));
        if let Some(same) = self.same.get_mut(label.0) {
            *same = other.0;
        }
    }

    /// Whether a label ends what stands above it.
    fn closes(&self, label: LabelId) -> bool {
        self.bases.get(self.root(label).0).is_some_and(|base| base.ends_with("End"))
    }

    /// Whether two labels mean the same place.
    pub(super) fn is_same(&self, label: LabelId, other: LabelId) -> bool {
        self.root(label) == self.root(other)
    }

    /// The names of the labels that lines jump to, in the order of their places.
    fn names(&self, lines: &[Line], is_free: &dyn Fn(&str) -> bool) -> Vec<Option<String>> {
        let used: HashSet<usize> = lines
            .iter()
            .filter_map(|line| match line.code {
                Code::Jump { label, .. } => Some(self.root(label).0),
                _ => None,
            })
            .collect();
        let mut placed = Vec::new();
        let mut seen = HashSet::new();
        for label in lines.iter().flat_map(|line| &line.labels) {
            let root = self.root(*label).0;
            if used.contains(&root) && seen.insert(root) {
                placed.push(root);
            }
        }
        let base = |label: usize| self.bases.get(label).map_or("", String::as_str);
        let mut counts: HashMap<&str, usize> = HashMap::new();
        for label in &placed {
            *counts.entry(base(*label)).or_default() += 1;
        }
        let mut names: Vec<Option<String>> = vec![None; self.bases.len()];
        let mut given: HashSet<String> = HashSet::new();
        let mut last: HashMap<&str, u32> = HashMap::new();
        for label in placed {
            let base = base(label);
            let alone = counts.get(base) == Some(&1);
            let number = last.entry(base).or_default();
            let mut name = base.to_owned();
            // A name that ends in a digit and a number behind it would be another number.
            let gap = if base.ends_with(|last: char| last.is_ascii_digit()) { "_" } else { "" };
            let mut numbered = alone;
            while !numbered || !is_free(&name) || given.contains(&name.to_ascii_lowercase()) {
                numbered = true;
                *number += 1;
                name = format!("{base}{gap}{number}");
            }
            given.insert(name.to_ascii_lowercase());
            if let Some(slot) = names.get_mut(label) {
                *slot = Some(name);
            }
        }
        (0..names.len()).map(|at| names.get(self.root(LabelId(at)).0).cloned().flatten()).collect()
    }
}

/// The text of a body.
pub(super) fn layout(
    lines: &[Line],
    labels: &Labels,
    comments: &[Comment],
    text: &str,
    is_free: &dyn Fn(&str) -> bool,
) -> String {
    let names = labels.names(lines, is_free);
    let name = |label: LabelId| names.get(label.0).cloned().flatten();
    let attached = attach(lines, comments, text);
    let mut out: Vec<Written> = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let margin = " ".repeat(LABEL_COLUMNS + line.indent);
        let blank = line.blank && at > 0;
        // Several labels at one place have become one.
        let label =
            line.labels.iter().find_map(|label| name(*label).map(|name| (*label, format!("{name}:"))));
        let code = match &line.code {
            Code::Nothing => String::new(),
            Code::Text(text) => text.clone(),
            Code::Jump { operator, label } => instruction(operator, &name(*label).unwrap_or_default()),
            Code::Instruction { operator, operand } => instruction(operator, operand),
        };
        let above: Vec<String> =
            attached.above(at).map(|comment| format!("{margin}{}", comment.text_at(margin.len()))).collect();
        let beside: Vec<String> = attached.behind(at).map(|comment| comment.text.clone()).collect();
        let mut own_line = None;
        let code = match label {
            Some((_, label)) if code.is_empty() => label,
            Some((id, label)) if label.len() < LABEL_COLUMNS && (above.is_empty() || labels.closes(id)) => {
                format!("{label:<LABEL_COLUMNS$}{code}")
            }
            Some((id, label)) => {
                own_line = Some((label, labels.closes(id)));
                format!("{margin}{code}")
            }
            None if code.is_empty() => continue,
            None => format!("{margin}{code}"),
        };
        match own_line {
            // What a label closes stands above it, what it opens below.
            Some((label, true)) => {
                out.push(Written::plain(label));
                out.extend(blank.then(Written::blank));
            }
            Some((label, false)) => {
                out.extend(blank.then(Written::blank));
                out.push(Written::plain(label));
            }
            None => out.extend(blank.then(Written::blank)),
        }
        out.extend(above.into_iter().map(Written::plain));
        out.push(Written { code, beside });
        out.extend(
            attached
                .below(at)
                .map(|comment| Written::plain(format!("{margin}{}", comment.text_at(margin.len())))),
        );
    }
    out.extend(attached.rest.iter().map(|comment| {
        Written::plain(format!("{}{}", " ".repeat(LABEL_COLUMNS), comment.text_at(LABEL_COLUMNS)))
    }));
    aligned(&out)
}

/// A line as written, and the comments beside it.
struct Written {
    code: String,
    beside: Vec<String>,
}

impl Written {
    fn plain(code: String) -> Self {
        Written { code, beside: Vec::new() }
    }

    fn blank() -> Self {
        Written::plain(String::new())
    }
}

/// The lines below one another; comments beside lines that follow one another begin in the same column.
fn aligned(lines: &[Written]) -> String {
    let mut text = String::new();
    let mut at = 0;
    while let Some(line) = lines.get(at) {
        let run = lines.iter().skip(at).take_while(|line| !line.beside.is_empty()).count();
        let width = lines.iter().skip(at).take(run).map(|line| line.code.chars().count()).max().unwrap_or(0);
        for line in lines.iter().skip(at).take(run) {
            text.push_str(&format!("{:<width$}  {}\n", line.code, line.beside.join("  ")));
        }
        if run == 0 {
            text.push_str(&line.code);
            text.push('\n');
        }
        at += run.max(1);
    }
    text
}

fn instruction(operator: &str, operand: &str) -> String {
    if operand.is_empty() {
        return operator.to_owned();
    }
    format!("{operator:<width$} {operand}", width = OPERATOR_COLUMNS - 1)
}

/// Where comments stand: above lines, behind them, below them, and behind all.
struct Attached<'c> {
    lines: Vec<[Vec<&'c Comment>; 3]>,
    rest: Vec<&'c Comment>,
}

const ABOVE: usize = 0;
const BEHIND: usize = 1;
const BELOW: usize = 2;

impl<'c> Attached<'c> {
    fn of(&self, line: usize, place: usize) -> impl Iterator<Item = &'c Comment> + '_ {
        self.lines.get(line).and_then(|places| places.get(place)).into_iter().flatten().copied()
    }

    fn above(&self, line: usize) -> impl Iterator<Item = &'c Comment> + '_ {
        self.of(line, ABOVE)
    }

    fn behind(&self, line: usize) -> impl Iterator<Item = &'c Comment> + '_ {
        self.of(line, BEHIND)
    }

    fn below(&self, line: usize) -> impl Iterator<Item = &'c Comment> + '_ {
        self.of(line, BELOW)
    }

    fn push(&mut self, line: usize, place: usize, comment: &'c Comment) {
        match self.lines.get_mut(line).and_then(|places| places.get_mut(place)) {
            Some(list) => list.push(comment),
            None => self.rest.push(comment),
        }
    }
}

/// Finds the place of each comment.
fn attach<'c>(lines: &[Line], comments: &'c [Comment], text: &str) -> Attached<'c> {
    let mut attached =
        Attached { lines: lines.iter().map(|_| Default::default()).collect(), rest: Vec::new() };
    for comment in comments {
        let coded = |line: &Line| !matches!(line.code, Code::Nothing);
        // The last line of what ends nearest before it.
        let before = |wanted: &dyn Fn(&Line) -> bool| {
            let all = lines.iter().enumerate().filter(|(_, line)| line.to <= comment.start && wanted(line));
            all.max_by_key(|(at, line)| (line.to, *at)).map(|(at, _)| at)
        };
        if comment.behind_code
            && !comment.text.contains('\n')
            && let Some(at) = before(&coded)
            && attached.behind(at).last().is_none_or(|last| !last.ends_line)
        {
            attached.push(at, BEHIND, comment);
            continue;
        }
        // The last words of a branch stay in it.
        if closes_branch(text, comment.end)
            && let Some(at) = before(&|line| coded(line) && !line.leaves())
        {
            attached.push(at, BELOW, comment);
            continue;
        }
        // The first line of what begins nearest behind it.
        let after = lines.iter().enumerate().filter(|(_, line)| line.from >= comment.end);
        let nearest = after.min_by_key(|(at, line)| (line.from, *at)).map(|(at, _)| at);
        attached.push(nearest.unwrap_or(lines.len()), ABOVE, comment);
    }
    attached
}

/// Whether a branch or loop ends right behind a place.
fn closes_branch(text: &str, place: u32) -> bool {
    let rest = text.get(place as usize..).unwrap_or("").trim_start();
    let word: String = rest.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
    let word = word.to_ascii_uppercase();
    let units = ["PROGRAM", "FUNCTION", "FUNCTION_BLOCK", "METHOD", "ACTION", "CLASS"];
    matches!(word.as_str(), "ELSE" | "ELSIF" | "UNTIL")
        || word.strip_prefix("END_").is_some_and(|what| !units.contains(&what))
}
