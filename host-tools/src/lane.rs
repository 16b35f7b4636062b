//! Where limits come from: what the lane of a station says of a carrier's way, in rope and in time.

pub mod apart;
mod course;
pub mod motion;
mod nominal;
pub mod published;
pub mod rope;
pub mod stands;
pub mod text;
pub mod words;

pub(crate) use course::Course;
pub use nominal::{nominal_run, place_of, share_at};
