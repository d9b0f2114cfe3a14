//! Loops that count become FOR, and decisions about the values of one variable become CASE.

use latchwork_grammar::tree::BinaryOperator as B;

use super::{
    item::{Item, ItemKind},
    structure::Tree,
    value::{Argument, Place, Value},
    wording,
};
use crate::rewrite::facts::Facts;

/// Fewest groups of a CASE.
const GROUPS_MIN: usize = 3;

/// Looks for loops that count and decisions about one variable.
pub(super) fn tidy(trees: Vec<Tree>, items: &[Item], facts: &Facts<'_>) -> Vec<Tree> {
    let mut done: Vec<Tree> = Vec::with_capacity(trees.len());
    for tree in trees {
        let tree = inside(tree, items, facts);
        match counted(done.last(), &tree, items, facts) {
            Some(counted) => {
                done.pop();
                done.push(counted);
            }
            None => done.push(tree),
        }
    }
    done
}

fn inside(tree: Tree, items: &[Item], facts: &Facts<'_>) -> Tree {
    match tree {
        Tree::If { condition, deciders, then, otherwise } => {
            let then = tidy(then, items, facts);
            let otherwise = tidy(otherwise, items, facts);
            let tree = Tree::If { condition, deciders, then, otherwise };
            choice(&tree).unwrap_or(tree)
        }
        Tree::While { condition, deciders, body } => {
            Tree::While { condition, deciders, body: tidy(body, items, facts) }
        }
        Tree::Repeat { body, until, deciders } => {
            Tree::Repeat { body: tidy(body, items, facts), until, deciders }
        }
        tree => tree,
    }
}

/// A variable set before a WHILE, tested at its head and stepped at its end, as a FOR.
fn counted(before: Option<&Tree>, tree: &Tree, items: &[Item], facts: &Facts<'_>) -> Option<Tree> {
    let Tree::Item(start) = before? else { return None };
    let Tree::While { condition, deciders, body } = tree else { return None };
    let ItemKind::Assign { target: name, value: from, attempt: false, kind: Some(ty) } =
        &items.get(*start)?.kind
    else {
        return None;
    };
    let (lower, upper) = facts.integer_range(*ty)?;
    let plain = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    let is_name =
        |value: &Value| matches!(value, Value::Access { text, .. } if text.eq_ignore_ascii_case(name));
    let Value::Binary(test, left, limit, _) = condition else { return None };
    let (last, body) = body.split_last()?;
    let Tree::Item(step_item) = last else { return None };
    let ItemKind::Assign { target, value: Value::Binary(sign, counter, step, _), attempt: false, .. } =
        &items.get(*step_item)?.kind
    else {
        return None;
    };
    let step = integer(step).filter(|step| *step > 0)?;
    let (step, beyond) = match (test, sign) {
        (B::LessOrEqual, B::Add) => (step, 0),
        (B::Less, B::Add) => (step, -1),
        (B::GreaterOrEqual, B::Subtract) => (-step, 0),
        (B::Greater, B::Subtract) => (-step, 1),
        _ => return None,
    };
    let end = integer(limit).map(|limit| limit + beyond);
    // A FOR ends where the step would leave the type; a WHILE goes on, unless it is told to end there.
    let stays =
        end.is_some_and(|end| (lower..=upper).contains(&end) && (lower..=upper).contains(&(end + step)));
    let (guard, body) = match body.split_last() {
        Some((last, rest)) if !stays => (guards(last, &is_name, step, (lower, upper))?.to_vec(), rest),
        _ => (Vec::new(), body),
    };
    let limit_stays = match &**limit {
        _ if end.is_some_and(|end| (lower..=upper).contains(&end)) => stays || !guard.is_empty(),
        Value::Access { text, reads, may_fail: false } => {
            let own = reads.iter().all(|read| matches!(read, Place::Own(_))) && !reads.is_empty();
            !guard.is_empty()
                && beyond == 0
                && own
                && !body.iter().any(|tree| minds_counting(tree, text, items))
        }
        _ => false,
    };
    if !plain || !limit_stays || !target.eq_ignore_ascii_case(name) || !is_name(left) || !is_name(counter) {
        return None;
    }
    let end = end.map_or_else(|| wording::text(limit), |end| end.to_string());
    if body.iter().any(|tree| minds_counting(tree, name, items)) {
        return None;
    }
    let by = if step == 1 { String::new() } else { format!(" BY {step}") };
    let mut parts = vec![*start];
    parts.extend(deciders);
    parts.extend(guard);
    parts.push(*step_item);
    Some(Tree::For {
        head: format!("FOR {name} := {} TO {end}{by} DO", wording::text(from)),
        items: parts,
        body: body.to_vec(),
    })
}

