//! A station as its rule file means it: every name resolved to an index, every duration in scans,
//! every length in millimetres, every gauge value in steps. Rounding to the strict side is done.
//!
//! Indices point into the vectors of [`Station`]; `resolve` is the only maker, so they are in range.

use crate::date::Date;
use crate::text::place::Place;

pub mod inputs;
pub mod rules;
pub mod signals;
pub mod uses;
pub mod watches;
pub mod ways;

pub use inputs::*;
pub use rules::*;
pub use watches::*;

/// A count of scans.
pub type Scans = u32;
/// Millimetres of rope or of the lane.
pub type Mm = u32;
/// Severity: 0 is "nothing", 1 the mildest slow order, then the stops, mildest first.
pub type Rank = u8;
/// Index into [`Station::inputs`].
pub type InputId = usize;
/// Index into [`Station::watches`].
pub type WatchId = usize;

/// A declared name and where it was declared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// As written.
    pub text: String,
    /// The declaration.
    pub place: Place,
}

/// The end of a temporary revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Temporary {
    /// The last day on which it may be in use.
    pub until: Date,
    /// Why it is temporary.
    pub because: String,
}

/// The whole station, resolved.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Station {
    /// Title of the station.
    pub title: String,
    /// Revision of the rule file.
    pub revision: u32,
    /// If it is meant to be replaced: its end.
    pub temporary: Option<Temporary>,
    /// Length of a scan in microseconds, 1 000 to 1 000 000.
    pub scan_us: u32,
    /// Rank of the stop that answers input faults.
    pub on_fault: Rank,
    /// Modes, in order of declaration; never empty after `resolve` unless the file declares none,
    /// and then every watch is always active.
    pub modes: Vec<Mode>,
    /// Outputs.
    pub outputs: Vec<Output>,
    /// Slow orders, mildest first: the one at index `i` has rank `i + 1`.
    pub slows: Vec<Slow>,
    /// Stops, mildest first: the one at index `i` has rank `slows.len() + 1 + i`. Never empty.
    pub stops: Vec<Stop>,
    /// Every input, in order of declaration.
    pub inputs: Vec<Input>,
    /// Digital terminals: index is the channel number in a sample.
    pub channels: Vec<String>,
    /// Analogue terminals: index is the gauge number in a sample.
    pub gauge_terminals: Vec<String>,
    /// Counter terminals: index is the source number in a sample.
    pub sources: Vec<String>,
    /// Link terminals: index is the link number in a sample.
    pub link_terminals: Vec<String>,
    /// Every watch, in order of declaration.
    pub watches: Vec<Watch>,
    /// The reset, if there is one.
    pub reset: Option<Reset>,
    /// Scans for which the start permit stays off after the last scan with a stop.
    pub restart: Scans,
    /// Refills by key.
    pub refills: Vec<Refill>,
    /// Bypasses.
    pub bypasses: Vec<Bypass>,
    /// Hazards.
    pub hazards: Vec<Hazard>,
    /// Requirements.
    pub requirements: Vec<Requirement>,
    /// Entries of a published list that no requirement answers.
    pub entries: Vec<Entry>,
    /// Assumptions.
    pub assumptions: Vec<Assumption>,
    /// The lane, if one is described.
    pub lane: Option<Lane>,
}

impl Station {
    /// The station in a line.
    pub fn about(&self) -> String {
        format!(
            "{}, revision {}, with {} inputs, {} watches and {} requirements",
            self.title,
            self.revision,
            self.inputs.len(),
            self.watches.len(),
            self.required(),
        )
    }
    /// How many requirements the rule files state; what `held by` claims is none of them.
    pub fn required(&self) -> usize {
        self.requirements.iter().filter(|r| !matches!(r.form, Form::Held { .. })).count()
    }
    /// The mode in which passengers ride: the first one without a limit of its own.
    pub fn passenger_mode(&self) -> Option<usize> {
        let free = self.modes.iter().position(|mode| mode.at_most.is_none());
        free.or((!self.modes.is_empty()).then_some(0))
    }
    /// Rank of the mildest stop.
    pub fn first_stop(&self) -> Rank {
        Rank::try_from(self.slows.len() + 1).unwrap_or(Rank::MAX)
    }
    /// Rank of the most severe stop.
    pub fn worst(&self) -> Rank {
        Rank::try_from(self.slows.len() + self.stops.len()).unwrap_or(Rank::MAX)
    }
    /// Name of an answer; "nothing" for rank 0.
    pub fn answer(&self, rank: Rank) -> &str {
        let at = usize::from(rank);
        let slow = at.checked_sub(1).and_then(|i| self.slows.get(i)).map(|s| &s.name);
        let stop = at.checked_sub(1 + self.slows.len()).and_then(|i| self.stops.get(i)).map(|s| &s.name);
        slow.or(stop).map_or("nothing", |n| n.text.as_str())
    }
    /// Scans as milliseconds, rounded down.
    pub fn ms(&self, scans: Scans) -> u64 {
        u64::from(scans) * u64::from(self.scan_us) / 1_000
    }
}
