//! The table itself: names, texts, layouts, and that every routine it speaks of exists.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

use std::collections::{BTreeMap, BTreeSet};

use latchwork_stdlib::{
    ConversionRule, FunctionDefinition, Lowering, NEGATION, Operator, ResultType, SWAP_PATTERN,
    TimeOperation, TypeClass, blocks, common_type, conversion, function, functions, implicitly_converts,
    natives, operator, swap_routine, time_arithmetic,
};
use latchwork_vm::{ElementaryType as T, Family, Scalar};

fn lowerings(row: &FunctionDefinition) -> impl Iterator<Item = Lowering> {
    std::iter::once(row.lowering).chain(row.overloads.iter().map(|overload| overload.lowering))
}

#[test]
fn functions_have_unique_names_and_texts() {
    let mut names = BTreeSet::new();
    let mut summaries = BTreeMap::new();
    for row in functions() {
        assert!(names.insert(row.name), "{} is there twice", row.name);
        assert!(row.summary.len() > 10 && row.summary.ends_with('.'), "{}: summary", row.name);
        assert!(row.clause.starts_with("Table "), "{}: clause", row.name);
        assert!(row.errors.is_empty() || row.errors.ends_with('.'), "{}: errors", row.name);
        assert!(!row.parameters.is_empty(), "{}: parameters", row.name);
        if let Some(other) = summaries.insert(row.summary, row.name) {
            panic!("{} and {other} have the same summary", row.name);
        }
    }
    for wanted in [
        "ADD", "SUB", "MUL", "DIV", "MOD", "EXPT", "MOVE", "ABS", "SQRT", "LN", "LOG", "EXP", "SIN", "COS",
        "TAN", "ASIN", "ACOS", "ATAN", "ATAN2", "AND", "OR", "XOR", "NOT", "SHL", "SHR", "ROL", "ROR", "GT",
        "GE", "EQ", "LE", "LT", "NE", "SEL", "MAX", "MIN", "LIMIT", "MUX",
    ] {
        assert!(names.contains(wanted), "{wanted} is missing");
    }
}

#[test]
fn parameters_have_unique_names_and_fit_their_extension() {
    for row in functions() {
        let names: BTreeSet<_> = row.parameters.iter().map(|parameter| parameter.name).collect();
        assert_eq!(names.len(), row.parameters.len(), "{}", row.name);
        for (index, parameter) in row.parameters.iter().enumerate() {
            assert_eq!(row.parameter_index(&parameter.name.to_lowercase()), Some(index), "{}", row.name);
        }
        let Some(extension) = row.extension else {
            assert_eq!(row.parameter(row.parameters.len()), None);
            continue;
        };
        let fixed = row.parameters.len() - extension.minimum as usize;
        for (number, parameter) in (extension.first..).zip(&row.parameters[fixed..]) {
            assert_eq!(parameter.name, format!("{}{number}", extension.prefix), "{}", row.name);
        }
        let last = row.maximum_operands() - 1;
        let (name, parameter) = row.parameter(last).expect("the last operand");
        assert_eq!(row.parameter_index(&name), Some(last));
        assert_eq!(parameter.class, row.parameters[row.parameters.len() - 1].class);
        assert_eq!(row.parameter(last + 1), None);
    }
    let add = function("ADD").expect("a row").definition;
    assert_eq!(add.parameter_index("in3"), Some(2));
    for wrong in ["IN0", "IN256", "IN03", "IN", "IN+3", "X3", "IN99999999999999999999", "I", "ÄÖ"] {
        assert_eq!(add.parameter_index(wrong), None, "{wrong}");
    }
    let multiplexer = function("MUX").expect("a row").definition;
    assert_eq!(multiplexer.parameter_index("K"), Some(0));
    assert_eq!(multiplexer.parameter_index("IN0"), Some(1));
    assert_eq!(multiplexer.parameter_index("IN7"), Some(8));
}

#[test]
fn a_function_has_a_result_or_outputs() {
    for row in functions() {
        assert_eq!(row.outputs.is_empty(), row.result != ResultType::Nothing, "{}", row.name);
        if row.outputs.is_empty() {
            continue;
        }
        let exact = |class| matches!(class, TypeClass::Exact(_));
        assert!(row.parameters.iter().all(|parameter| exact(parameter.class)), "{}", row.name);
        assert!(row.extension.is_none() && row.overloads.is_empty(), "{}", row.name);
        assert!(matches!(row.lowering, Lowering::Native(_)), "{}", row.name);
        let names = row.parameters.iter().map(|one| one.name).chain(row.outputs.iter().map(|one| one.name));
        assert_eq!(
            names.collect::<BTreeSet<_>>().len(),
            row.parameters.len() + row.outputs.len(),
            "{}",
            row.name
        );
        for example in row.examples {
            assert_eq!((example.outputs.len(), example.gives), (row.outputs.len(), ""), "{}", row.name);
        }
    }
}

