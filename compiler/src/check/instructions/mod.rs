//! Instruction List: the current result followed from line to line and turned into ordinary typed statements.
//!
//! The current result is kept as an expression for as long as nothing can change what it reads; `LD a`,
//! `AND b`, `ST c` become one assignment. Where a result is needed again after a statement, it is stored in a
//! hidden variable first. So both languages give the same typed tree, and nothing behind the checker knows
//! which one a body was written in.
//!
//! Source: IEC 61131-3:2013, 7.2, tables 67 to 70. Our choices where the standard is silent: the current
//! result is undefined at the start of a body, after `CAL`, and where the paths to a label bring results of
//! different types.

mod block;
mod call;
mod condition;
mod jump;
pub(crate) mod liveness;
mod operation;

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, Instruction},
};
use latchwork_vm::ElementaryType as E;

use self::liveness::Liveness;
use super::{Checker, operands::Operand};
use crate::{
    typed::{Access, Expression, ExpressionKind, Root, Statement, StatementKind},
    types::TypeId,
};
use jump::LabelState;

/// Most operators gathered in one expression before the current result is stored: later passes walk
/// expressions recursively.
const CHAIN_MAX: u32 = 60;

/// Deepest nesting of parentheses.
const NESTING_MAX: usize = 64;

/// The current result.
#[derive(Clone, Debug)]
enum Current<'a> {
    /// There is none, and why.
    Undefined(Undefined),
    /// A mistake about it was reported; what follows is silent.
    Unknown,
    /// A literal or enumeration value that takes its type from what follows.
    Written(&'a tree::Expression),
    /// A typed value.
    Value(Expression),
}

/// Why there is no current result.
#[derive(Clone, Copy, Debug)]
enum Undefined {
    Start,
    Parenthesis(Span),
    Call(Span),
    Jump(Span),
    Label { label: Span, other: Span },
}

/// The state while one body, or the instructions in one pair of parentheses, are worked off.
struct Flow<'a> {
    current: Current<'a>,
    /// Operators gathered in the current result.
    chain: u32,
    statements: Vec<Statement>,
    /// Open parentheses.
    nesting: usize,
}

/// A body with its labels.
struct Body<'a> {
    instructions: &'a [Instruction],
    labels: BTreeMap<Name, LabelState>,
    liveness: Liveness,
}

impl<'a> Checker<'a> {
    /// The statements of a body in Instruction List.
    pub(crate) fn instruction_list(&mut self, instructions: &[Instruction]) -> Vec<Statement> {
        let mut body = Body { instructions, labels: BTreeMap::new(), liveness: Liveness::of(instructions) };
        self.collect_labels(&mut body);
        let mut flow = Flow {
            current: Current::Undefined(Undefined::Start),
            chain: 0,
            statements: Vec::new(),
            nesting: 0,
        };
        let mut unreachable: Option<Span> = None;
        for (index, instruction) in instructions.iter().enumerate() {
            if let Some(label) = &instruction.label {
                unreachable = None;
                self.enter_label(&mut body, &mut flow, *label, index);
            }
            let Some(operation) = &instruction.operation else { continue };
            if let Some(before) = unreachable.take() {
                self.report(
                    Diagnostic::warning("unreachable", instruction.span, "this instruction can never run")
                        .label("no label leads here")
                        .also(before, "always leaves here"),
                );
            }
            if self.leaves(operation) {
                unreachable = Some(instruction.span);
            }
            let live = body.liveness.at(index + 1);
            self.instruction(&mut flow, Some(&mut body), operation, instruction.span, live);
        }
        self.report_left_over(&flow, instructions);
        self.drop_current(&mut flow, None);
        self.report_unused_labels(&body);
        flow.statements
    }

