//! Character string functions: LEN, LEFT, RIGHT, MID, CONCAT, INSERT, DELETE, REPLACE, FIND.
//!
//! Source: IEC 61131-3:2013, Table 34 and 6.6.2.5.11. Positions count from 1; a character is a byte of a STRING
//! or a 16-bit unit of a WSTRING. The rows are here, the routines in `string_natives`. Where the standard only
//! says that something is an error, the value that is given instead is our choice, and the row states it.

use latchwork_vm::ElementaryType as T;

use crate::{
    definition::{
        Example, FunctionDefinition, Lowering, OPEN_FROM_ONE, Overload, Parameter, ROW, ResultType, generic,
        own,
    },
    types::TypeClass,
};

/// The two forms of a row: for STRING and for WSTRING.
macro_rules! widths {
    ([$($operand:ident),*], $result:expr, $lowering:ident, $narrow:literal, $wide:literal) => {
        &[
            Overload {
                accepts: widths!(@accepts T::String, $($operand),*),
                operands: widths!(@operands T::String, $($operand),*),
                result: $result,
                lowering: Lowering::$lowering($narrow),
            },
            Overload {
                accepts: widths!(@accepts T::Wstring, $($operand),*),
                operands: widths!(@operands T::Wstring, $($operand),*),
                result: $result,
                lowering: Lowering::$lowering($wide),
            },
        ]
    };
    (@accepts $text:expr, $($operand:ident),*) => { &[$(widths!(@class $text, $operand)),*] };
    (@operands $text:expr, $($operand:ident),*) => { &[$(widths!(@type $text, $operand)),*] };
    (@class $text:expr, text) => { TypeClass::Exact($text) };
    (@class $text:expr, number) => { TypeClass::AnyInt };
    (@type $text:expr, text) => { $text };
    (@type $text:expr, number) => { T::Lint };
}

const INT: ResultType = ResultType::Exact(T::Int);
const TEXT: ResultType = ResultType::Text;

const fn text(name: &'static str) -> Parameter {
    generic(name, TypeClass::AnyString)
}

const fn number(name: &'static str) -> Parameter {
    own(name, TypeClass::AnyInt)
}

