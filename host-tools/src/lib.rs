//! haltproof: text to checked station, simulation, replay.
#![forbid(unsafe_code)]
pub mod lower;
pub mod resolve;
pub mod run;
pub mod sample;
pub mod station;
pub mod text;
