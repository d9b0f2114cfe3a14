//! Counters: CTU (up), CTD (down), CTUD (both), for INT, DINT, LINT, UDINT and ULINT.
//!
//! Source: IEC 61131-3:2013, Table 45. The limits PVmax and PVmin, which the standard leaves to the
//! implementer, are those of the type, so that counting never overflows. An edge input has a hidden edge
//! detector that works at every call: an edge while R or LD is TRUE is spent.

use latchwork_vm::{ElementaryType, NativeCall, NativeFunction};

use super::{
    BlockDefinition, BlockMember, InputOperator, acts, edges::rising, hidden, input, input_also, output,
    prepares, rising_input,
};

const BOOL: ElementaryType = ElementaryType::Bool;

/// Places in an instance of CTU and CTD whose values are `N` bytes long.
struct One<const N: u32>;

impl<const N: u32> One<N> {
    const EDGE_INPUT: u32 = 0;
    /// R of CTU, LD of CTD.
    const LEVEL_INPUT: u32 = 1;
    const PV: u32 = N;
    const Q: u32 = 2 * N;
    const CV: u32 = 3 * N;
    const MEMORY: u32 = 4 * N;
    const BYTES: u32 = 5 * N;
}

/// Places in an instance of CTUD whose values are `N` bytes long.
struct Both<const N: u32>;

impl<const N: u32> Both<N> {
    const CU: u32 = 0;
    const CD: u32 = 1;
    const R: u32 = 2;
    const LD: u32 = 3;
    const PV: u32 = if N > 4 { N } else { 4 };
    const QU: u32 = Self::PV + N;
    const QD: u32 = Self::QU + 1;
    const CV: u32 = (Self::QD + 1).next_multiple_of(N);
    const CU_MEMORY: u32 = Self::CV + N;
    const CD_MEMORY: u32 = Self::CU_MEMORY + 1;
    const BYTES: u32 = (Self::CD_MEMORY + 1).next_multiple_of(N);
}

const fn up_members<const N: u32>(ty: ElementaryType) -> [BlockMember; 6] {
    [
        rising_input("CU", One::<N>::EDGE_INPUT),
        input_also("R", &["RESET"], One::<N>::LEVEL_INPUT),
        input("PV", ty, One::<N>::PV),
        output("Q", BOOL, One::<N>::Q),
        output("CV", ty, One::<N>::CV),
        hidden("CU_M", BOOL, One::<N>::MEMORY),
    ]
}

const fn down_members<const N: u32>(ty: ElementaryType) -> [BlockMember; 6] {
    [
        rising_input("CD", One::<N>::EDGE_INPUT),
        input("LD", BOOL, One::<N>::LEVEL_INPUT),
        input("PV", ty, One::<N>::PV),
        output("Q", BOOL, One::<N>::Q),
        output("CV", ty, One::<N>::CV),
        hidden("CD_M", BOOL, One::<N>::MEMORY),
    ]
}

const fn both_members<const N: u32>(ty: ElementaryType) -> [BlockMember; 10] {
    [
        rising_input("CU", Both::<N>::CU),
        rising_input("CD", Both::<N>::CD),
        input_also("R", &["RESET"], Both::<N>::R),
        input("LD", BOOL, Both::<N>::LD),
        input("PV", ty, Both::<N>::PV),
        output("QU", BOOL, Both::<N>::QU),
        output("QD", BOOL, Both::<N>::QD),
        output("CV", ty, Both::<N>::CV),
        hidden("CU_M", BOOL, Both::<N>::CU_MEMORY),
        hidden("CD_M", BOOL, Both::<N>::CD_MEMORY),
    ]
}

const UP_SUMMARY: &str =
    "Up counter: each rising edge of CU adds 1 to CV; Q is TRUE from CV = PV on; R sets CV to 0.";
