//! A program that has each instance twice, once as the standard block and once as its body, and the comparison of both.

use std::{cell::RefCell, fmt::Write, ops::Range, sync::Arc};

use latchwork_stdlib::{BlockDefinition, BlockMember, st_body};
use latchwork_tests::workbench;
use latchwork_vm::{ElementaryType, Machine, Program, Restart, Section};

use crate::stimulus::{Before, Step, Way, before, count, duration, extra, time, way};

/// The block that a typed name is a form of: CTU for CTU_DINT.
pub fn kind(block: &BlockDefinition) -> &'static str {
    match block.name {
        name @ ("R_TRIG" | "F_TRIG") => name,
        name => name.split('_').next().unwrap_or(name),
    }
}

fn is_timer(block: &BlockDefinition) -> bool {
    block.member_index("ET").is_some()
}

fn inputs(block: &BlockDefinition) -> impl Iterator<Item = &'static BlockMember> {
    block.members.iter().filter(|member| member.section == Section::Input)
}

/// The limits of a type of counter values.
fn limits(ty: ElementaryType) -> (i128, i128) {
    let bits = 8 * ty.size().unwrap_or(0);
    if ty.is_signed() { (-(1 << (bits - 1)), (1 << (bits - 1)) - 1) } else { (0, (1 << bits) - 1) }
}

/// Initial values of the retained instance and of the one that is lent.
fn initial_values(block: &BlockDefinition) -> [String; 2] {
    let fixed = |kept: &str, lent: &str| [kept.to_owned(), lent.to_owned()];
    match kind(block) {
        "SR" | "RS" => fixed("Q1 := TRUE", "Q1 := FALSE"),
        "R_TRIG" | "F_TRIG" => fixed("CLK := TRUE", "CLK := FALSE"),
        "CTU" | "CTD" | "CTUD" => {
            let member = &block.members[block.member_index("CV").unwrap()];
            let (least, greatest) = limits(member.ty);
            [format!("CV := {}, PV := 2", greatest - 1), format!("CV := {}, PV := {greatest}", least + 1)]
        }
        _ => fixed("PT := T#20ms", "PT := T#35ms, IN := TRUE"),
    }
}

/// One operator of Instruction List with the same thing done to the body.
fn operators(block: &BlockDefinition) -> (String, String) {
    let (mut list, mut model) = (String::new(), String::new());
    let held = inputs(block).find(|member| matches!(member.name, "PV" | "PT")).map(|member| member.name);
    let now = if is_timer(block) { ", NOW := Now" } else { "" };
    // The operators of Instruction List have no LD; the body loads where the operator PV does.
    let load = if kind(block) == "CTD" { ", LD := FALSE" } else { "" };
    let held_argument = held.map(|name| format!(", {name} := Held")).unwrap_or_default();
    for (index, operator) in block.input_operators.iter().enumerate() {
        let name = block.members[operator.member].name;
        let _ = write!(list, "Op{index}: LD In{name}\n{} block\nRET\n", operator.operator);
        let _ = write!(model, "{index}: ");
        model.push_str(&match (operator.calls, operator.operation) {
            (true, _) => format!("listed({name} := In{name}{load}{held_argument}{now});\n"),
            (false, None) => format!("Held := In{name};\n"),
            // The operator PV of CTD loads, that of CTUD compares again: no counting input changes, so no edge does.
            (false, Some(_)) if kind(block) == "CTD" => {
                format!("Held := In{name}; listed(LD := TRUE, {name} := Held);\n")
            }
            (false, Some(_)) => format!("Held := In{name}; listed({name} := Held);\n"),
        });
    }
    let jumps: String = (0..block.input_operators.len())
        .map(|index| format!("LD Choice\nEQ {index}\nJMPC Op{index}\n"))
        .collect();
    (format!("{jumps}RET\n{list}"), model)
}

