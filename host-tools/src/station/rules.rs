//! Answers, reset, bypasses, requirements, assumptions and the lane of a resolved station.

use super::{Condition, InputId, Measured, Mm, Name, Rank, Scans, WatchId, When};
use crate::text::place::Place;

/// A slow order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slow {
    /// Its name.
    pub name: Name,
    /// The pace it caps.
    pub pace: InputId,
    /// Greatest travel in that pace's span, mm.
    pub down_to: Mm,
    /// Scans after the first published scan of the order.
    pub within: Scans,
}

/// A stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// Its name.
    pub name: Name,
    /// Stop category of IEC 60204-1.
    pub category: u8,
    /// It is the answer of the emergency stop devices.
    pub for_emergencies: bool,
    /// Indices of outputs released at once.
    pub releases: Vec<usize>,
    /// Outputs released at standstill.
    pub then: Option<Then>,
    /// Microseconds until the brake bites.
    pub bites_us: u32,
    /// Least and greatest deceleration, mm/s².
    pub slows: (u32, u32),
    /// The guard that holds the standstill of a category 2 stop.
    pub standstill: Option<WatchId>,
}

/// Outputs released when the pace is known to be still, or at the latest after so many scans.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Then {
    /// Indices of outputs.
    pub outputs: Vec<usize>,
    /// The pace.
    pub pace: InputId,
    /// Scans after the first published scan of the stop.
    pub latest: Scans,
}

/// The reset.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reset {
    /// Its key.
    pub key: InputId,
    /// What must be known to hold.
    pub when: Condition,
    /// Scans after the first in which it held.
    pub lasting: Scans,
    /// Shortest press, scans (0.1 s rounded up).
    pub shortest: Scans,
    /// Longest press, scans (3 s rounded down).
    pub longest: Scans,
}

/// A refill by key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refill {
    /// Travels whose stretch refills, and counts that become unconfirmed.
    pub watches: Vec<WatchId>,
    /// Its key.
    pub key: InputId,
    /// What must be known to hold.
    pub when: Condition,
    /// The statement.
    pub place: Place,
}

/// A bypass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bypass {
    /// Its name.
    pub name: Name,
    /// The watches it masks.
    pub of: Vec<WatchId>,
    /// Indices of the modes it works in; never empty.
    pub modes: Vec<usize>,
    /// Its key.
    pub key: InputId,
    /// The pace, and its greatest travel in a span, mm.
    pub at_most: (InputId, Mm),
    /// Scans that may be used.
    pub budget: Scans,
    /// Scans without use after which the budget is whole again.
    pub rest: Scans,
}

/// A hazard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hazard {
    /// Its name.
    pub name: Name,
    /// What can happen.
    pub title: String,
}

/// A requirement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Requirement {
    /// Its name.
    pub name: Name,
    /// Its title.
    pub title: String,
    /// Indices of hazards.
    pub hazards: Vec<usize>,
    /// What it asks.
    pub form: Form,
    /// A permission: while it is known to hold, nothing is asked.
    pub unless: Option<Condition>,
    /// Scans by which each channel that it reads settles, either way, whatever the input itself settles by; 0 where it reads
    /// samples.
    pub bounces: Scans,
    /// Why it may be that nothing ever asks for it.
    pub need_not_arise: Option<String>,
    /// Entries of a published list that it answers.
    pub answers: Vec<Name>,
    /// `within` as written, microseconds (0 where the form has none).
    pub within_us: u32,
}

/// What a requirement asks. `within` is what is left for the rules, in scans after the sample that
/// completes the condition: the stated time less sampling, deciding scan and output.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// Whenever the condition has held so long, an answer at least so severe.
    Whenever {
        /// On raw inputs.
        condition: Condition,
        /// Scans after the first.
        lasting: Scans,
        /// Least rank.
        least: Rank,
        /// Deadline.
        within: Scans,
    },
    /// Whenever a gauge is outside its bounds at a rise, or in a window behind it.
    WhenRises {
        /// The detector.
        detector: InputId,
        /// At the rise, or in which window.
        when: When,
        /// Scans after that of the rise for which it must have been outside as well; 0 in a window.
        lasting: Scans,
        /// The gauge.
        gauge: InputId,
        /// Least step allowed.
        lowest: u32,
        /// Greatest step allowed.
        highest: u32,
        /// Least rank.
        least: Rank,
        /// Deadline.
        within: Scans,
    },
    /// After one detector rises, the other must rise in a window.
    After {
        /// First detector.
        from: InputId,
        /// Second detector.
        to: InputId,
        /// Unit of the window.
        measured: Measured,
        /// Least age that is in the window.
        earliest: u32,
        /// Greatest age that is in the window.
        latest: u32,
        /// Carriers followed at once.
        capacity: u32,
        /// Least rank.
        least: Rank,
        /// Deadline.
        within: Scans,
    },
    /// Once a stop has stood for more than so many scans, the most severe answer all the while, its effect has been seen in
    /// one of them.
    Effect {
        /// Rank of that stop.
        after: Rank,
        /// Scans after the first in which it stands.
        lasting: Scans,
        /// What must be seen: on raw inputs.
        condition: Condition,
        /// Or this pace, slower by at least so many mm in its span than in the first scan of the stop; see the manual.
        slower: Option<(InputId, Mm)>,
        /// Least rank otherwise.
        least: Rank,
        /// Deadline of that.
        within: Scans,
    },
    /// Never milder than a rank while the condition holds.
    Never {
        /// On raw inputs.
        condition: Condition,
        /// Least rank.
        least: Rank,
    },
    /// A stop is never cleared without this key.
    NeverReleased {
        /// The key.
        key: InputId,
    },
    /// A stop is never cleared but where a condition has held for more than so many scans, up to and with the scan before.
    NeverReleasedBut {
        /// On raw inputs.
        condition: Condition,
        /// Scans after the first.
        lasting: Scans,
    },
    /// No start is permitted until the n-th scan after a stop, counting from the first without one.
    NeverPermitted {
        /// The n.
        pause: Scans,
    },
    /// Two outputs are never off together.
    NeverTogether(usize, usize),
    /// Whatever breaks an assumption is answered. No rule file says so by itself: it is what `held by` claims.
    Held {
        /// Index of the assumption.
        assumption: usize,
        /// What it claims.
        claim: Claim,
        /// Least rank.
        least: Rank,
        /// Deadline.
        within: Scans,
    },
}

