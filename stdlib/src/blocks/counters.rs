//! Counters: CTU (up), CTD (down), CTUD (both), for INT, DINT, LINT, UDINT and ULINT.
//!
//! Source: IEC 61131-3:2013, Table 45. The limits PVmax and PVmin, which the standard leaves to the
//! implementer, are those of the type, so that counting never overflows. An edge input has a hidden edge
//! detector that works at every call: an edge while R or LD is TRUE is spent.

use latchwork_vm::{
    ElementaryType, Family, Scalar,
    block::{CounterLayout, UpDownLayout},
};

use super::{
    BlockDefinition, BlockExample, BlockMember, BlockOperation, InputOperator, acts, hidden, input,
    input_also, output, prepares, rising_input,
};

const BOOL: ElementaryType = ElementaryType::Bool;

const fn count_up(scalar: Scalar) -> BlockOperation {
    BlockOperation { at_place: Family::CountUp, at_address: Family::CountUpAt, scalar }
}

const fn count_down(scalar: Scalar) -> BlockOperation {
    BlockOperation { at_place: Family::CountDown, at_address: Family::CountDownAt, scalar }
}

/// What the operator PV of CTD does: loads.
const fn load_count(scalar: Scalar) -> BlockOperation {
    BlockOperation { at_place: Family::LoadCount, at_address: Family::LoadCountAt, scalar }
}

const fn count_up_down(scalar: Scalar) -> BlockOperation {
    BlockOperation { at_place: Family::CountUpDown, at_address: Family::CountUpDownAt, scalar }
}

/// What the operator PV of CTUD does: the comparison with the new PV.
const fn compare_count(scalar: Scalar) -> BlockOperation {
    BlockOperation { at_place: Family::CompareCount, at_address: Family::CompareCountAt, scalar }
}

const fn up_members(ty: ElementaryType, layout: CounterLayout) -> [BlockMember; 6] {
    [
        rising_input("CU", layout.count),
        input_also("R", &["RESET"], layout.level),
        input("PV", ty, layout.pv),
        output("Q", BOOL, layout.q),
        output("CV", ty, layout.cv),
        hidden("CU_M", BOOL, layout.memory),
    ]
}

const fn down_members(ty: ElementaryType, layout: CounterLayout) -> [BlockMember; 6] {
    [
        rising_input("CD", layout.count),
        input("LD", BOOL, layout.level),
        input("PV", ty, layout.pv),
        output("Q", BOOL, layout.q),
        output("CV", ty, layout.cv),
        hidden("CD_M", BOOL, layout.memory),
    ]
}

const fn both_members(ty: ElementaryType, layout: UpDownLayout) -> [BlockMember; 10] {
    [
        rising_input("CU", layout.up),
        rising_input("CD", layout.down),
        input_also("R", &["RESET"], layout.reset),
        input("LD", BOOL, layout.load),
        input("PV", ty, layout.pv),
        output("QU", BOOL, layout.qu),
        output("QD", BOOL, layout.qd),
        output("CV", ty, layout.cv),
        hidden("CU_M", BOOL, layout.up_memory),
        hidden("CD_M", BOOL, layout.down_memory),
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

const UP_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 10,
    preset: ("PV", "3"),
    levels: &[("CU", "01011101010010"), ("R", "00000000000110")],
};

const DOWN_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 10,
    preset: ("PV", "3"),
    levels: &[("CD", "00101101010010"), ("LD", "01000000000001")],
};

const BOTH_EXAMPLE: BlockExample = BlockExample {
    interval_ms: 10,
    preset: ("PV", "2"),
    levels: &[
        ("CU", "0101010010000000"),
        ("CD", "0000000010101010"),
        ("R", "0000000000000001"),
        ("LD", "0000000000000100"),
    ],
};

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

