//! Where limits come from: what the lane of a station says of a carrier's way, in rope and in time.

mod enclosed;
mod nominal;
pub mod windows;

#[cfg(test)]
mod tests;

pub use enclosed::{Enclosed, Speed, run};
pub use nominal::{nominal_run, place_of, share_at};