impl Form {
    /// Whether it waits for no answer, but holds in every scan.
    pub fn holds_throughout(&self) -> bool {
        match self {
            Self::Never { .. }
            | Self::NeverReleased { .. }
            | Self::NeverReleasedBut { .. }
            | Self::NeverPermitted { .. }
            | Self::NeverTogether(..) => true,
            Self::Whenever { .. }
            | Self::WhenRises { .. }
            | Self::After { .. }
            | Self::Effect { .. }
            | Self::Held { .. } => false,
        }
    }
}

/// An entry of a published list that no requirement answers, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its name in the list.
    pub name: Name,
    /// Why.
    pub excuse: Excuse,
}

/// Why no requirement answers an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Excuse {
    /// The station has nothing of the kind.
    NotApplicable(String),
    /// Something that these rules do not hold.
    Elsewhere(String),
}

/// An assumption.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// Its name.
    pub name: Name,
    /// Its title, or an empty one.
    pub title: String,
    /// What is assumed.
    pub claim: Claim,
    /// What stands behind it.
    pub ground: Ground,
}

/// What an assumption says of the raw inputs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Claim {
    /// Two rises of a detector are at least so much mm of a pace apart.
    RopeApart(InputId, InputId, Mm),
    /// Two rises of a detector are at least so many scans apart.
    ScansApart(InputId, Scans),
    /// A condition always holds.
    Always(Condition),
}

/// What stands behind an assumption.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ground {
    /// The watch that stops when it is broken.
    HeldBy(WatchId),
    /// Evidence that somebody signs for.
    Evidence(String),
}

/// The way of a carrier through the station; lengths in mm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lane {
    /// Its name.
    pub name: Name,
    /// Rope between two carriers.
    pub every: Mm,
    /// The least rope between two carriers, at most `every`.
    pub least_every: Option<Mm>,
    /// The most rope between two carriers, at least `every`.
    pub most_every: Option<Mm>,
    /// Length of a carrier's flag, which the detectors see.
    pub carrier: Mm,
    /// Length of a whole carrier along the lane, for contact between carriers.
    pub body: Option<Mm>,
    /// Where people get on, and what they get on.
    pub loads: Option<Loads>,
    /// How far what is built and measured may be from what is written.
    pub tolerances: Tolerances,
    /// Rope speed at which the lift is run, mm/s; None where it is not stated.
    pub line_speed: Option<u32>,
    /// Contacts and pairs that a carrier touches on its way, each with its place.
    pub touches: Vec<(Mm, InputId)>,
    /// Stretches, end to end.
    pub stretches: Vec<Stretch>,
    /// Where the grip lets go of the rope.
    pub uncouples: Mm,
    /// Where it closes on the rope.
    pub couples: Mm,
    /// To where a badly closed grip is still held.
    pub held_until: Mm,
}

/// Where people get on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Loads {
    /// Where they begin to, mm.
    pub from: Mm,
    /// Where they have done so, mm; behind `from`.
    pub to: Mm,
    /// What they get on.
    pub kind: LoadsOn,
}

/// What people get on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoadsOn {
    /// Open chairs, each with so many seats (at least one).
    OpenChairs(u32),
    /// Closed cabins.
    ClosedCabins,
}

/// How far what is built and measured may be from what the lane says; 0 where nothing is stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tolerances {
    /// A carrier's speed, at each place of a stretch that is not at rope speed throughout, is off by at most this
    /// part of the speed that the stretch says there; millionths, less than a million.
    pub share_ppm: u32,
    /// A detector sits at most so far, either way, from its place, always the same; mm.
    pub detector: Mm,
    /// It switches at most so far, either way, from where it sits, at each passing anew; mm.
    pub switching: Mm,
}

/// A stretch of the lane.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Where it starts.
    pub from: Mm,
    /// Where it ends.
    pub to: Mm,
    /// Carrier speed at its start and at its end, in millionths of the rope speed. Between them the
    /// square of the speed is linear in the place (constant acceleration at constant rope speed).
    pub share: (u32, u32),
    /// The pace of the conveyor that drives it.
    pub driven_by: Option<InputId>,
    /// Each carrier is held by what drives it, as by the dog of a chain: it cannot stand while that runs.
    pub carried: bool,
    /// Where it is written.
    pub place: Place,
}
