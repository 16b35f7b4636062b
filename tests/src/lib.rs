//! What crosses crates: a second opinion on the meaning of a station, and stations and histories
//! to hold every reading against it.
#![forbid(unsafe_code)]
#![allow(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::missing_panics_doc,
    reason = "a test crate: an index out of range is a failed test, and says where"
)]

pub mod chain;
pub mod damage;
pub mod effort;
pub mod generate;
pub mod machines;
pub mod mutate;
pub mod oracle;
pub mod plant;
pub mod planted;
pub mod proofs;
pub mod quiet;
pub mod reading;
pub mod render;
pub mod rows;
pub mod runner;
pub mod season;
pub mod skipping;
pub mod small;
pub mod sometimes;
pub mod switched;
pub mod told;
