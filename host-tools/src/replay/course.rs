//! Did the recording make the stop that the rules called for?
//!
//! A recorded station is given the time that its slowest deceleration needs from the speed of the
//! moment. Is it not at a standstill then, then it ran on; does it move forward again while the stop still stands, then it started
//! without the rules' reset. What follows could not have happened so, up to its next standstill.

use super::inputs::Meters;
use crate::station::{Rank, Station};

/// Where the recording stands against the rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Course {
    /// No stop stands.
    Running,
    /// A stop stands and the recording may still be slowing down.
    Slowing {
        /// Time of the stop.
        since_us: u64,
        /// Time at which it must be at a standstill.
        due_us: u64,
    },
    /// A stop stands and the recording stands too.
    Standing {
        /// Rope that has run forward since, less what ran back, mm.
        crept: i64,
        /// It came to its standstill after the stop: the stop was made.
        came: bool,
    },
    /// The recording went on.
    Counterfactual,
}

/// What became clear in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Turn {
    /// Nothing.
    None,
    /// It has come to a standstill, so long after the stop.
    Standstill(u64),
    /// It has gone on.
    WentOn,
    /// It made the stop, and has started again while it stands.
    Started,
    /// It had gone on, and stands now.
    Adopt,
}

/// Rope that a standing lift may creep or swing; more is a start.
const CREEP_MM: i64 = 1_000;

/// For what the published answer trails the stop, and the span after which a standstill is known.
const GRACE_US: u64 = 1_000_000;

const STOOD: Course = Course::Standing { crept: 0, came: false };
const CAME: Course = Course::Standing { crept: 0, came: true };

impl Course {
    /// A stop of this rank has been called for (or a more severe one than before).
    pub(super) fn stopped(&mut self, station: &Station, rank: Rank, meters: &Meters, at_us: u64) {
        if *self == Self::Counterfactual {
            return;
        }
        if meters.still() == Some(true) || !meters.any() {
            *self = STOOD;
            return;
        }
        let stop = usize::from(rank).checked_sub(1 + station.slows.len()).and_then(|i| station.stops.get(i));
        let (bites_us, slows) = stop.map_or((0, 1), |s| (u64::from(s.bites_us), s.slows.0.max(1)));
        let slowing_us = meters.speed(station.scan_us) * 1_000_000 / u64::from(slows);
        let due_us = at_us + bites_us + slowing_us + GRACE_US;
        let since_us = match *self {
            Self::Slowing { since_us, .. } => since_us,
            Self::Running | Self::Standing { .. } | Self::Counterfactual => at_us,
        };
        *self = Self::Slowing { since_us, due_us };
    }

    /// It turned out that it stood before the stop.
    pub(super) fn stood(&mut self) {
        *self = STOOD;
    }

    /// The stop stands no longer.
    pub(super) fn released(&mut self) {
        if *self != Self::Counterfactual {
            *self = Self::Running;
        }
    }

    /// A scan that reads what the last one did turns nothing, and changes nothing here.
    pub(super) fn is_quiet(&self, meters: &Meters) -> bool {
        match self {
            Self::Running => true,
            Self::Standing { .. } => meters.travel() == 0,
            Self::Counterfactual => meters.moves_on(),
            Self::Slowing { .. } => false,
        }
    }

    /// One scan on.
    pub(super) fn scan(&mut self, meters: &Meters, at_us: u64) -> Turn {
        match *self {
            Self::Running => Turn::None,
            Self::Slowing { since_us, due_us } => {
                if meters.still() == Some(true) {
                    *self = CAME;
                    Turn::Standstill(at_us.saturating_sub(since_us))
                } else if at_us >= due_us {
                    *self = Self::Counterfactual;
                    Turn::WentOn
                } else {
                    Turn::None
                }
            }
            Self::Standing { crept, came } => {
                let crept = (crept + meters.travel()).max(0);
                if crept > CREEP_MM {
                    *self = Self::Counterfactual;
                    // One that stood before the stop had nothing to do for it but to stay.
                    if came { Turn::Started } else { Turn::WentOn }
                } else {
                    *self = Self::Standing { crept, came };
                    Turn::None
                }
            }
            Self::Counterfactual => {
                if meters.still() == Some(true) {
                    *self = Self::Running;
                    Turn::Adopt
                } else {
                    Turn::None
                }
            }
        }
    }
}
