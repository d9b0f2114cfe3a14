//! Generates the parser of `src/grammar.lalrpop`.

fn main() {
    if let Err(error) =
        lalrpop::Configuration::new().use_cargo_dir_conventions().emit_rerun_directives(true).process()
    {
        // A build script tells its failure by its exit; there is nobody else to tell.
        panic!("grammar.lalrpop: {error}");
    }
}