/// The program. Every call of an instance is followed by the same call of its body.
fn source(block: &BlockDefinition, body: &str) -> String {
    let name = block.name;
    let model = format!("{name}_BODY");
    let declared: String =
        inputs(block).map(|member| format!("In{} : {}; ", member.name, member.ty.name())).collect();
    let all = inputs(block).map(|member| format!("{0} := In{0}", member.name)).collect::<Vec<_>>().join(", ");
    let first = inputs(block).next().map(|member| member.name).unwrap_or_default();
    let handed =
        inputs(block).map(|member| format!("In{0} := In{0}", member.name)).collect::<Vec<_>>().join(", ");
    let now = if is_timer(block) { ", NOW := Now" } else { "" };
    let [kept, lent] = initial_values(block);
    let (list, operator_models) = operators(block);
    let held = inputs(block)
        .find(|member| matches!(member.name, "PV" | "PT"))
        .map(|member| format!("Held : {};", member.ty.name()))
        .unwrap_or_default();
    let pair =
        |real: &str, body: &str, arguments: &str| format!("{real}({arguments}); {body}({arguments}{now});");
    format!(
        "{body}
FUNCTION_BLOCK Holder
VAR_INPUT {declared} Now : LTIME; END_VAR
VAR block : {name}; body : {model}; END_VAR
  {holder}
END_FUNCTION_BLOCK
FUNCTION_BLOCK Borrower
VAR_INPUT {declared} Now : LTIME; END_VAR
VAR_IN_OUT block : {name}; body : {model}; END_VAR
  {holder}
END_FUNCTION_BLOCK
FUNCTION_BLOCK Operators
VAR_INPUT {declared} Choice : INT; END_VAR
VAR block : {name}; END_VAR
{list}
END_FUNCTION_BLOCK
PROGRAM Main
VAR
  Way, Index, Choice : INT; Enable : BOOL; Now : LTIME; {declared} {held}
  plain : {name}; plain_body : {model};
  row : ARRAY[0..2] OF {name}; row_body : ARRAY[0..2] OF {model};
  first, second : Holder;
  lent : {name} := ({lent}); lent_body : {model} := ({lent});
  borrower : Borrower;
  operators : Operators; listed : {model};
END_VAR
VAR RETAIN
  kept : {name} := ({kept}); kept_body : {model} := ({kept});
END_VAR
CASE Way OF
0: {plain}
1: {kept_pair}
2: {element}
3: first({handed}, Now := Now);
4: second({handed}, Now := Now);
5: borrower({handed}, Now := Now, block := lent, body := lent_body);
6: borrower({handed}, Now := Now, block := row[Index], body := row_body[Index]);
7: {plain} {again}
8: {partly}
9: {enabled}
11: operators(Choice := Choice, {handed});
  CASE Choice OF
  {operator_models}  END_CASE;
END_CASE;
END_PROGRAM
",
        holder = pair("block", "body", &all),
        plain = pair("plain", "plain_body", &all),
        kept_pair = pair("kept", "kept_body", &all),
        element = pair("row[Index]", "row_body[Index]", &all),
        again = pair("plain", "plain_body", &format!("{first} := NOT In{first}")),
        partly = pair("kept", "kept_body", &format!("{first} := In{first}")),
        enabled = pair("plain", "plain_body", &format!("EN := Enable, {all}")),
    )
}

/// The places of one instance and its body, and what is compared.
struct Pair {
    /// Name in messages.
    name: String,
    /// Member, address in the block, address in the body, bytes.
    members: Vec<(&'static str, u32, u32, u32)>,
}

/// Every instance of a block with its body, on a program that is ready to run.
pub struct Pairs {
    block: &'static BlockDefinition,
    pairs: Vec<Pair>,
    inputs: Vec<(&'static BlockMember, u32)>,
    way: u32,
    index: u32,
    choice: u32,
    enable: u32,
    now: u32,
    /// Used again and again, for a cold restart is cheaper than a new machine.
    machine: RefCell<Machine>,
}

fn address(program: &Program, path: &str) -> u32 {
    program.resolve(path).unwrap_or_else(|error| panic!("{error}")).address
}

impl Pairs {
    /// The block beside its own body.
    pub fn new(block: &'static BlockDefinition) -> Self {
        Self::with_body(block, st_body(block))
    }

