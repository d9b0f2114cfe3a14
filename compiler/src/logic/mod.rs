//! What an image that keeps a journal notes of itself: its statements and the parts of their expressions, each with the
//! number by which the journal of the machine knows it ([`latchwork_vm::Journal`]).
//!
//! ```text
//! TypedProgram --model (unit by unit)--> Logic --lower--> noting instructions
//! ```
//!
//! It is what explanations and rungs are made of: both languages look the same here, and charts have an outline beside
//! their statements. A row of one operator such as `a AND b AND c` is one part with many operands; conversions that the
//! text does not show are left out. Where a number stands for a statement, the journal notes when it begins; for a part
//! that is read or written, its address; for a part with an elementary value, that value, unless the machine never
//! computes it (`NOT x` as an operand, for example): then it follows from the operands.

mod outline;

pub use outline::{Chart, ChartAction, ChartStep, ChartTransition, ChartUse};
pub(crate) use outline::{charts, place_charts};

use latchwork_grammar::{Span, tree::UnitKind};
use latchwork_stdlib::BlockDefinition;
use latchwork_vm::ElementaryType;

/// What an image notes of itself.
#[derive(Clone, Debug, Default)]
pub struct Logic {
    /// The units with statements, in the order of the program.
    pub units: Vec<LogicUnit>,
    /// How many numbers there are: all are below.
    pub numbers: u32,
}

/// A program, function block, function or method.
#[derive(Clone, Debug)]
pub struct LogicUnit {
    /// Its name as the image has it.
    pub name: String,
    /// Program, function block…
    pub kind: UnitKind,
    /// The name in its heading.
    pub span: Span,
    /// The compiler has made it of a program in a configuration: its statements are the connections there.
    pub stub: bool,
    /// Its body; of a chart what the compiler has made of it.
    pub statements: Vec<LogicStatement>,
    /// The chart that its body is.
    pub chart: Option<Chart>,
}

/// A statement, or what an instruction of Instruction List has become.
#[derive(Clone, Debug)]
pub struct LogicStatement {
    /// Its number in the journal.
    pub number: u32,
    /// The text that it came from: the statement; of a row of instructions all from the first operand.
    pub span: Span,
    /// Written by the user; otherwise made by the compiler, to move a chart on.
    pub written: bool,
    /// Which one.
    pub kind: LogicKind,
}

/// The statements.
#[derive(Clone, Debug)]
pub enum LogicKind {
    /// `target := value`.
    Assign {
        /// What is written.
        target: Part,
        /// The value.
        value: Part,
    },
    /// The condition of a transition, which clears if it is TRUE.
    Transition(Part),
    /// A call of a function block instance.
    Call(Box<LogicCall>),
    /// A function or method called for its effects.
    Evaluate(Part),
    /// Branches in order, then the alternative.
    If {
        /// Conditions with statements.
        branches: Vec<(Part, Vec<LogicStatement>)>,
        /// `ELSE`.
        otherwise: Vec<LogicStatement>,
    },
    /// The first group with a matching label.
    Case {
        /// The selector.
        selector: Part,
        /// Inclusive ranges with statements.
        groups: Vec<LogicGroup>,
        /// `ELSE`.
        otherwise: Vec<LogicStatement>,
    },
    /// A counted loop.
    For {
        /// The control variable.
        variable: Part,
        /// Initial value, final value, step.
        bounds: Box<[Part; 3]>,
        /// The body.
        body: Vec<LogicStatement>,
    },
    /// Tested before each pass.
    While {
        /// The condition.
        condition: Part,
        /// The body.
        body: Vec<LogicStatement>,
    },
    /// Tested after each pass.
    Repeat {
        /// The body.
        body: Vec<LogicStatement>,
        /// The condition to end.
        until: Part,
    },
    /// A jump in Instruction List or in a chart, if there is no condition or it has the wanted value.
    Jump {
        /// The label.
        label: u32,
        /// The condition and the value it must have.
        condition: Option<(Part, bool)>,
    },
    /// A place to jump to.
    Label(u32),
    /// `EXIT`.
    Exit,
    /// `CONTINUE`.
    Continue,
    /// `RETURN`.
    Return,
}

/// Inclusive ranges of label values, and the statements for them.
pub type LogicGroup = (Vec<(i128, i128)>, Vec<LogicStatement>);

/// A call of a function block instance.
#[derive(Clone, Debug)]
pub struct LogicCall {
    /// The instance; its address is noted.
    pub instance: Part,
    /// Name of its type.
    pub block: String,
    /// The block of the standard that it is; `None` for one written by the user.
    pub standard: Option<&'static BlockDefinition>,
    /// The body is run; otherwise only inputs are stored, by an input operator of Instruction List.
    pub runs: bool,
    /// `EN`.
    pub enable: Option<Part>,
    /// Inputs given.
    pub inputs: Vec<LogicInput>,
    /// In-out variables: name and argument.
    pub in_outs: Vec<(String, Part)>,
    /// Outputs taken.
    pub outputs: Vec<LogicOutput>,
    /// `ENO =>`.
    pub enable_output: Option<Part>,
}

/// An input given in a call.
#[derive(Clone, Debug)]
pub struct LogicInput {
    /// Its name.
    pub name: String,
    /// Bytes from the address of the instance.
    pub offset: u32,
    /// What is given.
    pub value: Part,
}

/// An output taken in a call.
#[derive(Clone, Debug)]
pub struct LogicOutput {
    /// Its name.
    pub name: String,
    /// Bytes from the address of the instance.
    pub offset: u32,
    /// `NOT`.
    pub negated: bool,
    /// Where it goes.
    pub target: Part,
}

