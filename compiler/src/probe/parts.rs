//! The parts of an expression that are worth showing, and the statements that keep their values.
//!
//! Worth showing is what can be other than its reader thinks: variables, comparisons, operands of AND, OR, XOR, operands
//! of arithmetic, calls. A row of one operator is one thing with many operands, so that its beginnings are not shown,
//! nor is what NOT or a sign makes of a value that is shown itself.
//!
//! A part is computed once: the expression around it reads the variable that keeps it.

use std::cmp::Reverse;

use latchwork_grammar::{Sources, Span};

use crate::{
    typed::{Access, Expression, ExpressionKind, GlobalId, Root, Statement, StatementKind, Step},
    types::TypeId,
};

/// A part with the global variable that has its value.
pub(super) struct Part {
    pub(super) span: Span,
    pub(super) text: String,
    pub(super) global: GlobalId,
    pub(super) depth: u32,
    pub(super) is_input: bool,
}

/// What an expression is made of.
pub(super) struct Parts {
    /// In textual order, outer ones first.
    pub(super) parts: Vec<Part>,
    /// What keeps the values of those that are no inputs.
    pub(super) statements: Vec<Statement>,
    /// The expression itself, which reads the parts.
    pub(super) whole: Expression,
}

/// Takes an expression apart. `make` gives a new global variable of a type.
pub(super) fn parts(
    whole: &Expression,
    sources: &Sources,
    make: &mut dyn FnMut(TypeId, Span) -> GlobalId,
) -> Parts {
    let mut taker = Taker { sources, make, parts: Vec::new(), statements: Vec::new(), types: Vec::new() };
    let mut whole = whole.clone();
    taker.visit(&mut whole, 0, Around::Nothing);
    let Taker { mut parts, statements, .. } = taker;
    parts.sort_by_key(|part| (part.span.file, part.span.start, Reverse(part.span.end)));
    Parts { parts, statements, whole }
}

/// What stands directly around an expression, conversions aside.
#[derive(Clone, Copy)]
enum Around {
    /// It is the whole.
    Nothing,
    /// An operator, of which it is the operand with this number.
    Operator(&'static str, usize),
    /// Something else.
    Other,
}

/// Operators that are worked off from the left together.
const ROWS: [[&str; 2]; 2] = [["ADD", "SUB"], ["MUL", "DIV"]];

impl Around {
    /// Whether an operator inside goes on with the row outside.
    fn continues(self, operator: &str) -> bool {
        match self {
            Self::Nothing => true,
            Self::Operator(around, number) => {
                let first =
                    number == 0 && ROWS.iter().any(|row| row.contains(&around) && row.contains(&operator));
                first || (around == operator && matches!(operator, "AND" | "OR" | "XOR" | "ADD" | "MUL"))
            }
            Self::Other => false,
        }
    }
}

struct Taker<'a> {
    sources: &'a Sources,
    make: &'a mut dyn FnMut(TypeId, Span) -> GlobalId,
    parts: Vec<Part>,
    statements: Vec<Statement>,
    /// The type of each part.
    types: Vec<TypeId>,
}

impl Taker<'_> {
    /// The checker limits how deep expressions nest, so this recursion does too.
    fn visit(&mut self, value: &mut Expression, depth: u32, around: Around) {
        match &mut value.kind {
            ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) => {
                self.visit(inner, depth, around);
            }
            ExpressionKind::Access(access) => {
                for step in &mut access.steps {
                    match step {
                        Step::Index(subscripts) => {
                            subscripts
                                .iter_mut()
                                .for_each(|inner| self.visit(inner, depth + 1, Around::Other));
                        }
                        Step::Character(inner) => self.visit(inner, depth + 1, Around::Other),
                        _ => {}
                    }
                }
                match (&access.root, access.steps.is_empty()) {
                    (Root::Global(global), true) => self.input(*global, value.ty, value.span, depth),
                    _ => self.keep(value, depth),
                }
            }
            ExpressionKind::Standard { function, arguments, .. } => {
                let name = function.name;
                let hidden = around.continues(name) || matches!(name, "NOT" | "NEG");
                let inner = if hidden { depth } else { depth + 1 };
                for (number, argument) in arguments.iter_mut().enumerate() {
                    self.visit(argument, inner, Around::Operator(name, number));
                }
                if !hidden {
                    self.keep(value, depth);
                }
            }
            _ => {}
        }
    }

    fn input(&mut self, global: GlobalId, ty: TypeId, span: Span, depth: u32) {
        if self.parts.iter().all(|part| part.global != global) {
            self.add(global, ty, span, depth, true);
        }
    }

    /// Keeps the value of a part in a variable, and reads that instead.
    fn keep(&mut self, value: &mut Expression, depth: u32) {
        let text = one_line(self.sources.text(bare(self.sources, value.span)));
        let same = self.parts.iter().position(|part| same_text(&part.text, &text));
        let global = match same.and_then(|same| self.parts.get(same).zip(self.types.get(same))) {
            Some((part, ty)) if *ty == value.ty => part.global,
            // Written alike, but of another type: shown once.
            Some(_) => return,
            None => {
                let global = (self.make)(value.ty, value.span);
                self.add(global, value.ty, value.span, depth, false);
                let target = whole_variable(global, value.ty, value.span);
                let kind = StatementKind::Assign { target, value: value.clone() };
                self.statements.push(Statement { kind, span: value.span });
                global
            }
        };
        value.kind = ExpressionKind::Access(whole_variable(global, value.ty, value.span));
    }

    fn add(&mut self, global: GlobalId, ty: TypeId, span: Span, depth: u32, is_input: bool) {
        let span = bare(self.sources, span);
        let text = one_line(self.sources.text(span));
        self.parts.push(Part { span, text, global, depth, is_input });
        self.types.push(ty);
    }
}

/// An access to a whole global variable.
pub(super) fn whole_variable(global: GlobalId, ty: TypeId, span: Span) -> Access {
    Access::whole(Root::Global(global), ty, span)
}

/// A place without the parentheses around all of it.
fn bare(sources: &Sources, mut span: Span) -> Span {
    loop {
        let text = sources.text(span);
        let Some(inner) = text.strip_prefix('(').and_then(|inner| inner.strip_suffix(')')) else {
            return span;
        };
        if !balanced(inner) {
            return span;
        }
        let before = inner.len() - inner.trim_start().len();
        let after = inner.len() - inner.trim_end().len();
        // Places are those of 32 bits.
        span.start += 1 + before as u32;
        span.end -= 1 + after as u32;
    }
}

/// Whether no parenthesis closes that was not opened, as in `a) AND (b`. Texts and comments do not matter: what stands
/// between two that belong together is left alone where they say otherwise.
fn balanced(text: &str) -> bool {
    let mut open = 0u32;
    for character in text.chars() {
        match character {
            '(' => open += 1,
            ')' => match open.checked_sub(1) {
                Some(left) => open = left,
                None => return false,
            },
            _ => {}
        }
    }
    open == 0
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether two expressions are written alike. Letter case matters in texts only.
fn same_text(one: &str, other: &str) -> bool {
    one == other || (!one.contains(['\'', '"']) && one.eq_ignore_ascii_case(other))
}