/// What decides an EXIT before the step where the control variable would leave its type.
fn guards<'t>(
    tree: &'t Tree,
    is_name: &dyn Fn(&Value) -> bool,
    step: i128,
    (lower, upper): (i128, i128),
) -> Option<&'t [usize]> {
    let Tree::If { condition: Value::Binary(test, left, right, _), deciders, then, otherwise } = tree else {
        return None;
    };
    let wanted = if step > 0 { (B::Greater, upper - step) } else { (B::Less, lower - step) };
    let exits = matches!(then.as_slice(), [Tree::Exit]) && otherwise.is_empty();
    (exits && is_name(left) && (*test, integer(right)?) == wanted).then_some(deciders.as_slice())
}

/// Whether a statement in a loop may write its control variable, or goes to the test without the step.
fn minds_counting(tree: &Tree, name: &str, items: &[Item]) -> bool {
    let any = |trees: &[Tree]| trees.iter().any(|tree| minds_counting(tree, name, items));
    match tree {
        Tree::Item(item) => items.get(*item).is_none_or(|item| may_write(&item.kind, name)),
        Tree::If { condition, then, otherwise, .. } => acts_on(condition) || any(then) || any(otherwise),
        Tree::While { condition, body, .. } | Tree::Repeat { body, until: condition, .. } => {
            acts_on(condition) || any_but_continue(body, name, items)
        }
        Tree::For { items: parts, body, .. } => {
            let writes = |part: &usize| items.get(*part).is_none_or(|item| may_write(&item.kind, name));
            parts.iter().any(writes) || any_but_continue(body, name, items)
        }
        Tree::Case { groups, otherwise, .. } => groups.iter().any(|(_, _, body)| any(body)) || any(otherwise),
        Tree::Continue => true,
        Tree::Exit | Tree::Return => false,
    }
}

/// The same of a loop inside, whose CONTINUE is its own.
fn any_but_continue(body: &[Tree], name: &str, items: &[Item]) -> bool {
    body.iter().any(|tree| match tree {
        Tree::Continue => false,
        Tree::If { then, otherwise, condition, .. } => {
            acts_on(condition)
                || any_but_continue(then, name, items)
                || any_but_continue(otherwise, name, items)
        }
        tree => minds_counting(tree, name, items),
    })
}

/// Whether a value may write something.
fn acts_on(value: &Value) -> bool {
    value.acts()
}

fn may_write(kind: &ItemKind, name: &str) -> bool {
    match kind {
        ItemKind::Assign { target, value, .. } => target.eq_ignore_ascii_case(name) || value.acts(),
        ItemKind::Set { targets, condition } => {
            condition.acts() || targets.iter().any(|(target, _)| target.eq_ignore_ascii_case(name))
        }
        ItemKind::Call { arguments, .. } => arguments.iter().any(|argument| match argument {
            // It may be handed over to be written.
            Argument::Positional(Value::Access { text, .. })
            | Argument::Input(_, Value::Access { text, .. }) => text.eq_ignore_ascii_case(name),
            Argument::Positional(value) | Argument::Input(_, value) => value.acts(),
            Argument::Output(text) => {
                text.rsplit("=>").next().is_some_and(|target| target.trim().eq_ignore_ascii_case(name))
            }
        }),
        ItemKind::Label(_) => false,
        ItemKind::Jump { decision, .. } | ItemKind::Return { decision } => {
            decision.as_ref().is_some_and(|(condition, _)| condition.acts())
        }
    }
}

/// An integer as written.
fn integer(value: &Value) -> Option<i128> {
    match value {
        Value::Literal(text) => {
            text.replace('_', "").parse().ok().filter(|value: &i128| value.abs() < 1 << 64)
        }
        _ => None,
    }
}