#[test]
fn a_row_tells_the_result_that_its_forms_have() {
    for row in functions() {
        let mut results = row.overloads.iter().map(|overload| overload.result);
        let Some(first) = results.next() else { continue };
        if row.lowering == Lowering::Overloaded && results.all(|result| result == first) {
            assert_eq!(row.result, first, "{}", row.name);
        }
    }
}

#[test]
fn every_routine_of_the_table_exists_and_every_routine_is_used() {
    let mut known = BTreeMap::new();
    for native in natives() {
        assert!(known.insert(native.name, native.frame_bytes).is_none(), "{} is there twice", native.name);
    }
    let mut used = BTreeSet::new();
    for row in functions().chain([&NEGATION]) {
        for lowering in lowerings(row) {
            if let Lowering::ByteOrder { swap: true } = lowering {
                for name in T::ALL.iter().filter_map(|ty| swap_routine(ty.size()?)) {
                    assert_eq!(known.get(name), Some(&16), "{name}");
                    used.insert(name);
                }
                used.insert(SWAP_PATTERN);
            }
            let (name, frame) = match lowering {
                Lowering::Native(name) => {
                    (name, 8 * (row.parameters.len() + row.outputs.len().max(1)) as u32)
                }
                Lowering::Append(name) => (name, 16),
                _ => continue,
            };
            assert_eq!(known.get(name), Some(&frame), "{}: {name}", row.name);
            used.insert(name);
        }
        for overload in row.overloads {
            assert_eq!(overload.accepts.len(), row.parameters.len(), "{}", row.name);
            assert!(
                matches!(overload.operands.len(), n if n == 0 || n == row.parameters.len()),
                "{}",
                row.name
            );
            assert_ne!(overload.result, ResultType::Named, "{}", row.name);
            assert_ne!(overload.lowering, Lowering::Overloaded, "{}", row.name);
        }
        assert!(row.lowering != Lowering::Overloaded || !row.overloads.is_empty(), "{}", row.name);
    }
    for definition in blocks() {
        for operator in definition.input_operators {
            let body = operator.operation == Some(definition.operation);
            assert_eq!(operator.calls, body, "{}", definition.name);
        }
    }
    for from in T::ALL {
        for to in T::ALL {
            if let Some(ConversionRule::Native(name) | ConversionRule::Text { routine: name, .. }) =
                conversion(*from, *to, false)
            {
                assert_eq!(known.get(name), Some(&16), "{name}");
                used.insert(name);
            }
        }
    }
    let unused: Vec<_> = known.keys().filter(|name| !used.contains(*name)).collect();
    assert!(unused.is_empty(), "{unused:?}");
}

#[test]
fn names_resolve() {
    let add = function("Add_int").expect("a typed name");
    assert_eq!((add.definition.name, add.typed), ("ADD", Some(T::Int)));
    assert_eq!(function("ADD_TIME").expect("a row of its own").definition.name, "ADD_TIME");
    assert_eq!(function("GT_TIME_OF_DAY").expect("a long type name").typed, Some(T::TimeOfDay));
    assert_eq!(function("max_tod").expect("a short type name").typed, Some(T::TimeOfDay));
    assert_eq!(function("SHL_WORD").expect("a typed name").typed, Some(T::Word));
    assert_eq!(function("EXPT_LREAL").expect("a typed name").typed, Some(T::Lreal));
    let conversion = function("int_to_real").expect("a conversion");
    assert_eq!((conversion.from, conversion.to), (Some(T::Int), Some(T::Real)));
    let conversion = function("LDT_TO_LTIME_OF_DAY").expect("a conversion");
    assert_eq!((conversion.from, conversion.to), (Some(T::LdateAndTime), Some(T::LtimeOfDay)));
    let open = function("TO_INT").expect("an overloaded conversion");
    assert_eq!((open.from, open.to), (None, Some(T::Int)));
    let truncation = function("LREAL_TRUNC_DINT").expect("a truncation");
    assert_eq!(truncation.definition.lowering, Lowering::Convert { truncate: true });
    assert_eq!(function("TRUNC_SINT").expect("a truncation").to, Some(T::Sint));
    assert_eq!(function("TRUNC").expect("a truncation").to, None);
    for wrong in [
        "",
        "_",
        "ADD_",
        "_INT",
        "ADD_BOOL",
        "ADD_STRING",
        "SHL_INT",
        "SIN_INT",
        "NOT_REAL",
        "INT_TO_",
        "_TO_INT",
        "TO_",
        "INT_TO_TIME",
        "TIME_TO_INT",
        "INT_TRUNC_STRING",
        "STRING_TRUNC_INT",
        "REAL_TO_BOOL",
        "WORD_TO_REAL",
        "INT_TRUNC_INT",
        "TRUNC_REAL",
        "DATE_TO_DT",
        "*_TO_*",
        "TO_*",
        "UNARY -",
        "SQR",
        "ADD_INT_INT",
        "TO_TO_INT",
        "ÄDD",
        "ADD_TIME_INT",
    ] {
        assert_eq!(function(wrong), None, "{wrong}");
    }
    assert_eq!(function(&"A_".repeat(100_000)), None, "a name of any length is answered at once");
}

