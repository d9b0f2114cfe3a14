//! Generated source texts of a wanted size, the same for every run.

pub mod programs;

use std::fmt::Write;

use latchwork_grammar::Sources;

/// A small fixed generator of numbers (Park and Miller 1988, multiplier 48271), so that generated programs
/// never change.
#[derive(Clone, Debug)]
pub struct Numbers(u64);

impl Numbers {
    /// A sequence; equal seeds give equal sequences.
    pub fn new(seed: u32) -> Self {
        Numbers(u64::from(seed) % 2_147_483_646 + 1)
    }

    /// The next number below `limit` (at least 1).
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as usize % limit.max(1)
    }
}

/// A program of `count` Boolean rungs as a control engineer writes them: a few contacts in series and
/// parallel, some of them negated, into one coil. Sixteen inputs, `count` coils.
pub fn boolean_rungs(count: usize) -> String {
    let mut numbers = Numbers::new(200);
    let mut text = String::from("PROGRAM Rungs\nVAR\n");
    for input in 0..16 {
        let _ = writeln!(text, "  I{input} AT %IX{}.{} : BOOL;", input / 8, input % 8);
    }
    for coil in 0..count {
        let _ = writeln!(text, "  C{coil} : BOOL;");
    }
    text.push_str("END_VAR\n");
    for coil in 0..count {
        let contact = |numbers: &mut Numbers| {
            let not = if numbers.below(3) == 0 { "NOT " } else { "" };
            let name = if coil > 0 && numbers.below(2) == 0 {
                format!("C{}", numbers.below(coil))
            } else {
                format!("I{}", numbers.below(16))
            };
            format!("{not}{name}")
        };
        let (start, hold) = (contact(&mut numbers), contact(&mut numbers));
        let (stop, lock) = (contact(&mut numbers), contact(&mut numbers));
        let _ = writeln!(text, "  C{coil} := ({start} OR C{coil} OR {hold}) AND {stop} AND {lock};");
    }
    text.push_str("END_PROGRAM\n");
    text
}

/// A program that calls `count` instances each of edge triggers, bistables, counters and timers in every scan. The
/// second half of each kind lies in an array and is called in a loop.
pub fn standard_blocks(count: usize) -> String {
    let single = count.div_ceil(2);
    let rest = count - single;
    let mut text = String::from("PROGRAM Blocks\nVAR\n  Beat, Index : INT;\n  Up : BOOL;\n");
    const KINDS: [(&str, &str); 8] = [
        ("R_TRIG", "CLK := Up"),
        ("F_TRIG", "CLK := Up"),
        ("RS", "S := Up, R1 := Beat = 9"),
        ("CTU", "CU := Up, R := Beat = 0, PV := 4"),
        ("CTUD", "CU := Up, CD := NOT Up, R := FALSE, LD := Beat = 0, PV := 4"),
        ("TON", "IN := Up, PT := T#25ms"),
        ("TOF", "IN := Up, PT := T#25ms"),
        ("TP", "IN := Up, PT := T#25ms"),
    ];
    for (kind, _) in KINDS {
        for instance in 0..single {
            let _ = writeln!(text, "  {kind}_{instance} : {kind};");
        }
        if rest > 0 {
            let _ = writeln!(text, "  {kind}_Row : ARRAY[1..{rest}] OF {kind};");
        }
    }
    text.push_str("END_VAR\nBeat := (Beat + 1) MOD 10;\n");
    for (kind, inputs) in KINDS {
        for instance in 0..single {
            let _ = writeln!(text, "Up := Beat > {};\n{kind}_{instance}({inputs});", instance % 9);
        }
        if rest > 0 {
            let _ = writeln!(
                text,
                "FOR Index := 1 TO {rest} DO\n  Up := Beat > Index MOD 9;\n  {kind}_Row[Index]({inputs});\nEND_FOR;"
            );
        }
    }
    text.push_str("END_PROGRAM\n");
    text
}

/// A source text of about `lines` lines with everything an ordinary project has: function blocks with timers
/// and counters, functions, arithmetic, branches, loops, comments.
pub fn project(lines: usize) -> String {
    const LINES_A_BLOCK: usize = 40;
    let mut numbers = Numbers::new(100_000);
    let blocks = (lines / LINES_A_BLOCK).max(1);
    let mut text = String::with_capacity(lines * 40);
    for block in 0..blocks {
        let (delay, limit, gain) = (100 + numbers.below(900), 2 + numbers.below(50), 1 + numbers.below(9));
        let _ = write!(
            text,
            "\
(* Vent {block} of the greenhouse: opens on heat, closes on rain, counts its strokes. *)
FUNCTION_BLOCK Vent{block}
VAR_INPUT
  Open, Close, Rain : BOOL;
  Warmth : REAL;
END_VAR
VAR_OUTPUT
  Motor, Alarm : BOOL;
  Strokes : INT;
END_VAR
VAR
  Delay : TON := (PT := T#{delay}ms);
  Count : CTU;
  History : ARRAY[0..7] OF REAL;
  Mean : REAL;
  Index, Passes : INT;
END_VAR
  Motor := (Open OR Motor) AND NOT Close AND NOT Rain;
  Delay(IN := Motor);
  // A stroke counts when the motor has run long enough.
  Count(CU := Delay.Q, R := Rain, PV := {limit});
  Strokes := Count.CV;
  Alarm := Count.Q;
  History[Index] := Warmth * {gain}.5 - 1.25;
  Index := (Index + 1) MOD 8;
  Mean := 0.0;
  FOR Passes := 0 TO 7 DO
    Mean := Mean + History[Passes];
  END_FOR;
  Mean := Mean / 8.0;
  IF Mean > 30.0 THEN
    Alarm := TRUE;
  ELSIF Mean < -10.0 AND Motor THEN
    Motor := FALSE;
  ELSE
    Index := Index + 1;
  END_IF;
  CASE Strokes OF
    0: Mean := Mean + 0.5;
    1..5: Mean := Mean - 0.5;
  ELSE
    Index := 0;
  END_CASE;
END_FUNCTION_BLOCK

"
        );
    }
    text.push_str("PROGRAM Greenhouse\nVAR\n");
    for block in 0..blocks {
        let _ = writeln!(text, "  V{block} : Vent{block};");
    }
    text.push_str("END_VAR\n");
    for block in 0..blocks {
        let _ = writeln!(
            text,
            "  V{block}(Open := V{}.Motor, Close := FALSE, Rain := FALSE, Warmth := 21.5);",
            block.saturating_sub(1)
        );
    }
    text.push_str("END_PROGRAM\n");
    text
}

/// The files of [`project`], each of at most about eight million bytes, as an engineer would divide them.
pub fn project_files(lines: usize) -> Sources {
    const FILE_BYTES: usize = 8_000_000;
    const BOUNDARY: &str = "END_FUNCTION_BLOCK\n";
    let text = project(lines);
    let mut sources = Sources::new();
    let mut rest = text.as_str();
    let mut number = 0;
    while !rest.is_empty() {
        let end = rest.get(FILE_BYTES..).and_then(|tail| tail.find(BOUNDARY));
        let end = end.map_or(rest.len(), |end| FILE_BYTES + end + BOUNDARY.len());
        let (file, tail) = rest.split_at(end);
        sources.add(format!("project{number}.st").as_str(), file);
        number += 1;
        rest = tail;
    }
    sources
}
