//! The windows that the lane asks for: within which limits every carrier comes that keeps to the lane and its
//! tolerances.
//!
//! A window is derived at its two ends. What a carrier needs falls as the second detector comes nearer, as the first one
//! goes farther, and as the carrier is faster at any place, because its run is the sum, over the way, of length over speed,
//! and both are positive. What is then counted grows with each thing that counting adds. So every end is reached at one
//! corner, where each of these is as far off as it may be, and nothing between the corners lies outside them. Each step from
//! the nominal run to the corner is the part of the margin that its tolerance takes, and the parts sum to the whole.
//! Everything is rounded outward: the least down, the most up.
//!
//! A rule file's window is narrowed by one scan when it is resolved, so that a carrier whose count lies in what is left lay in
//! what is written. The limit that a file must have is therefore one scan's travel (or one scan) outside what is counted.
//!
//! Not counted: a rope that runs backwards, a pulse that is longer or shorter than written, and in a window in time a rope that
//! leaves the band within one span.

use serde::Serialize;

use super::rope::{a_scan, rope};
use crate::station::{InputId, InputKind, Lane, Measured, Mm, Pace, Scans, Station, WatchId, WatchKind};
use ladder::Part;

mod ladder;
pub mod rewrite;
mod spacing;
mod speeds;
pub mod table;
mod travel;

#[cfg(test)]
mod tests;

/// What takes a part of a margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The rope runs anywhere in its band.
    Band,
    /// A pulse of the pace has been counted already, or not yet.
    Pulses,
    /// Detectors do not sit where they should.
    Detectors,
    /// They do not always switch at the same place.
    Switching,
    /// Carriers are faster or slower than the lane says.
    Speeds,
    /// A change falls between two scans.
    Sampling,
    /// A change is taken when it has settled.
    Settling,
    /// A whole millimetre, outward; or cut at nothing.
    Rounding,
}

/// One end of a window.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct End {
    /// The least or the most that a rule may come to count: mm of rope, or scans.
    pub counted: u32,
    /// The limit that a file must have for that, in the same unit. None at the least where less than one scan's travel (or one
    /// scan) may be counted: even a limit of nothing is judged one scan higher.
    pub limit: Option<u32>,
    /// Where the way to `counted` begins, in nanometres or nanoseconds: the nominal size, or the least distance of carriers.
    pub from: u64,
    /// What takes which part of the way from there to `counted`; they sum to it.
    pub parts: Vec<Part>,
}

/// Why an end cannot be derived, or no limit kept there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// There is no lane, or it does not reach beyond both detectors as far as they may be off.
    OffLane,
    /// The window is measured by another pace than the lane.
    OtherPace,
    /// The second detector does not lie behind the first.
    Backwards,
    /// The lane does not say how close carriers may come.
    NoLeast,
    /// The lane does not say how far apart carriers may be.
    NoMost,
    /// Within its band the rope may stand.
    Standing,
    /// The number is beyond what a rule may hold.
    TooLarge,
    /// The end is known, and no least limit is small enough for it.
    NoneKept,
}

/// A window that was derived, beside the one that stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Derived {
    /// The watch.
    pub watch: WatchId,
    /// The detectors: from and to, or the one.
    pub detectors: (InputId, Option<InputId>),
    /// In what the window is told.
    pub measured: Measured,
    /// Rope of the nominal run in nanometres, rounded down; none where it is not known.
    pub nominal_nm: Option<u64>,
    /// Its nominal size in the unit of its parts, nanometres or nanoseconds (at the middle of the band).
    pub nominal: Option<u64>,
    /// The least.
    pub least: Result<End, Why>,
    /// The most.
    pub most: Result<End, Why>,
    /// The limits that stand, as they are resolved: mm or scans.
    pub stands: (u32, Option<u32>),
}

/// What is said of a limit that stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Every carrier that keeps to the lane keeps it.
    Fits,
    /// It lies inside what is derived: a carrier that keeps to the lane may trip it.
    Tight,
    /// It is the limit of a travel, and lies more than twice as far from the nominal run as what is derived.
    Wide,
    /// It could not be derived, or there is no such limit.
    Unknown,
}

impl Derived {
    /// What is said of the least and of the greatest limit.
    pub fn verdicts(&self, scan_us: u32) -> (Verdict, Verdict) {
        let unit = match self.measured {
            Measured::Rope(_) => 1_000_000,
            Measured::Time { .. } => i128::from(scan_us) * 1_000,
        };
        let judged = |end: &Result<End, Why>, stands: u32, outward: i128| match end {
            Err(_) => Verdict::Unknown,
            Ok(end) => {
                let (derived, stands) = (i128::from(end.counted), i128::from(stands));
                let whole: i128 = end.parts.iter().map(|part| i128::from(part.amount)).sum();
                if (stands - derived) * outward < 0 {
                    Verdict::Tight
                } else if self.detectors.1.is_some() && (stands - derived) * outward * unit > whole {
                    Verdict::Wide
                } else {
                    Verdict::Fits
                }
            }
        };
        let most = self.stands.1.map_or(Verdict::Unknown, |most| judged(&self.most, most, 1));
        (judged(&self.least, self.stands.0, -1), most)
    }
}

/// Every travel and every spacing of a station, in the order of the file.
pub fn windows(station: &Station) -> Vec<Derived> {
    let watches = station.watches.iter().enumerate();
    watches
        .filter_map(|(watch, it)| match &it.kind {
            WatchKind::Travel(travel) => Some(travel::derive(station, watch, travel)),
            WatchKind::Spacing(spacing) => Some(spacing::derive(station, watch, spacing)),
            _ => None,
        })
        .collect()
}

/// What a derivation looks at.
#[derive(Debug, Clone, Copy)]
struct Basis<'s> {
    lane: &'s Lane,
    pace: &'s Pace,
    scan_us: u32,
    /// Greatest travel of a scan, mm: as `at most` says, rounded up, and at most a millimetre more.
    scan_mm: Mm,
}

impl<'s> Basis<'s> {
    /// The lane and the pace that measures it, if a window is told in that pace.
    fn of(station: &'s Station, measured: Measured) -> Result<Self, Why> {
        let lane = station.lane.as_ref().ok_or(Why::OffLane)?;
        let (Measured::Rope(by) | Measured::Time { pace: by, .. }) = measured;
        let (rope, pace) = rope(station).ok_or(Why::OtherPace)?;
        if by != rope {
            return Err(Why::OtherPace);
        }
        Ok(Self { lane, pace, scan_us: station.scan_us, scan_mm: a_scan(pace) })
    }
}

/// A detector's place and how long a rise settles.
fn detector(station: &Station, at: InputId) -> Option<(Mm, Scans)> {
    match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => Some((detector.at, detector.settle.up)),
        _ => None,
    }
}
