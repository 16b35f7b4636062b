//! What a row waits for, and how that is told.

use crate::station::Station;
use crate::station::ways::WayOf;

/// What must, or must not, come of a stimulus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Event {
    /// A way trips, by its place in the common order.
    Trips(usize),
    /// The reset acts.
    Resets,
    /// The start is permitted.
    Permits,
    /// This output is off.
    Off(usize),
    /// This output is on.
    On(usize),
}

impl Event {
    /// What answers it, in a word or two.
    pub(super) fn answer(self, station: &Station, ways: &[WayOf]) -> String {
        let output = |output: usize| station.outputs.get(output).map_or("", |output| output.name.text.as_str());
        match self {
            Self::Trips(way) => ways.get(way).map_or("nothing", |way| station.answer(way.answer)).to_owned(),
            Self::Resets => "reset".to_owned(),
            Self::Permits => "start permit".to_owned(),
            Self::Off(id) => format!("{} off", output(id)),
            Self::On(id) => format!("{} on", output(id)),
        }
    }
    /// That it does not come.
    pub(super) fn none(self) -> &'static str {
        match self {
            Self::Trips(_) => "no trip of it",
            Self::Resets => "no reset",
            Self::Permits => "no start permit",
            Self::Off(_) => "it stays on",
            Self::On(_) => "it stays off",
        }
    }
    /// That it comes, and what belongs to it does not.
    pub(super) fn alone(self) -> &'static str {
        match self {
            Self::Trips(_) => "its answer does not stand",
            _ => "a stop stands behind it",
        }
    }
}
