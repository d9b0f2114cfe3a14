//! Function blocks call by call, from tables (`data/blocks.txt`, `data/timers.txt`), and the facts that follow
//! from the standard's bodies. IEC 61131-3:2013, Tables 43 to 46.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::block::Rig;
use latchwork_stdlib::blocks;
use latchwork_vm::{ElementaryType, Section};

const MILLISECOND: i64 = 1_000_000;

fn rows(text: &'static str, fields: usize) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).map(move |line| {
        let row: Vec<&str> = line.split(" | ").map(str::trim).collect();
        assert_eq!(row.len(), fields, "{line}");
        row
    })
}

fn member_names(rig: &Rig, section: Section, only_bool: bool) -> Vec<&'static str> {
    rig.definition
        .members
        .iter()
        .filter(|member| member.section == section && (!only_bool || member.ty == ElementaryType::Bool))
        .map(|member| member.name)
        .collect()
}

#[test]
fn call_tables_of_bistables_edges_and_counters() {
    let mut count = 0;
    for row in rows(include_str!("data/blocks.txt"), 7) {
        let [name, block, preset, origin, what, inputs, outputs] = row[..] else { unreachable!() };
        assert!(matches!(origin, "body" | "choice"), "{name}");
        let mut rig = Rig::new(block);
        for setting in preset.split_whitespace() {
            let (member, value) = setting.split_once('=').expect("member=value");
            rig.set(member, value.parse().expect("a number"));
        }
        let input_names = member_names(&rig, Section::Input, true);
        let output_names = member_names(&rig, Section::Output, false);
        let calls: Vec<_> = inputs.split_whitespace().zip(outputs.split_whitespace()).collect();
        assert_eq!(calls.len(), inputs.split_whitespace().count(), "{name}");
        assert_eq!(calls.len(), outputs.split_whitespace().count(), "{name}");
        for (index, (given, wanted)) in calls.into_iter().enumerate() {
            assert_eq!(given.len(), input_names.len(), "{name}");
            for (member, digit) in input_names.iter().zip(given.chars()) {
                rig.set(member, i128::from(digit == '1'));
            }
            rig.call(index as i64);
            let seen: Vec<String> = output_names.iter().map(|member| rig.get(member).to_string()).collect();
            assert_eq!(seen.join("/"), wanted, "{name} {block}, {what}: call {}", index + 1);
        }
        count += 1;
    }
    assert_eq!(count, 13);
}

#[test]
fn call_tables_of_timers() {
    let mut count = 0;
    for row in rows(include_str!("data/timers.txt"), 5) {
        let [name, block, origin, what, calls] = row[..] else { unreachable!() };
        assert!(matches!(origin, "diagram" | "choice"), "{name}");
        // The long forms and the typed names are the same timer.
        for form in ["", "_TIME", "_LTIME"] {
            let mut rig = Rig::new(&format!("{block}{form}"));
            for call in calls.split_whitespace() {
                let (time, rest) = call.split_once(':').expect("time:");
                let rest = match rest.strip_prefix("[PT") {
                    Some(preset) => {
                        let (preset, rest) = preset.split_once(']').expect("a closing bracket");
                        rig.set(
                            "PT",
                            preset.parse::<i128>().expect("milliseconds") * i128::from(MILLISECOND),
                        );
                        rest
                    }
                    None => rest,
                };
                let (input, wanted) = rest.split_once('>').expect("IN>Q/ET");
                rig.set("IN", input.parse().expect("0 or 1"));
                rig.call(time.parse::<i64>().expect("milliseconds") * MILLISECOND);
                let seen = format!("{}/{}", rig.get("Q"), rig.get("ET") / i128::from(MILLISECOND));
                assert_eq!(seen, wanted, "{name} {block}{form}, {what}: at {time} ms");
            }
        }
        count += 1;
    }
    assert_eq!(count, 30);
}

#[test]
fn outputs_are_false_and_zero_before_the_first_call() {
    for definition in blocks() {
        let rig = Rig::new(definition.name);
        assert!(rig.state().iter().all(|byte| *byte == 0), "{}", definition.name);
    }
}

#[test]
fn a_first_call_with_true_is_a_rising_edge_and_with_false_a_falling_one() {
    let mut rising = Rig::new("R_TRIG");
    rising.set("CLK", 1);
    rising.call(0);
    assert_eq!(rising.get("Q"), 1);
    let mut falling = Rig::new("F_TRIG");
    falling.call(0);
    assert_eq!(falling.get("Q"), 1);
    falling.call(1);
    assert_eq!(falling.get("Q"), 0, "only once");
}

#[test]
fn two_calls_in_one_scan_are_two_evaluations() {
    let mut trigger = Rig::new("R_TRIG");
    trigger.set("CLK", 1);
    trigger.call(5);
    trigger.call(5);
    assert_eq!(trigger.get("Q"), 0);
}

