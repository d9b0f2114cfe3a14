//! The virtual bench: stations, stimulus, replay, timing diagrams and exports.

pub mod diagram;
pub mod export;
pub mod recording;
pub mod render;
