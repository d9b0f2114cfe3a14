//! The virtual bench: stations, stimulus, replay, timing diagrams and exports.

pub mod recording;
