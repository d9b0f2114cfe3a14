//! Statements that call function blocks, functions and methods, or use references.

use std::fmt::Write;

use super::{
    kind::Kind,
    statement::Statement::{self, Plain},
    writer::Writer,
};

/// Standard function blocks: instance, Boolean inputs, the input with a value, Boolean outputs, the output with a value.
type Block = (
    &'static str,
    &'static [&'static str],
    Option<(&'static str, Kind)>,
    &'static [&'static str],
    Option<(&'static str, Kind)>,
);

const BLOCKS: [Block; 16] = [
    ("ton0", &["IN"], Some(("PT", Kind::Time)), &["Q"], Some(("ET", Kind::Time))),
    ("ton1", &["IN"], Some(("PT", Kind::Time)), &["Q"], Some(("ET", Kind::Time))),
    ("tons[2]", &["IN"], Some(("PT", Kind::Time)), &["Q"], Some(("ET", Kind::Time))),
    ("tof0", &["IN"], Some(("PT", Kind::Time)), &["Q"], Some(("ET", Kind::Time))),
    ("tp0", &["IN"], Some(("PT", Kind::Time)), &["Q"], Some(("ET", Kind::Time))),
    ("ctu0", &["CU", "R"], Some(("PV", Kind::Int)), &["Q"], Some(("CV", Kind::Int))),
    ("ctd0", &["CD", "LD"], Some(("PV", Kind::Int)), &["Q"], Some(("CV", Kind::Int))),
    ("ctdd0", &["CU", "R"], Some(("PV", Kind::Dint)), &["Q"], Some(("CV", Kind::Dint))),
    ("ctud0", &["CU", "CD", "R", "LD"], Some(("PV", Kind::Int)), &["QU", "QD"], Some(("CV", Kind::Int))),
    ("ctul0", &["CU", "R"], Some(("PV", Kind::Ulint)), &["Q"], Some(("CV", Kind::Ulint))),
    ("ctdl0", &["CD", "LD"], Some(("PV", Kind::Lint)), &["Q"], Some(("CV", Kind::Lint))),
    ("ctuu0", &["CU", "CD", "R", "LD"], Some(("PV", Kind::Udint)), &["QU", "QD"], Some(("CV", Kind::Udint))),
    ("sr0", &["S1", "R"], None, &["Q1"], None),
    ("rs0", &["S", "R1"], None, &["Q1"], None),
    ("rt0", &["CLK"], None, &["Q"], None),
    ("ft0", &["CLK"], None, &["Q"], None),
];

