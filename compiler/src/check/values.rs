//! Expressions without a program around them: the values that stand as the body of a unit made for them, each with
//! what is demanded of it.

use latchwork_grammar::{
    Diagnostic, Names, Sources, Span,
    tree::{self, Body, SyntaxTree},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{Checked, Checker, conversion::Goal};
use crate::{
    scope::BodyState,
    typed::{Expression, Statement, StatementKind, TypedProgram, VariableId},
    types::{Type, UnitId},
    warnings,
};

/// What is demanded of an expression.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Demand {
    /// BOOL.
    Condition,
    /// A number, made an LREAL, or a duration, made an LTIME.
    Measure,
    /// What can be assigned to a variable, which is named at a place.
    Stored {
        /// A variable of the unit, with the same type.
        variable: VariableId,
        /// Where the real one is named.
        place: Span,
    },
    /// Any single value.
    Any,
}

/// What [`check_values`] found.
pub(crate) struct Values {
    /// The types, and the unit with its variables.
    pub(crate) program: TypedProgram,
    /// One an expression, with exactly the type that is demanded. Free of contradictions only if no diagnostic is an
    /// error.
    pub(crate) values: Vec<Option<Expression>>,
    pub(crate) diagnostics: Vec<Diagnostic>,
}

/// Checks the expressions that are the statements of the only unit of the trees. One without a demand is left out.
pub(crate) fn check_values(
    trees: &[SyntaxTree],
    demands: &[Option<Demand>],
    sources: &Sources,
    names: &mut Names,
) -> Values {
    let mut checker = Checker::new(sources, names);
    checker.collect(trees);
    checker.enter_units();
    checker.declare_types();
    checker.declare_units();
    let unit = UnitId(0);
    let body = checker.units.first().map(|unit| &unit.tree.body);
    let statements = match body {
        Some(Body::StructuredText(statements)) => statements.as_slice(),
        _ => &[],
    };
    checker.unit = Some(unit);
    let mut values = Vec::with_capacity(demands.len());
    for (statement, demand) in statements.iter().zip(demands) {
        let (tree::StatementKind::Expression(written), Some(demand)) = (&statement.kind, demand) else {
            values.push(None);
            continue;
        };
        checker.body = BodyState::default();
        values.push(Some(checker.demanded(written, *demand)));
    }
    checker.unit = None;
    checker.report_undeclared();
    warnings::warn_of_values(&mut checker);
    let Checked { program, diagnostics } = checker.finish();
    Values { program, values, diagnostics }
}

impl<'a> Checker<'a> {
    /// An expression with the type that is demanded. What it is before a conversion that nobody has written is what
    /// the warnings look at.
    fn demanded(&mut self, written: &tree::Expression, demand: Demand) -> Expression {
        let value = match demand {
            Demand::Condition => {
                let bool_type = self.elementary(E::Bool);
                self.expression_for(written, bool_type, &Goal::Condition { keyword: "a step" })
            }
            Demand::Stored { variable, place } => {
                let ty = self.units[0].variables[variable.0 as usize].kind;
                self.expression_for(written, ty, &Goal::Assignment { place })
            }
            Demand::Measure => {
                let lreal = self.elementary(E::Lreal);
                let value = self.infer(written, Some(lreal));
                if self.is_number_only(written) {
                    self.warn_integer_division(written, value.ty, lreal);
                }
                value
            }
            Demand::Any => self.infer(written, None),
        };
        let kind = StatementKind::Evaluate(value.clone());
        self.units[0].body.push(Statement { kind, span: written.span });
        match demand {
            Demand::Condition | Demand::Stored { .. } => value,
            Demand::Measure => self.measure(value),
            Demand::Any => self.single_value(value),
        }
    }

    fn measure(&mut self, value: Expression) -> Expression {
        let kind = self.types.elementary_base(value.ty);
        match kind {
            Some(kind) if TypeClass::AnyNum.accepts(kind) => self.force(value, E::Lreal),
            Some(kind) if TypeClass::AnyDuration.accepts(kind) => {
                let ltime = self.elementary(E::Ltime);
                self.convert(value, ltime, &Goal::NamedValue)
            }
            _ if self.is_unknown(value.ty) => value,
            _ => {
                let type_name = self.type_name(value.ty);
                let error = Diagnostic::error(
                    "type-mismatch",
                    value.span,
                    format!("a number or a duration is needed here, this is {type_name}"),
                )
                .label(type_name);
                let bits = kind.is_some_and(|kind| kind != E::Bool && TypeClass::AnyBit.accepts(kind));
                let written = self.text(value.span);
                self.report(match kind {
                    Some(kind) if bits => {
                        let number = match kind {
                            E::Byte => "USINT",
                            E::Word => "UINT",
                            E::Dword => "UDINT",
                            _ => "ULINT",
                        };
                        error.note(format!("convert it: `{}_TO_{number}({written})`", kind.name()))
                    }
                    _ => error,
                });
                self.unknown(value.span)
            }
        }
    }

    fn single_value(&mut self, value: Expression) -> Expression {
        let single = matches!(
            self.types.get(self.types.underlying(value.ty)),
            Type::Unknown
                | Type::Elementary(_)
                | Type::String { .. }
                | Type::Subrange { .. }
                | Type::Enumeration(_)
                | Type::NamedValues { .. }
        );
        if single {
            return value;
        }
        let type_name = self.type_name(value.ty);
        self.report(
            Diagnostic::error(
                "type-mismatch",
                value.span,
                format!("a single value is needed here, this is {type_name}"),
            )
            .label(type_name),
        );
        self.unknown(value.span)
    }
}
