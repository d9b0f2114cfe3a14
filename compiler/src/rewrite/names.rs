//! Which variables a body sees, and which of them statements may read or write.

use std::collections::{HashMap, HashSet};

use latchwork_grammar::{
    Name, Span,
    tree::{
        ArgumentKind, Call, DirectAddress, Expression, ExpressionKind, ProgramUnit, SectionKind, Statement,
        StatementKind, VariableDeclaration,
    },
};

use super::place::BodyPlace;

/// The variables of a unit by their names.
pub(super) struct Scope<'a> {
    variables: HashMap<Name, (SectionKind, &'a VariableDeclaration)>,
    /// The methods that can be called by their names alone, as far as the type itself tells.
    methods: HashSet<Name>,
    /// The unit has methods or belongs to a type that has: calls may write its variables.
    has_methods: bool,
    /// The unit inherits variables whose declarations are elsewhere.
    inherits: bool,
    /// The name of the unit: the result of a function.
    result: Name,
}

impl<'a> Scope<'a> {
    /// What a body sees.
    pub(super) fn new(place: &BodyPlace<'a>) -> Self {
        let mut variables = HashMap::new();
        let units = place.owner.into_iter().chain([place.unit]);
        for section in units.flat_map(|unit: &'a ProgramUnit| &unit.sections) {
            for variable in &section.variables {
                for name in &variable.names {
                    variables.insert(name.name, (section.kind, variable));
                }
            }
        }
        let methods =
            place.owner.unwrap_or(place.unit).methods.iter().map(|method| method.name.name).collect();
        let has_methods = place.owner.is_some() || !place.unit.methods.is_empty();
        let inherits = place.owner.unwrap_or(place.unit).extends.is_some();
        Scope { variables, methods, has_methods, inherits, result: place.unit.name.name }
    }

    /// Whether a name is a variable here, as far as the unit itself tells.
    pub(super) fn is_variable(&self, name: Name) -> bool {
        self.inherits || self.variables.contains_key(&name)
    }

    /// Whether the unit itself declares a variable of this name.
    pub(super) fn is_declared(&self, name: Name) -> bool {
        self.variables.contains_key(&name)
    }

    /// Whether a name is that of a method of the type itself.
    pub(super) fn is_method(&self, name: Name) -> bool {
        self.methods.contains(&name)
    }

    /// Whether calls by a plain name may be of methods.
    pub(super) fn has_methods(&self) -> bool {
        self.has_methods || self.inherits
    }

    /// Whether nothing but this body writes a variable while the body runs.
    pub(super) fn is_own(&self, name: Name) -> bool {
        if name == self.result && !self.variables.contains_key(&name) {
            return true;
        }
        !self.has_methods
            && self.variables.get(&name).is_some_and(|(section, declaration)| {
                declaration.location.is_none()
                    && matches!(
                        section,
                        SectionKind::Var | SectionKind::Input | SectionKind::Output | SectionKind::Temp
                    )
            })
    }

    /// The address a variable is located at.
    pub(super) fn address(&self, name: Name) -> Option<&'a DirectAddress> {
        self.variables.get(&name).and_then(|(_, declaration)| declaration.location.as_deref())
    }
}

/// The variable that an access starts at.
pub(super) fn root(expression: &Expression) -> Option<Name> {
    match &expression.kind {
        ExpressionKind::Name(name) => Some(*name),
        ExpressionKind::Member { base, .. }
        | ExpressionKind::Index { base, .. }
        | ExpressionKind::Partial { base, .. }
        | ExpressionKind::Dereference(base)
        | ExpressionKind::Parenthesized(base) => root(base),
        _ => None,
    }
}

/// Visits all expressions of a call.
fn each_argument<'e>(call: &'e Call, visit: &mut dyn FnMut(&'e Expression)) {
    visit(&call.callee);
    for argument in &call.arguments {
        match &argument.kind {
            ArgumentKind::Positional(value) | ArgumentKind::Input { value, .. } => visit(value),
            ArgumentKind::Output { target, .. } => visit(target),
            ArgumentKind::InputInstructions { .. } => {}
        }
    }
}