const UP_EDGES: &str = "A first call with CU TRUE counts; an edge while R is TRUE is lost; CV goes on above PV and \
                        stops at the greatest value of its type.";
const DOWN_SUMMARY: &str = "Down counter: each rising edge of CD takes 1 from CV; Q is TRUE at CV <= 0; LD sets CV to \
                            PV.";
const DOWN_EDGES: &str = "A first call with CD TRUE counts; an edge while LD is TRUE is lost; CV goes on below 0 and \
                          stops at the least value of its type.";
const BOTH_SUMMARY: &str = "Up-down counter: rising edges of CU and CD count CV up and down; QU is TRUE at CV >= PV, \
                            QD at CV <= 0; R sets CV to 0, LD sets it to PV.";
const BOTH_EDGES: &str = "R goes before LD, LD before counting; edges of CU and CD in one call cancel; an edge while R \
                          or LD is TRUE is lost; CV stops at the limits of its type.";

macro_rules! up_body {
    ($name:literal, $type:literal, $maximum:literal) => {
        concat!(
            "FUNCTION_BLOCK ",
            $name,
            "_BODY\nVAR_INPUT CU : BOOL R_EDGE; R : BOOL; PV : ",
            $type,
            "; END_VAR\n",
            "VAR_OUTPUT Q : BOOL; CV : ",
            $type,
            "; END_VAR\n",
            "IF R THEN\n  CV := 0;\nELSIF CU AND (CV < ",
            $maximum,
            ") THEN\n  CV := CV + 1;\nEND_IF;\n",
            "Q := (CV >= PV);\nEND_FUNCTION_BLOCK\n"
        )
    };
}

macro_rules! down_body {
    ($name:literal, $type:literal, $minimum:literal) => {
        concat!(
            "FUNCTION_BLOCK ",
            $name,
            "_BODY\nVAR_INPUT CD : BOOL R_EDGE; LD : BOOL; PV : ",
            $type,
            "; END_VAR\n",
            "VAR_OUTPUT Q : BOOL; CV : ",
            $type,
            "; END_VAR\n",
            "IF LD THEN\n  CV := PV;\nELSIF CD AND (CV > ",
            $minimum,
            ") THEN\n  CV := CV - 1;\nEND_IF;\n",
            "Q := (CV <= 0);\nEND_FUNCTION_BLOCK\n"
        )
    };
}

macro_rules! both_body {
    ($name:literal, $type:literal, $minimum:literal, $maximum:literal) => {
        concat!(
            "FUNCTION_BLOCK ",
            $name,
            "_BODY\n",
            "VAR_INPUT CU : BOOL R_EDGE; CD : BOOL R_EDGE; R : BOOL; LD : BOOL; PV : ",
            $type,
            "; END_VAR\n",
            "VAR_OUTPUT QU : BOOL; QD : BOOL; CV : ",
            $type,
            "; END_VAR\n",
            "IF R THEN\n  CV := 0;\nELSIF LD THEN\n  CV := PV;\nELSE\n  IF NOT (CU AND CD) THEN\n",
            "    IF CU AND (CV < ",
            $maximum,
            ") THEN\n      CV := CV + 1;\n",
            "    ELSIF CD AND (CV > ",
            $minimum,
            ") THEN\n      CV := CV - 1;\n    END_IF;\n  END_IF;\nEND_IF;\n",
            "QU := (CV >= PV);\nQD := (CV <= 0);\nEND_FUNCTION_BLOCK\n"
        )
    };
}

