//! Statements of Structured Text.

use super::{
    kind::{BIT_STRINGS, INTEGERS, KINDS, Kind, NUMBERS},
    statement::Statement::{self, Nested, Plain},
    writer::{Control, Writer},
};

/// Statements that may stand inside one another, and loops.
const DEPTH_MAX: usize = 3;

impl Writer<'_> {
    /// So many statements, those inside others among them.
    pub fn statements(&mut self, count: usize) -> Vec<Statement> {
        self.rest = count;
        let mut statements = Vec::new();
        while self.rest > 0 {
            statements.push(self.statement());
        }
        statements
    }

    fn inner(&mut self) -> Vec<Statement> {
        self.depth += 1;
        let count = self.random.weighted(&[1, 10, 6, 3]);
        // What stands inside something is seldom left out because the program is long enough.
        let statements = (0..count.min(self.rest.max(1))).map(|_| self.statement()).collect();
        self.depth -= 1;
        statements
    }

    fn statement(&mut self) -> Statement {
        self.rest = self.rest.saturating_sub(1);
        let nested = if self.depth < DEPTH_MAX { 1 } else { 0 };
        match self.random.weighted(&[
            24,
            22,
            5,
            4,
            4,
            12,
            6,
            4,
            13 * nested,
            5 * nested,
            3 * nested,
            5 * nested,
            3,
        ]) {
            0 => self.boolean_assignment(),
            1 => self.number_assignment(),
            2 => {
                let kind = *self.random.pick(&BIT_STRINGS);
                self.assignment(kind)
            }
            3 => self.assignment(Kind::Time),
            4 => self.whole_assignment(),
            5 => self.standard_block(),
            6 => self.user_block(),
            7 => self.call_statement(),
            8 => self.branch(),
            9 => self.counting_loop(),
            10 => self.condition_loop(),
            11 => self.case(),
            _ => self.leaving(),
        }
    }

    fn assignment(&mut self, kind: Kind) -> Statement {
        let target = self.target(kind);
        Plain(format!("{target} := {};", self.value(kind)))
    }

    fn boolean_assignment(&mut self) -> Statement {
        let target = self.target(Kind::Bool);
        Plain(match self.random.below(10) {
            // The coil holds itself.
            0 | 1 => {
                let (start, stop) = (self.random.between(1, 3), self.random.between(1, 3));
                format!("{target} := ({} OR {target}) AND NOT {};", self.network(start), self.network(stop))
            }
            2 => format!(
                "{target} := {} AND NOT old0; old0 := {};",
                self.read(Kind::Bool),
                self.read(Kind::Bool)
            ),
            3 => format!("{target} := {};", self.comparison()),
            4 => {
                format!("{}.%X{} := {};", self.variable(Kind::Word), self.random.below(16), self.condition())
            }
            5 => format!("{target} := NOT {target};"),
            _ => format!("{target} := {};", self.condition()),
        })
    }

    fn number_assignment(&mut self) -> Statement {
        let kind = NUMBERS[self.random.weighted(&[10, 5, 8, 3, 2, 2, 2, 2, 2, 2])];
        let target = self.target(kind);
        Plain(match self.random.below(8) {
            0 => format!("{target} := {target} + {};", self.number(kind, 1)),
            1 => format!("{target} := {target} - {};", self.literal(kind)),
            _ => format!("{target} := {};", self.value(kind)),
        })
    }

    /// Arrays and structures as a whole, texts.
    fn whole_assignment(&mut self) -> Statement {
        let index = self.subscript(0, 4);
        Plain(match self.random.below(15) {
            12 | 13 => self.plane(),
            14 => format!(
                "FOR kp0 := 0 TO 2 DO FOR kp1 := 1 TO 4 DO ad[kp0, kp1] := ad[kp0 + 1, kp1] + {}; END_FOR; END_FOR;",
                self.number(Kind::Dint, 1)
            ),
            // A place of an array after the other, as for means and histories.
            9 => format!("us1 := (us1 + 1) MOD 8; ai[us1] := {};", self.number(Kind::Int, 1)),
            10 => format!(
                "u1 := (u1 + 1) MOD 4; alr[u1] := {}; lr2 := alr[0] + alr[u1];",
                self.read(Kind::Lreal)
            ),
            11 => format!("us1 := us1 MOD 5; items[us1].n := items[us1].n + {};", self.literal(Kind::Int)),
            6 => format!("items[{index}] := items[{}];", self.subscript(0, 4)),
            7 => {
                let number = self.random.below(2);
                let value = self.number(Kind::Int, 1);
                if self.random.chance(90) {
                    format!("pc{number} := LIMIT(0, {value}, 100);")
                } else {
                    format!("pc{number} := {value};")
                }
            }
            8 if self.in_program() => {
                format!("str0 := 'tray'; str0[{}] := 'x'; str1 := str0;", self.subscript(1, 4))
            }
            0 => "st1 := st;".to_owned(),
            1 => format!("items[{index}] := st;"),
            2 => format!("st := items[{index}];"),
            3 if self.in_program() => {
                let text = *self.random.pick(&[
                    "'tray'",
                    "CONCAT(str1, 'ab')",
                    "LEFT(str0, 3)",
                    "RIGHT(str1, i2)",
                    "MID(str1, 3, 2)",
                    "MID(str0, i0, i2)",
                    "INSERT(str0, 'xy', i2)",
                    "DELETE(str1, 2, i0)",
                    "REPLACE(str0, str1, 1, 2)",
                    "CONCAT(str1, ' ', DINT_TO_STRING(d0))",
                    "INT_TO_STRING(FIND(str1, 'ra'))",
                    "CONCAT(INT_TO_STRING(FIND(str1, str0)), str1)",
                    "INT_TO_STRING(i0)",
                    "str1",
                    "'twelve letters and more'",
                ]);
                format!("str0 := {text};")
            }
            4 if self.in_program() => "str1 := str0; i2 := LEN(str1);".to_owned(),
            _ => (*self.random.pick(&["ai1 := ai;", "ai := ai1;"])).to_owned(),
        })
    }

    /// Elements of two dimensions by variables.
    fn plane(&mut self) -> String {
        let (kind, array) = *self.random.pick(&[
            (Kind::Dint, "ad"),
            (Kind::Real, "ap"),
            (Kind::Bool, "abp"),
            (Kind::Int, "aip"),
        ]);
        let (row, column) = *self.random.pick(&[("i1", "i2"), ("d1", "d2"), ("i2", "i1")]);
        let element = format!("{array}[{row}, {column}]");
        let mut text = format!("{row} := LIMIT(0, {row}, 3); {column} := LIMIT(1, {column}, 4); ");
        text.push_str(&match self.random.below(4) {
            0 => format!("{element} := {};", self.read(kind)),
            1 => format!("{} := {element};", self.target(kind)),
            2 => format!("{element} := {};", self.value(kind)),
            _ if kind == Kind::Bool => format!("{element} := {element} XOR {};", self.condition()),
            _ => format!("{} := {element} + {};", self.target(kind), self.read(kind)),
        });
        text
    }

    fn branch(&mut self) -> Statement {
        let head = format!("IF {} THEN", self.condition());
        let mut parts = vec![(self.inner(), String::new())];
        for _ in 0..self.random.weighted(&[12, 4, 1]) {
            self.end(&mut parts, |writer| format!("ELSIF {} THEN", writer.condition()));
        }
        if self.random.chance(40) {
            self.end(&mut parts, |_| "ELSE".to_owned());
        }
        if let Some((_, end)) = parts.last_mut() {
            *end = "END_IF;".to_owned();
        }
        Nested(head, parts)
    }

    /// Ends the last part with a text and begins another.
    fn end(&mut self, parts: &mut Vec<(Vec<Statement>, String)>, text: impl FnOnce(&mut Self) -> String) {
        if let Some((_, end)) = parts.last_mut() {
            *end = text(self);
        }
        parts.push((self.inner(), String::new()));
    }

    fn counting_loop(&mut self) -> Statement {
        let level = self.loops;
        let (letter, kind) = *self.random.pick(&[
            ("x", Kind::Int),
            ("x", Kind::Int),
            ("x", Kind::Int),
            ("y", Kind::Dint),
            ("y", Kind::Dint),
            ("z", Kind::Usint),
            ("v", Kind::Sint),
            ("l", Kind::Lint),
            ("n", Kind::Uint),
            ("m", Kind::Udint),
            ("o", Kind::Ulint),
        ]);
        let control = format!("k{letter}{level}");
        let step = self.random.between(1, 4);
        let (few, many) = (self.random.between(1, 6) as i32, self.random.between(0, 9) as i32);
        let (range, bounds) = match self.random.below(12) {
            0..=2 => (format!("0 TO {many}"), Some((0, many))),
            3 => ("0 TO 7".to_owned(), Some((0, 7))),
            4 => (format!("1 TO {few}"), Some((1, few))),
            5 if !kind.is_unsigned() => (format!("{few} TO -2 BY -1"), Some((-2, few))),
            5 | 6 if !kind.is_unsigned() => (format!("{few} TO 1 BY -2"), Some((1, few))),
            5..=7 => (format!("0 TO 9 BY {step}"), Some((0, 9))),
            8 => (format!("0 TO LIMIT(0, {}, 6)", self.read(kind)), Some((0, 6))),
            9 => (
                format!("LIMIT(0, {}, 3) TO LIMIT(1, {}, 8)", self.read(kind), self.read(kind)),
                Some((0, 8)),
            ),
            10 if self.random.chance(50) => {
                // To the very end of the type, where the next step does not fit.
                let most = kind.greatest();
                (format!("{} TO {most}", most - u64::from(few.unsigned_abs())), None)
            }
            10 => (format!("0 TO 5 BY {}", self.variable(kind)), None),
            _ => (format!("{} TO {}", self.variable(kind), self.literal(kind)), None),
        };
        self.controls.push(Control { name: control.clone(), kind, bounds });
        self.loops += 1;
        let body = self.inner();
        self.loops -= 1;
        self.controls.pop();
        Nested(format!("FOR {control} := {range} DO"), vec![(body, "END_FOR;".to_owned())])
    }

    fn condition_loop(&mut self) -> Statement {
        let counter = format!("kw{}", self.loops);
        let times = self.random.between(1, 6);
        let operands = self.random.between(1, 3);
        let condition = self.network(operands);
        self.controls.push(Control {
            name: counter.clone(),
            kind: Kind::Uint,
            bounds: Some((1, times as i32)),
        });
        self.loops += 1;
        let body = self.inner();
        self.loops -= 1;
        self.controls.pop();
        if self.random.chance(50) {
            let head = format!(
                "{counter} := 0; WHILE {counter} < {times} AND {condition} DO {counter} := {counter} + 1;"
            );
            Nested(head, vec![(body, "END_WHILE;".to_owned())])
        } else {
            let head = format!("{counter} := 0; REPEAT {counter} := {counter} + 1;");
            Nested(head, vec![(body, format!("UNTIL {condition} OR {counter} >= {times} END_REPEAT;"))])
        }
    }

    fn case(&mut self) -> Statement {
        let kind = *self.random.pick(&INTEGERS);
        let selector = match self.random.below(3) {
            0 => format!("{} MOD 8", self.read(kind)),
            _ => self.read(kind),
        };
        let wide = self.random.chance(30);
        let mut next = 0;
        let mut labels = Vec::new();
        for _ in 0..self.random.between(1, 6) {
            next += if wide { self.random.between(1, 15) } else { self.random.between(0, 1) };
            let last = next + self.random.weighted(&[8, 2, 1]);
            labels.push(match last - next {
                0 => format!("{next}:"),
                _ if self.random.chance(50) => format!("{next}..{last}:"),
                _ => (next..=last).map(|label| label.to_string()).collect::<Vec<_>>().join(", ") + ":",
            });
            next = last + 1;
        }
        let mut labels = labels.into_iter();
        let head = format!("CASE {selector} OF {}", labels.next().unwrap_or_default());
        let mut parts = vec![(self.inner(), String::new())];
        for label in labels {
            self.end(&mut parts, |_| label);
        }
        if self.random.chance(70) {
            self.end(&mut parts, |_| "ELSE".to_owned());
        }
        if let Some((_, end)) = parts.last_mut() {
            *end = "END_CASE;".to_owned();
        }
        Nested(head, parts)
    }

    /// Statements that go on elsewhere, each behind a condition.
    fn leaving(&mut self) -> Statement {
        let operands = self.random.between(1, 4);
        let condition = self.network(operands);
        match self.random.below(4) {
            0 | 1 if self.loops > 0 => Plain(format!("IF {condition} THEN EXIT; END_IF;")),
            2 if self.loops > 0 => Plain(format!("IF {condition} THEN CONTINUE; END_IF;")),
            3 if self.random.chance(30) => Plain(format!("IF {condition} AND b3 THEN RETURN; END_IF;")),
            _ => {
                let kind = *self.random.pick(&KINDS);
                self.assignment(kind)
            }
        }
    }
}
