//! The virtual bench: stations, stimulus, replay, timing diagrams and exports.

pub mod account;
pub mod address;
pub mod catalogue;
pub mod class;
pub mod comparison;
pub mod coverage;
pub mod diagram;
pub mod exercise;
pub mod export;
pub mod marking;
mod nearest;
pub mod panel;
pub mod plant;
pub mod procedure;
pub mod reasons;
pub mod recording;
pub mod render;
pub mod replay;
pub mod report;
pub mod rungs;
pub mod sheet;
pub mod station;
pub mod stimulus;
mod table;
mod terminals;
pub mod wiring;
pub mod wiring_proof;