/// A chain of IF and ELSIF that compares one variable with different values, as a CASE.
fn choice(tree: &Tree) -> Option<Tree> {
    let mut groups = Vec::new();
    let mut labels: Vec<Label> = Vec::new();
    let mut selector: Option<String> = None;
    let mut at = tree;
    let otherwise = loop {
        let (condition, deciders, then, otherwise) = branch_of(at)?;
        let mut own = Vec::new();
        gather(&condition, &mut selector, &mut own)?;
        // Two groups with one value would be a mistake.
        if own.iter().enumerate().any(|(place, label)| {
            labels.iter().chain(own.get(..place).unwrap_or(&[])).any(|other| label.meets(other))
        }) {
            return None;
        }
        let text: Vec<String> = own.iter().map(Label::text).collect();
        labels.extend(own);
        groups.push((text.join(", "), deciders.to_vec(), then.to_vec()));
        let next = match otherwise {
            [next] => branch_of(next).filter(|(condition, ..)| {
                gather(condition, &mut selector.clone(), &mut Vec::new()).is_some()
            }),
            _ => None,
        };
        match (next, otherwise) {
            (Some(_), [next]) => at = next,
            _ => break otherwise.to_vec(),
        }
    };
    (groups.len() >= GROUPS_MIN).then_some(Tree::Case { selector: selector?, groups, otherwise })
}

type Branch<'t> = (Value, &'t [usize], &'t [Tree], &'t [Tree]);

/// Condition, deciders, branch and alternative of an IF. One that skips a single value has an empty branch for it.
fn branch_of(tree: &Tree) -> Option<Branch<'_>> {
    let Tree::If { condition, deciders, then, otherwise } = tree else { return None };
    match condition {
        Value::Binary(B::NotEqual, ..) if otherwise.is_empty() => {
            Some((condition.clone().opposite(), deciders, &[], then))
        }
        condition => Some((condition.clone(), deciders, then, otherwise)),
    }
}

/// A label of a CASE.
enum Label {
    /// The name of a value.
    Named(String),
    /// From one integer to another.
    Range(i128, i128),
}

impl Label {
    fn text(&self) -> String {
        match self {
            Label::Named(name) => name.clone(),
            Label::Range(first, last) if first == last => first.to_string(),
            Label::Range(first, last) => format!("{first}..{last}"),
        }
    }

    fn meets(&self, other: &Label) -> bool {
        match (self, other) {
            (Label::Range(first, last), Label::Range(from, to)) => first <= to && from <= last,
            (Label::Named(name), Label::Named(other)) => name.eq_ignore_ascii_case(other),
            // A name may stand for any number.
            _ => true,
        }
    }
}

/// The labels for which a condition about the selector is TRUE.
fn gather(condition: &Value, selector: &mut Option<String>, labels: &mut Vec<Label>) -> Option<()> {
    match condition {
        Value::Binary(B::Or, left, right, _) => {
            gather(left, selector, labels)?;
            gather(right, selector, labels)
        }
        Value::Binary(B::Equal, left, right, true) => {
            selects(left, selector)?;
            let Value::Literal(text) = &**right else { return None };
            let name = text.rsplit('#').next().unwrap_or(text);
            let named = name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_')
                && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
                && !["TRUE", "FALSE", "NULL"].iter().any(|word| word.eq_ignore_ascii_case(name));
            labels.push(match integer(right) {
                Some(value) => Label::Range(value, value),
                None if named => Label::Named(text.clone()),
                None => return None,
            });
            Some(())
        }
        Value::Binary(B::And, left, right, _) => {
            let (
                Value::Binary(B::GreaterOrEqual, low, first, true),
                Value::Binary(B::LessOrEqual, high, last, true),
            ) = (&**left, &**right)
            else {
                return None;
            };
            selects(low, selector)?;
            selects(high, selector)?;
            let (first, last) = (integer(first)?, integer(last)?);
            (first <= last).then(|| labels.push(Label::Range(first, last)))
        }
        _ => None,
    }
}

/// Whether a value is the selector, or becomes it.
fn selects(value: &Value, selector: &mut Option<String>) -> Option<()> {
    let Value::Access { text, may_fail: false, .. } = value else { return None };
    match selector {
        Some(known) => known.eq_ignore_ascii_case(text).then_some(()),
        None => {
            *selector = Some(text.clone());
            Some(())
        }
    }
}
