//! Networks of Instruction List.

use std::fmt::Write;

use super::{
    kind::{Kind, NUMBERS},
    statement::Statement::{self, Plain},
    writer::Writer,
};

impl Writer<'_> {
    /// So many networks, each of several instructions.
    pub fn networks(&mut self, count: usize) -> Vec<Statement> {
        (0..count).map(|_| Plain(self.network_of_list())).collect()
    }

    fn network_of_list(&mut self) -> String {
        let mut text = String::new();
        match self.random.below(15) {
            13 => {
                // A loop.
                self.labels += 1;
                let label = format!("again{}", self.labels);
                let _ = writeln!(text, "LD 0\nST kw0\n{label}: LD kw0\nADD 1\nST kw0");
                self.arithmetic_list(&mut text);
                let _ = writeln!(text, "LD kw0\nLT {}", self.random.between(2, 6));
                for _ in 0..self.random.below(3) {
                    self.contact_of_list(&mut text, 1);
                }
                let _ = write!(text, "AND( kw0\nLT 9\n)\nJMPC {label}");
            }
            0..=4 => {
                self.rungs(&mut text);
                self.coil(&mut text);
            }
            5 | 6 => self.arithmetic_list(&mut text),
            7 => {
                // A jump over a part of the network.
                self.labels += 1;
                let label = format!("over{}", self.labels);
                self.rungs(&mut text);
                let _ = writeln!(text, "{} {label}", self.random.pick(&["JMPC", "JMPCN"]));
                self.arithmetic_list(&mut text);
                let _ = write!(text, "{label}: LD {}\nST {}", self.read(Kind::Bool), self.target(Kind::Bool));
            }
            8 => {
                let kind = *self.random.pick(&NUMBERS);
                let _ = writeln!(text, "LD {}", self.read(kind));
                let operator = *self.random.pick(&["GT", "GE", "LT", "LE", "EQ", "NE"]);
                let _ = writeln!(text, "{operator} {}", self.read(kind));
                if self.random.chance(60) {
                    let operator = *self.random.pick(&["AND", "OR", "ANDN", "ORN", "XOR"]);
                    let _ = writeln!(text, "{operator} {}", self.read(Kind::Bool));
                }
                self.coil(&mut text);
            }
            9 => {
                self.rungs(&mut text);
                let _ = writeln!(text, "ST ton0.IN\nLD {}\nST ton0.PT\nCAL ton0", self.literal(Kind::Time));
                let _ = writeln!(text, "LD ton0.Q");
                self.coil(&mut text);
            }
            10 => {
                let _ = writeln!(
                    text,
                    "CAL ctu0(CU := {}, R := {}, PV := {}, Q => {})",
                    self.read(Kind::Bool),
                    self.read(Kind::Bool),
                    self.literal(Kind::Int),
                    self.target(Kind::Bool)
                );
                let _ = write!(text, "LD ctu0.CV\nST {}", self.target(Kind::Int));
            }
            11 if self.random.chance(25) => {
                let _ = write!(
                    text,
                    "LD {}\nPV {}",
                    self.literal(Kind::Int),
                    self.random.pick(&["ctd0", "ctud0", "ctu0"])
                );
            }
            11 => {
                self.rungs(&mut text);
                let _ = write!(
                    text,
                    "{}",
                    self.random.pick(&[
                        "CLK rt0", "CLK ft0", "S1 sr0", "R1 rs0", "S rs0", "CU ctud0", "CD ctud0", "IN tof0",
                        "IN tp0"
                    ])
                );
            }
            12 => {
                let _ = write!(
                    text,
                    "LD {}\nMix3 {}, {}\nST {}",
                    self.read(Kind::Int),
                    self.read(Kind::Int),
                    self.literal(Kind::Int),
                    self.target(Kind::Int)
                );
            }
            _ => {
                let kind = *self.random.pick(&[Kind::Word, Kind::Byte, Kind::Dword]);
                let _ = writeln!(text, "LD{} {}", self.random.pick(&["", "N"]), self.read(kind));
                for _ in 0..self.random.between(1, 3) {
                    let operator = *self.random.pick(&["AND", "OR", "XOR", "ANDN", "ORN", "XORN"]);
                    let _ = writeln!(text, "{operator} {}", self.read(kind));
                }
                let _ = write!(text, "ST {}", self.target(kind));
            }
        }
        text.trim_end().replace('\n', "\n  ")
    }

    /// Contacts in series and parallel, with parentheses.
    fn rungs(&mut self, text: &mut String) {
        let _ = writeln!(text, "LD{} {}", self.random.pick(&["", "", "N"]), self.read(Kind::Bool));
        for _ in 0..self.random.between(0, 5) {
            self.contact_of_list(text, 0);
        }
    }

    fn contact_of_list(&mut self, text: &mut String, depth: usize) {
        let operator = *self.random.pick(&["AND", "AND", "OR", "OR", "XOR", "ANDN", "ORN", "XORN"]);
        if depth < 2 && self.random.chance(30) {
            let _ = writeln!(text, "{operator}( {}", self.read(Kind::Bool));
            for _ in 0..self.random.between(1, 3) {
                self.contact_of_list(text, depth + 1);
            }
            let _ = writeln!(text, ")");
        } else if self.random.chance(8) {
            let _ = writeln!(text, "NOT");
        } else {
            let _ = writeln!(text, "{operator} {}", self.read(Kind::Bool));
        }
    }

    fn coil(&mut self, text: &mut String) {
        let operator = *self.random.pick(&["ST", "ST", "ST", "STN", "S", "R"]);
        let _ = writeln!(text, "{operator} {}", self.target(Kind::Bool));
        if self.random.chance(20) {
            let _ = writeln!(text, "ST {}", self.target(Kind::Bool));
        }
    }

    fn arithmetic_list(&mut self, text: &mut String) {
        let kind = NUMBERS[self.random.weighted(&[5, 3, 4, 2, 1, 1, 1, 1, 1, 1])];
        let _ = writeln!(text, "LD {}", self.read(kind));
        for _ in 0..self.random.between(1, 4) {
            let operator = *self.random.pick(&["ADD", "SUB", "MUL", "MAX", "MIN", "DIV"]);
            match self.random.below(5) {
                _ if operator == "DIV" => {
                    let _ = writeln!(text, "DIV {}", if kind.is_float() { "2.5" } else { "3" });
                }
                0 if matches!(operator, "ADD" | "SUB" | "MUL") => {
                    let _ = writeln!(text, "{operator}( {}\nADD {}\n)", self.read(kind), self.literal(kind));
                }
                1 => {
                    let _ = writeln!(text, "{operator} {}", self.literal(kind));
                }
                _ => {
                    let _ = writeln!(text, "{operator} {}", self.read(kind));
                }
            }
        }
        let _ = writeln!(text, "ST {}", self.target(kind));
    }
}
