//! The bench build: the same station, its inputs set over the link, its scans taken one by one on command.
//!
//! Its outputs are held off unless a contact at the controller enables them ([`Gated`]), and every frame that it sends names it a
//! bench. An image is taken while no plan runs only, so never while an output is on. Told nothing for
//! [`SILENCE_US`], a bench that runs stops itself.
//!
//! | kind | from | body, least byte first |
//! |---|---|---|
//! | 16 | host | begin an image: its bytes 4 |
//! | 17 | host | a piece of it: offset 4, the bytes |
//! | 18 | host | run it |
//! | 19 | host | end the plan that runs |
//! | 20 | host | levels: one byte each, in the order of the plan |
//! | 21 | host | currents: nanoampere, 4 each |
//! | 22 | host | pulses so far: 4 each |
//! | 23 | host | links: good frames so far 4, rank 1, each |
//! | 24 | host | take one scan; the answer is the verdict |
//! | 25 | host | begin with a lift that runs: no stop stands, every stretch refills (for a recording that begins so) |
//! | 144 | bench | done |
//!
//! Each is answered. A command with the sequence number of the one before is refused: it was sent twice.

mod command;
mod field;
mod gated;
mod shelf;

pub use command::{Command, Next, PIECE, Served, Server};
pub use field::Set;
pub use gated::Gated;
pub use shelf::Shelf;

/// A bench that runs must be told something at least so often, microseconds.
pub const SILENCE_US: u32 = 2_000_000;