    /// Instructions between parentheses: the value of the last current result. `start` is the operand that
    /// stands behind the parenthesis.
    fn parenthesis<'t>(
        &mut self,
        flow: &mut Flow<'t>,
        start: Option<&'t tree::Expression>,
        instructions: &'t [Instruction],
        span: Span,
    ) -> Current<'t> {
        if flow.nesting >= NESTING_MAX {
            self.report(
                Diagnostic::error("expression-too-deep", span, "these parentheses are nested too deeply")
                    .label(format!("more than {NESTING_MAX} levels"))
                    .note("store a part of the result in a variable first"),
            );
            return Current::Unknown;
        }
        let outer = std::mem::replace(&mut flow.current, Current::Undefined(Undefined::Parenthesis(span)));
        let outer_chain = std::mem::replace(&mut flow.chain, 0);
        flow.nesting += 1;
        if let Some(start) = start {
            flow.current = self.load(start, false);
        }
        let liveness = Liveness::of(instructions);
        for (index, instruction) in instructions.iter().enumerate() {
            let Some(operation) = &instruction.operation else { continue };
            // The last result is the value of the parentheses.
            let live = index + 1 == instructions.len() || liveness.at(index + 1);
            self.instruction(flow, None, operation, instruction.span, live);
        }
        flow.nesting -= 1;
        flow.chain += outer_chain;
        std::mem::replace(&mut flow.current, outer)
    }

    /// The current result as an operand; `None` after a report, or silently if it is unknown.
    fn take_current<'t>(&mut self, flow: &mut Flow<'t>, used_by: Span) -> Option<Operand<'t>> {
        let current = std::mem::replace(&mut flow.current, Current::Unknown);
        self.operand_of(current, used_by)
    }

    /// A result as an operand; `None` after a report, or silently if it is unknown.
    fn operand_of<'t>(&mut self, current: Current<'t>, used_by: Span) -> Option<Operand<'t>> {
        match current {
            Current::Undefined(why) => {
                self.report_undefined(why, used_by);
                None
            }
            Current::Unknown => None,
            Current::Written(written) => Some(Operand::Written(written)),
            Current::Value(value) => Some(Operand::Checked(value)),
        }
    }

    fn report_undefined(&mut self, why: Undefined, used_by: Span) {
        // The instruction that was to load it may be the one that could not be read.
        if self.unit.is_some_and(|unit| self.units[unit.0 as usize].tree.damaged) {
            return;
        }
        let mut diagnostic = Diagnostic::error(
            "current-result-undefined",
            used_by,
            "there is no current result here to work on",
        );
        diagnostic = match why {
            Undefined::Start => diagnostic.label("nothing has been loaded yet"),
            Undefined::Parenthesis(span) => diagnostic
                .label("nothing has been loaded since the parenthesis")
                .also(span, "a new result begins here"),
            Undefined::Call(span) => diagnostic
                .label("the call before leaves none")
                .also(span, "after this call there is no current result"),
            Undefined::Jump(span) => diagnostic.label("never reached").also(span, "leaves here"),
            Undefined::Label { label, other } => diagnostic
                .label("its type depends on the way the program came")
                .also(label, "several ways meet at this label")
                .also(other, "the result is of another type on this way"),
        };
        self.report(diagnostic.note("begin with `LD`, which loads a value"));
    }

    /// The current result as a typed expression of the type it has by itself.
    fn settle(&mut self, operand: Operand<'_>, hint: Option<TypeId>) -> Option<Expression> {
        let value = self.operand(operand, hint);
        (!self.is_unknown(value.ty)).then_some(value)
    }

    /// Sets the current result, storing it in a hidden variable when the expression has become long.
    fn set_current(&mut self, flow: &mut Flow<'_>, value: Expression) {
        if self.is_unknown(value.ty) {
            flow.current = Current::Unknown;
            return;
        }
        flow.chain += 1;
        flow.current = Current::Value(value);
        if flow.chain > CHAIN_MAX {
            self.materialise(flow);
        }
    }

    /// Stores the current result, so that statements that follow cannot change it.
    fn materialise(&mut self, flow: &mut Flow<'_>) {
        let Current::Value(value) = &flow.current else { return };
        if self.is_settled(value) {
            return;
        }
        let value = value.clone();
        let target = self.hidden_access(value.ty, value.span);
        let read =
            Expression { kind: ExpressionKind::Access(target.clone()), ty: value.ty, span: value.span };
        let span = value.span;
        flow.statements.push(Statement { kind: StatementKind::Assign { target, value }, span });
        flow.chain = 0;
        flow.current = Current::Value(read);
    }

    /// Whether nothing can change the value of an expression: constants and hidden variables.
    fn is_settled(&self, value: &Expression) -> bool {
        match &value.kind {
            ExpressionKind::Constant(_) => true,
            ExpressionKind::Access(Access { root: Root::Variable(id), steps, .. }) => {
                let unit = self.unit.map(|unit| &self.units[unit.0 as usize]);
                steps.is_empty() && unit.is_some_and(|unit| unit.variables[id.0 as usize].hidden)
            }
            _ => false,
        }
    }

    /// A new hidden variable of the current unit.
    fn hidden_access(&mut self, kind: TypeId, span: Span) -> Access {
        let id = self.temporary(kind, span);
        Access::whole(Root::Variable(id), kind, span)
    }

    /// A current result that is computed last and goes nowhere.
    fn report_left_over<'t>(&mut self, flow: &Flow<'t>, instructions: &'t [Instruction]) {
        let Current::Value(value) = &flow.current else { return };
        let last = instructions.iter().rev().find_map(|instruction| instruction.operation.as_ref());
        let computes = matches!(
            last,
            Some(
                tree::Operation::Operator { .. }
                    | tree::Operation::Deferred { .. }
                    | tree::Operation::Function { .. }
            )
        );
        let failed = self.unit.is_some_and(|unit| {
            let tree = self.units[unit.0 as usize].tree;
            tree.damaged || self.has_error_in(tree.span)
        });
        if flow.chain == 0 || !computes || failed || has_call(value) {
            return;
        }
        let unit = self.unit.map(|unit| &self.units[unit.0 as usize]);
        // A function without any result is an error of its own.
        if unit.is_some_and(|unit| unit.result.is_some_and(|result| !unit.written.contains(result))) {
            return;
        }
        let note = match unit.filter(|unit| unit.result.is_some()) {
            Some(unit) => format!("`ST {}` gives it to the caller", self.spelling(unit.name)),
            None => "store it with `ST`".to_owned(),
        };
        self.report(
            Diagnostic::warning(
                "current-result-unused",
                value.span,
                "this result is computed and then forgotten",
            )
            .label("neither stored nor used before the end of the body")
            .note(note),
        );
    }

    /// Gives up the current result. `by` is the instruction that replaces it, if that is worth a warning.
    fn drop_current(&mut self, flow: &mut Flow<'_>, by: Option<Span>) {
        let chain = std::mem::replace(&mut flow.chain, 0);
        let Current::Value(value) = std::mem::replace(&mut flow.current, Current::Unknown) else { return };
        if has_call(&value) {
            let span = value.span;
            flow.statements.push(Statement { kind: StatementKind::Evaluate(value), span });
        } else if chain > 0
            && let Some(by) = by
        {
            self.report(
                Diagnostic::warning(
                    "current-result-unused",
                    value.span,
                    "this result is computed and then forgotten",
                )
                .label("neither stored nor used")
                .also(by, "replaced here"),
            );
        }
    }

    /// The current result as a BOOL condition.
    fn decision(&mut self, flow: &mut Flow<'_>, instruction: &str, span: Span) -> Option<Expression> {
        let operand = self.take_current(flow, span)?;
        let bool_type = self.elementary(E::Bool);
        let value = self.settle(operand, Some(bool_type))?;
        if self.types.elementary_base(value.ty) != Some(E::Bool) {
            let type_name = self.type_name(value.ty);
            self.report(
                Diagnostic::error(
                    "condition-not-boolean",
                    span,
                    format!("{instruction} needs a current result of type BOOL, it is {type_name} here"),
                )
                .label("decides by the current result")
                .also(value.span, type_name)
                .note("compare it first, for example with `NE 0`"),
            );
            return None;
        }
        Some(value)
    }
}

/// Whether evaluating an expression calls a function of the user or writes an ENO, which is more than to compute.
fn has_call(value: &Expression) -> bool {
    match &value.kind {
        ExpressionKind::Function(_) | ExpressionKind::Controlled(_) | ExpressionKind::Outputs(_) => true,
        ExpressionKind::Convert(inner) | ExpressionKind::CheckRange(inner) => has_call(inner),
        ExpressionKind::Standard { arguments, .. } => arguments.iter().any(has_call),
        ExpressionKind::Bound(bound) => has_call(&bound.dimension),
        _ => false,
    }
}
