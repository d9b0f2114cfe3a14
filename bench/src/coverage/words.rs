//! Why a condition was not shown to decide, and what would show it, in words that a student understands.

use std::collections::BTreeSet;

use latchwork_compiler::coverage::{Decision, Node};

use super::{
    hint::Hint,
    independence::is_true,
    path::{Beside, Demand, Path},
};

/// Most characters of a part of a decision.
const PART_MAX: usize = 60;

/// Most conditions that are listed as they were.
const REST_MAX: usize = 8;

/// Most parts that are named one by one.
const NAMED_MAX: usize = 3;

/// Why a condition was not shown to decide, by the evaluations that were seen: at least one.
pub(super) fn reason(decision: &Decision, seen: &BTreeSet<u64>, condition: u32) -> String {
    let name = name(decision, condition);
    let paths = Path::all(&decision.tree, decision.conditions.len());
    let Some(path) = paths.get(condition as usize) else { return format!("{name} was not shown to decide") };
    let mut had = [false; 2];
    let mut deciding = [false; 2];
    let mut lets_pass = vec![false; path.beside.len()];
    for vector in seen {
        let value = usize::from(is_true(*vector, condition));
        let values = decision.tree.values(*vector);
        if let Some(had) = had.get_mut(value) {
            *had = true;
        }
        if let Some(deciding) = deciding.get_mut(value).filter(|_| path.unmasked(&values).is_some()) {
            *deciding = true;
        }
        for (beside, passes) in path.beside.iter().zip(&mut lets_pass) {
            let now = values.get(beside.node as usize).copied().unwrap_or_default();
            *passes |= !matches!(beside.demand, Demand::Value(wanted) if now != wanted);
        }
    }
    let never = |value: &str| format!("{name} was never {value}");
    match (had, deciding) {
        ([false, _], _) => never("FALSE"),
        ([_, false], _) => never("TRUE"),
        (_, [false, false]) => {
            let blocking =
                path.beside.iter().zip(&lets_pass).filter(|(_, passes)| !**passes).map(|(beside, _)| beside);
            let blocking = never_so(decision, blocking);
            if blocking.is_empty() {
                let demands = while_words(decision, path);
                format!("{name} never decided: never at the same time was it so that {demands}")
            } else {
                format!("{name} never decided: {blocking}")
            }
        }
        (_, [false, true]) => format!("{}{}", never("FALSE"), with_while(decision, path)),
        (_, [true, false]) => format!("{}{}", never("TRUE"), with_while(decision, path)),
        (_, [true, true]) => {
            let same = path.beside.iter().filter(|beside| beside.demand == Demand::Same);
            let same: Vec<String> = same.take(NAMED_MAX).map(|beside| part(decision, beside.node)).collect();
            format!("{name} was TRUE and FALSE, but never with the same value of {}", same.join(" and "))
        }
    }
}

fn with_while(decision: &Decision, path: &Path) -> String {
    match while_words(decision, path) {
        words if words.is_empty() => String::new(),
        words => format!(" while {words}"),
    }
}

/// What lets the condition decide: "`Start OR Run` was TRUE and `Stop` was FALSE".
fn while_words(decision: &Decision, path: &Path) -> String {
    let demands = path.beside.iter().filter(|beside| matches!(beside.demand, Demand::Value(_)));
    if demands.clone().count() > NAMED_MAX {
        return "the other conditions let it decide".to_owned();
    }
    let told = demands.filter_map(|beside| match beside.demand {
        Demand::Value(value) => Some(part_is(decision, beside.node, "was", value)),
        Demand::Same => None,
    });
    told.collect::<Vec<_>>().join(" and ")
}

/// "`Stop` was never FALSE and `Run` was never TRUE"
fn never_so<'b>(decision: &Decision, beside: impl Iterator<Item = &'b Beside>) -> String {
    let told = beside.filter_map(|beside| match beside.demand {
        Demand::Value(value) => Some(part_is(decision, beside.node, "was never", value)),
        Demand::Same => None,
    });
    told.take(NAMED_MAX).collect::<Vec<_>>().join(" and ")
}

/// What to try, in words.
pub(super) fn advice(decision: &Decision, hint: Hint) -> String {
    match hint {
        Hint::One { seen, tried } => {
            let changed = seen ^ tried;
            let rest = match decision.conditions.len().saturating_sub(changed.count_ones() as usize) {
                0 => String::new(),
                1..=REST_MAX => format!(" together with {}", values(decision, seen, !changed)),
                _ => " and the rest as before".to_owned(),
            };
            format!("try {}{rest}", values(decision, tried, changed))
        }
        Hint::Two(pair) => {
            let changed = pair.when_false ^ pair.when_true;
            let first = values(decision, pair.when_false, u64::MAX);
            match told(decision, pair.when_true, changed).as_slice() {
                [(name, value)] => format!("try {first}, then change only {name} to {value}"),
                _ => format!("try {first}, then {}", values(decision, pair.when_true, changed)),
            }
        }
        Hint::Impossible => {
            "no values of the conditions can show it: it never decides, so it may be superfluous".to_owned()
        }
        Hint::Unknown => "no values were found that show it; split the decision to see more".to_owned(),
    }
}