#[test]
fn operators_stand_for_functions() {
    let pairs = [
        (Operator::Not, "NOT"),
        (Operator::Power, "EXPT"),
        (Operator::Multiply, "MUL"),
        (Operator::Divide, "DIV"),
        (Operator::Modulo, "MOD"),
        (Operator::Add, "ADD"),
        (Operator::Subtract, "SUB"),
        (Operator::Less, "LT"),
        (Operator::Greater, "GT"),
        (Operator::LessOrEqual, "LE"),
        (Operator::GreaterOrEqual, "GE"),
        (Operator::Equal, "EQ"),
        (Operator::NotEqual, "NE"),
        (Operator::And, "AND"),
        (Operator::Xor, "XOR"),
        (Operator::Or, "OR"),
    ];
    for (symbol, name) in pairs {
        assert_eq!(operator(symbol).name, name);
    }
    let negation = operator(Operator::Negate);
    for ty in T::ALL {
        let wanted = ty.is_signed() || ty.is_real() || ty.is_duration();
        assert_eq!(negation.overload(&[*ty]).is_some(), wanted, "-{}", ty.name());
    }
}

#[test]
fn only_the_forms_of_the_standard_exist_on_times() {
    use TimeOperation::{Add, Divide, Multiply, Subtract};
    let times: Vec<T> = T::ALL.iter().copied().filter(|ty| ty.is_duration() || ty.is_date()).collect();
    let short = |ty: T| match ty {
        T::Ltime => T::Time,
        T::Ldate => T::Date,
        T::LtimeOfDay => T::TimeOfDay,
        T::LdateAndTime => T::DateAndTime,
        other => other,
    };
    for operation in [Add, Subtract] {
        for left in &times {
            for right in &times {
                let pair = (short(*left), short(*right));
                let legal = match operation {
                    Add => matches!(pair, (T::Time | T::TimeOfDay | T::DateAndTime, T::Time)),
                    _ => pair.1 == T::Time && pair.0 != T::Date || pair.0 == pair.1,
                };
                let found = time_arithmetic(operation, *left, *right);
                assert_eq!(found.is_some(), legal, "{operation:?} {} {}", left.name(), right.name());
                if let Some(found) = found {
                    assert!(implicitly_converts(*left, found.operands[0]));
                    assert!(implicitly_converts(*right, found.operands[1]));
                    // Long as soon as one operand is long.
                    let long = short(*left) != *left || short(*right) != *right;
                    assert_eq!(short(found.result) != found.result, long, "{}", found.definition.name);
                }
            }
        }
    }
    for operation in [Multiply, Divide] {
        for left in &times {
            for right in T::ALL {
                let legal = left.is_duration() && right.is_number();
                let found = time_arithmetic(operation, *left, *right);
                assert_eq!(found.is_some(), legal, "{operation:?} {} {}", left.name(), right.name());
                if let Some(found) = found {
                    assert_eq!(found.result, *left);
                    assert_ne!(found.lowering, Lowering::Overloaded);
                }
            }
        }
        assert_eq!(time_arithmetic(operation, T::Int, T::Time), None, "the duration stands first");
    }
}

