//! The other end of a controller's link: a bench that is loaded, stepped and compared with what the host works out.
//!
//! Everything goes over a [`Wire`], be it a thread of this program, an emulator or a serial port, in the frames of
//! [`firmware::link`]. What is lost or damaged on the way is asked for again; a target that does not answer in time is
//! [`Trouble`], and never counts as a result.

use std::fmt;
use std::io;
use std::time::Duration;

use firmware::link::Refusal;

use crate::replay::cause;
use crate::station::Station;
use crate::station::ways::WayOf;

pub mod client;
pub mod compare;
mod emulator;
pub mod identify;
mod in_process;
mod inbox;
pub mod inputs;
mod serial;
pub mod session;
pub mod target;
pub mod tied;
pub mod took;

/// Bytes to and from a controller.
pub trait Wire {
    /// Sends all of these bytes.
    ///
    /// # Errors
    /// If the line is gone.
    fn send(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Waits for bytes, at most so long; gives how many came, 0 if none did.
    ///
    /// # Errors
    /// If the line is gone.
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize>;
}

/// A way in words: `watch shut-force tripped`.
pub(crate) fn named(station: &Station, way: WayOf) -> String {
    let cause = cause(station, way);
    let words = [cause.source, cause.name.as_str(), cause.way];
    words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// Why nothing can be said of a target.
#[derive(Debug)]
pub enum Trouble {
    /// The target cannot be had; why, and how to mend it.
    NoTarget(String),
    /// The line is gone.
    Line(io::Error),
    /// No answer came in time; what had been asked.
    NoAnswer(&'static str),
    /// It refused what a bench should do.
    Refused(&'static str, Refusal),
    /// It answered something else.
    Unexpected(&'static str),
    /// It stopped itself because nothing was told to it for too long: the host was too slow.
    FellSilent,
    /// An input that no signal of the field shows.
    Unshown(String),
    /// The image cannot be used.
    Image(String),
    /// What is to be replayed cannot be read.
    Recording(String),
}

impl From<io::Error> for Trouble {
    fn from(error: io::Error) -> Self {
        Self::Line(error)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoTarget(why) => write!(f, "{why}"),
            Self::Line(error) => write!(f, "the line to the target is gone: {error}"),
            Self::NoAnswer(what) => write!(
                f,
                "the target does not answer when {what}; see that it runs the bench build and nobody else is on its line"
            ),
            Self::Refused(what, why) => write!(f, "the target refuses when {what}: {}", words(*why)),
            Self::Unexpected(what) => write!(
                f,
                "the target answers something else when {what}; its firmware must be of the same version as haltproof"
            ),
            Self::FellSilent => {
                write!(f, "the target stopped because it was told nothing for too long; try again with less beside it")
            }
            Self::Unshown(what) => write!(f, "{what}"),
            Self::Image(what) => write!(f, "{what}"),
            Self::Recording(what) => write!(f, "{what}"),
        }
    }
}

/// A refusal in words.
fn words(why: Refusal) -> &'static str {
    match why {
        Refusal::Unknown => "it does not know the command; a station build takes none, so connect a bench",
        Refusal::Runs => "a plan runs already",
        Refusal::RunsNot => "no plan runs",
        Refusal::Place => "what was sent does not fit; the image may be too long for its memory",
        Refusal::Repeated => "it takes the command for a repetition",
    }
}