/// The values of some conditions: "`Start` TRUE, `Stop` FALSE".
fn values(decision: &Decision, vector: u64, which: u64) -> String {
    let told = told(decision, vector, which).into_iter();
    told.map(|(name, value)| format!("{name} {value}")).collect::<Vec<_>>().join(", ")
}

/// Names and values of some conditions. What stands in the decision several times and is always the same is told once.
fn told(decision: &Decision, vector: u64, which: u64) -> Vec<(String, &'static str)> {
    let numbers = (0u32..).zip(&decision.conditions).filter(|(number, _)| is_true(which, *number));
    let strong = || decision.couplings.iter().filter(|coupling| coupling.strong);
    let first = numbers.filter(|(number, _)| !strong().any(|coupling| coupling.second == *number));
    let told = first.map(|(number, condition)| {
        let coupled = strong().any(|coupling| coupling.first == number);
        let name = if coupled { format!("`{}`", condition.text) } else { name(decision, number) };
        (name, truth(is_true(vector, number)))
    });
    told.collect()
}

pub(super) const fn truth(value: bool) -> &'static str {
    if value { "TRUE" } else { "FALSE" }
}

/// A condition by its text; with its position where another one has the same text.
pub(super) fn name(decision: &Decision, condition: u32) -> String {
    let Some(own) = decision.conditions.get(condition as usize) else { return String::new() };
    let same = |other: &&latchwork_compiler::coverage::Condition| other.text.eq_ignore_ascii_case(&own.text);
    if !decision.has_vectors() || decision.conditions.iter().filter(same).count() < 2 {
        return format!("`{}`", own.text);
    }
    let before = decision.conditions.iter().take(condition as usize + 1).filter(same).count();
    format!("the {} `{}`", ordinal(before), own.text)
}

fn ordinal(number: usize) -> String {
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// "`Start` was TRUE", for a part with NOT the other value of its operand.
fn part_is(decision: &Decision, mut node: u32, verb: &str, mut value: bool) -> String {
    while let Some(Node::Not(operand)) = decision.tree.nodes().get(node as usize) {
        (node, value) = (*operand, !value);
    }
    format!("{} {verb} {}", part(decision, node), truth(value))
}

/// A part of a decision in the notation of Structured Text.
fn part(decision: &Decision, node: u32) -> String {
    let text = written(decision, node, false);
    match text.char_indices().nth(PART_MAX) {
        Some((end, _)) => format!("`{}…`", text.get(..end).unwrap_or(&text)),
        None => format!("`{text}`"),
    }
}

fn written(decision: &Decision, node: u32, inner: bool) -> String {
    let Some(part) = decision.tree.nodes().get(node as usize) else { return String::new() };
    let of = |operand: u32| written(decision, operand, true);
    let row = |left: u32, symbol: &str, right: u32| {
        let row = format!("{} {symbol} {}", of(left), of(right));
        if inner { format!("({row})") } else { row }
    };
    match *part {
        Node::Condition(number) => {
            decision.conditions.get(number as usize).map(|it| it.text.clone()).unwrap_or_default()
        }
        Node::Constant(value) => truth(value).to_owned(),
        Node::Not(operand) => format!("NOT {}", of(operand)),
        Node::And(left, right) => row(left, "AND", right),
        Node::Or(left, right) => row(left, "OR", right),
        Node::Xor(left, right) => row(left, "XOR", right),
        Node::Equal(left, right) => row(left, "=", right),
    }
}

/// The begin of a statement in one line.
pub(super) fn excerpt(text: &str) -> String {
    /// Most characters.
    const LENGTH_MAX: usize = 40;
    let mut letters = text.chars();
    // A multiple of what is shown, for blanks fall away.
    let line = one_line(&letters.by_ref().take(LENGTH_MAX * 4).collect::<String>());
    match line.char_indices().nth(LENGTH_MAX) {
        Some((end, _)) => format!("{}…", line.get(..end).unwrap_or(&line).trim_end()),
        None if letters.next().is_some() => format!("{line}…"),
        None => line,
    }
}

/// A text with one blank for every space and line end.
pub(super) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
