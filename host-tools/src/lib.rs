//! haltproof: text to checked station, simulation, replay.
#![forbid(unsafe_code)]
pub mod recording;
pub mod sample;
pub mod simulate;
pub mod station;
pub mod text;
