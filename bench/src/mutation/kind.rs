//! The kinds of faults that are seeded into a reference.

use serde::{Deserialize, Serialize};

/// A kind of seeded fault: a mistake that is made when programs of the trade are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MutantKind {
    /// A `NOT` too many or too few at an operand; of Instruction List `LD` for `LDN`, `AND` for `ANDN`.
    ContactSwapped,
    /// The value that is assigned is turned round: `ST` for `STN`.
    CoilNegated,
    /// `AND` for `OR`.
    AndOrSwapped,
    /// The branch with which a rung holds itself is left out.
    SealInDropped,
    /// A contact in series is left out.
    FactorDropped,
    /// A branch in parallel is left out.
    BranchDropped,
    /// A number is one off or, with a point, a tenth; a duration is a tenth longer or shorter, at least by a scan.
    PresetOff,
    /// `R_TRIG` for `F_TRIG`, `R_EDGE` for `F_EDGE`.
    WrongEdge,
    /// `>=` for `>`, `<=` for `<`.
    LimitMoved,
    /// `>` for `<`, `>=` for `<=`.
    ComparisonTurned,
    /// `=` for `<>`.
    EqualitySwapped,
    /// `+` for `-`, `*` for `/`.
    ArithmeticSwapped,
    /// One of TON, TOF, TP for another.
    TimerSwapped,
    /// CTU for CTD, the inputs CU and CD of a CTUD exchanged.
    CounterSwapped,
    /// SR for RS: the other input wins.
    DominanceSwapped,
    /// `S` for `R`.
    SetResetSwapped,
    /// A statement or instruction that does something is missing.
    StatementDeleted,
    /// Two neighbours, of which one works on what the other writes, stand the other way round.
    StatementsSwapped,
    /// The condition of an IF, of a loop, of a transition or of a jump is turned round.
    ConditionNegated,
    /// The reset input of a block is not connected.
    ResetLeftOut,
    /// `TRUE` for `FALSE`.
    TruthSwapped,
    /// Another output of the same type is written.
    OutputReplaced,
    /// Another input of the same type is read.
    InputReplaced,
    /// Another value of an enumeration.
    ValueReplaced,
    /// Variables are not retained any more.
    RetainDropped,
}

impl MutantKind {
    /// All of them, in the order in which they are listed.
    pub const ALL: [MutantKind; 25] = [
        MutantKind::ContactSwapped,
        MutantKind::CoilNegated,
        MutantKind::AndOrSwapped,
        MutantKind::SealInDropped,
        MutantKind::FactorDropped,
        MutantKind::BranchDropped,
        MutantKind::PresetOff,
        MutantKind::WrongEdge,
        MutantKind::LimitMoved,
        MutantKind::ComparisonTurned,
        MutantKind::EqualitySwapped,
        MutantKind::ArithmeticSwapped,
        MutantKind::TimerSwapped,
        MutantKind::CounterSwapped,
        MutantKind::DominanceSwapped,
        MutantKind::SetResetSwapped,
        MutantKind::StatementDeleted,
        MutantKind::StatementsSwapped,
        MutantKind::ConditionNegated,
        MutantKind::ResetLeftOut,
        MutantKind::TruthSwapped,
        MutantKind::OutputReplaced,
        MutantKind::InputReplaced,
        MutantKind::ValueReplaced,
        MutantKind::RetainDropped,
    ];

    /// Its stable name, as in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            MutantKind::ContactSwapped => "contact-swapped",
            MutantKind::CoilNegated => "coil-negated",
            MutantKind::AndOrSwapped => "and-or-swapped",
            MutantKind::SealInDropped => "seal-in-dropped",
            MutantKind::FactorDropped => "factor-dropped",
            MutantKind::BranchDropped => "branch-dropped",
            MutantKind::PresetOff => "preset-off",
            MutantKind::WrongEdge => "wrong-edge",
            MutantKind::LimitMoved => "limit-moved",
            MutantKind::ComparisonTurned => "comparison-turned",
            MutantKind::EqualitySwapped => "equality-swapped",
            MutantKind::ArithmeticSwapped => "arithmetic-swapped",
            MutantKind::TimerSwapped => "timer-swapped",
            MutantKind::CounterSwapped => "counter-swapped",
            MutantKind::DominanceSwapped => "dominance-swapped",
            MutantKind::SetResetSwapped => "set-reset-swapped",
            MutantKind::StatementDeleted => "statement-deleted",
            MutantKind::StatementsSwapped => "statements-swapped",
            MutantKind::ConditionNegated => "condition-negated",
            MutantKind::ResetLeftOut => "reset-left-out",
            MutantKind::TruthSwapped => "truth-swapped",
            MutantKind::OutputReplaced => "output-replaced",
            MutantKind::InputReplaced => "input-replaced",
            MutantKind::ValueReplaced => "value-replaced",
            MutantKind::RetainDropped => "retain-dropped",
        }
    }

    /// What it is, for people: "a contact the wrong way round".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            MutantKind::ContactSwapped => "a contact the wrong way round",
            MutantKind::CoilNegated => "a result the wrong way round",
            MutantKind::AndOrSwapped => "AND for OR, OR for AND",
            MutantKind::SealInDropped => "no seal-in",
            MutantKind::FactorDropped => "a contact in series left out",
            MutantKind::BranchDropped => "a branch in parallel left out",
            MutantKind::PresetOff => "a number or duration a little off",
            MutantKind::WrongEdge => "the other edge",
            MutantKind::LimitMoved => "a limit with or without the value itself",
            MutantKind::ComparisonTurned => "above for below",
            MutantKind::EqualitySwapped => "equal for not equal",
            MutantKind::ArithmeticSwapped => "plus for minus, times for divided by",
            MutantKind::TimerSwapped => "another timer",
            MutantKind::CounterSwapped => "up for down at a counter",
            MutantKind::DominanceSwapped => "set wins for reset wins",
            MutantKind::SetResetSwapped => "S for R",
            MutantKind::StatementDeleted => "a statement left out",
            MutantKind::StatementsSwapped => "two statements in the other order",
            MutantKind::ConditionNegated => "a condition turned round",
            MutantKind::ResetLeftOut => "a reset left out",
            MutantKind::TruthSwapped => "TRUE for FALSE",
            MutantKind::OutputReplaced => "another output written",
            MutantKind::InputReplaced => "another input read",
            MutantKind::ValueReplaced => "another value of an enumeration",
            MutantKind::RetainDropped => "RETAIN left out",
        }
    }
}
