//! Arguments of calls of user functions and function block instances: which parameter each belongs to, and
//! the rules for inputs, outputs and in-outs.
//!
//! Source: IEC 61131-3:2013, 6.6.1.4, tables 18, 20 and 42. Our choice: in a positional call the outputs at
//! the end may be left out.

use std::{collections::BTreeMap, rc::Rc};

use super::{
    Checker,
    access::Mode,
    conversion::Goal,
    describe::{STRING_CAPACITY, count},
    enable::Enable,
    operands::Operand,
};
use crate::{
    nearest::nearest,
    object_scope::derives_from,
    typed::{Access, Expression, ExpressionKind, OutputTarget},
    types::{Type, TypeId},
};
use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Argument, ArgumentKind, Ident, SectionKind},
};
use latchwork_stdlib::TypeClass;

/// Most parameters listed in a message.
const LISTED_MAX: usize = 20;

/// One argument as given.
#[derive(Clone, Debug)]
pub(crate) struct Given<'a> {
    pub(crate) kind: GivenKind<'a>,
    pub(crate) span: Span,
}

/// The forms of arguments.
#[derive(Clone, Debug)]
pub(crate) enum GivenKind<'a> {
    /// `value`
    Positional(Operand<'a>),
    /// `name := value`
    Input { name: Ident, value: Operand<'a> },
    /// `name => target`, `NOT name => target`
    Output { name: Ident, negated: bool, target: &'a tree::Expression },
}

/// A parameter of what is called.
#[derive(Clone, Debug)]
pub(crate) struct Parameter {
    /// Index of the variable or member.
    pub(crate) index: u32,
    /// Shared by the parameters of one name.
    pub(crate) name: Rc<str>,
    /// Input, output or in-out.
    pub(crate) section: SectionKind,
    pub(crate) ty: TypeId,
    /// A string in-out without a length, which takes strings of any.
    pub(crate) any_length: bool,
    /// Its declaration, for user units.
    pub(crate) span: Option<Span>,
    /// Further names of it.
    pub(crate) aliases: &'static [&'static str],
}

impl Parameter {
    fn is_named(&self, name: &str) -> bool {
        self.name.eq_ignore_ascii_case(name)
            || self.aliases.iter().any(|alias| alias.eq_ignore_ascii_case(name))
    }
}

/// What is called, for binding and for messages.
#[derive(Clone, Debug)]
pub(crate) struct Interface {
    /// With quotes: `` `Mix` ``.
    pub(crate) shown: String,
    pub(crate) parameters: Rc<[Parameter]>,
    /// Which of them are inputs for instances: a unit with many parameters may be called many times.
    pub(crate) instances: Rc<[usize]>,
    /// The declaration of the unit.
    pub(crate) span: Option<Span>,
    /// There may be more parameters, from a base with an error already reported.
    pub(crate) incomplete: bool,
    /// Inputs cannot be left out.
    pub(crate) all_inputs: bool,
}

/// Arguments bound to their parameters.
#[derive(Clone, Debug, Default)]
pub(crate) struct Bound {
    pub(crate) inputs: Vec<(u32, Expression)>,
    pub(crate) in_outs: Vec<(u32, Access)>,
    pub(crate) outputs: Vec<OutputTarget>,
    pub(crate) enable: Option<Box<Expression>>,
    pub(crate) enable_output: Option<Box<Access>>,
    /// An argument was wrong, which has been reported or will be.
    pub(crate) faulty: bool,
}

impl<'a> Checker<'a> {
    /// The arguments of a call in Structured Text.
    pub(crate) fn given<'t>(&mut self, arguments: &'t [Argument]) -> Vec<Given<'t>> {
        let mut given = Vec::with_capacity(arguments.len());
        for argument in arguments {
            let kind = match &argument.kind {
                ArgumentKind::Positional(value) => GivenKind::Positional(Operand::Written(value)),
                ArgumentKind::Input { name, value } => {
                    GivenKind::Input { name: *name, value: Operand::Written(value) }
                }
                ArgumentKind::Output { name, negated, target } => {
                    GivenKind::Output { name: *name, negated: *negated, target }
                }
                // Only calls of Instruction List have them; `instruction_arguments` has taken them out.
                ArgumentKind::InputInstructions { .. } => continue,
            };
            given.push(Given { kind, span: argument.span });
        }
        given
    }

    /// Whether arguments are given with names; `None` after a report of both forms in one call.
    pub(crate) fn is_formal(&mut self, given: &[Given<'_>]) -> Option<bool> {
        let positional = given.iter().find(|given| matches!(given.kind, GivenKind::Positional(_)));
        let formal = given.iter().find(|given| !matches!(given.kind, GivenKind::Positional(_)));
        if let (Some(positional), Some(formal)) = (positional, formal) {
            let (positional, formal) = (positional.span, formal.span);
            self.report(
                Diagnostic::error(
                    "mixed-arguments",
                    positional,
                    "one call cannot mix arguments with and without names",
                )
                .label("without a name")
                .also(formal, "with a name")
                .note("give every argument its name, or give all of them in the order of their declaration"),
            );
            return None;
        }
        Some(formal.is_some())
    }

    /// Binds arguments to the parameters of a user function or a function block; `None` after a report that
    /// leaves the call without meaning.
    pub(crate) fn bind(
        &mut self,
        interface: &Interface,
        mut given: Vec<Given<'_>>,
        span: Span,
    ) -> Option<Bound> {
        let Some(formal) = self.is_formal(&given) else {
            self.use_all(given);
            return None;
        };
        let Some(Enable { input, output }) = self.take_enable(&mut given, &interface.shown) else {
            self.use_all(given);
            return None;
        };
        let mut bound = Bound { enable: input, enable_output: output, ..Bound::default() };
        // Without spare room: a list that grows by itself begins with four.
        let outputs = given.iter().filter(|given| matches!(given.kind, GivenKind::Output { .. })).count();
        bound.inputs.reserve_exact(given.len() - outputs);
        bound.outputs.reserve_exact(outputs);
        let sound = if formal {
            self.bind_formal(interface, given, &mut bound)
        } else {
            self.bind_positional(interface, given, span, &mut bound)?
        };
        let missing: Vec<&Parameter> = interface
            .parameters
            .iter()
            .filter(|parameter| parameter.section == SectionKind::InOut || self.is_open_array(parameter.ty))
            .filter(|parameter| !bound.in_outs.iter().any(|(index, _)| *index == parameter.index))
            .filter(|parameter| !bound.inputs.iter().any(|(index, _)| *index == parameter.index))
            .collect();
        // An in-out whose argument was wrong has been reported.
        if sound && !missing.is_empty() && !self.has_error_in(span) {
            let names: Vec<String> = missing.iter().map(|parameter| parameter.name.to_string()).collect();
            let mut diagnostic = Diagnostic::error(
                "missing-in-out",
                span,
                format!("the call of {} does not pass {}", interface.shown, crate::declare::listed(&names)),
            )
            .label(if missing.iter().all(|parameter| parameter.section == SectionKind::InOut) {
                "every VAR_IN_OUT must be given at every call"
            } else {
                "every array of any bounds must be given at every call"
            });
            for parameter in missing {
                if let Some(place) = parameter.span {
                    diagnostic = diagnostic.also(place, "declared here");
                }
            }
            self.report(diagnostic);
            return None;
        }
        bound.faulty = !sound;
        Some(bound)
    }

    /// Checks arguments that belong to nothing, so that the mistakes inside them are found too and the
    /// variables in them count as used.
    pub(crate) fn use_all(&mut self, given: Vec<Given<'_>>) {
        for given in given {
            match given.kind {
                GivenKind::Positional(value) | GivenKind::Input { value, .. } => {
                    self.operand(value, None);
                }
                GivenKind::Output { target, .. } => {
                    self.infer(target, None);
                }
            }
        }
    }

    fn bind_positional(
        &mut self,
        interface: &Interface,
        given: Vec<Given<'_>>,
        span: Span,
        bound: &mut Bound,
    ) -> Option<bool> {
        let all = interface.parameters.len();
        let trailing =
            interface.parameters.iter().rev().take_while(|p| p.section == SectionKind::Output).count();
        if given.is_empty() {
            // `inst()` takes everything as it is.
            return Some(true);
        }
        if interface.incomplete {
            self.use_all(given);
            return None;
        }
        if given.len() > all || given.len() < all - trailing {
            let (least, number) = (all - trailing, given.len());
            let wanted = if least == all {
                count(all, "argument", "arguments")
            } else {
                format!("{least} to {}", count(all, "argument", "arguments"))
            };
            let mut diagnostic = Diagnostic::error(
                "argument-count",
                span,
                format!("{} takes {wanted}, here is {number}", interface.shown),
            )
            .label(if given.len() > all { "too many" } else { "too few" });
            if let Some(place) = interface.span {
                diagnostic = diagnostic.also(place, "declared here");
            }
            if all > 0 {
                let names: Vec<String> = interface.parameters.iter().map(|p| p.name.to_string()).collect();
                diagnostic = diagnostic.note(format!("in this order: {}", crate::declare::listed(&names)));
                diagnostic = diagnostic.note(if interface.all_inputs {
                    "with names (`name => variable`) any output may be left out"
                } else {
                    "with names (`name := value`) inputs may be left out"
                });
            }
            self.report(diagnostic);
            self.use_all(given);
            return None;
        }
        let mut sound = true;
        for (given, parameter) in given.into_iter().zip(&*interface.parameters) {
            let GivenKind::Positional(value) = given.kind else { continue };
            sound &= match parameter.section {
                SectionKind::Input => self.bind_input(interface, parameter, value, bound),
                SectionKind::InOut => self.bind_in_out(parameter, value, bound),
                _ => match value {
                    Operand::Written(target) => self.bind_output(parameter, false, target, bound),
                    Operand::Checked(value) => {
                        self.report_result_as_output(&value, &parameter.name);
                        false
                    }
                },
            };
        }
        Some(sound)
    }

    fn bind_formal(&mut self, interface: &Interface, given: Vec<Given<'_>>, bound: &mut Bound) -> bool {
        // A call may have few of many parameters.
        let mut places: BTreeMap<usize, Span> = BTreeMap::new();
        let mut unknown: BTreeMap<String, Span> = BTreeMap::new();
        let mut sound = true;
        for given in given {
            let (ident, is_output) = match &given.kind {
                GivenKind::Input { name, .. } => (*name, false),
                GivenKind::Output { name, .. } => (*name, true),
                GivenKind::Positional(_) => continue,
            };
            let spelling = self.text(ident.span);
            let found = interface.parameters.iter().position(|parameter| parameter.is_named(spelling));
            let parameter = found.and_then(|found| interface.parameters.get(found));
            let earlier = match found {
                Some(found) => places.insert(found, ident.span),
                None => unknown.insert(spelling.to_ascii_uppercase(), ident.span),
            };
            if let Some(first) = earlier {
                self.report_repeated(ident, first);
                sound = false;
                continue;
            }
            match (parameter, given.kind) {
                (Some(parameter), GivenKind::Input { value, .. }) => {
                    sound &= match parameter.section {
                        SectionKind::Input => self.bind_input(interface, parameter, value, bound),
                        SectionKind::InOut => self.bind_in_out(parameter, value, bound),
                        _ => {
                            self.report_wrong_arrow(ident, value.span(), false, parameter.section);
                            self.operand(value, None);
                            false
                        }
                    };
                }
                (Some(parameter), GivenKind::Output { negated, target, .. }) => {
                    sound &= if parameter.section == SectionKind::Output {
                        self.bind_output(parameter, negated, target, bound)
                    } else {
                        self.report_wrong_arrow(ident, target.span, true, parameter.section);
                        self.infer(target, None);
                        false
                    };
                }
                // Sorted out above.
                (Some(_), GivenKind::Positional(_)) => {}
                (None, kind) => {
                    if !interface.incomplete {
                        self.report_unknown_parameter(interface, ident, is_output);
                    }
                    self.use_all(vec![Given { kind, span: ident.span }]);
                    sound = false;
                }
            }
        }
        sound
    }

    /// The current result stands where an output needs a variable.
    fn report_result_as_output(&mut self, value: &Expression, name: &str) {
        if self.is_unknown(value.ty) {
            return;
        }
        self.report(
            Diagnostic::error(
                "not-a-variable",
                value.span,
                format!("`{name}` is a VAR_OUTPUT and needs a variable, not the current result"),
            )
            .label("becomes the first argument")
            .note(format!("give the arguments with names, in parentheses: `{name} => …`")),
        );
    }

    /// One parameter given twice.
    pub(super) fn report_repeated(&mut self, ident: Ident, first: Span) {
        let spelling = self.text(ident.span);
        self.report(
            Diagnostic::error(
                "repeated-argument",
                ident.span,
                format!("`{spelling}` is given twice in this call"),
            )
            .label("again")
            .also(first, "given here"),
        );
    }

    fn report_unknown_parameter(&mut self, interface: &Interface, ident: Ident, is_output: bool) {
        let spelling = self.text(ident.span);
        let names = interface.parameters.iter().map(|parameter| &*parameter.name);
        let what = if is_output { "output" } else { "input" };
        let mut diagnostic = Diagnostic::error(
            "unknown-parameter",
            ident.span,
            format!("{} has no {what} `{spelling}`", interface.shown),
        )
        .label("no such parameter");
        if let Some(place) = interface.span {
            diagnostic = diagnostic.also(place, "declared here");
        }
        let near = if self.may_search(names.len()) { nearest(spelling, names.clone()) } else { None };
        diagnostic = match near {
            Some(near) => diagnostic.note(format!("its nearest parameter is `{near}`")),
            None if names.len() == 0 => diagnostic.note("it has no parameters"),
            None if names.len() > LISTED_MAX => diagnostic,
            None => {
                let names: Vec<String> = names.map(str::to_owned).collect();
                diagnostic.note(format!("it has {}", crate::declare::listed(&names)))
            }
        };
        self.report(diagnostic);
    }

    /// `in => v` or `out := v`; the right arrow is certain.
    pub(crate) fn report_wrong_arrow(
        &mut self,
        ident: Ident,
        value: Span,
        output_arrow: bool,
        section: SectionKind,
    ) {
        let spelling = self.text(ident.span);
        let (written, right) = if output_arrow { ("=>", ":=") } else { (":=", "=>") };
        let what = match section {
            SectionKind::Output => "an output; its value goes out with `=>`",
            SectionKind::InOut => "a VAR_IN_OUT and is passed with `:=`",
            _ => "an input; its value goes in with `:=`",
        };
        let between = Span::new(ident.span.file, ident.span.end, value.start);
        let mut diagnostic = Diagnostic::error("wrong-arrow", ident.span, format!("`{spelling}` is {what}"))
            .label(format!("given with `{written}`"));
        if let Some(offset) = self.text(between).find(written) {
            let start = between.start + offset as u32;
            let arrow = Span::new(between.file, start, start + 2);
            diagnostic = diagnostic.fix(format!("write `{right}` here"), arrow, right);
        }
        self.report(diagnostic);
    }

    fn bind_input(
        &mut self,
        interface: &Interface,
        parameter: &Parameter,
        value: Operand<'_>,
        bound: &mut Bound,
    ) -> bool {
        if self.is_open_array(parameter.ty) {
            return self.bind_open_array(parameter, value, bound);
        }
        if self.is_instance(parameter.ty) {
            return self.bind_instance(interface, parameter, value, bound);
        }
        let value = self.operand(value, Some(parameter.ty));
        let goal = Goal::Input { name: &parameter.name, callee: &interface.shown, place: parameter.span };
        let value = self.convert(value, parameter.ty, &goal);
        let sound = !self.is_unknown(value.ty);
        bound.inputs.push((parameter.index, value));
        sound
    }

    fn bind_in_out(&mut self, parameter: &Parameter, value: Operand<'_>, bound: &mut Bound) -> bool {
        if self.is_open_array(parameter.ty) {
            return self.bind_open_array(parameter, value, bound);
        }
        let access = match value {
            Operand::Written(written) => self.access(written, Mode::InOut),
            Operand::Checked(value) => {
                self.report_no_in_out(parameter, &value);
                None
            }
        };
        let Some(access) = access else { return false };
        if !self.same_in_out_type(access.ty, parameter) {
            let (actual, mut formal) = (self.type_name(access.ty), self.type_name(parameter.ty));
            // Without a length it would take strings of any.
            if matches!(self.types.get(parameter.ty), Type::String { .. }) && !formal.ends_with(']') {
                formal = format!("{formal}[{STRING_CAPACITY}]");
            }
            let mut diagnostic = Diagnostic::error(
                "in-out-argument",
                access.span,
                format!(
                    "`{}` is a VAR_IN_OUT of type {formal} and cannot stand for a variable of type {actual}",
                    parameter.name
                ),
            )
            .label(actual)
            .note(if self.is_instance(parameter.ty) {
                "the called unit works on the instance itself, which has to be of this type or of one that extends it"
            } else {
                "the called unit works on the variable itself, so both types must be the same"
            });
            if let Some(place) = parameter.span {
                diagnostic = diagnostic.also(place, formal);
            }
            self.report(diagnostic);
            return false;
        }
        bound.in_outs.push((parameter.index, access));
        true
    }

    /// A value where a VAR_IN_OUT needs a variable. In Instruction List it may be a copy of one: the current
    /// result is a value, wherever it was loaded from.
    pub(super) fn report_no_in_out(&mut self, parameter: &Parameter, value: &Expression) {
        if self.is_unknown(value.ty) {
            return;
        }
        let mut diagnostic = Diagnostic::error(
            "in-out-argument",
            value.span,
            format!("`{}` is a VAR_IN_OUT and needs a variable", parameter.name),
        )
        .label("not a variable");
        if matches!(value.kind, ExpressionKind::Access(_)) {
            diagnostic =
                diagnostic.label("the current result, not the variable it was loaded from").note(format!(
                    "list all arguments: `{} := {}` between parentheses",
                    parameter.name,
                    self.text(value.span)
                ));
        }
        self.report(diagnostic);
    }

    /// The same type, a directly derived type and its base counting as one; a string parameter without a
    /// length takes strings of any length.
    fn same_in_out_type(&self, actual: TypeId, parameter: &Parameter) -> bool {
        let (actual, formal) = (self.types.underlying(actual), self.types.underlying(parameter.ty));
        if actual == formal || self.is_unknown(formal) {
            return true;
        }
        match (self.types.get(actual), self.types.get(formal)) {
            (Type::Unit(actual), Type::Unit(formal)) => derives_from(&self.units, *actual, *formal),
            (Type::String { wide, .. }, Type::String { wide: other, .. }) => {
                wide == other && parameter.any_length
            }
            _ => false,
        }
    }

    fn bind_output(
        &mut self,
        parameter: &Parameter,
        negated: bool,
        target: &tree::Expression,
        bound: &mut Bound,
    ) -> bool {
        if self.is_open_array(parameter.ty) && !negated {
            return self.bind_open_array(parameter, Operand::Written(target), bound);
        }
        let Some(access) = self.access(target, Mode::Write) else { return false };
        let bits =
            self.types.elementary_base(parameter.ty).is_some_and(|kind| TypeClass::AnyBit.accepts(kind));
        if negated && !bits {
            let type_name = self.type_name(parameter.ty);
            self.report(
                Diagnostic::error(
                    "operand-types",
                    access.span,
                    format!("NOT needs a bit string, output `{}` is {type_name}", parameter.name),
                )
                .label("cannot be inverted"),
            );
            return false;
        }
        let (from, to) = (self.types.underlying(parameter.ty), self.types.underlying(access.ty));
        if !self.converts(parameter.ty, access.ty) {
            let value = Expression {
                kind: ExpressionKind::Access(access.clone()),
                ty: parameter.ty,
                span: access.span,
            };
            self.report_output_mismatch(&value, access.ty, &parameter.name);
            return false;
        }
        let convert = from != to && self.types.elementary_base(from) != self.types.elementary_base(to)
            || matches!(self.types.get(to), Type::String { .. });
        let check_range = from != to && matches!(self.types.get(to), Type::Subrange { .. });
        bound.outputs.push(OutputTarget {
            member: parameter.index,
            negated,
            target: access,
            convert,
            check_range,
        });
        true
    }

    fn report_output_mismatch(&mut self, value: &Expression, to: TypeId, name: &str) {
        let (from, to) = (self.type_name(value.ty), self.type_name(to));
        self.report(
            Diagnostic::error(
                "type-mismatch",
                value.span,
                format!("output `{name}` is {from} and cannot go to {to}"),
            )
            .label(to)
            .note("take the output into a variable of its own type and convert that"),
        );
    }
}
