//! haltproof: text to checked station, simulation, replay.
#![forbid(unsafe_code)]
pub mod text;
