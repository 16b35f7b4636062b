//! Where limits come from: what the lane of a station says of a carrier's way, in rope and in time.

mod nominal;

pub use nominal::{nominal_run, place_of, share_at};
