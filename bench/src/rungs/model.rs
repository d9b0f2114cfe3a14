//! The drawing model: what stands on the sheet of a unit, as the graphic symbols of a ladder diagram (IEC 61131-3:2013,
//! clause 8.2) or, where a statement is no rung, as text.
//!
//! Every element names the part of a statement whose value decides whether it conducts; nothing here knows a value.

use latchwork_compiler::logic::PartValue;
use latchwork_grammar::Span;
use latchwork_stdlib::Edge;

/// The sheet of one unit.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// Name of the unit.
    pub unit: String,
    /// `PROGRAM`, `FUNCTION_BLOCK`…
    pub kind: &'static str,
    /// What stands on it, from top to bottom.
    pub entries: Vec<Entry>,
}

/// A rung, or a statement in text.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Numbers of the statements that it stands for, in the order in which they run.
    pub statements: Vec<u32>,
    /// Their text.
    pub span: Span,
    /// How many statements it stands inside of.
    pub depth: u32,
    /// What stands in front of a rung that belongs to a chart: a transition or an action.
    pub heading: Option<String>,
    /// How it is drawn.
    pub body: Body,
}

/// The forms of entries.
#[derive(Clone, Debug)]
pub enum Body {
    /// Contacts and coils.
    Rung(Rung),
    /// A call of a function block.
    Call(CallRung),
    /// Text with values in place.
    Text(TextBody),
}

/// Text of a statement that is no rung: words of our own around a piece of the source.
#[derive(Clone, Debug, Default)]
pub struct TextBody {
    /// In front of the source.
    pub before: String,
    /// The piece of the source.
    pub source: Option<Span>,
    /// Behind it.
    pub behind: String,
    /// Places in the source with the part whose value stands behind them, in textual order.
    pub values: Vec<(Span, Operand)>,
    /// It is a label, which does nothing.
    pub label: bool,
    /// Why it is no rung, where that is not plain.
    pub reason: Option<String>,
}

/// From the left rail through a network to one or more ends.
#[derive(Clone, Debug)]
pub struct Rung {
    /// What leads to all ends.
    pub network: Network,
    /// At the right rail, one below the other; at least one.
    pub ends: Vec<Output>,
}

/// Elements between two nodes.
#[derive(Clone, Debug)]
pub enum Network {
    /// One element.
    Element(Element),
    /// One behind the other; none at all is a line.
    Series(Vec<Network>),
    /// Beside one another; never none.
    Parallel(Vec<Network>),
}

/// Something that conducts or does not.
#[derive(Clone, Debug)]
pub struct Element {
    /// What it looks like.
    pub shape: Shape,
    /// Number of the part whose value decides.
    pub part: u32,
    /// It conducts while that value is FALSE.
    pub negated: bool,
}

/// The forms of elements.
#[derive(Clone, Debug)]
pub enum Shape {
    /// A contact: normally open, or normally closed if the element is negated.
    Contact {
        /// The variable.
        name: String,
        /// A contact that senses transitions of the variable: then the value is that of the edge detector named here.
        edge: Option<(Edge, String)>,
    },
    /// TRUE or FALSE, written as such.
    Constant(bool),
    /// A compare contact.
    Compare {
        /// `>`, `<>`…; of a negated element already the opposite, unless that is said by `opposite`.
        operator: &'static str,
        /// It conducts while the comparison is not TRUE: drawn with a stroke.
        opposite: bool,
        /// Above the symbol.
        left: Operand,
        /// Below it.
        right: Operand,
    },
    /// A function with a Boolean result.
    Function {
        /// Its name.
        name: String,
        /// Its inputs.
        inputs: Vec<Operand>,
    },
}

/// Something with a value beside an element.
#[derive(Clone, Debug)]
pub struct Operand {
    /// Name of the input that it is given to; may be empty.
    pub input: String,
    /// Its text.
    pub text: String,
    /// Number of the part.
    pub part: u32,
    /// What kind of value it has.
    pub value: PartValue,
    /// Its text is its value.
    pub constant: bool,
}