impl Writer<'_> {
    /// A call of a standard function block with expressions as inputs.
    pub fn standard_block(&mut self) -> Statement {
        if !self.has_instances() {
            return self.call_statement();
        }
        let (name, flags, value, outputs, result) = *self.random.pick(&BLOCKS);
        let instance = match name {
            "ton1" if self.random.chance(60) => format!("tons[{}]", self.subscript(0, 3)),
            // One of an array: ctus for ctu0.
            _ if name.ends_with('0')
                && !matches!(name, "ctdd0" | "ctul0" | "ctdl0" | "ctuu0")
                && self.random.chance(25) =>
            {
                format!("{}s[{}]", name.trim_end_matches('0'), self.subscript(0, 2))
            }
            _ => name.to_owned(),
        };
        self.calls(&instance);
        let mut arguments = Vec::new();
        for flag in flags {
            if self.random.chance(85) {
                arguments.push(format!("{flag} := {}", self.condition()));
            }
        }
        if let Some((input, kind)) = value
            && self.random.chance(85)
        {
            let value = match kind {
                Kind::Time => self.time(1),
                _ if self.random.chance(60) => self.literal(kind),
                _ => self.number(kind, 1),
            };
            arguments.push(format!("{input} := {value}"));
        }
        if self.random.chance(35) {
            let not = if self.random.chance(20) { "NOT " } else { "" };
            let output = *self.random.pick(outputs);
            arguments.push(format!("{not}{output} => {}", self.target(Kind::Bool)));
        }
        if let Some((output, kind)) = result
            && self.random.chance(15)
        {
            arguments.push(format!("{output} => {}", self.target(kind)));
        }
        let mut text = String::new();
        // Inputs may be set before the call, which then has no arguments.
        if self.random.chance(12) && !instance.contains('[') {
            let _ = write!(text, "{instance}.{} := {}; ", flags[0], self.condition());
            arguments.clear();
        }
        let _ = write!(text, "{instance}({});", arguments.join(", "));
        if self.random.chance(20) {
            let _ = write!(text, " {} := {instance}.{};", self.target(Kind::Bool), outputs[0]);
        }
        Plain(text)
    }

    /// A call of a function block of the program text.
    pub fn user_block(&mut self) -> Statement {
        if self.blocks > 0 && self.random.chance(70) {
            return self.random_block();
        }
        if !self.in_program() {
            return self.standard_block();
        }
        let choice = self.random.below(3);
        if choice < 2 {
            self.calls("edges0");
        }
        Plain(match choice {
            0 => format!("edges0(up := {}, down := {});", self.condition(), self.condition()),
            1 => format!("edges0(up := {});", self.condition()),
            _ => {
                let item = match self.random.below(2) {
                    0 => "st".to_owned(),
                    _ => format!("items[{}]", self.subscript(0, 4)),
                };
                let total = match self.random.below(3) {
                    0 => format!("ai[{}]", self.subscript(0, 7)),
                    _ => self.variable(Kind::Int),
                };
                format!(
                    "sum{}(rate := {}, go := {}, total := {total}, it := {item}, full => {});",
                    self.random.below(2),
                    self.number(Kind::Int, 1),
                    self.condition(),
                    self.target(Kind::Bool)
                )
            }
        })
    }

    fn calls(&mut self, instance: &str) {
        let name = instance.split('[').next().unwrap_or_default();
        if !self.called.iter().any(|called| called == name) {
            self.called.push(name.to_owned());
        }
    }

    fn random_block(&mut self) -> Statement {
        let block = self.random.below(self.blocks);
        let instance = match self.random.below(4) {
            0 => format!("f{block}a"),
            1 => format!("f{block}b"),
            _ => format!("f{block}s[{}]", self.subscript(0, 2)),
        };
        self.calls(&instance);
        let mut arguments = Vec::new();
        if self.random.chance(80) {
            arguments.push(format!("p0 := {}", self.condition()));
        }
        if self.random.chance(50) {
            arguments.push(format!("p1 := {}", self.read(Kind::Bool)));
        }
        if self.random.chance(60) {
            arguments.push(format!("p2 := {}", self.number(Kind::Int, 2)));
        }
        if self.random.chance(50) {
            arguments.push(format!("p3 := {}", self.number(Kind::Real, 2)));
        }
        if self.random.chance(40) {
            arguments.push(format!("q0 => {}", self.target(Kind::Bool)));
        }
        if self.random.chance(30) {
            arguments.push(format!("q1 => {}", self.target(Kind::Int)));
        }
        Plain(format!("{instance}({});", arguments.join(", ")))
    }

    /// A call of a function or method as a statement, with outputs, EN and ENO; or references.
    pub fn call_statement(&mut self) -> Statement {
        let choices = if self.in_program() { 15 } else { 5 };
        Plain(match self.random.below(choices) {
            0 => format!(
                "{} := Mix3(EN := {}, a := {}, b := {}, ENO => {});",
                self.target(Kind::Int),
                self.condition(),
                self.number(Kind::Int, 1),
                self.read(Kind::Int),
                self.variable(Kind::Bool)
            ),
            1 => format!(
                "{} := Mix3(a := {}, b := {}, over => {}, low => {});",
                self.target(Kind::Int),
                self.number(Kind::Int, 2),
                self.read(Kind::Int),
                self.target(Kind::Bool),
                self.target(Kind::Int)
            ),
            2 => {
                let number = match self.random.below(2) {
                    0 => self.variable(Kind::Int),
                    _ => format!("ai[{}]", self.subscript(0, 7)),
                };
                let flag = match self.random.below(2) {
                    0 => self.variable(Kind::Bool),
                    _ => format!("ab[{}]", self.subscript(1, 6)),
                };
                format!(
                    "{} := Bump(rate := {}, n := {number}, flag := {flag});",
                    self.target(Kind::Dint),
                    self.number(Kind::Int, 1)
                )
            }
            3 if self.function => format!(
                "{} := Own({}, {}, {}, {});",
                self.target(Kind::Real),
                self.condition(),
                self.condition(),
                self.number(Kind::Int, 1),
                self.number(Kind::Real, 1)
            ),
            4 => {
                let condition = self.condition();
                format!(
                    "{} := ADD(EN := {condition}, IN1 := i0, IN2 := i1, ENO => b6);",
                    self.target(Kind::Int)
                )
            }
            5 => format!("drive := {};", self.random.pick(&["butt0", "tank0", "tank0", "NULL"])),
            6 => format!(
                "IF drive <> NULL THEN {} := drive.Turn({}); END_IF;",
                self.target(Kind::Int),
                self.read(Kind::Int)
            ),
            7 if self.random.chance(6) => format!("{} := drive.Stop();", self.target(Kind::Bool)),
            7 => format!(
                "tank0.Turn(rate := {}); {} := butt0.level > tank0.store[1];",
                self.read(Kind::Int),
                self.target(Kind::Bool)
            ),
            8 => {
                let to = match self.random.below(3) {
                    0 => self.variable(Kind::Int),
                    1 => "st.n".to_owned(),
                    _ => format!("ai[{}]", self.subscript(0, 7)),
                };
                format!("pi := REF({to});")
            }
            9 => format!(
                "pb := REF({}); pr := REF({}); pit := REF(items[{}]);",
                self.variable(Kind::Bool),
                self.variable(Kind::Real),
                self.subscript(0, 4)
            ),
            10 => format!("IF pi <> NULL THEN pi^ := pi^ + {}; END_IF;", self.number(Kind::Int, 1)),
            11 if self.random.chance(6) => format!("pb^ := {};", self.condition()),
            11 => format!(
                "IF pb <> NULL AND pit <> NULL THEN pb^ := {}; pit^.n := pit^.n + 1; pit^.lit := pb^ OR {}; END_IF;",
                self.condition(),
                self.read(Kind::Bool)
            ),
            12 => format!(
                "pi := REF(items[{}].n); ptank ?= drive; IF ptank <> NULL THEN {} := ptank^.level; END_IF;",
                self.subscript(0, 4),
                self.target(Kind::Int)
            ),
            13 => format!("{} := Total(ai);", self.target(Kind::Int)),
            _ => format!(
                "{} := Blend({}, 2.0, {});",
                self.target(Kind::Real),
                self.number(Kind::Real, 1),
                self.read(Kind::Real)
            ),
        })
    }
}
