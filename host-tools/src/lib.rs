//! haltproof: text to checked station, simulation, replay.
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing,
        reason = "a test that panics has failed, as it should"
    )
)]
pub mod bench;
pub mod campaign;
pub mod carriers;
pub mod check;
pub mod columns;
pub mod compare;
pub mod cores;
pub mod coverage;
pub mod date;
pub mod demo;
pub mod digest;
pub mod integrity;
pub mod json;
pub mod lane;
pub mod load;
pub mod lower;
pub mod monitor;
pub mod mutants;
pub mod pack;
pub mod page;
pub mod passings;
pub mod plural;
pub mod prove;
pub mod recording;
pub mod refute;
pub mod replay;
pub mod report;
pub mod resolve;
pub mod respond;
pub mod run;
pub mod runner;
pub mod sample;
pub mod scale;
pub mod season;
pub mod simulate;
pub(crate) mod skip;
pub mod slack;
pub mod station;
pub mod stays;
pub mod text;
pub mod told;
pub mod vcd;
pub mod witness;

#[cfg(test)]
mod testing;
