//! What the units of random programs declare, and which names expressions and statements may use there.

use std::fmt::Write;

use super::kind::{KINDS, Kind};

/// What a unit is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A program: it has everything.
    Program,
    /// A function block: its places are relative.
    Block,
    /// A function: its variables are new at every call, and it has no instances.
    Function,
}

/// Names by type.
#[derive(Clone, Debug)]
pub struct Names {
    /// What the unit is.
    pub sort: Sort,
    /// What an expression may use.
    read: Vec<Vec<String>>,
    /// What a statement may assign to.
    write: Vec<Vec<String>>,
}

/// Variables of each type in a unit.
const VARIABLES: usize = 3;

/// Boolean variables; there are more of them than of other types.
const BOOLEANS: usize = 8;

impl Names {
    /// The names of a unit. `blocks` is the number of random function blocks that it has instances of.
    pub fn new(sort: Sort, blocks: usize) -> Self {
        let none = || KINDS.map(|_| Vec::new()).to_vec();
        let mut names = Self { sort, read: none(), write: none() };
        for kind in KINDS {
            for number in 0..count(kind) {
                names.add(kind, &format!("{}{number}", kind.prefix()), true);
            }
        }
        names.add(Kind::Int, "pc0", false);
        names.add(Kind::Bool, "st.lit", true);
        names.add(Kind::Int, "st.n", true);
        names.add(Kind::Real, "st.v", true);
        names.add(Kind::Time, "st.span", true);
        if sort != Sort::Program {
            for (kind, name) in
                [(Kind::Bool, "p0"), (Kind::Bool, "p1"), (Kind::Int, "p2"), (Kind::Real, "p3")]
            {
                names.add(kind, name, false);
            }
            for (kind, name) in [(Kind::Bool, "q0"), (Kind::Int, "q1"), (Kind::Real, "q2")] {
                names.add(kind, name, true);
            }
        }
        if sort != Sort::Function {
            for name in
                ["ton0.Q", "ton1.Q", "tof0.Q", "tp0.Q", "ctu0.Q", "ctd0.Q", "ctud0.QU", "ctud0.QD", "sr0.Q1"]
            {
                names.add(Kind::Bool, name, false);
            }
            for name in ["rs0.Q1", "rt0.Q", "ft0.Q", "tons[2].Q"] {
                names.add(Kind::Bool, name, false);
            }
            names.add(Kind::Int, "ctu0.CV", false);
            names.add(Kind::Int, "ctud0.CV", false);
            names.add(Kind::Dint, "ctdd0.CV", false);
            names.add(Kind::Time, "ton0.ET", false);
            names.add(Kind::Time, "tp0.ET", false);
        }
        if sort == Sort::Program {
            names.add(Kind::Bool, "x0", false);
            names.add(Kind::Bool, "x1", false);
            names.add(Kind::Bool, "y", true);
            names.add(Kind::Bool, "g0", true);
            names.add(Kind::Int, "g1", true);
            names.add(Kind::Int, "edges0.risen", false);
            names.add(Kind::Bool, "edges0.both", false);
        }
        for block in 0..blocks {
            names.add(Kind::Bool, &format!("f{block}a.q0"), false);
            names.add(Kind::Int, &format!("f{block}b.q1"), false);
            names.add(Kind::Real, &format!("f{block}s[1].q2"), false);
        }
        names
    }

    fn add(&mut self, kind: Kind, name: &str, writable: bool) {
        self.read[kind.index()].push(name.to_owned());
        if writable {
            self.write[kind.index()].push(name.to_owned());
        }
    }

    /// Names that hold a value of the type.
    pub fn read(&self, kind: Kind) -> &[String] {
        &self.read[kind.index()]
    }

    /// Names that may be assigned a value of the type.
    pub fn write(&self, kind: Kind) -> &[String] {
        &self.write[kind.index()]
    }
}

const fn count(kind: Kind) -> usize {
    if matches!(kind, Kind::Bool) { BOOLEANS } else { VARIABLES }
}

/// The variables whose values come from outside between two scans, with their types.
pub fn inputs() -> Vec<(String, Kind)> {
    let mut found: Vec<_> = (0..4).map(|number| (format!("b{number}"), Kind::Bool)).collect();
    for kind in KINDS.into_iter().filter(|kind| *kind != Kind::Bool) {
        found.push((format!("{}0", kind.prefix()), kind));
    }
    for (name, kind) in [("i1", Kind::Int), ("r1", Kind::Real), ("lr1", Kind::Lreal), ("d1", Kind::Dint)] {
        found.push((name.to_owned(), kind));
    }
    found
}

/// Which words a text has, by their hashes: a word that it lacks may seem to be there, which costs a declaration more.
struct Words([u64; 64]);