    /// The block beside any body with the same interface.
    pub fn with_body(block: &'static BlockDefinition, body: &str) -> Self {
        let text = source(block, body);
        let program: Arc<Program> =
            workbench::program(&text).unwrap_or_else(|problem| panic!("{}: {problem}\n{text}", block.name));
        let of = |name: &str| address(&program, &format!("Main.{name}"));
        let paths = [
            ("plain", "plain", "plain_body"),
            ("kept", "kept", "kept_body"),
            ("row[0]", "row[0]", "row_body[0]"),
            ("row[1]", "row[1]", "row_body[1]"),
            ("row[2]", "row[2]", "row_body[2]"),
            ("first.block", "first.block", "first.body"),
            ("second.block", "second.block", "second.body"),
            ("lent", "lent", "lent_body"),
            ("operators.block", "operators.block", "listed"),
        ];
        let pairs = paths
            .into_iter()
            .map(|(name, real, body)| Pair {
                name: name.to_owned(),
                members: compared(&program, block, &format!("Main.{real}"), &format!("Main.{body}")),
            })
            .collect();
        let inputs = inputs(block).map(|member| (member, of(&format!("In{}", member.name)))).collect();
        let (way, index, choice) = (of("Way"), of("Index"), of("Choice"));
        let (enable, now) = (of("Enable"), of("Now"));
        let machine = RefCell::new(Machine::new(program));
        Self { block, pairs, inputs, way, index, choice, enable, now, machine }
    }

    /// The first scan after which a block and its body disagree. A thorough comparison looks at every instance after
    /// every scan, the other mostly at those that were called.
    pub fn disagreement(&self, steps: &[Step], thorough: bool) -> Option<usize> {
        self.run(steps, thorough, |_, _, _| {})
    }

    fn run(
        &self,
        steps: &[Step],
        thorough: bool,
        mut seen: impl FnMut(&Inputs, Step, &Machine),
    ) -> Option<usize> {
        let machine = &mut *self.machine.borrow_mut();
        machine.restart(Restart::Cold);
        machine.clear_events();
        let mut now = Inputs::new(self.block);
        for (scan, step) in steps.iter().enumerate() {
            match before(*step) {
                Before::None => {}
                Before::Warm => machine.restart(Restart::Warm),
                Before::Cold => machine.restart(Restart::Cold),
            }
            now.advance(self.block, *step);
            self.put(machine, &now, *step);
            machine.scan(now.time).unwrap_or_else(|fault| panic!("{}: {fault:?}", self.block.name));
            seen(&now, *step, machine);
            let every = thorough || scan % 64 == 63 || scan + 1 == steps.len();
            let mut called = if every { 0..self.pairs.len() } else { called(*step) };
            let data = machine.data();
            if called.any(|pair| self.pairs[pair].members.iter().any(|member| !agree(data, *member))) {
                return Some(scan);
            }
        }
        assert_eq!(machine.events().total(), 0, "{}: no block gives an event", self.block.name);
        None
    }

    fn put(&self, machine: &mut Machine, now: &Inputs, step: Step) {
        let data = machine.data_mut();
        let mut put = |address: u32, bytes: &[u8]| {
            data[address as usize..address as usize + bytes.len()].copy_from_slice(bytes);
        };
        put(self.way, &(way(step) as i16).to_le_bytes());
        put(self.index, &i16::from(extra(step) % 3).to_le_bytes());
        put(self.choice, &i16::from(extra(step) % self.block.input_operators.len() as u8).to_le_bytes());
        put(self.enable, &[u8::from(extra(step) >= 128)]);
        put(self.now, &now.time.to_le_bytes());
        for ((member, address), value) in self.inputs.iter().zip(&now.values) {
            // Members of blocks are scalars.
            let size = member.ty.size().unwrap_or(0) as usize;
            put(*address, &value.to_le_bytes()[..size]);
        }
    }

