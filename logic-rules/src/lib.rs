//! What a rule file means in one scan, written once over an algebra of bits and bounded words.
//!
//! [`step()`] is the only implementation of the rules. The replay reads it over plain integers
//! ([`Plain`]), the controller over words alone ([`Upright`]) and, for its second copy, over complemented ones
//! ([`Inverted`]), campaigns over 64 cases at once ([`Lanes`]), and [`Eager`] takes the shortcuts away
//! from any of them. A [`Plan`] cannot exist without having been verified whole; it may lie in an [`Image`].
//!
//! The crate knows no text, no files, no clock and no pins: time and inputs are arguments.
#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
#![deny(clippy::arithmetic_side_effects, clippy::as_conversions, clippy::float_arithmetic)]
#![allow(
    clippy::inline_always,
    reason = "the step is written in small pieces over generic bits, and must be seen as one function to be fast"
)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing,
        clippy::arithmetic_side_effects,
        clippy::as_conversions,
        reason = "tests may stop at the first surprise"
    )
)]

pub mod algebra;
pub mod cells;
pub mod image;
pub mod monitor;
pub mod plan;
pub mod step;

pub use algebra::{
    Algebra, Cut,
    eager::Eager,
    inverted::Inverted,
    lanes::Lanes,
    plain::Plain,
    sliced::{Gates, Sliced, Slices},
    upright::Upright,
};
pub use cells::{State, Work};
pub use image::Image;
pub use plan::{Fault, Plan, Tables};
pub use step::{Inputs, Verdict, step};