/// One value type: the rows and routines of its three counters. The limits are written out because the bodies
/// are text.
macro_rules! counters {
    (
        $module:ident $value:ty, $get:ident $set:ident, $bytes:literal, $variant:ident $type:literal
        $minimum:literal $maximum:literal, $up:literal $down:literal $both:literal;
        $(($up_name:literal $down_name:literal $both_name:literal))*
    ) => {
        mod $module {
            use super::*;

            const TYPE: ElementaryType = ElementaryType::$variant;
            type Single = One<$bytes>;
            type Double = Both<$bytes>;

            static UP_MEMBERS: [BlockMember; 6] = up_members::<$bytes>(TYPE);
            static DOWN_MEMBERS: [BlockMember; 6] = down_members::<$bytes>(TYPE);
            static BOTH_MEMBERS: [BlockMember; 10] = both_members::<$bytes>(TYPE);

            static UP_OPERATORS: [InputOperator; 4] =
                [acts("CU", 0, $up), acts("R", 1, $up), acts("RESET", 1, $up), prepares("PV", 2, "")];
            // Instruction List has no operator for LD, which means load there: PV does its work.
            static DOWN_OPERATORS: [InputOperator; 2] =
                [acts("CD", 0, $down), prepares("PV", 2, concat!($down, "_PV"))];
            static BOTH_OPERATORS: [InputOperator; 5] = [
                acts("CU", 0, $both),
                acts("CD", 1, $both),
                acts("R", 2, $both),
                acts("RESET", 2, $both),
                prepares("PV", 4, concat!($both, "_PV")),
            ];

            pub(super) static UP: &[BlockDefinition] = &[$(BlockDefinition {
                name: $up_name,
                members: &UP_MEMBERS,
                bytes: Single::BYTES,
                alignment: $bytes,
                native: $up,
                clause: "Table 45",
                summary: UP_SUMMARY,
                edge_behaviour: UP_EDGES,
                input_operators: &UP_OPERATORS,
                body: up_body!($up_name, $type, $maximum),
            }),*];

            pub(super) static DOWN: &[BlockDefinition] = &[$(BlockDefinition {
                name: $down_name,
                members: &DOWN_MEMBERS,
                bytes: Single::BYTES,
                alignment: $bytes,
                native: $down,
                clause: "Table 45",
                summary: DOWN_SUMMARY,
                edge_behaviour: DOWN_EDGES,
                input_operators: &DOWN_OPERATORS,
                body: down_body!($down_name, $type, $minimum),
            }),*];

            pub(super) static BOTH: &[BlockDefinition] = &[$(BlockDefinition {
                name: $both_name,
                members: &BOTH_MEMBERS,
                bytes: Double::BYTES,
                alignment: $bytes,
                native: $both,
                clause: "Table 45",
                summary: BOTH_SUMMARY,
                edge_behaviour: BOTH_EDGES,
                input_operators: &BOTH_OPERATORS,
                body: both_body!($both_name, $type, $minimum, $maximum),
            }),*];

            fn up(call: &mut NativeCall<'_>) {
                let level = call.bool(Single::EDGE_INPUT);
                let edge = rising(call, level, Single::MEMORY);
                let mut count = call.$get(Single::CV);
                if call.bool(Single::LEVEL_INPUT) {
                    count = 0;
                } else if edge {
                    count = count.saturating_add(1);
                }
                let reached = count >= call.$get(Single::PV);
                call.$set(Single::CV, count);
                call.set_bool(Single::Q, reached);
            }

            fn down(call: &mut NativeCall<'_>) {
                let level = call.bool(Single::EDGE_INPUT);
                let edge = rising(call, level, Single::MEMORY);
                let mut count = call.$get(Single::CV);
                if call.bool(Single::LEVEL_INPUT) {
                    count = call.$get(Single::PV);
                } else if edge {
                    count = count.saturating_sub(1);
                }
                call.$set(Single::CV, count);
                call.set_bool(Single::Q, at_most_zero(count));
            }

            /// The operator PV of CTD: loads.
            fn load_down(call: &mut NativeCall<'_>) {
                let count = call.$get(Single::PV);
                call.$set(Single::CV, count);
                call.set_bool(Single::Q, at_most_zero(count));
            }

            fn both(call: &mut NativeCall<'_>) {
                let (up_level, down_level) = (call.bool(Double::CU), call.bool(Double::CD));
                let up = rising(call, up_level, Double::CU_MEMORY);
                let down = rising(call, down_level, Double::CD_MEMORY);
                let mut count = call.$get(Double::CV);
                if call.bool(Double::R) {
                    count = 0;
                } else if call.bool(Double::LD) {
                    count = call.$get(Double::PV);
                } else if up && !down {
                    count = count.saturating_add(1);
                } else if down && !up {
                    count = count.saturating_sub(1);
                }
                call.$set(Double::CV, count);
                compare_both(call);
            }

            /// The operator PV of CTUD: the comparison with the new PV.
            fn compare_both(call: &mut NativeCall<'_>) {
                let count = call.$get(Double::CV);
                let reached = count >= call.$get(Double::PV);
                call.set_bool(Double::QU, reached);
                call.set_bool(Double::QD, at_most_zero(count));
            }

            /// `CV <= 0`; for an unsigned type the same as `CV = 0`.
            #[allow(unused_comparisons, clippy::absurd_extreme_comparisons)]
            fn at_most_zero(count: $value) -> bool {
                count <= 0
            }

            pub(super) fn natives() -> [NativeFunction; 5] {
                [
                    NativeFunction { name: $up, frame_bytes: Single::BYTES, run: up },
                    NativeFunction { name: $down, frame_bytes: Single::BYTES, run: down },
                    NativeFunction {
                        name: concat!($down, "_PV"),
                        frame_bytes: Single::BYTES,
                        run: load_down,
                    },
                    NativeFunction { name: $both, frame_bytes: Double::BYTES, run: both },
                    NativeFunction {
                        name: concat!($both, "_PV"),
                        frame_bytes: Double::BYTES,
                        run: compare_both,
                    },
                ]
            }
        }
    };
}

