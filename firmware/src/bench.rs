//! The bench build: the same station, its inputs set over the link, its scans taken on command, many with one frame.
//!
//! Its outputs are held off unless a contact at the controller enables them ([`Gated`]), and every frame that it sends names it a
//! bench. An image is taken while no plan runs only, so never while an output is on. Told nothing for
//! [`SILENCE_US`], a bench that runs stops itself. The image stays on its shelf when a plan ends, and can be run again.
//!
//! | kind | from | body, least byte first |
//! |---|---|---|
//! | 16 | host | begin an image: its bytes 4 |
//! | 17 | host | a piece of it: offset 4, the bytes |
//! | 18 | host | run it |
//! | 19 | host | end the plan that runs |
//! | 20 | host | changes of inputs, and scans to take, see [`Item`]; the answer is what came of them |
//! | 21 | host | what came of the last of these, once more |
//! | 22 | host | begin with a lift that runs: no stop stands, every stretch refills (for a recording that begins so) |
//! | 23 | host | break something of the bench, 1 byte: see [`Harm`] |
//! | 144 | bench | done |
//! | 145 | bench | scans that were taken, see [`Answer::Ran`](crate::link::Answer::Ran) |
//!
//! Each is answered. A command with the sequence number of the one before is refused: it was sent twice.

mod command;
mod field;
mod gated;
mod item;
mod shelf;

pub use command::{Command, Harm, Next, PIECE, Served, Server};
pub use field::Set;
pub use gated::Gated;
pub use item::{Item, LONGEST};
pub use shelf::Shelf;

/// A bench that runs must be told something at least so often, microseconds.
pub const SILENCE_US: u32 = 2_000_000;