impl Words {
    /// The words of a text. Byte by byte, for the tests run this without optimisation.
    fn of(text: &str) -> Self {
        let mut words = Self([0; 64]);
        let mut hash = 0usize;
        for byte in text.as_bytes() {
            if matches!(*byte, b'a'..=b'z' | b'0'..=b'9' | b'A'..=b'Z' | b'_') {
                hash = Self::step(hash, *byte);
            } else {
                words.0[hash / 64 % 64] |= 1 << (hash % 64);
                hash = 0;
            }
        }
        words
    }

    fn has(&self, word: &str) -> bool {
        let hash = word.bytes().fold(0, Self::step);
        self.0[hash / 64 % 64] & 1 << (hash % 64) != 0
    }

    const fn step(hash: usize, byte: u8) -> usize {
        hash.wrapping_mul(31).wrapping_add(byte as usize)
    }
}

/// The declarations of those names of [`Names`] that a body uses.
pub fn declarations(sort: Sort, number: usize, blocks: usize, body: &str) -> String {
    let used = Words::of(body);
    let mut text = String::new();
    if sort != Sort::Program {
        text.push_str("VAR_INPUT p0, p1 : BOOL; p2 : INT := 3; p3 : REAL := 0.5; END_VAR\n");
        text.push_str("VAR_OUTPUT q0 : BOOL; q1 : INT; q2 : REAL; END_VAR\n");
    }
    text.push_str("VAR\n");
    let mut declare = |names: &[&str], of: &str| {
        let names: Vec<&str> = names.iter().copied().filter(|name| used.has(name)).collect();
        if !names.is_empty() {
            let _ = writeln!(text, "  {} : {of};", names.join(", "));
        }
    };
    for kind in KINDS {
        let names: Vec<String> =
            (0..count(kind)).map(|number| format!("{}{number}", kind.prefix())).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        // With a value, for most of them are only read.
        declare(&names, kind.initialised());
    }
    for (names, of) in VARIABLES_OF_ALL {
        declare(names, of);
    }
    if sort != Sort::Function {
        for (names, of) in INSTANCES {
            declare(names, of);
        }
    }
    for block in 0..blocks {
        let [a, b, s] = ["a", "b", "s"].map(|letter| format!("f{block}{letter}"));
        declare(&[&a, &b], &format!("F{block}"));
        declare(&[&s], &format!("ARRAY[0..2] OF F{block}"));
    }
    if sort == Sort::Program {
        for (names, of) in VARIABLES_OF_PROGRAMS {
            declare(names, of);
        }
        // Located ones, and one that is always there: a program may have become empty.
        let _ = write!(
            text,
            "  x0 AT %IX0.0 : BOOL; x1 AT %IX0.3 : BOOL; y AT %QX{number}.0 : BOOL;\nEND_VAR\n\
             VAR_EXTERNAL g0 : BOOL; g1 : INT; END_VAR\n"
        );
    } else {
        text.push_str("  spare : BOOL;\nEND_VAR\n");
    }
    text
}

const VARIABLES_OF_ALL: &[(&[&str], &str)] = &[
    (&["st", "st1"], "Item"),
    (&["items"], "ARRAY[0..4] OF Item"),
    (&["ab"], "ARRAY[1..6] OF BOOL"),
    (&["ai", "ai1"], "ARRAY[0..7] OF INT"),
    (&["ad"], "ARRAY[0..3, 1..4] OF DINT"),
    (&["ap"], "ARRAY[0..3, 1..4] OF REAL"),
    (&["abp"], "ARRAY[0..3, 1..4] OF BOOL"),
    (&["aip"], "ARRAY[0..3, 1..4] OF INT"),
    (&["ar"], "ARRAY[-2..3] OF REAL"),
    (&["alr"], "ARRAY[0..3] OF LREAL"),
    (&["au"], "ARRAY[0..9] OF USINT"),
    (&["aw"], "ARRAY[0..3] OF WORD"),
    (&["ats"], "ARRAY[0..2] OF TIME"),
    (&["kx0", "kx1", "kx2"], "INT"),
    (&["kp0", "kp1"], "INT"),
    (&["ky0", "ky1", "ky2"], "DINT"),
    (&["kz0", "kz1", "kz2"], "USINT"),
    (&["kv0", "kv1", "kv2"], "SINT"),
    (&["kw0", "kw1", "kw2"], "UINT"),
    (&["kl0", "kl1", "kl2"], "LINT"),
    (&["kn0", "kn1", "kn2"], "UINT"),
    (&["km0", "km1", "km2"], "UDINT"),
    (&["ko0", "ko1", "ko2"], "ULINT"),
    (&["old0"], "BOOL"),
    (&["pc0", "pc1"], "Percent"),
];