/// The rows of Table 34.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    FunctionDefinition {
        name: "LEN",
        parameters: &[text("IN")],
        result: INT,
        overloads: widths!([text], INT, Native, "LEN_STRING", "LEN_WSTRING"),
        clause: "Table 34",
        summary: "How many characters a text has at present.",
        examples: &[Example::new(&["'ASTRING'"], "INT#7"), Example::new(&["\"\""], "INT#0")],
        ..ROW
    },
    FunctionDefinition {
        name: "LEFT",
        parameters: &[text("IN"), number("L")],
        result: TEXT,
        overloads: widths!([text, number], TEXT, Native, "LEFT_STRING", "LEFT_WSTRING"),
        clause: "Table 34",
        summary: "The first L characters.",
        errors: "L < 0: the empty text, event. L greater than the length: the whole text, event.",
        examples: &[
            Example::new(&["'ASTR'", "INT#3"], "'AST'"),
            Example::new(&["\"ASTR\"", "USINT#1"], "\"A\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "RIGHT",
        parameters: &[text("IN"), number("L")],
        result: TEXT,
        overloads: widths!([text, number], TEXT, Native, "RIGHT_STRING", "RIGHT_WSTRING"),
        clause: "Table 34",
        summary: "The last L characters.",
        errors: "L < 0: the empty text, event. L greater than the length: the whole text, event.",
        examples: &[
            Example::new(&["'ASTR'", "INT#3"], "'STR'"),
            Example::new(&["\"ASTR\"", "LINT#0"], "\"\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "MID",
        parameters: &[text("IN"), number("L"), number("P")],
        result: TEXT,
        overloads: widths!([text, number, number], TEXT, Native, "MID_STRING", "MID_WSTRING"),
        clause: "Table 34",
        summary: "L characters from the P-th on; the length stands before the position.",
        errors: "L < 0, or P is no position of the text: the empty text, event. Fewer than L characters from \
                 there: those, event. With L = 0, P may be one behind the last character.",
        examples: &[
            Example::new(&["'ASTR'", "INT#2", "INT#2"], "'ST'"),
            Example::new(&["\"ASTR\"", "UINT#1", "DINT#4"], "\"R\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "CONCAT",
        parameters: &[text("IN1"), text("IN2")],
        extension: OPEN_FROM_ONE,
        result: TEXT,
        overloads: widths!([text, text], TEXT, Append, "CONCAT_STRING", "CONCAT_WSTRING"),
        clause: "Table 34",
        summary: "The texts one behind the other.",
        errors: "Longer than 32767 characters: cut at the right, event.",
        examples: &[
            Example::new(&["'AB'", "'CD'", "'E'"], "'ABCDE'"),
            Example::new(&["CHAR#'A'", "CHAR#'B'"], "'AB'"),
            Example::new(&["\"AB\"", "\"CD\""], "\"ABCD\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "INSERT",
        parameters: &[text("IN1"), text("IN2"), number("P")],
        result: TEXT,
        overloads: widths!([text, text, number], TEXT, Native, "INSERT_STRING", "INSERT_WSTRING"),
        clause: "Table 34",
        summary: "IN1 with IN2 behind its P-th character; with P = 0 in front.",
        errors: "P < 0 or greater than the length of IN1: IN1, event. Longer than 32767 characters: cut at the \
                 right, event.",
        examples: &[
            Example::new(&["'ABC'", "'XY'", "INT#2"], "'ABXYC'"),
            Example::new(&["\"ABC\"", "\"X\"", "INT#0"], "\"XABC\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "DELETE",
        parameters: &[text("IN"), number("L"), number("P")],
        result: TEXT,
        overloads: widths!([text, number, number], TEXT, Native, "DELETE_STRING", "DELETE_WSTRING"),
        clause: "Table 34",
        summary: "The text without L characters from the P-th on; the length stands before the position.",
        errors: "L < 0, or P is no position of the text: the text as it is, event. Fewer than L characters from \
                 there: those are removed, event. With L = 0, P may be one behind the last character.",
        examples: &[
            Example::new(&["'ABXYC'", "INT#2", "INT#3"], "'ABC'"),
            Example::new(&["\"ABXYC\"", "INT#1", "INT#5"], "\"ABXY\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "REPLACE",
        parameters: &[text("IN1"), text("IN2"), number("L"), number("P")],
        result: TEXT,
        overloads: widths!([text, text, number, number], TEXT, Native, "REPLACE_STRING", "REPLACE_WSTRING"),
        clause: "Table 34",
        summary: "IN1 with IN2 in the place of L characters from the P-th on.",
        errors: "L < 0, or P is no position of IN1: IN1, event. Fewer than L characters from there: those are \
                 replaced, event. With L = 0, P may be one behind the last character. Longer than 32767 \
                 characters: cut at the right, event.",
        examples: &[
            Example::new(&["'ABCDE'", "'X'", "INT#3", "INT#2"], "'AXE'"),
            Example::new(&["\"ABCDE\"", "\"XYZ\"", "INT#0", "INT#6"], "\"ABCDEXYZ\""),
        ],
        ..ROW
    },
    FunctionDefinition {
        name: "FIND",
        parameters: &[text("IN1"), text("IN2")],
        result: INT,
        overloads: widths!([text, text], INT, Native, "FIND_STRING", "FIND_WSTRING"),
        clause: "Table 34",
        summary: "Where IN2 begins in IN1 for the first time; 0 if it is not there or empty.",
        examples: &[
            Example::new(&["'ABCBC'", "'BC'"], "INT#2"),
            Example::new(&["\"ABC\"", "\"X\""], "INT#0"),
        ],
        ..ROW
    },
];