#[test]
fn an_edge_under_reset_or_load_is_lost() {
    for (counter, edge, level) in
        [("CTU", "CU", "R"), ("CTD", "CD", "LD"), ("CTUD", "CU", "R"), ("CTUD", "CD", "LD")]
    {
        let mut rig = Rig::new(counter);
        rig.set(level, 1);
        rig.set(edge, 1);
        rig.call(0);
        rig.set(level, 0);
        rig.call(1);
        assert_eq!(rig.get("CV"), 0, "{counter}: {edge} rose while {level} was TRUE");
    }
}

#[test]
fn a_first_call_with_the_counting_input_true_counts() {
    for (counter, edge, wanted) in
        [("CTU", "CU", 1), ("CTD", "CD", -1), ("CTUD", "CU", 1), ("CTUD", "CD", -1)]
    {
        let mut rig = Rig::new(counter);
        rig.set(edge, 1);
        rig.call(0);
        assert_eq!(rig.get("CV"), wanted, "{counter}");
    }
}

#[test]
fn counters_stop_at_the_limits_of_their_type() {
    for (ty, least, greatest) in [
        ("INT", i128::from(i16::MIN), i128::from(i16::MAX)),
        ("DINT", i128::from(i32::MIN), i128::from(i32::MAX)),
        ("LINT", i128::from(i64::MIN), i128::from(i64::MAX)),
        ("UDINT", 0, i128::from(u32::MAX)),
        ("ULINT", 0, i128::from(u64::MAX)),
    ] {
        for (counter, edge, limit) in
            [("CTU", "CU", greatest), ("CTD", "CD", least), ("CTUD", "CU", greatest), ("CTUD", "CD", least)]
        {
            let mut rig = Rig::new(&format!("{counter}_{ty}"));
            rig.set("CV", if limit == greatest { limit - 1 } else { limit + 1 });
            for pulse in 0..3 {
                rig.set(edge, 1);
                rig.call(2 * pulse);
                rig.set(edge, 0);
                rig.call(2 * pulse + 1);
                assert_eq!(rig.get("CV"), limit, "{counter}_{ty}");
            }
        }
    }
}

#[test]
fn both_outputs_of_an_up_down_counter_may_be_true() {
    for preset in [0, -5] {
        let mut rig = Rig::new("CTUD");
        rig.set("PV", preset);
        rig.call(0);
        assert_eq!((rig.get("QU"), rig.get("QD")), (1, 1));
    }
}

#[test]
fn inputs_keep_their_values_between_calls() {
    let mut rig = Rig::new("CTU");
    rig.set("PV", 1);
    rig.set("CU", 1);
    rig.call(0);
    rig.call(1);
    assert_eq!((rig.get("CV"), rig.get("Q"), rig.get("PV")), (1, 1, 1));
}

#[test]
fn input_operators_of_instruction_list() {
    let mut timer = Rig::new("TON");
    timer.operator("PT", 50, 0);
    assert!(timer.get("ST") == 0 && timer.get("PT") == 50, "PT only stores");
    timer.operator("IN", 1, 0);
    timer.operator("in", 1, 50);
    assert_eq!(timer.get("Q"), 1);

    let mut up = Rig::new("CTU");
    up.operator("PV", 1, 0);
    assert_eq!(up.get("Q"), 0, "PV of CTU only stores");
    up.operator("CU", 1, 0);
    assert_eq!((up.get("CV"), up.get("Q")), (1, 1));
    up.operator("RESET", 1, 1);
    assert_eq!((up.get("CV"), up.get("Q")), (0, 0));

    let mut down = Rig::new("CTD_UDINT");
    down.operator("PV", 2, 0);
    assert_eq!((down.get("CV"), down.get("Q")), (2, 0), "PV of CTD loads");
    down.operator("CD", 1, 1);
    down.operator("CD", 0, 2);
    down.operator("CD", 1, 3);
    assert_eq!((down.get("CV"), down.get("Q")), (0, 1));
    assert!(down.definition.input_operator("LD").is_none(), "LD is load in Instruction List");

    let mut both = Rig::new("CTUD");
    both.operator("CU", 1, 0);
    both.operator("PV", 1, 1);
    assert_eq!((both.get("CV"), both.get("QU"), both.get("QD")), (1, 1, 0));
    both.operator("PV", 3, 2);
    assert_eq!((both.get("CV"), both.get("QU"), both.get("QD")), (1, 0, 0), "PV of CTUD compares again");

    let mut set_dominant = Rig::new("SR");
    set_dominant.operator("SET1", 1, 0);
    set_dominant.operator("R", 1, 1);
    assert_eq!(set_dominant.get("Q1"), 1, "S1 is still TRUE and wins");
    set_dominant.operator("S1", 0, 2);
    assert_eq!(set_dominant.get("Q1"), 0);
}

#[test]
fn timers_work_at_the_ends_of_time() {
    for block in ["TON", "TOF", "TP"] {
        let mut rig = Rig::new(block);
        rig.set("PT", i128::from(i64::MAX));
        rig.set("IN", 1);
        rig.call(0);
        rig.set("IN", i128::from(block != "TOF"));
        rig.call(1);
        assert_eq!(rig.get("Q"), i128::from(block != "TON"), "{block}");
        rig.call(i64::MAX);
        assert_eq!(rig.get("ET"), i128::from(i64::MAX) - i128::from(i64::from(block == "TOF")), "{block}");
    }
}
