//! Conditions and watches of a resolved station.

use super::{InputId, Mm, Name, Rank, Scans};

/// A condition; `meaning.md` gives its two bits, *may be* and *must be*.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// Every part.
    All(Vec<Condition>),
    /// Any part.
    Any(Vec<Condition>),
    /// The opposite.
    Not(Box<Condition>),
    /// A contact, pair, detector or key is high (closed, covered, held).
    High(InputId),
    /// Gauge value is at least so many steps.
    AtLeast(InputId, u32),
    /// Travel of the pace's last whole span, either way, is at least so many mm.
    Faster(InputId, Mm),
    /// Backward travel of the pace's last whole span is at least so many mm.
    Back(InputId, Mm),
    /// The input has a fault. Always known.
    Faulty(InputId),
    /// The read-back of an output shows it off.
    SeenOff(usize),
    /// A bypass is active (requirements only). Always known.
    Bypassed(usize),
    /// What no rule can ask, and a requirement can.
    Observed(Observed),
}

/// What only requirements speak of, on raw inputs and what was published.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Observed {
    /// Of the verdict of the scan before this answer was the most severe one. Always known.
    Stands(Rank),
    /// The verdict of the scan before had this output off. Always known.
    Released(usize),
    /// The two channels of a pair differ. Always known.
    Differing(InputId),
    /// The channels of a pair, as they settle, have differed for more than so many scans without a break; told until each of them has
    /// changed since and they say the same. Always known.
    Distrusted(InputId, Scans),
    /// A link gave no fresh frame in this scan. Always known.
    Silent(InputId),
    /// A key comes to be held, its channels taken as settled by so many scans; not in the first scan. Nothing is joined with it.
    Pressed(InputId, Scans),
    /// A detector is covered, and more than so many mm of a pace have run, forward and back, since it rose. Always known.
    Covered(InputId, InputId, Mm),
    /// A contact has changed more than so many times in a second, up to the end of the first second in which it has
    /// not. Always known.
    Changing(InputId, u32),
    /// A gauge differs by more than so many steps from what it read in the scan before, and both are good. Always known.
    /// Nothing is joined with it.
    Leaping(InputId, u32),
    /// The two sources of a pace differ by more than so many mm in the last whole span. Always known. Nothing is joined
    /// with it.
    Sources(InputId, Mm),
    /// Two paces differ by more than so many mm in their spans, or two gauges by more than so many steps. Nothing is
    /// joined with it.
    Apart([InputId; 2], u32),
    /// A detector rises, as it has settled, less than so many mm of a pace behind its last rise. Nothing is joined with it.
    Closer(InputId, InputId, Mm),
    /// A detector has not risen, as it settles, since more than so many mm of a pace after its last rise; told once.
    /// Nothing is joined with it.
    Farther(InputId, InputId, Mm),
    /// A detector rises though nobody is under way to it. Nothing is joined with it.
    Stray(UnderWay),
    /// More than so many carriers are under way. Nothing is joined with it.
    Crowded(UnderWay, u32),
    /// A count of carriers is above its greatest, below nothing, or wrong when it is confirmed. Nothing is joined with it.
    Miscounting(Tally),
}

/// A count of the carriers between two detectors, as these settle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tally {
    /// The detector at the way in.
    pub from: InputId,
    /// The detector at the way out.
    pub to: InputId,
    /// Most carriers inside.
    pub most: u32,
    /// Number that is inside when the key comes to be held.
    pub confirmed: u32,
    /// That key, and scans by which its channels are taken as settled.
    pub key: (InputId, Scans),
    /// A key by which the number becomes unknown, and the same scans of it.
    pub unknown: Option<(InputId, Scans)>,
}

/// Carriers between two detectors, as raw rises tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnderWay {
    /// The detector at which they start.
    pub from: InputId,
    /// The detector at which they arrive.
    pub to: InputId,
    /// The pace that carries them.
    pub pace: InputId,
    /// Whoever was there unseen has arrived once more than so much of it has run, mm.
    pub latest: Mm,
}

