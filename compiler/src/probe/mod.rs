//! Probes: expressions about variables of a program that may exist only as an image, compiled into an image of their
//! own.
//!
//! A condition such as `Main.Fill.ET > T#2s AND NOT Pump` stands outside of every program. What its names mean is told
//! by an [`Outside`]. Each name becomes an input of a small program, into which the bytes of the real variable are
//! copied; the program that is watched stays as it is. The expressions go through the same checker and the same
//! lowering as those of programs, so that messages, conversions and standard functions are the same too.
//!
//! ```text
//! expressions -> paths (what the outside knows) -> synthesis (a tree) -> check -> assembly (with parts) -> lower -> Image
//! ```
//!
//! Each probe has two programs: one that only computes its result, for every scan, and one that also keeps the value
//! of every part worth showing, for the explanation of a result.

mod assembly;
mod calls;
mod keywords;
mod names;
mod outside;
mod parts;
mod paths;
mod synthesis;

pub use outside::{Outside, ProbeKind, ProgramOutside};

use latchwork_grammar::{Diagnostic, Names, Severity, Sources, Span, tree};
use latchwork_vm::{Image, Resolved, limits};

use crate::{check::values::check_values, lower::lower, typed::TypedProgram};

/// The diagnostics of probes that programs do not have: name and one line about each.
pub const CATALOGUE: &[(&str, &str)] = &[
    ("condition-call", "a condition calls something that only a program can call"),
    ("condition-name", "a name in a condition stands for nothing that can be read there"),
    ("condition-subscript", "a subscript in a condition is not a constant"),
];

/// What the value of an expression is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// A condition: BOOL.
    Bool,
    /// Something to be compared with a tolerance: a number, which becomes LREAL, or a duration, which becomes LTIME.
    Measure,
    /// As if assigned to a variable.
    Value {
        /// Its type.
        kind: ProbeKind,
        /// Where it is named, for messages.
        target: Span,
    },
    /// Any elementary value, string or value of an enumeration.
    Any,
}

/// An expression to be compiled.
#[derive(Clone, Debug)]
pub struct Probe<'a> {
    /// The expression, as the parser has made it.
    pub expression: &'a tree::Expression,
    /// What for.
    pub wanted: Wanted,
}

/// The compiled probes.
#[derive(Clone, Debug)]
pub struct ProbeImage {
    /// An image with one cyclic task, for [`latchwork_vm::Machine::run_program`].
    pub image: Image,
    /// One plan a probe, in their order.
    pub plans: Vec<ProbePlan>,
}

/// How one probe is used.
#[derive(Clone, Debug)]
pub struct ProbePlan {
    /// Number of the program that computes the result only.
    pub call: u32,
    /// Number of the program that computes the result and every part.
    pub explain: u32,
    /// What the expression reads, in textual order, each once. Another plan that reads the same path has the same
    /// place for it. To be filled before either call.
    pub inputs: Vec<ProbeInput>,
    /// The result, in the image of the probes; both programs write it. After a fault it is the one before.
    pub result: Resolved,
    /// The parts worth showing, in textual order, outer ones first.
    pub parts: Vec<ProbePart>,
}

/// Something outside that an expression reads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProbeInput {
    /// Its path, as asked of the outside: names as first written, subscripts as numbers, no spaces.
    pub path: String,
    /// What the outside said of it.
    pub kind: ProbeKind,
    /// Where the expression names it, in textual order.
    pub spans: Vec<Span>,
    /// Its place in the image of the probes.
    pub place: Resolved,
}

/// A part of an expression with a value of its own: a variable, a comparison, an operand of AND, OR or XOR, the
/// operand of an arithmetic operator, a call. Not the whole expression, unless it is but a variable; not literals, and
/// nothing twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProbePart {
    /// Where it stands first, without parentheses around it.
    pub span: Span,
    /// As written, on one line.
    pub text: String,
    /// Its value in the image of the probes.
    pub place: Resolved,
    /// How many parts it is inside of; what is a part of the whole only has 0.
    pub depth: u32,
    /// Whether it is one of the inputs, whose value is there without a call, also after a fault. The value of another
    /// part is the one before if a fault came first: parts are computed from the inside out, then from left to right.
    pub is_input: bool,
}

/// Compiles expressions into an image of their own. The places of all of them are in `sources`.
///
/// The image is missing if there is an error among the diagnostics, which are in the order of their places.
pub fn compile_probes(
    probes: &[Probe<'_>],
    outside: &dyn Outside,
    sources: &Sources,
    names: &mut Names,
) -> (Option<ProbeImage>, Vec<Diagnostic>) {
    let (image, mut diagnostics) = compiled(probes, outside, sources, names);
    diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span, diagnostic.name));
    diagnostics.dedup();
    (image, diagnostics)
}

fn compiled(
    probes: &[Probe<'_>],
    outside: &dyn Outside,
    sources: &Sources,
    names: &mut Names,
) -> (Option<ProbeImage>, Vec<Diagnostic>) {
    // Each probe has two programs.
    if let Some(first) = probes.get(limits::PROGRAM_CALLS / 2) {
        return (None, vec![too_many(first.expression.span)]);
    }
    // Without an expression there may be no source either, in which nothing could be told.
    if probes.is_empty() {
        let image = lower(&TypedProgram::default(), sources, names);
        return match image {
            Ok(image) => (Some(ProbeImage { image, plans: Vec::new() }), Vec::new()),
            Err(errors) => (None, errors),
        };
    }
    let mut collected = paths::collect(probes, outside, sources, names);
    let mut diagnostics = names::settle(&mut collected, outside, sources, names);
    let (tree, demands) = synthesis::synthesise(&collected, probes, names);
    let checked = check_values(&[tree], &demands, sources, names);
    let first = probes.first().map_or_else(Span::default, |probe| probe.expression.span);
    let found = checked.diagnostics.into_iter();
    diagnostics.extend(found.map(|diagnostic| synthesis::without_nowhere(diagnostic, first)));
    if diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error) {
        return (None, diagnostics);
    }
    let assembled = assembly::assemble(checked.program, checked.values, sources, names);
    match lower(&assembled.program, sources, names) {
        Ok(image) => {
            let plans = assembled.plans(&collected, &image);
            (Some(ProbeImage { image, plans }), diagnostics)
        }
        Err(errors) => {
            diagnostics.extend(errors);
            (None, diagnostics)
        }
    }
}

fn too_many(span: Span) -> Diagnostic {
    Diagnostic::error("program-too-large", span, "there are too many conditions and values")
        .label("one too many")
        .note(format!("there may be at most {} of them together", limits::PROGRAM_CALLS / 2))
}
