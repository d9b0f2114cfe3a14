//! `a.b.c` in an expression: members of a variable, or a name behind its namespaces. A variable or method of the
//! name comes first.

use latchwork_grammar::tree::{Expression, ExpressionKind, Ident, QualifiedName};

use super::{
    Flattener,
    table::{Kind, Member},
};

impl Flattener<'_> {
    /// The names of `a.b.c` if nothing else is in it, and `a` is a namespace and no variable.
    pub(super) fn namespace_path(&self, expression: &Expression) -> Option<Vec<Ident>> {
        let mut path = Vec::new();
        let mut current = expression;
        loop {
            match &current.kind {
                ExpressionKind::Member { base, member } => {
                    path.push(*member);
                    current = base;
                }
                ExpressionKind::Name(name) => {
                    if self.is_local(*name) || self.first_space(*name).is_none() {
                        return None;
                    }
                    path.push(Ident { name: *name, span: current.span });
                    path.reverse();
                    return Some(path);
                }
                _ => return None,
            }
        }
    }

    /// What a path that begins with a namespace stands for.
    pub(super) fn in_namespace(&mut self, path: &[Ident]) -> Expression {
        // Behind the last namespace stands the name of what is meant, and behind that its members.
        let mut space = None;
        let mut count = 0;
        for ident in path {
            let inner = match space {
                None => self.first_space(ident.name).map(|(inner, _)| inner),
                Some(outer) => match self.table.members.get(&(outer, ident.name)) {
                    Some(Member { kind: Kind::Space(inner), .. }) => Some(*inner),
                    _ => None,
                },
            };
            let Some(inner) = inner else { break };
            space = Some(inner);
            count += 1;
        }
        // A namespace alone is reported as such.
        let count = count.min(path.len().saturating_sub(1));
        let (around, rest) = path.split_at(count);
        let Some((name, members)) = rest.split_first() else {
            // A path has at least two names.
            return Expression { kind: ExpressionKind::Null, span: Default::default() };
        };
        let span = around.first().map_or(name.span, |first| first.span.to(name.span));
        let qualified = QualifiedName { path: around.to_vec(), name: *name, span };
        let Some(full) = self.qualified(&qualified) else {
            let value = Box::new(Expression { kind: ExpressionKind::Null, span });
            return Expression {
                kind: ExpressionKind::QualifiedValue { type_name: Box::new(qualified), value },
                span,
            };
        };
        let mut expression = Expression { kind: ExpressionKind::Name(full), span };
        for member in members {
            let span = expression.span.to(member.span);
            let base = Box::new(expression);
            expression = Expression { kind: ExpressionKind::Member { base, member: *member }, span };
        }
        expression
    }
}
