//! Writes the submissions of the sample class into a folder, to mark them by hand:
//!
//! ```text
//! cargo run -p latchwork-tests --example sample_class -- /tmp/class
//! cargo run -p latchwork-tests --example sample_class -- /tmp/class hostile
//! ```
//!
//! With `hostile` those that mean harm are written beside them.

use std::{env, fs, io, path::Path};

use latchwork_tests::class::{hostile::write_hostile, written::write_class};

fn main() -> io::Result<()> {
    let mut arguments = env::args_os().skip(1);
    let Some(folder) = arguments.next() else {
        return Err(io::Error::other("name the folder, and `hostile` behind it for what means harm as well"));
    };
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    write_class(folder)?;
    if arguments.next().is_some_and(|word| word == "hostile") {
        write_hostile(folder)?;
    }
    Ok(())
}