/// What a rung does.
#[derive(Clone, Debug)]
pub struct Output {
    /// Which symbol.
    pub form: OutputForm,
    /// The variable, label or step.
    pub name: String,
    /// Number of the part that is written, for a coil.
    pub part: Option<u32>,
    /// Number of the statement that does it.
    pub statement: u32,
}

/// The symbols at the right rail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutputForm {
    /// `( )`: the variable is what reaches it.
    Coil,
    /// `(/)`: the variable is the opposite.
    Negated,
    /// `(S)`: the variable becomes TRUE if it is reached.
    Set,
    /// `(R)`: the variable becomes FALSE if it is reached.
    Reset,
    /// `>>`: a jump.
    Jump,
    /// `<RETURN>`.
    Return,
    /// A transition of a chart clears.
    Transition,
}

impl OutputForm {
    /// Whether it is a coil with a variable.
    #[must_use]
    pub const fn is_coil(self) -> bool {
        matches!(self, OutputForm::Coil | OutputForm::Negated | OutputForm::Set | OutputForm::Reset)
    }
}

/// A call of a function block as a rung.
#[derive(Clone, Debug)]
pub struct CallRung {
    /// The instance.
    pub instance: String,
    /// Number of its part: where the instance lies.
    pub part: u32,
    /// Its type.
    pub block: String,
    /// Pins at the left, from top to bottom.
    pub inputs: Vec<InputPin>,
    /// Pins at the right.
    pub outputs: Vec<OutputPin>,
}

/// A pin at the left.
#[derive(Clone, Debug)]
pub struct InputPin {
    /// Its name.
    pub name: String,
    /// It senses a transition.
    pub edge: Option<Edge>,
    /// What leads there.
    pub feed: Feed,
}

/// What leads to an input.
#[derive(Clone, Debug)]
pub enum Feed {
    /// From the left rail.
    Network(Network),
    /// A value.
    Value(Operand),
    /// An in-out variable.
    InOut(String),
    /// Nothing: it keeps what it has.
    Kept {
        /// Bytes from the start of the instance.
        offset: u32,
        /// Its type.
        value: PartValue,
    },
}

/// A pin at the right.
#[derive(Clone, Debug)]
pub struct OutputPin {
    /// Its name.
    pub name: String,
    /// Bytes from the start of the instance, where that is known.
    pub offset: Option<u32>,
    /// Its type.
    pub value: PartValue,
    /// The part that reads it, if the statement behind the call does.
    pub read: Option<u32>,
    /// Coils and other outputs that it leads to.
    pub ends: Vec<Output>,
    /// Where a value that is no BOOL goes.
    pub stored: Option<String>,
}

impl Network {
    /// A line.
    #[must_use]
    pub const fn line() -> Self {
        Network::Series(Vec::new())
    }

    /// Its elements, from left to right and from top to bottom.
    pub fn elements(&self) -> Vec<&Element> {
        let mut found = Vec::new();
        self.collect(&mut found);
        found
    }

    fn collect<'n>(&'n self, found: &mut Vec<&'n Element>) {
        match self {
            Network::Element(element) => found.push(element),
            Network::Series(parts) | Network::Parallel(parts) => {
                parts.iter().for_each(|part| part.collect(found));
            }
        }
    }
}

impl Body {
    /// All networks, from top to bottom.
    #[must_use]
    pub fn networks(&self) -> Vec<&Network> {
        match self {
            Body::Rung(rung) => vec![&rung.network],
            Body::Call(call) => {
                let feeds = call.inputs.iter().map(|pin| &pin.feed);
                feeds
                    .filter_map(|feed| match feed {
                        Feed::Network(network) => Some(network),
                        _ => None,
                    })
                    .collect()
            }
            Body::Text(_) => Vec::new(),
        }
    }

    /// Whether it is drawn with contacts, coils and blocks.
    #[must_use]
    pub const fn is_drawn(&self) -> bool {
        !matches!(self, Body::Text(_))
    }
}