impl Observed {
    /// Nothing can be joined with it: a watch of its own finds it.
    pub fn stands_alone(&self) -> bool {
        let watched = matches!(
            self,
            Self::Apart(..)
                | Self::Closer(..)
                | Self::Farther(..)
                | Self::Leaping(..)
                | Self::Sources(..)
                | Self::Pressed(..)
                | Self::Miscounting(_)
        );
        watched || self.under_way().is_some()
    }
    /// It lasts no time, so that nothing can be asked of how long it lasts.
    pub fn is_passing(&self) -> bool {
        matches!(
            self,
            Self::Closer(..)
                | Self::Farther(..)
                | Self::Leaping(..)
                | Self::Stray(_)
                | Self::Pressed(..)
                | Self::Miscounting(_)
        )
    }
    /// The input tells of it by itself, whatever the watches say.
    pub fn is_told_by_input(&self) -> bool {
        matches!(self, Self::Distrusted(..) | Self::Leaping(..) | Self::Sources(..))
    }
    /// The carriers that it counts.
    pub fn under_way(&self) -> Option<UnderWay> {
        match self {
            Self::Stray(way) | Self::Crowded(way, _) => Some(*way),
            _ => None,
        }
    }
    /// The inputs that it reads.
    pub fn inputs(&self) -> Vec<InputId> {
        match *self {
            Self::Stands(_) | Self::Released(_) => Vec::new(),
            Self::Differing(input)
            | Self::Distrusted(input, _)
            | Self::Silent(input)
            | Self::Changing(input, _)
            | Self::Leaping(input, _)
            | Self::Sources(input, _)
            | Self::Pressed(input, _) => vec![input],
            Self::Covered(detector, pace, _) | Self::Closer(detector, pace, _) | Self::Farther(detector, pace, _) => {
                vec![detector, pace]
            }
            Self::Apart(both, _) => both.to_vec(),
            Self::Stray(way) | Self::Crowded(way, _) => vec![way.from, way.to, way.pace],
            Self::Miscounting(tally) => {
                let keys = [Some(tally.key), tally.unknown];
                [tally.from, tally.to].into_iter().chain(keys.into_iter().flatten().map(|(key, _)| key)).collect()
            }
        }
    }
}

/// A watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Watch {
    /// Its name.
    pub name: Name,
    /// Its title, or an empty one.
    pub title: String,
    /// Indices of hazards.
    pub hazards: Vec<usize>,
    /// Indices of the modes it is active in; empty is all.
    pub modes: Vec<usize>,
    /// What it watches.
    pub kind: WatchKind,
}

/// The eight kinds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WatchKind {
    /// A condition that has lasted.
    Guard(Guard),
    /// A carrier that passed one detector reaches another.
    Travel(Travel),
    /// A gauge within bounds when or while a carrier is there.
    Measure(Measure),
    /// Two passings of one detector.
    Spacing(Spacing),
    /// Two gauges or two paces that must agree.
    Agree(Agree),
    /// The effect of a stop.
    Confirm(Confirm),
    /// An input that must change.
    Exercise(Exercise),
    /// Carriers in a zone.
    Count(Count),
}

/// How long a guard's condition must last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lasting {
    /// Unbroken for so many scans after the first (0 is at once).
    Unbroken(Scans),
    /// So many scans in all, counted over the current and the preceding span.
    Total {
        /// Scans that trip.
        of: Scans,
        /// Length of a span.
        within: Scans,
    },
}

/// See [`WatchKind::Guard`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guard {
    /// Its condition.
    pub when: Condition,
    /// How long.
    pub lasting: Lasting,
    /// Answer: a slow order or a stop.
    pub answer: Rank,
}