/// One value type: the rows of its three counters. The limits are written out because the bodies
/// are text.
macro_rules! counters {
    (
        $module:ident $scalar:ident $variant:ident $type:literal $minimum:literal $maximum:literal;
        $(($up_name:literal $down_name:literal $both_name:literal))*
    ) => {
        mod $module {
            use super::*;

            const TYPE: ElementaryType = ElementaryType::$variant;
            const SCALAR: Scalar = Scalar::$scalar;
            const ONE: CounterLayout = CounterLayout::of_width(SCALAR.size());
            const BOTH_WAYS: UpDownLayout = UpDownLayout::of_width(SCALAR.size());

            static UP_MEMBERS: [BlockMember; 6] = up_members(TYPE, ONE);
            static DOWN_MEMBERS: [BlockMember; 6] = down_members(TYPE, ONE);
            static BOTH_MEMBERS: [BlockMember; 10] = both_members(TYPE, BOTH_WAYS);

            static UP_OPERATORS: [InputOperator; 4] =
                [acts("CU", 0, count_up(SCALAR)), acts("R", 1, count_up(SCALAR)), acts("RESET", 1, count_up(SCALAR)), prepares("PV", 2, None)];
            // Instruction List has no operator for LD, which means load there: PV does its work.
            static DOWN_OPERATORS: [InputOperator; 2] =
                [acts("CD", 0, count_down(SCALAR)), prepares("PV", 2, Some(load_count(SCALAR)))];
            static BOTH_OPERATORS: [InputOperator; 5] = [
                acts("CU", 0, count_up_down(SCALAR)),
                acts("CD", 1, count_up_down(SCALAR)),
                acts("R", 2, count_up_down(SCALAR)),
                acts("RESET", 2, count_up_down(SCALAR)),
                prepares("PV", 4, Some(compare_count(SCALAR))),
            ];

            pub(super) static UP: &[BlockDefinition] = &[$(BlockDefinition {
                name: $up_name,
                members: &UP_MEMBERS,
                bytes: ONE.bytes,
                alignment: ONE.alignment,
                operation: count_up(SCALAR),
                clause: "Table 45",
                summary: UP_SUMMARY,
                edge_behaviour: UP_EDGES,
                input_operators: &UP_OPERATORS,
                example: UP_EXAMPLE,
                body: up_body!($up_name, $type, $maximum),
            }),*];

            pub(super) static DOWN: &[BlockDefinition] = &[$(BlockDefinition {
                name: $down_name,
                members: &DOWN_MEMBERS,
                bytes: ONE.bytes,
                alignment: ONE.alignment,
                operation: count_down(SCALAR),
                clause: "Table 45",
                summary: DOWN_SUMMARY,
                edge_behaviour: DOWN_EDGES,
                input_operators: &DOWN_OPERATORS,
                example: DOWN_EXAMPLE,
                body: down_body!($down_name, $type, $minimum),
            }),*];

            pub(super) static BOTH: &[BlockDefinition] = &[$(BlockDefinition {
                name: $both_name,
                members: &BOTH_MEMBERS,
                bytes: BOTH_WAYS.bytes,
                alignment: BOTH_WAYS.alignment,
                operation: count_up_down(SCALAR),
                clause: "Table 45",
                summary: BOTH_SUMMARY,
                edge_behaviour: BOTH_EDGES,
                input_operators: &BOTH_OPERATORS,
                example: BOTH_EXAMPLE,
                body: both_body!($both_name, $type, $minimum, $maximum),
            }),*];
        }
    };
}

counters!(int I16 Int "INT" "INT#-32768" "INT#32767"; ("CTU" "CTD" "CTUD") ("CTU_INT" "CTD_INT" "CTUD_INT"));
counters!(dint I32 Dint "DINT" "DINT#-2147483648" "DINT#2147483647"; ("CTU_DINT" "CTD_DINT" "CTUD_DINT"));
counters!(lint I64 Lint "LINT" "LINT#-9223372036854775808" "LINT#9223372036854775807";
    ("CTU_LINT" "CTD_LINT" "CTUD_LINT"));
counters!(udint U32 Udint "UDINT" "UDINT#0" "UDINT#4294967295"; ("CTU_UDINT" "CTD_UDINT" "CTUD_UDINT"));
counters!(ulint U64 Ulint "ULINT" "ULINT#0" "ULINT#18446744073709551615"; ("CTU_ULINT" "CTD_ULINT" "CTUD_ULINT"));

/// The rows of Table 45.
pub(super) fn blocks() -> impl Iterator<Item = &'static BlockDefinition> {
    [int::UP, dint::UP, lint::UP, udint::UP, ulint::UP]
        .into_iter()
        .chain([int::DOWN, dint::DOWN, lint::DOWN, udint::DOWN, ulint::DOWN])
        .chain([int::BOTH, dint::BOTH, lint::BOTH, udint::BOTH, ulint::BOTH])
        .flatten()
}