const INSTANCES: &[(&[&str], &str)] = &[
    (&["ton0", "ton1"], "TON"),
    (&["tof0"], "TOF"),
    (&["tp0"], "TP"),
    (&["tons"], "ARRAY[0..3] OF TON"),
    (&["ctu0"], "CTU"),
    (&["ctd0"], "CTD"),
    (&["ctud0"], "CTUD"),
    (&["ctdd0"], "CTU_DINT"),
    (&["ctul0"], "CTU_ULINT"),
    (&["ctdl0"], "CTD_LINT"),
    (&["ctuu0"], "CTUD_UDINT"),
    (&["sr0"], "SR"),
    (&["rs0"], "RS"),
    (&["rt0"], "R_TRIG"),
    (&["ft0"], "F_TRIG"),
    (&["ctus"], "ARRAY[0..2] OF CTU"),
    (&["ctds"], "ARRAY[0..2] OF CTD"),
    (&["ctuds"], "ARRAY[0..2] OF CTUD"),
    (&["tofs"], "ARRAY[0..2] OF TOF"),
    (&["tps"], "ARRAY[0..2] OF TP"),
    (&["srs"], "ARRAY[0..2] OF SR"),
    (&["rss"], "ARRAY[0..2] OF RS"),
    (&["rts"], "ARRAY[0..2] OF R_TRIG"),
    (&["fts"], "ARRAY[0..2] OF F_TRIG"),
];

const VARIABLES_OF_PROGRAMS: &[(&[&str], &str)] = &[
    (&["pi"], "REF_TO INT"),
    (&["ptank"], "REF_TO Tank"),
    (&["pb"], "REF_TO BOOL"),
    (&["pr"], "REF_TO REAL"),
    (&["pit"], "REF_TO Item"),
    (&["edges0"], "Edges"),
    (&["sum0", "sum1"], "Sum"),
    (&["butt0"], "Butt"),
    (&["tank0"], "Tank"),
    (&["drive"], "Drive"),
    (&["str0", "str1"], "STRING[12]"),
];

/// Types and units that every random program may use.
pub const COMMON: &str = "\
TYPE Percent : INT (0..100); END_TYPE
TYPE Item : STRUCT lit : BOOL; n : INT; v : REAL; span : TIME; END_STRUCT; END_TYPE
FUNCTION Any3 : BOOL VAR_INPUT a, b, c : BOOL; END_VAR Any3 := a AND NOT b OR b AND c; END_FUNCTION
FUNCTION Mix3 : INT
VAR_INPUT a, b : INT; c : INT := 2; END_VAR VAR_OUTPUT over : BOOL; low : INT; END_VAR
  low := MIN(a, b); over := low > c; Mix3 := a * 2 - b + c;
END_FUNCTION
FUNCTION Blend : REAL
VAR_INPUT x, y, part : REAL; END_VAR
  Blend := (y - x) * part + x;
END_FUNCTION
FUNCTION Bump : DINT
VAR_INPUT rate : INT; END_VAR VAR_IN_OUT n : INT; flag : BOOL; END_VAR
  IF flag THEN n := n + rate; ELSE n := n - 1; END_IF;
  flag := n > rate; Bump := n * 3;
END_FUNCTION
FUNCTION Total : INT
VAR_IN_OUT list : ARRAY[*] OF INT; END_VAR VAR k : DINT; END_VAR
  FOR k := LOWER_BOUND(list, 1) TO UPPER_BOUND(list, 1) DO Total := Total + list[k]; END_FOR;
END_FUNCTION
FUNCTION_BLOCK Edges
VAR_INPUT up : BOOL R_EDGE; down : BOOL F_EDGE; END_VAR VAR_OUTPUT risen : INT; both : BOOL; END_VAR
  IF up THEN risen := risen + 1; END_IF;
  IF down AND risen > 0 THEN risen := risen - 2; END_IF;
  both := up AND down;
END_FUNCTION_BLOCK
FUNCTION_BLOCK Sum
VAR_INPUT rate : INT; go : BOOL; END_VAR VAR_IN_OUT total : INT; it : Item; END_VAR VAR_OUTPUT full : BOOL; END_VAR
VAR count : INT; END_VAR
  IF go THEN total := total + rate; count := count + 1; it.n := count; END_IF;
  it.lit := go XOR it.lit; full := count > 5;
END_FUNCTION_BLOCK
INTERFACE Drive
METHOD Turn : INT VAR_INPUT rate : INT; END_VAR END_METHOD
METHOD Stop : BOOL END_METHOD
END_INTERFACE
CLASS Butt IMPLEMENTS Drive
VAR PUBLIC level : INT := 4; open : BOOL; END_VAR
METHOD PUBLIC Turn : INT VAR_INPUT rate : INT; END_VAR level := level + rate; open := level > 10; Turn := level; END_METHOD
METHOD PUBLIC Stop : BOOL Stop := open AND level <> 3; open := FALSE; END_METHOD
END_CLASS
CLASS Tank EXTENDS Butt
VAR PUBLIC store : ARRAY[0..3] OF INT; END_VAR
METHOD PUBLIC OVERRIDE Turn : INT
VAR_INPUT rate : INT; END_VAR VAR k : INT; END_VAR
  FOR k := 0 TO 3 DO store[k] := store[k] + rate; END_FOR;
  Turn := SUPER.Turn(rate) + store[2];
END_METHOD
END_CLASS
";
