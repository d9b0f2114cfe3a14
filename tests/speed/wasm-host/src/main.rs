//! Runs the scans of a control workload that was compiled to WebAssembly: wasm-host MODULE SCANS.
//!
//! The whole loop is inside the module: its export `run` takes the number of scans and gives the checksum.

use std::{env, error::Error, fs};

use wasmi::{Engine, Linker, Module, Store};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let [module, scans] = arguments.as_slice() else {
        return Err("wanted: a module and a number of scans".into());
    };
    let scans: u32 = scans.parse()?;
    let engine = Engine::default();
    let module = Module::new(&engine, &fs::read(module)?[..])?;
    let mut store = Store::new(&engine, ());
    let instance = Linker::new(&engine).instantiate_and_start(&mut store, &module)?;
    let run = instance.get_typed_func::<i32, i32>(&store, "run")?;
    println!("checksum {:08x}", run.call(&mut store, scans.cast_signed())?);
    Ok(())
}
