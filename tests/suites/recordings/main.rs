//! Recorded inputs: read, replayed, counted, carrier by carrier.

mod carriers;
mod passings;
mod recordings;
