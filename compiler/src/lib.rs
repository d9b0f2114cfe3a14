//! From syntax trees to a program image: names, types, constants, checks, diagnostics, code.
//!
//! ```text
//! trees -> namespaces -> declare -> check -> TypedProgram -> lower -> Image
//! ```
//!
//! Every pass is a function from borrowed inputs to an owned output and diagnostics; none prints, reads files
//! or keeps state.

pub mod allow;
pub mod catalogue;
pub mod check;
mod compile;
pub mod compliance;
mod configuration;
mod constant;
pub mod coverage;
mod declare;
mod deploy;
pub mod explain;
mod findings;
mod image;
mod layout;
pub mod library;
pub mod logic;
pub mod lower;
mod name_map;
mod namespaces;
mod nearest;
mod object_scope;
pub mod probe;
pub mod render;
pub mod rewrite;
mod scope;
pub mod stops;
pub mod typed;
pub mod types;
mod warnings;

pub use compile::{Compilation, CompileOptions, compile, compile_files, compile_with};
pub use findings::SAME_NAME_MAX;