    /// A stimulus as a table: a line a call, with inputs, and what block and body gave.
    pub fn call_table(&self, steps: &[Step]) -> String {
        let mut text = format!("{} and its body disagree. Calls:\n", self.block.name);
        self.run(steps, true, |now, step, machine| {
            let restart = match before(step) {
                Before::None => String::new(),
                restart => format!("{restart:?} restart, "),
            };
            let mut how = format!("{:?}", way(step));
            match way(step) {
                Way::Operator => {
                    let operator = usize::from(extra(step)) % self.block.input_operators.len();
                    how = format!("operator {}", self.block.input_operators[operator].operator);
                }
                Way::Enabled => how = format!("EN := {}", extra(step) >= 128),
                _ => {}
            }
            let _ = write!(text, "  {} ns: {restart}{how}", now.time);
            for ((member, _), value) in self.inputs.iter().zip(&now.values) {
                let _ = write!(text, " {}={value}", member.name);
            }
            let called = called(step);
            for (index, pair) in self.pairs.iter().enumerate() {
                let differs = pair.members.iter().any(|member| !agree(machine.data(), *member));
                if called.contains(&index) || differs {
                    let _ = write!(text, "\n    {}:", pair.name);
                    for (name, real, body, size) in &pair.members {
                        let [real, body] = [*real, *body].map(|at| number(machine.data(), at, *size));
                        let mark = if real == body { "" } else { " <-- the body has " };
                        let body = if real == body { String::new() } else { body.to_string() };
                        let _ = write!(text, " {name}={real}{mark}{body}");
                    }
                }
            }
            text.push('\n');
        });
        text
    }
}

/// The instances that a scan calls, by their indices.
fn called(step: Step) -> Range<usize> {
    let one = match way(step) {
        Way::Plain | Way::Twice | Way::Enabled => 0,
        Way::Kept | Way::Partly => 1,
        Way::Element | Way::LentElement => 2 + usize::from(extra(step) % 3),
        Way::First => 5,
        Way::Second => 6,
        Way::Lent => 7,
        Way::Operator => 8,
        Way::Nothing => return 0..0,
    };
    one..one + 1
}

/// A member as a number without sign.
fn number(data: &[u8], address: u32, size: u32) -> u64 {
    let bytes = &data[address as usize..(address + size) as usize];
    bytes.iter().rev().fold(0, |number, byte| number << 8 | u64::from(*byte))
}

fn agree(data: &[u8], (_, real, body, size): (&str, u32, u32, u32)) -> bool {
    let slice = |at: u32| data.get(at as usize..(at + size) as usize);
    slice(real) == slice(body)
}

/// Every output, and every hidden member that the body declares too.
fn compared(
    program: &Program,
    block: &BlockDefinition,
    real: &str,
    body: &str,
) -> Vec<(&'static str, u32, u32, u32)> {
    // The first member lies where the instance begins.
    let base = address(program, &format!("{real}.{}", block.members[0].name));
    let rows = block.members.iter().filter(|member| member.section != Section::Input);
    let compared: Vec<_> = rows
        .filter_map(|member| {
            let place = program.resolve(&format!("{body}.{}", member.name));
            assert!(member.hidden || place.is_ok(), "{}.{}: {place:?}", block.name, member.name);
            Some((member.name, base + member.offset, place.ok()?.address, member.ty.size()?))
        })
        .collect();
    // Of the hidden members only the memories of R_EDGE inputs have no name in the body.
    let hidden = block.members.iter().filter(|member| member.hidden && !member.name.ends_with("_M"));
    for member in hidden {
        assert!(compared.iter().any(|(name, ..)| *name == member.name), "{}.{}", block.name, member.name);
    }
    compared
}

/// Values of the inputs and the time, as the scans change them.
struct Inputs {
    values: Vec<i128>,
    time: i64,
}

impl Inputs {
    fn new(block: &BlockDefinition) -> Self {
        let start = |member: &BlockMember| match member.name {
            "PT" => 20_000_000,
            "PV" => 2,
            _ => 0,
        };
        Self { values: inputs(block).map(start).collect(), time: 0 }
    }

    /// What a scan changes: a counting or set input often, the input of a timer now and then, so that delays come to
    /// their end, R and LD of a counter seldom.
    fn advance(&mut self, block: &BlockDefinition, step: Step) {
        self.time = time(step, self.time);
        let bits = step[1];
        for (value, member) in self.values.iter_mut().zip(inputs(block)) {
            match member.name {
                "PT" => *value = duration(step).map_or(*value, i128::from),
                "PV" => {
                    let (least, greatest) = limits(member.ty);
                    *value = count(step, least, greatest).unwrap_or(*value);
                }
                "IN" => *value ^= i128::from(bits & 3 == 3),
                "LD" => *value = i128::from(bits >> 5 == 7),
                "R" if kind(block) != "SR" => *value = i128::from(bits >> 2 & 7 == 7),
                "CD" | "R" | "R1" => *value ^= i128::from(bits >> 1 & 1),
                _ => *value ^= i128::from(bits & 1),
            }
        }
    }
}
