//! Where limits come from: what the lane of a station says of a carrier's way, in rope and in time.

pub mod apart;
mod course;
mod enclosed;
pub mod motion;
mod nominal;
pub mod published;
pub mod rope;
pub mod stands;
pub mod text;
pub mod windows;
pub mod words;

#[cfg(test)]
mod tests;

pub(crate) use course::Course;
pub use enclosed::{Enclosed, Speed, run};
pub use nominal::{nominal_run, place_of, share_at};
