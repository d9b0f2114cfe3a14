//! Procedures: the timeline of a test on the virtual bench, in the style of Structured Text.
//!
//! A procedure is written in a `*.steps` file: what is done to the panel, how time passes, and what must be seen.
//! Its words are our own; literals, comments and expressions are those of IEC 61131-3:2013, read by the same lexer and
//! grammar. What devices and variables there are is none of this crate's business.

pub mod tree;
