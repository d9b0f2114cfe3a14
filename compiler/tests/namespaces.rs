//! Namespaces put together at random: whatever is found in them, the answer is a program or diagnostics.

#![allow(missing_docs, reason = "a test")]

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use proptest::prelude::*;

/// Declarations that find one another now and then.
fn pieces() -> impl Strategy<Value = String> {
    let declarations = vec![
        "NAMESPACE a",
        "NAMESPACE b",
        "NAMESPACE a.b",
        "NAMESPACE INTERNAL c",
        "NAMESPACE",
        "END_NAMESPACE",
        "END_NAMESPACE",
        "USING a;",
        "USING b, a.b;",
        "FUNCTION f : INT f := 1; END_FUNCTION",
        "FUNCTION INTERNAL g : a.T g := f(); END_FUNCTION",
        "TYPE T : (X, Y); END_TYPE",
        "TYPE a : INT; END_TYPE",
        "TYPE S : STRUCT m : T := X; END_STRUCT; END_TYPE",
        "FUNCTION_BLOCK f VAR a : T; END_VAR a := Y; END_FUNCTION_BLOCK",
        "FUNCTION_BLOCK k EXTENDS a.f VAR b : INT; END_VAR b := f(); a.b.f(); END_FUNCTION_BLOCK",
        "PROGRAM p USING a, b; VAR a1 : a.T; x : INT; i : a.b.f; END_VAR x := a.f() + b.f() + f() + a.b.c.f(); a1 := a.T#X; a1 := X; i(); END_PROGRAM",
        "PROGRAM q VAR x : INT; END_VAR LD 1\na.f 2\nf\nLD a.T#X\nEND_PROGRAM",
        "VAR_GLOBAL t : a.T := Y; END_VAR",
        "CLASS d EXTENDS f END_CLASS",
        "INTERFACE e EXTENDS a.e METHOD f : T END_METHOD END_INTERFACE",
    ];
    proptest::collection::vec(proptest::sample::select(declarations), 0..14).prop_map(|list| list.join("\n"))
}
proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn namespaces_of_any_shape_are_answered(a in pieces(), b in pieces()) {
        let mut sources = Sources::new();
        sources.add("a.st", a);
        sources.add("b.st", b);
        let compilation = compile(&sources);
        prop_assert_eq!(compilation.image.is_some(), !compilation.has_errors());
    }
}