counters!(int i16, i16 set_i16, 2, Int "INT" "INT#-32768" "INT#32767", "CTU" "CTD" "CTUD";
    ("CTU" "CTD" "CTUD") ("CTU_INT" "CTD_INT" "CTUD_INT"));
counters!(dint i32, i32 set_i32, 4, Dint "DINT" "DINT#-2147483648" "DINT#2147483647", "CTU_DINT" "CTD_DINT" "CTUD_DINT";
    ("CTU_DINT" "CTD_DINT" "CTUD_DINT"));
counters!(lint i64, i64 set_i64, 8, Lint "LINT" "LINT#-9223372036854775808" "LINT#9223372036854775807",
    "CTU_LINT" "CTD_LINT" "CTUD_LINT"; ("CTU_LINT" "CTD_LINT" "CTUD_LINT"));
counters!(udint u32, u32 set_u32, 4, Udint "UDINT" "UDINT#0" "UDINT#4294967295", "CTU_UDINT" "CTD_UDINT" "CTUD_UDINT";
    ("CTU_UDINT" "CTD_UDINT" "CTUD_UDINT"));
counters!(ulint u64, u64 set_u64, 8, Ulint "ULINT" "ULINT#0" "ULINT#18446744073709551615",
    "CTU_ULINT" "CTD_ULINT" "CTUD_ULINT"; ("CTU_ULINT" "CTD_ULINT" "CTUD_ULINT"));

/// The rows of Table 45.
pub(super) fn blocks() -> impl Iterator<Item = &'static BlockDefinition> {
    [int::UP, dint::UP, lint::UP, udint::UP, ulint::UP]
        .into_iter()
        .chain([int::DOWN, dint::DOWN, lint::DOWN, udint::DOWN, ulint::DOWN])
        .chain([int::BOTH, dint::BOTH, lint::BOTH, udint::BOTH, ulint::BOTH])
        .flatten()
}

/// The routines of this family.
pub(super) fn natives() -> Vec<NativeFunction> {
    [int::natives(), dint::natives(), lint::natives(), udint::natives(), ulint::natives()].concat()
}