/// Whether an expression mentions a variable.
pub(super) fn mentions(expression: &Expression, name: Name) -> bool {
    let mut found = false;
    each_name(expression, &mut |other, _| found |= other == name);
    found
}

/// Visits the names in an expression with their places; members are none.
pub(super) fn each_name(expression: &Expression, visit: &mut dyn FnMut(Name, Span)) {
    match &expression.kind {
        ExpressionKind::Name(name) => visit(*name, expression.span),
        ExpressionKind::Member { base, .. }
        | ExpressionKind::Partial { base, .. }
        | ExpressionKind::Dereference(base)
        | ExpressionKind::Parenthesized(base) => each_name(base, visit),
        ExpressionKind::Index { base, subscripts } => {
            each_name(base, visit);
            subscripts.iter().for_each(|subscript| each_name(subscript, visit));
        }
        ExpressionKind::Unary { operand, .. } => each_name(operand, visit),
        ExpressionKind::Binary { left, right, .. } => {
            each_name(left, visit);
            each_name(right, visit);
        }
        ExpressionKind::Call(call) => each_argument(call, &mut |value| each_name(value, visit)),
        _ => {}
    }
}

/// Whether statements may write a variable that nothing but its own body writes: by assignment, as the control
/// variable of a loop, or handed to a call.
pub(super) fn may_write(statements: &[Statement], name: Name) -> bool {
    let handed = |call: &Call| {
        let mut found = false;
        each_argument(call, &mut |value| found |= root(value) == Some(name));
        found
    };
    let handed_within = |value: &Expression| {
        let mut found = false;
        each_call(value, &mut |call| found |= handed(call));
        found
    };
    statements.iter().any(|statement| match &statement.kind {
        StatementKind::Assignment { target, value, .. } => {
            root(target) == Some(name) || handed_within(value) || handed_within(target)
        }
        StatementKind::Call(call) => handed(call),
        StatementKind::If { branches, otherwise } => {
            branches.iter().any(|(condition, body)| handed_within(condition) || may_write(body, name))
                || otherwise.as_deref().is_some_and(|body| may_write(body, name))
        }
        StatementKind::Case { selector, groups, otherwise } => {
            handed_within(selector)
                || groups.iter().any(|group| may_write(&group.statements, name))
                || otherwise.as_deref().is_some_and(|body| may_write(body, name))
        }
        StatementKind::For { variable, from, to, by, body } => {
            root(variable) == Some(name)
                || [Some(from), Some(to), by.as_ref()].into_iter().flatten().any(|value| handed_within(value))
                || may_write(body, name)
        }
        StatementKind::While { condition, body } | StatementKind::Repeat { body, until: condition } => {
            handed_within(condition) || may_write(body, name)
        }
        _ => false,
    })
}

/// Visits the calls in an expression.
pub(super) fn each_call<'e>(expression: &'e Expression, visit: &mut dyn FnMut(&'e Call)) {
    match &expression.kind {
        ExpressionKind::Call(call) => {
            visit(call);
            each_argument(call, &mut |value| each_call(value, visit));
        }
        ExpressionKind::Member { base, .. }
        | ExpressionKind::Partial { base, .. }
        | ExpressionKind::Dereference(base)
        | ExpressionKind::Parenthesized(base) => each_call(base, visit),
        ExpressionKind::Index { base, subscripts } => {
            each_call(base, visit);
            subscripts.iter().for_each(|subscript| each_call(subscript, visit));
        }
        ExpressionKind::Unary { operand, .. } => each_call(operand, visit),
        ExpressionKind::Binary { left, right, .. } => {
            each_call(left, visit);
            each_call(right, visit);
        }
        _ => {}
    }
}