/// An expression, or a variable that is written.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its number in the journal.
    pub number: u32,
    /// Its place in the text; in Instruction List the instruction or operand.
    pub span: Span,
    /// In one line, in the notation of Structured Text; cut where it is very long.
    pub text: String,
    /// What kind of value it has.
    pub value: PartValue,
    /// Bytes that the value takes.
    pub bytes: u32,
    /// What it is made of.
    pub kind: PartKind,
}

/// The kinds of values.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PartValue {
    /// An elementary type other than the strings; the journal notes its bytes.
    Elementary(ElementaryType),
    /// An enumeration, stored as a DINT: its names in the order of the values, with the values. Noted too.
    Enumeration(std::sync::Arc<[(String, i64)]>),
    /// A string, array, structure, instance or reference: not noted.
    Other,
}

impl PartValue {
    /// Whether it is BOOL.
    #[must_use]
    pub const fn is_bool(&self) -> bool {
        matches!(self, PartValue::Elementary(ElementaryType::Bool))
    }
}

/// What a part is made of.
#[derive(Clone, Debug)]
pub enum PartKind {
    /// A constant.
    Constant,
    /// A variable or a part of one; its address is noted. Values that decide where it is (subscripts) are its parts.
    Variable {
        /// Kept by the compiler between two instructions or for a chart: no variable of the text.
        hidden: bool,
        /// Subscripts that are no constants.
        subscripts: Vec<Part>,
    },
    /// An operator or function of the standard library, by its name there (`AND`, `NOT`, `GT`, `ADD`, `MAX`…).
    Operation {
        /// The name.
        name: &'static str,
        /// The operands; at least two in a row of one operator.
        operands: Vec<Part>,
    },
    /// A function or method of the user.
    Function {
        /// Its name.
        name: String,
        /// Inputs given, by name.
        inputs: Vec<(String, Part)>,
        /// In-out arguments and what is written with outputs, by name.
        outputs: Vec<(String, Part)>,
    },
    /// Something else with parts: what it reads, and what it writes by outputs and ENO.
    Other {
        /// What it reads.
        operands: Vec<Part>,
        /// What it writes.
        outputs: Vec<Part>,
    },
}

impl LogicStatement {
    /// The lists of statements directly inside.
    pub fn inner(&self) -> Vec<&[LogicStatement]> {
        match &self.kind {
            LogicKind::If { branches, otherwise } => {
                branches.iter().map(|(_, body)| body.as_slice()).chain([otherwise.as_slice()]).collect()
            }
            LogicKind::Case { groups, otherwise, .. } => {
                groups.iter().map(|(_, body)| body.as_slice()).chain([otherwise.as_slice()]).collect()
            }
            LogicKind::For { body, .. } | LogicKind::While { body, .. } | LogicKind::Repeat { body, .. } => {
                vec![body]
            }
            _ => Vec::new(),
        }
    }
}

impl LogicKind {
    /// The parts of a statement itself, not of the statements inside; what is written comes last.
    pub fn parts(&self) -> Vec<&Part> {
        match self {
            LogicKind::Assign { target, value } => vec![value, target],
            LogicKind::Transition(value) | LogicKind::Evaluate(value) => vec![value],
            LogicKind::Call(call) => {
                let inputs = call.inputs.iter().map(|input| &input.value);
                let outputs = call.outputs.iter().map(|output| &output.target);
                let in_outs = call.in_outs.iter().map(|(_, argument)| argument).chain(&call.enable_output);
                call.enable
                    .iter()
                    .chain(inputs)
                    .chain([&call.instance])
                    .chain(in_outs)
                    .chain(outputs)
                    .collect()
            }
            LogicKind::If { branches, .. } => branches.iter().map(|(condition, _)| condition).collect(),
            LogicKind::Case { selector, .. } => vec![selector],
            LogicKind::For { variable, bounds, .. } => bounds.iter().chain([variable]).collect(),
            LogicKind::While { condition, .. } => vec![condition],
            LogicKind::Repeat { until, .. } => vec![until],
            LogicKind::Jump { condition, .. } => condition.iter().map(|(condition, _)| condition).collect(),
            LogicKind::Label(_) | LogicKind::Exit | LogicKind::Continue | LogicKind::Return => Vec::new(),
        }
    }
}

impl Part {
    /// Whether it is a variable that no text declares.
    #[must_use]
    pub const fn is_hidden(&self) -> bool {
        matches!(self.kind, PartKind::Variable { hidden: true, .. })
    }

    /// The text from its first operand to its last; all of them stand in one file.
    #[must_use]
    pub fn reach(&self) -> Span {
        self.operands()
            .into_iter()
            .map(Part::reach)
            .filter(|span| span.file == self.span.file)
            .fold(self.span, Span::to)
    }

    /// What it is made of, from left to right.
    pub fn operands(&self) -> Vec<&Part> {
        match &self.kind {
            PartKind::Constant => Vec::new(),
            PartKind::Variable { subscripts: parts, .. }
            | PartKind::Operation { operands: parts, .. }
            | PartKind::Other { operands: parts, .. } => parts.iter().collect(),
            PartKind::Function { inputs, .. } => inputs.iter().map(|(_, value)| value).collect(),
        }
    }

    /// What is written while it is computed.
    pub fn outputs(&self) -> Vec<&Part> {
        match &self.kind {
            PartKind::Function { outputs, .. } => outputs.iter().map(|(_, target)| target).collect(),
            PartKind::Other { outputs, .. } => outputs.iter().collect(),
            PartKind::Constant | PartKind::Variable { .. } | PartKind::Operation { .. } => Vec::new(),
        }
    }
}