#[test]
fn implicit_conversions_keep_every_value_and_order_the_types() {
    for from in T::ALL {
        assert!(implicitly_converts(*from, *from));
        for to in T::ALL {
            if from != to && implicitly_converts(*from, *to) {
                assert!(!implicitly_converts(*to, *from), "{} and {}", from.name(), to.name());
                for further in T::ALL.iter().filter(|further| implicitly_converts(*to, **further)) {
                    assert!(implicitly_converts(*from, *further), "{} to {}", from.name(), further.name());
                }
                if let (Some(narrow), Some(wide)) = (from.size(), to.size()) {
                    let times = from.is_duration() || from.is_date();
                    assert!(narrow < wide || times || *from == T::Bool, "{} to {}", from.name(), to.name());
                }
                assert!(to.is_string() || conversion(*from, *to, false).is_some(), "{}", from.name());
            }
            assert_eq!(common_type(*from, *to), common_type(*to, *from));
        }
    }
    assert_eq!(common_type(T::Sint, T::Usint), Some(T::Int));
    assert_eq!(common_type(T::Uint, T::Int), Some(T::Dint));
    assert_eq!(common_type(T::Dint, T::Real), Some(T::Lreal));
    assert_eq!(common_type(T::Int, T::Real), Some(T::Real));
    assert_eq!(common_type(T::Ulint, T::Sint), None);
    assert_eq!(common_type(T::Bool, T::Int), None);
    assert_eq!(TypeClass::AnyReal.nearest(T::Int), Some(T::Real));
    assert_eq!(TypeClass::AnyReal.nearest(T::Dint), Some(T::Lreal));
    assert_eq!(TypeClass::AnyReal.nearest(T::Lint), None);
    assert_eq!(TypeClass::AnyNum.nearest(T::Bool), None);
    assert_eq!(TypeClass::AnyMagnitude.name(), "ANY_MAGNITUDE");
}

/// A conversion writes exactly the target and reads no more than the source: a wider move would reach into the
/// neighbouring variable.
#[test]
fn conversions_stay_within_source_and_target() {
    let mut count = 0;
    for (from, to) in T::ALL.iter().flat_map(|from| T::ALL.iter().map(move |to| (*from, *to))) {
        for truncate in [false, true] {
            let Some(rule) = conversion(from, to, truncate) else { continue };
            let (family, scalar) = match rule {
                ConversionRule::Copy(scalar) => (Family::Move, scalar),
                ConversionRule::Instruction(family, scalar) => (family, scalar),
                ConversionRule::LowestBit => (Family::And, Scalar::U8),
                ConversionRule::Native(_) | ConversionRule::Text { .. } => continue,
            };
            let row = family.description();
            assert!(
                row.scalars.contains(&scalar),
                "{} to {}: {} {scalar:?}",
                from.name(),
                to.name(),
                row.mnemonic
            );
            let written = row.operands[0].width(scalar);
            let read = row.operands[1].width(scalar);
            assert_eq!(written, to.size(), "{} to {} writes", from.name(), to.name());
            assert!(read <= from.size(), "{} to {} reads", from.name(), to.name());
            count += 1;
        }
    }
    assert!(count > 250, "{count}");
}

/// Every instruction that a row names exists for every type the row takes there.
#[test]
fn instructions_exist_for_the_types_of_their_rows() {
    for row in functions().chain([&NEGATION]) {
        let forms =
            std::iter::once((row.lowering, row.parameters.iter().map(|one| one.class).collect::<Vec<_>>()))
                .chain(row.overloads.iter().map(|form| (form.lowering, form.accepts.to_vec())));
        for (lowering, classes) in forms {
            let plain = row.lowering == lowering;
            for ty in T::ALL.iter().filter(|ty| classes[0].accepts(**ty)) {
                let Some(scalar) = ty.scalar() else { continue };
                // A special form for the type goes before the plain one.
                if plain
                    && row
                        .overloads
                        .iter()
                        .any(|form| form.accepts[0].accepts(*ty) && form.accepts.len() == 1)
                {
                    continue;
                }
                let (family, scalar) = match lowering {
                    Lowering::Family(family) | Lowering::Shift(family) => (family, scalar),
                    Lowering::Comparison(kind) => match kind.instruction().0 {
                        family @ (Family::Equal | Family::NotEqual) if !scalar.is_float() => {
                            (family, scalar.bits())
                        }
                        family => (family, scalar),
                    },
                    _ => continue,
                };
                let scalars = family.description().scalars;
                assert!(scalars.contains(&scalar), "{} on {}: {scalar:?}", row.name, ty.name());
            }
        }
    }
}

/// The functions as a reader of the reference sees them.
#[test]
fn function_reference() {
    let mut text = String::new();
    for row in functions() {
        let parameters: Vec<String> =
            row.parameters.iter().map(|one| format!("{}: {}", one.name, one.class.name())).collect();
        let open = if row.extension.is_some() { ", ..." } else { "" };
        let outputs: String =
            row.outputs.iter().map(|one| format!(", {} => {}", one.name, one.ty.name())).collect();
        text.push_str(&format!(
            "{}, {}({}{open}{outputs})\n    {}\n",
            row.clause,
            row.name,
            parameters.join(", "),
            row.summary
        ));
        if !row.errors.is_empty() {
            text.push_str(&format!("    Errors: {}\n", row.errors));
        }
    }
    insta::assert_snapshot!(text);
}
