//! Literals by kind and value.

use std::borrow::Cow;

use latchwork_grammar::{
    Literal,
    tree::{ElementaryType, TypePrefix},
};

/// The word for a literal; `negative` if a minus stands before it. Prefixes such as `INT#` say nothing about the value but
/// where they make another kind of it.
pub(super) fn word(literal: &Literal, prefix: Option<TypePrefix>, negative: bool) -> Cow<'static, str> {
    let real = matches!(prefix, Some(TypePrefix::Elementary(ElementaryType::Real | ElementaryType::Lreal)));
    let sign = if negative { "-" } else { "" };
    let time = |kind: &str, long: bool, nanoseconds: i64| {
        let nanoseconds = if negative { -i128::from(nanoseconds) } else { i128::from(nanoseconds) };
        format!("{}{kind}#{nanoseconds}", if long { "L" } else { "" }).into()
    };
    match literal {
        Literal::Boolean(true) => "TRUE".into(),
        Literal::Boolean(false) => "FALSE".into(),
        Literal::Integer(value @ 0..=1) if prefix == Some(TypePrefix::Elementary(ElementaryType::Bool)) => {
            if *value == 1 { "TRUE" } else { "FALSE" }.into()
        }
        Literal::Integer(value) if real => format!("{sign}{:?}", *value as f64).into(),
        Literal::Integer(0) => "0".into(),
        Literal::Integer(value) => format!("{sign}{value}").into(),
        // The shortest text that is this value and no other.
        Literal::Real { long, .. } => format!("{sign}{long:?}").into(),
        Literal::String(codes) => format!("'{codes:?}").into(),
        Literal::WideString(units) => format!("\"{units:?}").into(),
        Literal::Duration { nanoseconds, long } => time("T", *long, *nanoseconds),
        Literal::Date { nanoseconds, long } => time("D", *long, *nanoseconds),
        Literal::TimeOfDay { nanoseconds, long } => time("TOD", *long, *nanoseconds),
        Literal::DateAndTime { nanoseconds, long } => time("DT", *long, *nanoseconds),
    }
}
