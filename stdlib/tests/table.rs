//! The table itself: names, texts, layouts, and that every routine it speaks of exists.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_stdlib::{
    ConversionRule, FunctionDefinition, Lowering, NEGATION, Operator, ResultType, TimeOperation, TypeClass,
    block, blocks, common_type, conversion, function, functions, implicitly_converts, natives, operator,
    st_body, time_arithmetic,
};
use latchwork_vm::{ElementaryType as T, Section};

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
fn every_routine_of_the_table_exists_and_every_routine_is_used() {
    let mut known = BTreeMap::new();
    for native in natives() {
        assert!(known.insert(native.name, native.frame_bytes).is_none(), "{} is there twice", native.name);
    }
    let mut used = BTreeSet::new();
    for row in functions().chain([&NEGATION]) {
        for lowering in lowerings(row) {
            if let Lowering::Native(name) = lowering {
                let frame = 8 * (row.parameters.len() as u32 + 1);
                assert_eq!(known.get(name), Some(&frame), "{}: {name}", row.name);
                used.insert(name);
            }
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
        used.insert(definition.native);
        for operator in definition.input_operators {
            assert_eq!(operator.calls, operator.routine == definition.native, "{}", definition.name);
            if !operator.routine.is_empty() {
                assert_eq!(known.get(operator.routine), Some(&definition.bytes), "{}", definition.name);
                used.insert(operator.routine);
            }
        }
    }
    for from in T::ALL {
        for to in T::ALL {
            if let Some(ConversionRule::Native(name)) = conversion(*from, *to, false) {
                assert_eq!(known.get(name), Some(&16), "{name}");
                used.insert(name);
            }
        }
    }
    let unused: Vec<_> = known.keys().filter(|name| !used.contains(*name)).collect();
    assert!(unused.is_empty(), "{unused:?}");
}

#[test]
fn blocks_have_unique_names_texts_and_bodies() {
    let mut names = BTreeSet::new();
    for definition in blocks() {
        assert!(names.insert(definition.name), "{} is there twice", definition.name);
        assert!(definition.summary.len() > 10, "{}: summary", definition.name);
        assert!(definition.edge_behaviour.len() > 10, "{}: edge behaviour", definition.name);
        assert!(definition.clause.starts_with("Table "), "{}: clause", definition.name);
        let body = st_body(definition);
        assert!(body.starts_with(&format!("FUNCTION_BLOCK {}_BODY\n", definition.name)), "{body}");
        assert!(body.ends_with("END_FUNCTION_BLOCK\n"), "{body}");
        for member in definition.members.iter().filter(|member| !member.hidden) {
            let declared = format!("{} : {}", member.name, member.ty.name());
            assert!(body.contains(&declared), "{}: {declared} is not in the body", definition.name);
        }
        assert_eq!(block(&definition.name.to_lowercase()), Some(definition));
    }
    let kinds = ["", "_INT", "_DINT", "_LINT", "_UDINT", "_ULINT"];
    let counters = ["CTU", "CTD", "CTUD"].iter().flat_map(|name| kinds.map(|kind| format!("{name}{kind}")));
    let timers = ["TP", "TON", "TOF"]
        .iter()
        .flat_map(|name| ["", "_TIME", "_LTIME"].map(|kind| format!("{name}{kind}")));
    let others = ["SR", "RS", "R_TRIG", "F_TRIG"].map(str::to_owned);
    let wanted: BTreeSet<String> = counters.chain(timers).chain(others).collect();
    assert_eq!(names, wanted.iter().map(String::as_str).collect());
    assert_eq!(block("TONNE"), None);
}

#[test]
fn members_lie_in_order_aligned_and_apart() {
    for definition in blocks() {
        let order = |section| match section {
            Section::Input => 0,
            Section::Output => 1,
            _ => 2,
        };
        let mut end = 0;
        let mut before = 0;
        for member in definition.members {
            let size = member.ty.size().expect("members are scalars");
            assert_eq!(member.offset % size, 0, "{}.{} is aligned", definition.name, member.name);
            assert!(member.offset >= end, "{}.{} overlaps", definition.name, member.name);
            assert!(order(member.section) >= before, "{}.{} is out of order", definition.name, member.name);
            assert_eq!(
                member.hidden,
                member.section == Section::Local,
                "{}.{}",
                definition.name,
                member.name
            );
            assert!(definition.alignment.is_multiple_of(size), "{}.{}", definition.name, member.name);
            before = order(member.section);
            end = member.offset + size;
        }
        assert!(
            end <= definition.bytes && definition.bytes < end + definition.alignment.max(1),
            "{}",
            definition.name
        );
        assert!(definition.bytes.is_multiple_of(definition.alignment), "{}", definition.name);
        for operator in definition.input_operators {
            let member = &definition.members[operator.member];
            assert_eq!(
                definition.member_index(operator.operator),
                Some(operator.member),
                "{}",
                definition.name
            );
            assert_eq!(member.section, Section::Input, "{}", definition.name);
        }
        for member in definition.members.iter().filter(|member| member.hidden) {
            assert_eq!(definition.member_index(member.name), None);
        }
    }
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
        "INT_TO_STRING",
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
                let legal = match (operation, short(*left), short(*right)) {
                    (_, T::Time | T::TimeOfDay | T::DateAndTime, T::Time) => true,
                    (Subtract, T::Date, T::Date) => true,
                    (Subtract, T::TimeOfDay, T::TimeOfDay) => true,
                    (Subtract, T::DateAndTime, T::DateAndTime) => true,
                    _ => false,
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
