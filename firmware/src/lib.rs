//! The station controller: what runs a plan over the pins of a board, scan by scan.
//!
//! A [`Station`] is made by [`boot()`] alone, after its self-tests, and takes one [`scan`](Station::scan) at a time: it reads back its
//! outputs, samples the inputs, steps the plan in two copies, compares them, drives the outputs, and feeds the watchdog
//! if all of it ended in time. Whatever goes wrong is a [`Fault`]: every output lets go, which is the most severe stop that there is, and
//! nothing but a power-up ends it. A board gives the [`Parts`]; over [`link`] it can be asked what it does.
//!
//! Two builds: the *station* answers questions and takes no command; the *bench* (feature `bench`) takes commands, holds
//! its outputs off unless it is enabled by a contact, and says in every frame that it is a bench.
#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(
        clippy::expect_used,
        clippy::unwrap_used,
        clippy::indexing_slicing,
        reason = "a test that panics has failed, as it should"
    )
)]

pub mod agree;
#[cfg(feature = "bench")]
pub mod bench;
pub mod boot;
pub mod fault;
pub mod link;
pub mod log;
pub mod march;
pub mod outputs;
pub mod parts;
pub mod patrol;
pub mod sample;
pub mod scan;
pub mod twin;
pub mod wired;

pub use boot::{Booted, Cause, Halted, Images, Memory, Store, boot};
pub use fault::Fault;
pub use log::{Event, Kind, Log};
pub use outputs::{Output, PinFault, Released};
pub use parts::{Clock, Outputs, Parts, Watchdog};
pub use sample::{Field, Frames, Missing, Sample};
pub use scan::{Published, Station};
