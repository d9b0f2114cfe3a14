//! The call tables of the standard function blocks (IEC 61131-3:2013, tables 43 to 46), through source text in
//! both languages: what the compiler makes of a call must give what the block itself gives, scan by scan.
//! The tables, with the origin of each row, stand beside the library.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::fs;

use latchwork_tests::workbench;
use latchwork_vm::{Machine, Value};

fn rows(file: &str, columns: usize) -> Vec<Vec<String>> {
    let path = format!("{}/../stdlib/tests/data/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(path).unwrap();
    let rows: Vec<Vec<String>> = text
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| line.split(" | ").map(|cell| cell.trim().to_owned()).collect())
        .collect();
    assert!(rows.iter().all(|row: &Vec<String>| row.len() == columns), "{file}");
    rows
}

fn set(machine: &mut Machine, name: &str, value: &Value) {
    let place = machine.program().resolve(name).unwrap();
    machine.write(&place, value).unwrap();
}

fn get(machine: &Machine, name: &str) -> Value {
    let place = machine.program().resolve(name).unwrap();
    machine.read(&place)
}

fn milliseconds(value: &Value) -> i64 {
    match value {
        Value::Duration(nanoseconds, _) => nanoseconds / 1_000_000,
        other => panic!("{other} is no duration"),
    }
}

fn timer_in_structured_text(block: &str) -> String {
    format!(
        "PROGRAM Main VAR T : {block}; Run : BOOL; Preset : TIME; Q : BOOL; ET : TIME; END_VAR
           T(IN := Run, PT := Preset, Q => Q, ET => ET);
         END_PROGRAM"
    )
}

fn timer_in_instruction_list(block: &str) -> String {
    format!(
        "PROGRAM Main VAR T : {block}; Run : BOOL; Preset : TIME; Q : BOOL; ET : TIME; END_VAR
           LD Preset
           PT T
           LD Run
           IN T
           LD T.Q
           ST Q
           LD T.ET
           ST ET
         END_PROGRAM"
    )
}

#[test]
fn timers_follow_their_tables_in_both_languages() {
    let rows = rows("timers.txt", 5);
    assert_eq!(rows.len(), 30);
    for row in rows {
        let [name, block, _, what, calls] = &row[..] else { unreachable!() };
        for source in [timer_in_structured_text(block), timer_in_instruction_list(block)] {
            let mut machine = Machine::new(workbench::program(&source).unwrap());
            for call in calls.split_whitespace() {
                let (time, rest) = call.split_once(':').unwrap();
                let rest = match rest.strip_prefix("[PT") {
                    Some(rest) => {
                        let (preset, rest) = rest.split_once(']').unwrap();
                        let preset = preset.parse::<i64>().unwrap() * 1_000_000;
                        let zero = get(&machine, "Preset");
                        let Value::Duration(_, kind) = zero else { panic!("Preset is a duration") };
                        set(&mut machine, "Preset", &Value::Duration(preset, kind));
                        rest
                    }
                    None => rest,
                };
                let (input, outputs) = rest.split_once('>').unwrap();
                let (q, et) = outputs.split_once('/').unwrap();
                set(&mut machine, "Run", &Value::Bool(input == "1"));
                machine.scan(time.parse::<i64>().unwrap() * 1_000_000).unwrap();
                let seen = (get(&machine, "Q").as_bool(), milliseconds(&get(&machine, "ET")));
                let wanted = (Some(q == "1"), et.parse::<i64>().unwrap());
                assert_eq!(seen, wanted, "{name} {block}: {what}; call {call}\n{source}");
            }
        }
    }
}

/// Inputs and outputs of a block in the order of its declaration, and its inputs that Instruction List has no
/// input operator for.
fn interface(block: &str) -> (&'static [&'static str], &'static [&'static str], &'static str) {
    match block.split('_').next().unwrap_or(block) {
        "R" | "F" => (&["CLK"], &["Q"], "BOOL"),
        "SR" => (&["S1", "R"], &["Q1"], "BOOL"),
        "RS" => (&["S", "R1"], &["Q1"], "BOOL"),
        "CTU" => (&["CU", "R"], &["Q", "CV"], "INT"),
        "CTD" => (&["CD", "LD"], &["Q", "CV"], "INT"),
        "CTUD" => (&["CU", "CD", "R", "LD"], &["QU", "QD", "CV"], "INT"),
        other => panic!("{other} is not in the table"),
    }
}

fn block_program(block: &str, preset: &str) -> String {
    let (inputs, outputs, _) = interface(block);
    let type_name = block.strip_prefix("CTD_").unwrap_or("INT");
    let mut source = format!("PROGRAM Main\nVAR\n  B : {block}{};\n", initial(preset));
    for input in inputs {
        source.push_str(&format!("  In{input} : BOOL;\n"));
    }
    for output in outputs {
        let kind = if *output == "CV" { type_name } else { "BOOL" };
        source.push_str(&format!("  Out{output} : {kind};\n"));
    }
    source.push_str("END_VAR\n");
    source
}

/// `PV=0 CV=32766` as an initial value of the instance.
fn initial(preset: &str) -> String {
    if preset.is_empty() {
        return String::new();
    }
    let members: Vec<String> = preset.split_whitespace().map(|member| member.replace('=', " := ")).collect();
    format!(" := ({})", members.join(", "))
}

#[test]
fn bistables_edges_and_counters_follow_their_tables_in_both_languages() {
    let rows = rows("blocks.txt", 7);
    assert_eq!(rows.len(), 13);
    for row in rows {
        let [name, block, preset, _, what, inputs, outputs] = &row[..] else { unreachable!() };
        let (input_names, output_names, _) = interface(block);
        let formal: Vec<String> = input_names.iter().map(|input| format!("{input} := In{input}")).collect();
        let copies =
            |line: fn(&str) -> String| output_names.iter().map(|output| line(output)).collect::<String>();
        let text = format!(
            "{}  B({});\n{}END_PROGRAM",
            block_program(block, preset),
            formal.join(", "),
            copies(|output| format!("  Out{output} := B.{output};\n")),
        );
        let list = format!(
            "{}{}  CAL B\n{}END_PROGRAM",
            block_program(block, preset),
            input_names.iter().map(|input| format!("  LD In{input}\n  ST B.{input}\n")).collect::<String>(),
            copies(|output| format!("  LD B.{output}\n  ST Out{output}\n")),
        );
        for source in [text, list] {
            let mut machine = Machine::new(workbench::program(&source).unwrap());
            let calls = inputs.split_whitespace().zip(outputs.split_whitespace());
            for (number, (input, output)) in calls.enumerate() {
                for (bit, input_name) in input.chars().zip(input_names) {
                    set(&mut machine, &format!("In{input_name}"), &Value::Bool(bit == '1'));
                }
                machine.scan(number as i64 * 10_000_000).unwrap();
                let seen: Vec<String> = output_names
                    .iter()
                    .map(|output| match get(&machine, &format!("Out{output}")) {
                        Value::Bool(value) => u8::from(value).to_string(),
                        other => other.to_string(),
                    })
                    .collect();
                assert_eq!(seen.join("/"), *output, "{name} {block}: {what}; call {number}\n{source}");
            }
        }
    }
}