/// In what a window is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Millimetres of a pace.
    Rope(InputId),
    /// Scans, while the pace's speed lies within a band (mm in its span, both ends included).
    Time {
        /// The pace.
        pace: InputId,
        /// Least travel in a span.
        least: Mm,
        /// Greatest travel in a span.
        most: Mm,
    },
}

/// See [`WatchKind::Travel`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Travel {
    /// First detector.
    pub from: InputId,
    /// Second detector.
    pub to: InputId,
    /// Unit of the window.
    pub measured: Measured,
    /// Least age at which an arrival is not early.
    pub earliest: u32,
    /// Greatest age that is not late.
    pub latest: u32,
    /// Greatest number of scans under way while the pace is not known to be still.
    pub backstop: Option<Scans>,
    /// Rope after which a refill of the stretch ends, mm.
    pub run: Mm,
    /// Carriers under way at most.
    pub capacity: u32,
    /// Answers.
    pub early: Rank,
    /// Answer to a late carrier.
    pub late: Rank,
    /// Answer to an arrival that nobody explains.
    pub stray: Rank,
    /// Answer to one carrier too many.
    pub crowded: Rank,
    /// Answer to an edge of either detector while the pace runs backwards.
    pub backwards: Rank,
}

/// When a measure judges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// In the scan of the rise.
    Rise,
    /// In the scan of the rise and so many after it.
    Scans(Scans),
    /// In the scan of the rise and until the pace has run so many mm since.
    Rope(InputId, Mm),
}

/// See [`WatchKind::Measure`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measure {
    /// The detector.
    pub detector: InputId,
    /// When.
    pub when: When,
    /// The gauge.
    pub gauge: InputId,
    /// Least step allowed.
    pub least: u32,
    /// Greatest step allowed.
    pub most: u32,
    /// Answer.
    pub answer: Rank,
}

/// See [`WatchKind::Spacing`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spacing {
    /// The detector.
    pub detector: InputId,
    /// Unit.
    pub measured: Measured,
    /// Least distance allowed.
    pub least: u32,
    /// Greatest distance allowed.
    pub most: Option<u32>,
    /// Answer to two that are too close.
    pub closer: Rank,
    /// Answer to two that are too far apart.
    pub farther: Rank,
}

/// See [`WatchKind::Agree`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Agree {
    /// Two paces (of equal span) or two gauges (of equal unit and step).
    pub between: [InputId; 2],
    /// Greatest difference allowed: mm in the span, or steps.
    pub within: u32,
    /// Scans for which they may differ.
    pub apart: Scans,
    /// Answer: a slow order or a stop.
    pub answer: Rank,
}

/// See [`WatchKind::Confirm`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Confirm {
    /// Rank of the stop whose effect is awaited.
    pub after: Rank,
    /// What must be seen.
    pub see: Condition,
    /// Or this pace, slower by at least so many mm in its span than in the first published scan of the stop.
    pub slower: Option<(InputId, Mm)>,
    /// Scans after the first published scan of the stop.
    pub within: Scans,
    /// Answer.
    pub answer: Rank,
}

/// How often an input must change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Every {
    /// Between two rises of a detector.
    Carrier(InputId),
    /// Within so much travel of a pace.
    Rope(InputId, Mm),
    /// Within so many scans.
    Scans(Scans),
}

/// See [`WatchKind::Exercise`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exercise {
    /// The input: contact, pair, detector or key.
    pub input: InputId,
    /// How often.
    pub every: Every,
    /// Answer.
    pub answer: Rank,
}

/// See [`WatchKind::Count`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Count {
    /// Detector at the way in.
    pub enter: InputId,
    /// Detector at the way out.
    pub leave: InputId,
    /// Most carriers inside.
    pub most: u32,
    /// Number that is inside when the condition comes to hold.
    pub confirmed: u32,
    /// That condition.
    pub when: Condition,
    /// Answers.
    pub over: Rank,
    /// Answer to one that leaves an empty zone.
    pub below: Rank,
    /// Answer to a count that the confirmation contradicts.
    pub wrong: Rank,
}
